//! What the technician finds by eye and ear. The keys are the setup engine's.

use serde::{Deserialize, Serialize};

use super::column::as_json;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{Error, JobId, ObservationId, Result, WriteTx, job};
use crate::quantity::Instant;
use crate::setup::plan::ObservationKey;

/// One thing seen or heard.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Observation {
    /// Key.
    pub id: ObservationId,
    /// Of which job.
    #[serde(skip)]
    pub job_id: JobId,
    /// The engine's word for it: "buzz", "nut-reversed"…
    pub key: String,
    /// On which string, where that matters.
    pub string_number: Option<i64>,
    /// At which fret, where that matters; 0 is the open string.
    pub fret: Option<i64>,
    /// In the technician's words.
    pub note: String,
    /// When it was seen.
    pub seen_at: Instant,
    /// When it was put right, or seen to be gone.
    pub cleared_at: Option<Instant>,
    /// It was written down by mistake: nothing was put right.
    pub taken_back: bool,
}

impl Observation {
    /// In words, without its place: "buzzes".
    pub fn words(&self) -> &str {
        match self.key.parse::<ObservationKey>() {
            Ok(key) => key.spoken(),
            Err(()) => &self.key,
        }
    }

    /// Whether it stood when readings were taken: not put right before that. Where putting it right changes no reading,
    /// it counts no more as soon as it is.
    pub fn stood_at(&self, taken_at: Instant) -> bool {
        self.cleared_at.is_none_or(|cleared| !self.taken_back && cleared > taken_at && !self.makes_stale().is_empty())
    }

    /// The readings that say nothing any more once it is put right.
    pub fn makes_stale(&self) -> &'static [&'static str] {
        self.key.parse().map_or(&[], ObservationKey::makes_stale)
    }

    /// "string 6, fret 3"; empty where it has no place.
    pub fn place(&self) -> String {
        let string = self.string_number.map(|string| format!("string {string}"));
        let fret = self.fret.map(|fret| if fret == 0 { "open".to_owned() } else { format!("fret {fret}") });
        string.into_iter().chain(fret).collect::<Vec<_>>().join(", ")
    }

    /// Both, and what was written beside it.
    pub fn in_words(&self) -> String {
        let parts = [self.words(), &self.place(), &self.note];
        parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", ")
    }
}

/// Writes an observation down; the same form sent twice makes one.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn note(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    key: &str,
    place: (Option<i64>, Option<i64>),
    words: &str,
) -> Result<ObservationId> {
    if let Some(id) =
        sqlx::query_scalar!(r#"SELECT id AS "id: ObservationId" FROM observation WHERE form_key = ?"#, form_key)
            .fetch_optional(&mut **tx)
            .await?
    {
        return Ok(id);
    }
    let person = by.person()?;
    job::in_the_house(&mut **tx, job_id, "nothing is noted of it any more").await?;
    let id = ObservationId::new();
    let words = canonical(words);
    let (string_number, fret) = place;
    sqlx::query!(
        "INSERT INTO observation (id, job_id, key, string_number, fret, note, staff_id, seen_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        key,
        string_number,
        fret,
        words,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "observation noted", "job", job_id.0, None, Some(&(key, string_number, fret, words))).await?;
    Ok(id)
}

/// Marks an observation as put right, and says whether it was by this press. It is kept. Pressed twice it is put right
/// once.
///
/// # Errors
/// Refused once the instrument has left the house.
pub(super) async fn clear(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    id: ObservationId,
) -> Result<Option<Observation>> {
    job::in_the_house(&mut **tx, job_id, "what was noted of it stays as it was").await?;
    let done = sqlx::query!(
        "UPDATE observation SET cleared_at = ? WHERE id = ? AND job_id = ? AND cleared_at IS NULL",
        by.at,
        id,
        job_id,
    )
    .execute(&mut **tx)
    .await?;
    let found = of_job(&mut **tx, job_id).await?.into_iter().find(|seen| seen.id == id);
    let found = found.ok_or(Error::NotFound("observation"))?;
    if done.rows_affected() == 0 {
        return Ok(None); // pressed twice
    }
    event::write(tx, by, "observation put right", "job", job_id.0, None, Some(&id)).await?;
    Ok(Some(found))
}

/// Takes back what was written down at a place by mistake. It is kept.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn take_back(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, key: &str, place: (i64, i64)) -> Result<()> {
    job::in_the_house(&mut **tx, job_id, "what was noted of it stays as it was").await?;
    let (string_number, fret) = place;
    let done = sqlx::query!(
        "UPDATE observation SET cleared_at = ?, taken_back = 1
         WHERE job_id = ? AND key = ? AND string_number = ? AND fret = ? AND cleared_at IS NULL",
        by.at,
        job_id,
        key,
        string_number,
        fret,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(()); // pressed twice
    }
    event::write(tx, by, "observation taken back", "job", job_id.0, None, Some(&(key, string_number, fret))).await
}

/// The observations of a job, those that stand first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Observation>> {
    of_jobs(executor, &[job]).await
}

/// The observations of some jobs, those that stand first.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Observation>> {
    let jobs = as_json(jobs)?;
    Ok(sqlx::query_as!(
        Observation,
        r#"SELECT id AS "id: ObservationId", job_id AS "job_id: JobId", key, string_number, fret, note, seen_at AS "seen_at: Instant",
                  cleared_at AS "cleared_at: Instant", taken_back AS "taken_back: bool"
           FROM observation WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?))
           ORDER BY cleared_at IS NOT NULL, seen_at, id"#,
        jobs,
    )
    .fetch_all(executor)
    .await?)
}

/// Takes the words of a job's observations out: its customer asked to be forgotten. What was seen where stays.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE observation SET note = '' WHERE job_id = ?", job).execute(&mut **tx).await?;
    Ok(())
}
