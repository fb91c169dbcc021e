//! The headers of every answer, in one place.

use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;

use super::app::App;

/// No inline script, no inline style, nothing from anywhere else.
pub(super) const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
     connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'";

const ALWAYS: &[(&str, &str)] = &[
    ("content-security-policy", CONTENT_SECURITY_POLICY),
    ("x-content-type-options", "nosniff"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(self), microphone=(), geolocation=()"),
    // with no-referrer browsers send `Origin: null` with every form, and the cross-site check refuses it
    ("referrer-policy", "same-origin"),
    ("x-frame-options", "DENY"),
];

pub(super) async fn on_every_answer(State(app): State<App>, request: Request, next: Next) -> Response {
    let is_private_link = request.uri().path().starts_with("/s/");
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    for (name, value) in ALWAYS {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if is_private_link {
        headers.insert(HeaderName::from_static("x-robots-tag"), HeaderValue::from_static("noindex, nofollow"));
    }
    if app.serving.is_tls() {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static("max-age=31536000"));
    }
    // pages hold people's data: Back after signing out must show nothing
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}
