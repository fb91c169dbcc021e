//! Jobs: one stay of one instrument, from the counter to the counter.

use serde::Serialize;
use time::Date;

use super::care;
use super::column::words;
use super::condition::{self, Side};
use super::customer::{self, CustomerEntry, ReachBy};
use super::event::{self, By};
use super::family::Family;
use super::final_check;
use super::fold::canonical;
use super::instrument::{self, InstrumentEntry};
use super::link::{self, LinkSecret};
use super::stage::{How, Stage, WaitingFor};
use super::{CustomerId, Error, InstrumentId, JobId, Result, StaffId, Writing};
use crate::quantity::Instant;

words! {
    /// How hard the player plays.
    Style {
        /// Fingers, soft.
        Light = "light" => "light",
        /// Most people.
        Medium = "medium" => "medium",
        /// A hard pick.
        Strong = "strong" => "strong",
    }
}

/// Somebody the shop knows, or somebody new.
#[derive(Debug, Clone)]
pub enum Whose {
    /// Known.
    Known(CustomerId),
    /// New.
    New(CustomerEntry),
}

/// An instrument the shop knows, or a new one.
#[derive(Debug, Clone)]
pub enum Which {
    /// Known.
    Known(InstrumentId),
    /// New.
    New(Box<InstrumentEntry>),
}

/// What is written down at the counter.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CheckIn {
    pub customer: Whose,
    pub instrument: Which,
    pub complaint: String,
    pub style: Style,
    pub brought_with: String,
    pub rack: String,
    pub promised_on: Option<Date>,
    pub marks: Vec<(Side, String)>,
}

/// A job.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Job {
    pub id: JobId,
    pub number: String,
    pub customer_id: CustomerId,
    pub instrument_id: InstrumentId,
    pub earlier_job_id: Option<JobId>,
    pub complaint: String,
    pub style: Style,
    pub brought_with: String,
    pub rack: String,
    pub staff_id: Option<StaffId>,
    pub promised_on: Option<Date>,
    pub stage: Stage,
    pub stage_since: Instant,
    pub waiting_for: Option<WaitingFor>,
    pub waiting_reason: Option<String>,
    pub checked_in_at: Instant,
    pub version: i64,
}

/// Checks an instrument in: customer, instrument, job and condition marks in one transaction. The
/// same form sent twice makes one job. `today` is the shop's today; `country` reads the telephone.
pub async fn check_in(
    on: Writing<'_>,
    by: &By,
    today: Date,
    country: &str,
    secret: &LinkSecret,
    form_key: &str,
    entry: &CheckIn,
) -> Result<JobId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: JobId" FROM job WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut *on)
        .await?
    {
        return Ok(id);
    }
    let complaint = canonical(&entry.complaint);
    if complaint.is_empty() {
        return Err(Error::refused("Write down what the customer says is wrong."));
    }
    let customer = match &entry.customer {
        Whose::Known(id) => customer::find(&mut *on, *id).await?.id,
        Whose::New(new) => customer::add(&mut *on, by, country, form_key, new).await?,
    };
    let instrument = match &entry.instrument {
        Which::Known(id) => {
            let known = instrument::find(&mut *on, *id).await?;
            if known.customer_id != customer {
                instrument::change_hands(&mut *on, by, *id, known.version, customer, today).await?;
            }
            *id
        }
        Which::New(new) => instrument::add(&mut *on, by, customer, form_key, new).await?,
    };
    let open =
        sqlx::query_scalar!("SELECT number FROM job WHERE instrument_id = ? AND is_open = 1 LIMIT 1", instrument)
            .fetch_optional(&mut *on)
            .await?;
    if let Some(number) = open {
        return Err(Error::refused(format!("This instrument is in the house already, as {number}.")));
    }
    let earlier = sqlx::query_scalar!(
        r#"SELECT id AS "id: JobId" FROM job WHERE instrument_id = ? ORDER BY checked_in_at DESC LIMIT 1"#,
        instrument,
    )
    .fetch_optional(&mut *on)
    .await?;
    let id = JobId::new();
    let year = i64::from(today.year().rem_euclid(100));
    let serial =
        sqlx::query_scalar!(r#"SELECT coalesce(max(serial), 0) + 1 AS "serial!: i64" FROM job WHERE year = ?"#, year,)
            .fetch_one(&mut *on)
            .await?;
    let number = format!("{year:02}-{serial:04}");
    let link_hash = link::hash(&secret.token(id));
    let link_hash = link_hash.as_slice();
    let (brought_with, rack) = (canonical(&entry.brought_with), canonical(&entry.rack));
    sqlx::query!(
        "INSERT INTO job (id, year, serial, number, customer_id, instrument_id, earlier_job_id, complaint, style, brought_with,
             rack, promised_on, stage, stage_since, checked_in_at, link_hash, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'checked-in', ?, ?, ?, ?)",
        id,
        year,
        serial,
        number,
        customer,
        instrument,
        earlier,
        complaint,
        entry.style,
        brought_with,
        rack,
        entry.promised_on,
        by.at,
        by.at,
        link_hash,
        form_key,
    )
    .execute(&mut *on)
    .await?;
    for (side, note) in &entry.marks {
        condition::add(&mut *on, by, id, *side, None, note).await?;
    }
    let after = find(&mut *on, id).await?;
    event::write(on, by, "checked in", "job", id.0, None, Some(&after)).await?;
    Ok(id)
}

