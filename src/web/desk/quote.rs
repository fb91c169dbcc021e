//! `/desk/quotes/{id}`: one revision, as paper and with the customer's answer.

use askama::Template;
use time::Duration;

use crate::quantity::{Money, TaxRate, with_weekday};
use crate::records::customer::{self, Customer};
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::quote::{
    self, Answer, AnsweredHow, Change, Discount, GivenAnswer, NewQuote, Quote, QuoteAnswer, QuoteLine, Said,
};
use crate::records::work;
use crate::records::{Door, JobId, QuoteId, WorkLineId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::paper::Printing;
use crate::web::sums_view::{SumsView, rate_words};
use crate::web::words::{Shop, currency};

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
    /// The lines that go with every alternative; all of them where there is nothing to choose.
    lines: Vec<Line>,
    choices: Vec<Choice>,
    sums: SumsView,
    deposit: Option<String>,
    standing: String,
    answer: Option<String>,
    /// What was agreed to, where that is less than all.
    agreed: Option<String>,
    /// What changed since the revision before.
    changes: Vec<String>,
    answers: Vec<String>,
    terms: String,
    findings: Vec<String>,
}

/// One of several ways of which the customer chooses one.
struct Choice {
    key: String,
    name: String,
    lines: Vec<Line>,
    /// With the lines that go with each.
    sums: SumsView,
    is_chosen: bool,
}

struct Line {
    words: String,
    reason: String,
    price: String,
    /// What it is called where it is ticked by itself: with its alternative and what is charged for it.
    by_itself: String,
    /// "−£5.00" taken off.
    discount: Option<String>,
    rate: String,
    id: String,
    is_declined: bool,
    /// Agreed to, or about to be.
    is_ticked: bool,
    /// Begun with the customer's yes: no longer a question.
    is_kept: bool,
}

impl QuotePage {
    fn ways(&self) -> [AnsweredHow; 4] {
        AnsweredHow::HEARD
    }

    /// Every line that can be ticked by itself.
    fn each(&self) -> impl Iterator<Item = &Line> {
        self.lines.iter().chain(self.choices.iter().flat_map(|choice| &choice.lines))
    }
}

/// `POST /desk/jobs/{id}/quote`
pub(in crate::web) async fn make(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let note = form.area("note", 1000);
    let discount = read_discount(&mut form, &context);
    let discount_for = form.line("discount_for", LINE);
    if discount != Discount::None && discount_for.is_empty() && form.error("discount").is_none() {
        form.add_error("discount_for", "Say what it is taken off for: the customer reads it.");
    }
    let deposit_asked = form.money("deposit_asked", &currency(&context.settings)).unwrap_or(Money(0));
    let valid_until = form.day("valid_until");
    let valid_until =
        valid_until.unwrap_or_else(|| context.today() + Duration::days(context.settings.quote_valid_days));
    if valid_until < context.today() && form.error("valid_until").is_none() {
        form.add_error("valid_until", "That day is past: a quote holds at least today.");
    }
    if form.has_errors() {
        return super::job::again(&context, id, form).await;
    }
    let new =
        NewQuote { form_key: &key, valid_until, note: &note, discount, discount_for: &discount_for, deposit_asked };
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let made = quote::make(&mut tx, &by, id, &context.settings, new).await;
    let Some(made) = form.accept("note", made)? else {
        drop(tx);
        return super::job::again(&context, id, form).await;
    };
    let within = quote::find(&mut *tx, made).await?.answered_how == Some(AnsweredHow::Margin);
    tx.commit().await?;
    let words = if within {
        "The revision is made. It stays within what may be added to what was agreed, so nobody has to be asked."
    } else {
        "The quote is made. Print it, or write the answer down."
    };
    redirect_with_flash(&context, &format!("/desk/quotes/{made}"), words)
}

/// What is taken off, as typed: "10 %", or an amount.
fn read_discount(form: &mut FormData, context: &RequestContext) -> Discount {
    let typed = form.value("discount").trim().to_owned();
    if typed.is_empty() {
        return Discount::None;
    }
    if typed.ends_with('%') {
        return match TaxRate::parse(&typed) {
            Ok(TaxRate(0)) => Discount::None,
            Ok(rate) => Discount::Percent(rate),
            Err(words) => {
                form.add_error("discount", words);
                Discount::None
            }
        };
    }
    match form.money("discount", &currency(&context.settings)) {
        Some(amount) if amount.0 > 0 => Discount::Amount(amount),
        _ => Discount::None,
    }
}

/// What a choice is called in the form: by its place, because its name is anybody's words.
fn choice_key(place: usize) -> String {
    format!("choice-{place}")
}

