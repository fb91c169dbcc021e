//! `/office/closings`: each day as it was closed, and the journal for the bookkeeper.

use askama::Template;
use axum::response::IntoResponse;
use time::Duration;

use super::import::csv_headers;
use crate::records::{Door, bookkeeping, day_closing};
use crate::web::closing_view::ClosingRow;
use crate::web::form::FormData;
use crate::web::page::{Layout, RequestContext, page, page_with};
use crate::web::words::currency;
use crate::web::{Error, Result};

/// Closings on the page.
const MOST: i64 = 60;
/// Days of one journal, at most.
const MOST_DAYS: i64 = 400;

#[derive(Template)]
#[template(path = "office/closings.html")]
struct ClosingsPage {
    layout: Layout,
    form: FormData,
    rows: Vec<ClosingRow>,
}

async fn closings_page(context: &RequestContext, form: FormData) -> Result<ClosingsPage> {
    let mut connection = context.app.db.read().acquire().await.map_err(Error::internal)?;
    let (closings, counts) = day_closing::newest(&mut connection, MOST).await?;
    drop(connection);
    Ok(ClosingsPage { layout: context.layout(), form, rows: ClosingRow::all(context, closings, &counts) })
}

/// `GET /office/closings`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    // the month before is what a bookkeeper asks for
    let first = context.today().replace_day(1).unwrap_or(context.today());
    let last = first - Duration::DAY;
    let from = last.replace_day(1).unwrap_or(last);
    let form = FormData::default().with("from", from.to_string()).with("until", last.to_string());
    page(&closings_page(&context, form).await?)
}

/// `POST /office/closings/journal`: the journal of some days as a file. A post, because that it left the house is written
/// down.
pub(in crate::web) async fn journal(context: RequestContext, mut form: FormData) -> Result {
    let days = (form.day("from"), form.day("until"));
    let from = form.require("from", days.0, "Choose the first day.");
    let until = form.require("until", days.1, "Choose the last day.");
    if let (Some(from), Some(until)) = (from, until) {
        if from > until {
            form.add_error("from", "The first day lies after the last one.");
        } else if (until - from).whole_days() > MOST_DAYS {
            form.add_error("from", format!("At most {MOST_DAYS} days go into one file: ask for fewer at once."));
        }
    }
    let (Some(from), Some(until), false) = (from, until, form.has_errors()) else {
        return page_with(form.status(), &closings_page(&context, form).await?);
    };
    let clock = context.app.clock.clone();
    let span = (clock.start_of(from), clock.start_of(until + Duration::DAY));
    let day_of = move |at| clock.local_date(at).to_string();
    let by = context.audit(Door::Office);
    let csv = bookkeeping::journal(&context.app.db, &by, span, &currency(&context.settings), day_of).await?;
    Ok((csv_headers(&format!("journal-{from}-{until}"))?, csv).into_response())
}
