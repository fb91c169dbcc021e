//! `/desk/jobs/{id}/receipt`: what was agreed, what was paid, what is left.

use askama::Template;

use crate::quantity::{Money, TaxRate};
use crate::records::customer::{self, Customer};
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::quote::{self, Answer};
use crate::records::{JobId, instrument, payment};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, Visit, page};
use crate::web::paper::Printing;
use crate::web::words::Shop;

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
    paid: String,
    balance: String,
    owes: bool,
    overpaid: bool,
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
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    let reading = visit.app.db.read();
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
                    .map(|line| (line.words, TaxRate(line.tax_rate).percent(), visit.money(line.price)))
                    .collect(),
                net: visit.money(sums.net),
                tax: visit.money(sums.tax),
                total: visit.money(sums.total),
                tax_name: quote.tax_name,
            })
        }
    };
    let paid = payment::paid(reading, id).await?;
    let balance = Money(quote::agreed_total(reading, id).await?.0 - paid.0);
    let payments = payment::of_job(reading, id).await?;
    page(&ReceiptPage {
        layout: visit.layout(),
        shop: Shop::of(&visit.settings),
        printing: Printing::of(&visit, PaperKind::Receipt, id.0).await?,
        customer: customer::find(reading, job.customer_id).await?,
        instrument: instrument::read(reading, job.instrument_id).await?.entry.title(),
        today: crate::quantity::with_weekday(visit.today()),
        agreed,
        payments: payments
            .into_iter()
            .map(|row| Paid {
                day: visit.day_of(row.taken_at),
                what: format!("{}, {}", row.kind, row.method),
                amount: visit.money(row.amount),
            })
            .collect(),
        paid: visit.money(paid),
        balance: visit.money(Money(balance.0.abs())),
        owes: balance.0 > 0,
        overpaid: balance.0 < 0,
        job,
    })
}
