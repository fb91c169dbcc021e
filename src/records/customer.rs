//! Customers: who they are, how they want to be reached; two records of one person merged; a person forgotten.

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;
use sqlx::types::Json;
use time::Date;

use super::column::{as_json, words};
use super::event::{self, AuditContext, NewEvent};
use super::fold::{canonical, folded};
use super::{CustomerId, Error, Result, WriteTx, likeness};
use crate::quantity::{Instant, telephone};

words! {
    /// How a customer likes to be reached.
    ReachBy {
        /// A call.
        Telephone = "telephone" => "telephone",
        /// An e-mail.
        Email = "email" => "e-mail",
        /// A letter.
        Letter = "letter" => "letter",
    }
}

/// One more number of a customer.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Telephone {
    /// What it is, in words.
    pub label: String,
    /// As typed.
    pub number: String,
}

/// What the desk writes down of a customer. Telephone and e-mail are optional and no key: families share them.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct CustomerEntry {
    pub name: String,
    /// What they are called beside it, and are found by.
    pub nickname: String,
    pub telephone: String,
    /// What the number is, in words: "work", "her brother".
    pub telephone_label: String,
    pub more_telephones: Vec<Telephone>,
    pub email: String,
    pub address: String,
    pub reach_by: ReachBy,
    /// The day reminders were agreed to, if they were.
    pub reminders_agreed_on: Option<Date>,
    pub note: String,
}

impl CustomerEntry {
    /// Somebody of whom nothing is known but the name.
    pub fn named(name: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            nickname: String::new(),
            telephone: String::new(),
            telephone_label: String::new(),
            more_telephones: Vec::new(),
            email: String::new(),
            address: String::new(),
            reach_by: ReachBy::Telephone,
            reminders_agreed_on: None,
            note: String::new(),
        }
    }
}

/// A customer.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for the one explained")]
pub struct Customer {
    pub id: CustomerId,
    pub name: String,
    pub nickname: String,
    pub telephone: String,
    pub telephone_label: String,
    pub more_telephones: Json<Vec<Telephone>>,
    pub telephone_e164: Option<String>,
    pub email: String,
    pub address: String,
    pub reach_by: ReachBy,
    pub reminders_agreed_on: Option<Date>,
    /// When a yes to reminders was taken back.
    pub reminders_withdrawn_at: Option<Instant>,
    pub note: String,
    /// The record that stands for both since two were merged.
    pub merged_into: Option<CustomerId>,
    pub archived_on: Option<Date>,
    pub anonymised_on: Option<Date>,
    pub version: i64,
}

/// Adds a customer; the same form sent twice adds one.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    country: &str,
    form_key: &str,
    entry: &CustomerEntry,
) -> Result<CustomerId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: CustomerId" FROM customer WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let (id, added) = insert(tx, by, country, form_key, entry).await?;
    event::write_all(tx, by, &[added]).await?;
    Ok(id)
}

/// The row of a new customer; the event that tells of it is the caller's to write, with others.
pub(super) async fn insert(
    tx: &mut WriteTx,
    by: &AuditContext,
    country: &str,
    form_key: &str,
    entry: &CustomerEntry,
) -> Result<(CustomerId, NewEvent)> {
    let id = CustomerId::new();
    let entry = tidy(entry)?;
    let name_folded = folded(&entry.name);
    let e164 = telephone::to_e164(&entry.telephone, country).map(|found| found.number);
    let digits = telephone::digits_for_search(&entry.telephone);
    let more_telephones = as_json(&entry.more_telephones)?;
    let also_found_as = also_found_as(&entry, country);
    sqlx::query!(
        "INSERT INTO customer (id, name, name_folded, telephone, telephone_e164, telephone_digits, email, address,
             reach_by, reminders_agreed_on, note, created_at, form_key, nickname, telephone_label, more_telephones,
             also_found_as)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        entry.name,
        name_folded,
        entry.telephone,
        e164,
        digits,
        entry.email,
        entry.address,
        entry.reach_by,
        entry.reminders_agreed_on,
        entry.note,
        by.at,
        form_key,
        entry.nickname,
        entry.telephone_label,
        more_telephones,
        also_found_as,
    )
    .execute(&mut **tx)
    .await?;
    Ok((id, NewEvent::made("customer added", "customer", id.0, &entry)?))
}

