//! `/office/papers`: the label printer, when letters go to whoever does not collect, what letters say, and how each
//! paper looks.

use askama::Template;

use crate::records::paper::{self, LabelSize, PaperKind, PaperSettings};
use crate::records::{Door, job, quote};
use crate::web::Result;
use crate::web::form::{FormData, LINE, TEXT};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/papers.html")]
struct PapersPage {
    layout: Layout,
    form: FormData,
    looks: Vec<Look>,
}

/// A paper as it stands, to look at.
pub(super) struct Look {
    pub(super) href: String,
    pub(super) name: &'static str,
}

/// Every paper, of the newest job and the newest quote: how the shop's words look where they are read. Looking
/// prints nothing and counts as nothing.
pub(super) async fn looks(context: &RequestContext) -> Result<Vec<Look>> {
    let reading = context.app.db.read();
    let mut looks = Vec::new();
    if let Some((job, instrument)) = job::newest(reading).await? {
        for (kind, page) in [
            (PaperKind::ClaimTicket, "ticket"),
            (PaperKind::Tag, "tag"),
            (PaperKind::ShelfLabel, "shelf-label"),
            (PaperKind::Sheet, "sheet"),
            (PaperKind::Receipt, "receipt"),
            (PaperKind::CollectionLetter, "collection-letter"),
        ] {
            looks.push(Look { href: format!("/desk/jobs/{job}/{page}"), name: kind.spoken() });
        }
        let href = format!("/desk/instruments/{instrument}/care-letter");
        looks.push(Look { href, name: PaperKind::CareLetter.spoken() });
    }
    if let Some(quote) = quote::newest(reading).await? {
        looks.push(Look { href: format!("/desk/quotes/{quote}"), name: PaperKind::Quote.spoken() });
    }
    Ok(looks)
}

async fn papers_page(context: &RequestContext, form: FormData) -> Result<PapersPage> {
    Ok(PapersPage { layout: context.layout(), form, looks: looks(context).await? })
}

impl PapersPage {
    fn sizes(&self) -> &'static [LabelSize] {
        LabelSize::ALL
    }
}

fn form_of(settings: &PaperSettings) -> FormData {
    let days: Vec<String> = settings.letter_days.iter().map(ToString::to_string).collect();
    FormData::new()
        .with("version", settings.version.to_string())
        .with("label", settings.label.key())
        .with("letter_days", days.join(", "))
        .with("letter_words", settings.letter_words.as_str())
        .with("second_words", settings.second_words.as_str())
        .with("last_words", settings.last_words.as_str())
        .with("care_words", settings.care_words.as_str())
}

/// `GET /office/papers`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let settings = paper::settings(context.app.db.read()).await?;
    page(&papers_page(&context, form_of(&settings)).await?)
}

/// `POST /office/papers`
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let label = form.choice::<LabelSize>("label", "what the label printer holds");
    let days = form.line("letter_days", LINE);
    let letter_days: Option<Vec<i64>> =
        days.split(',').map(str::trim).filter(|day| !day.is_empty()).map(|day| day.parse().ok()).collect();
    if letter_days.is_none() {
        form.add_error("letter_days", "Type whole days with commas between, such as 14, 30, 60.");
    }
    let letter_words = form.area("letter_words", TEXT);
    let second_words = form.area("second_words", TEXT);
    let last_words = form.area("last_words", TEXT);
    let care_words = form.area("care_words", TEXT);
    let (Some(label), Some(letter_days), false) = (label, letter_days, form.has_errors()) else {
        return page_with(form.status(), &papers_page(&context, form).await?);
    };
    let new = PaperSettings {
        label,
        letter_days,
        letter_words,
        second_words,
        last_words,
        care_words,
        version: form.version()?,
    };
    let mut tx = context.app.db.write().await?;
    let saved = paper::save_settings(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("letter_days", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&paper::settings(context.app.db.read()).await?));
        return page_with(form.status(), &papers_page(&context, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/papers", "The papers are saved.")
}
