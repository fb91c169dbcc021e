//! `/office/targets`: the house's target values, as the text the owner edits.

use askama::Template;

use crate::records::Door;
use crate::records::reading::scatter::{self, ToolScatter};
use crate::records::settings::{self, Settings};
use crate::records::tool::tools;
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
    tools: Vec<ToolRow>,
}

/// How far one tool scatters in this shop's hands.
struct ToolRow {
    name: String,
    scatter: String,
    repeats: String,
    counts: &'static str,
}

/// The page with what the shop's own repeats say of its tools.
async fn targets_page(context: &RequestContext, form: FormData) -> Result<TargetsPage> {
    let mut connection = context.app.db.read().acquire().await?;
    let known = scatter::of_all_tools(&mut connection).await?;
    let rows = tools().iter().map(|tool| {
        let found = known.iter().find(|known| known.tool == tool.key);
        let own = found.and_then(ToolScatter::repeatability);
        ToolRow {
            name: tool.name.clone(),
            scatter: own.map_or_else(|| "–".to_owned(), |own| format!("{:.3} mm", own.standard_deviation_mm)),
            repeats: found.map_or_else(|| "0".to_owned(), |found| found.degrees_of_freedom.to_string()),
            counts: if own.is_some() { "the shop's own" } else { "usual: 0.03 mm" },
        }
    });
    Ok(TargetsPage { layout: context.layout(), form, tools: rows.collect() })
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
    page(&targets_page(&context, form).await?)
}

/// `POST /office/targets`
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let text = form.area("targets", LONGEST);
    if let Err(words) = HouseTargets::read(&text) {
        form.add_error("targets", format!("The text cannot be used as it is. {words}"));
    }
    if form.has_errors() {
        return page_with(form.status(), &targets_page(&context, form).await?);
    }
    let new = Settings { targets: format!("{text}\n"), version: form.version()?, ..Settings::clone(&context.settings) };
    let mut tx = context.app.db.write().await?;
    let saved = settings::save(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("targets", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&settings::current(context.app.db.read()).await?));
        return page_with(form.status(), &targets_page(&context, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/office/targets",
        "The target values are saved. New plans use them; kept plans stay as they were said.",
    )
}
