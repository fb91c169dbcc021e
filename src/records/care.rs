//! Yearly care: what each instrument is due for, and when.

use serde::Serialize;
use time::{Date, Month};

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::family::Family;
use super::{CareId, CustomerId, Error, InstrumentId, Result, WriteTx};
use crate::quantity::add_months_clamped;

words! {
    /// What is to be done.
    CareKind {
        /// A drop of oil at each tuner's gear.
        OilTuners = "oil-tuners" => "a drop of oil at each tuner",
        /// A look over the whole instrument.
        LookOver = "look-over" => "look the instrument over",
        /// Bring the moisture back before the heating season.
        Rehydrate = "rehydrate" => "check moisture and rehydrate",
        /// New strings.
        Restring = "restring" => "new strings",
    }
}

/// Months after which each kind of care is due again. Common practice, no source.
const YEARLY: i64 = 12;
/// Before the heating season of the northern half; the owner can move it on the care plan.
const BEFORE_HEATING: i64 = 10;
/// A seasonal care this close ahead was just done.
const JUST_DONE_DAYS: i64 = 60;

/// One line of an instrument's care plan.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CarePlan {
    pub id: CareId,
    pub kind: CareKind,
    pub every_months: i64,
    pub suits_month: Option<i64>,
    pub last_done_on: Option<Date>,
    pub next_due_on: Date,
    pub paused: bool,
    pub version: i64,
}

/// When care done on a day is due again: `every_months` on (clamped to the month's end), or for
/// seasonal care the first day of the next suitable month that is not just ahead.
pub fn next_due(done_on: Date, every_months: i64, suits_month: Option<i64>) -> Date {
    let season = suits_month.and_then(|month| u8::try_from(month).ok()).and_then(|month| Month::try_from(month).ok());
    let Some(season) = season else {
        return add_months_clamped(done_on, i32::try_from(every_months).unwrap_or(12));
    };
    // a season comes once a year; what is due more rarely leaves seasons out
    let beyond_a_year = i32::try_from((every_months - YEARLY).max(0)).unwrap_or(0);
    let from = add_months_clamped(done_on, beyond_a_year);
    let candidates = (from.year()..=from.year() + 2).filter_map(|year| Date::from_calendar_date(year, season, 1).ok());
    candidates
        .into_iter()
        .find(|day| (*day - from).whole_days() > JUST_DONE_DAYS)
        .unwrap_or_else(|| add_months_clamped(from, 12))
}

/// Writes the yearly care lines of an instrument whose setup was finished on a day: oil, look over,
/// rehydrate. Lines that exist are done anew; a paused one stays paused.
pub async fn write_after_setup(
    tx: &mut WriteTx,
    by: &AuditContext,
    instrument: InstrumentId,
    done_on: Date,
) -> Result<()> {
    let usual = [(CareKind::OilTuners, None), (CareKind::LookOver, None), (CareKind::Rehydrate, Some(BEFORE_HEATING))];
    for (kind, suits_month) in usual {
        let due = next_due(done_on, YEARLY, suits_month);
        let id = CareId::new();
        sqlx::query!(
            "INSERT INTO care_plan (id, instrument_id, kind, every_months, suits_month, last_done_on, next_due_on)
             VALUES (?, ?, ?, ?, ?, ?, ?)
             ON CONFLICT (instrument_id, kind) DO UPDATE
             SET last_done_on = excluded.last_done_on, next_due_on = excluded.next_due_on, version = version + 1",
            id,
            instrument,
            kind,
            YEARLY,
            suits_month,
            done_on,
            due,
        )
        .execute(&mut **tx)
        .await?;
    }
    event::write(tx, by, "yearly care written", "instrument", instrument.0, None, Some(&done_on)).await
}

/// Care was done on a day: the next due day follows.
pub async fn done(tx: &mut WriteTx, by: &AuditContext, id: CareId, done_on: Date) -> Result<InstrumentId> {
    let (instrument, plan) = find(&mut **tx, id).await?;
    let due = next_due(done_on, plan.every_months, plan.suits_month);
    sqlx::query!(
        "UPDATE care_plan SET last_done_on = ?, next_due_on = ?, version = version + 1 WHERE id = ?",
        done_on,
        due,
        id,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "care done", "instrument", instrument.0, None, Some(&(plan.kind, done_on, due))).await?;
    Ok(instrument)
}

