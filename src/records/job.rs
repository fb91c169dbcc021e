//! Jobs: one stay of one instrument, from the counter to the counter. The row, its stage and its waits alone: what a
//! move asks of other records is `moves.rs`, and how a stay begins is `check_in.rs`.

mod private_link;
mod visits;

use serde::Serialize;
use time::Date;

use super::column::words;
use super::error::{ensure_updated, ensure_version};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::stage::{Stage, WaitingFor};
use super::{CustomerId, Error, InstrumentId, JobId, Result, StaffId, WriteTx};
use crate::quantity::Instant;

pub use private_link::{by_link, by_link_that_holds, new_link};
pub use visits::{PastVisit, Visits, latest_visits, visits};

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

/// A job.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for the one explained")]
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
    /// When a line that was ticked off was last opened again.
    pub work_reopened_at: Option<Instant>,
    pub checked_in_at: Instant,
    /// How often the customer's private link was made anew.
    pub link_number: i64,
    pub version: i64,
}

/// Another stay of an instrument.
#[derive(Debug, Clone)]
pub(super) struct OtherStay {
    pub id: JobId,
    pub number: String,
    pub is_open: bool,
    pub checked_in_at: Instant,
}

/// The stays of an instrument but for one, newest first.
pub(super) async fn of_instrument_but(
    executor: impl sqlx::SqliteExecutor<'_>,
    instrument: InstrumentId,
    but: JobId,
) -> Result<Vec<OtherStay>> {
    Ok(sqlx::query_as!(
        OtherStay,
        r#"SELECT id AS "id: JobId", number, is_open AS "is_open!: bool", checked_in_at AS "checked_in_at: Instant" FROM job
           WHERE instrument_id = ? AND id <> ? ORDER BY checked_in_at DESC"#,
        instrument,
        but,
    )
    .fetch_all(executor)
    .await?)
}

/// Whether anything was read on a job, or is being read.
pub(super) async fn was_measured(executor: impl sqlx::SqliteExecutor<'_>, id: JobId) -> Result<bool> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM reading_set WHERE job_id = ?1)
               OR EXISTS (SELECT 1 FROM reading_draft WHERE job_id = ?1) AS "was!: bool""#,
        id,
    )
    .fetch_one(executor)
    .await?)
}