async fn quote_page(context: &RequestContext, id: QuoteId, form: FormData) -> Result<QuotePage> {
    let reading = context.app.db.read();
    let quote = quote::find(reading, id).await?;
    let job = job::find(reading, quote.job_id).await?;
    let lines = quote::lines(reading, id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let work_lines = work::of_job(reading, job.id).await?;
    let is_kept = |id: WorkLineId| work_lines.iter().any(|line| line.id == id && line.is_kept());
    let findings = crate::records::plan::latest_findings(reading, job.id).await?;
    let customer = customer::find(reading, job.customer_id).await?;
    let answers = quote::answers_of_job(reading, job.id).await?;
    let older = quote::of_job(reading, job.id).await?.into_iter().find(|known| known.revision + 1 == quote.revision);
    let changes = match older {
        Some(older) => change_words(context, &quote::changes(&quote::lines(reading, older.id).await?, &lines)),
        None => Vec::new(),
    };
    // most answers come from whose instrument it is
    let form = if form.has("answered_by") { form } else { form.with("answered_by", customer.name.as_str()) };
    let view = |line: &QuoteLine| Line {
        words: line.words.clone(),
        reason: line.reason.clone(),
        price: context.money(line.price),
        by_itself: match line.alternative.as_str() {
            "" => format!("{}, {}", line.words, context.money(line.charged())),
            name => format!("{name}: {}, {}", line.words, context.money(line.charged())),
        },
        discount: (line.discount.0 != 0).then(|| context.money(Money(-line.discount.0))),
        rate: rate_words(context, TaxRate(line.tax_rate)),
        id: line.work_line_id.to_string(),
        is_declined: line.answer == Some(Answer::Declined),
        is_kept: is_kept(line.work_line_id),
        is_ticked: is_kept(line.work_line_id) || form.is("line", &line.work_line_id.to_string()),
    };
    let sums_of = |lines: &mut dyn Iterator<Item = &QuoteLine>| -> Result<SumsView> {
        let sums = quote::taxed_of(&quote, lines)?;
        Ok(SumsView::of(context, &quote.tax_name, quote.prices_include_tax, &sums))
    };
    let names = quote::alternatives(&lines);
    let choices = names.iter().enumerate().map(|(place, name)| {
        let own = || lines.iter().filter(|line| line.alternative == **name);
        Ok(Choice {
            key: choice_key(place),
            name: (*name).to_owned(),
            lines: own().map(view).collect(),
            sums: sums_of(&mut lines.iter().filter(|line| quote::belongs_to(line, name)))?,
            is_chosen: own().any(|line| line.answer == Some(Answer::Agreed)),
        })
    });
    let choices = choices.collect::<Result<Vec<Choice>>>()?;
    let is_common = |line: &&QuoteLine| names.is_empty() || line.alternative.is_empty();
    let agreed = quote::agreed_sums(&quote, &lines)?;
    let standing = quote::standing(&quote, &lines);
    let is_partial = quote.answer == Some(Answer::Agreed) && agreed.total != quote.total;
    Ok(QuotePage {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        printing: Printing::of(context, PaperKind::Quote, id.0).await?,
        customer,
        instrument: instrument.entry.title(),
        made: context.day_of(quote.made_at),
        valid_until: with_weekday(quote.valid_until),
        is_past: quote.valid_until < context.today(),
        sums: sums_of(&mut lines.iter().filter(is_common))?,
        lines: lines.iter().filter(is_common).map(view).collect(),
        choices,
        deposit: (quote.deposit_asked.0 > 0).then(|| context.money(quote.deposit_asked)),
        agreed: is_partial.then(|| context.money(agreed.total)),
        answer: quote.answer.map(|_| answer_words(context, &quote, &standing.to_string())),
        standing: standing.to_string(),
        changes,
        answers: answers.iter().map(|given| given_words(context, given)).collect(),
        terms: context.settings.quote_terms.clone(),
        findings,
        form,
        quote,
        job,
    })
}

/// "2 of 3 agreed by Maren by telephone, Wed 14 Oct 2026 11:00"
fn answer_words(context: &RequestContext, quote: &Quote, standing: &str) -> String {
    let when = quote.answered_at.map(|at| context.moment(at)).unwrap_or_default();
    let how = quote.answered_how.map(|how| format!(" {how}")).unwrap_or_default();
    let who = if quote.answered_by.is_empty() { String::new() } else { format!(" by {}", quote.answered_by) };
    format!("{standing}{who}{how}, {when}")
}

/// "Revision 1, agreed by Maren by telephone, Wed 14 Oct 2026 11:00, heard by Mirel; £78.00 with tax was shown."
fn given_words(context: &RequestContext, given: &GivenAnswer) -> String {
    let who = if given.answered_by.is_empty() { String::new() } else { format!(" by {}", given.answered_by) };
    let heard = given.heard_by.as_ref().map(|heard| format!(", heard by {heard}")).unwrap_or_default();
    let shown = match given.said {
        Said::Declined => String::new(),
        Said::Agreed | Said::Asked => format!("; {} with tax was shown", context.money(given.shown_total)),
    };
    let words = if given.words.is_empty() { String::new() } else { format!(": “{}”", given.words) };
    let when = context.moment(given.answered_at);
    format!("Revision {}: {}{who} {}, {when}{heard}{shown}{words}", given.revision, given.said, given.how)
}

fn change_words(context: &RequestContext, changes: &[Change]) -> Vec<String> {
    let words = changes.iter().map(|change| match change {
        Change::Added(what, price) => format!("New: {what}, {}", context.money(*price)),
        Change::TakenOff(what, price) => format!("No longer: {what}, {}", context.money(*price)),
        Change::Charged(what, before, now) => {
            format!("{what}: {} instead of {}", context.money(*now), context.money(*before))
        }
        Change::Said(before, now) => format!("“{now}” instead of “{before}”"),
    });
    words.collect()
}

/// `GET /desk/quotes/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<QuoteId>) -> Result {
    page(&quote_page(&context, id, FormData::new().with("how", AnsweredHow::Counter.key())).await?)
}

