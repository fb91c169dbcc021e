//! `/account`: one's own password. A change ends every other session of the person.

use askama::Template;

use super::error::{Error, Result};
use super::form::FormData;
use super::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::records::staff;
use crate::records::{Door, password};

#[derive(Template)]
#[template(path = "account.html")]
struct AccountPage {
    layout: Layout,
    form: FormData,
    roles: String,
}

fn account_page(context: &RequestContext, form: FormData) -> AccountPage {
    let roles = context.session.as_ref().map(|session| session.staff.roles.spoken()).unwrap_or_default();
    AccountPage { layout: context.layout(), form: form.with("present", "").with("password", ""), roles }
}

/// `GET /account`
pub(super) async fn show(context: RequestContext) -> Result {
    page(&account_page(&context, FormData::new()))
}

/// `POST /account`
pub(super) async fn change_password(context: RequestContext, mut form: FormData) -> Result {
    let session = context.session.clone().ok_or(Error::SignIn(String::new()))?;
    let present = form.value("present").to_owned();
    let wanted = form.value("password").to_owned();
    if let Some(words) = password::objection(&wanted, &[&context.settings.shop_name, &session.staff.name]) {
        form.add_error("password", words);
    }
    let kept = staff::credentials(context.app.db.read(), &session.staff.name, context.address).await?;
    if kept.as_ref().is_some_and(|kept| kept.is_blocked(context.now())) {
        form.add_error("present", "Too many wrong tries. Wait up to five minutes, then try again.");
    } else {
        let hash = kept.map(|kept| kept.password_hash);
        if !context.app.hash(move || password::is_right(&present, hash.as_deref())).await? {
            form.add_error("present", "That is not your present password.");
            // a session left open on a tablet is no place to guess from either
            let mut tx = context.app.db.write().await?;
            staff::sign_in_failed(&mut tx, &context.audit(Door::House), session.staff.id, context.address).await?;
            tx.commit().await?;
        }
    }
    if form.has_errors() {
        return page_with(form.status(), &account_page(&context, form));
    }
    let hash = context.app.hash(move || password::hash(&wanted)).await??;
    let mut tx = context.app.db.write().await?;
    staff::set_password(&mut tx, &context.audit(Door::House), session.staff.id, &hash, Some(&session.token_hash))
        .await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/account",
        "Your password is changed. Every other device you were signed in on is signed out.",
    )
}
