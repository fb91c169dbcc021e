//! `/desk/check-in`: customer, instrument, complaint, condition, promise: one page, one press.
//!
//! Before a second record of a person is made, the likely first one is shown. What comes back shows how it left.

mod asked;
mod entry;
mod marks;

use askama::Template;
use time::Duration;

use self::asked::{Asked, chosen_and_typed, take_answers};
use self::entry::check_in_entry;
use self::marks::MarkFields;
use crate::quantity::with_weekday;
use crate::records::caution::{About, Place};
use crate::records::check_in::{self, CheckedIn, Whose};
use crate::records::condition::Side;
use crate::records::customer::{self, Customer, ReachBy};
use crate::records::family::Family;
use crate::records::instrument::{self, SameSerial};
use crate::records::job::{self, Style};
use crate::records::paper::{self, PaperKind};
use crate::records::reading;
use crate::records::search::{self, CustomerHit};
use crate::records::unsent_form::UnsentForm;
use crate::records::{CustomerId, Door, InstrumentId, JobId};
use crate::web::caution_view::CautionView;
use crate::web::form::{FormData, Query};
use crate::web::outlook;
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::paper::NOT_OWN;
use crate::web::rack_view::{TakenPlace, free_places};
use crate::web::readings_view::short_words;
use crate::web::words::{instrument_title, length_unit};
use crate::web::{Result, unsent};

