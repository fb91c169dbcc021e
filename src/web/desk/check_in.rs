//! `/desk/check-in`: customer, instrument, complaint, condition, promise: one page, one press.
//!
//! Before a second record of a person is made, the likely first one is shown. What comes back shows how it left.

use askama::Template;
use time::Duration;

use crate::quantity::with_weekday;
use crate::records::caution::{About, Place};
use crate::records::check_in::{self, CheckIn, CheckedIn, Which, Whose};
use crate::records::condition::Side;
use crate::records::customer::{self, Customer, CustomerEntry, ReachBy};
use crate::records::family::Family;
use crate::records::instrument::{self, InstrumentEntry, SameSerial};
use crate::records::job::{self, Style};
use crate::records::paper::{self, PaperKind};
use crate::records::promise_forecast::ForecastWhy;
use crate::records::reading;
use crate::records::search::{self, CustomerHit};
use crate::records::{CustomerId, Door, InstrumentId, JobId};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::{FormData, LINE, Query, TEXT};
use crate::web::outlook;
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::readings_view::short_words;
use crate::web::words::{instrument_title, length_unit};

/// Condition marks on the form; more are added on the job's page.
const MARKS: usize = 4;
/// Hits shown while somebody is looked for.
const MOST_HITS: i64 = 8;
/// Instruments of one customer to choose from; a school has more than a player.
const MOST_INSTRUMENTS: usize = 40;

#[derive(Template)]
#[template(path = "desk/check_in.html")]
struct CheckInPage {
    layout: Layout,
    form: FormData,
    found: String,
    hits: Vec<CustomerHit>,
    customer: Option<Customer>,
    /// The day reminders were agreed to.
    agreed: Option<String>,
    instruments: Vec<Choice>,
    /// Records that are most likely the person being added.
    same: Vec<CustomerHit>,
    cautions: Vec<CautionView>,
    /// Instruments that bear the serial being written down.
    same_serial: Vec<SameSerial>,
    /// The day that can be promised, and how sure it is.
    proposal: String,
}

/// A known instrument to choose.
struct Choice {
    id: InstrumentId,
    title: String,
    serial: String,
    /// Under which number it is in the house: it cannot be checked in twice.
    open_job: Option<String>,
    last: Option<LastVisit>,
}

/// How an instrument left the last time.
struct LastVisit {
    href: String,
    number: String,
    day: String,
    complaint: String,
    readings: Option<String>,
}

/// The fields of one condition mark.
struct MarkFields {
    side_field: String,
    side_label: String,
    note_field: String,
    note_label: String,
}

impl MarkFields {
    fn of(number: usize) -> Self {
        Self {
            side_field: format!("mark_side_{number}"),
            side_label: format!("Mark {number} on the"),
            note_field: format!("mark_note_{number}"),
            note_label: format!("Mark {number}: what"),
        }
    }
}

impl CheckInPage {
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
    fn styles(&self) -> &'static [Style] {
        Style::ALL
    }
    fn sides(&self) -> &'static [Side] {
        Side::ALL
    }
    fn ways_to_reach(&self) -> &'static [ReachBy] {
        ReachBy::ALL
    }
    fn marks(&self) -> Vec<MarkFields> {
        (1..=MARKS).map(MarkFields::of).collect()
    }
    fn title(&self, known: &SameSerial) -> String {
        instrument_title(known.family, &known.maker, &known.model)
    }
    fn is_theirs(&self, known: &SameSerial) -> bool {
        self.customer.as_ref().is_some_and(|customer| customer.id == known.customer_id)
    }
    /// Whether the fields of a new instrument lie open: they are folded away while a known one is chosen.
    fn is_new_instrument(&self) -> bool {
        self.instruments.is_empty() || self.form.value("instrument").is_empty()
    }
}

