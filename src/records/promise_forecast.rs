//! Every forecast of a job's day as it was made: what it said, how sure it was, and what it rested on. Kept to be held
//! against what then happened, and never changed.

use time::Date;

use super::column::{as_json, words};
use super::event::AuditContext;
use super::{Error, JobId, Result, WriteTx};
use crate::quantity::Instant;

words! {
    /// What a forecast was made for.
    ForecastWhy {
        /// The day that was proposed at check-in.
        CheckIn = "check-in" => "at check-in",
        /// Worked out anew each night.
        Night = "night" => "in the night",
        /// Somebody asked.
        OnDemand = "on-demand" => "when asked",
        /// Somebody moved the promise by it.
        Moved = "moved" => "when the promise was moved",
    }
}

words! {
    /// Why there is no day.
    NoDayWhy {
        /// The calendar gives nobody any hours.
        NoHours = "no-hours" => "the bench calendar has no hours",
        /// Whoever does it has none.
        PersonAway = "person-away" => "whoever does it has no hours",
        /// Nobody said what is to be done.
        NoMinutes = "no-minutes" => "nobody has said yet what is to be done",
        /// It waits for something of which no past is known.
        UnknownWait = "unknown-wait" => "it waits for something that has never ended here",
        /// It is done after another that has no day.
        AfterAnother = "after-another" => "it is done after a job that has no day",
        /// Not within ten years.
        TooFar = "too-far" => "not within ten years",
    }
}

words! {
    /// Where the minutes of a job come from.
    MinutesFrom {
        /// Its lines, by what such work took at this bench.
        Clocked = "clocked" => "minutes clocked here",
        /// Its lines, by the price list.
        Estimate = "estimate" => "the price list’s minutes",
        /// It has no lines: past jobs of its family.
        Family = "family" => "past jobs of its family",
        /// It has no lines, and its family no past: the services of the price list.
        PriceList = "price-list" => "the usual service of the price list",
        /// Nothing.
        Nothing = "nothing" => "nothing",
    }
}

/// A day, and how it is spread.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ForecastDay {
    /// The day by which the stated share of draws was done.
    pub day: Date,
    /// The share that was, thousandths.
    pub share: i64,
    /// The day by which half were.
    pub median_day: Date,
    /// Days after the day it was made, with the share of draws done by then in thousandths, both rising.
    pub done_by: Vec<(i64, i64)>,
}

/// What a forecast rested on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each field is the column of the same name, explained in the migration")]
pub struct ForecastBasis {
    pub jobs_ahead: i64,
    pub minutes_ahead: i64,
    pub own_minutes: i64,
    pub minutes_from: MinutesFrom,
    pub jobs_known: i64,
    pub waits_known: Option<i64>,
    pub ahead_without_minutes: i64,
}

/// How it was drawn: the same again gives the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ForecastDraws {
    /// Of the draws.
    pub seed: i64,
    /// How many.
    pub draws: i64,
}

/// A forecast to keep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewForecast {
    /// Of which job.
    pub job_id: JobId,
    /// The shop's day on which it is made.
    pub made_on: Date,
    /// What for.
    pub why: ForecastWhy,
    /// How sure it is to be at least, thousandths.
    pub confidence: i64,
    /// The day, or why there is none.
    pub day: std::result::Result<ForecastDay, NoDayWhy>,
    /// The day that the customer is told with it.
    pub told_day: Option<Date>,
    /// What it rests on.
    pub basis: ForecastBasis,
    /// How it was drawn.
    pub draws: ForecastDraws,
}

/// A kept forecast.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forecast {
    /// Its place among all: later ones are larger.
    pub id: i64,
    /// When it was made.
    pub made_at: Instant,
    /// The program's version that made it.
    pub engine_version: String,
    /// What was said.
    pub said: NewForecast,
}

/// Keeps forecasts that were made together, in their order.
pub async fn keep(tx: &mut WriteTx, by: &AuditContext, forecasts: &[NewForecast]) -> Result<()> {
    for forecast in forecasts {
        let (day, no_day) = match &forecast.day {
            Ok(day) => (Some(day), None),
            Err(why) => (None, Some(*why)),
        };
        let done_by = day.map(|day| as_json(&day.done_by)).transpose()?;
        let (day, share, median_day) = match day {
            Some(day) => (Some(day.day), Some(day.share), Some(day.median_day)),
            None => (None, None, None),
        };
        let basis = &forecast.basis;
        let version = env!("CARGO_PKG_VERSION");
        sqlx::query!(
            "INSERT INTO promise_forecast (job_id, made_at, made_on, why, confidence, day, share, median_day, no_day,
                 done_by, told_day, jobs_ahead, minutes_ahead, own_minutes, minutes_from, jobs_known, waits_known,
                 ahead_without_minutes, engine_version, seed, draws)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            forecast.job_id,
            by.at,
            forecast.made_on,
            forecast.why,
            forecast.confidence,
            day,
            share,
            median_day,
            no_day,
            done_by,
            forecast.told_day,
            basis.jobs_ahead,
            basis.minutes_ahead,
            basis.own_minutes,
            basis.minutes_from,
            basis.jobs_known,
            basis.waits_known,
            basis.ahead_without_minutes,
            version,
            forecast.draws.seed,
            forecast.draws.draws,
        )
        .execute(&mut **tx)
        .await?;
    }
    Ok(())
}

