//! The moment an instrument goes out of the door: who came for it, and what was open then. Written once, and taken back on
//! the same day where it was a mistake.

use serde::Serialize;

use super::event::{self, AuditContext};
use super::fold::canonical;
use super::job::{self, Job};
use super::stage::Stage;
use super::{Error, JobId, Result, WriteTx, balance, quote};
use crate::quantity::{Instant, Money};

/// What is written down at the door.
#[derive(Debug, Clone, Copy, Default)]
pub struct HandOver<'a> {
    /// Who came for it, where that was not the owner.
    pub collected_by: &'a str,
    /// How what stays open is to be settled.
    pub open_words: &'a str,
    /// What was open by the page: owed, or with a minus to be given back.
    pub shown: Option<Money>,
}

/// A hand-over as it was written down.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct HandedOver {
    pub handed_over_at: Instant,
    pub who: Option<String>,
    pub collected_by: String,
    pub open_amount: Money,
    pub open_words: String,
    pub taken_back_at: Option<Instant>,
    pub taken_back_reason: Option<String>,
}

/// Writes down that a job's instrument goes out.
///
/// # Errors
/// Refused while money is open and nobody said how it is settled, and where it is not what was shown.
pub(super) async fn write(tx: &mut WriteTx, by: &AuditContext, job: &Job, new: HandOver<'_>) -> Result<()> {
    let open = balance::of_job(tx, job).await?.open_amount();
    if new.shown.is_some_and(|shown| shown != open) {
        return Err(Error::ChangedMeanwhile("account"));
    }
    let (collected_by, open_words) = (canonical(new.collected_by), canonical(new.open_words));
    if open.0 != 0 && open_words.is_empty() {
        return Err(Error::refused(
            "Money stays open on this job: say how it is settled, such as “pays by transfer on Friday”, or settle it first.",
        ));
    }
    let open_words = if open.0 == 0 { String::new() } else { open_words };
    let written = sqlx::query!(
        "INSERT INTO hand_over (job_id, handed_over_at, staff_id, collected_by, open_amount, open_words)
         VALUES (?, ?, ?, ?, ?, ?)",
        job.id,
        by.at,
        by.staff,
        collected_by,
        open,
        open_words,
    )
    .execute(&mut **tx)
    .await?;
    let id = written.last_insert_rowid();
    if let Some(agreed) = quote::agreed_taxed(&mut **tx, job.id).await? {
        for of in agreed.taxed.by_rate {
            sqlx::query!(
                "INSERT INTO hand_over_sale (hand_over_id, tax_name, tax_rate, net, tax) VALUES (?, ?, ?, ?, ?)",
                id,
                agreed.tax_name,
                of.rate.0,
                of.net,
                of.tax,
            )
            .execute(&mut **tx)
            .await?;
        }
    }
    event::write(tx, by, "handed over", "job", job.id.0, None, Some(&(collected_by, open, open_words))).await
}

/// Takes a mistaken hand-over back: the instrument is in the house, and ready as it was. `since` is the beginning of the
/// shop's day. Pressed twice it is taken back once.
///
/// # Errors
/// Refused without a reason, on a later day, and where it was not handed over.
pub async fn take_back(tx: &mut WriteTx, by: &AuditContext, since: Instant, id: JobId, reason: &str) -> Result<()> {
    let job = job::find(&mut **tx, id).await?;
    let newest = newest(&mut **tx, id).await?;
    let is_back = newest.as_ref().is_some_and(|newest| newest.taken_back_at.is_some());
    if job.stage == Stage::Ready && is_back {
        return Ok(());
    }
    let newest = newest.filter(|newest| job.stage == Stage::Collected && newest.taken_back_at.is_none());
    let Some(newest) = newest else {
        return Err(Error::refused(format!("{} was not handed over; there is nothing to take back.", job.number)));
    };
    if newest.handed_over_at < since {
        return Err(Error::refused(format!(
            "{} was handed over on an earlier day. When the instrument comes back, check it in again.",
            job.number
        )));
    }
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say why: the wrong job was pressed, the customer came back in."));
    }
    sqlx::query!(
        "UPDATE hand_over SET taken_back_at = max(?, handed_over_at), taken_back_by = ?, taken_back_reason = ?
         WHERE job_id = ? AND taken_back_at IS NULL",
        by.at,
        by.staff,
        reason,
        id,
    )
    .execute(&mut **tx)
    .await?;
    job::change_stage(tx, by, &job, Stage::Ready, &reason).await
}

/// The newest hand-over of a job.
pub async fn newest(executor: impl sqlx::SqliteExecutor<'_>, id: JobId) -> Result<Option<HandedOver>> {
    Ok(sqlx::query_as!(
        HandedOver,
        r#"SELECT handed_over_at AS "handed_over_at: Instant", staff.name AS "who?", collected_by,
                  open_amount AS "open_amount: Money", open_words, taken_back_at AS "taken_back_at: Instant",
                  taken_back_reason
           FROM hand_over LEFT JOIN staff ON staff.id = hand_over.staff_id
           WHERE job_id = ? ORDER BY hand_over.id DESC LIMIT 1"#,
        id,
    )
    .fetch_optional(executor)
    .await?)
}

/// Takes who came, and what was said of the money, out: the customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, id: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE hand_over SET collected_by = '', open_words = iif(open_amount = 0, '', 'anonymised'),
             taken_back_reason = iif(taken_back_at IS NULL, NULL, 'anonymised')
         WHERE job_id = ?",
        id,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
