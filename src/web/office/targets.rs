//! `/office/targets`: the house's target values, as the text the owner edits.

use askama::Template;
use axum::http::StatusCode;

use crate::records::Door;
use crate::records::settings::{self, Settings};
use crate::setup::plan::HouseTargets;
use crate::web::Result;
use crate::web::form::Typed;
use crate::web::page::{Layout, Visit, page, page_with, see};

/// The text is some two hundred short lines.
const LONGEST: usize = 40_000;

#[derive(Template)]
#[template(path = "office/targets.html")]
struct TargetsPage {
    layout: Layout,
    form: Typed,
}

fn typed(settings: &Settings) -> Typed {
    Typed::fresh().with("version", settings.version.to_string()).with("targets", settings.targets.as_str())
}

/// `GET /office/targets`
pub(in crate::web) async fn show(visit: Visit) -> Result {
    page(&TargetsPage { layout: visit.layout(), form: typed(&visit.settings) })
}

/// `POST /office/targets`
pub(in crate::web) async fn save(visit: Visit, mut form: Typed) -> Result {
    let text = form.area("targets", LONGEST);
    if let Err(words) = HouseTargets::read(&text) {
        form.refuse("targets", format!("The text cannot be used as it is. {words}"));
    }
    if form.refused() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &TargetsPage { layout: visit.layout(), form });
    }
    let new = Settings { targets: format!("{text}\n"), version: form.version()?, ..visit.settings.clone() };
    let mut write = visit.app.db.write().await?;
    match settings::save(&mut write, &visit.by(Door::Office), &new).await {
        Ok(()) => {
            write.commit().await?;
            see(
                &visit,
                "/office/targets",
                "The target values are saved. New plans use them; kept plans stay as they were said.",
            )
        }
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(write);
            let present = settings::current(visit.app.db.read()).await?;
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &TargetsPage { layout: visit.layout(), form })
        }
        Err(other) => Err(other.into()),
    }
}