/// Pauses a care line (sold, in storage, not wished), or takes it up again.
pub async fn pause(tx: &mut WriteTx, by: &AuditContext, id: CareId, paused: bool) -> Result<()> {
    let instrument = sqlx::query_scalar!(
        r#"UPDATE care_plan SET paused = ?, version = version + 1 WHERE id = ?
           RETURNING instrument_id AS "instrument_id: InstrumentId""#,
        paused,
        id,
    )
    .fetch_optional(&mut **tx)
    .await?
    .ok_or(Error::NotFound("care plan"))?;
    let deed = if paused { "care paused" } else { "care taken up again" };
    event::write(tx, by, deed, "instrument", instrument.0, None, Some(&id)).await
}

/// What the desk may change of a care line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CareEntry {
    pub every_months: i64,
    pub suits_month: Option<i64>,
    pub paused: bool,
}

/// Changes how often a line is due, in which month it suits, and whether it is paused. What was done before counts:
/// the next day follows from it. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(tx: &mut WriteTx, by: &AuditContext, id: CareId, version: i64, entry: CareEntry) -> Result<()> {
    let (instrument, before) = find(&mut **tx, id).await?;
    let due = match before.last_done_on {
        Some(done_on) => next_due(done_on, entry.every_months, entry.suits_month),
        None => before.next_due_on,
    };
    let done = sqlx::query!(
        "UPDATE care_plan SET every_months = ?, suits_month = ?, paused = ?, next_due_on = ?, version = version + 1
         WHERE id = ? AND version = ?",
        entry.every_months,
        entry.suits_month,
        entry.paused,
        due,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "care plan")?;
    let (_, after) = find(&mut **tx, id).await?;
    event::write(tx, by, "care changed", "instrument", instrument.0, Some(&before), Some(&after)).await
}

/// One care line, and whose.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: CareId) -> Result<(InstrumentId, CarePlan)> {
    let row = sqlx::query!(
        r#"SELECT instrument_id AS "instrument_id: InstrumentId", kind AS "kind: CareKind", every_months, suits_month,
                  last_done_on AS "last_done_on: Date", next_due_on AS "next_due_on: Date", paused AS "paused: bool", version
           FROM care_plan WHERE id = ?"#,
        id,
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("care plan"))?;
    let plan = CarePlan {
        id,
        kind: row.kind,
        every_months: row.every_months,
        suits_month: row.suits_month,
        last_done_on: row.last_done_on,
        next_due_on: row.next_due_on,
        paused: row.paused,
        version: row.version,
    };
    Ok((row.instrument_id, plan))
}

/// The care plan of one instrument, soonest first.
pub async fn of_instrument(executor: impl sqlx::SqliteExecutor<'_>, instrument: InstrumentId) -> Result<Vec<CarePlan>> {
    Ok(of_instruments(executor, &[instrument]).await?.into_iter().map(|(_, plan)| plan).collect())
}

/// The care plans of some instruments, soonest first.
pub(super) async fn of_instruments(
    executor: impl sqlx::SqliteExecutor<'_>,
    instruments: &[InstrumentId],
) -> Result<Vec<(InstrumentId, CarePlan)>> {
    let instruments = as_json(instruments)?;
    let rows = sqlx::query!(
        r#"SELECT instrument_id AS "instrument_id: InstrumentId", id AS "id: CareId", kind AS "kind: CareKind",
                  every_months, suits_month, last_done_on AS "last_done_on: Date", next_due_on AS "next_due_on: Date",
                  paused AS "paused: bool", version
           FROM care_plan WHERE instrument_id IN (SELECT unhex(value, '-') FROM json_each(?))
           ORDER BY next_due_on, kind"#,
        instruments,
    )
    .fetch_all(executor)
    .await?;
    let plans = rows.into_iter().map(|row| {
        let plan = CarePlan {
            id: row.id,
            kind: row.kind,
            every_months: row.every_months,
            suits_month: row.suits_month,
            last_done_on: row.last_done_on,
            next_due_on: row.next_due_on,
            paused: row.paused,
            version: row.version,
        };
        (row.instrument_id, plan)
    });
    Ok(plans.collect())
}

