//! `/bench`: what lies on the bench and what waits for it: one's own work first, each group in the order of the queue.

use std::cell::RefCell;

use askama::Template;

use super::labour::{self, RunningRow};
use crate::drawing::Svg;
use crate::records::JobId;
use crate::records::queue::{self, QueueRow};
use crate::records::stage::Stage;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::words::{Promise, StageView, StageViews, instrument_title};
use crate::web::{Result, outlook};

#[derive(Template)]
#[template(path = "bench/list.html")]
struct BenchList {
    layout: Layout,
    running: Vec<RunningRow>,
    groups: Vec<Group>,
    strips: Svg,
    version: String,
}

struct Group {
    title: &'static str,
    rows: Vec<Row>,
}

struct Row {
    href: String,
    number: String,
    stage: StageView,
    instrument: String,
    complaint: String,
    rack: String,
    who: Option<String>,
    promise: Promise,
    waiting_reason: Option<String>,
    /// Why it stands where it stands.
    why: String,
}

/// `GET /bench`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let me = context.session.as_ref().map(|session| session.staff.id);
    let version = context.app.queue_version();
    let mut open = queue::open_jobs(context.app.db.read()).await?;
    // the order of the queue, whatever the group; what is done with stands behind
    let outlook = outlook::read(&context.app, &context.settings).await?;
    let order = outlook.order();
    open.sort_by_key(|row| order.iter().position(|job| *job == row.id).unwrap_or(usize::MAX));
    let reasons: Vec<(JobId, String)> = outlook
        .queue
        .places
        .iter()
        .filter_map(|place| Some((outlook.entry(place.job)?.row.id, outlook::reason(&outlook, place))))
        .collect();
    let running = labour::running(&context).await?;
    let today = context.today();
    let stages = RefCell::new(StageViews::default());
    let row = |row: &QueueRow| Row {
        href: format!("/bench/jobs/{}", row.id),
        number: row.number.clone(),
        stage: stages.borrow_mut().of(row.stage, row.waiting_for),
        instrument: instrument_title(row.family, &row.maker, &row.model),
        complaint: row.complaint.clone(),
        rack: row.rack.clone(),
        who: row.staff.clone(),
        promise: Promise::as_of(row.stage, row.promised_on, today),
        waiting_reason: row.waiting_reason.clone(),
        why: reasons.iter().find(|(job, _)| *job == row.id).map(|(_, why)| why.clone()).unwrap_or_default(),
    };
    let gather = |title, wanted: &dyn Fn(&QueueRow) -> bool| Group {
        title,
        rows: open.iter().filter(|row| wanted(row)).map(row).collect(),
    };
    let is_bench = |row: &QueueRow| !matches!(row.stage, Stage::Ready | Stage::Quoted);
    let groups = vec![
        gather("Yours", &|row| row.staff_id == me && is_bench(row) && row.waiting_for.is_none()),
        gather("To measure", &|row| row.staff_id != me && row.stage == Stage::CheckedIn && row.waiting_for.is_none()),
        gather("To work on", &|row| {
            row.staff_id != me
                && matches!(row.stage, Stage::Agreed | Stage::OnTheBench | Stage::FinalCheck)
                && row.waiting_for.is_none()
        }),
        gather("Set aside", &|row| row.waiting_for.is_some()),
        gather("With the desk: to quote, or waiting for an answer", &|row| {
            matches!(row.stage, Stage::Measured | Stage::Quoted) && row.staff_id != me && row.waiting_for.is_none()
        }),
    ];
    page(&BenchList {
        layout: context.layout(),
        running,
        groups: groups.into_iter().filter(|group| !group.rows.is_empty()).collect(),
        strips: stages.into_inner().drawn(),
        version,
    })
}
