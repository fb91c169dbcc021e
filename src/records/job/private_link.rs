//! The customer's private link to a job: which job it opens, how long it holds, and a new one in its place.

use super::super::event::{self, AuditContext};
use super::super::link::{self, LinkSecret};
use super::super::{Error, JobId, Result, WriteTx, customer};
use super::find;
use crate::quantity::Instant;

const MICROSECONDS_PER_DAY: i64 = 86_400_000_000;

/// The job of a private link, whether it still holds or not: for the shop's own scanner.
pub async fn by_link(executor: impl sqlx::SqliteExecutor<'_>, token: &str) -> Result<JobId> {
    let hash = link::hash(token);
    let hash = hash.as_slice();
    sqlx::query_scalar!(r#"SELECT id AS "id: JobId" FROM job WHERE link_hash = ?"#, hash)
        .fetch_optional(executor)
        .await?
        .ok_or(Error::NotFound("page"))
}

/// The job of a private link that holds: it ends `days` after the job left the house, and with its customer.
pub async fn by_link_that_holds(
    executor: impl sqlx::SqliteExecutor<'_>,
    token: &str,
    now: Instant,
    days: i64,
) -> Result<JobId> {
    let hash = link::hash(token);
    let hash = hash.as_slice();
    let found = sqlx::query!(
        r#"SELECT job.id AS "id: JobId", job.is_open AS "is_open!: bool",
                  max(job.stage_since, coalesce(job.link_made_at, 0)) AS "since!: Instant",
                  customer.anonymised_on IS NOT NULL AS "is_forgotten!: bool"
           FROM job JOIN customer ON customer.id = job.customer_id WHERE job.link_hash = ?"#,
        hash,
    )
    .fetch_optional(executor)
    .await?;
    let holds = |since: Instant| now.0 < since.0.saturating_add(days.saturating_mul(MICROSECONDS_PER_DAY));
    found
        .filter(|found| !found.is_forgotten && (found.is_open || holds(found.since)))
        .map(|found| found.id)
        .ok_or(Error::NotFound("page"))
}

/// Makes a new link; the old one leads nowhere from then on. `version` is the one that was read.
///
/// # Errors
/// Refused where the customer was forgotten; [`Error::ChangedMeanwhile`].
pub async fn new_link(tx: &mut WriteTx, by: &AuditContext, secret: &LinkSecret, id: JobId, version: i64) -> Result<()> {
    let job = find(&mut **tx, id).await?;
    customer::resolve_merged(tx, job.customer_id).await?;
    let number = job.link_number + 1;
    let hash = link::hash(&secret.token(id, number));
    let hash = hash.as_slice();
    let done = sqlx::query!(
        "UPDATE job SET link_number = ?, link_hash = ?, link_made_at = ?, version = version + 1
         WHERE id = ? AND version = ?",
        number,
        hash,
        by.at,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::super::error::ensure_updated(&done, "job")?;
    event::write(tx, by, "private link made anew", "job", id.0, Some(&job.link_number), Some(&number)).await
}