/// Whose a job is and with what, once it was put right.
pub(super) async fn belongs_to(
    tx: &mut WriteTx,
    id: JobId,
    customer: CustomerId,
    instrument: InstrumentId,
    earlier: Option<JobId>,
) -> Result<()> {
    sqlx::query!(
        "UPDATE job SET customer_id = ?, instrument_id = ?, earlier_job_id = ?, version = version + 1 WHERE id = ?",
        customer,
        instrument,
        earlier,
        id,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Every job of one customer becomes another's, because both are one person. Answers which.
pub(super) async fn move_all(tx: &mut WriteTx, from: CustomerId, into: CustomerId) -> Result<Vec<JobId>> {
    Ok(sqlx::query_scalar!(
        r#"UPDATE job SET customer_id = ?, version = version + 1 WHERE customer_id = ? RETURNING id AS "id: JobId""#,
        into,
        from,
    )
    .fetch_all(&mut **tx)
    .await?)
}

/// The jobs that a condition picks.
macro_rules! jobs {
    ($picked:literal, $put:expr) => {
        sqlx::query_as!(
            Job,
            r#"SELECT id AS "id: JobId", number, customer_id AS "customer_id: CustomerId",
                      instrument_id AS "instrument_id: InstrumentId", earlier_job_id AS "earlier_job_id: JobId", complaint,
                      style AS "style: Style", brought_with, rack, staff_id AS "staff_id: StaffId",
                      promised_on AS "promised_on: Date", stage AS "stage: Stage", stage_since AS "stage_since: Instant",
                      waiting_for AS "waiting_for: WaitingFor", waiting_reason,
                      work_reopened_at AS "work_reopened_at: Instant", checked_in_at AS "checked_in_at: Instant",
                      link_number AS "link_number!: i64", version
               FROM job WHERE "#
                + $picked,
            $put
        )
    };
}

/// The jobs of a customer, oldest first.
pub(super) async fn of_customer(executor: impl sqlx::SqliteExecutor<'_>, customer: CustomerId) -> Result<Vec<Job>> {
    Ok(jobs!("customer_id = ? ORDER BY checked_in_at", customer).fetch_all(executor).await?)
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
pub async fn of_same_days(executor: impl sqlx::SqliteExecutor<'_>, job: &Job) -> Result<Vec<Neighbour>> {
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
    .fetch_all(executor)
    .await?)
}

/// One job.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: JobId) -> Result<Job> {
    jobs!("id = ?", id).fetch_optional(executor).await?.ok_or(Error::NotFound("job"))
}

/// The newest job of the house, and its instrument.
pub async fn newest(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Option<(JobId, InstrumentId)>> {
    let row = sqlx::query!(
        r#"SELECT id AS "id: JobId", instrument_id AS "instrument_id: InstrumentId" FROM job
           ORDER BY checked_in_at DESC LIMIT 1"#
    )
    .fetch_optional(executor)
    .await?;
    Ok(row.map(|row| (row.id, row.instrument_id)))
}

/// One job whose instrument is in the house; `what` finishes "26-0417 has left the house: …".
///
/// # Errors
/// Refused once it has left.
pub(super) async fn in_the_house(executor: impl sqlx::SqliteExecutor<'_>, id: JobId, what: &str) -> Result<Job> {
    let job = find(executor, id).await?;
    if !job.stage.is_open() {
        return Err(Error::refused(format!(
            "{} has left the house: {what}. When the instrument comes back, check it in again.",
            job.number
        )));
    }
    Ok(job)
}

/// The job of a printed or scanned number.
pub async fn by_number(executor: impl sqlx::SqliteExecutor<'_>, number: &str) -> Result<Option<JobId>> {
    let number = number.trim();
    Ok(sqlx::query_scalar!(r#"SELECT id AS "id: JobId" FROM job WHERE number = ?"#, number)
        .fetch_optional(executor)
        .await?)
}

/// Moves a job because a deed says so, when it stands at `from`; else leaves it.
pub(super) async fn follow(tx: &mut WriteTx, by: &AuditContext, id: JobId, from: Stage, to: Stage) -> Result<()> {
    let job = find(&mut **tx, id).await?;
    if job.stage != from || job.stage.move_to(to).is_none() {
        return Ok(());
    }
    change_stage(tx, by, &job, to, "").await
}

#[derive(Serialize)]
struct StageChange<'a> {
    stage: Stage,
    #[serde(skip_serializing_if = "str::is_empty")]
    reason: &'a str,
}

/// Puts a job at a stage. Who asks has made sure that it may go there.
pub(super) async fn change_stage(
    tx: &mut WriteTx,
    by: &AuditContext,
    job: &Job,
    to: Stage,
    reason: &str,
) -> Result<()> {
    sqlx::query!(
        "UPDATE job SET stage = ?1, stage_since = ?2, waiting_for = NULL, waiting_reason = NULL, version = version + 1,
             ready_at = CASE WHEN stage = 'collected' AND ?1 = 'ready' THEN ready_at WHEN ?1 = 'ready' THEN ?2
                             WHEN ?1 = 'collected' THEN ready_at END
         WHERE id = ?3",
        to,
        by.at,
        job.id,
    )
    .execute(&mut **tx)
    .await?;
    end_wait(tx, by, job.id).await?;
    // a clock that stepped back makes a stay of nothing, not a negative one
    let since = job.stage_since.min(by.at);
    sqlx::query!(
        "INSERT INTO job_move (job_id, from_stage, to_stage, moved_at, from_since) VALUES (?, ?, ?, ?, ?)",
        job.id,
        job.stage,
        to,
        by.at,
        since,
    )
    .execute(&mut **tx)
    .await?;
    let (before, after) = (StageChange { stage: job.stage, reason: "" }, StageChange { stage: to, reason });
    event::write(tx, by, "stage moved", "job", job.id.0, Some(&before), Some(&after)).await
}

/// Takes the words of a job out, and its private link with them: its customer asked to be forgotten. Which stages
/// it went through, when, and by whom stays.
pub(super) async fn anonymise(tx: &mut WriteTx, id: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE job SET complaint = 'anonymised', brought_with = '', waiting_reason = iif(waiting_for IS NULL, NULL, ''),
             link_hash = randomblob(32), version = version + 1
         WHERE id = ?",
        id,
    )
    .execute(&mut **tx)
    .await?;
    event::anonymise_except_stages(tx, id.0).await
}

/// Whether a job came to a stage after a moment.
pub(super) async fn came_to_since(
    executor: impl sqlx::SqliteExecutor<'_>,
    id: JobId,
    stage: Stage,
    since: Instant,
) -> Result<bool> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM job_move WHERE job_id = ? AND to_stage = ? AND moved_at > ?) AS "came!: bool""#,
        id,
        stage,
        since,
    )
    .fetch_one(executor)
    .await?)
}

