//! Promises that were moved, from the queue or with the details of a job, why, and whether the customer was told.

use serde::Serialize;
use time::Date;

use super::error::ensure_version;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::job::{self, JobEntry};
use super::{Error, JobId, Result, WriteTx};
use crate::quantity::Instant;

/// Who is to be told of what.
#[derive(Debug, Clone)]
pub struct ToTell {
    /// Which job.
    pub job_id: JobId,
    /// The day the customer knows; `None` where none was promised.
    pub from_day: Option<Date>,
    /// The day that holds.
    pub to_day: Date,
    /// When it was moved last.
    pub moved_at: Instant,
}

#[derive(Serialize)]
struct PromisedOn {
    promised_on: Option<Date>,
}

/// Moves a promise to another day and puts it on the list of what customers are to be told. The same form sent twice
/// does it once. `version` is the job's that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`]; refused for a past day, once the instrument is ready, and once it has left the house.
pub async fn move_to(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    id: JobId,
    version: i64,
    form_key: &str,
    day: Date,
) -> Result<()> {
    let done = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM promise_move WHERE form_key = ?) AS "done!: bool""#,
        form_key
    )
    .fetch_one(&mut **tx)
    .await?;
    if done {
        return Ok(());
    }
    let person = by.person()?;
    let job = job::in_the_house(&mut **tx, id, "nothing is promised of it any more").await?;
    if job.stage.keeps_promise() {
        return Err(Error::refused(format!("{} is ready: its promise is kept.", job.number)));
    }
    if job.promised_on == Some(day) {
        return Ok(());
    }
    ensure_version(job.version, version, "job")?;
    if day < today {
        return Err(Error::refused("This day is past. Promise today or a later day."));
    }
    sqlx::query!("UPDATE job SET promised_on = ?, version = version + 1 WHERE id = ?", day, id)
        .execute(&mut **tx)
        .await?;
    sqlx::query!(
        "INSERT INTO promise_move (job_id, from_day, to_day, staff_id, moved_at, form_key) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        job.promised_on,
        day,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    let (before, after) = (PromisedOn { promised_on: job.promised_on }, PromisedOn { promised_on: Some(day) });
    event::write(tx, by, "promise moved", "job", id.0, Some(&before), Some(&after)).await
}

/// Moves of open jobs that the customer was not told of, a job once: from the day they know to the one that holds.
pub async fn to_tell(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<ToTell>> {
    // a bare column beside max() comes from the row of the maximum
    Ok(sqlx::query_as!(
        ToTell,
        r#"SELECT newest.job_id AS "job_id!: JobId", oldest.from_day AS "from_day: Date", newest.to_day AS "to_day: Date",
                  newest.moved_at AS "moved_at: Instant"
           FROM (SELECT job_id, min(id) AS first, max(id) AS last FROM promise_move WHERE told_at IS NULL GROUP BY job_id)
                AS untold
           JOIN promise_move AS oldest ON oldest.id = untold.first
           JOIN promise_move AS newest ON newest.id = untold.last
           JOIN job ON job.id = untold.job_id AND job.is_open = 1
           ORDER BY newest.to_day, newest.id"#
    )
    .fetch_all(executor)
    .await?)
}

/// The customer of a job was told of the day that holds. Pressed twice it does nothing.
pub async fn told(tx: &mut WriteTx, by: &AuditContext, id: JobId) -> Result<()> {
    let person = by.person()?;
    // a clock that stepped back: told when it was moved, not before
    let done = sqlx::query!(
        "UPDATE promise_move SET told_at = max(?, moved_at), told_by = ? WHERE job_id = ? AND told_at IS NULL",
        by.at,
        person,
        id,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(());
    }
    let job = job::find(&mut **tx, id).await?;
    let after = PromisedOn { promised_on: job.promised_on };
    event::write(tx, by, "customer told of the moved promise", "job", id.0, None, Some(&after)).await
}

/// Saves corrected details of a job. A day that was promised and is another now needs a reason, and stands on the list
/// of what customers are to be told. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`]; refused where a promise moves without a reason, or is taken away.
pub async fn save_details(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: JobId,
    version: i64,
    entry: &JobEntry,
    reason: &str,
) -> Result<()> {
    let before = job::find(&mut **tx, id).await?;
    let reason = canonical(reason);
    let moved = before.promised_on.filter(|promised| Some(*promised) != entry.promised_on);
    if moved.is_some() && reason.is_empty() {
        return Err(Error::refused("Say why the promise moves: the customer will ask."));
    }
    if moved.is_some() && entry.promised_on.is_none() {
        return Err(Error::refused("A promise is moved, not taken away: choose the day that holds."));
    }
    job::save(tx, by, id, version, entry).await?;
    let (Some(from), Some(to)) = (moved, entry.promised_on) else { return Ok(()) };
    let person = by.person()?;
    let form_key = format!("details {id} {version}");
    sqlx::query!(
        "INSERT INTO promise_move (job_id, from_day, to_day, staff_id, moved_at, form_key, reason) VALUES (?, ?, ?, ?, ?, ?, ?)",
        id,
        from,
        to,
        person,
        by.at,
        form_key,
        reason,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// How a promise moved.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "the names say it")]
pub struct PromiseMove {
    pub at: Instant,
    pub from_day: Option<Date>,
    pub to_day: Date,
    pub reason: String,
}

/// How the promise of a job moved, oldest first.
pub async fn moves(executor: impl sqlx::SqliteExecutor<'_>, id: JobId) -> Result<Vec<PromiseMove>> {
    Ok(sqlx::query_as!(
        PromiseMove,
        r#"SELECT moved_at AS "at: Instant", from_day AS "from_day: Date", to_day AS "to_day: Date", reason
           FROM promise_move WHERE job_id = ? ORDER BY id"#,
        id,
    )
    .fetch_all(executor)
    .await?)
}

/// Takes the reasons out: the job's customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, id: JobId) -> Result<()> {
    sqlx::query!("UPDATE promise_move SET reason = 'anonymised' WHERE job_id = ? AND reason <> ''", id)
        .execute(&mut **tx)
        .await?;
    Ok(())
}
