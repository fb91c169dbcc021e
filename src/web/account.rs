//! `/account`: one's own password. A change ends every other session of the person.

use askama::Template;

use super::error::{Error, Result};
use super::form::Typed;
use super::page::{Layout, Visit, page, refused, see};
use crate::records::staff;
use crate::records::{Door, password};

#[derive(Template)]
#[template(path = "account.html")]
struct AccountPage {
    layout: Layout,
    form: Typed,
    roles: String,
}

fn account_page(visit: &Visit, form: Typed) -> AccountPage {
    let roles = visit.session.as_ref().map(|session| session.staff.roles.spoken()).unwrap_or_default();
    AccountPage { layout: visit.layout(), form: form.with("present", "").with("password", ""), roles }
}

/// `GET /account`
pub(super) async fn show(visit: Visit) -> Result {
    page(&account_page(&visit, Typed::fresh()))
}

/// `POST /account`
pub(super) async fn change_password(visit: Visit, mut form: Typed) -> Result {
    let session = visit.session.clone().ok_or(Error::SignIn(String::new()))?;
    let present = form.value("present").to_owned();
    let wanted = form.value("password").to_owned();
    if let Some(words) = password::objection(&wanted, &[&visit.settings.shop_name, &session.staff.name]) {
        form.refuse("password", words);
    }
    let kept = staff::credentials(visit.app.db.read(), &session.staff.name).await?.map(|found| found.password_hash);
    if !visit.app.hash(move || password::is_right(&present, kept.as_deref())).await? {
        form.refuse("present", "That is not your present password.");
    }
    if form.refused() {
        return refused(&account_page(&visit, form));
    }
    let hash = visit.app.hash(move || password::hash(&wanted)).await??;
    let mut write = visit.app.db.write().await?;
    staff::set_password(&mut write, &visit.by(Door::House), session.staff.id, &hash, Some(&session.token_hash)).await?;
    write.commit().await?;
    see(&visit, "/account", "Your password is changed. Every other device you were signed in on is signed out.")
}
