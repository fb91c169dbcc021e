//! `/desk/quotes/{id}`: one revision, as paper and with the customer's answer.

use askama::Template;
use time::Duration;

use crate::quantity::{TaxRate, with_weekday};
use crate::records::customer::{self, Customer};
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::quote::{self, Answer, AnsweredHow, Quote};
use crate::records::work;
use crate::records::{Door, JobId, QuoteId, WorkLineId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::paper::Printing;
use crate::web::words::Shop;

#[derive(Template)]
#[template(path = "desk/quote.html")]
struct QuotePage {
    layout: Layout,
    form: FormData,
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
    /// What was agreed to, where that is less than all.
    agreed: Option<String>,
    terms: String,
    findings: Vec<String>,
}

struct Line {
    words: String,
    price: String,
    rate: String,
    id: String,
    is_declined: bool,
    /// Agreed to, or about to be.
    is_ticked: bool,
    /// Begun with the customer's yes: no longer a question.
    is_kept: bool,
}

impl QuotePage {
    fn ways(&self) -> [AnsweredHow; 2] {
        [AnsweredHow::Counter, AnsweredHow::Telephone]
    }
}

/// `POST /desk/jobs/{id}/quote`
pub(in crate::web) async fn make(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let note = form.area("note", 1000);
    if form.has_errors() {
        return super::job::again(&context, id, form).await;
    }
    let valid_until = context.today() + Duration::days(context.settings.quote_valid_days);
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let made = quote::make(&mut tx, &by, id, &key, &context.settings, valid_until, &note).await;
    let Some(made) = form.accept("note", made)? else {
        drop(tx);
        return super::job::again(&context, id, form).await;
    };
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/quotes/{made}"),
        "The quote is made. Print it, or write the answer down.",
    )
}

async fn quote_page(context: &RequestContext, id: QuoteId, form: FormData) -> Result<QuotePage> {
    let reading = context.app.db.read();
    let quote = quote::find(reading, id).await?;
    let job = job::find(reading, quote.job_id).await?;
    let lines = quote::lines(reading, id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let work_lines = work::of_job(reading, job.id).await?;
    let is_kept = |id: WorkLineId| work_lines.iter().any(|line| line.id == id && line.is_kept());
    let sums = quote::agreed_sums(&quote, &lines)?;
    let findings = crate::records::plan::latest_findings(reading, job.id).await?;
    let answer = quote.answer.map(|answer| {
        let when = quote.answered_at.map(|at| context.moment(at)).unwrap_or_default();
        let how = quote.answered_how.map(AnsweredHow::spoken).unwrap_or_default();
        let who = if quote.answered_by.is_empty() { String::new() } else { format!(" by {}", quote.answered_by) };
        format!("{answer}{who} {how}, {when}")
    });
    let customer = customer::find(reading, job.customer_id).await?;
    // most answers come from whose instrument it is
    let form = if form.has("answered_by") { form } else { form.with("answered_by", customer.name.as_str()) };
    Ok(QuotePage {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        printing: Printing::of(context, PaperKind::Quote, id.0).await?,
        customer,
        instrument: instrument.entry.title(),
        made: context.day_of(quote.made_at),
        valid_until: with_weekday(quote.valid_until),
        is_past: quote.valid_until < context.today(),
        lines: lines
            .into_iter()
            .map(|line| Line {
                words: line.words,
                price: context.money(line.price),
                rate: TaxRate(line.tax_rate).percent(),
                id: line.work_line_id.to_string(),
                is_declined: line.answer == Some(Answer::Declined),
                is_kept: is_kept(line.work_line_id),
                is_ticked: is_kept(line.work_line_id) || form.is("line", &line.work_line_id.to_string()),
            })
            .collect(),
        net: context.money(quote.net),
        tax: context.money(quote.tax),
        total: context.money(quote.total),
        agreed: (quote.answer == Some(Answer::Agreed) && sums.total != quote.total).then(|| context.money(sums.total)),
        terms: context.settings.quote_terms.clone(),
        findings,
        answer,
        form,
        quote,
        job,
    })
}

/// `GET /desk/quotes/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<QuoteId>) -> Result {
    page(&quote_page(&context, id, FormData::new().with("how", AnsweredHow::Counter.key())).await?)
}

/// `POST /desk/quotes/{id}/answer`: yes to everything (`agreed`), no (`declined`), or yes to the lines ticked (`some`).
pub(in crate::web) async fn answer(context: RequestContext, Id(id): Id<QuoteId>, mut form: FormData) -> Result {
    let lines = quote::lines(context.app.db.read(), id).await?.into_iter().map(|line| line.work_line_id);
    let yes_to: Option<Vec<WorkLineId>> = match form.value("answer") {
        "agreed" => Some(lines.collect()),
        "declined" => Some(Vec::new()),
        "some" => Some(lines.filter(|line| form.is("line", &line.to_string())).collect()),
        _ => None,
    };
    match &yes_to {
        None => form.add_error("answer", "Choose what the customer said."),
        Some(none) if none.is_empty() && form.is("answer", "some") => {
            form.add_error("answer", "Tick the lines the customer agrees to, or choose No.");
        }
        Some(_) => {}
    }
    let how = form.choice::<AnsweredHow>("how", "how the answer came");
    let answered_by = form.required_line("answered_by", "who gave the answer", LINE);
    let (Some(yes_to), Some(how), false) = (yes_to, how, form.has_errors()) else {
        return page_with(form.status(), &quote_page(&context, id, form).await?);
    };
    let mut tx = context.app.db.write().await?;
    let job = quote::answer(&mut tx, &context.audit(Door::Desk), id, &yes_to, how, &answered_by).await?;
    tx.commit().await?;
    let words = if yes_to.is_empty() { "declined" } else { "agreed" };
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{job}"),
        &format!("The customer {words}. The answer is written down."),
    )
}
