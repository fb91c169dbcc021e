//! `/desk/day`: today at the counter: what came in, what is promised, what is ready, who is to be told what.

use askama::Template;

use crate::quantity::{Instant, with_weekday};
use crate::records::queue::{self, QueueRow};
use crate::records::stage::Stage;
use crate::records::{quote, telling};
use crate::web::Result;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::telling_view::{PersonView, by_person};
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
    to_tell: Vec<PersonView>,
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
    for unanswered in quote::unanswered(reading).await? {
        let Some((_, row)) = rows.iter().find(|(job, _)| job.id == unanswered.job_id) else { continue };
        let row = Row { href: format!("/desk/quotes/{}", unanswered.id), ..row.clone() };
        quotes.push((row, context.money(unanswered.total), context.day_of(unanswered.made_at)));
    }
    let mut connection = reading.acquire().await.map_err(crate::records::Error::from)?;
    let to_tell = telling::to_tell(&mut connection, today, |at| context.app.clock.local_date(at)).await?;
    page(&DayPage {
        layout: context.layout(),
        today: with_weekday(today),
        came_in,
        promised: of(&|job| job.is_due_by(today)),
        ready: of(&|job| job.stage == Stage::Ready),
        quotes,
        to_tell: by_person(&context, to_tell.iter().filter(|line| line.is_due(today))),
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