/// A row as it is read.
struct Row {
    id: i64,
    job_id: JobId,
    made_at: Instant,
    made_on: Date,
    why: ForecastWhy,
    confidence: i64,
    day: Option<Date>,
    share: Option<i64>,
    median_day: Option<Date>,
    no_day: Option<NoDayWhy>,
    done_by: Option<String>,
    told_day: Option<Date>,
    jobs_ahead: i64,
    minutes_ahead: i64,
    own_minutes: i64,
    minutes_from: MinutesFrom,
    jobs_known: i64,
    waits_known: Option<i64>,
    ahead_without_minutes: i64,
    engine_version: String,
    seed: i64,
    draws: i64,
}

impl Row {
    fn read(self) -> Result<Forecast> {
        let day = match (self.day, self.share, self.median_day, self.no_day) {
            (Some(day), Some(share), Some(median_day), _) => {
                let done_by =
                    serde_json::from_str(self.done_by.as_deref().unwrap_or("[]")).map_err(Error::unwritable)?;
                Ok(ForecastDay { day, share, median_day, done_by })
            }
            (.., no_day) => Err(no_day.unwrap_or(NoDayWhy::TooFar)),
        };
        Ok(Forecast {
            id: self.id,
            made_at: self.made_at,
            engine_version: self.engine_version,
            said: NewForecast {
                job_id: self.job_id,
                made_on: self.made_on,
                why: self.why,
                confidence: self.confidence,
                day,
                told_day: self.told_day,
                basis: ForecastBasis {
                    jobs_ahead: self.jobs_ahead,
                    minutes_ahead: self.minutes_ahead,
                    own_minutes: self.own_minutes,
                    minutes_from: self.minutes_from,
                    jobs_known: self.jobs_known,
                    waits_known: self.waits_known,
                    ahead_without_minutes: self.ahead_without_minutes,
                },
                draws: ForecastDraws { seed: self.seed, draws: self.draws },
            },
        })
    }
}

/// The forecasts that a condition picks.
macro_rules! forecasts {
    ($picked:literal $(, $put:expr)*) => {
        sqlx::query_as!(
            Row,
            r#"SELECT forecast.id, forecast.job_id AS "job_id: JobId", forecast.made_at AS "made_at: Instant",
                      forecast.made_on AS "made_on: Date", forecast.why AS "why: ForecastWhy", forecast.confidence,
                      forecast.day AS "day: Date", forecast.share, forecast.median_day AS "median_day: Date",
                      forecast.no_day AS "no_day: NoDayWhy", forecast.done_by, forecast.told_day AS "told_day: Date",
                      forecast.jobs_ahead, forecast.minutes_ahead, forecast.own_minutes,
                      forecast.minutes_from AS "minutes_from: MinutesFrom", forecast.jobs_known, forecast.waits_known,
                      forecast.ahead_without_minutes, forecast.engine_version, forecast.seed, forecast.draws
               FROM "#
                + $picked
            $(, $put)*
        )
    };
}

/// The newest forecasts of one job, newest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId, most: i64) -> Result<Vec<Forecast>> {
    let rows = forecasts!(
        "promise_forecast AS forecast WHERE forecast.job_id = ? ORDER BY forecast.id DESC LIMIT ?",
        job,
        most
    )
    .fetch_all(executor)
    .await?;
    rows.into_iter().map(Row::read).collect()
}

/// Open jobs checked in since a moment of which nobody said a day then, each with the day that was promised.
pub async fn without_one_since(
    executor: impl sqlx::SqliteExecutor<'_>,
    since: Instant,
) -> Result<Vec<(JobId, Option<Date>)>> {
    let found = sqlx::query!(
        r#"SELECT id AS "id: JobId", promised_on AS "promised_on: Date" FROM job
           WHERE is_open = 1 AND +checked_in_at >= ?
             AND NOT EXISTS (SELECT 1 FROM promise_forecast WHERE job_id = job.id AND why = 'check-in')"#,
        since
    );
    let found = found.fetch_all(executor).await?;
    Ok(found.into_iter().map(|job| (job.id, job.promised_on)).collect())
}

/// Whether forecasts of the night were made on a day.
pub async fn was_night(executor: impl sqlx::SqliteExecutor<'_>, day: Date) -> Result<bool> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM promise_forecast WHERE why = 'night' AND made_on = ?) AS "made!: bool""#,
        day
    )
    .fetch_one(executor)
    .await?)
}
