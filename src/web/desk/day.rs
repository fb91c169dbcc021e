//! `/desk/day`: today at the counter: what came in, what is promised, what is ready, who is to be called.

use askama::Template;

use crate::quantity::{Instant, with_weekday};
use crate::records::queue::{self, Call, QueueRow};
use crate::records::stage::Stage;
use crate::records::{Door, JobId, job, promise, quote};
use crate::web::Result;
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page, redirect_with_flash};
use crate::web::words::{Promise, dial, instrument_title, stage_words};

/// A day in the shop has 25 hours when the clocks go back.
const LONGEST_DAY_US: i64 = 25 * 3_600_000_000;

#[derive(Template)]
#[template(path = "desk/day.html")]
struct DayPage {
    layout: Layout,
    today: String,
    came_in: Vec<Row>,
    promised: Vec<Row>,
    ready: Vec<Row>,
    quotes: Vec<(Row, String, String)>,
    calls: Vec<(Row, String)>,
    /// Who is to be told of a promise that was moved, with what, and where it is said that they were.
    moved: Vec<(Row, String, String)>,
}

#[derive(Clone)]
struct Row {
    href: String,
    number: String,
    customer: String,
    telephone: String,
    dial: Option<String>,
    instrument: String,
    rack: String,
    stage: String,
    promise: Promise,
}

/// `GET /desk/day`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let reading = context.app.db.read();
    let today = context.today();
    let open = queue::open_jobs(reading).await?;
    let rows: Vec<(&QueueRow, Row)> = open.iter().map(|job| (job, row(&context, job))).collect();
    let of = |keep: &dyn Fn(&QueueRow) -> bool| -> Vec<Row> {
        rows.iter().filter(|(job, _)| keep(job)).map(|(_, row)| row.clone()).collect()
    };
    // what came in today counts, also when it has left again
    let since = Instant(context.now().0 - LONGEST_DAY_US);
    let came_in = queue::came_in_since(reading, since).await?;
    let came_in = came_in.iter().filter(|job| context.days_since(job.checked_in_at) == 0).map(|job| row(&context, job));
    let came_in = came_in.collect();
    let mut quotes = Vec::new();
    let mut calls = Vec::new();
    for unanswered in quote::unanswered(reading).await? {
        let Some((job, row)) = rows.iter().find(|(job, _)| job.id == unanswered.job_id) else { continue };
        let days = context.days_since(unanswered.made_at);
        let row = Row { href: format!("/desk/quotes/{}", unanswered.id), ..row.clone() };
        if quote::is_worth_a_call(days, job.waiting_for) {
            calls.push((row.clone(), format!("no answer to the quote for {days} days")));
        }
        quotes.push((row, context.money(unanswered.total), context.day_of(unanswered.made_at)));
    }
    for (job, row) in &rows {
        let words = match job.call() {
            None => continue,
            Some(Call::ForAnAnswer) => job.waiting_reason.clone().unwrap_or_default(),
            Some(Call::ToCollect) => match context.days_since(job.stage_since) {
                0 => "ready since today".to_owned(),
                1 => "ready since yesterday".to_owned(),
                days => format!("ready for {days} days"),
            },
        };
        calls.push((row.clone(), words));
    }
    let moved = promise::to_tell(reading).await?.into_iter().filter_map(|moved| {
        let (_, row) = rows.iter().find(|(job, _)| job.id == moved.job_id)?;
        let before = moved.from_day.map(|day| format!(" instead of {}", with_weekday(day))).unwrap_or_default();
        let words = format!("promised for {}{before}", with_weekday(moved.to_day));
        Some((row.clone(), words, format!("/desk/jobs/{}/told", moved.job_id)))
    });
    page(&DayPage {
        moved: moved.collect(),
        layout: context.layout(),
        today: with_weekday(today),
        came_in,
        promised: of(&|job| job.is_due_by(today)),
        ready: of(&|job| job.stage == Stage::Ready),
        quotes,
        calls,
    })
}

fn row(context: &RequestContext, job: &QueueRow) -> Row {
    Row {
        href: format!("/desk/jobs/{}", job.id),
        number: job.number.clone(),
        customer: job.customer.clone(),
        telephone: job.telephone.clone(),
        dial: dial(job.telephone_e164.as_deref()),
        instrument: instrument_title(job.family, &job.maker, &job.model),
        rack: job.rack.clone(),
        stage: stage_words(job.stage, job.waiting_for),
        promise: Promise::as_of(job.stage, job.promised_on, context.today()),
    }
}

/// `POST /desk/jobs/{id}/told`: the customer knows the day that holds.
pub(in crate::web) async fn told(context: RequestContext, Id(id): Id<JobId>, _: FormData) -> Result {
    let mut tx = context.app.db.write().await?;
    promise::told(&mut tx, &context.audit(Door::Desk), id).await?;
    let number = job::find(&mut *tx, id).await?.number;
    tx.commit().await?;
    redirect_with_flash(&context, "/desk/day", &format!("Written down: the customer of {number} was told."))
}
