//! Notes to the next pair of hands on a job: written once, never changed.

use serde::{Deserialize, Serialize};

use super::column::as_json;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{Error, JobId, NoteId, Result, WriteTx, job};
use crate::quantity::Instant;

/// Notes shown on a page, at most.
pub(super) const MOST: i64 = 50;

/// One note.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Note {
    /// On which job.
    #[serde(skip)]
    pub job_id: JobId,
    /// What it says.
    pub words: String,
    /// Who wrote it.
    pub who: String,
    /// When.
    pub at: Instant,
}

/// Writes a note; the same form sent twice writes one.
///
/// # Errors
/// Refused when it says nothing, when its form brought another note before, and once the instrument has left the house.
pub async fn write(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, form_key: &str, words: &str) -> Result<()> {
    let words = canonical(words);
    let before = sqlx::query!(r#"SELECT job_id AS "job_id: JobId", words FROM job_note WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?;
    match before {
        Some(before) if before.job_id == job_id && before.words == words => return Ok(()),
        Some(_) => {
            return Err(Error::refused(
                "This form was sent before, with another note: write it once more on the job's page.",
            ));
        }
        None => {}
    }
    let person = by.person()?;
    job::in_the_house(&mut **tx, job_id, "nobody works on it any more").await?;
    if words.is_empty() {
        return Err(Error::refused("Write what the next pair of hands should know."));
    }
    let id = NoteId::new();
    sqlx::query!(
        "INSERT INTO job_note (id, job_id, words, staff_id, written_at, form_key) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        words,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "note written", "job", job_id.0, None, Some(&words)).await
}

/// Takes the words of a job's notes out: its customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE job_note SET words = 'anonymised' WHERE job_id = ?", job).execute(&mut **tx).await?;
    Ok(())
}

/// The newest notes of a job, newest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Note>> {
    newest(executor, &[job], MOST).await
}

/// Every note of some jobs, newest first.
pub(super) async fn all_of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Note>> {
    newest(executor, jobs, -1).await
}

async fn newest(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId], most: i64) -> Result<Vec<Note>> {
    let jobs = as_json(jobs)?;
    Ok(sqlx::query_as!(
        Note,
        r#"SELECT job_id AS "job_id: JobId", words, staff.name AS who, written_at AS "at: Instant"
           FROM job_note JOIN staff ON staff.id = job_note.staff_id
           WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?))
           ORDER BY written_at DESC, job_note.id DESC LIMIT ?"#,
        jobs,
        most,
    )
    .fetch_all(executor)
    .await?)
}
