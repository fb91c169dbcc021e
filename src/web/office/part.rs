//! `/office/parts/{id}`: one part: its card, receiving and counting it, and where it went.

use askama::Template;

use super::parts;
use crate::records::part::{self, Part};
use crate::records::{Door, PartId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::currency;

#[derive(Template)]
#[template(path = "office/part.html")]
struct PartPage {
    layout: Layout,
    form: FormData,
    part: Part,
    movements: Vec<Row>,
}

struct Row {
    at: String,
    what: String,
    quantity: String,
    after: String,
    who: String,
}

fn form_of(part: &Part, context: &RequestContext) -> FormData {
    let currency = currency(&context.settings);
    let money =
        |amount: Option<crate::quantity::Money>| amount.map(|amount| amount.plain(&currency)).unwrap_or_default();
    FormData::new()
        .with("version", part.version.to_string())
        .with("name", part.name.as_str())
        .with("unit", part.unit.as_str())
        .with("reorder_at", part.reorder_at.map(|least| least.to_string()).unwrap_or_default())
        .with("cost", money(part.cost))
        .with("price", money(part.price))
        .with("archived", if part.archived { "yes" } else { "" })
}

async fn part_page(context: &RequestContext, id: PartId, form: FormData) -> Result<PartPage> {
    let reading = context.app.db.read();
    let part = part::find(reading, id).await?;
    let movements = part::of_part(reading, id).await?.into_iter().map(|movement| {
        let job = movement.job_number.map(|number| format!(" for {number}")).unwrap_or_default();
        let note = if movement.note.is_empty() { String::new() } else { format!(": {}", movement.note) };
        Row {
            at: context.moment(movement.at),
            what: format!("{}{job}{note}", movement.kind),
            quantity: format!("{}{}", if movement.quantity.0 > 0 { "+" } else { "" }, movement.quantity),
            after: movement.on_hand_after.to_string(),
            who: movement.who,
        }
    });
    let movements = movements.collect();
    Ok(PartPage { layout: context.layout(), form: form_of(&part, context).overlaid_with(form), part, movements })
}

async fn again(context: &RequestContext, id: PartId, form: FormData) -> Result {
    page_with(form.status(), &part_page(context, id, form).await?)
}

/// `GET /office/parts/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<PartId>) -> Result {
    page(&part_page(&context, id, FormData::default()).await?)
}

/// `POST /office/parts/{id}`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<PartId>, mut form: FormData) -> Result {
    part::find(context.app.db.read(), id).await?;
    let Some(entry) = parts::part_entry(&mut form, &context) else {
        return again(&context, id, form).await;
    };
    let mut tx = context.app.db.write().await?;
    let saved = part::save(&mut tx, &context.audit(Door::Office), id, form.version()?, &entry).await;
    if form.accept_save("name", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&part::find(context.app.db.read(), id).await?, &context));
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/office/parts/{id}"), &format!("“{}” is saved.", entry.name))
}

/// `POST /office/parts/{id}/receive`
pub(in crate::web) async fn receive(context: RequestContext, Id(id): Id<PartId>, form: FormData) -> Result {
    moved(context, id, form, "received", "how many came").await
}

/// `POST /office/parts/{id}/count`
pub(in crate::web) async fn count(context: RequestContext, Id(id): Id<PartId>, form: FormData) -> Result {
    moved(context, id, form, "counted", "how many lie there").await
}

async fn moved(context: RequestContext, id: PartId, mut form: FormData, field: &str, what: &str) -> Result {
    part::find(context.app.db.read(), id).await?;
    let quantity = form.required_thousandths(field, what);
    let note = form.line(&format!("{field}_note"), LINE);
    let (Some(quantity), false) = (quantity, form.has_errors()) else {
        return again(&context, id, form).await;
    };
    let key = form.required_key()?.to_owned();
    let by = context.audit(Door::Office);
    let mut tx = context.app.db.write().await?;
    let done = match field {
        "received" => part::receive(&mut tx, &by, &key, id, quantity, &note).await,
        _ => part::count(&mut tx, &by, &key, id, quantity, &note).await,
    };
    let Some(left) = form.accept(field, done)? else {
        drop(tx);
        return again(&context, id, form).await;
    };
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/office/parts/{id}"), &format!("{left} on hand now."))
}