async fn check_in_page(context: &RequestContext, mut form: FormData, found: &str) -> Result<CheckInPage> {
    let reading = context.app.db.read();
    let customer = match form.value("customer").parse::<CustomerId>() {
        Ok(id) => Some(resolve_merged(context, id).await?),
        Err(_) => None,
    };
    let instruments = match &customer {
        Some(customer) => choices(context, customer.id).await?,
        None => Vec::new(),
    };
    // whoever has one instrument most likely brings that one
    if !form.has("instrument")
        && !form.has_errors()
        && let [only] = instruments.as_slice()
        && only.open_job.is_none()
    {
        form = form.with("instrument", only.id.to_string());
    }
    let hits = search::customers(reading, found, MOST_HITS).await?;
    Ok(CheckInPage {
        cautions: context.cautions(Place::CheckIn, &About::default(), &[]),
        layout: context.layout(),
        form,
        found: found.to_owned(),
        hits,
        agreed: customer.as_ref().and_then(|customer| customer.reminders_agreed_on).map(with_weekday),
        customer,
        instruments,
        same: Vec::new(),
        same_serial: Vec::new(),
        proposal: String::new(),
    })
}

/// The customer of a key, who may have gone into another record since the page was opened.
async fn resolve_merged(context: &RequestContext, id: CustomerId) -> Result<Customer> {
    let mut connection = context.app.db.read().acquire().await?;
    Ok(customer::resolve_merged(&mut connection, id).await?)
}

/// The instruments of a customer with how each left the last time: as many statements for one as for forty.
async fn choices(context: &RequestContext, customer: CustomerId) -> Result<Vec<Choice>> {
    let unit = length_unit(&context.settings);
    let mut connection = context.app.db.read().acquire().await?;
    let known = instrument::of_customer(&mut *connection, customer).await?.into_iter();
    let known: Vec<_> = known.filter(|known| known.archived_on.is_none()).take(MOST_INSTRUMENTS).collect();
    let keys: Vec<InstrumentId> = known.iter().map(|known| known.id).collect();
    let visits = job::latest_visits(&mut *connection, &keys).await?;
    let jobs: Vec<JobId> = visits.iter().map(|visit| visit.id).collect();
    let sets = reading::newest_of_jobs(&mut connection, &jobs).await?;
    let choices = known.into_iter().map(|known| {
        let strings = usize::try_from(known.strings).unwrap_or(0);
        let last = visits.iter().find(|visit| visit.instrument_id == known.id).map(|visit| LastVisit {
            href: format!("/desk/jobs/{}", visit.id),
            day: context.day_of(visit.checked_in_at),
            readings: sets.get(&visit.id).map(|set| short_words(set, strings, unit)),
            number: visit.number.clone(),
            complaint: visit.complaint.clone(),
        });
        Choice {
            id: known.id,
            title: instrument_title(known.family, &known.maker, &known.model),
            serial: known.serial,
            open_job: known.open_job,
            last,
        }
    });
    Ok(choices.collect())
}

/// `GET /desk/check-in`; `customer` and `instrument` choose known ones, `find` searches without script.
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    if let Ok(id) = query.value("customer").parse::<CustomerId>()
        && let Some(into) = customer::find(context.app.db.read(), id).await?.merged_into
    {
        return redirect_with_flash(
            &context,
            &format!("/desk/check-in?customer={into}"),
            "The two records of this customer are one.",
        );
    }
    // the day that the queue can keep; where it cannot say one, the usual days
    let proposal = outlook::propose(&context.app, &context.settings, None).await?;
    let usual = context.today() + Duration::days(context.settings.promise_days);
    let proposed = proposal.day.as_ref().map_or(usual, |day| day.day);
    let promise = match query.value("promised_on") {
        "" => proposed.to_string(),
        day => day.to_owned(),
    };
    let mut form = FormData::new()
        .with("customer", query.value("customer"))
        .with("visit", query.value("visit"))
        .with("style", Style::Medium.key())
        .with("reach_by", ReachBy::Telephone.key())
        .with("rack", query.value("rack"))
        .with("promised_on", promise);
    if !query.value("instrument").is_empty() {
        form = form.with("instrument", query.value("instrument"));
    }
    // what was looked for and not found is most likely the new customer's name, number or e-mail
    let found: String = query.value("find").chars().take(100).collect();
    let field = match found.as_str() {
        found if found.contains('@') => "email",
        found if found.chars().any(char::is_alphabetic) => "name",
        _ => "telephone",
    };
    form = form.with(field, found.clone());
    page(&CheckInPage { proposal: proposal.words(), ..check_in_page(&context, form, &found).await? })
}

