//! `/office/targets`: the house's target values, as the text the owner edits.

use askama::Template;

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

fn form_of(settings: &Settings) -> FormData {
    FormData::new().with("version", settings.version.to_string()).with("targets", settings.targets.as_str())
}

/// `GET /office/targets`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let mut form = form_of(&context.settings);
    if let Err(words) = HouseTargets::read(&context.settings.targets) {
        form.add_error(
            "targets",
            format!("The text in the books cannot be read, so nothing is planned by it. {words}"),
        );
    }
    page(&TargetsPage { layout: context.layout(), form })
}

/// `POST /office/targets`
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let text = form.area("targets", LONGEST);
    if let Err(words) = HouseTargets::read(&text) {
        form.add_error("targets", format!("The text cannot be used as it is. {words}"));
    }
    if form.has_errors() {
        return page_with(form.status(), &TargetsPage { layout: context.layout(), form });
    }
    let new = Settings { targets: format!("{text}\n"), version: form.version()?, ..Settings::clone(&context.settings) };
    let mut tx = context.app.db.write().await?;
    let saved = settings::save(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("targets", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&settings::current(context.app.db.read()).await?));
        return page_with(form.status(), &TargetsPage { layout: context.layout(), form });
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/office/targets",
        "The target values are saved. New plans use them; kept plans stay as they were said.",
    )
}
