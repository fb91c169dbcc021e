//! What is still to be done in the house, and what the past says of such work: what an order of the queue and a
//! forecast rest on.

use sqlx::types::Json;

use super::family::Family;
use super::stage::WaitingFor;
use super::{JobId, Result, ServiceId};
use crate::quantity::Instant;

/// Past waits of one kind, and answers, that are asked for: the newest say how long it takes now.
const NEWEST_WAITS: i64 = 200;
/// Jobs that became ready, of all families, that are asked for.
const NEWEST_READY: i64 = 300;

/// A line of an open job that is neither done nor declined.
#[derive(Debug, Clone, Copy)]
pub struct OpenLine {
    /// Its job.
    pub job_id: JobId,
    /// Its service; `None` where it is in own words.
    pub service_id: Option<ServiceId>,
    /// What it was estimated at.
    pub minutes: i64,
    /// Minutes clocked on it so far, those that run included.
    pub spent: i64,
}

/// The lines still to be done of all open jobs.
pub async fn lines(executor: impl sqlx::SqliteExecutor<'_>, now: Instant) -> Result<Vec<OpenLine>> {
    Ok(sqlx::query_as!(
        OpenLine,
        r#"SELECT line.job_id AS "job_id: JobId", line.service_id AS "service_id: ServiceId", line.minutes,
                  (SELECT coalesce(sum(coalesce(
                       (SELECT minutes FROM labour_correction WHERE labour_entry_id = entry.id ORDER BY id DESC LIMIT 1),
                       (coalesce(entry.ended_at, max(?1, entry.started_at)) - entry.started_at + 30000000) / 60000000)), 0)
                   FROM labour_entry AS entry WHERE entry.work_line_id = line.id) AS "spent!: i64"
           FROM job CROSS JOIN work_line AS line ON line.job_id = job.id
           WHERE job.is_open = 1 AND line.state IN ('proposed', 'agreed')
           ORDER BY line.job_id, line.position"#,
        now,
    )
    .fetch_all(executor)
    .await?)
}

/// The waits of open jobs that are under way, with when each began.
pub async fn waits_under_way(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<(JobId, Instant)>> {
    let rows = sqlx::query!(
        r#"SELECT wait.job_id AS "job_id: JobId", wait.begun_at AS "begun_at: Instant"
           FROM job CROSS JOIN job_wait AS wait ON wait.job_id = job.id AND wait.ended_at IS NULL
           WHERE job.is_open = 1"#
    )
    .fetch_all(executor)
    .await?;
    Ok(rows.into_iter().map(|row| (row.job_id, row.begun_at)).collect())
}

/// From when to when waits lasted that are over, the newest of each kind.
pub async fn past_waits(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<(WaitingFor, Vec<(Instant, Instant)>)>> {
    let rows = sqlx::query!(
        r#"SELECT '' || kind.value AS "kind!: WaitingFor",
                  (SELECT json_group_array(json_array(begun_at, ended_at)) FROM (
                       SELECT begun_at, ended_at FROM job_wait
                       WHERE waiting_for = kind.value AND ended_at IS NOT NULL ORDER BY ended_at DESC LIMIT ?
                   )) AS "waits!: Json<Vec<(i64, i64)>>"
           FROM json_each('["part","customer","wood"]') AS kind"#,
        NEWEST_WAITS,
    )
    .fetch_all(executor)
    .await?;
    Ok(rows.into_iter().map(|row| (row.kind, stretches(row.waits.0))).collect())
}

/// From when to when the newest quotes waited for their answer.
pub async fn past_answers(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<(Instant, Instant)>> {
    let found = sqlx::query_scalar!(
        r#"SELECT json_group_array(json_array(made_at, answered_at)) AS "answers!: Json<Vec<(i64, i64)>>" FROM (
               SELECT made_at, answered_at FROM quote WHERE answer IN ('agreed', 'declined')
               ORDER BY answered_at DESC LIMIT ?
           )"#,
        NEWEST_WAITS,
    )
    .fetch_one(executor)
    .await?;
    Ok(stretches(found.0))
}

fn stretches(pairs: Vec<(i64, i64)>) -> Vec<(Instant, Instant)> {
    pairs.into_iter().map(|(from, to)| (Instant(from), Instant(to))).collect()
}

/// The family of each of the jobs that became ready last, with the estimated minutes of what was done on it: what a job
/// takes of which nobody has said yet what is to be done.
pub async fn past_jobs(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<(Family, i64)>> {
    let found = sqlx::query_scalar!(
        r#"SELECT json_group_array(json_array(instrument.family,
                      (SELECT sum(minutes) FROM work_line WHERE job_id = job.id AND state = 'done')))
               AS "jobs!: Json<Vec<(Family, Option<i64>)>>"
           FROM (SELECT job_id FROM job_move WHERE to_stage = 'ready' ORDER BY moved_at DESC LIMIT ?) AS newest
           CROSS JOIN job ON job.id = newest.job_id
           CROSS JOIN instrument ON instrument.id = job.instrument_id"#,
        NEWEST_READY,
    )
    .fetch_one(executor)
    .await?;
    Ok(found
        .0
        .into_iter()
        .filter_map(|(family, minutes)| Some((family, minutes.filter(|minutes| *minutes > 0)?)))
        .collect())
}

/// The minutes clocked in each of some stretches of time.
pub async fn clocked_between(
    executor: impl sqlx::SqliteExecutor<'_>,
    stretches: &[(Instant, Instant)],
) -> Result<Vec<i64>> {
    let stretches: Vec<(i64, i64)> = stretches.iter().map(|(from, to)| (from.0, to.0)).collect();
    let stretches = Json(stretches);
    Ok(sqlx::query_scalar!(
        r#"SELECT (SELECT coalesce(sum(coalesce(
                       (SELECT minutes FROM labour_correction WHERE labour_entry_id = entry.id ORDER BY id DESC LIMIT 1),
                       (entry.ended_at - entry.started_at + 30000000) / 60000000)), 0)
                   FROM labour_entry AS entry
                   WHERE entry.started_at >= stretch.value ->> 0 AND entry.started_at < stretch.value ->> 1
                       AND entry.ended_at IS NOT NULL) AS "minutes!: i64"
           FROM json_each(?) AS stretch ORDER BY stretch.key"#,
        stretches,
    )
    .fetch_all(executor)
    .await?)
}
