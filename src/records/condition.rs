//! Condition marks: what was already so when the instrument came in.

use serde::Serialize;

use super::column::words;
use super::event::{self, By};
use super::fold::canonical;
use super::{ConditionId, Error, JobId, Result, Writing};

words! {
    /// Which face of the instrument.
    Side {
        /// Top.
        Front = "front" => "front",
        /// Back.
        Back = "back" => "back",
        /// Rim.
        Side = "side" => "side",
        /// Head.
        Headstock = "headstock" => "headstock",
    }
}

/// One numbered mark.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ConditionMark {
    /// Number on the outline and the ticket.
    pub number: i64,
    /// Face.
    pub side: Side,
    /// "Dent below the bridge, finish unbroken."
    pub note: String,
}

/// Adds a mark with the next number.
pub async fn add(on: Writing<'_>, by: &By, job: JobId, side: Side, note: &str) -> Result<()> {
    let note = canonical(note);
    if note.is_empty() {
        return Err(Error::refused("Say what the mark is."));
    }
    let id = ConditionId::new();
    let number = sqlx::query_scalar!(
        r#"SELECT coalesce(max(number), 0) + 1 AS "number!: i64" FROM condition_mark WHERE job_id = ?"#,
        job,
    )
    .fetch_one(&mut *on)
    .await?;
    sqlx::query!(
        "INSERT INTO condition_mark (id, job_id, number, side, note, made_at) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        job,
        number,
        side,
        note,
        by.at,
    )
    .execute(&mut *on)
    .await?;
    let mark = ConditionMark { number, side, note };
    event::write(on, by, "condition marked", "job", job.0, None, Some(&mark)).await
}

/// The marks of a job, by number.
pub async fn of_job(on: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<ConditionMark>> {
    Ok(sqlx::query_as!(
        ConditionMark,
        r#"SELECT number, side AS "side: Side", note FROM condition_mark WHERE job_id = ? ORDER BY number"#,
        job,
    )
    .fetch_all(on)
    .await?)
}