/// Keeps that work on a job was opened again: what was answered of it before is asked anew.
pub(super) async fn work_was_reopened(tx: &mut WriteTx, by: &AuditContext, id: JobId) -> Result<()> {
    // no new version: whoever has the job's form open wrote of something else
    sqlx::query!("UPDATE job SET work_reopened_at = ? WHERE id = ?", by.at, id).execute(&mut **tx).await?;
    Ok(())
}

/// Sets a job aside with a reason, or takes it up again (`None`). Pressed twice it is done once.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when the job changed since the page was read; refused once the instrument has left the
/// house, and without a reason.
pub async fn wait(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: JobId,
    version: i64,
    waiting: Option<(WaitingFor, &str)>,
) -> Result<()> {
    let job = in_the_house(&mut **tx, id, "it waits for nothing any more").await?;
    let reason = waiting.map(|(_, reason)| canonical(reason));
    if job.waiting_for == waiting.map(|(waiting_for, _)| waiting_for) && job.waiting_reason == reason {
        return Ok(());
    }
    ensure_version(job.version, version, "job")?;
    if reason.as_deref() == Some("") {
        return Err(Error::refused("Say what is missing, so that the next person knows."));
    }
    let waiting_for = waiting.map(|(waiting_for, _)| waiting_for);
    let done = sqlx::query!(
        "UPDATE job SET waiting_for = ?, waiting_reason = ?, version = version + 1 WHERE id = ? AND version = ?",
        waiting_for,
        reason,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    ensure_updated(&done, "job")?;
    end_wait(tx, by, id).await?;
    if let Some(waiting_for) = waiting_for {
        sqlx::query!("INSERT INTO job_wait (job_id, waiting_for, begun_at) VALUES (?, ?, ?)", id, waiting_for, by.at)
            .execute(&mut **tx)
            .await?;
    }
    let deed = if waiting.is_some() { "set aside to wait" } else { "taken up again" };
    let (before, after) = ((job.waiting_for, job.waiting_reason), (waiting_for, reason));
    event::write(tx, by, deed, "job", id.0, Some(&before), Some(&after)).await
}

async fn end_wait(tx: &mut WriteTx, by: &AuditContext, id: JobId) -> Result<()> {
    // a clock that stepped back makes a wait of nothing, not a negative one
    sqlx::query!("UPDATE job_wait SET ended_at = max(?, begun_at) WHERE job_id = ? AND ended_at IS NULL", by.at, id)
        .execute(&mut **tx)
        .await?;
    Ok(())
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
pub(super) async fn save(tx: &mut WriteTx, by: &AuditContext, id: JobId, version: i64, entry: &JobEntry) -> Result<()> {
    let before = find(&mut **tx, id).await?;
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
    .execute(&mut **tx)
    .await?;
    ensure_updated(&done, "job")?;
    let after = find(&mut **tx, id).await?;
    event::write(tx, by, "job changed", "job", id.0, Some(&before), Some(&after)).await
}

/// Takes a job into one's hands.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn take_on(tx: &mut WriteTx, by: &AuditContext, id: JobId) -> Result<()> {
    let person = by.person()?;
    let before = in_the_house(&mut **tx, id, "nobody takes it on any more").await?.staff_id;
    sqlx::query!("UPDATE job SET staff_id = ?, version = version + 1 WHERE id = ?", person, id)
        .execute(&mut **tx)
        .await?;
    event::write(tx, by, "taken on", "job", id.0, before.as_ref(), Some(&person)).await
}
