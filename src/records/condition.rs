//! Condition marks: what was already so when the instrument came in.

use serde::Serialize;

use super::column::{as_json, words};
use super::event::{self, AuditContext, NewEvent};
use super::fold::canonical;
use super::{ConditionId, Error, JobId, Result, WriteTx, job};

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
    /// Key.
    pub id: ConditionId,
    /// Number on the outline and the ticket.
    pub number: i64,
    /// Face.
    pub side: Side,
    /// "Dent below the bridge, finish unbroken."
    pub note: String,
    /// Where on the outline, where a place was tapped.
    pub place: Option<Place>,
}

/// A place on an outline, in thousandths of its width and height from the top left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Place {
    pub x_permille: i64,
    pub y_permille: i64,
}

/// Adds a mark with the next number; the same form sent twice adds one.
///
/// # Errors
/// Refused without words, off the outline, or when the instrument has left the house.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    job: JobId,
    form_key: &str,
    side: Side,
    place: Option<Place>,
    note: &str,
) -> Result<()> {
    let already = sqlx::query_scalar!("SELECT count(*) FROM condition_mark WHERE form_key = ?", form_key)
        .fetch_one(&mut **tx)
        .await?;
    if already > 0 {
        return Ok(());
    }
    job::in_the_house(&mut **tx, job, "the state it came in is settled").await?;
    let note = canonical(note);
    if note.is_empty() {
        return Err(Error::refused("Say what the mark is."));
    }
    let on_outline = |place: Place| [place.x_permille, place.y_permille].iter().all(|at| (0..=1000).contains(at));
    if place.is_some_and(|place| !on_outline(place)) {
        return Err(Error::refused("That place lies beside the drawing. Tap on it, or leave the place out."));
    }
    let (x, y) = place.map(|place| (place.x_permille, place.y_permille)).unzip();
    let id = ConditionId::new();
    let number = sqlx::query_scalar!(
        r#"SELECT coalesce(max(number), 0) + 1 AS "number!: i64" FROM condition_mark WHERE job_id = ?"#,
        job,
    )
    .fetch_one(&mut **tx)
    .await?;
    sqlx::query!(
        "INSERT INTO condition_mark (id, job_id, number, side, note, x_permille, y_permille, made_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job,
        number,
        side,
        note,
        x,
        y,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    let mark = ConditionMark { id, number, side, note, place };
    event::write(tx, by, "condition marked", "job", job.0, None, Some(&mark)).await
}

/// The marks that a job comes in with, numbered from 1, in one statement. The events that tell of them are the caller's
/// to write, with others.
///
/// # Errors
/// Refused without words.
pub(super) async fn insert_first(
    tx: &mut WriteTx,
    by: &AuditContext,
    job: JobId,
    form_key: &str,
    marks: &[(Side, String)],
) -> Result<Vec<NewEvent>> {
    let mut rows = Vec::with_capacity(marks.len());
    for (number, (side, note)) in (1_i64..).zip(marks) {
        let note = canonical(note);
        if note.is_empty() {
            return Err(Error::refused("Say what the mark is."));
        }
        rows.push(ConditionMark { id: ConditionId::new(), number, side: *side, note, place: None });
    }
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let json = as_json(&rows)?;
    sqlx::query!(
        "INSERT INTO condition_mark (id, job_id, number, side, note, made_at, form_key)
         SELECT unhex(value ->> 'id', '-'), ?, value ->> 'number', value ->> 'side', value ->> 'note', ?, ? || '-' || key
         FROM json_each(?)",
        job,
        by.at,
        form_key,
        json,
    )
    .execute(&mut **tx)
    .await?;
    rows.iter().map(|mark| NewEvent::made("condition marked", "job", job.0, mark)).collect()
}

/// Takes a mark back that was a slip: it stands on no page or paper any more, its number is not given again, and
/// what it said stays on record. Pressed twice it is taken back once.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn take_back(tx: &mut WriteTx, by: &AuditContext, id: ConditionId) -> Result<JobId> {
    let job = sqlx::query_scalar!(r#"SELECT job_id AS "job_id: JobId" FROM condition_mark WHERE id = ?"#, id)
        .fetch_optional(&mut **tx)
        .await?
        .ok_or(Error::NotFound("mark"))?;
    let Some(mark) = of_job(&mut **tx, job).await?.into_iter().find(|mark| mark.id == id) else {
        return Ok(job);
    };
    job::in_the_house(&mut **tx, job, "the state it came in is settled").await?;
    sqlx::query!("UPDATE condition_mark SET taken_back_at = ? WHERE id = ?", by.at, id).execute(&mut **tx).await?;
    event::write(tx, by, "condition mark taken back", "job", job.0, Some(&mark), None).await?;
    Ok(job)
}

/// Takes the words of a job's marks out: its customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE condition_mark SET note = 'anonymised' WHERE job_id = ?", job).execute(&mut **tx).await?;
    Ok(())
}

/// The marks of a job that stand, by number.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<ConditionMark>> {
    Ok(of_jobs(executor, &[job]).await?.into_iter().map(|(_, mark)| mark).collect())
}

/// The marks of some jobs that stand, by number.
pub(super) async fn of_jobs(
    executor: impl sqlx::SqliteExecutor<'_>,
    jobs: &[JobId],
) -> Result<Vec<(JobId, ConditionMark)>> {
    let jobs = as_json(jobs)?;
    let rows = sqlx::query!(
        r#"SELECT id AS "id: ConditionId", job_id AS "job_id: JobId", number, side AS "side: Side", note, x_permille,
                  y_permille
           FROM condition_mark WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) AND taken_back_at IS NULL
           ORDER BY number"#,
        jobs,
    )
    .fetch_all(executor)
    .await?;
    let marks = rows.into_iter().map(|row| {
        let place = row.x_permille.zip(row.y_permille).map(|(x_permille, y_permille)| Place { x_permille, y_permille });
        (row.job_id, ConditionMark { id: row.id, number: row.number, side: row.side, note: row.note, place })
    });
    Ok(marks.collect())
}
