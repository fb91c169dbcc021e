//! Photographs of a job: rows in the books, their pictures in `photo_folder.rs`. Never deleted; what is not wanted is
//! set aside.

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

use super::column::{as_json, from_hex};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::photo_folder::{PhotoFolder, Stored};
use super::{ConditionId, Db, Error, InstrumentId, JobId, PhotoId, Result, WriteTx, job};
use crate::quantity::Instant;

/// Photographs shown of one instrument, at most.
const MOST_OF_AN_INSTRUMENT: i64 = 24;

/// One photograph.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Photo {
    pub id: PhotoId,
    pub job_id: JobId,
    pub condition_mark_id: Option<ConditionId>,
    /// Number of the mark it belongs to.
    pub mark: Option<i64>,
    #[serde(deserialize_with = "from_hex")]
    pub sha256: Vec<u8>,
    #[serde(deserialize_with = "from_hex")]
    pub small_sha256: Vec<u8>,
    pub width: i64,
    pub height: i64,
    pub caption: String,
    pub for_customer: bool,
    pub set_aside: bool,
    pub who: String,
    pub added_at: Instant,
    pub version: i64,
}

impl Photo {
    /// What it shows, in words.
    pub fn in_words(&self) -> String {
        match (self.caption.is_empty(), self.mark) {
            (false, _) => self.caption.clone(),
            (true, Some(mark)) => format!("Mark {mark}"),
            (true, None) => "Photograph".to_owned(),
        }
    }
}

/// What is written down of a photograph.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct PhotoEntry {
    pub condition_mark_id: Option<ConditionId>,
    pub caption: String,
    pub for_customer: bool,
    pub set_aside: bool,
}

/// Asked before a large file is taken: whether a photograph may be added to a job.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn require_place(executor: impl sqlx::SqliteExecutor<'_>, job_id: JobId) -> Result<()> {
    job::in_the_house(executor, job_id, "no photograph is added any more").await.map(|_| ())
}

/// Puts a stored picture into the books of a job; the same form or upload sent twice puts it once.
///
/// # Errors
/// Refused when the mark is of another job, or the instrument has left the house.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    stored: &Stored,
    entry: &PhotoEntry,
) -> Result<PhotoId> {
    if let Some(id) = by_key(&mut **tx, form_key).await? {
        return Ok(id);
    }
    let person = by.person()?;
    require_place(&mut **tx, job_id).await?;
    require_mark(tx, job_id, entry.condition_mark_id).await?;
    let id = PhotoId::new();
    let caption = canonical(&entry.caption);
    let (sha256, small_sha256) = (stored.sha256.as_slice(), stored.small_sha256.as_slice());
    sqlx::query!(
        "INSERT INTO photo (id, job_id, condition_mark_id, sha256, small_sha256, width, height, bytes, caption,
             for_customer, staff_id, added_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        entry.condition_mark_id,
        sha256,
        small_sha256,
        stored.width,
        stored.height,
        stored.bytes,
        caption,
        entry.for_customer,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "photo added", "job", job_id.0, None, Some(&(id, entry))).await?;
    Ok(id)
}

/// The photograph that a form or upload made, if it did.
pub async fn by_key(executor: impl sqlx::SqliteExecutor<'_>, form_key: &str) -> Result<Option<PhotoId>> {
    Ok(sqlx::query_scalar!(r#"SELECT id AS "id: PhotoId" FROM photo WHERE form_key = ?"#, form_key)
        .fetch_optional(executor)
        .await?)
}

async fn require_mark(connection: &mut SqliteConnection, job: JobId, mark: Option<ConditionId>) -> Result<()> {
    let Some(mark) = mark else {
        return Ok(());
    };
    let known = sqlx::query_scalar!("SELECT count(*) FROM condition_mark WHERE id = ? AND job_id = ?", mark, job)
        .fetch_one(&mut *connection)
        .await?;
    if known == 0 {
        return Err(Error::refused("That mark is of another job. Choose one of this job's marks."));
    }
    Ok(())
}

/// Saves what is written down of a photograph.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(tx: &mut WriteTx, by: &AuditContext, id: PhotoId, version: i64, entry: &PhotoEntry) -> Result<()> {
    let before = find(&mut **tx, id).await?;
    require_mark(tx, before.job_id, entry.condition_mark_id).await?;
    let caption = canonical(&entry.caption);
    let done = sqlx::query!(
        "UPDATE photo SET condition_mark_id = ?, caption = ?, for_customer = ?, set_aside = ?, version = version + 1
         WHERE id = ? AND version = ?",
        entry.condition_mark_id,
        caption,
        entry.for_customer,
        entry.set_aside,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "photo")?;
    let was = PhotoEntry {
        condition_mark_id: before.condition_mark_id,
        caption: before.caption,
        for_customer: before.for_customer,
        set_aside: before.set_aside,
    };
    let deed = if entry.set_aside && !was.set_aside { "photo set aside" } else { "photo changed" };
    event::write(tx, by, deed, "job", before.job_id.0, Some(&(id, &was)), Some(&(id, entry))).await
}