/// Saves a changed customer. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between; refused for somebody who was forgotten.
pub async fn save(
    tx: &mut WriteTx,
    by: &AuditContext,
    country: &str,
    id: CustomerId,
    version: i64,
    entry: &CustomerEntry,
) -> Result<()> {
    let before = resolve_merged(tx, id).await?;
    if before.id != id {
        return Err(Error::ChangedMeanwhile("customer"));
    }
    let entry = tidy(entry)?;
    let withdrawn_at = match (before.reminders_agreed_on, entry.reminders_agreed_on) {
        (_, Some(_)) => None,
        (Some(_), None) => Some(by.at),
        (None, None) => before.reminders_withdrawn_at,
    };
    let name_folded = folded(&entry.name);
    let e164 = telephone::to_e164(&entry.telephone, country).map(|found| found.number);
    let digits = telephone::digits_for_search(&entry.telephone);
    let more_telephones = as_json(&entry.more_telephones)?;
    let also_found_as = also_found_as(&entry, country);
    let done = sqlx::query!(
        "UPDATE customer SET name = ?, name_folded = ?, telephone = ?, telephone_e164 = ?, telephone_digits = ?, email = ?,
             address = ?, reach_by = ?, reminders_agreed_on = ?, reminders_withdrawn_at = ?, note = ?,
             nickname = ?, telephone_label = ?, more_telephones = ?, also_found_as = ?, version = version + 1
         WHERE id = ? AND version = ?",
        entry.name,
        name_folded,
        entry.telephone,
        e164,
        digits,
        entry.email,
        entry.address,
        entry.reach_by,
        entry.reminders_agreed_on,
        withdrawn_at,
        entry.note,
        entry.nickname,
        entry.telephone_label,
        more_telephones,
        also_found_as,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "customer")?;
    let after = find(&mut **tx, id).await?;
    event::write(tx, by, "customer changed", "customer", id.0, Some(&before), Some(&after)).await
}

/// The customers that a condition picks.
macro_rules! customers {
    ($picked:literal, $put:expr) => {
        sqlx::query_as!(
            Customer,
            r#"SELECT id AS "id: CustomerId", name, nickname, telephone, telephone_label,
                      more_telephones AS "more_telephones: Json<Vec<Telephone>>", telephone_e164, email, address,
                      reach_by AS "reach_by: ReachBy", reminders_agreed_on AS "reminders_agreed_on: Date",
                      reminders_withdrawn_at AS "reminders_withdrawn_at: Instant", note,
                      merged_into AS "merged_into: CustomerId", archived_on AS "archived_on: Date",
                      anonymised_on AS "anonymised_on: Date", version
               FROM customer WHERE "#
                + $picked,
            $put
        )
    };
}

/// One customer.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: CustomerId) -> Result<Customer> {
    customers!("id = ?", id).fetch_optional(executor).await?.ok_or(Error::NotFound("customer"))
}

/// The customer that a key means today: a record that was merged stands for the one it went into.
///
/// # Errors
/// Refused where the person was forgotten: nothing new is written of them.
pub async fn resolve_merged(connection: &mut SqliteConnection, id: CustomerId) -> Result<Customer> {
    let mut found = find(&mut *connection, id).await?;
    if let Some(into) = found.merged_into {
        found = find(connection, into).await?;
    }
    if found.anonymised_on.is_some() {
        return Err(Error::refused(
            "This person asked to be forgotten: nothing new goes into that record. Write them down as somebody new.",
        ));
    }
    Ok(found)
}

/// Whether a person, in this record or one merged into it, once agreed to reminders and took it back.
pub async fn withdrew_reminders(executor: impl sqlx::SqliteExecutor<'_>, id: CustomerId) -> Result<bool> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM customer WHERE (id = ?1 OR merged_into = ?1)
                          AND reminders_withdrawn_at IS NOT NULL) AS "did!: bool""#,
        id,
    )
    .fetch_one(executor)
    .await?)
}

/// The records that went into this one.
pub(super) async fn merged_in(executor: impl sqlx::SqliteExecutor<'_>, id: CustomerId) -> Result<Vec<Customer>> {
    Ok(customers!("merged_into = ? ORDER BY created_at", id).fetch_all(executor).await?)
}

/// Puts a customer away, or takes them out again (`None`). Nothing is lost: they are still found.
pub async fn archive(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: CustomerId,
    version: i64,
    day: Option<Date>,
) -> Result<()> {
    let before = find(&mut **tx, id).await?;
    if day.is_some() && is_waiting_for_work(tx, id).await? {
        return Err(Error::refused(format!("{} has an instrument in the house. Hand it over first.", before.name)));
    }
    let done = sqlx::query!(
        "UPDATE customer SET archived_on = ?, version = version + 1 WHERE id = ? AND version = ?",
        day,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "customer")?;
    let deed = if day.is_some() { "customer archived" } else { "customer taken out of the archive" };
    event::write(tx, by, deed, "customer", id.0, Some(&before.archived_on), Some(&day)).await
}

