//! Places in the queue that somebody gave by hand, with the reason, and taken back. Written once, never changed: the
//! newest of a job counts, for as long as the job it stands beside is open.

use serde::Serialize;

use super::column::words;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{Error, JobId, Result, WriteTx, job};
use crate::quantity::Instant;

/// Moves of one job that its history shows, at most.
const MOST: i64 = 50;
/// Letters of a reason, at most.
const LONGEST_REASON: usize = 500;

words! {
    /// Where somebody put a job.
    QueuePlace {
        /// In front of all that nobody has begun.
        First = "first" => "to the front",
        /// Directly before another job.
        Before = "before" => "before",
        /// Directly behind another job.
        Behind = "behind" => "behind",
        /// Not begun before another job is done.
        After = "after" => "once done:",
    }
}

/// A place given by hand, or given back (`None`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Place {
    /// Where.
    pub place: QueuePlace,
    /// Beside which job; `None` for the front.
    pub beside: Option<JobId>,
}

/// A place that holds.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for the one explained")]
pub struct StandingMove {
    pub id: i64,
    pub job_id: JobId,
    pub place: QueuePlace,
    pub beside_job_id: Option<JobId>,
    pub reason: String,
    /// Who put it there.
    pub who: String,
    pub moved_at: Instant,
}