/// Every job of one customer becomes another's, because both are one person. Answers how many.
pub(super) async fn move_all(on: Writing<'_>, from: CustomerId, into: CustomerId) -> Result<u64> {
    let done = sqlx::query!("UPDATE job SET customer_id = ?, version = version + 1 WHERE customer_id = ?", into, from)
        .execute(on)
        .await?;
    Ok(done.rows_affected())
}

/// The jobs of a customer, oldest first.
pub async fn of_customer(on: impl sqlx::SqliteExecutor<'_>, customer: CustomerId) -> Result<Vec<JobId>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: JobId" FROM job WHERE customer_id = ? ORDER BY checked_in_at"#,
        customer
    )
    .fetch_all(on)
    .await?)
}

/// Another job of the same customer.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Neighbour {
    pub id: JobId,
    pub number: String,
    pub checked_in_at: Instant,
}

/// Jobs of the same customer that came in within a day of this one: who asks knows which day it was in the shop.
pub async fn of_same_days(on: impl sqlx::SqliteExecutor<'_>, job: &Job) -> Result<Vec<Neighbour>> {
    const DAY_US: i64 = 86_400_000_000;
    let (from, to) = (job.checked_in_at.0 - DAY_US, job.checked_in_at.0 + DAY_US);
    Ok(sqlx::query_as!(
        Neighbour,
        r#"SELECT id AS "id: JobId", number, checked_in_at AS "checked_in_at: Instant" FROM job
           WHERE customer_id = ? AND id <> ? AND checked_in_at BETWEEN ? AND ? ORDER BY number LIMIT 20"#,
        job.customer_id,
        job.id,
        from,
        to,
    )
    .fetch_all(on)
    .await?)
}

/// One job.
pub async fn find(on: impl sqlx::SqliteExecutor<'_>, id: JobId) -> Result<Job> {
    sqlx::query_as!(
        Job,
        r#"SELECT id AS "id: JobId", number, customer_id AS "customer_id: CustomerId", instrument_id AS "instrument_id: InstrumentId",
                  earlier_job_id AS "earlier_job_id: JobId", complaint, style AS "style: Style", brought_with, rack,
                  staff_id AS "staff_id: StaffId", promised_on AS "promised_on: Date", stage AS "stage: Stage",
                  stage_since AS "stage_since: Instant", waiting_for AS "waiting_for: WaitingFor", waiting_reason,
                  checked_in_at AS "checked_in_at: Instant", version
           FROM job WHERE id = ?"#,
        id,
    )
    .fetch_optional(on)
    .await?
    .ok_or(Error::NotFound("job"))
}

