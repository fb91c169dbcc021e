//! The visits of a customer or an instrument.

use serde::Serialize;
use time::Date;

use super::super::column::as_json;
use super::super::family::Family;
use super::super::stage::Stage;
use super::super::{CustomerId, InstrumentId, JobId, Result};
use super::find;
use crate::quantity::Instant;

/// A job in the history of a customer or an instrument.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct PastVisit {
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

/// The visits that a condition on the job picks, newest first: at or before a moment, `most` at a time.
macro_rules! visits {
    ($whose:literal, $($put:expr),+) => {
        sqlx::query_as!(
            PastVisit,
            r#"SELECT job.id AS "id: JobId", job.number, job.instrument_id AS "instrument_id: InstrumentId",
                      instrument.maker, instrument.model, instrument.family AS "family: Family", job.complaint,
                      job.stage AS "stage: Stage", job.promised_on AS "promised_on: Date",
                      job.checked_in_at AS "checked_in_at: Instant"
               FROM job JOIN instrument ON instrument.id = job.instrument_id
               WHERE job.checked_in_at <= ?2 AND (job.checked_in_at < ?2 OR ?3 IS NULL OR job.id < ?3) AND "#
                + $whose
                + " ORDER BY job.checked_in_at DESC, job.id DESC LIMIT ?4",
            $($put),+
        )
    };
}

/// Jobs of one customer, or of one instrument, newest first, `most` at a time; `before` goes on after the last one
/// seen.
pub async fn visits(
    pool: &sqlx::SqlitePool,
    whose: Visits,
    before: Option<JobId>,
    most: i64,
) -> Result<Vec<PastVisit>> {
    let before = match before {
        Some(id) => Some(find(pool, id).await?),
        None => None,
    };
    let (at, id) = before.map_or((Instant(i64::MAX), None), |job| (job.checked_in_at, Some(job.id)));
    Ok(match whose {
        Visits::Of(customer) => visits!("job.customer_id = ?1", customer, at, id, most).fetch_all(pool).await,
        Visits::With(instrument) => visits!("job.instrument_id = ?1", instrument, at, id, most).fetch_all(pool).await,
    }?)
}

/// The latest visit of each instrument that was here.
pub async fn latest_visits(
    executor: impl sqlx::SqliteExecutor<'_>,
    instruments: &[InstrumentId],
) -> Result<Vec<PastVisit>> {
    let instruments = as_json(instruments)?;
    Ok(sqlx::query_as!(
        PastVisit,
        r#"SELECT job.id AS "id: JobId", job.number, job.instrument_id AS "instrument_id: InstrumentId",
                  instrument.maker, instrument.model, instrument.family AS "family: Family", job.complaint,
                  job.stage AS "stage: Stage", job.promised_on AS "promised_on: Date",
                  job.checked_in_at AS "checked_in_at: Instant"
           FROM instrument JOIN job ON job.id =
               (SELECT id FROM job AS latest WHERE latest.instrument_id = instrument.id ORDER BY checked_in_at DESC LIMIT 1)
           WHERE instrument.id IN (SELECT unhex(value, '-') FROM json_each(?))"#,
        instruments,
    )
    .fetch_all(executor)
    .await?)
}