/// The places given by hand that hold, in the order in which they were given.
pub async fn standing(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<StandingMove>> {
    Ok(sqlx::query_as!(
        StandingMove,
        r#"SELECT moved.id, moved.job_id AS "job_id: JobId", moved.place AS "place!: QueuePlace",
                  moved.beside_job_id AS "beside_job_id: JobId", moved.reason, staff.name AS who,
                  moved.moved_at AS "moved_at: Instant"
           FROM job
           JOIN queue_move AS moved ON moved.id = (SELECT max(id) FROM queue_move WHERE job_id = job.id)
           JOIN staff ON staff.id = moved.staff_id
           LEFT JOIN job AS beside ON beside.id = moved.beside_job_id
           WHERE job.is_open = 1 AND moved.place IS NOT NULL AND (moved.beside_job_id IS NULL OR beside.is_open = 1)
           ORDER BY moved.id"#
    )
    .fetch_all(executor)
    .await?)
}

/// One move, as the history of a job shows it.
#[derive(Debug, Clone)]
pub struct PastMove {
    /// Where to; `None` is back to where the rule puts it.
    pub place: Option<QueuePlace>,
    /// The number of the job it was put beside.
    pub beside: Option<String>,
    /// Why.
    pub reason: String,
    /// Who.
    pub who: String,
    /// When.
    pub moved_at: Instant,
}

/// What was done with a job's place, newest first.
pub async fn history(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<PastMove>> {
    Ok(sqlx::query_as!(
        PastMove,
        r#"SELECT moved.place AS "place?: QueuePlace", beside.number AS "beside?", moved.reason, staff.name AS who,
                  moved.moved_at AS "moved_at: Instant"
           FROM queue_move AS moved JOIN staff ON staff.id = moved.staff_id
           LEFT JOIN job AS beside ON beside.id = moved.beside_job_id
           WHERE moved.job_id = ? ORDER BY moved.id DESC LIMIT ?"#,
        job,
        MOST,
    )
    .fetch_all(executor)
    .await?)
}

/// Puts a job somewhere by hand, with a reason; the same form sent twice does it once.
///
/// # Errors
/// Refused without a reason, beside itself or a job that has left the house, once it has left itself, and where jobs
/// would wait for one another in a circle.
pub async fn put(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: JobId,
    form_key: &str,
    to: Place,
    reason: &str,
) -> Result<()> {
    if was_done(tx, form_key).await? {
        return Ok(());
    }
    let job = job::in_the_house(&mut **tx, id, "it has no place in the queue any more").await?;
    let reason: String = canonical(reason).chars().take(LONGEST_REASON).collect();
    if reason.is_empty() {
        return Err(Error::refused(format!(
            "Say why {} is moved, so that the next person leaves it there.",
            job.number
        )));
    }
    match (to.place, to.beside) {
        (QueuePlace::First, _) => {}
        (_, None) => return Err(Error::refused("Choose the job that it is put beside.")),
        (_, Some(beside)) if beside == id => {
            return Err(Error::refused(format!("{} cannot stand beside itself: choose another job.", job.number)));
        }
        (place, Some(beside)) => {
            let other = job::in_the_house(&mut **tx, beside, "nothing stands beside it any more").await?;
            if place == QueuePlace::After && waits_for(tx, beside, id).await? {
                return Err(Error::refused(format!(
                    "{} waits for {} already: neither would ever be begun.",
                    other.number, job.number
                )));
            }
        }
    }
    let beside = to.beside.filter(|_| to.place != QueuePlace::First);
    write(tx, by, id, form_key, Some(Place { beside, ..to }), &reason).await
}

/// Takes a place given by hand back: the job stands where the rule puts it. The same form sent twice does it once, and
/// a job that was not moved is left alone.
pub async fn take_back(tx: &mut WriteTx, by: &AuditContext, id: JobId, form_key: &str) -> Result<()> {
    if was_done(tx, form_key).await? {
        return Ok(());
    }
    job::in_the_house(&mut **tx, id, "it has no place in the queue any more").await?;
    if newest(tx, id).await?.is_none() {
        return Ok(());
    }
    write(tx, by, id, form_key, None, "").await
}

async fn write(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: JobId,
    form_key: &str,
    to: Option<Place>,
    reason: &str,
) -> Result<()> {
    let person = by.person()?;
    let before = newest(tx, id).await?;
    let (place, beside) = (to.map(|to| to.place), to.and_then(|to| to.beside));
    sqlx::query!(
        "INSERT INTO queue_move (job_id, place, beside_job_id, reason, staff_id, moved_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        id,
        place,
        beside,
        reason,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    let deed = if to.is_some() { "moved in the queue" } else { "place in the queue taken back" };
    let before = before.map(|before| (before, ""));
    event::write(tx, by, deed, "job", id.0, before.as_ref(), to.map(|to| (to, reason)).as_ref()).await
}

/// Where a job was put last, whether or not it holds.
async fn newest(tx: &mut WriteTx, id: JobId) -> Result<Option<Place>> {
    let row = sqlx::query!(
        r#"SELECT place AS "place: QueuePlace", beside_job_id AS "beside: JobId" FROM queue_move
           WHERE job_id = ? ORDER BY id DESC LIMIT 1"#,
        id
    )
    .fetch_optional(&mut **tx)
    .await?;
    Ok(row.and_then(|row| Some(Place { place: row.place?, beside: row.beside })))
}

async fn was_done(tx: &mut WriteTx, form_key: &str) -> Result<bool> {
    Ok(sqlx::query_scalar!(r#"SELECT EXISTS (SELECT 1 FROM queue_move WHERE form_key = ?) AS "done!: bool""#, form_key)
        .fetch_one(&mut **tx)
        .await?)
}

/// Whether a job is not begun before another is done, directly or through others.
async fn waits_for(tx: &mut WriteTx, id: JobId, other: JobId) -> Result<bool> {
    let standing = standing(&mut **tx).await?;
    let next = |job: JobId| {
        let of = standing.iter().find(|moved| moved.job_id == job && moved.place == QueuePlace::After);
        of.and_then(|moved| moved.beside_job_id)
    };
    // no chain is longer than there are moves
    let mut chain = std::iter::successors(next(id), |job| next(*job)).take(standing.len());
    Ok(chain.any(|job| job == other))
}

/// Takes the reasons out: the job's customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE queue_move SET reason = 'anonymised' WHERE job_id = ? AND place IS NOT NULL", job)
        .execute(&mut **tx)
        .await?;
    Ok(())
}