/// The latest job of an instrument.
pub async fn latest_of(on: Writing<'_>, instrument: InstrumentId) -> Result<Option<Job>> {
    let latest = sqlx::query_scalar!(
        r#"SELECT id AS "id: JobId" FROM job WHERE instrument_id = ? ORDER BY checked_in_at DESC LIMIT 1"#,
        instrument,
    )
    .fetch_optional(&mut *on)
    .await?;
    match latest {
        Some(id) => Ok(Some(find(on, id).await?)),
        None => Ok(None),
    }
}

/// Whether a form was sent before.
pub async fn was_checked_in(on: impl sqlx::SqliteExecutor<'_>, form_key: &str) -> Result<bool> {
    let jobs = sqlx::query_scalar!("SELECT count(*) FROM job WHERE form_key = ?", form_key).fetch_one(on).await?;
    Ok(jobs > 0)
}

/// The job of a printed or scanned number.
pub async fn by_number(on: impl sqlx::SqliteExecutor<'_>, number: &str) -> Result<Option<JobId>> {
    let number = number.trim();
    Ok(sqlx::query_scalar!(r#"SELECT id AS "id: JobId" FROM job WHERE number = ?"#, number).fetch_optional(on).await?)
}

/// The job of a customer's private link.
pub async fn by_link(on: impl sqlx::SqliteExecutor<'_>, token: &str) -> Result<JobId> {
    let hash = link::hash(token);
    let hash = hash.as_slice();
    sqlx::query_scalar!(r#"SELECT id AS "id: JobId" FROM job WHERE link_hash = ?"#, hash)
        .fetch_optional(on)
        .await?
        .ok_or(Error::NotFound("page"))
}

/// Moves a job because somebody pressed it. A job with final readings that becomes *ready* is a
/// finished setup: it writes the instrument's yearly care, counted from `today`.
///
/// # Errors
/// [`Error::Refused`] when the table allows no such move, it needs a reason, or the final check is not
/// complete; [`Error::ChangedMeanwhile`]
/// when the job moved since the page was read.
pub async fn press_move(
    on: Writing<'_>,
    by: &By,
    today: Date,
    id: JobId,
    version: i64,
    to: Stage,
    reason: &str,
) -> Result<()> {
    let job = find(&mut *on, id).await?;
    if job.version != version {
        return Err(Error::ChangedMeanwhile("job"));
    }
    let reason = canonical(reason);
    match job.stage.move_to(to).map(|allowed| allowed.how) {
        Some(How::Pressed) => {}
        Some(How::PressedWithReason) if reason.is_empty() => {
            return Err(Error::refused(format!("Say why {} goes to “{to}”.", job.number)));
        }
        Some(How::PressedWithReason) => {}
        Some(How::Follows) => {
            return Err(Error::refused(format!("“{to}” follows by itself from the deed: it cannot be pressed.")));
        }
        None => {
            return Err(Error::refused(format!("A job cannot go from “{}” to “{to}”.", job.stage)));
        }
    }
    if to == Stage::Ready {
        final_check::require_complete(&mut *on, &job).await?;
    }
    change_stage(&mut *on, by, &job, to, &reason).await?;
    if to == Stage::Ready && has_final_readings(&mut *on, id).await? {
        care::write_after_setup(on, by, job.instrument_id, today).await?;
    }
    Ok(())
}

async fn has_final_readings(on: Writing<'_>, id: JobId) -> Result<bool> {
    let sets = sqlx::query_scalar!("SELECT count(*) FROM reading_set WHERE job_id = ? AND stage = 'final'", id)
        .fetch_one(on)
        .await?;
    Ok(sets > 0)
}

/// Moves a job because a deed says so, when it stands at `from`; else leaves it.
pub(super) async fn follow(on: Writing<'_>, by: &By, id: JobId, from: Stage, to: Stage) -> Result<()> {
    let job = find(&mut *on, id).await?;
    if job.stage != from || job.stage.move_to(to).is_none() {
        return Ok(());
    }
    change_stage(on, by, &job, to, "").await
}

#[derive(Serialize)]
struct StageSeen<'a> {
    stage: Stage,
    #[serde(skip_serializing_if = "str::is_empty")]
    reason: &'a str,
}

async fn change_stage(on: Writing<'_>, by: &By, job: &Job, to: Stage, reason: &str) -> Result<()> {
    sqlx::query!(
        "UPDATE job SET stage = ?, stage_since = ?, waiting_for = NULL, waiting_reason = NULL, version = version + 1 WHERE id = ?",
        to,
        by.at,
        job.id,
    )
    .execute(&mut *on)
    .await?;
    let (before, after) = (StageSeen { stage: job.stage, reason: "" }, StageSeen { stage: to, reason });
    event::write(on, by, "stage moved", "job", job.id.0, Some(&before), Some(&after)).await
}

/// Hands the instrument over: ready becomes collected.
///
/// # Errors
/// Refused when the job is not ready.
pub async fn hand_over(on: Writing<'_>, by: &By, id: JobId) -> Result<()> {
    let job = find(&mut *on, id).await?;
    match job.stage {
        Stage::Collected => Ok(()), // pressed twice
        Stage::Ready => change_stage(on, by, &job, Stage::Collected, "").await,
        other => Err(Error::refused(format!("{} is {other}. It can be handed over once it is ready.", job.number))),
    }
}

/// Sets a job aside with a reason, or takes it up again (`None`).
pub async fn wait(
    on: Writing<'_>,
    by: &By,
    id: JobId,
    version: i64,
    waiting: Option<(WaitingFor, &str)>,
) -> Result<()> {
    let job = find(&mut *on, id).await?;
    if job.version != version {
        return Err(Error::ChangedMeanwhile("job"));
    }
    if !job.stage.is_open() {
        return Err(Error::refused(format!("{} has left the house.", job.number)));
    }
    let reason = waiting.map(|(_, reason)| canonical(reason));
    if reason.as_deref() == Some("") {
        return Err(Error::refused("Say what is missing, so that the next person knows."));
    }
    let waiting_for = waiting.map(|(waiting_for, _)| waiting_for);
    sqlx::query!(
        "UPDATE job SET waiting_for = ?, waiting_reason = ?, version = version + 1 WHERE id = ?",
        waiting_for,
        reason,
        id,
    )
    .execute(&mut *on)
    .await?;
    let deed = if waiting.is_some() { "set aside to wait" } else { "taken up again" };
    let (before, after) = ((job.waiting_for, job.waiting_reason), (waiting_for, reason));
    event::write(on, by, deed, "job", id.0, Some(&before), Some(&after)).await
}

/// Whether a job waits, or was set aside to wait at any time since a moment.
pub async fn waited_since(on: impl sqlx::SqliteExecutor<'_>, job: &Job, since: Instant) -> Result<bool> {
    let set_aside = sqlx::query_scalar!(
        "SELECT count(*) FROM event
         WHERE record_id = ? AND deed IN ('set aside to wait', 'taken up again') AND at >= ?",
        job.id,
        since,
    )
    .fetch_one(on)
    .await?;
    Ok(job.waiting_for.is_some() || set_aside > 0)
}

/// What the desk may correct on a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct JobEntry {
    pub complaint: String,
    pub style: Style,
    pub brought_with: String,
    pub rack: String,
    pub promised_on: Option<Date>,
    pub staff_id: Option<StaffId>,
}

/// Saves corrected details. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(on: Writing<'_>, by: &By, id: JobId, version: i64, entry: &JobEntry) -> Result<()> {
    let before = find(&mut *on, id).await?;
    let entry = JobEntry {
        complaint: canonical(&entry.complaint),
        brought_with: canonical(&entry.brought_with),
        rack: canonical(&entry.rack),
        ..entry.clone()
    };
    if entry.complaint.is_empty() {
        return Err(Error::refused("Write down what the customer says is wrong."));
    }
    let done = sqlx::query!(
        "UPDATE job SET complaint = ?, style = ?, brought_with = ?, rack = ?, promised_on = ?, staff_id = ?, version = version + 1
         WHERE id = ? AND version = ?",
        entry.complaint,
        entry.style,
        entry.brought_with,
        entry.rack,
        entry.promised_on,
        entry.staff_id,
        id,
        version,
    )
    .execute(&mut *on)
    .await?;
    if done.rows_affected() == 0 {
        return Err(Error::ChangedMeanwhile("job"));
    }
    let after = find(&mut *on, id).await?;
    event::write(on, by, "job changed", "job", id.0, Some(&before), Some(&after)).await
}

