//! Two records of one person become one. Nothing is lost: the older key still leads to the person.

use serde::Serialize;
use sqlx::SqliteConnection;

use super::customer::{self, Customer, CustomerEntry};
use super::error::ensure_version;
use super::event::{self, AuditContext};
use super::{CustomerId, Error, InstrumentId, JobId, Result, WriteTx, instrument, job};
use crate::quantity::telephone::digits_for_search;

#[derive(Serialize)]
struct Merged<'a> {
    from: &'a Customer,
    into: CustomerId,
    instruments: Vec<InstrumentId>,
    jobs: Vec<JobId>,
}

/// Instruments and jobs of `from` go to `into`; what `into` lacks is filled from `from`, what differs goes into
/// its note; and `from` stays as a sign that points there. `versions` are those that were read, of both.
///
/// # Errors
/// [`Error::ChangedMeanwhile`]; refused when both are one already, or one was forgotten.
pub async fn merge(
    tx: &mut WriteTx,
    by: &AuditContext,
    country: &str,
    from: CustomerId,
    into: CustomerId,
    versions: (i64, i64),
) -> Result<()> {
    let (lost, kept) = (customer::find(&mut **tx, from).await?, customer::find(&mut **tx, into).await?);
    if lost.merged_into == Some(into) {
        return Ok(()); // pressed twice
    }
    if from == into || lost.merged_into.is_some() || kept.merged_into.is_some() {
        return Err(Error::refused("These two are one already: open the one that stands for both."));
    }
    customer::resolve_merged(tx, from).await?;
    customer::resolve_merged(tx, into).await?;
    ensure_version(lost.version, versions.0, "customer")?;
    ensure_version(kept.version, versions.1, "customer")?;
    let withdrew = withdrew_reminders(tx, from, into).await?;
    customer::save(tx, by, country, into, kept.version, &together(&kept, &lost, withdrew)).await?;
    let instruments = instrument::move_all(tx, from, into).await?;
    let jobs = job::move_all(tx, from, into).await?;
    customer::point_to(tx, from, into).await?;
    let merged = Merged { from: &lost, into, instruments, jobs };
    event::write(tx, by, "merged into another record", "customer", from.0, None, Some(&merged)).await?;
    event::write(tx, by, "another record merged in", "customer", into.0, None, Some(&merged)).await
}

/// Whether the person of either record took back that reminders may come.
pub async fn withdrew_reminders(connection: &mut SqliteConnection, from: CustomerId, into: CustomerId) -> Result<bool> {
    Ok(customer::withdrew_reminders(&mut *connection, from).await?
        || customer::withdrew_reminders(connection, into).await?)
}

/// What stands in the record that is kept; `withdrew` says whether either record took its yes to reminders back.
pub fn together(kept: &Customer, lost: &Customer, withdrew: bool) -> CustomerEntry {
    let first = |one: &str, other: &str| if one.is_empty() { other.to_owned() } else { one.to_owned() };
    let also = |one: &str, other: &str, same: bool| {
        let differs = !one.is_empty() && !other.is_empty() && !same;
        differs.then(|| format!("Also {other}"))
    };
    let same_telephone = digits_for_search(&kept.telephone) == digits_for_search(&lost.telephone);
    let same_email = kept.email.eq_ignore_ascii_case(&lost.email);
    let same_name = kept.name == lost.name;
    let same_address = kept.address == lost.address;
    let notes = [
        Some(kept.note.clone()),
        Some(lost.note.clone()).filter(|note| *note != kept.note),
        also(&kept.name, &lost.name, same_name),
        also(&kept.telephone, &lost.telephone, same_telephone),
        also(&kept.email, &lost.email, same_email),
        also(&kept.address, &lost.address, same_address),
    ];
    let notes: Vec<String> = notes.into_iter().flatten().filter(|note| !note.is_empty()).collect();
    CustomerEntry {
        name: kept.name.clone(),
        telephone: first(&kept.telephone, &lost.telephone),
        email: first(&kept.email, &lost.email),
        address: first(&kept.address, &lost.address),
        reach_by: kept.reach_by,
        // both records are one person: a yes stands from the day it was first given, and a no that came after one is
        // not outvoted by the other record
        reminders_agreed_on: [kept.reminders_agreed_on, lost.reminders_agreed_on]
            .into_iter()
            .flatten()
            .min()
            .filter(|_| !withdrew),
        note: notes.join("\n"),
    }
}
