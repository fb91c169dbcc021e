//! Customers: who they are, how they want to be reached, how they are found again.

use serde::Serialize;
use time::Date;

use super::column::words;
use super::event::{self, By};
use super::fold::{anywhere, canonical, folded};
use super::{CustomerId, Error, Result, Writing};
use crate::quantity::telephone;

/// Hits a search shows at most.
const MOST_HITS: i64 = 20;

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

/// What the desk writes down of a customer. Telephone and e-mail are optional and no key: families share them.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CustomerEntry {
    pub name: String,
    pub telephone: String,
    pub email: String,
    pub address: String,
    pub reach_by: ReachBy,
    /// The day reminders were agreed to, if they were.
    pub reminders_agreed_on: Option<Date>,
    pub note: String,
}

/// A customer.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Customer {
    pub id: CustomerId,
    pub name: String,
    pub telephone: String,
    pub telephone_e164: Option<String>,
    pub email: String,
    pub address: String,
    pub reach_by: ReachBy,
    pub reminders_agreed_on: Option<Date>,
    pub note: String,
    pub version: i64,
}

/// Adds a customer; the same form sent twice adds one.
pub async fn add(on: Writing<'_>, by: &By, country: &str, form_key: &str, entry: &CustomerEntry) -> Result<CustomerId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: CustomerId" FROM customer WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut *on)
        .await?
    {
        return Ok(id);
    }
    let id = CustomerId::new();
    let entry = tidy(entry)?;
    let name_folded = folded(&entry.name);
    let e164 = telephone::to_e164(&entry.telephone, country).map(|found| found.number);
    let digits = telephone::digits_for_search(&entry.telephone);
    sqlx::query!(
        "INSERT INTO customer (id, name, name_folded, telephone, telephone_e164, telephone_digits, email, address,
             reach_by, reminders_agreed_on, note, created_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
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
    )
    .execute(&mut *on)
    .await?;
    event::write(on, by, "customer added", "customer", id.0, None, Some(&entry)).await?;
    Ok(id)
}

/// Saves a changed customer. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(
    on: Writing<'_>,
    by: &By,
    country: &str,
    id: CustomerId,
    version: i64,
    entry: &CustomerEntry,
) -> Result<()> {
    let before = find(&mut *on, id).await?;
    let entry = tidy(entry)?;
    let name_folded = folded(&entry.name);
    let e164 = telephone::to_e164(&entry.telephone, country).map(|found| found.number);
    let digits = telephone::digits_for_search(&entry.telephone);
    let done = sqlx::query!(
        "UPDATE customer SET name = ?, name_folded = ?, telephone = ?, telephone_e164 = ?, telephone_digits = ?, email = ?,
             address = ?, reach_by = ?, reminders_agreed_on = ?, note = ?, version = version + 1
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
        entry.note,
        id,
        version,
    )
    .execute(&mut *on)
    .await?;
    if done.rows_affected() == 0 {
        return Err(Error::ChangedMeanwhile("customer"));
    }
    let after = find(&mut *on, id).await?;
    event::write(on, by, "customer changed", "customer", id.0, Some(&before), Some(&after)).await
}

/// One customer.
pub async fn find(on: impl sqlx::SqliteExecutor<'_>, id: CustomerId) -> Result<Customer> {
    sqlx::query_as!(
        Customer,
        r#"SELECT id AS "id: CustomerId", name, telephone, telephone_e164, email, address, reach_by AS "reach_by: ReachBy",
                  reminders_agreed_on AS "reminders_agreed_on: Date", note, version
           FROM customer WHERE id = ?"#,
        id,
    )
    .fetch_optional(on)
    .await?
    .ok_or(Error::NotFound("customer"))
}

/// What tells one hit of a search from another.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for the two explained")]
pub struct CustomerHit {
    pub id: CustomerId,
    pub name: String,
    pub telephone: String,
    pub email: String,
    /// Instruments of theirs the shop knows.
    pub instruments: i64,
    /// The number of their latest job.
    pub latest_job: Option<String>,
}

/// Finds customers as typed: part of a name, the last digits of a telephone in any spelling, or a job number.
pub async fn search(on: impl sqlx::SqliteExecutor<'_>, typed: &str) -> Result<Vec<CustomerHit>> {
    let name = folded(typed);
    if name.is_empty() {
        return Ok(Vec::new());
    }
    let pattern = anywhere(&name);
    // spellings differ in front (+44, 0044, 0), so numbers are compared from the right
    let digits = telephone::digits_for_search(typed);
    let digits: String = {
        let skip = digits.chars().count().saturating_sub(9);
        digits.chars().skip(skip).collect()
    };
    let by_telephone = (digits.len() >= 4).then(|| anywhere(&digits));
    let number = typed.trim();
    Ok(sqlx::query_as!(
        CustomerHit,
        r#"SELECT customer.id AS "id: CustomerId", customer.name, customer.telephone, customer.email,
                  (SELECT count(*) FROM instrument WHERE instrument.customer_id = customer.id) AS "instruments!: i64",
                  (SELECT job.number FROM job WHERE job.customer_id = customer.id
                   ORDER BY job.checked_in_at DESC LIMIT 1) AS "latest_job?: String"
           FROM customer
           WHERE customer.name_folded LIKE ?1 ESCAPE '\' OR customer.telephone_digits LIKE ?2
              OR customer.id IN (SELECT job.customer_id FROM job WHERE job.number = ?3)
           ORDER BY customer.name_folded
           LIMIT ?4"#,
        pattern,
        by_telephone,
        number,
        MOST_HITS,
    )
    .fetch_all(on)
    .await?)
}

fn tidy(entry: &CustomerEntry) -> Result<CustomerEntry> {
    let name = canonical(&entry.name);
    if name.is_empty() {
        return Err(Error::refused("A customer needs a name."));
    }
    Ok(CustomerEntry {
        name,
        telephone: canonical(&entry.telephone),
        email: canonical(&entry.email),
        address: canonical(&entry.address),
        note: canonical(&entry.note),
        ..entry.clone()
    })
}
