//! Lists of jobs for the day: what is open, what came in.

use serde::Serialize;
use time::Date;

use super::customer::ReachBy;
use super::family::Family;
use super::stage::{Stage, WaitingFor};
use super::{JobId, Result, StaffId};
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
    pub version: i64,
}

impl QueueRow {
    /// Whether it is promised for a day up to and including this one, and the promise is still to be kept.
    pub fn is_due_by(&self, day: Date) -> bool {
        self.promised_on.is_some_and(|promised| promised <= day) && !self.stage.keeps_promise()
    }
}

/// The jobs that a condition picks, in an order.
macro_rules! jobs {
    ($picked_and_ordered:literal $(, $put:expr)*) => {
        sqlx::query_as!(
            QueueRow,
            r#"SELECT job.id AS "id: JobId", job.number, customer.name AS customer, customer.telephone,
                      customer.telephone_e164, customer.reach_by AS "reach_by: ReachBy",
                      instrument.family AS "family: Family", instrument.maker, instrument.model, job.complaint, job.rack,
                      staff.name AS "staff?", job.staff_id AS "staff_id: StaffId", job.promised_on AS "promised_on: Date",
                      job.stage AS "stage: Stage", job.stage_since AS "stage_since: Instant",
                      job.waiting_for AS "waiting_for: WaitingFor", job.waiting_reason,
                      job.checked_in_at AS "checked_in_at: Instant", job.version
               FROM job
               JOIN customer ON customer.id = job.customer_id
               JOIN instrument ON instrument.id = job.instrument_id
               LEFT JOIN staff ON staff.id = job.staff_id
               WHERE "#
                + $picked_and_ordered
            $(, $put)*
        )
    };
}

/// The open jobs, what is due first; those without a promise last.
pub async fn open_jobs(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<QueueRow>> {
    let open = jobs!("job.is_open = 1 ORDER BY job.promised_on IS NULL, job.promised_on, job.number");
    Ok(open.fetch_all(executor).await?)
}

/// The jobs that came in since a moment, in order, whether or not they are still here.
pub async fn came_in_since(executor: impl sqlx::SqliteExecutor<'_>, since: Instant) -> Result<Vec<QueueRow>> {
    let newer = jobs!("job.checked_in_at >= ? ORDER BY job.checked_in_at, job.number", since);
    Ok(newer.fetch_all(executor).await?)
}
