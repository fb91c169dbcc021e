//! `/office/export`: each list of the shop as CSV.

use askama::Template;
use axum::response::IntoResponse;

use super::import::csv_headers;
use crate::records::Door;
use crate::records::export::{self, List};
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::words::currency;
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "office/export.html")]
struct ExportPage {
    layout: Layout,
}

impl ExportPage {
    fn lists(&self) -> &'static [List] {
        List::ALL
    }
}

/// `GET /office/export`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&ExportPage { layout: context.layout() })
}

/// `POST /office/export/{list}`: the list as a file. A post, because that it left the house is written down.
pub(in crate::web) async fn list(context: RequestContext, Id(list): Id<String>) -> Result {
    let list: List = list.parse().map_err(|()| Error::NotFound("list"))?;
    let clock = context.app.clock.clone();
    let day_of = move |at| clock.local_date(at).to_string();
    let (db, by) = (&context.app.db, context.audit(Door::Office));
    let csv = export::list(db, &by, list, &currency(&context.settings).written_in(""), day_of).await?;
    Ok((csv_headers(&format!("{}-{}", list.key(), context.today()))?, csv).into_response())
}