/// The lines a form says yes to; `None` where it says nothing, or not which.
fn yes_to(form: &mut FormData, lines: &[QuoteLine]) -> Option<Vec<WorkLineId>> {
    let ids = |is_meant: &dyn Fn(&QuoteLine) -> bool| -> Vec<WorkLineId> {
        lines.iter().filter(|line| is_meant(line)).map(|line| line.work_line_id).collect()
    };
    let names = quote::alternatives(lines);
    let said = form.value("answer").to_owned();
    let chosen = names.iter().enumerate().find(|(place, _)| choice_key(*place) == said).map(|(_, name)| *name);
    match (said.as_str(), chosen) {
        (_, Some(name)) => Some(ids(&|line| quote::belongs_to(line, name))),
        ("agreed", None) if names.is_empty() => Some(ids(&|_| true)),
        ("declined", None) => Some(Vec::new()),
        ("some", None) => {
            let ticked = ids(&|line| form.is("line", &line.work_line_id.to_string()));
            if ticked.is_empty() {
                form.add_error("answer", "Tick the lines the customer agrees to, or choose No.");
            }
            Some(ticked)
        }
        _ => {
            form.add_error("answer", "Choose what the customer said.");
            None
        }
    }
}

/// `POST /desk/quotes/{id}/answer`: yes to everything (`agreed`) or to one of the alternatives (`choice-0` and on), no
/// (`declined`), or yes to the lines ticked (`some`). A yes to some is shown with what it comes to before it is kept.
pub(in crate::web) async fn answer(context: RequestContext, Id(id): Id<QuoteId>, mut form: FormData) -> Result {
    let reading = context.app.db.read();
    let quote = quote::find(reading, id).await?;
    let lines = quote::lines(reading, id).await?;
    let yes_to = yes_to(&mut form, &lines);
    let how = form.choice::<AnsweredHow>("how", "how the answer came");
    let answered_by = form.required_line("answered_by", "who gave the answer", LINE);
    let words = form.line("words", LINE);
    let (Some(yes_to), Some(how), false) = (yes_to, how, form.has_errors()) else {
        return page_with(form.status(), &quote_page(&context, id, form).await?);
    };
    let work_lines = work::of_job(reading, quote.job_id).await?;
    let is_yes = |line: &&QuoteLine| {
        !yes_to.is_empty()
            && (yes_to.contains(&line.work_line_id)
                || work_lines.iter().any(|known| known.id == line.work_line_id && known.is_kept()))
    };
    let total = quote::sums_of(&quote, lines.iter().filter(is_yes))?.total;
    let count = lines.iter().filter(is_yes).count();
    let is_open = quote.answer.is_none();
    if is_open && form.is("answer", "some") && form.value("shown") != total.0.to_string() {
        form.set("shown", total.0.to_string());
        let words = format!(
            "Yes to {count} of {} lines comes to {} with tax. Say it to the customer, then press again.",
            lines.len(),
            context.money(total)
        );
        form.add_error("answer", words);
        return page_with(form.status(), &quote_page(&context, id, form).await?);
    }
    let said = QuoteAnswer {
        yes_to: &yes_to,
        how,
        answered_by: &answered_by,
        words: &words,
        shown_total: (!yes_to.is_empty()).then_some(total),
        today: context.today(),
    };
    let mut tx = context.app.db.write().await?;
    let job = quote::answer(&mut tx, &context.audit(Door::Desk), id, said).await?;
    let answered = quote::find(&mut *tx, id).await?;
    let standing = quote::standing(&answered, &quote::lines(&mut *tx, id).await?);
    tx.commit().await?;
    let words = format!("The answer is written down: {standing}.");
    redirect_with_flash(&context, &format!("/desk/jobs/{job}"), &words)
}
