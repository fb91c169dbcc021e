//! Jobs in lists: the open ones, and the visits of a customer or an instrument.

use serde::Serialize;
use time::Date;

use super::super::customer::ReachBy;
use super::super::family::Family;
use super::super::stage::{Stage, WaitingFor};
use super::super::{CustomerId, InstrumentId, JobId, Result, StaffId};
use super::find;
use crate::quantity::Instant;

/// One open job, as a queue shows it.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct QueueRow {
    pub id: JobId,
    pub number: String,
    pub customer: String,
    pub telephone: String,
    pub telephone_e164: Option<String>,
    pub reach_by: ReachBy,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub complaint: String,
    pub rack: String,
    pub staff: Option<String>,
    pub staff_id: Option<StaffId>,
    pub promised_on: Option<Date>,
    pub stage: Stage,
    pub stage_since: Instant,
    pub waiting_for: Option<WaitingFor>,
    pub waiting_reason: Option<String>,
    pub checked_in_at: Instant,
}

/// The open jobs, what is due first; those without a promise last.
pub async fn open_jobs(on: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<QueueRow>> {
    Ok(sqlx::query_as!(
        QueueRow,
        r#"SELECT job.id AS "id: JobId", job.number, customer.name AS customer, customer.telephone,
                  customer.telephone_e164, customer.reach_by AS "reach_by: ReachBy", instrument.family AS "family: Family", instrument.maker, instrument.model, job.complaint, job.rack,
                  staff.name AS "staff?", job.staff_id AS "staff_id: StaffId", job.promised_on AS "promised_on: Date",
                  job.stage AS "stage: Stage", job.stage_since AS "stage_since: Instant",
                  job.waiting_for AS "waiting_for: WaitingFor", job.waiting_reason,
                  job.checked_in_at AS "checked_in_at: Instant"
           FROM job
           JOIN customer ON customer.id = job.customer_id
           JOIN instrument ON instrument.id = job.instrument_id
           LEFT JOIN staff ON staff.id = job.staff_id
           WHERE job.is_open = 1
           ORDER BY job.promised_on IS NULL, job.promised_on, job.number"#
    )
    .fetch_all(on)
    .await?)
}

/// A job in the history of a customer or an instrument.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Visit {
    pub id: JobId,
    pub number: String,
    pub instrument_id: InstrumentId,
    pub maker: String,
    pub model: String,
    pub family: Family,
    pub complaint: String,
    pub stage: Stage,
    pub promised_on: Option<Date>,
    pub checked_in_at: Instant,
}

/// Whose visits are asked for.
#[derive(Debug, Clone, Copy)]
pub enum Visits {
    /// A customer's.
    Of(CustomerId),
    /// An instrument's.
    With(InstrumentId),
}

/// Jobs of one customer, or of one instrument, newest first, `most` at a time; `before` goes on after the last one
/// seen.
pub async fn visits(on: &sqlx::SqlitePool, whose: Visits, before: Option<JobId>, most: i64) -> Result<Vec<Visit>> {
    let before = match before {
        Some(id) => Some(find(on, id).await?),
        None => None,
    };
    let (at, id) = before.map_or((Instant(i64::MAX), None), |job| (job.checked_in_at, Some(job.id)));
    match whose {
        Visits::Of(customer) => {
            sqlx::query_as!(
                Visit,
                r#"SELECT job.id AS "id: JobId", job.number, job.instrument_id AS "instrument_id: InstrumentId",
                          instrument.maker, instrument.model, instrument.family AS "family: Family", job.complaint,
                          job.stage AS "stage: Stage", job.promised_on AS "promised_on: Date",
                          job.checked_in_at AS "checked_in_at: Instant"
                   FROM job JOIN instrument ON instrument.id = job.instrument_id
                   WHERE job.customer_id = ?1 AND job.checked_in_at <= ?2
                     AND (job.checked_in_at < ?2 OR ?3 IS NULL OR job.id < ?3)
                   ORDER BY job.checked_in_at DESC, job.id DESC LIMIT ?4"#,
                customer,
                at,
                id,
                most,
            )
            .fetch_all(on)
            .await
        }
        Visits::With(instrument) => {
            sqlx::query_as!(
                Visit,
                r#"SELECT job.id AS "id: JobId", job.number, job.instrument_id AS "instrument_id: InstrumentId",
                          instrument.maker, instrument.model, instrument.family AS "family: Family", job.complaint,
                          job.stage AS "stage: Stage", job.promised_on AS "promised_on: Date",
                          job.checked_in_at AS "checked_in_at: Instant"
                   FROM job JOIN instrument ON instrument.id = job.instrument_id
                   WHERE job.instrument_id = ?1 AND job.checked_in_at <= ?2
                     AND (job.checked_in_at < ?2 OR ?3 IS NULL OR job.id < ?3)
                   ORDER BY job.checked_in_at DESC, job.id DESC LIMIT ?4"#,
                instrument,
                at,
                id,
                most,
            )
            .fetch_all(on)
            .await
        }
    }
    .map_err(Into::into)
}
