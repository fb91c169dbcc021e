//! `/office/telling/words/{kind}`: what a kind of message says, in the owner's words, and how it reads.

use askama::Template;
use time::Duration;

use crate::quantity::{Money, with_weekday};
use crate::records::Door;
use crate::records::message::{self, MessageKind, Words};
use crate::web::form::{FormData, Id, LINE, TEXT};
use crate::web::outbox::written::{Blanks, Reads, fill};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "office/message_words.html")]
struct WordsPage {
    layout: Layout,
    form: FormData,
    kind: MessageKind,
    reads: Reads,
}

fn known(kind: &str) -> Result<MessageKind> {
    let kind = kind.parse().ok().filter(|kind| *kind != MessageKind::Test);
    kind.ok_or(Error::NotFound("kind of message"))
}

fn form_of(words: &Words) -> FormData {
    FormData::new()
        .with("version", words.version.to_string())
        .with("subject", words.subject.as_str())
        .with("words", words.words.as_str())
}

/// The page with the words as they are typed, as they would read to an invented customer.
fn words_page(context: &RequestContext, kind: MessageKind, form: FormData) -> WordsPage {
    let words = Words { subject: form.value("subject").to_owned(), words: form.value("words").to_owned(), version: 0 };
    let blanks = Blanks {
        name: "Maren Oakhollow".to_owned(),
        number: "26-0001".to_owned(),
        instrument: "Thistlewade OM-2".to_owned(),
        day: with_weekday(context.today() + Duration::days(14)),
        amount: context.money(Money(12_300)),
        link: context.public_address().map(|origin| format!("{origin}/s/…")).unwrap_or_default(),
        answer: match kind {
            MessageKind::Receipt => format!("Paid in all: {}. Nothing is owed.", context.money(Money(12_300))),
            _ => "Agreed: lower the saddle.".to_owned(),
        },
    };
    WordsPage { layout: context.layout(), reads: fill(&words, &blanks, &context.settings), form, kind }
}

/// `GET /office/telling/words/{kind}`
pub(in crate::web) async fn show(context: RequestContext, Id(kind): Id<String>) -> Result {
    let kind = known(&kind)?;
    let words = message::words_of(context.app.db.read(), kind).await?;
    page(&words_page(&context, kind, form_of(&words)))
}

/// `POST /office/telling/words/{kind}`: saves them, or shows how they would read (`look`).
pub(in crate::web) async fn save(context: RequestContext, Id(kind): Id<String>, mut form: FormData) -> Result {
    let kind = known(&kind)?;
    let subject = form.required_line("subject", "what stands in the list of mail", LINE);
    let words = form.required_area("words", "what the message says", TEXT);
    if form.has_errors() || form.is("look", "yes") {
        return page_with(form.status(), &words_page(&context, kind, form));
    }
    let new = Words { subject, words, version: form.version()? };
    let mut tx = context.app.db.write().await?;
    let saved = message::save_words(&mut tx, &context.audit(Door::Office), kind, &new).await;
    if form.accept_save("words", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&message::words_of(context.app.db.read(), kind).await?));
        return page_with(form.status(), &words_page(&context, kind, form));
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/office/telling/words/{}", kind.key()), "The words are saved.")
}
