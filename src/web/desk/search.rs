//! `/desk/search`: customers, instruments and jobs by whatever somebody types or scans.
//!
//! A scanned ticket, a scanned private link, or the only thing found leads straight there.

use askama::Template;
use axum::response::{IntoResponse, Redirect};

use crate::records::job;
use crate::records::search::{self, Found};
use crate::web::Result;
use crate::web::form::Query;
use crate::web::page::{Layout, RequestContext, page};

/// Hits of each kind on the page.
const MOST: i64 = 12;

#[derive(Template)]
#[template(path = "desk/search.html", blocks = ["hits"])]
struct SearchPage {
    layout: Layout,
    typed: String,
    found: Found,
    /// Customers lead to check-in, and nothing else is looked for.
    for_check_in: bool,
}

impl SearchPage {
    fn is_more(&self, hits: usize) -> bool {
        i64::try_from(hits).unwrap_or(MOST) >= MOST
    }
}

/// `GET /desk/search?q=…`; with `part=hits` only the list, for search as typed.
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let typed: String = query.value("q").trim().chars().take(200).collect();
    let (is_part, for_check_in) = (query.is("part", "hits"), query.is("for", "check-in"));
    let reading = context.app.db.read();
    if !is_part && let Some(to) = exactly(&context, &typed).await? {
        return Ok(Redirect::to(&to).into_response());
    }
    let found = if for_check_in {
        Found { customers: search::customers(reading, &typed, MOST).await?, ..Found::default() }
    } else {
        search::find(reading, &typed, MOST).await?
    };
    if !is_part && let Some(to) = the_only_one(&found) {
        return Ok(Redirect::to(&to).into_response());
    }
    let found = SearchPage { layout: context.layout(), typed, found, for_check_in };
    if is_part { page(&found.as_hits()) } else { page(&found) }
}

/// Where a whole ticket number or a scanned private link leads.
async fn exactly(context: &RequestContext, typed: &str) -> Result<Option<String>> {
    let reading = context.app.db.read();
    if let Some(id) = job::by_number(reading, typed).await? {
        return Ok(Some(format!("/desk/jobs/{id}")));
    }
    let Some((_, token)) = typed.split_once("/s/") else { return Ok(None) };
    match job::by_link(reading, token.trim()).await {
        Ok(id) => Ok(Some(format!("/desk/jobs/{id}"))),
        Err(crate::records::Error::NotFound(_)) => Ok(None),
        Err(other) => Err(other.into()),
    }
}

fn the_only_one(found: &Found) -> Option<String> {
    match (found.customers.as_slice(), found.instruments.as_slice(), found.jobs.as_slice()) {
        ([one], [], []) => Some(format!("/desk/customers/{}", one.id)),
        ([], [one], []) => Some(format!("/desk/instruments/{}", one.id)),
        ([], [], [one]) => Some(format!("/desk/jobs/{}", one.id)),
        _ => None,
    }
}
