//! `/desk/quotes/{id}`: one revision, as paper and with the customer's answer.

use askama::Template;
use time::Duration;

use crate::quantity::{TaxRate, with_weekday};
use crate::records::customer::{self, Customer};
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::quote::{self, Answer, AnsweredHow, Quote};
use crate::records::{Door, JobId, QuoteId};
use crate::web::Result;
use crate::web::form::{Id, LINE, Typed};
use crate::web::page::{Layout, Visit, page, refused, see};
use crate::web::paper::Printing;
use crate::web::words::Shop;

#[derive(Template)]
#[template(path = "desk/quote.html")]
struct QuotePage {
    layout: Layout,
    form: Typed,
    shop: Shop,
    printing: Printing,
    quote: Quote,
    job: Job,
    customer: Customer,
    instrument: String,
    made: String,
    valid_until: String,
    is_past: bool,
    lines: Vec<Line>,
    net: String,
    tax: String,
    total: String,
    answer: Option<String>,
    terms: String,
    findings: Vec<String>,
}

struct Line {
    words: String,
    price: String,
    rate: String,
}

impl QuotePage {
    fn ways(&self) -> [AnsweredHow; 2] {
        [AnsweredHow::Counter, AnsweredHow::Telephone]
    }
}

/// `POST /desk/jobs/{id}/quote`
pub(in crate::web) async fn make(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let key = form.required_key()?.to_owned();
    let note = form.area("note", 1000);
    let valid_until = visit.today() + Duration::days(visit.settings.quote_valid_days);
    let mut write = visit.app.db.write().await?;
    let made = quote::make(&mut write, &visit.by(Door::Desk), id, &key, &visit.settings, valid_until, &note).await?;
    write.commit().await?;
    see(&visit, &format!("/desk/quotes/{made}"), "The quote is made. Print it, or write the answer down.")
}

async fn quote_page(visit: &Visit, id: QuoteId, form: Typed) -> Result<QuotePage> {
    let reading = visit.app.db.read();
    let quote = quote::find(reading, id).await?;
    let job = job::find(reading, quote.job_id).await?;
    let lines = quote::lines(reading, id).await?;
    let instrument = instrument::read(reading, job.instrument_id).await?;
    let findings = crate::records::plan::latest_findings(reading, job.id).await?;
    let answer = quote.answer.map(|answer| {
        let when = quote.answered_at.map(|at| visit.moment(at)).unwrap_or_default();
        let how = quote.answered_how.map(AnsweredHow::spoken).unwrap_or_default();
        let who = if quote.answered_by.is_empty() { String::new() } else { format!(" by {}", quote.answered_by) };
        format!("{answer}{who} {how}, {when}")
    });
    Ok(QuotePage {
        layout: visit.layout(),
        form,
        shop: Shop::of(&visit.settings),
        printing: Printing::of(visit, PaperKind::Quote, id.0).await?,
        customer: customer::find(reading, job.customer_id).await?,
        instrument: instrument.entry.title(),
        made: visit.day_of(quote.made_at),
        valid_until: with_weekday(quote.valid_until),
        is_past: quote.valid_until < visit.today(),
        lines: lines
            .into_iter()
            .map(|line| Line {
                words: line.words,
                price: visit.money(line.price),
                rate: TaxRate(line.tax_rate).percent(),
            })
            .collect(),
        net: visit.money(quote.net),
        tax: visit.money(quote.tax),
        total: visit.money(quote.total),
        terms: visit.settings.quote_terms.clone(),
        findings,
        answer,
        quote,
        job,
    })
}

/// `GET /desk/quotes/{id}`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<QuoteId>) -> Result {
    page(&quote_page(&visit, id, Typed::fresh().with("how", AnsweredHow::Counter.key())).await?)
}

/// `POST /desk/quotes/{id}/answer`
pub(in crate::web) async fn answer(visit: Visit, Id(id): Id<QuoteId>, mut form: Typed) -> Result {
    let yes = form.choice::<Answer>("answer", "what the customer said");
    let how = form.choice::<AnsweredHow>("how", "how the answer came");
    let answered_by = form.required("answered_by", "who gave the answer", LINE);
    let (Some(yes), Some(how), false) = (yes, how, form.refused()) else {
        return refused(&quote_page(&visit, id, form).await?);
    };
    let mut write = visit.app.db.write().await?;
    let job = quote::answer(&mut write, &visit.by(Door::Desk), id, yes, how, &answered_by).await?;
    write.commit().await?;
    see(&visit, &format!("/desk/jobs/{job}"), &format!("The customer {yes}. The answer is written down."))
}
