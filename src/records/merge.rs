//! Two records of one person become one. Nothing is lost: the older key still leads to the person.

use serde::Serialize;
use sqlx::SqliteConnection;

use super::customer::{self, Customer, CustomerEntry, Telephone};
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
/// its note; and `from` stays as a sign that points there. `versions` are those that were read, of both; `theirs` are the
/// fields of which the other record's stands afterwards.
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
    theirs: &[&str],
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
    customer::save(tx, by, country, into, kept.version, &together(&kept, &lost, theirs, withdrew)).await?;
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

/// Fields of which one record's stands afterwards.
pub const FIELDS: [&str; 6] = ["name", "telephone", "email", "address", "reach_by", "nickname"];

/// What stands in the record that is kept. Of the fields in `theirs` ([`FIELDS`]) the other record's stands, of the
/// others this one's, unless it is empty; nothing is lost: the other number is one more number, and the rest goes into
/// the note. `withdrew` says whether either record took its yes to reminders back.
pub fn together(kept: &Customer, lost: &Customer, theirs: &[&str], withdrew: bool) -> CustomerEntry {
    let pick = |field: &str, one: &str, other: &str| {
        let (first, second) = if theirs.contains(&field) { (other, one) } else { (one, other) };
        if first.is_empty() { second.to_owned() } else { first.to_owned() }
    };
    let also = |one: &str, other: &str, picked: &str, same: bool| {
        let left = if picked == one { other } else { one };
        (!left.is_empty() && !same).then(|| format!("Also {left}"))
    };
    let name = pick("name", &kept.name, &lost.name);
    let email = pick("email", &kept.email, &lost.email);
    let address = pick("address", &kept.address, &lost.address);
    let nickname = pick("nickname", &kept.nickname, &lost.nickname);
    let notes = [
        Some(kept.note.clone()),
        Some(lost.note.clone()).filter(|note| *note != kept.note),
        also(&kept.name, &lost.name, &name, kept.name == lost.name),
        also(&kept.email, &lost.email, &email, kept.email.eq_ignore_ascii_case(&lost.email)),
        also(&kept.address, &lost.address, &address, kept.address == lost.address),
        also(&kept.nickname, &lost.nickname, &nickname, kept.nickname == lost.nickname),
    ];
    let notes: Vec<String> = notes.into_iter().flatten().filter(|note| !note.is_empty()).collect();
    let telephones = |customer: &Customer| {
        let own = Telephone { label: customer.telephone_label.clone(), number: customer.telephone.clone() };
        std::iter::once(own).chain(customer.more_telephones.0.clone()).collect::<Vec<_>>()
    };
    let (first, second) = if theirs.contains(&"telephone") { (lost, kept) } else { (kept, lost) };
    let mut numbers: Vec<Telephone> = Vec::new();
    for one in telephones(first).into_iter().chain(telephones(second)).filter(|one| !one.number.is_empty()) {
        let is_known = |known: &Telephone| digits_for_search(&known.number) == digits_for_search(&one.number);
        if !numbers.iter().any(is_known) {
            numbers.push(one);
        }
    }
    let own = if numbers.is_empty() { Telephone::default() } else { numbers.remove(0) };
    CustomerEntry {
        name,
        nickname,
        telephone: own.number,
        telephone_label: own.label,
        more_telephones: numbers,
        email,
        address,
        reach_by: if theirs.contains(&"reach_by") { lost.reach_by } else { kept.reach_by },
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
