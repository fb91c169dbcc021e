//! `/office/papers`: the label printer, and when letters go to whoever does not collect.

use askama::Template;
use axum::http::StatusCode;

use crate::records::Door;
use crate::records::paper::{self, LabelSize, PaperSettings};
use crate::web::Result;
use crate::web::form::{LINE, TEXT, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};

#[derive(Template)]
#[template(path = "office/papers.html")]
struct PapersPage {
    layout: Layout,
    form: Typed,
}

impl PapersPage {
    fn sizes(&self) -> &'static [LabelSize] {
        LabelSize::ALL
    }
}

fn typed(settings: &PaperSettings) -> Typed {
    let days: Vec<String> = settings.letter_days.iter().map(ToString::to_string).collect();
    Typed::fresh()
        .with("version", settings.version.to_string())
        .with("label", settings.label.key())
        .with("letter_days", days.join(", "))
        .with("letter_words", settings.letter_words.as_str())
}

/// `GET /office/papers`
pub(in crate::web) async fn show(visit: Visit) -> Result {
    let settings = paper::settings(visit.app.db.read()).await?;
    page(&PapersPage { layout: visit.layout(), form: typed(&settings) })
}

/// `POST /office/papers`
pub(in crate::web) async fn save(visit: Visit, mut form: Typed) -> Result {
    let label = form.choice::<LabelSize>("label", "what the label printer holds");
    let days = form.line("letter_days", LINE);
    let letter_days: Option<Vec<i64>> =
        days.split(',').map(str::trim).filter(|day| !day.is_empty()).map(|day| day.parse().ok()).collect();
    if letter_days.is_none() {
        form.refuse("letter_days", "Type whole days with commas between, such as 14, 30, 60.");
    }
    let letter_words = form.area("letter_words", TEXT);
    let (Some(label), Some(letter_days), false) = (label, letter_days, form.refused()) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &PapersPage { layout: visit.layout(), form });
    };
    let new = PaperSettings { label, letter_days, letter_words, version: form.version()? };
    let mut write = visit.app.db.write().await?;
    match paper::save_settings(&mut write, &visit.by(Door::Office), &new).await {
        Ok(()) => {
            write.commit().await?;
            see(&visit, "/office/papers", "The papers are saved.")
        }
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(write);
            let present = paper::settings(visit.app.db.read()).await?;
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &PapersPage { layout: visit.layout(), form })
        }
        Err(error) => {
            drop(write);
            let status = form.note("letter_days", error)?;
            page_with(status, &PapersPage { layout: visit.layout(), form })
        }
    }
}
