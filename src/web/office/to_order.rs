//! `/office/to-order`: a list of what to order, on paper.

use askama::Template;

use crate::quantity::{Money, Thousandths, with_weekday};
use crate::records::part::{self, Part};
use crate::web::Result;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::words::Shop;

#[derive(Template)]
#[template(path = "office/to_order.html")]
struct ToOrder {
    layout: Layout,
    shop: Shop,
    today: String,
    rows: Vec<Row>,
}

struct Row {
    name: String,
    on_hand: String,
    reorder_at: String,
    /// "8 sets": up to twice what it is ordered at, in whole units.
    order: String,
    /// For one unit; "–" where nobody wrote it down.
    cost: String,
}

/// Whole units that bring the shelf to twice what it is ordered at, at least one: common practice, no source.
fn to_order(part: &Part) -> i64 {
    let least = part.reorder_at.unwrap_or(Thousandths(0)).0;
    ((least.max(500) * 2 - part.on_hand.0) + 999).div_euclid(1000).max(1)
}

/// `GET /office/to-order`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let parts = part::all(context.app.db.read()).await?;
    let money = |amount: Option<Money>| amount.map_or_else(|| "–".to_owned(), |amount| context.money(amount));
    let rows = parts.into_iter().filter(Part::is_low).map(|part| Row {
        on_hand: part.on_hand_words(),
        reorder_at: part.reorder_at.map(|least| least.to_string()).unwrap_or_default(),
        order: format!("{} {}", to_order(&part), part.unit),
        cost: money(part.cost),
        name: part.name,
    });
    page(&ToOrder {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        today: with_weekday(context.today()),
        rows: rows.collect(),
    })
}
