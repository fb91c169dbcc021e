//! `/desk/jobs/{id}/receipt`: what was agreed, what was paid, what is left.

use askama::Template;

use crate::quantity::TaxRate;
use crate::records::customer::{self, Customer};
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::quote::{self, Answer, QuoteLine};
use crate::records::{JobId, balance, instrument, message, payment};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::sums_view::{SumsView, rate_words};
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
    tax_number: String,
    sums: SumsView,
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
            let is_agreed = |line: &&QuoteLine| line.answer == Some(Answer::Agreed);
            let sums = quote::taxed_of(&quote, lines.iter().filter(is_agreed))?;
            let sums = SumsView::of(&context, &quote.tax_name, quote.prices_include_tax, &sums);
            Some(Agreed {
                revision: quote.revision,
                lines: lines
                    .iter()
                    .filter(is_agreed)
                    .map(|line| {
                        let rate = rate_words(&context, TaxRate(line.tax_rate));
                        (line.words.clone(), rate, context.money(line.charged()))
                    })
                    .collect(),
                sums,
                tax_name: quote.tax_name,
                tax_number: quote.tax_number,
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
        // what was mistyped was never paid
        payments: payments
            .into_iter()
            .filter(|row| !row.is_corrected && row.corrects.is_none())
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
