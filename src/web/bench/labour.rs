//! `/bench/labour`: time at the bench: what runs, what was likely forgotten, and what was wrong with it.

use askama::Template;

use crate::quantity::Instant;
use crate::records::labour::{self, Labour};
use crate::records::staff::Role;
use crate::records::{Door, LabourId, WorkLineId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE, Query};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

/// Days back that a person sees and may correct.
const DAYS_BACK: i64 = 7;
const MICROSECONDS_PER_DAY: i64 = 86_400_000_000;

/// Time on one line, as the bench page shows it.
#[derive(Default)]
pub(super) struct LineTime {
    /// "35 min"; empty where none was taken.
    pub(super) spent: String,
    /// The person's own clock runs on it.
    pub(super) mine_runs: bool,
    /// Whose else.
    pub(super) others: Vec<String>,
}

/// Time on one line out of the stretches of its job.
pub(super) fn line_time(context: &RequestContext, entries: &[Labour], line: WorkLineId) -> LineTime {
    let now = context.now();
    let me = context.session.as_ref().map(|session| session.staff.id);
    let of_line = || entries.iter().filter(|entry| entry.work_line_id == line);
    let running = || of_line().filter(|entry| entry.ended_at.is_none());
    LineTime {
        spent: of_line()
            .next()
            .map(|_| minutes_words(of_line().map(|entry| entry.minutes(now)).sum()))
            .unwrap_or_default(),
        mine_runs: running().any(|entry| Some(entry.staff_id) == me),
        others: running().filter(|entry| Some(entry.staff_id) != me).map(|entry| entry.who.clone()).collect(),
    }
}

/// "35 min", "2 h 5 min".
pub(super) fn minutes_words(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// A stretch that runs, as the bench list notices it.
pub(super) struct RunningRow {
    pub(super) words: String,
    pub(super) href: String,
    pub(super) is_mine: bool,
    pub(super) is_forgotten: bool,
}

/// What runs in the house; one's own first.
pub(super) async fn running(context: &RequestContext) -> Result<Vec<RunningRow>> {
    let me = context.session.as_ref().map(|session| session.staff.id);
    let mut rows: Vec<RunningRow> = labour::all_running(context.app.db.read())
        .await?
        .iter()
        .map(|entry| RunningRow {
            words: format!(
                "{} on {}, {}: since {}, {}",
                entry.who,
                entry.number,
                entry.words,
                context.moment(entry.started_at),
                minutes_words(entry.minutes(context.now()))
            ),
            href: format!("/bench/jobs/{}#work", entry.job_id),
            is_mine: Some(entry.staff_id) == me,
            is_forgotten: is_forgotten(context, entry),
        })
        .collect();
    rows.sort_by_key(|row| !row.is_mine);
    Ok(rows)
}

fn is_forgotten(context: &RequestContext, entry: &Labour) -> bool {
    let day = |at| context.app.clock.local_date(at);
    entry.is_forgotten(context.now(), day(entry.started_at) != day(entry.ended_at.unwrap_or(context.now())))
}

/// What is said of a stretch that was likely forgotten; else nothing.
pub(super) fn offer(context: &RequestContext, entry: &Labour) -> &'static str {
    if is_forgotten(context, entry) {
        " That is long for one go: if the clock was forgotten, correct it under Bench, Time."
    } else {
        ""
    }
}

#[derive(Template)]
#[template(path = "bench/labour.html")]
struct LabourPage {
    layout: Layout,
    form: FormData,
    rows: Vec<Row>,
    is_owner: bool,
    longest_hours: i64,
    /// Where what came before goes on.
    earlier: Option<String>,
    is_earlier: bool,
}

struct Row {
    id: LabourId,
    who: String,
    number: String,
    href: String,
    words: String,
    from_to: String,
    minutes: String,
    runs: bool,
    /// It runs, and it is the reader's own: it can be stopped here.
    may_stop: bool,
    is_forgotten: bool,
    correction: Option<String>,
    minutes_field: String,
    reason_field: String,
}

