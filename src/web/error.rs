//! The one error type of the doors, and what its page says.
//!
//! A page never shows a cause: it says what happened, that nothing was lost, and where to go. The
//! cause is logged once, here, under a short reference that the page also shows.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::calc::Refusal;
use crate::records;

/// What went wrong with a request.
#[derive(Debug)]
pub enum Error {
    /// No such page or record.
    NotFound(&'static str),
    /// Nobody is signed in, and the page needs somebody. Where they wanted to go.
    SignIn(String),
    /// The same of a form that was sent: what was typed goes through the sign-in page.
    SignInWith(Box<Rescued>),
    /// Somebody is signed in who may not do this.
    Forbidden,
    /// The browser says that another site sent this.
    CrossSite,
    /// Somebody else changed the record meanwhile.
    ChangedMeanwhile(&'static str),
    /// A rule of the shop says no, in words.
    Refused(String),
    /// What was sent cannot be read as a form.
    Unreadable(&'static str),
    /// Too many tries.
    TooMany,
    /// Neither a session nor a token that holds.
    NoToken,
    /// What was sent does not call itself JSON.
    NotJsonType,
    /// A parameter of the address cannot be used, in words.
    Query(String),
    /// The calculator will not do it.
    Calculation(Refusal),
    /// The calculator has too much to do.
    Busy,
    /// The disk is full: nothing was saved.
    DiskFull,
    /// Our fault.
    Internal(Box<dyn std::error::Error + Send + Sync>),
}

/// A form that was sent after the session had ended.
#[derive(Debug, Clone)]
pub struct Rescued {
    /// Where it goes to.
    pub form: String,
    /// As the browser sent it.
    pub fields: String,
    /// The page it stood on.
    pub then: String,
}

/// What a handler answers.
pub type Result<T = Response> = std::result::Result<T, Error>;

impl Error {
    /// Wraps a cause that is nobody's business but the log's.
    pub fn internal(cause: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> Self {
        Self::Internal(cause.into())
    }
}

impl From<records::Error> for Error {
    fn from(error: records::Error) -> Self {
        match error {
            records::Error::NotFound(what) => Self::NotFound(what),
            records::Error::ChangedMeanwhile(what) => Self::ChangedMeanwhile(what),
            records::Error::Refused(words) => Self::Refused(words),
            records::Error::File(cause) => Self::from(cause),
        }
    }
}

impl From<sqlx::Error> for Error {
    fn from(cause: sqlx::Error) -> Self {
        // SQLITE_FULL, and SQLITE_IOERR_SHMSIZE where there is no room for the index of the log beside the file; the whole
        // transaction was rolled back
        let code = cause.as_database_error().and_then(sqlx::error::DatabaseError::code);
        if code.is_some_and(|code| code == "13" || code == "4874") { Self::DiskFull } else { Self::internal(cause) }
    }
}

impl From<std::io::Error> for Error {
    fn from(cause: std::io::Error) -> Self {
        if cause.kind() == std::io::ErrorKind::StorageFull { Self::DiskFull } else { Self::internal(cause) }
    }
}

/// What the page says. Carried in the response until `failure.rs` draws it.
#[derive(Debug, Clone)]
pub(super) struct Failure {
    pub(super) status: StatusCode,
    pub(super) title: String,
    pub(super) words: String,
    pub(super) reference: Option<String>,
    /// What the calculator said, which a program is told word for word as the command line tells it.
    pub(super) refusal: Option<Refusal>,
    /// What was typed, to be carried through the sign-in.
    pub(super) rescued: Option<Rescued>,
}

impl Error {
    pub(super) fn failure(&self) -> Failure {
        let (status, title, words) = match self {
            Self::NotFound(what) => (
                StatusCode::NOT_FOUND,
                format!("There is no such {what}"),
                "The address may be mistyped, or what it named is no longer here. Nothing was changed.".to_owned(),
            ),
            Self::SignIn(_) => (
                StatusCode::UNAUTHORIZED,
                "You are signed out".to_owned(),
                "Nothing was saved. Go back: what you typed is still there. Sign in from another tab, then send it again."
                    .to_owned(),
            ),
            Self::SignInWith(rescued) => {
                return Failure {
                    status: StatusCode::UNAUTHORIZED,
                    title: "You are signed out".to_owned(),
                    words: "Nothing was lost and nothing was saved. Sign in here: the page comes back with everything you \
                            typed, to be sent once more."
                        .to_owned(),
                    reference: None,
                    refusal: None,
                    rescued: Some(rescued.as_ref().clone()),
                };
            }
            Self::Forbidden => (
                StatusCode::FORBIDDEN,
                "Not with your role".to_owned(),
                "Your sign-in does not cover this page. The owner can change that in the office. Nothing was changed."
                    .to_owned(),
            ),
            Self::CrossSite => (
                StatusCode::FORBIDDEN,
                "That did not come from this program's own page".to_owned(),
                "Your browser says that another site sent it, so nothing was done. Open the page here and try again. \
                 If you reached us through a proxy, the owner sets the shop's address with --public-origin."
                    .to_owned(),
            ),
            Self::ChangedMeanwhile(what) => (
                StatusCode::CONFLICT,
                format!("Somebody else changed this {what} meanwhile"),
                "Nothing was overwritten. Go back, reload the page to see what changed, and do it again.".to_owned(),
            ),
            Self::Refused(words) => (StatusCode::CONFLICT, "That cannot be done".to_owned(), format!("{words} Nothing was changed.")),
            Self::Unreadable(words) => {
                (StatusCode::BAD_REQUEST, "That could not be read".to_owned(), format!("{words} Nothing was changed."))
            }
            Self::TooMany => (
                StatusCode::TOO_MANY_REQUESTS,
                "Too many tries".to_owned(),
                "Wait a minute, then try again. Nothing was lost.".to_owned(),
            ),
            Self::NoToken => (
                StatusCode::UNAUTHORIZED,
                "Nobody is signed in".to_owned(),
                "Send a token that the owner made and has not revoked, as Authorization: Bearer TOKEN, or sign in."
                    .to_owned(),
            ),
            Self::NotJsonType => (
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "That is not JSON".to_owned(),
                "Send JSON with the header Content-Type: application/json.".to_owned(),
            ),
            Self::Query(words) => {
                (StatusCode::UNPROCESSABLE_ENTITY, "The address cannot be used".to_owned(), words.clone())
            }
            Self::Calculation(refusal) => {
                return Failure {
                    status: StatusCode::from_u16(refusal.status()).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY),
                    title: "That cannot be worked out".to_owned(),
                    words: refusal.detail(),
                    reference: None,
                    refusal: Some(refusal.clone()),
                    rescued: None,
                };
            }
            Self::Busy => (
                StatusCode::SERVICE_UNAVAILABLE,
                "The calculator is busy".to_owned(),
                "Other calculations are still running. Nothing was lost: try again in a few seconds.".to_owned(),
            ),
            Self::DiskFull => (
                StatusCode::INSUFFICIENT_STORAGE,
                "The disk is full".to_owned(),
                "Nothing was saved. Go back: what you typed is still there. Make room on the computer that runs \
                 Thumbplane, then send it again."
                    .to_owned(),
            ),
            Self::Internal(_) => (
                StatusCode::INTERNAL_SERVER_ERROR,
                "Something went wrong on our side".to_owned(),
                "What you did was not saved; everything saved before is safe. Go back and try again.".to_owned(),
            ),
        };
        Failure { status, title, words, reference: None, refusal: None, rescued: None }
    }
}

impl IntoResponse for Error {
    fn into_response(self) -> Response {
        let mut failure = self.failure();
        match &self {
            Self::Internal(cause) => {
                let reference: String = Uuid::new_v4().simple().to_string().chars().take(8).collect();
                tracing::error!(reference, cause = %cause, "request.failed");
                failure.reference = Some(reference);
            }
            Self::DiskFull => tracing::error!("request.disk_full"),
            Self::SignIn(then) if !then.is_empty() => {
                let then: String = form_urlencoded::byte_serialize(then.as_bytes()).collect();
                return Redirect::to(&format!("/sign-in?then={then}")).into_response();
            }
            _ => {}
        }
        let mut response = failure.status.into_response();
        match &self {
            Self::NoToken => {
                response.headers_mut().insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
            }
            Self::Busy => {
                response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static("5"));
            }
            // tries are counted by the minute
            Self::TooMany => {
                response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static("60"));
            }
            _ => {}
        }
        response.extensions_mut().insert(failure);
        response
    }
}
