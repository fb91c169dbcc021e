//! `/office/telling`: when somebody who was told is due again.

use askama::Template;

use crate::records::Door;
use crate::records::telling::{self, TellingSettings};
use crate::web::Result;
use crate::web::form::FormData;
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/telling.html")]
struct TellingPage {
    layout: Layout,
    form: FormData,
}

fn form_of(settings: &TellingSettings) -> FormData {
    FormData::new()
        .with("version", settings.version.to_string())
        .with("after_told", settings.after_told.to_string())
        .with("after_word_left", settings.after_word_left.to_string())
        .with("after_no_answer", settings.after_no_answer.to_string())
}

/// `GET /office/telling`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let settings = telling::settings(context.app.db.read()).await?;
    page(&TellingPage { layout: context.layout(), form: form_of(&settings) })
}

/// `POST /office/telling`
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let mut days = |name: &str| form.required_number(name, 1..=365, "how many days");
    let days = (days("after_told"), days("after_word_left"), days("after_no_answer"));
    let (Some(after_told), Some(after_word_left), Some(after_no_answer)) = days else {
        return page_with(form.status(), &TellingPage { layout: context.layout(), form });
    };
    let new = TellingSettings { after_told, after_word_left, after_no_answer, version: form.version()? };
    let mut tx = context.app.db.write().await?;
    let saved = telling::save_settings(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("after_told", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&telling::settings(context.app.db.read()).await?));
        return page_with(form.status(), &TellingPage { layout: context.layout(), form });
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/telling", "The days are saved.")
}
