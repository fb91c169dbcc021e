//! `/desk`: the open jobs, what is due first.

use askama::Template;

use crate::drawing::Svg;
use crate::records::queue;
use crate::web::Result;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::words::{Promise, StageView, StageViews};

#[derive(Template)]
#[template(path = "desk/queue.html")]
struct QueuePage {
    layout: Layout,
    today: String,
    rows: Vec<Row>,
    late: usize,
    due_today: usize,
    ready: usize,
    strips: Svg,
}

struct Row {
    href: String,
    number: String,
    stage: StageView,
    waiting_reason: Option<String>,
    customer: String,
    telephone: String,
    instrument: String,
    complaint: String,
    rack: String,
    who: String,
    promise: Promise,
    age_days: i64,
}

/// `GET /desk`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let today = context.today();
    let open = queue::open_jobs(context.app.db.read()).await?;
    let ready = open.iter().filter(|row| row.stage == crate::records::stage::Stage::Ready).count();
    let mut stages = StageViews::default();
    let rows: Vec<Row> = open
        .into_iter()
        .map(|row| Row {
            href: format!("/desk/jobs/{}", row.id),
            stage: stages.of(row.stage, row.waiting_for),
            promise: Promise::as_of(row.stage, row.promised_on, today),
            age_days: context.days_since(row.checked_in_at),
            instrument: crate::web::words::instrument_title(row.family, &row.maker, &row.model),
            who: row.staff.unwrap_or_default(),
            number: row.number,
            waiting_reason: row.waiting_reason,
            customer: row.customer,
            telephone: row.telephone,
            complaint: row.complaint,
            rack: row.rack,
        })
        .collect();
    page(&QueuePage {
        late: rows.iter().filter(|row| row.promise.is_late).count(),
        due_today: rows.iter().filter(|row| row.promise.is_today).count(),
        ready,
        strips: stages.drawn(),
        today: crate::quantity::with_weekday(today),
        layout: context.layout(),
        rows,
    })
}
