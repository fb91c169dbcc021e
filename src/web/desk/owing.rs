//! `/desk/owing`: every job with money open, also after it was handed over, and for how long.

use askama::Template;

use crate::quantity::Money;
use crate::records::balance::Due;
use crate::records::owing::{self, OpenAccount};
use crate::web::Result;
use crate::web::owing_view::OwingRow;
use crate::web::page::{Layout, RequestContext, page};

/// Rows on the page; the others are counted below.
const MOST: usize = 200;

#[derive(Template)]
#[template(path = "desk/owing.html")]
struct OwingPage {
    layout: Layout,
    rows: Vec<OwingRow>,
    more: usize,
    owed_now: String,
    owed_later: String,
    to_give_back: String,
    held: String,
}

/// `GET /desk/owing`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let open = owing::open(context.app.db.read(), None).await?;
    let sum = |is_meant: &dyn Fn(&OpenAccount) -> bool| {
        context.money(Money(open.iter().filter(|row| is_meant(row)).map(|row| row.due.amount().0).sum()))
    };
    page(&OwingPage {
        layout: context.layout(),
        owed_now: sum(&|row| matches!(row.due, Due::Owed(_)) && row.is_due()),
        owed_later: sum(&|row| matches!(row.due, Due::Owed(_)) && !row.is_due()),
        to_give_back: sum(&|row| matches!(row.due, Due::GiveBack(_))),
        held: sum(&|row| matches!(row.due, Due::Deposit(_))),
        more: open.len().saturating_sub(MOST),
        rows: open.iter().take(MOST).map(|account| OwingRow::of(&context, account)).collect(),
    })
}
