//! What the labour clock says of each service: the minutes of the newest lines done, and which of them were left out by
//! hand because they say nothing of it.

use sqlx::types::Json;

use super::event::{self, AuditContext};
use super::family::Family;
use super::fold::canonical;
use super::{Error, JobId, Result, ServiceId, WorkLineId, WriteTx};
use crate::quantity::Instant;

/// Lines of one service that are asked for: the newest say how long it takes now.
pub const NEWEST: i64 = 200;

/// Minutes of the newest lines of one service.
#[derive(Debug, Clone)]
pub struct ServiceMinutes {
    /// The service.
    pub service_id: ServiceId,
    /// Estimated and clocked minutes of each line that is not left out, the newest first; `None` where no clock ran.
    pub lines: Vec<(i64, Option<i64>)>,
}

/// Minutes of the newest lines of every service.
pub async fn of_services(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<ServiceMinutes>> {
    let rows = sqlx::query!(
        r#"SELECT service.id AS "service_id: ServiceId",
                  (SELECT json_group_array(json_array(estimate, clocked)) FROM (
                       SELECT line.minutes AS estimate, (SELECT sum(coalesce(
                                   (SELECT minutes FROM labour_correction WHERE labour_entry_id = entry.id
                                    ORDER BY id DESC LIMIT 1),
                                   (entry.ended_at - entry.started_at + 30000000) / 60000000))
                               FROM labour_entry AS entry
                               WHERE entry.work_line_id = line.id AND entry.ended_at IS NOT NULL) AS clocked
                       FROM work_line AS line
                       WHERE line.service_id = service.id AND line.state = 'done'
                           AND NOT EXISTS (SELECT 1 FROM minutes_left_out AS out
                                           WHERE out.work_line_id = line.id AND out.taken_back_at IS NULL)
                       ORDER BY line.done_at DESC, line.id DESC LIMIT ?1
                   )) AS "lines!: Json<Vec<(i64, Option<i64>)>>"
           FROM service"#,
        NEWEST,
    )
    .fetch_all(executor)
    .await?;
    Ok(rows.into_iter().map(|row| ServiceMinutes { service_id: row.service_id, lines: row.lines.0 }).collect())
}

/// One line that was done.
#[derive(Debug, Clone)]
pub struct ClockedLine {
    /// The line.
    pub id: WorkLineId,
    /// Its job.
    pub job_id: JobId,
    /// The job's number.
    pub number: String,
    /// The instrument's family.
    pub family: Family,
    /// Who ticked it off.
    pub who: String,
    /// When.
    pub done_at: Instant,
    /// What it was estimated at then.
    pub estimate: i64,
    /// Minutes by the labour clock, as corrected; `None` where none ran.
    pub clocked: Option<i64>,
    /// Why it is left out, if it is.
    pub left_out: Option<String>,
    /// Who left it out.
    pub left_out_by: Option<String>,
}

/// The newest lines of one service, left out or not, the newest first.
pub async fn of_service(executor: impl sqlx::SqliteExecutor<'_>, id: ServiceId) -> Result<Vec<ClockedLine>> {
    Ok(sqlx::query_as!(
        ClockedLine,
        r#"SELECT line.id AS "id: WorkLineId", job.id AS "job_id: JobId", job.number, instrument.family AS "family: Family",
                  doer.name AS who, line.done_at AS "done_at!: Instant", line.minutes AS estimate,
                  (SELECT sum(coalesce(
                       (SELECT minutes FROM labour_correction WHERE labour_entry_id = entry.id ORDER BY id DESC LIMIT 1),
                       (entry.ended_at - entry.started_at + 30000000) / 60000000))
                   FROM labour_entry AS entry
                   WHERE entry.work_line_id = line.id AND entry.ended_at IS NOT NULL) AS "clocked?: i64",
                  out.reason AS "left_out?", leaver.name AS "left_out_by?"
           FROM work_line AS line
           CROSS JOIN job ON job.id = line.job_id
           CROSS JOIN instrument ON instrument.id = job.instrument_id
           CROSS JOIN staff AS doer ON doer.id = line.done_by
           LEFT JOIN minutes_left_out AS out ON out.work_line_id = line.id AND out.taken_back_at IS NULL
           LEFT JOIN staff AS leaver ON leaver.id = out.staff_id
           WHERE line.service_id = ?1 AND line.state = 'done'
           ORDER BY line.done_at DESC, line.id DESC LIMIT ?2"#,
        id,
        NEWEST,
    )
    .fetch_all(executor)
    .await?)
}

/// Leaves a line out of what is known of its service; pressed twice it is left out once. Its time stays in the books.
///
/// # Errors
/// Refused without a reason, and where the line is not done.
pub async fn leave_out(tx: &mut WriteTx, by: &AuditContext, line: WorkLineId, reason: &str) -> Result<ServiceId> {
    let person = by.person()?;
    let (job, service) = done_line(tx, line).await?;
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say why this time says nothing of the service."));
    }
    let done = sqlx::query!(
        "INSERT INTO minutes_left_out (work_line_id, reason, staff_id, left_out_at) VALUES (?, ?, ?, ?)
         ON CONFLICT DO NOTHING",
        line,
        reason,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() > 0 {
        event::write(tx, by, "minutes left out", "job", job.0, None, Some(&(line, reason))).await?;
    }
    Ok(service)
}

/// Counts a line again that was left out; pressed twice it is counted once.
///
/// # Errors
/// When there is no such line.
pub async fn take_back(tx: &mut WriteTx, by: &AuditContext, line: WorkLineId) -> Result<ServiceId> {
    let person = by.person()?;
    let (job, service) = done_line(tx, line).await?;
    let done = sqlx::query!(
        "UPDATE minutes_left_out SET taken_back_at = max(?, left_out_at), taken_back_by = ?
         WHERE work_line_id = ? AND taken_back_at IS NULL",
        by.at,
        person,
        line,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() > 0 {
        event::write(tx, by, "minutes counted again", "job", job.0, None, Some(&line)).await?;
    }
    Ok(service)
}

async fn done_line(tx: &mut WriteTx, line: WorkLineId) -> Result<(JobId, ServiceId)> {
    let found = sqlx::query!(
        r#"SELECT job_id AS "job_id: JobId", service_id AS "service_id!: ServiceId" FROM work_line
           WHERE id = ? AND service_id IS NOT NULL"#,
        line,
    )
    .fetch_optional(&mut **tx)
    .await?
    .ok_or(Error::NotFound("work line"))?;
    Ok((found.job_id, found.service_id))
}

/// Takes the reasons of a job's lines out: its customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE minutes_left_out SET reason = 'anonymised'
         WHERE work_line_id IN (SELECT id FROM work_line WHERE job_id = ?)",
        job,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
