//! Failures drawn as pages, or as problem documents for programs, whoever answered them.

use askama::Template;
use axum::extract::{Request, State};
use axum::http::{Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde_json::json;
use tower_http::csrf::ProtectionError;

use super::api;
use super::app::App;
use super::error::{Error, Failure};
use super::page::{Layout, own_referer};
use crate::calc::phrase;

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    layout: Layout,
    failure: Failure,
    back: Option<String>,
}

/// Draws failures, whoever answered them: a handler, a missing route, a body too large. Below `/api` as
/// a problem document, elsewhere as a page.
pub(super) async fn drawn(State(app): State<App>, request: Request, next: Next) -> Response {
    let is_api = api::is_below(request.uri().path());
    let back = own_referer(request.headers());
    let is_get = request.method() == Method::GET || request.method() == Method::HEAD;
    let mut response = next.run(request).await;
    let failure = match response.extensions_mut().remove::<Failure>() {
        Some(failure) => failure,
        None if response.extensions().get::<ProtectionError>().is_some() => Error::CrossSite.failure(),
        None => match failure_of(response.status(), is_api) {
            Some(failure) => failure,
            None => return response,
        },
    };
    let mut drawn = if is_api {
        problem_document(&failure)
    } else {
        // a failed GET has nothing typed to go back to; the page before it is the way out all the same
        let back = back.filter(|_| !is_get || failure.status != StatusCode::NOT_FOUND);
        error_page(&app, failure, back).await
    };
    for name in [header::ALLOW, header::WWW_AUTHENTICATE, header::RETRY_AFTER] {
        if let Some(value) = response.headers_mut().remove(&name) {
            drawn.headers_mut().insert(name, value);
        }
    }
    drawn
}

/// What a bare status says; `None` where it is no failure of ours.
fn failure_of(status: StatusCode, is_api: bool) -> Option<Failure> {
    let (title, for_people, for_programs) = match status {
        StatusCode::METHOD_NOT_ALLOWED => (
            "That page does not work that way",
            "Open it from the page that leads to it. Nothing was changed.",
            "The header Allow names the methods that do.",
        ),
        StatusCode::PAYLOAD_TOO_LARGE => (
            "That is too large",
            "It is more than a form can hold. Shorten it and send it again; nothing was saved.",
            "Nothing was done.",
        ),
        StatusCode::REQUEST_TIMEOUT => (
            "That took too long",
            "Nothing was saved. Check the network and send it again.",
            "Nothing was done. Ask for less at once, or check the network.",
        ),
        _ => return None,
    };
    let words = if is_api { for_programs } else { for_people }.to_owned();
    Some(Failure { status, title: title.to_owned(), words, reference: None, refusal: None, rescued: None })
}

/// RFC 9457; `about:blank` means that the title is the status' own phrase.
fn problem_document(failure: &Failure) -> Response {
    let mut document = match &failure.refusal {
        Some(refusal) => refusal.document(),
        None => json!({
            "type": "about:blank",
            "title": phrase(failure.status.as_u16()).or(failure.status.canonical_reason()).unwrap_or("Failure"),
            "status": failure.status.as_u16(),
            "detail": format!("{}. {}", failure.title, failure.words),
            "errors": [],
        }),
    };
    if let Some(reference) = &failure.reference {
        document["reference"] = json!(reference);
    }
    (failure.status, [(header::CONTENT_TYPE, "application/problem+json")], document.to_string()).into_response()
}

async fn error_page(app: &App, failure: Failure, back: Option<String>) -> Response {
    let status = failure.status;
    let layout = Layout::bare(app).await;
    match (ErrorPage { layout, failure, back }).render() {
        Ok(html) => (status, axum::response::Html(html)).into_response(),
        Err(cause) => {
            tracing::error!(cause = %cause, "error_page.failed");
            (status, "Something went wrong on our side. Nothing was lost; go back and try again.").into_response()
        }
    }
}
