//! Forecasts: drawn from the queue as it stands, kept as they were made, each night and when somebody asks.

use std::time::Duration as Wait;

use time::{Date, Duration};

use super::words::count;
use super::{Outlook, read, read_with};
use crate::forecast::simulation::{DayForecast, DayShare, NoDay, simulate};
use crate::quantity::{Instant, with_weekday};
use crate::records::customer::ReachBy;
use crate::records::family::Family;
use crate::records::promise_forecast::{
    self, ForecastBasis, ForecastDay, ForecastDraws, ForecastWhy, MinutesFrom, NewForecast, NoDayWhy,
};
use crate::records::queue::QueueRow;
use crate::records::service;
use crate::records::settings::Snapshot;
use crate::records::stage::Stage;
use crate::records::{AuditContext, Door, JobId};
use crate::web::app::App;
use crate::web::error::{Error, Result};

/// The hour of the night at which all are worked out anew.
const NIGHT_HOUR: i64 = 3;
/// Days of a distribution that are kept, at most: what comes after is in the last.
const MOST_DAYS: usize = 120;

/// A day to propose at check-in.
pub(in crate::web) struct Proposal {
    /// The day, or why there is none.
    pub(in crate::web) day: std::result::Result<ForecastDay, NoDayWhy>,
    /// What it rests on.
    pub(in crate::web) basis: ForecastBasis,
}

impl Proposal {
    /// What is said beside the field of the promise.
    pub(in crate::web) fn words(&self) -> String {
        match &self.day {
            Ok(day) => {
                let ahead = match self.basis.jobs_ahead {
                    0 => "nothing in front of it".to_owned(),
                    jobs => count(jobs, "job") + " in front of it",
                };
                let sure = (day.share + 5) / 10;
                format!("The queue can keep {}, {sure} of 100 times, with {ahead}.", with_weekday(day.day))
            }
            Err(why) => format!("The queue can say no day: {why}. These are the usual days."),
        }
    }
}

/// The day that a job of a family can be promised which is about to be checked in.
pub(in crate::web) async fn propose(app: &App, settings: &Snapshot, family: Option<Family>) -> Result<Proposal> {
    let coming = QueueRow {
        id: JobId::new(),
        number: String::new(),
        customer: String::new(),
        telephone: String::new(),
        telephone_e164: None,
        reach_by: ReachBy::Telephone,
        // of no family that is asked for: the price list says what it takes
        family: family.unwrap_or(Family::Other),
        maker: String::new(),
        model: String::new(),
        complaint: String::new(),
        rack: String::new(),
        staff: None,
        staff_id: None,
        promised_on: None,
        stage: Stage::CheckedIn,
        stage_since: app.clock.now(),
        waiting_for: None,
        waiting_reason: None,
        checked_in_at: app.clock.now(),
        version: 1,
    };
    let (id, outlook) = (coming.id, read_with(app, settings, Some(coming)).await?);
    let mut made = drawn(app, settings, &outlook, ForecastWhy::CheckIn).await?;
    let found = made.iter().position(|forecast| forecast.job_id == id).map(|place| made.swap_remove(place));
    let found = found.ok_or_else(|| Error::internal("the job that is coming has no place in the queue"))?;
    Ok(Proposal { day: found.day, basis: found.basis })
}

/// Works the days of the jobs still to be done out and keeps them: of all, or of some, each with the day that was told.
pub(in crate::web) async fn work_out(
    app: &App,
    by: &AuditContext,
    why: ForecastWhy,
    only: Option<&[(JobId, Option<Date>)]>,
) -> Result<usize> {
    let settings = app.settings.current(&app.db).await?;
    let outlook = read(app, &settings).await?;
    let mut made = drawn(app, &settings, &outlook, why).await?;
    if let Some(only) = only {
        made.retain_mut(|forecast| {
            let asked = only.iter().find(|(job, _)| *job == forecast.job_id);
            forecast.told_day = asked.and_then(|(_, told_day)| *told_day);
            asked.is_some()
        });
    }
    let mut tx = app.db.write().await?;
    promise_forecast::keep(&mut tx, by, &made).await?;
    tx.commit().await?;
    Ok(made.len())
}

/// The days of the jobs of a queue as it stands, for a page that shows it: never older than what stands beside them, and
/// not kept.
pub(in crate::web) async fn as_it_stands(
    app: &App,
    settings: &Snapshot,
    outlook: &Outlook,
) -> Result<Vec<NewForecast>> {
    drawn(app, settings, outlook, ForecastWhy::OnDemand).await
}

/// The forecasts of all jobs of a queue. What cannot be drawn at all is told job by job.
async fn drawn(app: &App, settings: &Snapshot, outlook: &Outlook, why: ForecastWhy) -> Result<Vec<NewForecast>> {
    let confidence = settings.promise_confidence;
    let simulation = outlook.simulation(confidence);
    let draws = ForecastDraws { seed: i64::try_from(simulation.seed).unwrap_or(0), draws: i64::from(simulation.draws) };
    let found = app.calculate(move || simulate(&simulation)).await?;
    let found = found.map_err(|problems| Error::internal(format!("{problems:?}")))?;
    let in_order = outlook.queue.order.iter().filter_map(|job| outlook.entry(*job));
    let forecasts = in_order.zip(found.jobs).map(|(entry, day)| NewForecast {
        job_id: entry.row.id,
        made_on: outlook.today,
        why,
        confidence,
        basis: basis(entry.minutes_from, day.as_ref().ok()),
        day: day.as_ref().map(|day| forecast_day(outlook.today, day)).map_err(|why| no_day(*why)),
        told_day: None,
        draws,
    });
    Ok(forecasts.collect())
}