/// A known customer said yes to reminders. The day of an earlier yes stays.
pub async fn agree_to_reminders(tx: &mut WriteTx, by: &AuditContext, id: CustomerId, day: Date) -> Result<()> {
    let done = sqlx::query!(
        "UPDATE customer SET reminders_agreed_on = ?, reminders_withdrawn_at = NULL, version = version + 1
         WHERE id = ? AND reminders_agreed_on IS NULL",
        day,
        id,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(());
    }
    event::write(tx, by, "agreed to reminders", "customer", id.0, None, Some(&day)).await
}

/// Marks a record as one with another, and with it those merged into it before: no sign points to a sign.
pub(super) async fn point_to(tx: &mut WriteTx, from: CustomerId, into: CustomerId) -> Result<()> {
    sqlx::query!(
        "UPDATE customer SET merged_into = ?1, version = version + 1 WHERE id = ?2 OR merged_into = ?2",
        into,
        from,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Takes everything personal out of a record and of those merged into it; answers their keys.
pub(super) async fn blank(tx: &mut WriteTx, id: CustomerId, day: Date) -> Result<Vec<CustomerId>> {
    Ok(sqlx::query_scalar!(
        r#"UPDATE customer SET name = 'Anonymised', name_folded = 'anonymised', telephone = '', telephone_e164 = NULL,
               telephone_digits = '', nickname = '', telephone_label = '', more_telephones = '[]', also_found_as = '',
               email = '', address = '', reminders_agreed_on = NULL,
               reminders_withdrawn_at = NULL, note = '',
               anonymised_on = ?1, archived_on = coalesce(archived_on, ?1), version = version + 1
           WHERE id = ?2 OR merged_into = ?2
           RETURNING id AS "id: CustomerId""#,
        day,
        id,
    )
    .fetch_all(&mut **tx)
    .await?)
}

/// Whether a customer has an instrument in the house.
pub(super) async fn is_waiting_for_work(connection: &mut SqliteConnection, id: CustomerId) -> Result<bool> {
    let open = sqlx::query_scalar!("SELECT count(*) FROM job WHERE customer_id = ? AND is_open = 1", id)
        .fetch_one(&mut *connection)
        .await?;
    Ok(open > 0)
}

/// Words a customer is found by beside name and first number: other spellings, the nickname, the other numbers from
/// the front and from the end.
fn also_found_as(entry: &CustomerEntry, country: &str) -> String {
    let mut words = vec![likeness::also_found_as(&entry.name), folded(&entry.nickname)];
    words.push(likeness::also_found_as(&entry.nickname));
    for more in &entry.more_telephones {
        let international = telephone::to_e164(&more.number, country).map(|found| found.number);
        let spellings = [Some(more.number.clone()), international];
        for digits in spellings.into_iter().flatten().map(|number| telephone::digits_for_search(&number)) {
            let backwards: String = digits.chars().rev().take(telephone::DIGITS_COMPARED).collect();
            words.push(format!("{digits} r{backwards}"));
        }
    }
    // what stands in the index already stands there once
    let name = folded(&entry.name);
    let known: Vec<&str> = name.split(|c: char| !c.is_alphanumeric()).collect();
    let words = words.join(" ");
    let mut new: Vec<&str> = words.split_whitespace().filter(|word| !known.contains(word)).collect();
    new.sort_unstable();
    new.dedup();
    new.join(" ")
}

fn tidy(entry: &CustomerEntry) -> Result<CustomerEntry> {
    let name = canonical(&entry.name);
    if name.is_empty() {
        return Err(Error::refused("A customer needs a name: type one."));
    }
    let more = entry
        .more_telephones
        .iter()
        .map(|more| Telephone { label: canonical(&more.label), number: canonical(&more.number) });
    Ok(CustomerEntry {
        name,
        nickname: canonical(&entry.nickname),
        telephone: canonical(&entry.telephone),
        telephone_label: canonical(&entry.telephone_label),
        more_telephones: more.filter(|more| !more.number.is_empty()).collect(),
        email: canonical(&entry.email),
        address: canonical(&entry.address),
        note: canonical(&entry.note),
        ..entry.clone()
    })
}
