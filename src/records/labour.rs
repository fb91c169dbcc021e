//! Labour: stretches of work by one person on one line. One runs at a time; what was wrong with one is
//! said by a correction, never by an edit.

use serde::{Deserialize, Serialize};

use super::column::as_json;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::staff::{self, Role};
use super::stage::Stage;
use super::{Error, JobId, LabourId, Result, StaffId, WorkLineId, WriteTx, job};
use crate::quantity::Instant;

/// Nobody works on one line longer than this without a pause: a timer that does was forgotten.
pub const LONGEST_STRETCH_HOURS: i64 = 4;
const MICROSECONDS_PER_MINUTE: i64 = 60_000_000;
/// Stretches of one page; what came before them is on the next.
pub const MOST: usize = 60;

/// One stretch.
#[derive(Debug, Clone, Serialize, Deserialize, sqlx::FromRow)]
pub struct Labour {
    /// Key.
    pub id: LabourId,
    /// On which job.
    pub job_id: JobId,
    /// The job's number.
    pub number: String,
    /// On which line.
    pub work_line_id: WorkLineId,
    /// The line's words.
    pub words: String,
    /// Whose.
    pub staff_id: StaffId,
    /// Their name.
    pub who: String,
    /// From.
    pub started_at: Instant,
    /// To; `None` while it runs.
    pub ended_at: Option<Instant>,
    /// Minutes as they were corrected, where they were.
    pub corrected_minutes: Option<i64>,
    /// Why they were corrected.
    pub correction: Option<String>,
}

impl Labour {
    /// Minutes worked, as corrected where that was done; up to now while it runs.
    pub fn minutes(&self, now: Instant) -> i64 {
        let ended = self.ended_at.unwrap_or(now);
        let counted = (ended.0 - self.started_at.0).max(0) + MICROSECONDS_PER_MINUTE / 2;
        self.corrected_minutes.unwrap_or(counted / MICROSECONDS_PER_MINUTE)
    }

    /// Whether its clock was likely forgotten: longer than anybody works in one go, running or ended, and nobody
    /// said yet how long it really was. The caller says whether it went over into another day of the shop, before
    /// which the shop closed.
    pub fn is_forgotten(&self, now: Instant, over_a_day: bool) -> bool {
        let hours = (self.ended_at.unwrap_or(now).0 - self.started_at.0) / (60 * MICROSECONDS_PER_MINUTE);
        self.corrected_minutes.is_none() && (over_a_day || hours >= LONGEST_STRETCH_HOURS)
    }
}

/// Starts a person's clock on a line; `words` are the line's, and whoever asks has made sure that work on it may
/// start. What the person had running elsewhere is stopped, and answered. Starting what runs already changes nothing.
/// The first stretch moves an agreed job onto the bench.
pub(super) async fn start(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    line_id: WorkLineId,
    words: &str,
) -> Result<Option<Labour>> {
    let person = by.person()?;
    let before = running(&mut **tx, person).await?;
    if before.as_ref().is_some_and(|running| running.work_line_id == line_id) {
        return Ok(None);
    }
    if let Some(running) = &before {
        end(tx, by, running).await?;
    }
    let id = LabourId::new();
    sqlx::query!(
        "INSERT INTO labour_entry (id, job_id, work_line_id, staff_id, started_at) VALUES (?, ?, ?, ?, ?)",
        id,
        job_id,
        line_id,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "labour started", "job", job_id.0, None, Some(&(id, words))).await?;
    job::follow(tx, by, job_id, Stage::Agreed, Stage::OnTheBench).await?;
    Ok(before)
}

/// Stops what the person has running. Pressed twice it does nothing.
pub async fn stop(tx: &mut WriteTx, by: &AuditContext) -> Result<Option<Labour>> {
    let Some(running) = running(&mut **tx, by.person()?).await? else {
        return Ok(None);
    };
    end(tx, by, &running).await?;
    Ok(Some(running))
}

/// Stops whoever works on a line that is done.
pub(super) async fn stop_line(tx: &mut WriteTx, by: &AuditContext, line: WorkLineId) -> Result<()> {
    let running = all_running(&mut **tx).await?;
    for entry in running.iter().filter(|entry| entry.work_line_id == line) {
        end(tx, by, entry).await?;
    }
    Ok(())
}

/// Stops whoever works on a job that leaves the house.
pub(super) async fn stop_job(tx: &mut WriteTx, by: &AuditContext, job: JobId) -> Result<()> {
    let running = all_running(&mut **tx).await?;
    for entry in running.iter().filter(|entry| entry.job_id == job) {
        end(tx, by, entry).await?;
    }
    Ok(())
}

/// Takes the reasons of a job's corrections out: its customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE labour_correction SET reason = 'anonymised'
         WHERE labour_entry_id IN (SELECT id FROM labour_entry WHERE job_id = ?)",
        job,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

async fn end(tx: &mut WriteTx, by: &AuditContext, running: &Labour) -> Result<()> {
    // a clock that stepped back makes a stretch of nothing, not a negative one
    let at = by.at.max(running.started_at);
    sqlx::query!("UPDATE labour_entry SET ended_at = ? WHERE id = ? AND ended_at IS NULL", at, running.id)
        .execute(&mut **tx)
        .await?;
    event::write(tx, by, "labour stopped", "job", running.job_id.0, None, Some(&(running.id, &running.words))).await
}

