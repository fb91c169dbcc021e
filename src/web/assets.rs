//! Static files, compiled in, under addresses that change with their content.

use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use data_encoding::HEXLOWER;
use rust_embed::RustEmbed;

use super::error::{Error, Result};
use super::form::Id;

#[derive(RustEmbed)]
#[folder = "static/"]
struct Static;

/// The address of a static file: its content's hash, then its name.
pub fn url(name: &str) -> String {
    match Static::get(name) {
        Some(file) => format!("/static/{}/{name}", short_hash(&file.metadata.sha256_hash())),
        // a test asks for every name the templates use, so a customer never meets this
        None => format!("/static/missing/{name}"),
    }
}

/// A static file's text, for the one route that serves it under an address of its own.
pub(super) fn text(name: &str) -> Option<String> {
    Static::get(name).map(|file| String::from_utf8_lossy(&file.data).into_owned())
}

/// Every static file's name.
pub fn names() -> impl Iterator<Item = std::borrow::Cow<'static, str>> {
    Static::iter()
}

fn short_hash(hash: &[u8; 32]) -> String {
    HEXLOWER.encode(&hash[..8])
}

/// `GET /static/{hash}/{name}`
pub(super) async fn serve(headers: HeaderMap, Id((hash, name)): Id<(String, String)>) -> Result {
    let file = Static::get(&name).ok_or(Error::NotFound("file"))?;
    let now = short_hash(&file.metadata.sha256_hash());
    let etag = format!("\"{now}\"");
    let cache = if hash == now { "public, max-age=31536000, immutable" } else { "no-cache" };
    let kind = match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("webmanifest") => "application/manifest+json",
        _ => "application/octet-stream",
    };
    let known = headers.get(header::IF_NONE_MATCH).is_some_and(|held| held.as_bytes() == etag.as_bytes());
    let mut response: Response =
        if known { StatusCode::NOT_MODIFIED.into_response() } else { file.data.into_owned().into_response() };
    let out = response.headers_mut();
    out.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    out.insert(header::CACHE_CONTROL, HeaderValue::from_static(cache));
    out.insert(header::ETAG, HeaderValue::from_str(&etag).map_err(Error::internal)?);
    Ok(response)
}
