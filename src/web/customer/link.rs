//! Where a private link leads, and the page of one that has ended.

use askama::Template;
use axum::http::StatusCode;
use axum::response::Response;

use crate::records;
use crate::records::{JobId, job as jobs};
use crate::web::page::{Layout, RequestContext, page_with};
use crate::web::words::Shop;
use crate::web::{Error, Result};

/// The same for a link that ended, was made anew, or never was.
#[derive(Template)]
#[template(path = "customer/ended.html")]
struct EndedPage {
    layout: Layout,
    shop: Shop,
}

/// Where a link leads.
pub(super) enum Opened {
    /// To this job.
    Job(JobId),
    /// To the page that says that it has ended: the same for a link that ended, was made anew, or never was.
    Ended(Box<Response>),
}

pub(super) async fn opened(context: &RequestContext, token: &str) -> Result<Opened> {
    let reading = context.app.db.read();
    match jobs::by_link_that_holds(reading, token, context.now(), context.settings.link_days).await {
        Ok(id) => Ok(Opened::Job(id)),
        // only misses count: whoever looks at their own page often is no guesser
        Err(records::Error::NotFound(_)) if context.app.link_throttle.allows(context.address, context.now()) => {
            let layout = Layout { home: "#main".to_owned(), ..bare(context, token) };
            let ended = EndedPage { layout, shop: Shop::of(&context.settings) };
            Ok(Opened::Ended(Box::new(page_with(StatusCode::NOT_FOUND, &ended)?)))
        }
        Err(records::Error::NotFound(_)) => Err(Error::TooMany),
        Err(other) => Err(other.into()),
    }
}

/// Nobody's name but the shop's: whoever finds the ticket learns no address. The name leads nowhere but here.
pub(super) fn bare(context: &RequestContext, token: &str) -> Layout {
    let home = format!("/s/{token}");
    Layout { doors: Vec::new(), staff_name: None, search: false, warning: None, home, ..context.layout() }
}