/// Says how long a stretch really was, and why the clock was wrong; the same form sent twice says it once. A
/// stretch that still runs is ended. Each person corrects their own time, the owner anybody's.
///
/// # Errors
/// Refused without a reason, for more than a day, and for somebody else's stretch.
pub async fn correct(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: LabourId,
    form_key: &str,
    minutes: i64,
    reason: &str,
) -> Result<()> {
    let already = sqlx::query_scalar!("SELECT count(*) FROM labour_correction WHERE form_key = ?", form_key)
        .fetch_one(&mut **tx)
        .await?;
    if already > 0 {
        return Ok(());
    }
    let person = by.person()?;
    let entry = find(&mut **tx, id).await?;
    if entry.staff_id != person && !staff::find(&mut **tx, person).await?.roles.may_act_as(Role::Owner) {
        return Err(Error::refused(format!(
            "Each person corrects their own time: ask {}, or the owner, who corrects anybody's.",
            entry.who
        )));
    }
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say why the clock was wrong."));
    }
    if !(0..=1440).contains(&minutes) {
        return Err(Error::refused("A stretch of work is between nothing and a day: type 0 to 1440 minutes."));
    }
    if entry.ended_at.is_none() {
        end(tx, by, &entry).await?;
    }
    sqlx::query!(
        "INSERT INTO labour_correction (labour_entry_id, minutes, reason, staff_id, corrected_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?)",
        id,
        minutes,
        reason,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    let before = (id, entry.minutes(by.at), entry.correction.unwrap_or_default());
    event::write(tx, by, "labour corrected", "job", entry.job_id.0, Some(&before), Some(&(id, minutes, reason))).await
}

/// Which stretches are wanted: each that is `None` does not narrow.
#[derive(Default)]
struct Wanted<'a> {
    id: Option<LabourId>,
    jobs: Option<&'a [JobId]>,
    staff: Option<StaffId>,
    only_running: bool,
    since: Option<Instant>,
    /// Begun before this one.
    before: Option<LabourId>,
    most: Option<i64>,
}

async fn entries(executor: impl sqlx::SqliteExecutor<'_>, wanted: &Wanted<'_>) -> Result<Vec<Labour>> {
    let mut query = sqlx::QueryBuilder::new(
        "SELECT entry.id, entry.job_id, job.number, entry.work_line_id, work_line.words, entry.staff_id,
                staff.name AS who, entry.started_at, entry.ended_at, correction.minutes AS corrected_minutes,
                correction.reason AS correction
         FROM labour_entry AS entry
         JOIN job ON job.id = entry.job_id
         JOIN work_line ON work_line.id = entry.work_line_id
         JOIN staff ON staff.id = entry.staff_id
         LEFT JOIN labour_correction AS correction ON correction.id =
             (SELECT max(id) FROM labour_correction WHERE labour_entry_id = entry.id)
         WHERE 1 = 1",
    );
    if let Some(id) = wanted.id {
        query.push(" AND entry.id = ").push_bind(id);
    }
    if let Some(jobs) = wanted.jobs {
        query
            .push(" AND entry.job_id IN (SELECT unhex(value, '-') FROM json_each(")
            .push_bind(as_json(jobs)?)
            .push("))");
    }
    if let Some(staff) = wanted.staff {
        query.push(" AND entry.staff_id = ").push_bind(staff);
    }
    if wanted.only_running {
        query.push(" AND entry.ended_at IS NULL");
    }
    if let Some(since) = wanted.since {
        query.push(" AND entry.started_at >= ").push_bind(since);
    }
    if let Some(before) = wanted.before {
        query.push(" AND (entry.started_at, entry.id) < (SELECT started_at, id FROM labour_entry WHERE id = ");
        query.push_bind(before).push(")");
    }
    query.push(" ORDER BY entry.started_at DESC, entry.id DESC");
    if let Some(most) = wanted.most {
        query.push(" LIMIT ").push_bind(most);
    }
    Ok(query.build_query_as().fetch_all(executor).await?)
}

/// What a person has running.
pub async fn running(executor: impl sqlx::SqliteExecutor<'_>, staff: StaffId) -> Result<Option<Labour>> {
    let found = entries(executor, &Wanted { staff: Some(staff), only_running: true, ..Wanted::default() }).await?;
    Ok(found.into_iter().next())
}

/// Everything that runs in the house: at most one stretch a person.
pub async fn all_running(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Labour>> {
    entries(executor, &Wanted { only_running: true, ..Wanted::default() }).await
}

/// The stretches of a job, newest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Labour>> {
    of_jobs(executor, &[job]).await
}

/// The stretches of some jobs, newest first.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Labour>> {
    entries(executor, &Wanted { jobs: Some(jobs), ..Wanted::default() }).await
}

/// The stretches since a moment, newest first: one person's, or everybody's; `before` goes on behind the last one
/// seen. One more than [`MOST`] are answered where there are more.
pub async fn since(
    executor: impl sqlx::SqliteExecutor<'_>,
    staff: Option<StaffId>,
    since: Instant,
    before: Option<LabourId>,
) -> Result<Vec<Labour>> {
    let most = i64::try_from(MOST + 1).ok();
    entries(executor, &Wanted { staff, since: Some(since), before, most, ..Wanted::default() }).await
}

/// One stretch.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: LabourId) -> Result<Labour> {
    let found = entries(executor, &Wanted { id: Some(id), ..Wanted::default() }).await?;
    found.into_iter().next().ok_or(Error::NotFound("stretch of work"))
}