async fn labour_page(context: &RequestContext, form: FormData) -> Result<LabourPage> {
    let before: Option<LabourId> = form.value("before").parse().ok();
    let is_owner = context.may_act_as(Role::Owner);
    let me = context.session.as_ref().map(|session| session.staff.id);
    let mine = if is_owner { None } else { me };
    let back = Instant(context.now().0 - DAYS_BACK * MICROSECONDS_PER_DAY);
    let reading = context.app.db.read();
    let mut entries = labour::since(reading, mine, back, before).await?;
    let is_more = entries.len() > labour::MOST;
    entries.truncate(labour::MOST);
    let earlier = entries.last().filter(|_| is_more).map(|last| format!("/bench/labour?before={}", last.id));
    if before.is_none() {
        // what was forgotten long ago is still to be corrected
        let old = labour::all_running(reading).await?.into_iter();
        entries.extend(old.filter(|entry| entry.started_at < back && mine.is_none_or(|me| me == entry.staff_id)));
    }
    entries.sort_by_key(|entry| (entry.ended_at.is_some(), std::cmp::Reverse(entry.started_at)));
    let rows = entries.into_iter().map(|entry| Row {
        id: entry.id,
        href: format!("/bench/jobs/{}", entry.job_id),
        from_to: entry.ended_at.map_or_else(
            || format!("since {}", context.moment(entry.started_at)),
            |ended| format!("{} to {}", context.moment(entry.started_at), context.moment(ended)),
        ),
        minutes: minutes_words(entry.minutes(context.now())),
        runs: entry.ended_at.is_none(),
        may_stop: entry.ended_at.is_none() && Some(entry.staff_id) == me,
        is_forgotten: is_forgotten(context, &entry),
        minutes_field: format!("minutes_{}", entry.id),
        reason_field: format!("reason_{}", entry.id),
        who: entry.who,
        number: entry.number,
        words: entry.words,
        correction: entry.correction,
    });
    Ok(LabourPage {
        layout: context.layout(),
        rows: rows.collect(),
        form: FormData::new().overlaid_with(form),
        is_owner,
        longest_hours: labour::LONGEST_STRETCH_HOURS,
        earlier,
        is_earlier: before.is_some(),
    })
}

/// `GET /bench/labour`; `before` goes on behind the last stretch seen.
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    page(&labour_page(&context, FormData::default().with("before", query.value("before"))).await?)
}

/// `POST /bench/labour/{entry}/correct`: one's own stretches; the owner anybody's.
pub(in crate::web) async fn correct(context: RequestContext, Id(id): Id<LabourId>, mut form: FormData) -> Result {
    let entry = labour::find(context.app.db.read(), id).await?;
    let (minutes_field, reason_field) = (format!("minutes_{id}"), format!("reason_{id}"));
    let minutes = form.required_number(&minutes_field, 0..=1440, "how many minutes it really took; 0 for none");
    let reason = form.required_line(&reason_field, "why the clock was wrong", LINE);
    let (Some(minutes), false) = (minutes, form.has_errors()) else {
        return page_with(form.status(), &labour_page(&context, form).await?);
    };
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    labour::correct(&mut tx, &context.audit(Door::Bench), id, &key, minutes, &reason).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/bench/labour", &format!("{} counts {} now.", entry.words, minutes_words(minutes)))
}

/// `POST /bench/labour/stop`
pub(in crate::web) async fn stop(context: RequestContext) -> Result {
    let mut tx = context.app.db.write().await?;
    let stopped = labour::stop(&mut tx, &context.audit(Door::Bench)).await?;
    tx.commit().await?;
    match stopped {
        None => redirect_with_flash(&context, "/bench", "Nothing was running."),
        Some(entry) => {
            let minutes = minutes_words(entry.minutes(context.now()));
            let words = format!("“{}” stopped after {minutes}.{}", entry.words, offer(&context, &entry));
            // where the clock was likely forgotten, to where that is said
            let job = format!("/bench/jobs/{}#work", entry.job_id);
            redirect_with_flash(&context, if is_forgotten(&context, &entry) { "/bench/labour" } else { &job }, &words)
        }
    }
}
