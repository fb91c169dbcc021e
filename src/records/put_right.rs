//! A job that was written down for the wrong customer or the wrong instrument, put right while it is in the house.
//!
//! What was wrong stays on record; papers printed before are replaced by papers that say so, and a wrong customer's
//! private link opens nothing from then on.

use serde::Serialize;
use time::Date;

use super::error::ensure_version;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::instrument::{self, InstrumentEntry};
use super::job;
use super::link::LinkSecret;
use super::{CustomerId, Error, InstrumentId, JobId, Result, WriteTx, customer};
use crate::quantity::Instant;

/// The instrument that was meant.
#[derive(Debug, Clone)]
pub enum Meant {
    /// The one that is written down: it goes along to the right customer.
    Along,
    /// Another that we know.
    Known(InstrumentId),
    /// One that we did not know yet.
    New(Box<InstrumentEntry>),
}

/// What is right, and why it was wrong.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "the names say it")]
pub struct PutRight {
    pub customer: CustomerId,
    pub instrument: Meant,
    pub reason: String,
}

/// Whose a job was thought to be, and with what.
#[derive(Serialize)]
struct BelongsTo {
    customer: CustomerId,
    instrument: InstrumentId,
}

/// Puts a job right. `version` is the one that was read; the same form sent twice writes one new instrument.
///
/// # Errors
/// Refused without a reason, once the instrument has left, where the instrument meant is in the house under another
/// number, and where it was measured with another number of strings; [`Error::ChangedMeanwhile`].
pub async fn put_right(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    secret: &LinkSecret,
    id: JobId,
    version: i64,
    form_key: &str,
    right: &PutRight,
) -> Result<()> {
    let job = job::in_the_house(&mut **tx, id, "whose it was is history").await?;
    ensure_version(job.version, version, "job")?;
    let reason = canonical(&right.reason);
    if reason.is_empty() {
        return Err(Error::refused("Say what went wrong, so that the next person knows."));
    }
    let to = customer::resolve_merged(tx, right.customer).await?;
    if to.archived_on.is_some() {
        customer::archive(tx, by, to.id, to.version, None).await?;
    }
    let meant = match &right.instrument {
        Meant::Along => job.instrument_id,
        Meant::Known(known) => *known,
        Meant::New(entry) => instrument::add(tx, by, to.id, form_key, entry).await?,
    };
    if (to.id, meant) == (job.customer_id, job.instrument_id) {
        return Err(Error::refused(format!("{} stands like this already.", job.number)));
    }
    let others = job::of_instrument_but(&mut **tx, meant, id).await?;
    if let Some(open) = others.iter().find(|other| other.is_open) {
        return Err(Error::refused(format!("That instrument is in the house already, as {}.", open.number)));
    }
    let (written, right_one) = (instrument::find(tx, job.instrument_id).await?, instrument::find(tx, meant).await?);
    if written.entry.strings.len() != right_one.entry.strings.len() && job::was_measured(&mut **tx, id).await? {
        return Err(Error::refused(format!(
            "{} was measured with {} strings, and that one has {}. Close it unrepaired and check the right one in.",
            job.number,
            written.entry.strings.len(),
            right_one.entry.strings.len()
        )));
    }
    if right_one.customer_id != to.id {
        // what nobody brought before was never the wrong customer's; what was here with them went on to somebody else
        let was_theirs = !others.is_empty() || matches!(right.instrument, Meant::Known(_));
        match was_theirs {
            true => instrument::change_hands(tx, by, meant, right_one.version, to.id, today).await?,
            false => instrument::was_never_theirs(tx, by, meant, to.id).await?,
        }
    }
    let earlier = others.iter().find(|other| other.checked_in_at <= job.checked_in_at).map(|other| other.id);
    job::belongs_to(tx, id, to.id, meant, earlier).await?;
    let at = by.at;
    sqlx::query!(
        "INSERT INTO job_correction (job_id, from_customer_id, to_customer_id, from_instrument_id, to_instrument_id, reason,
             corrected_at, staff_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job.customer_id,
        to.id,
        job.instrument_id,
        meant,
        reason,
        at,
        by.staff,
    )
    .execute(&mut **tx)
    .await?;
    let before = BelongsTo { customer: job.customer_id, instrument: job.instrument_id };
    let after = BelongsTo { customer: to.id, instrument: meant };
    event::write(tx, by, "put right", "job", id.0, Some(&before), Some(&after)).await?;
    if to.id != job.customer_id {
        let version = job::find(&mut **tx, id).await?.version;
        job::new_link(tx, by, secret, id, version).await?;
    }
    Ok(())
}

/// One correction, in the words of a page.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Correction {
    pub at: Instant,
    pub from_customer: String,
    pub to_customer: String,
    pub from_instrument: InstrumentId,
    pub to_instrument: InstrumentId,
    pub reason: String,
}

/// What was put right on a job, oldest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, id: JobId) -> Result<Vec<Correction>> {
    Ok(sqlx::query_as!(
        Correction,
        r#"SELECT job_correction.corrected_at AS "at: Instant", wrong.name AS from_customer, meant.name AS to_customer,
                  job_correction.from_instrument_id AS "from_instrument: InstrumentId",
                  job_correction.to_instrument_id AS "to_instrument: InstrumentId", job_correction.reason
           FROM job_correction
           JOIN customer AS wrong ON wrong.id = job_correction.from_customer_id
           JOIN customer AS meant ON meant.id = job_correction.to_customer_id
           WHERE job_correction.job_id = ? ORDER BY job_correction.corrected_at"#,
        id,
    )
    .fetch_all(executor)
    .await?)
}

/// Takes the reasons out where a customer who asked to be forgotten was one of the two.
pub(super) async fn forget(tx: &mut WriteTx, customer: CustomerId) -> Result<()> {
    sqlx::query!(
        "UPDATE job_correction SET reason = 'anonymised' WHERE from_customer_id = ?1 OR to_customer_id = ?1",
        customer,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
