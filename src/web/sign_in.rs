//! `/sign-in`, `/sign-out` and `/first-start`.

use askama::Template;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::cookie::{Cookie, SameSite};

use super::access::cookie_name;
use super::app::App;
use super::error::{Error, Result};
use super::form::{FormData, LINE, Query};
use super::page::{Layout, RequestContext, page, page_with, safe_path};
use super::unsent;
use crate::records::password;
use crate::records::session;
use crate::records::staff;
use crate::records::{Door, StaffId};

/// The same words whether the name or the password is wrong: a guesser learns nothing.
const NOT_RIGHT: &str = "Name and password do not go together. Check both and try again.";

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    layout: Layout,
    form: FormData,
}

#[derive(Template)]
#[template(path = "first_start.html")]
struct FirstStartPage {
    layout: Layout,
    form: FormData,
}

/// `GET /sign-in`
pub(super) async fn show(context: RequestContext, query: Query) -> Result {
    let form = FormData::new().with("then", query.value("then"));
    page(&SignInPage { layout: context.layout(), form })
}

/// `POST /sign-in`
pub(super) async fn sign_in(context: RequestContext, headers: HeaderMap, mut form: FormData) -> Result {
    let app = &context.app;
    if !app.sign_in_throttle.allows(context.address, context.now()) {
        return Err(Error::TooMany);
    }
    let name = form.required_line("name", "your sign-in name", LINE);
    let typed = form.value("password").to_owned();
    if let Some(secure) = opened_without_tls(app, &headers) {
        form.add_error(
            "name",
            format!(
                "This page was opened without encryption, so that no browser keeps a sign-in. Open {secure} instead."
            ),
        );
    } else if typed.is_empty() {
        form.add_error("password", "Type your password.");
    }
    if form.has_errors() {
        return sign_in_again(&context, form);
    }
    let credentials = staff::credentials(app.db.read(), &name, context.address).await?;
    let blocked = match &credentials {
        Some(found) => found.is_blocked(context.now()),
        None => app.unknown_names.is_blocked(&name, context.now()),
    };
    if blocked {
        form.add_error("password", "Too many wrong tries for this name. Wait up to five minutes, then try again.");
        return sign_in_again(&context, form);
    }
    let hash = credentials.as_ref().filter(|found| found.active).map(|found| found.password_hash.clone());
    let right = app.hash(move || password::is_right(&typed, hash.as_deref())).await?;
    let Some(found) = credentials.filter(|_| right) else {
        count_wrong_try(&context, &name).await?;
        form.add_error("password", NOT_RIGHT);
        return sign_in_again(&context, form);
    };
    let then = safe_path(form.value("then")).unwrap_or("/").to_owned();
    let device = headers.get(header::USER_AGENT).and_then(|agent| agent.to_str().ok()).unwrap_or("").to_owned();
    begin(&context, found.id, &device, &then, &form).await
}

/// Where to sign in instead, when browsers are to reach us through TLS and this one does not: its cookie would be lost.
fn opened_without_tls<'a>(app: &'a App, headers: &HeaderMap) -> Option<&'a str> {
    let is_plain = headers.get(header::ORIGIN).is_some_and(|origin| origin.as_bytes().starts_with(b"http://"));
    app.serving.public_origin.as_deref().filter(|_| is_plain && app.serving.is_tls())
}

async fn count_wrong_try(context: &RequestContext, name: &str) -> Result<()> {
    let Some(found) = staff::credentials(context.app.db.read(), name, context.address).await? else {
        context.app.unknown_names.failed(name, context.now());
        return Ok(());
    };
    let mut tx = context.app.db.write().await?;
    staff::sign_in_failed(&mut tx, &context.audit(Door::House), found.id, context.address).await?;
    Ok(tx.commit().await?)
}

/// A new token at each sign-in; the one the browser held before is dead. What was typed before the old one ended is
/// kept for whoever signed in.
async fn begin(context: &RequestContext, staff: StaffId, device: &str, then: &str, form: &FormData) -> Result {
    let mut by = context.audit(Door::House);
    by.staff = Some(staff);
    let mut tx = context.app.db.write().await?;
    if let Some(old) = &context.session {
        session::end(&mut tx, &old.token_hash).await?;
    }
    staff::signed_in(&mut tx, &by, staff, context.address).await?;
    let token = session::begin(&mut tx, staff, device, by.at).await?;
    unsent::keep_rescued(&mut tx, &by, form).await?;
    tx.commit().await?;
    let mut response = Redirect::to(then).into_response();
    set_cookie(&context.app, &mut response, &token, time::Duration::hours(session::LONGEST_HOURS))?;
    Ok(response)
}

/// `POST /sign-out`
pub(super) async fn sign_out(context: RequestContext) -> Result {
    if let Some(session) = &context.session {
        let mut tx = context.app.db.write().await?;
        session::end(&mut tx, &session.token_hash).await?;
        tx.commit().await?;
    }
    let mut response = Redirect::to("/sign-in").into_response();
    set_cookie(&context.app, &mut response, "", time::Duration::ZERO)?;
    response.headers_mut().insert("clear-site-data", HeaderValue::from_static("\"storage\""));
    Ok(response)
}

/// `GET /first-start`
pub(super) async fn show_first_start(context: RequestContext) -> Result {
    if !staff::nobody_yet(context.app.db.read()).await? {
        return Ok(Redirect::to("/sign-in").into_response());
    }
    page(&FirstStartPage { layout: context.layout(), form: FormData::new() })
}

/// `POST /first-start`
pub(super) async fn first_start(context: RequestContext, headers: HeaderMap, mut form: FormData) -> Result {
    if !context.app.sign_in_throttle.allows(context.address, context.now()) {
        return Err(Error::TooMany);
    }
    let code = form.required_line("code", "the code from the console", LINE);
    let name = form.required_line("name", "the name you will sign in with", 80);
    let typed = form.value("password").to_owned();
    if let Some(words) = password::objection(&typed, &[&context.settings.shop_name, &name]) {
        form.add_error("password", words);
    }
    if form.has_errors() {
        return first_start_again(&context, form);
    }
    let mut tx = context.app.db.write().await?;
    let made = staff::first_owner(&mut tx, &context.audit(Door::House), &code, &name, &typed).await;
    let Some(id) = form.accept("code", made)? else {
        return first_start_again(&context, form);
    };
    tx.commit().await?;
    let device = headers.get(header::USER_AGENT).and_then(|agent| agent.to_str().ok()).unwrap_or("");
    begin(&context, id, device, "/office/first-hour", &form).await
}

/// Passwords are the one thing a refused form does not give back.
fn first_start_again(context: &RequestContext, form: FormData) -> Result {
    let form = form.with("password", "");
    page_with(form.status(), &FirstStartPage { layout: context.layout(), form })
}

/// Passwords are the one thing a refused form does not give back.
fn sign_in_again(context: &RequestContext, form: FormData) -> Result {
    let form = form.with("password", "");
    page_with(form.status(), &SignInPage { layout: context.layout(), form })
}

fn set_cookie(app: &App, response: &mut Response, token: &str, max_age: time::Duration) -> Result<()> {
    let cookie = Cookie::build((cookie_name(&app.serving), token.to_owned()))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(app.serving.is_tls())
        .max_age(max_age);
    let value = HeaderValue::from_str(&cookie.to_string()).map_err(Error::internal)?;
    response.headers_mut().append(header::SET_COOKIE, value);
    Ok(())
}