/// Where the form goes.
const PATH: &str = "/desk/check-in";
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
    cautions: Vec<CautionView>,
    asked: Asked,
    /// Another instrument stands at the place that was typed.
    taken: Option<TakenPlace>,
    /// Places on the rack that are free now, in words.
    free: String,
    /// Check-ins of known customers that were begun and not sent: their address and whose.
    begun: Vec<(String, String)>,
    /// Where what is typed is kept.
    slot: String,
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
        MarkFields::shown(&self.form)
    }
    /// Who brings what, and why, in one sentence.
    fn in_words(&self) -> String {
        let who = match (&self.customer, self.form.value("name").trim()) {
            (Some(customer), _) => customer.name.clone(),
            (None, "") => "Somebody".to_owned(),
            (None, name) => format!("{name}, new here,"),
        };
        let chosen = self.instruments.iter().find(|known| self.form.is("instrument", &known.id.to_string()));
        let typed = [self.form.value("maker").trim(), self.form.value("model").trim()];
        let what = match (chosen, self.form.value("family").parse::<Family>()) {
            (Some(known), _) => format!("the {} that we know", known.title),
            (None, Ok(family)) => format!("a new instrument, {}", instrument_title(family, typed[0], typed[1])),
            (None, Err(())) => "an instrument".to_owned(),
        };
        match self.form.value("complaint").trim() {
            "" => format!("{who} brings {what}."),
            why => format!("{who} brings {what}: “{why}”"),
        }
    }
    fn title(&self, known: &SameSerial) -> String {
        instrument_title(known.family, &known.maker, &known.model)
    }
    fn is_theirs(&self, known: &SameSerial) -> bool {
        self.customer.as_ref().is_some_and(|customer| customer.id == known.customer_id)
    }
    /// Whether address and further numbers lie open: something stands there, or is wrong there.
    fn is_more_open(&self) -> bool {
        let fields = ["address", "nickname", "telephone_label", "telephone_2", "telephone_3"];
        fields.iter().any(|field| !self.form.value(field).is_empty() || self.form.error(field).is_some())
    }
    /// Whether one of several known instruments is still to be chosen: that is where the work goes on.
    fn asks_which(&self) -> bool {
        !self.instruments.is_empty() && !self.form.has("instrument") && !self.form.has_errors()
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
    // whoever has one instrument most likely brings that one, and whoever left all of theirs here brings another
    if !form.has("instrument") && !form.has_errors() {
        let mut free = instruments.iter().filter(|known| known.open_job.is_none());
        match (free.next(), free.next()) {
            (Some(only), None) if instruments.len() == 1 => form.set("instrument", only.id.to_string()),
            (None, _) if !instruments.is_empty() => form.set("instrument", ""),
            _ => {}
        }
    }
    let hits = search::customers(reading, found, MOST_HITS).await?;
    Ok(CheckInPage {
        cautions: context.cautions(Place::CheckIn, &About::default(), &[]),
        layout: context.layout(),
        slot: unsent::slot(PATH, &form),
        free: free_places(context).await?,
        form,
        found: found.to_owned(),
        hits,
        agreed: customer.as_ref().and_then(|customer| customer.reminders_agreed_on).map(with_weekday),
        customer,
        instruments,
        asked: Asked::default(),
        taken: None,
        begun: Vec::new(),
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
    let unsent = unsent::of_person(&context).await?;
    let slot = unsent::slot(PATH, &form);
    // what was typed before the customer was chosen goes on with them
    let chosen = form.value("customer").to_owned();
    let draft = unsent.iter().find(|unsent| unsent.form == slot);
    if let Some(draft) = draft.or_else(|| unsent.iter().find(|unsent| unsent.form == PATH)).filter(|_| found.is_empty())
    {
        form = unsent::with_unsent(&context, form, draft);
        if form.value("customer") != chosen {
            form = form.without(&["instrument"]).with("customer", chosen);
        }
    }
    let mut shown = check_in_page(&context, form, &found).await?;
    shown.proposal = proposal.words();
    if shown.customer.is_none() {
        shown.begun = begun(&context, &unsent).await?;
    }
    page(&shown)
}

/// Check-ins of known customers that wait to be finished.
async fn begun(context: &RequestContext, unsent: &[UnsentForm]) -> Result<Vec<(String, String)>> {
    let mut begun = Vec::new();
    for unsent in unsent {
        let Some(id) = unsent.form.strip_prefix("/desk/check-in?customer=").and_then(|id| id.parse().ok()) else {
            continue;
        };
        let customer = customer::find(context.app.db.read(), id).await?;
        begun.push((unsent.form.clone(), format!("{}, {}", customer.name, context.moment(unsent.saved_at))));
    }
    Ok(begun)
}

/// `POST /desk/check-in`
pub(in crate::web) async fn check_in(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    take_answers(&mut form);
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
    if is_first && let Some(mut asked) = Asked::of(&context, &mut form, &entry).await? {
        let (status, taken) = (form.status(), asked.taken.take());
        let shown = CheckInPage { asked, taken, ..check_in_page(&context, form, "").await? };
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
    unsent::sent(&mut tx, &by, PATH, &form).await?;
    if form.is("then", "another") {
        tx.commit().await?;
        let day = job.promised_on.map(|day| day.to_string()).unwrap_or_default();
        let next = format!("/desk/check-in?customer={}&promised_on={day}&visit=whole", job.customer_id);
        let words = format!("{} is checked in. Now the next one; the tickets print together.", job.number);
        return redirect_with_flash(&context, &next, &words);
    }
    if form.is("then", "condition") {
        tx.commit().await?;
        let words = format!(
            "{} is checked in. Mark its state, photograph it, have it initialled; then print the ticket.",
            job.number
        );
        return redirect_with_flash(&context, &format!("/desk/jobs/{id}/condition"), &words);
    }
    // the press said “and print”: the ticket page opens the printer's dialogue, a second press prints nothing
    if !context.settings.is_own() {
        tx.commit().await?;
        let words = format!("{} is checked in. {NOT_OWN}", job.number);
        return redirect_with_flash(&context, &format!("/desk/jobs/{id}/ticket"), &words);
    }
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
    let (page, what) = match is_whole_visit {
        true => ("ticket?visit=whole", "the claim tickets of this visit go"),
        false => ("ticket", "its claim ticket goes"),
    };
    let words = format!("{} is checked in, and {what} to the printer.", job.number);
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/{page}"), &words)
}

/// Whether a known customer has instruments to choose from, and the form did not offer them yet.
async fn is_nothing_chosen(context: &RequestContext, form: &FormData) -> Result<bool> {
    let Ok(id) = form.value("customer").parse::<CustomerId>() else { return Ok(false) };
    if form.has("instrument") {
        return Ok(false);
    }
    let theirs = instrument::of_customer(context.app.db.read(), resolve_merged(context, id).await?.id).await?;
    Ok(theirs.iter().any(|known| known.archived_on.is_none() && known.open_job.is_none()))
}

async fn again(context: &RequestContext, form: FormData) -> Result {
    let which = chosen_and_typed(context, &form).await?;
    let asked = Asked { which, ..Asked::default() };
    page_with(form.status(), &CheckInPage { asked, ..check_in_page(context, form, "").await? })
}
