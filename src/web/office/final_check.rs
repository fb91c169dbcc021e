//! `/office/final-check`: what the house looks at before an instrument is ready. The owner's list.

use askama::Template;

use crate::records::family::Family;
use crate::records::final_check::{self, CheckItem, CheckItemEntry};
use crate::records::{CheckItemId, Door};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/final_check.html")]
struct OfficeCheckPage {
    layout: Layout,
    form: FormData,
    refused_row: Option<CheckItemId>,
    rows: Vec<Row>,
}

impl OfficeCheckPage {
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
}

struct Row {
    item: CheckItem,
    form: FormData,
}

fn form_of(item: &CheckItem) -> FormData {
    FormData::default()
        .with("version", item.version.to_string())
        .with("place", item.position.to_string())
        .with("words", item.words.as_str())
        .with("hint", item.hint.as_str())
        .with("family", item.family.map(Family::key).unwrap_or_default())
        .with("archived", if item.archived { "yes" } else { "" })
}

async fn list_page(
    context: &RequestContext,
    form: FormData,
    refused_row: Option<CheckItemId>,
) -> Result<OfficeCheckPage> {
    let items = final_check::items(context.app.db.read()).await?;
    let next = items.iter().filter(|item| !item.archived).count() + 1;
    let rows = items.into_iter().map(|item| {
        let form = if refused_row == Some(item.id) { form.clone() } else { form_of(&item) };
        Row { form: form.of_row(item.id), item }
    });
    let rows = rows.collect();
    let fresh = FormData::new().with("place", next.to_string());
    let form = if refused_row.is_some() { fresh } else { fresh.overlaid_with(form) };
    Ok(OfficeCheckPage { layout: context.layout(), rows, form, refused_row })
}

/// `GET /office/final-check`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&list_page(&context, FormData::default(), None).await?)
}

/// `POST /office/final-check`
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let Some(entry) = check_item_entry(&mut form) else {
        return page_with(form.status(), &list_page(&context, form, None).await?);
    };
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    final_check::add(&mut tx, &context.audit(Door::Office), &key, false, &entry).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/office/final-check", &format!("“{}” is on the list.", entry.words))
}

/// `POST /office/final-check/{id}`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<CheckItemId>, mut form: FormData) -> Result {
    final_check::item(context.app.db.read(), id).await?;
    let Some(entry) = check_item_entry(&mut form) else {
        return page_with(form.status(), &list_page(&context, form, Some(id)).await?);
    };
    let mut tx = context.app.db.write().await?;
    let saved = final_check::save(&mut tx, &context.audit(Door::Office), id, form.version()?, &entry).await;
    if form.accept_save("words", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&final_check::item(context.app.db.read(), id).await?));
        return page_with(form.status(), &list_page(&context, form, Some(id)).await?);
    }
    tx.commit().await?;
    let words = if entry.archived { "is archived; what was answered to it stays" } else { "is saved" };
    redirect_with_flash(&context, "/office/final-check", &format!("“{}” {words}.", entry.words))
}

fn check_item_entry(form: &mut FormData) -> Option<CheckItemEntry> {
    let words = form.required_line("words", "what is looked at", LINE);
    let hint = form.line("hint", LINE);
    let position = form.required_number("place", 1..=99, "its place in the list");
    let family = match form.value("family") {
        "" => None,
        _ => form.choice::<Family>("family", "which instruments it is for"),
    };
    if form.has_errors() {
        return None;
    }
    Some(CheckItemEntry { position: position?, words, hint, family, archived: form.is("archived", "yes") })
}
