//! `/s/{token}/photos/{photo}`: the photographs that the shop marked for the customer.

use axum::http::HeaderMap;

use crate::records::{PhotoId, job, photo};
use crate::web::form::Id;
use crate::web::page::Visit;
use crate::web::{Error, Result};

/// `GET /s/{token}/photos/{photo}`
pub(in crate::web) async fn show(visit: Visit, headers: HeaderMap, Id((token, id)): Id<(String, PhotoId)>) -> Result {
    picture(visit, headers, &token, id, false).await
}

/// `GET /s/{token}/photos/{photo}/small`
pub(in crate::web) async fn show_small(
    visit: Visit,
    headers: HeaderMap,
    Id((token, id)): Id<(String, PhotoId)>,
) -> Result {
    picture(visit, headers, &token, id, true).await
}

async fn picture(visit: Visit, headers: HeaderMap, token: &str, id: PhotoId, small: bool) -> Result {
    let reading = visit.app.db.read();
    let job = match job::by_link_that_holds(reading, token, visit.now(), visit.settings.link_days).await {
        Ok(job) => job,
        // only guessing is slowed down: a page of photographs asks for many at once
        Err(_) if !visit.app.link_throttle.allows(visit.address, visit.now()) => return Err(Error::TooMany),
        Err(other) => return Err(other.into()),
    };
    let photo = photo::find(reading, id).await?;
    if photo.job_id != job || !photo.for_customer || photo.set_aside {
        return Err(Error::NotFound("photo"));
    }
    crate::web::photo::picture(&visit, &headers, &photo, small).await
}
