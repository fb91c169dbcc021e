//! A person who asks for it is forgotten.
//!
//! Name, telephone, e-mail and address go, and so does every free word about them: complaints, notes, reasons, marks,
//! captions; photographs, signatures and private links too: from the record, from those merged into it, from their
//! jobs and instruments, and from the events about all of these. Jobs, what was worked and read, and money stay
//! without a name, because tax law usually asks for them for years; what must be kept and for how long is local law.

use time::Date;

use super::error::ensure_version;
use super::event::{self, AuditContext};
use super::{
    CustomerId, Error, JobId, Result, WriteTx, clocked, condition, customer, draft, final_check, instrument, job,
    labour, message, note, observation, payment, photo, plan, promise, put_right, queue_move, quote, reading,
    signature, telling, unsent_form,
};

/// Forgets a person. `version` is the one that was read. The pictures are deleted by [`photo::remove_forgotten`]
/// once this is committed.
///
/// # Errors
/// Refused while an instrument of theirs is in the house; [`Error::ChangedMeanwhile`].
pub async fn anonymise(tx: &mut WriteTx, by: &AuditContext, id: CustomerId, version: i64, day: Date) -> Result<()> {
    let present = customer::find(&mut **tx, id).await?;
    if present.anonymised_on.is_some() {
        return Ok(()); // pressed twice
    }
    ensure_version(present.version, version, "customer")?;
    if customer::is_waiting_for_work(tx, id).await? {
        return Err(Error::refused(format!("{} has an instrument in the house. Hand it over first.", present.name)));
    }
    for record in customer::blank(tx, id, day).await? {
        event::anonymise(tx, record.0).await?;
        instrument::anonymise_notes(tx, record, by.at).await?;
        put_right::forget(tx, record).await?;
        telling::anonymise_care(tx, record).await?;
        unsent_form::forget(tx, record).await?;
    }
    for job in job::of_customer(&mut **tx, id).await?.into_iter().map(|job| job.id) {
        anonymise_job(tx, job).await?;
    }
    event::write(tx, by, "customer anonymised", "customer", id.0, None, Some(&day)).await
}

async fn anonymise_job(tx: &mut WriteTx, id: JobId) -> Result<()> {
    job::anonymise(tx, id).await?;
    condition::anonymise(tx, id).await?;
    photo::anonymise(tx, id).await?;
    signature::anonymise(tx, id).await?;
    note::anonymise(tx, id).await?;
    observation::anonymise(tx, id).await?;
    reading::anonymise(tx, id).await?;
    draft::anonymise(tx, id).await?;
    plan::anonymise(tx, id).await?;
    final_check::anonymise(tx, id).await?;
    labour::anonymise(tx, id).await?;
    clocked::anonymise(tx, id).await?;
    queue_move::anonymise(tx, id).await?;
    promise::anonymise(tx, id).await?;
    telling::anonymise_job(tx, id).await?;
    message::anonymise(tx, id).await?;
    quote::anonymise(tx, id).await?;
    payment::anonymise(tx, id).await
}