/// Takes a job into one's hands.
pub async fn take_on(on: Writing<'_>, by: &By, id: JobId) -> Result<()> {
    let person = by.person()?;
    let before = find(&mut *on, id).await?.staff_id;
    sqlx::query!("UPDATE job SET staff_id = ?, version = version + 1 WHERE id = ?", person, id)
        .execute(&mut *on)
        .await?;
    event::write(on, by, "taken on", "job", id.0, before.as_ref(), Some(&person)).await
}

/// One open job, as a queue shows it.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct QueueRow {
    pub id: JobId,
    pub number: String,
    pub customer: String,
    pub telephone: String,
    pub telephone_e164: Option<String>,
    pub reach_by: ReachBy,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub complaint: String,
    pub rack: String,
    pub staff: Option<String>,
    pub staff_id: Option<StaffId>,
    pub promised_on: Option<Date>,
    pub stage: Stage,
    pub stage_since: Instant,
    pub waiting_for: Option<WaitingFor>,
    pub waiting_reason: Option<String>,
    pub checked_in_at: Instant,
}

/// The open jobs, what is due first; those without a promise last.
pub async fn open_jobs(on: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<QueueRow>> {
    Ok(sqlx::query_as!(
        QueueRow,
        r#"SELECT job.id AS "id: JobId", job.number, customer.name AS customer, customer.telephone,
                  customer.telephone_e164, customer.reach_by AS "reach_by: ReachBy", instrument.family AS "family: Family", instrument.maker, instrument.model, job.complaint, job.rack,
                  staff.name AS "staff?", job.staff_id AS "staff_id: StaffId", job.promised_on AS "promised_on: Date",
                  job.stage AS "stage: Stage", job.stage_since AS "stage_since: Instant",
                  job.waiting_for AS "waiting_for: WaitingFor", job.waiting_reason,
                  job.checked_in_at AS "checked_in_at: Instant"
           FROM job
           JOIN customer ON customer.id = job.customer_id
           JOIN instrument ON instrument.id = job.instrument_id
           LEFT JOIN staff ON staff.id = job.staff_id
           WHERE job.is_open = 1
           ORDER BY job.promised_on IS NULL, job.promised_on, job.number"#
    )
    .fetch_all(on)
    .await?)
}

/// A job in the history of a customer or an instrument.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Visit {
    pub id: JobId,
    pub number: String,
    pub instrument_id: InstrumentId,
    pub maker: String,
    pub model: String,
    pub family: Family,
    pub complaint: String,
    pub stage: Stage,
    pub promised_on: Option<Date>,
    pub checked_in_at: Instant,
}

/// Jobs of one customer, or of one instrument, newest first.
pub async fn visits(
    on: impl sqlx::SqliteExecutor<'_>,
    customer: Option<CustomerId>,
    instrument: Option<InstrumentId>,
) -> Result<Vec<Visit>> {
    Ok(sqlx::query_as!(
        Visit,
        r#"SELECT job.id AS "id: JobId", job.number, job.instrument_id AS "instrument_id: InstrumentId", instrument.maker,
                  instrument.model, instrument.family AS "family: Family", job.complaint, job.stage AS "stage: Stage",
                  job.promised_on AS "promised_on: Date", job.checked_in_at AS "checked_in_at: Instant"
           FROM job JOIN instrument ON instrument.id = job.instrument_id
           WHERE job.customer_id = ?1 OR job.instrument_id = ?2
           ORDER BY job.checked_in_at DESC"#,
        customer,
        instrument,
    )
    .fetch_all(on)
    .await?)
}
