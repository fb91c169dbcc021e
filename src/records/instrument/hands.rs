//! Whose an instrument is, and whose it was.

use serde::Serialize;
use time::Date;

use super::super::event::{self, AuditContext};
use super::super::family::Family;
use super::super::{ChangeOfHandsId, CustomerId, Error, InstrumentId, Result, WriteTx, customer};
use super::find;
use crate::quantity::Instant;

/// The instrument changes hands on a day. Its jobs keep who brought it, and its past owners stay on record.
///
/// # Errors
/// [`Error::ChangedMeanwhile`]; refused when it is theirs already, or the new owner was forgotten.
pub async fn change_hands(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: InstrumentId,
    version: i64,
    to: CustomerId,
    on_day: Date,
) -> Result<()> {
    let before = find(tx, id).await?;
    let to = customer::resolve_merged(tx, to).await?.id;
    if before.customer_id == to {
        return Err(Error::refused("It is theirs already: choose whoever has it now."));
    }
    let done = sqlx::query!(
        "UPDATE instrument SET customer_id = ?, version = version + 1 WHERE id = ? AND version = ?",
        to,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::super::error::ensure_updated(&done, "instrument")?;
    let change = ChangeOfHandsId::new();
    sqlx::query!(
        "INSERT INTO change_of_hands (id, instrument_id, from_customer_id, to_customer_id, on_day, noted_at, staff_id)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        change,
        id,
        before.customer_id,
        to,
        on_day,
        by.at,
        by.staff,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "instrument changed hands", "instrument", id.0, Some(&before.customer_id), Some(&to)).await
}

/// An instrument that was written down for the wrong customer, and was nobody's before: it changes no hands.
pub(in super::super) async fn was_never_theirs(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: InstrumentId,
    to: CustomerId,
) -> Result<()> {
    let before = find(tx, id).await?.customer_id;
    sqlx::query!("UPDATE instrument SET customer_id = ?, version = version + 1 WHERE id = ?", to, id)
        .execute(&mut **tx)
        .await?;
    event::write(tx, by, "put right whose it is", "instrument", id.0, Some(&before), Some(&to)).await
}

/// A past owner of an instrument.
#[derive(Debug, Clone, Serialize)]
pub struct PastOwner {
    /// Who.
    pub customer_id: CustomerId,
    /// Their name.
    pub name: String,
    /// The day it went on to the next.
    pub until: Date,
}

/// Whose the instrument was before, newest first.
pub async fn past_owners(executor: impl sqlx::SqliteExecutor<'_>, id: InstrumentId) -> Result<Vec<PastOwner>> {
    Ok(sqlx::query_as!(
        PastOwner,
        r#"SELECT customer.id AS "customer_id: CustomerId", customer.name, change_of_hands.on_day AS "until: Date"
           FROM change_of_hands
           JOIN customer AS written ON written.id = change_of_hands.from_customer_id
           JOIN customer ON customer.id = coalesce(written.merged_into, written.id)
           WHERE change_of_hands.instrument_id = ? ORDER BY change_of_hands.on_day DESC, change_of_hands.noted_at DESC"#,
        id,
    )
    .fetch_all(executor)
    .await?)
}

/// An instrument that went on to somebody else.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for the one explained")]
pub struct FormerlyOwned {
    pub id: InstrumentId,
    pub family: Family,
    pub maker: String,
    pub model: String,
    /// The day it went on.
    pub until: Date,
}

/// What was once this customer's, in this record or one merged into it.
pub async fn formerly_of(executor: impl sqlx::SqliteExecutor<'_>, customer: CustomerId) -> Result<Vec<FormerlyOwned>> {
    Ok(sqlx::query_as!(
        FormerlyOwned,
        r#"SELECT instrument.id AS "id: InstrumentId", instrument.family AS "family: Family", instrument.maker,
                  instrument.model, change_of_hands.on_day AS "until: Date"
           FROM customer
           JOIN change_of_hands ON change_of_hands.from_customer_id = customer.id
           JOIN instrument ON instrument.id = change_of_hands.instrument_id
           WHERE (customer.id = ?1 OR customer.merged_into = ?1) AND instrument.customer_id <> ?1
           ORDER BY change_of_hands.on_day DESC"#,
        customer,
    )
    .fetch_all(executor)
    .await?)
}

/// Every instrument of one customer becomes another's, because both are one person. Answers which.
pub(in super::super) async fn move_all(
    tx: &mut WriteTx,
    from: CustomerId,
    into: CustomerId,
) -> Result<Vec<InstrumentId>> {
    Ok(sqlx::query_scalar!(
        r#"UPDATE instrument SET customer_id = ?, version = version + 1 WHERE customer_id = ?
           RETURNING id AS "id: InstrumentId""#,
        into,
        from,
    )
    .fetch_all(&mut **tx)
    .await?)
}

/// Takes the notes out of a customer's instruments and the events about them, because they asked to be forgotten; of
/// an instrument that went on to somebody else, out of the events up to then.
pub(in super::super) async fn anonymise_notes(tx: &mut WriteTx, customer: CustomerId, now: Instant) -> Result<()> {
    let theirs = sqlx::query_scalar!(
        r#"UPDATE instrument SET note = '', version = version + 1 WHERE customer_id = ?
           RETURNING id AS "id: InstrumentId""#,
        customer,
    )
    .fetch_all(&mut **tx)
    .await?;
    for instrument in theirs {
        event::anonymise_note(tx, instrument.0, now).await?;
    }
    let gone = sqlx::query!(
        r#"SELECT instrument_id AS "id: InstrumentId", noted_at AS "until: Instant" FROM change_of_hands
           WHERE from_customer_id = ?"#,
        customer,
    )
    .fetch_all(&mut **tx)
    .await?;
    for gone in gone {
        event::anonymise_note(tx, gone.id.0, gone.until).await?;
    }
    Ok(())
}

/// An instrument that bears a serial, and whose it is.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct SameSerial {
    pub id: InstrumentId,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub serial: String,
    pub finish: String,
    pub customer_id: CustomerId,
    /// Whose it is.
    pub owner: String,
    /// The number under which it is in the house now.
    pub open_job: Option<String>,
}

/// Instruments of whoever with this serial, however it is spaced, hyphenated and capitalised.
pub async fn with_serial(executor: impl sqlx::SqliteExecutor<'_>, serial: &str) -> Result<Vec<SameSerial>> {
    let plain: String = serial.chars().filter(|c| !matches!(c, '-' | ' ')).map(|c| c.to_ascii_lowercase()).collect();
    if plain.is_empty() {
        return Ok(Vec::new());
    }
    Ok(sqlx::query_as!(
        SameSerial,
        r#"SELECT instrument.id AS "id: InstrumentId", instrument.family AS "family: Family", instrument.maker,
                  instrument.model, instrument.serial, instrument.finish,
                  customer.id AS "customer_id: CustomerId", customer.name AS owner,
                  (SELECT job.number FROM job WHERE job.instrument_id = instrument.id AND job.is_open = 1
                   LIMIT 1) AS "open_job?: String"
           FROM instrument JOIN customer ON customer.id = instrument.customer_id
           WHERE instrument.serial <> ''
             AND replace(replace(lower(instrument.serial), '-', ''), ' ', '') = ?
           ORDER BY instrument.archived_on IS NOT NULL, instrument.created_at DESC LIMIT 8"#,
        plain,
    )
    .fetch_all(executor)
    .await?)
}
