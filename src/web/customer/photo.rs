//! `/s/{token}/photos/{photo}`: the photographs that the shop marked for the customer.

use axum::http::HeaderMap;

use crate::records::{PhotoId, job, photo};
use crate::web::form::Id;
use crate::web::page::RequestContext;
use crate::web::{Error, Result};

/// `GET /s/{token}/photos/{photo}`
pub(in crate::web) async fn show(
    context: RequestContext,
    headers: HeaderMap,
    Id((token, id)): Id<(String, PhotoId)>,
) -> Result {
    picture(context, headers, &token, id, false).await
}

/// `GET /s/{token}/photos/{photo}/small`
pub(in crate::web) async fn show_small(
    context: RequestContext,
    headers: HeaderMap,
    Id((token, id)): Id<(String, PhotoId)>,
) -> Result {
    picture(context, headers, &token, id, true).await
}

async fn picture(context: RequestContext, headers: HeaderMap, token: &str, id: PhotoId, small: bool) -> Result {
    let reading = context.app.db.read();
    let job = match job::by_link_that_holds(reading, token, context.now(), context.settings.link_days).await {
        Ok(job) => job,
        // only guessing is slowed down: a page of photographs asks for many at once
        Err(_) if !context.app.link_throttle.allows(context.address, context.now()) => return Err(Error::TooMany),
        Err(other) => return Err(other.into()),
    };
    let photo = photo::find(reading, id).await?;
    if photo.job_id != job || !photo.for_customer || photo.set_aside {
        return Err(Error::NotFound("photo"));
    }
    crate::web::photo::picture(&context, &headers, &photo, small).await
}
