//! `/office/parts`: what lies in the drawers, and what to order.

use askama::Template;

use crate::records::Door;
use crate::records::part::{self, Part, PartEntry};
use crate::web::Result;
use crate::web::form::{FormData, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::currency;

#[derive(Template)]
#[template(path = "office/parts.html")]
struct PartsPage {
    layout: Layout,
    form: FormData,
    rows: Vec<Row>,
    low: usize,
}

struct Row {
    part: Part,
    cost: String,
    price: String,
    reorder_at: String,
}

async fn parts_page(context: &RequestContext, form: FormData) -> Result<PartsPage> {
    let parts = part::all(context.app.db.read()).await?;
    let money =
        |amount: Option<crate::quantity::Money>| amount.map_or_else(|| "–".to_owned(), |amount| context.money(amount));
    Ok(PartsPage {
        layout: context.layout(),
        low: parts.iter().filter(|part| part.is_low()).count(),
        rows: parts
            .into_iter()
            .map(|part| Row {
                cost: money(part.cost),
                price: money(part.price),
                reorder_at: part.reorder_at.map_or_else(|| "–".to_owned(), |least| least.to_string()),
                part,
            })
            .collect(),
        form: FormData::new().with("unit", "piece").overlaid_with(form),
    })
}

/// `GET /office/parts`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&parts_page(&context, FormData::default()).await?)
}

/// `POST /office/parts`
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let Some(entry) = part_entry(&mut form, &context) else {
        return page_with(form.status(), &parts_page(&context, form).await?);
    };
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let added = part::add(&mut tx, &context.audit(Door::Office), &key, &entry).await;
    let Some(id) = form.accept("name", added)? else {
        drop(tx);
        return page_with(form.status(), &parts_page(&context, form).await?);
    };
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/office/parts/{id}"),
        &format!("“{}” is in the books. Count what lies there.", entry.name),
    )
}

/// Reads what is written down of a part.
pub(super) fn part_entry(form: &mut FormData, context: &RequestContext) -> Option<PartEntry> {
    let currency = currency(&context.settings);
    let name = form.required_line("name", "what the part is called", LINE);
    let unit = form.required_line("unit", "its unit, such as piece, set or metre", 20);
    let reorder_at = form.thousandths("reorder_at");
    if reorder_at.is_some_and(|least| least.0 < 0) {
        form.add_error("reorder_at", "Type it without a minus.");
    }
    let cost = form.money("cost", &currency);
    let price = form.money("price", &currency);
    let archived = form.is("archived", "yes");
    (!form.has_errors()).then_some(PartEntry { name, unit, reorder_at, cost, price, archived })
}
