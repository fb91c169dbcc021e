//! `/bench/worker.js`: the bench's service worker. It is served from here because a worker rules only the
//! paths below its own.

use axum::http::header;
use axum::response::IntoResponse;

use crate::web::assets;
use crate::web::error::{Error, Result};

/// `GET /bench/worker.js`
pub(in crate::web) async fn show() -> Result {
    let script = assets::text("bench-worker.js").ok_or(Error::NotFound("file"))?;
    let headers = [(header::CONTENT_TYPE, "text/javascript; charset=utf-8"), (header::CACHE_CONTROL, "no-cache")];
    Ok((headers, script).into_response())
}
