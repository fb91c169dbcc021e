//! The append-only record of deeds: who did what to which record, when, with before and after.
//!
//! Written in the same transaction as the deed, for people who ask who did this. Nothing is decided by its words: what
//! the shop must know stands in columns of its own.

use serde::Serialize;
use uuid::Uuid;

use super::column::{as_json, words};
use super::{Result, StaffId, WriteTx};
use crate::quantity::Instant;

words! {
    /// The door a deed came through.
    Door {
        /// The counter.
        Desk = "desk" => "desk",
        /// The bench.
        Bench = "bench" => "bench",
        /// The office.
        Office = "office" => "office",
        /// The customer's private page.
        Customer = "customer" => "customer",
        /// The command line.
        Command = "command" => "command line",
        /// The program itself.
        House = "house" => "house",
    }
}

/// Who does a deed, through which door, and when.
#[derive(Debug, Clone, Copy)]
pub struct AuditContext {
    /// The person, where one signed in.
    pub staff: Option<StaffId>,
    /// The door.
    pub door: Door,
    /// The moment.
    pub at: Instant,
}

impl AuditContext {
    /// The person, for records that must name one.
    ///
    /// # Errors
    /// Refused when nobody is signed in.
    pub fn person(&self) -> Result<StaffId> {
        self.staff.ok_or_else(|| super::Error::refused("Sign in first: this must be done in somebody's name."))
    }
}

/// Writes one event. `record` is the table's name; `before` and `after` are kept as JSON.
pub(super) async fn write<T: Serialize>(
    tx: &mut WriteTx,
    by: &AuditContext,
    deed: &str,
    record: &str,
    id: Uuid,
    before: Option<&T>,
    after: Option<&T>,
) -> Result<()> {
    let before = before.map(as_json).transpose()?;
    let after = after.map(as_json).transpose()?;
    sqlx::query!(
        "INSERT INTO event (at, staff_id, door, deed, record, record_id, before_json, after_json)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        by.at,
        by.staff,
        by.door,
        deed,
        record,
        id,
        before,
        after,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// An event of several that are written at one go.
#[derive(Debug, Serialize)]
pub(super) struct NewEvent {
    deed: &'static str,
    record: &'static str,
    id: Uuid,
    after: String,
}

impl NewEvent {
    /// A deed that made something: there is nothing before it.
    pub(super) fn made<T: Serialize>(deed: &'static str, record: &'static str, id: Uuid, after: &T) -> Result<Self> {
        Ok(Self { deed, record, id, after: as_json(after)? })
    }
}

/// Writes several events in one statement, in their order.
pub(super) async fn write_all(tx: &mut WriteTx, by: &AuditContext, events: &[NewEvent]) -> Result<()> {
    if events.is_empty() {
        return Ok(());
    }
    let events = as_json(events)?;
    sqlx::query!(
        "INSERT INTO event (at, staff_id, door, deed, record, record_id, after_json)
         SELECT ?, ?, ?, value ->> 'deed', value ->> 'record', unhex(value ->> 'id', '-'), value ->> 'after'
         FROM json_each(?)",
        by.at,
        by.staff,
        by.door,
        events,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Takes the personal words out of the events about one record. That it happened, when and by whom stays.
pub(super) async fn anonymise(tx: &mut WriteTx, id: Uuid) -> Result<()> {
    sqlx::query!(
        r#"UPDATE event SET before_json = iif(before_json IS NULL, NULL, '"anonymised"'),
               after_json = iif(after_json IS NULL, NULL, '"anonymised"')
           WHERE record_id = ?"#,
        id,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Takes the words out of the events about a job; which stages it went through stays readable for whoever reads the
/// deeds.
pub(super) async fn anonymise_except_stages(tx: &mut WriteTx, job: Uuid) -> Result<()> {
    sqlx::query!(
        r#"UPDATE event SET before_json = iif(before_json IS NULL, NULL, '"anonymised"'),
               after_json = iif(after_json IS NULL, NULL, '"anonymised"')
           WHERE record_id = ? AND deed <> 'stage moved'"#,
        job,
    )
    .execute(&mut **tx)
    .await?;
    sqlx::query!(
        "UPDATE event SET after_json = json_remove(after_json, '$.reason') WHERE record_id = ? AND deed = 'stage moved'",
        job,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Takes the note out of the events about an instrument up to a moment; what is said of the instrument itself stays.
pub(super) async fn anonymise_note(tx: &mut WriteTx, instrument: Uuid, until: Instant) -> Result<()> {
    sqlx::query!(
        "UPDATE event SET before_json = json_replace(before_json, '$.note', ''),
             after_json = json_replace(after_json, '$.note', '')
         WHERE record_id = ? AND record = 'instrument' AND at <= ?",
        instrument,
        until,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// One line of the record of deeds, for pages.
#[derive(Debug, Clone)]
pub struct Event {
    /// When.
    pub at: Instant,
    /// Who, where a person did it.
    pub who: Option<String>,
    /// Through which door.
    pub door: Door,
    /// What, in words.
    pub deed: String,
    /// The record before, as JSON.
    pub before_json: Option<String>,
    /// The record after, as JSON.
    pub after_json: Option<String>,
}

/// The last events of one record, newest first.
pub async fn of_record(executor: impl sqlx::SqliteExecutor<'_>, id: Uuid, most: i64) -> Result<Vec<Event>> {
    Ok(sqlx::query_as!(
        Event,
        r#"SELECT event.at AS "at: Instant", staff.name AS "who?", event.door AS "door: Door", event.deed,
                  event.before_json, event.after_json
           FROM event LEFT JOIN staff ON staff.id = event.staff_id
           WHERE event.record_id = ?
           ORDER BY event.id DESC
           LIMIT ?"#,
        id,
        most,
    )
    .fetch_all(executor)
    .await?)
}
