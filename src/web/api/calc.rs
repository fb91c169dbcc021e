//! `/api/calc/{name}`: one calculation, as `thumbplane calc NAME` does it.

use axum::body::Bytes;
use axum::extract::State;
use axum::extract::rejection::BytesRejection;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::calc::{self, Refusal};
use crate::web::app::App;
use crate::web::error::{Error, Result};
use crate::web::form::{Id, Query};

/// `POST /api/calc/{name}`
pub(in crate::web) async fn work_out(
    State(app): State<App>,
    Id(name): Id<String>,
    query: Query,
    headers: HeaderMap,
    body: std::result::Result<Bytes, BytesRejection>,
) -> Result {
    if !is_json(&headers) {
        return Err(Error::NotJsonType);
    }
    let with_working = wants_working(&query)?;
    let body = body.map_err(|cause| match cause.into_response().status() {
        StatusCode::PAYLOAD_TOO_LARGE => Error::Calculation(Refusal::TooLarge),
        _ => Error::Unreadable("The body did not arrive whole."),
    })?;
    let work = move || if with_working { calc::explained(&name, &body, None) } else { calc::calc(&name, &body) };
    let answer = app.calculate(work).await?.map_err(Error::Calculation)?;
    Ok(json(answer.to_string()))
}

/// An answer that is JSON.
pub(super) fn json(text: String) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], text).into_response()
}

fn is_json(headers: &HeaderMap) -> bool {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or("");
    kind.split(';').next().unwrap_or("").trim().eq_ignore_ascii_case("application/json")
}

/// A query we do not know is refused, as a field we do not know is: it was meant to do something.
fn wants_working(query: &Query) -> Result<bool> {
    if let Some(name) = query.names().find(|name| *name != "explain") {
        let name: String = name.chars().take(40).collect();
        return Err(Error::Query(format!("There is no parameter “{name}”; there is explain.")));
    }
    let mut values = query.values("explain");
    match (values.next(), values.next()) {
        (None, _) | (Some("false"), None) => Ok(false),
        (Some("true"), None) => Ok(true),
        _ => Err(Error::Query("The parameter explain must be true or false, once.".to_owned())),
    }
}