/// Whether somebody will be reminded of any of an instrument's care: it is written, and not all of it is paused.
pub fn is_on_the_list(plan: &[CarePlan]) -> bool {
    plan.iter().any(|line| !line.paused)
}

/// One line of the list of what is due.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct DueCare {
    pub id: CareId,
    pub kind: CareKind,
    pub next_due_on: Date,
    pub last_done_on: Option<Date>,
    pub instrument_id: InstrumentId,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub customer_id: CustomerId,
    pub customer: String,
    pub telephone: String,
    pub email: String,
    /// The day reminders were agreed to, if they were.
    pub reminders_agreed_on: Option<Date>,
}

impl DueCare {
    /// Whether its day is past. It is not on the day itself.
    pub fn is_overdue(&self, today: Date) -> bool {
        self.next_due_on < today
    }
}

/// What is due up to and including a day, soonest first: the newest `most` lines, because what has been due for years
/// must not hide what is due now. `before` goes back from the soonest line seen. Instruments and people put away, and
/// people who asked to be forgotten, are nobody to write to.
pub async fn due_until(
    executor: impl sqlx::SqliteExecutor<'_>,
    day: Date,
    before: Option<(Date, CareId)>,
    most: i64,
) -> Result<Vec<DueCare>> {
    let (day, id) = before.map_or((day, None), |(day, id)| (day, Some(id)));
    let mut due = sqlx::query_as!(
        DueCare,
        r#"SELECT care_plan.id AS "id: CareId", care_plan.kind AS "kind: CareKind", care_plan.next_due_on AS "next_due_on: Date",
                  care_plan.last_done_on AS "last_done_on: Date", instrument.id AS "instrument_id: InstrumentId",
                  instrument.family AS "family: Family", instrument.maker, instrument.model, customer.id AS "customer_id: CustomerId", customer.name AS customer,
                  customer.telephone, customer.email, customer.reminders_agreed_on AS "reminders_agreed_on: Date"
           FROM care_plan
           JOIN instrument ON instrument.id = care_plan.instrument_id
           JOIN customer ON customer.id = instrument.customer_id
           WHERE care_plan.paused = 0 AND care_plan.next_due_on <= ?1
               AND (?2 IS NULL OR care_plan.next_due_on < ?1 OR care_plan.id < ?2)
               AND instrument.archived_on IS NULL AND customer.archived_on IS NULL AND customer.anonymised_on IS NULL
           ORDER BY care_plan.next_due_on DESC, care_plan.id DESC
           LIMIT ?3"#,
        day,
        id,
        most,
    )
    .fetch_all(executor)
    .await?;
    due.reverse();
    Ok(due)
}

/// One line of what a customer's instruments are due for.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CustomerCare {
    pub id: CareId,
    pub instrument_id: InstrumentId,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub kind: CareKind,
    pub next_due_on: Date,
    pub paused: bool,
}

/// What a customer's instruments are due for, soonest first.
pub async fn of_customer(executor: impl sqlx::SqliteExecutor<'_>, customer: CustomerId) -> Result<Vec<CustomerCare>> {
    Ok(sqlx::query_as!(
        CustomerCare,
        r#"SELECT care_plan.id AS "id: CareId", instrument.id AS "instrument_id: InstrumentId",
                  instrument.family AS "family: Family", instrument.maker, instrument.model, care_plan.kind AS "kind: CareKind", care_plan.next_due_on AS "next_due_on: Date",
                  care_plan.paused AS "paused: bool"
           FROM care_plan JOIN instrument ON instrument.id = care_plan.instrument_id
           WHERE instrument.customer_id = ? AND instrument.archived_on IS NULL
           ORDER BY care_plan.paused, care_plan.next_due_on LIMIT 100"#,
        customer,
    )
    .fetch_all(executor)
    .await?)
}
