//! The customer's door: one private page a job, opened by the link on the claim ticket. Opening anything here changes
//! nothing, because programs open every link of a mail; only a pressed button answers.

pub(super) mod answer;
pub(super) mod care;
pub(super) mod job;
pub(super) mod photo;
mod quote_view;

use axum::http::StatusCode;
use axum::response::Response;

use super::page::{Layout, RequestContext, page_with};
use super::words::Shop;
use super::{Error, Result};
use crate::records;
use crate::records::{JobId, job as jobs};

/// Where a link leads.
enum Opened {
    /// To this job.
    Job(JobId),
    /// To the page that says that it has ended: the same for a link that ended, was made anew, or never was.
    Ended(Box<Response>),
}

async fn opened(context: &RequestContext, token: &str) -> Result<Opened> {
    let reading = context.app.db.read();
    match jobs::by_link_that_holds(reading, token, context.now(), context.settings.link_days).await {
        Ok(id) => Ok(Opened::Job(id)),
        // only misses count: whoever looks at their own page often is no guesser
        Err(records::Error::NotFound(_)) if context.app.link_throttle.allows(context.address, context.now()) => {
            let ended = job::EndedPage { layout: bare(context, token), shop: Shop::of(&context.settings) };
            Ok(Opened::Ended(Box::new(page_with(StatusCode::NOT_FOUND, &ended)?)))
        }
        Err(records::Error::NotFound(_)) => Err(Error::TooMany),
        Err(other) => Err(other.into()),
    }
}

/// Nobody's name but the shop's: whoever finds the ticket learns no address. The name leads nowhere but here.
fn bare(context: &RequestContext, token: &str) -> Layout {
    let home = format!("/s/{token}");
    Layout { doors: Vec::new(), staff_name: None, search: false, warning: None, home, ..context.layout() }
}
