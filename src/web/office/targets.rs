//! `/office/targets`: the house's target values, as the text the owner edits.

use askama::Template;
use axum::http::StatusCode;

use crate::records::Door;
use crate::records::settings::{self, Settings};
use crate::setup::plan::HouseTargets;
use crate::web::Result;
use crate::web::form::FormData;
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

/// The text is some two hundred short lines.
const LONGEST: usize = 40_000;

#[derive(Template)]
#[template(path = "office/targets.html")]
struct TargetsPage {
    layout: Layout,
    form: FormData,
}

fn typed(settings: &Settings) -> FormData {
    FormData::fresh().with("version", settings.version.to_string()).with("targets", settings.targets.as_str())
}

/// `GET /office/targets`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&TargetsPage { layout: context.layout(), form: typed(&context.settings) })
}

/// `POST /office/targets`
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let text = form.area("targets", LONGEST);
    if let Err(words) = HouseTargets::read(&text) {
        form.refuse("targets", format!("The text cannot be used as it is. {words}"));
    }
    if form.refused() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &TargetsPage { layout: context.layout(), form });
    }
    let new = Settings { targets: format!("{text}\n"), version: form.version()?, ..Settings::clone(&context.settings) };
    let mut tx = context.app.db.write().await?;
    match settings::save(&mut tx, &context.audit(Door::Office), &new).await {
        Ok(()) => {
            tx.commit().await?;
            redirect_with_flash(
                &context,
                "/office/targets",
                "The target values are saved. New plans use them; kept plans stay as they were said.",
            )
        }
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(tx);
            let present = settings::current(context.app.db.read()).await?;
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &TargetsPage { layout: context.layout(), form })
        }
        Err(other) => Err(other.into()),
    }
}
