//! `/unsent`: what is typed into a long form and not sent yet, kept for whoever types it and brought back with the page.
//!
//! Scripts send it while somebody types; a form sent after its session ended brings it along through the sign-in page,
//! without scripts.

use axum::body::to_bytes;
use axum::extract::Request;
use axum::http::{Method, StatusCode, header};
use axum::response::{IntoResponse, Redirect};

use super::error::{Error, Rescued, Result};
use super::form::{FormData, FromBefore};
use super::page::{RequestContext, own_referer, safe_path};
use crate::records::unsent_form::{self, UnsentForm};
use crate::records::{AuditContext, Door, WriteTx};

/// No draft is larger.
const LARGEST: usize = 64 * 1024;
/// Where the forms go whose words are kept; a star stands for a key.
const KEPT: &[&str] = &[
    "/desk/check-in",
    "/desk/jobs/*/details",
    "/desk/jobs/*/quote",
    "/desk/jobs/*/work",
    "/desk/jobs/*/put-right",
    "/desk/quotes/*/answer",
    "/office/import/*",
    "/office/import/*/columns",
];

fn is_kept(path: &str) -> bool {
    KEPT.iter().any(|kept| {
        let (kept, path): (Vec<&str>, Vec<&str>) = (kept.split('/').collect(), path.split('/').collect());
        kept.len() == path.len()
            && kept.iter().zip(&path).all(|(kept, part)| kept == part || (*kept == "*" && part.len() > 8))
    })
}

/// The address under which a form's words are kept: check-ins of two customers lie side by side.
pub(super) fn slot(path: &str, form: &FormData) -> String {
    match form.value("customer") {
        "" => path.to_owned(),
        customer if path == "/desk/check-in" => format!("{path}?customer={customer}"),
        _ => path.to_owned(),
    }
}

/// What makes one opening of a form another than the next: its key, or the version it was opened with.
fn key_of(path: &str, form: &FormData) -> String {
    match form.key() {
        "" => format!("{path} {}", form.value("version")),
        key => key.to_owned(),
    }
}

/// `POST /unsent`: what stands in a form now.
pub(super) async fn keep(context: RequestContext, form: FormData) -> Result {
    let (path, fields) = (form.value("form"), form.value("fields"));
    let path = path.split('?').next().unwrap_or(path);
    if !is_kept(path) || fields.len() > LARGEST {
        return Err(Error::Unreadable("Nothing like this is kept here."));
    }
    let typed = FormData::sent(fields);
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::House);
    unsent_form::keep(&mut tx, &by, &slot(path, &typed), &key_of(path, &typed), fields).await?;
    tx.commit().await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// `POST /unsent/throw-away`: to the page again, empty.
pub(super) async fn throw_away(context: RequestContext, form: FormData) -> Result {
    let mut tx = context.app.db.write().await?;
    unsent_form::throw_away(&mut tx, &context.audit(Door::House), form.value("form")).await?;
    tx.commit().await?;
    Ok(Redirect::to(safe_path(form.value("then")).unwrap_or("/")).into_response())
}

/// A form that was sent by nobody: read whole, to be handed through the sign-in page. `None` for forms that are not
/// kept, and for what is no form.
pub(super) async fn rescue(request: Request) -> Option<Rescued> {
    let path = request.uri().path().to_owned();
    let kind = request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or("");
    if request.method() != Method::POST || !is_kept(&path) || !kind.starts_with("application/x-www-form-urlencoded") {
        return None;
    }
    let then = own_referer(request.headers()).unwrap_or_else(|| path.clone());
    let body = to_bytes(request.into_body(), LARGEST).await.ok()?;
    Some(Rescued { form: path, fields: String::from_utf8(body.to_vec()).ok()?, then })
}

/// Keeps what came through the sign-in page for whoever signed in.
pub(super) async fn keep_rescued(tx: &mut WriteTx, by: &AuditContext, form: &FormData) -> Result<()> {
    let (path, fields) = (form.value("unsent_form"), form.value("unsent"));
    if !is_kept(path) || fields.len() > LARGEST {
        return Ok(());
    }
    let typed = FormData::sent(fields);
    let key = format!("rescued {}", key_of(path, &typed));
    Ok(unsent_form::keep(tx, by, &slot(path, &typed), &key, fields).await?)
}

/// Everything this person has not sent.
pub(super) async fn of_person(context: &RequestContext) -> Result<Vec<UnsentForm>> {
    match &context.session {
        Some(session) => Ok(unsent_form::of_person(context.app.db.read(), session.staff.id, context.now()).await?),
        None => Ok(Vec::new()),
    }
}

/// A form as it was opened, with what was typed into it before and not sent; as it is where nothing was.
pub(super) async fn brought_back(context: &RequestContext, path: &str, opened: FormData) -> Result<FormData> {
    let unsent = of_person(context).await?.into_iter().find(|unsent| unsent.form == path);
    Ok(match unsent {
        Some(unsent) => with_unsent(context, opened, &unsent),
        None => opened,
    })
}

/// The same with the draft at hand.
pub(super) fn with_unsent(context: &RequestContext, opened: FormData, unsent: &UnsentForm) -> FormData {
    let mut typed = FormData::sent(&unsent.fields);
    if opened.has("version") && typed.value("version") != opened.value("version") {
        typed.merge(&opened);
    }
    let before = FromBefore { form: unsent.form.clone(), at: context.moment(unsent.saved_at) };
    opened.overlaid_with(typed).with_words_from_before(before)
}

/// What was typed is sent: it is no draft any more.
pub(super) async fn sent(tx: &mut WriteTx, by: &AuditContext, path: &str, form: &FormData) -> Result<()> {
    Ok(unsent_form::sent(tx, by, &slot(path, form), &key_of(path, form)).await?)
}

#[cfg(test)]
mod tests {
    use super::is_kept;

    #[test]
    fn only_the_forms_that_come_back_are_kept() {
        let job = "/desk/jobs/0190f1f0-0000-7000-8000-000000000000";
        assert!(is_kept("/desk/check-in") && is_kept(&format!("{job}/details")) && is_kept(&format!("{job}/quote")));
        for other in ["/sign-in", "/account", "/office/staff", job, "/desk/check-in/x", ""] {
            assert!(!is_kept(other), "{other}");
        }
    }
}