fn basis(minutes_from: MinutesFrom, day: Option<&DayForecast>) -> ForecastBasis {
    let count = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let rests_on = day.map(|day| day.rests_on);
    ForecastBasis {
        jobs_ahead: rests_on.map_or(0, |of| count(of.jobs_ahead)),
        minutes_ahead: rests_on.map_or(0, |of| rounded(of.minutes_ahead)),
        own_minutes: rests_on.map_or(0, |of| rounded(of.own_minutes)),
        minutes_from,
        jobs_known: rests_on.map_or(0, |of| count(of.jobs_clocked)),
        waits_known: rests_on.and_then(|of| of.waits_known).map(count),
        ahead_without_minutes: rests_on.map_or(0, |of| count(of.ahead_without_minutes)),
    }
}

fn forecast_day(today: Date, day: &DayForecast) -> ForecastDay {
    ForecastDay {
        day: day.promised_day,
        share: rounded(day.promised_share * 1000.0).min(1000),
        median_day: day.median_day,
        done_by: done_by(today, &day.days),
    }
}

/// Days ahead with the share done by then, thousandths; a day that adds less than one is left to the next.
fn done_by(today: Date, days: &[DayShare]) -> Vec<(i64, i64)> {
    let (mut sum, mut kept) = (0.0, Vec::<(i64, i64)>::new());
    for share in days {
        sum += share.probability;
        let point = ((share.day - today).whole_days(), rounded(sum * 1000.0).min(1000));
        if kept.last().is_none_or(|(_, before)| point.1 > *before) {
            kept.push(point);
        }
    }
    if kept.len() > MOST_DAYS {
        let last = kept.last().copied();
        kept.truncate(MOST_DAYS - 1);
        kept.extend(last);
    }
    kept
}

fn no_day(why: NoDay) -> NoDayWhy {
    match why {
        NoDay::NoHours(_) => NoDayWhy::NoHours,
        NoDay::PersonAway(_) => NoDayWhy::PersonAway,
        NoDay::NoMinutes => NoDayWhy::NoMinutes,
        NoDay::UnknownWait => NoDayWhy::UnknownWait,
        NoDay::AfterOneWithoutDay(_) => NoDayWhy::AfterAnother,
        NoDay::TooFar => NoDayWhy::TooFar,
    }
}

#[expect(clippy::cast_possible_truncation, reason = "minutes and thousandths, far below what an integer holds")]
fn rounded(number: f64) -> i64 {
    number.round() as i64
}

/// Works all days out anew each night, for as long as the program runs; at once where last night's were missed.
pub(in crate::web) async fn go_through_the_nights(app: App) {
    let mut stopping = app.stopping();
    loop {
        if let Err(cause) = tonight(&app).await {
            tracing::warn!(cause = ?cause, "forecasts.night_failed");
        }
        let now = app.clock.now();
        let stopped = stopping.wait_for(|stopping| *stopping);
        if tokio::time::timeout(until(now, next_night(&app, now)), stopped).await.is_ok() {
            return;
        }
    }
}

/// Keeps what can be said of the day of each job that was just checked in, beside the day that was promised: nobody at
/// the counter waits for it, and several who come in at once are one piece of work.
pub(in crate::web) async fn follow_the_check_ins(app: App) {
    let (mut stopping, mut written) = (app.stopping(), app.db.written());
    loop {
        written.mark_unchanged();
        if let Err(cause) = forecast_newcomers(&app).await {
            tracing::warn!(cause = ?cause, "forecasts.check_in_failed");
        }
        tokio::select! {
            _ = stopping.wait_for(|stopping| *stopping) => return,
            changed = written.changed() => if changed.is_err() { return },
        }
    }
}

/// Works the days of today's check-ins out that have none, as the running program does after each of them.
///
/// # Errors
/// When the books cannot be read or written, or too much is worked out already.
pub async fn forecast_newcomers(app: &App) -> Result<usize> {
    let today = app.clock.start_of(app.clock.today());
    let newcomers = promise_forecast::without_one_since(app.db.read(), today).await?;
    if newcomers.is_empty() {
        return Ok(0);
    }
    let by = AuditContext { staff: None, door: Door::House, at: app.clock.now() };
    work_out(app, &by, ForecastWhy::CheckIn, Some(&newcomers)).await
}

/// The forecasts of this night, unless they were made.
async fn tonight(app: &App) -> Result<()> {
    new_prices(app).await?;
    if promise_forecast::was_night(app.db.read(), app.clock.today()).await? {
        return Ok(());
    }
    let by = AuditContext { staff: None, door: Door::House, at: app.clock.now() };
    work_out(app, &by, ForecastWhy::Night, None).await?;
    Ok(())
}

/// Prices that hold from this day on.
async fn new_prices(app: &App) -> Result<()> {
    let by = AuditContext { staff: None, door: Door::House, at: app.clock.now() };
    let mut tx = app.db.write().await?;
    if service::take_in_due(&mut tx, &by, app.clock.today()).await? > 0 {
        tx.commit().await?;
    }
    Ok(())
}

fn next_night(app: &App, now: Instant) -> Instant {
    const HOUR_US: i64 = 3_600_000_000;
    let night = |day: Date| Instant(app.clock.start_of(day).0 + NIGHT_HOUR * HOUR_US);
    let today = app.clock.local_date(now);
    let tonight = night(today);
    if tonight > now { tonight } else { night(today + Duration::days(1)) }
}

fn until(now: Instant, then: Instant) -> Wait {
    Wait::from_micros(u64::try_from(then.0 - now.0).unwrap_or(0).max(1_000_000))
}