/// The photographs that a condition picks, in an order.
macro_rules! photos {
    ($picked_and_ordered:literal, $($put:expr),*) => {
        sqlx::query_as!(
            Photo,
            r#"SELECT photo.id AS "id: PhotoId", photo.job_id AS "job_id: JobId",
                      condition_mark_id AS "condition_mark_id: ConditionId", condition_mark.number AS "mark?", sha256,
                      small_sha256, width, height, caption, for_customer AS "for_customer: bool",
                      set_aside AS "set_aside: bool", staff.name AS who, added_at AS "added_at: Instant", photo.version
               FROM photo
               JOIN staff ON staff.id = photo.staff_id
               LEFT JOIN condition_mark ON condition_mark.id = photo.condition_mark_id
               WHERE "#
                + $picked_and_ordered,
            $($put),*
        )
    };
}

/// One photograph.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: PhotoId) -> Result<Photo> {
    let one = photos!("photo.id = ? AND forgotten = 0", id);
    one.fetch_optional(executor).await?.ok_or(Error::NotFound("photo"))
}

/// The photographs of a job, oldest first; those set aside last.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Photo>> {
    of_jobs(executor, &[job]).await
}

/// The photographs of some jobs, oldest first; those set aside last.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Photo>> {
    let jobs = as_json(jobs)?;
    let picked = photos!(
        "photo.job_id IN (SELECT unhex(value, '-') FROM json_each(?)) AND forgotten = 0
         ORDER BY set_aside, added_at, photo.id",
        jobs
    );
    Ok(picked.fetch_all(executor).await?)
}

/// The newest photographs of an instrument over all its visits.
pub async fn of_instrument(executor: impl sqlx::SqliteExecutor<'_>, instrument: InstrumentId) -> Result<Vec<Photo>> {
    let newest = photos!(
        "photo.job_id IN (SELECT id FROM job WHERE instrument_id = ?) AND set_aside = 0
         ORDER BY added_at DESC, photo.id DESC LIMIT ?",
        instrument,
        MOST_OF_AN_INSTRUMENT
    );
    Ok(newest.fetch_all(executor).await?)
}

/// Blanks a job's photographs and sets them aside: its customer asked to be forgotten. The pictures go once that is
/// written, by [`remove_forgotten`].
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE photo SET caption = '', for_customer = 0, set_aside = 1, forgotten = 1, version = version + 1
         WHERE job_id = ?",
        job,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Deletes the pictures of forgotten photographs that no other photograph shows. Done after each forgetting and at
/// each start, so that none stays behind when the power goes between the two; what was deleted is written down, so that
/// no start goes through all that was ever forgotten.
///
/// # Errors
/// When the books cannot be read or written; a picture that cannot be deleted is tried again at the next start.
pub async fn remove_forgotten(db: &Db) -> Result<()> {
    let forgotten = sqlx::query!(
        r#"SELECT id AS "id: PhotoId", sha256, small_sha256,
                  EXISTS (SELECT 1 FROM photo AS other WHERE other.forgotten = 0
                          AND (other.sha256 = photo.sha256 OR other.small_sha256 = photo.sha256)) AS "is_shown!: bool",
                  EXISTS (SELECT 1 FROM photo AS other WHERE other.forgotten = 0
                          AND (other.sha256 = photo.small_sha256 OR other.small_sha256 = photo.small_sha256))
                      AS "is_shown_small!: bool"
           FROM photo WHERE forgotten = 1 AND pictures_removed = 0"#
    )
    .fetch_all(db.read())
    .await?;
    let mut removed = Vec::new();
    for photo in forgotten {
        let pictures = [(photo.sha256, photo.is_shown), (photo.small_sha256, photo.is_shown_small)];
        let mut unshown = pictures.into_iter().filter(|(_, is_shown)| !is_shown);
        match unshown.try_for_each(|(sha256, _)| db.photos().remove(&sha256)) {
            Ok(()) => removed.push(photo.id),
            Err(cause) => tracing::error!(cause = %cause, "photo.forgotten_not_deleted"),
        }
    }
    if removed.is_empty() {
        return Ok(());
    }
    let removed = as_json(&removed)?;
    let mut tx = db.write().await?;
    sqlx::query!(
        "UPDATE photo SET pictures_removed = 1 WHERE id IN (SELECT unhex(value, '-') FROM json_each(?))",
        removed,
    )
    .execute(&mut *tx)
    .await?;
    tx.commit().await
}

/// The condition marks of a job that a photograph can show: key and words.
pub async fn marks(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<(ConditionId, String)>> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id: ConditionId", number, note FROM condition_mark
           WHERE job_id = ? AND taken_back_at IS NULL ORDER BY number"#,
        job,
    )
    .fetch_all(executor)
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, format!("{}: {}", row.number, row.note))).collect())
}

/// Reads every picture the books name and says which are missing or no longer what they were.
pub(super) async fn check(pool: &sqlx::SqlitePool, folder: &PhotoFolder) -> Result<Vec<String>> {
    let rows = sqlx::query!(
        "SELECT job.number, photo.sha256, photo.small_sha256 FROM photo JOIN job ON job.id = photo.job_id
         WHERE photo.forgotten = 0 ORDER BY job.number, photo.id"
    )
    .fetch_all(pool)
    .await?;
    let mut faults = Vec::new();
    for row in rows {
        let found = [&row.sha256, &row.small_sha256].into_iter().filter_map(|sha256| folder.fault(sha256));
        faults.extend(found.map(|fault| format!("a photo of {} {fault}", row.number)));
    }
    Ok(faults)
}
