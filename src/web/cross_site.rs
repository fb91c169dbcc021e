//! The last word on where a post came from.
//!
//! `CsrfLayer` reads Sec-Fetch-Site and Origin, and lets requests with neither pass. Browsers always
//! send Origin with a post, so with neither we ask the Referer, and without that we refuse: old
//! proxies strip headers, and a refused post is better than a forged one. A program with a token is no
//! browser: no other site can make a browser send a token, and with one the cookie is not looked at. Nor
//! is a program that forgot its token and has no cookie: it is told so by the guard.

use axum::extract::Request;
use axum::http::{HeaderMap, HeaderName, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::access::bearer;
use super::api;
use super::error::Error;

pub(super) async fn refuse_unknown_origin(request: Request, next: Next) -> Response {
    let is_safe = matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS | Method::TRACE);
    let is_program = bearer(&request).is_some()
        || api::is_below(request.uri().path()) && !request.headers().contains_key(header::COOKIE);
    if is_safe || is_program || says_where_from(request.headers()) {
        next.run(request).await
    } else {
        Error::CrossSite.into_response()
    }
}

fn says_where_from(headers: &HeaderMap) -> bool {
    // one that is there and empty says nothing
    let says = |name| headers.get(name).is_some_and(|value: &axum::http::HeaderValue| !value.is_empty());
    says(HeaderName::from_static("sec-fetch-site")) || says(header::ORIGIN) || referer_is_ours(headers)
}

fn referer_is_ours(headers: &HeaderMap) -> bool {
    let text = |name| headers.get(name).and_then(|value: &axum::http::HeaderValue| value.to_str().ok());
    let (Some(referer), Some(host)) = (text(header::REFERER), text(header::HOST)) else {
        return false;
    };
    referer
        .split_once("://")
        .is_some_and(|(_, rest)| rest == host || rest.strip_prefix(host).is_some_and(|path| path.starts_with('/')))
}
