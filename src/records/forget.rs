//! A person who asks for it is forgotten.
//!
//! Name, telephone, e-mail, address, notes and signatures go: from the record, from those merged into it, and
//! from the events about them. Jobs, instruments and money stay without a name, because tax law usually asks for
//! them for years; what must be kept and for how long is local law.

use time::Date;

use super::event::{self, By};
use super::{CustomerId, Error, Result, Writing, customer, job, quote, signature};

/// Forgets a person. `version` is the one that was read.
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
    }
    for job in job::of_customer(&mut *on, id).await? {
        quote::forget_names(&mut *on, job).await?;
        signature::forget(&mut *on, job).await?;
    }
    event::write(on, by, "customer anonymised", "customer", id.0, None, Some(&day)).await
}
