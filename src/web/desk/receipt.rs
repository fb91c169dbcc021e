//! `/desk/jobs/{id}/receipt`: what was agreed, what was paid, what is left.

use askama::Template;

use crate::quantity::TaxRate;
use crate::records::customer::{self, Customer};
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::quote::{self, Answer};
use crate::records::{JobId, balance, instrument, message, payment};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::words::{BalanceView, Shop};

#[derive(Template)]
#[template(path = "desk/receipt.html")]
struct ReceiptPage {
    layout: Layout,
    shop: Shop,
    printing: Printing,
    job: Job,
    customer: Customer,
    instrument: String,
    today: String,
    agreed: Option<Agreed>,
    payments: Vec<Paid>,
    /// Messages are sent, and there is somewhere to send this one.
    may_write: bool,
    money: BalanceView,
}

struct Agreed {
    revision: i64,
    lines: Vec<(String, String, String)>,
    tax_name: String,
    net: String,
    tax: String,
    total: String,
}

struct Paid {
    day: String,
    what: String,
    amount: String,
}

/// `GET /desk/jobs/{id}/receipt`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let quotes = quote::of_job(reading, id).await?;
    let agreed = match quotes.into_iter().find(|quote| quote.answer == Some(Answer::Agreed)) {
        None => None,
        Some(quote) => {
            let lines = quote::lines(reading, quote.id).await?;
            let sums = quote::agreed_sums(&quote, &lines)?;
            Some(Agreed {
                revision: quote.revision,
                lines: lines
                    .into_iter()
                    .filter(|line| line.answer == Some(Answer::Agreed))
                    .map(|line| (line.words, TaxRate(line.tax_rate).percent(), context.money(line.price)))
                    .collect(),
                net: context.money(sums.net),
                tax: context.money(sums.tax),
                total: context.money(sums.total),
                tax_name: quote.tax_name,
            })
        }
    };
    let balance = balance::load(reading, &job).await?;
    let payments = payment::of_job(reading, id).await?;
    let may_write = message::mail_settings(reading).await?.is_on && message::address_of(reading, id).await?.is_some();
    page(&ReceiptPage {
        may_write,
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        printing: Printing::of(&context, PaperKind::Receipt, id.0).await?,
        customer: customer::find(reading, job.customer_id).await?,
        instrument: instrument::load(reading, job.instrument_id).await?.entry.title(),
        today: crate::quantity::with_weekday(context.today()),
        agreed,
        payments: payments
            .into_iter()
            .map(|row| Paid {
                day: context.day_of(row.taken_at),
                what: format!("{}, {}", row.kind, row.method),
                amount: context.money(row.amount),
            })
            .collect(),
        money: BalanceView::of(&context, &balance),
        job,
    })
}
