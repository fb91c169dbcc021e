//! Failures drawn as pages, whoever answered them.

use askama::Template;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tower_http::csrf::ProtectionError;

use super::app::App;
use super::error::{Error, Failure};
use super::page::Layout;

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    layout: Layout,
    failure: Failure,
    back: Option<String>,
}

/// Draws failures as pages, whoever answered them: a handler, a missing route, a body too large.
pub(super) async fn as_page(State(app): State<App>, request: Request, next: Next) -> Response {
    let back = own_referer(request.headers());
    let is_get = request.method() == Method::GET || request.method() == Method::HEAD;
    let mut response = next.run(request).await;
    let failure = match response.extensions_mut().remove::<Failure>() {
        Some(failure) => failure,
        None if response.extensions().get::<ProtectionError>().is_some() => Error::CrossSite.failure(),
        None => match response.status() {
            StatusCode::METHOD_NOT_ALLOWED => Failure {
                status: StatusCode::METHOD_NOT_ALLOWED,
                title: "That page does not work that way".to_owned(),
                words: "Open it from the page that leads to it. Nothing was changed.".to_owned(),
                reference: None,
            },
            StatusCode::PAYLOAD_TOO_LARGE => Failure {
                status: StatusCode::PAYLOAD_TOO_LARGE,
                title: "That is too large".to_owned(),
                words: "It is more than a form can hold. Shorten it and send it again; nothing was saved.".to_owned(),
                reference: None,
            },
            StatusCode::REQUEST_TIMEOUT => Failure {
                status: StatusCode::REQUEST_TIMEOUT,
                title: "That took too long".to_owned(),
                words: "Nothing was saved. Check the network and send it again.".to_owned(),
                reference: None,
            },
            _ => return response,
        },
    };
    // a failed GET has nothing typed to go back to; the page before it is the way out all the same
    let back = back.filter(|_| !is_get || failure.status != StatusCode::NOT_FOUND);
    let status = failure.status;
    let layout = Layout::bare(&app).await;
    let allow = response.headers_mut().remove(header::ALLOW);
    match (ErrorPage { layout, failure, back }).render() {
        Ok(html) => {
            let mut drawn = (status, axum::response::Html(html)).into_response();
            if let Some(allow) = allow {
                drawn.headers_mut().insert(header::ALLOW, allow);
            }
            drawn
        }
        Err(cause) => {
            tracing::error!(cause = %cause, "error_page.failed");
            (status, "Something went wrong on our side. Nothing was lost; go back and try again.").into_response()
        }
    }
}

/// The path of the page a request came from, if it was one of ours.
fn own_referer(headers: &HeaderMap) -> Option<String> {
    let referer = headers.get(header::REFERER)?.to_str().ok()?;
    let host = headers.get(header::HOST)?.to_str().ok()?;
    let (_, rest) = referer.split_once("://")?;
    let path = rest.strip_prefix(host)?;
    super::page::safe_path(path).map(str::to_owned)
}
