//! `/desk/search`: a customer by name or telephone, a job by its number. A scanned ticket lands on its job.

use askama::Template;
use axum::response::{IntoResponse, Redirect};

use crate::records::customer::{self, CustomerHit};
use crate::records::job;
use crate::web::Result;
use crate::web::form::Asked;
use crate::web::page::{Layout, Visit, page};

#[derive(Template)]
#[template(path = "desk/search.html", blocks = ["hits"])]
struct SearchPage {
    layout: Layout,
    typed: String,
    hits: Vec<CustomerHit>,
    /// Hits lead to check-in instead of the customer's page.
    for_check_in: bool,
}

/// `GET /desk/search?q=…`; with `part=hits` only the list, for search as typed.
pub(in crate::web) async fn show(visit: Visit, asked: Asked) -> Result {
    let typed: String = asked.value("q").chars().take(100).collect();
    let is_part = asked.is("part", "hits");
    if !is_part && let Some(id) = job::by_number(visit.app.db.read(), &typed).await? {
        return Ok(Redirect::to(&format!("/desk/jobs/{id}")).into_response());
    }
    let hits = customer::search(visit.app.db.read(), &typed).await?;
    let found = SearchPage { layout: visit.layout(), typed, hits, for_check_in: asked.is("for", "check-in") };
    if is_part { page(&found.as_hits()) } else { page(&found) }
}
