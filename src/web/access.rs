//! Who may use a route, and the guard that stands before each one.

use axum::extract::{Request, State};
use axum::http::Method;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;

use super::app::{App, Serving};
use super::error::Error;
use crate::records::session;
use crate::records::staff::{Role, Roles};

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
}

impl Access {
    /// Whether somebody with these roles may pass.
    pub fn admits(self, roles: Roles) -> bool {
        match self {
            Self::Public | Self::Staff => true,
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

/// Lets a request through, or answers why not. Runs before every route.
pub(super) async fn guard(State((app, access)): State<(App, Access)>, mut request: Request, next: Next) -> Response {
    let jar = CookieJar::from_headers(request.headers());
    let now = app.clock.now();
    let session = match jar.get(cookie_name(&app.serving)) {
        None => None,
        Some(cookie) => match session::find(app.db.read(), cookie.value(), now).await {
            Ok(session) => session,
            Err(cause) => return Error::from(cause).into_response(),
        },
    };
    match (&session, access) {
        (_, Access::Public) => {}
        (None, _) => {
            // only a page can be gone to after signing in; a sent form is told that nothing was saved
            let then = if request.method() == Method::GET { request.uri().to_string() } else { String::new() };
            return Error::SignIn(then).into_response();
        }
        (Some(session), access) if !access.admits(session.staff.roles) => {
            tracing::warn!(staff = %session.staff.id, "access.refused");
            return Error::Forbidden.into_response();
        }
        (Some(_), _) => {}
    }
    if let Some(session) = session {
        if session.is_seen_stale(now) {
            let seen = async {
                let mut write = app.db.write().await?;
                session::seen(&mut write, &session.token_hash, now).await?;
                write.commit().await.map_err(crate::records::Error::from)
            };
            if let Err(cause) = seen.await {
                tracing::warn!(cause = %cause, "session.seen_not_written");
            }
        }
        request.extensions_mut().insert(session);
    }
    next.run(request).await
}
