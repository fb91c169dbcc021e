//! `/photos/{id}`: the pictures themselves, for whoever is signed in; and how a row of them is shown.

use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use data_encoding::HEXLOWER;

use super::error::{Error, Result};
use super::form::Id;
use super::page::RequestContext;
use crate::records::PhotoId;
use crate::records::photo::{self, Photo};

/// The browser that saw it asks again each time, which costs no picture: after signing out it shows none.
const CACHE: &str = "private, no-cache";

/// A photograph in a row of small ones. Used by templates/parts/photos.html.
#[derive(Debug, Clone)]
pub(super) struct PhotoView {
    /// The whole picture.
    pub(super) href: String,
    /// The small one.
    pub(super) small_href: String,
    /// What it shows.
    pub(super) words: String,
}

impl PhotoView {
    /// Those not set aside, with their addresses below `path` ("/photos", "/s/TOKEN/photos").
    pub(super) fn row<'a>(photos: impl IntoIterator<Item = &'a Photo>, path: &str) -> Vec<Self> {
        let wanted = photos.into_iter().filter(|photo| !photo.set_aside);
        wanted
            .map(|photo| Self {
                href: format!("{path}/{}", photo.id),
                small_href: format!("{path}/{}/small", photo.id),
                words: photo.in_words(),
            })
            .collect()
    }
}

/// `GET /photos/{id}`
pub(super) async fn show(context: RequestContext, headers: HeaderMap, Id(id): Id<PhotoId>) -> Result {
    let photo = photo::find(context.app.db.read(), id).await?;
    picture(&context, &headers, &photo, false).await
}

/// `GET /photos/{id}/small`
pub(super) async fn show_small(context: RequestContext, headers: HeaderMap, Id(id): Id<PhotoId>) -> Result {
    let photo = photo::find(context.app.db.read(), id).await?;
    picture(&context, &headers, &photo, true).await
}

/// Answers with a picture, or with nothing where the browser holds it already.
pub(super) async fn picture(context: &RequestContext, headers: &HeaderMap, photo: &Photo, small: bool) -> Result {
    let hash = if small { &photo.small_sha256 } else { &photo.sha256 };
    let etag = format!("\"{}\"", HEXLOWER.encode(hash.get(..16).unwrap_or(hash)));
    let known = headers.get(header::IF_NONE_MATCH).is_some_and(|held| held.as_bytes() == etag.as_bytes());
    let mut response: Response = if known {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        let (folder, wanted) = (context.app.db.photos().clone(), hash.clone());
        let picture = tokio::task::spawn_blocking(move || folder.read(&wanted)).await.map_err(Error::internal)?;
        match picture {
            Ok(bytes) => bytes.into_response(),
            Err(cause) => {
                tracing::error!(photo = %photo.id, cause = %cause, "photo.file_missing");
                return Err(Error::NotFound("picture"));
            }
        }
    };
    let out = response.headers_mut();
    out.insert(header::CONTENT_TYPE, HeaderValue::from_static("image/jpeg"));
    out.insert(header::CACHE_CONTROL, HeaderValue::from_static(CACHE));
    out.insert(header::ETAG, HeaderValue::from_str(&etag).map_err(Error::internal)?);
    Ok(response)
}
