//! A person who asks for it is forgotten.
//!
//! Name, telephone, e-mail and address go, and so does every free word about them: complaints, notes, reasons, marks,
//! captions; photographs, signatures and private links too: from the record, from those merged into it, from their
//! jobs and instruments, and from the events about all of these. Jobs, what was worked and read, and money stay
//! without a name, because tax law usually asks for them for years; what must be kept and for how long is local law.

use time::Date;

use super::event::{self, By};
use super::{
    CustomerId, Error, JobId, Result, Writing, condition, customer, draft, final_check, instrument, job, labour, note,
    observation, payment, photo, plan, quote, reading, signature,
};

/// Forgets a person. `version` is the one that was read. The pictures are deleted by [`photo::remove_forgotten`]
/// once this is committed.
///
/// # Errors
/// Refused while an instrument of theirs is in the house; [`Error::ChangedMeanwhile`].
pub async fn anonymise(on: Writing<'_>, by: &By, id: CustomerId, version: i64, day: Date) -> Result<()> {
    let present = customer::find(&mut *on, id).await?;
    if present.anonymised_on.is_some() {
        return Ok(()); // pressed twice
    }
    if present.version != version {
        return Err(Error::ChangedMeanwhile("customer"));
    }
    if customer::is_waiting_for_work(&mut *on, id).await? {
        return Err(Error::refused(format!("{} has an instrument in the house. Hand it over first.", present.name)));
    }
    for record in customer::blank(&mut *on, id, day).await? {
        event::forget(&mut *on, record.0).await?;
        instrument::forget_notes(&mut *on, record, by.at).await?;
    }
    for job in job::of_customer(&mut *on, id).await? {
        forget_job(&mut *on, job).await?;
    }
    event::write(on, by, "customer anonymised", "customer", id.0, None, Some(&day)).await
}

async fn forget_job(on: Writing<'_>, id: JobId) -> Result<()> {
    job::forget(&mut *on, id).await?;
    condition::forget(&mut *on, id).await?;
    photo::forget(&mut *on, id).await?;
    signature::forget(&mut *on, id).await?;
    note::forget(&mut *on, id).await?;
    observation::forget(&mut *on, id).await?;
    reading::forget(&mut *on, id).await?;
    draft::forget(&mut *on, id).await?;
    plan::forget(&mut *on, id).await?;
    final_check::forget(&mut *on, id).await?;
    labour::forget(&mut *on, id).await?;
    quote::forget(&mut *on, id).await?;
    payment::forget(on, id).await
}
