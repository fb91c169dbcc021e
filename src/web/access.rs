//! Who may use a route, and the guard that stands before each one.

use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;

use super::api;
use super::app::{App, Serving};
use super::error::{Error, Result};
use super::unsent;
use crate::records::staff::{Role, Roles};
use crate::records::{api_token, session};

/// Who may use a route. Stated for each one in [`super::router`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// Everybody: signing in, static files, the customer's private page (its token is the key).
    Public,
    /// Whoever is signed in.
    Staff,
    /// The front desk, and the owner.
    Desk,
    /// The bench, and the owner.
    Bench,
    /// The owner alone.
    Owner,
    /// Whoever is signed in, and a program with a token.
    Program,
}

impl Access {
    /// Whether somebody with these roles may pass.
    pub fn admits(self, roles: Roles) -> bool {
        match self {
            Self::Public | Self::Staff | Self::Program => true,
            Self::Desk => roles.may_act_as(Role::Desk),
            Self::Bench => roles.may_act_as(Role::Bench),
            Self::Owner => roles.may_act_as(Role::Owner),
        }
    }
}

/// The cookie's name: browsers throw a `__Host-` cookie away where there is no TLS.
pub(super) fn cookie_name(serving: &Serving) -> &'static str {
    if serving.is_tls() { "__Host-thumbplane" } else { "thumbplane" }
}

/// The token a request below `/api` brings. Elsewhere a token is nothing, and no other scheme is one: a
/// proxy may have a sign-in of its own.
pub(super) fn bearer(request: &Request) -> Option<&str> {
    if !api::is_below(request.uri().path()) {
        return None;
    }
    let (scheme, token) = authorization(request.headers())?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}

fn authorization(headers: &HeaderMap) -> Option<&str> {
    headers.get(header::AUTHORIZATION)?.to_str().ok()
}

/// Refuses a token that does not hold; writes down once a day that one was used.
async fn admit_token(app: &App, token: &str) -> Result<()> {
    let Some((id, last_used_on)) = api_token::find(app.db.read(), token).await? else {
        tracing::warn!("access.token_refused");
        return Err(Error::NoToken);
    };
    let today = app.clock.today();
    if last_used_on != Some(today) {
        let used = async {
            let mut tx = app.db.write().await?;
            api_token::used(&mut tx, id, today).await?;
            tx.commit().await
        };
        if let Err(cause) = used.await {
            tracing::warn!(cause = %cause, "access.token_use_not_written");
        }
    }
    Ok(())
}

/// A session that ended is taken out of the books when it is shown, so that it does not hold again should the
/// clock go back.
async fn end_session(app: &App, token: &str) {
    let forgotten = async {
        if session::is_left_over(app.db.read(), token).await? {
            let mut tx = app.db.write().await?;
            session::end_by_token(&mut tx, token).await?;
            tx.commit().await?;
        }
        Ok::<(), crate::records::Error>(())
    };
    if let Err(cause) = forgotten.await {
        tracing::warn!(cause = %cause, "session.end_not_written");
    }
}

/// Lets a request through, or answers why not. Runs before every route.
pub(super) async fn guard(State((app, access)): State<(App, Access)>, mut request: Request, next: Next) -> Response {
    // with a token the cookie is not looked at, so that a request is one or the other
    if let (Access::Program, Some(token)) = (access, bearer(&request)) {
        return match admit_token(&app, token).await {
            Ok(()) => next.run(request).await,
            Err(error) => error.into_response(),
        };
    }
    let jar = CookieJar::from_headers(request.headers());
    let now = app.clock.now();
    let session = match jar.get(cookie_name(&app.serving)) {
        None => None,
        Some(cookie) => match session::find(app.db.read(), cookie.value(), now).await {
            Ok(Some(session)) => Some(session),
            Ok(None) => {
                end_session(&app, cookie.value()).await;
                None
            }
            Err(cause) => return Error::from(cause).into_response(),
        },
    };
    match (&session, access) {
        (_, Access::Public) => {}
        (None, Access::Program) => return Error::NoToken.into_response(),
        (None, _) => {
            // a page can be gone to after signing in; so can a long form that was sent, with what was typed
            if request.method() == Method::GET {
                return Error::SignIn(request.uri().to_string()).into_response();
            }
            return match unsent::rescue(request).await {
                Some(rescued) => Error::SignInWith(Box::new(rescued)).into_response(),
                None => Error::SignIn(String::new()).into_response(),
            };
        }
        (Some(session), access) if !access.admits(session.staff.roles) => {
            tracing::warn!(staff = %session.staff.id, "access.refused");
            return Error::Forbidden.into_response();
        }
        (Some(_), _) => {}
    }
    if let Some(session) = session {
        if session.is_seen_stale(now) {
            let touched = async {
                let mut tx = app.db.write().await?;
                session::touch(&mut tx, &session.token_hash, now).await?;
                tx.commit().await
            };
            if let Err(cause) = touched.await {
                tracing::warn!(cause = %cause, "session.seen_not_written");
            }
        }
        request.extensions_mut().insert(session);
    }
    next.run(request).await
}
