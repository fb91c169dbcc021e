//! `/office/queue`: what next and why, what is in danger and whom to tell, what stands still, and whether what was
//! promised can be done.

pub(in crate::web) mod job;
pub(super) mod view;

use askama::Template;

use crate::drawing::Svg;
use crate::quantity::with_weekday;
use crate::records::Door;
use crate::records::family::Family;
use crate::records::promise_forecast::ForecastWhy;
use crate::records::stage::{Stage, WaitingFor};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Query};
use crate::web::outlook::{self, Entry};
use crate::web::page::{Layout, RequestContext, page, redirect_with_flash};
use view::{Danger, Forecasts, Missing, Row, Still, View, Week};

/// Weeks of the load.
const WEEKS: u32 = 6;

#[derive(Template)]
#[template(path = "office/queue.html")]
struct QueuePage {
    layout: Layout,
    version: String,
    today: String,
    form: FormData,
    is_filtered: bool,
    people: Vec<Choice>,
    /// What is missing, and where it is mended.
    missing: Vec<Missing>,
    danger: Vec<Danger>,
    rows: Vec<Row>,
    /// All jobs still to be done, shown or not.
    all: usize,
    still: Vec<Still>,
    /// How the columns of the load are headed: the house, then each person.
    benches: Vec<String>,
    weeks: Vec<Week>,
    confidence: String,
    /// Of the calendar's minutes what counts.
    worked: String,
    strips: Svg,
}

impl QueuePage {
    fn stages(&self) -> &'static [Stage] {
        &[Stage::CheckedIn, Stage::Measured, Stage::Quoted, Stage::Agreed, Stage::OnTheBench, Stage::FinalCheck]
    }
    fn waits(&self) -> &'static [WaitingFor] {
        WaitingFor::ALL
    }
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
}

/// What of the queue is shown.
struct Filter {
    person: String,
    stage: Option<Stage>,
    waiting: Option<WaitingFor>,
    family: Option<Family>,
    danger: bool,
}

impl Filter {
    fn of(query: &FormData) -> Self {
        Self {
            person: query.value("person").to_owned(),
            stage: query.value("stage").parse().ok(),
            waiting: query.value("waiting").parse().ok(),
            family: query.value("family").parse().ok(),
            danger: query.is("danger", "yes"),
        }
    }

    fn is_open(&self) -> bool {
        self.person.is_empty()
            && self.stage.is_none()
            && self.waiting.is_none()
            && self.family.is_none()
            && !self.danger
    }

    fn shows(&self, entry: &Entry, is_in_danger: bool) -> bool {
        let person = match self.person.as_str() {
            "" => true,
            "nobody" => entry.row.staff_id.is_none(),
            key => entry.row.staff_id.is_some_and(|id| id.to_string() == key),
        };
        person
            && self.stage.is_none_or(|stage| entry.row.stage == stage)
            && self.waiting.is_none_or(|waiting| entry.row.waiting_for == Some(waiting))
            && self.family.is_none_or(|family| entry.row.family == family)
            && (!self.danger || is_in_danger)
    }
}

/// `GET /office/queue`; what stands in the address narrows the list.
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let version = context.app.queue_version();
    let outlook = outlook::read(&context.app, &context.settings).await?;
    let forecasts = Forecasts(outlook::as_it_stands(&context.app, &context.settings, &outlook).await?);
    let filter = Filter::of(&query);
    let mut shown = View::new(&outlook, &forecasts);
    let picked = outlook.queue.places.iter().enumerate().filter_map(|(at, place)| {
        let entry = outlook.entry(place.job)?;
        let is_in_danger = forecasts.is_in_danger(entry, outlook.today);
        filter.shows(entry, is_in_danger).then_some((at, place))
    });
    let rows: Vec<Row> = picked.filter_map(|(at, place)| shown.row(at, place)).collect();
    let danger = shown.danger();
    let still = shown.still();
    let load = outlook.load(WEEKS);
    let choices = outlook.calendar.people.iter().map(|person| Choice::new(person.staff_id, person.name.clone()));
    page(&QueuePage {
        layout: context.layout(),
        version,
        today: with_weekday(outlook.today),
        is_filtered: !filter.is_open(),
        people: std::iter::once(Choice::new("nobody", "nobody yet")).chain(choices).collect(),
        missing: view::missing(&outlook),
        danger,
        rows,
        all: outlook.entries.len(),
        still,
        benches: std::iter::once("The house".to_owned())
            .chain(outlook.calendar.people.iter().map(|person| person.name.clone()))
            .collect(),
        weeks: view::weeks(&load, outlook.calendar.people.len()),
        confidence: (context.settings.promise_confidence / 10).to_string(),
        worked: view::worked(&outlook),
        strips: shown.strips(),
        form: (*query).clone(),
    })
}

/// `POST /office/queue/forecasts`: works all days out anew.
pub(in crate::web) async fn work_out(context: RequestContext, _: FormData) -> Result {
    let by = context.audit(Door::Office);
    let jobs = outlook::work_out(&context.app, &by, ForecastWhy::OnDemand, None).await?;
    let words = match jobs {
        0 => "Nothing is to be done: there is no day to work out.".to_owned(),
        1 => "The day of the one job is kept as it stands.".to_owned(),
        _ => format!("The days of {jobs} jobs are kept as they stand."),
    };
    redirect_with_flash(&context, "/office/queue", &words)
}