/// `POST /desk/check-in`
pub(in crate::web) async fn check_in(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    // a form sent twice finds what it made itself, and is asked nothing
    let is_first = !check_in::was_checked_in(context.app.db.read(), &key).await?;
    if is_first && is_nothing_chosen(&context, &form).await? {
        form.add_error(
            "instrument",
            "They have been here with an instrument. Choose which one it is, or “Another one”.",
        );
    }
    let Some(entry) = check_in_entry(&mut form, &context) else {
        return again(&context, form).await;
    };
    if is_first && let Some(asked) = questions(&context, &mut form, &entry).await? {
        let (status, (same, same_serial)) = (form.status(), asked);
        let shown = CheckInPage { same, same_serial, ..check_in_page(&context, form, "").await? };
        return page_with(status, &shown);
    }
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    if let (Whose::Known(id), true) = (&entry.customer, form.is("reminders", "yes")) {
        customer::agree_to_reminders(&mut tx, &by, *id, context.today()).await?;
    }
    let secret = context.app.db.link_secret();
    let done = check_in::check_in(&mut tx, &by, context.today(), &context.settings.country, secret, &key, &entry).await;
    let Some(CheckedIn { job, is_new }) = form.accept("instrument", done)? else {
        drop(tx);
        return again(&context, form).await;
    };
    let id = job.id;
    let told_day = job.promised_on;
    if form.is("then", "another") {
        tx.commit().await?;
        keep_forecast(&context, is_new, id, told_day).await;
        let day = job.promised_on.map(|day| day.to_string()).unwrap_or_default();
        let next = format!("/desk/check-in?customer={}&promised_on={day}&visit=whole", job.customer_id);
        let words = format!("{} is checked in. Now the next one; the tickets print together.", job.number);
        return redirect_with_flash(&context, &next, &words);
    }
    // the press said “and print”: the ticket page opens the printer's dialogue, a second press prints nothing
    let is_whole_visit = form.is("visit", "whole");
    let mut together = Vec::new();
    if is_whole_visit {
        together.extend(super::ticket::same_visit(&context, &mut *tx, &job).await?);
    }
    if is_new {
        paper::note_printed(&mut tx, &by, PaperKind::ClaimTicket, id.0).await?;
    } else {
        together.push(id);
    }
    for one in together {
        if paper::prints(&mut *tx, PaperKind::ClaimTicket, one.0).await?.is_empty() {
            paper::note_printed(&mut tx, &by, PaperKind::ClaimTicket, one.0).await?;
        }
    }
    tx.commit().await?;
    keep_forecast(&context, is_new, id, told_day).await;
    let (page, what) = match is_whole_visit {
        true => ("ticket?visit=whole", "the claim tickets of this visit go"),
        false => ("ticket", "its claim ticket goes"),
    };
    let words = format!("{} is checked in, and {what} to the printer.", job.number);
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/{page}"), &words)
}

/// Keeps what could be said of the day of a job that was just checked in, beside the day that was promised. Where that
/// fails the job is checked in all the same.
async fn keep_forecast(context: &RequestContext, is_new: bool, job: JobId, told_day: Option<time::Date>) {
    if !is_new {
        return;
    }
    let by = context.audit(Door::Desk);
    let kept = outlook::work_out(&context.app, &by, ForecastWhy::CheckIn, Some((job, told_day))).await;
    if let Err(cause) = kept {
        tracing::warn!(cause = ?cause, "forecasts.check_in_failed");
    }
}

/// Whether a known customer has instruments to choose from, and the form did not offer them yet.
async fn is_nothing_chosen(context: &RequestContext, form: &FormData) -> Result<bool> {
    let Ok(id) = form.value("customer").parse::<CustomerId>() else { return Ok(false) };
    if form.has("instrument") {
        return Ok(false);
    }
    let theirs = instrument::of_customer(context.app.db.read(), resolve_merged(context, id).await?.id).await?;
    Ok(theirs.iter().any(|known| known.archived_on.is_none()))
}

