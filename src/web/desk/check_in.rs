//! `/desk/check-in`: customer, instrument, complaint, condition, promise: one page, one press.

use askama::Template;
use axum::http::StatusCode;
use time::Duration;

use crate::records::condition::Side;
use crate::records::customer::{self, Customer, CustomerEntry, CustomerHit, ReachBy};
use crate::records::family::Family;
use crate::records::instrument::{self, InstrumentEntry, InstrumentHit};
use crate::records::job::{self, CheckIn, Style, Which, Whose};
use crate::records::{CustomerId, Door, InstrumentId};
use crate::web::Result;
use crate::web::form::{Asked, LINE, TEXT, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};

/// Condition marks on the form; more are added on the job's page.
const MARKS: usize = 4;

#[derive(Template)]
#[template(path = "desk/check_in.html")]
struct CheckInPage {
    layout: Layout,
    form: Typed,
    found: String,
    hits: Vec<CustomerHit>,
    customer: Option<Customer>,
    instruments: Vec<InstrumentHit>,
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
    fn marks(&self) -> std::ops::RangeInclusive<usize> {
        1..=MARKS
    }
}

async fn check_in_page(visit: &Visit, form: Typed, found: &str) -> Result<CheckInPage> {
    let reading = visit.app.db.read();
    let customer = match form.value("customer").parse::<CustomerId>() {
        Ok(id) => Some(customer::find(reading, id).await?),
        Err(_) => None,
    };
    let instruments = match &customer {
        Some(customer) => instrument::of_customer(reading, customer.id).await?,
        None => Vec::new(),
    };
    let hits = customer::search(reading, found).await?;
    Ok(CheckInPage { layout: visit.layout(), form, found: found.to_owned(), hits, customer, instruments })
}

/// `GET /desk/check-in`; `customer` and `instrument` choose known ones, `find` searches without script.
pub(in crate::web) async fn show(visit: Visit, asked: Asked) -> Result {
    let promise = visit.today() + Duration::days(visit.settings.promise_days);
    let mut form = Typed::fresh()
        .with("customer", asked.value("customer"))
        .with("instrument", asked.value("instrument"))
        .with("style", Style::Medium.key())
        .with("reach_by", ReachBy::Telephone.key())
        .with("promised_on", promise.to_string());
    // what was looked for and not found is most likely the new customer's name or number
    let found: String = asked.value("find").chars().take(100).collect();
    if found.chars().any(char::is_alphabetic) {
        form = form.with("name", found.clone());
    } else {
        form = form.with("telephone", found.clone());
    }
    page(&check_in_page(&visit, form, &found).await?)
}

/// `POST /desk/check-in`
pub(in crate::web) async fn check_in(visit: Visit, mut form: Typed) -> Result {
    let Some(entry) = read(&mut form, &visit) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &check_in_page(&visit, form, "").await?);
    };
    let key = form.required_key()?.to_owned();
    let mut write = visit.app.db.write().await?;
    let done = job::check_in(
        &mut write,
        &visit.by(Door::Desk),
        visit.today(),
        &visit.settings.country,
        visit.app.db.link_secret(),
        &key,
        &entry,
    )
    .await;
    match done {
        Ok(id) => {
            write.commit().await?;
            let job = job::find(visit.app.db.read(), id).await?;
            see(
                &visit,
                &format!("/desk/jobs/{id}/ticket"),
                &format!("{} is checked in. Print its claim ticket.", job.number),
            )
        }
        Err(crate::records::Error::Refused(words)) => {
            drop(write);
            form.refuse("complaint", words);
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &check_in_page(&visit, form, "").await?)
        }
        Err(other) => Err(other.into()),
    }
}

fn read(form: &mut Typed, visit: &Visit) -> Option<CheckIn> {
    let customer = match form.id::<CustomerId>("customer") {
        Some(id) => Some(Whose::Known(id)),
        None => read_customer(form, visit).map(Whose::New),
    };
    let instrument = match form.id::<InstrumentId>("instrument") {
        Some(id) => Some(Which::Known(id)),
        None => read_instrument(form).map(|entry| Which::New(Box::new(entry))),
    };
    let complaint = form.required_area("complaint", "what the customer says is wrong, in their words", TEXT);
    let style = form.choice::<Style>("style", "how hard the customer plays");
    let brought_with = form.line("brought_with", LINE);
    let rack = form.line("rack", 40);
    let promised_on = form.day("promised_on");
    if promised_on.is_some_and(|day| day < visit.today()) {
        form.refuse("promised_on", "This day is past. Promise today or a later day.");
    }
    let marks = read_marks(form);
    if form.refused() {
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

fn read_customer(form: &mut Typed, visit: &Visit) -> Option<CustomerEntry> {
    let name = form.required("name", "the customer's name, or choose a known customer above", LINE);
    let telephone = form.line("telephone", 60);
    let email = form.line("email", 254);
    if !email.is_empty() && !crate::web::form::looks_like_email(&email) {
        form.refuse("email", "An e-mail address has one @ with something on both sides, and no blanks.");
    }
    let reach_by = form.choice::<ReachBy>("reach_by", "how the customer likes to be reached");
    let reminders_agreed_on = form.is("reminders", "yes").then(|| visit.today());
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

fn read_instrument(form: &mut Typed) -> Option<InstrumentEntry> {
    let family = form.choice::<Family>("family", "what kind of instrument it is");
    let maker = form.line("maker", LINE);
    let model = form.line("model", LINE);
    let serial = form.line("serial", LINE);
    let finish = form.line("finish", LINE);
    Some(InstrumentEntry { maker, model, serial, finish, ..InstrumentEntry::usual(family?) })
}

fn read_marks(form: &mut Typed) -> Vec<(Side, String)> {
    let mut marks = Vec::new();
    for number in 1..=MARKS {
        let note = form.line(&format!("mark_note_{number}"), LINE);
        if note.is_empty() {
            continue;
        }
        if let Some(side) = form.choice(&format!("mark_side_{number}"), "where the mark is") {
            marks.push((side, note));
        }
    }
    marks
}