/// What is asked before a second record is made of a person, or of an instrument.
async fn questions(
    context: &RequestContext,
    form: &mut FormData,
    entry: &CheckIn,
) -> Result<Option<(Vec<CustomerHit>, Vec<SameSerial>)>> {
    let reading = context.app.db.read();
    let same = match &entry.customer {
        Whose::New(new) if !form.is("is_new", "yes") => {
            search::likely_same(reading, &new.name, &new.telephone, &new.email).await?
        }
        _ => Vec::new(),
    };
    let same_serial = match &entry.instrument {
        Which::New(new) if !form.is("another_serial", "yes") => instrument::with_serial(reading, &new.serial).await?,
        _ => Vec::new(),
    };
    if !same.is_empty() {
        form.add_error("same", "Somebody like this is here already. Say whether it is the same person.");
        // one question at a time: who they are may answer the other
        return Ok(Some((same, Vec::new())));
    }
    if !same_serial.is_empty() {
        form.add_error(
            "same_serial",
            "There is an instrument with this serial already. Say whether it is this one, or correct the serial.",
        );
        return Ok(Some((same, same_serial)));
    }
    Ok(None)
}

async fn again(context: &RequestContext, form: FormData) -> Result {
    page_with(form.status(), &check_in_page(context, form, "").await?)
}

fn check_in_entry(form: &mut FormData, context: &RequestContext) -> Option<CheckIn> {
    let customer = match form.id::<CustomerId>("customer") {
        Some(id) => Some(Whose::Known(id)),
        None => read_customer(form, context).map(Whose::New),
    };
    let instrument = match form.id::<InstrumentId>("instrument") {
        Some(id) => Some(Which::Known(id)),
        // already asked which one it is
        None if form.error("instrument").is_some() => None,
        None => read_instrument(form).map(|entry| Which::New(Box::new(entry))),
    };
    let complaint = form.required_area("complaint", "what the customer says is wrong, in their words", TEXT);
    let style = form.choice::<Style>("style", "how hard the customer plays");
    let brought_with = form.line("brought_with", LINE);
    let rack = form.line("rack", 40);
    let promised_on = form.day("promised_on");
    if promised_on.is_some_and(|day| day < context.today()) {
        form.add_error("promised_on", "This day is past. Promise today or a later day.");
    }
    let marks = read_marks(form);
    if form.has_errors() {
        return None;
    }
    Some(CheckIn {
        customer: customer?,
        instrument: instrument?,
        complaint,
        style: style?,
        brought_with,
        rack,
        promised_on,
        marks,
    })
}

fn read_customer(form: &mut FormData, context: &RequestContext) -> Option<CustomerEntry> {
    let name = form.required_line("name", "the customer's name, or choose a known customer above", LINE);
    let telephone = form.line("telephone", 60);
    let email = form.line("email", 254);
    if !email.is_empty() && !crate::web::form::looks_like_email(&email) {
        form.add_error("email", "An e-mail address has one @ with something on both sides, and no blanks.");
    }
    let reach_by = form.choice::<ReachBy>("reach_by", "how the customer likes to be reached");
    let reminders_agreed_on = form.is("reminders", "yes").then(|| context.today());
    Some(CustomerEntry {
        name,
        telephone,
        email,
        address: String::new(),
        reach_by: reach_by?,
        reminders_agreed_on,
        note: String::new(),
    })
}

fn read_instrument(form: &mut FormData) -> Option<InstrumentEntry> {
    let family = form.choice::<Family>("family", "what kind of instrument it is");
    let maker = form.line("maker", LINE);
    let model = form.line("model", LINE);
    let serial = form.line("serial", LINE);
    let finish = form.line("finish", LINE);
    Some(InstrumentEntry { maker, model, serial, finish, ..InstrumentEntry::usual(family?) })
}

fn read_marks(form: &mut FormData) -> Vec<(Side, String)> {
    let mut marks = Vec::new();
    for mark in (1..=MARKS).map(MarkFields::of) {
        let note = form.line(&mark.note_field, LINE);
        if note.is_empty() {
            continue;
        }
        if let Some(side) = form.choice(&mark.side_field, "where the mark is") {
            marks.push((side, note));
        }
    }
    marks
}
