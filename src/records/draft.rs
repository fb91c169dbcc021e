//! Readings under way: every value as it is typed, until somebody says *that is the set*.
//!
//! A draft follows the job's newest reading set; a newer set makes it history. Its entries are only added,
//! each with the key its tablet gave it, so that a value sent twice is there once. An entry names the one it
//! replaces: if something else stands in the cell by then, both are kept and the bench is asked which.

use sqlx::SqliteConnection;
use std::collections::BTreeMap;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::{DraftId, Error, InstrumentId, JobId, ReadingSetId, Result, StaffId, WriteTx, job};
use crate::quantity::Instant;

words! {
    /// The order in which a person goes over the grid.
    Travel {
        /// Everything of one string, then the next string.
        ByString = "by-string" => "string by string",
        /// One place over all strings, then the next place.
        ByPlace = "by-place" => "place by place",
    }
}

words! {
    /// What a bare number of a person's calliper means.
    HabitUnit {
        /// Millimetres.
        Millimetre = "mm" => "mm",
        /// Decimal inches.
        Inch = "inch" => "in",
        /// Sixty-fourths of an inch.
        SixtyFourths = "64ths" => "64ths",
    }
}

/// How a person measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Habit {
    /// The order of travel.
    pub travel: Travel,
    /// The unit.
    pub unit: HabitUnit,
}

/// What was typed into one cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Place in the order of entries.
    pub id: i64,
    /// The field of the grid.
    pub cell: String,
    /// As typed; empty where it was rubbed out.
    pub typed: String,
    /// Read again and meant.
    pub is_sure: bool,
    /// The key its tablet gave it.
    pub key: String,
    /// Who.
    pub staff_id: StaffId,
    /// Their name.
    pub who: String,
    /// When it reached the books.
    pub at: Instant,
}

/// Readings under way.
#[derive(Debug, Clone)]
pub struct Draft {
    /// Key.
    pub id: DraftId,
    /// The steps done since the set it follows, as the plan names them.
    pub done_steps: Vec<String>,
    /// What stands, by cell.
    pub cells: BTreeMap<String, Entry>,
    /// The newest unsettled entry of a cell that met another one.
    pub disputes: BTreeMap<String, Entry>,
    /// The newest entry of all.
    pub seen: i64,
}

/// A value on its way into the books.
#[derive(Debug, Clone, Copy)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct NewEntry<'a> {
    pub cell: &'a str,
    pub typed: &'a str,
    pub is_sure: bool,
    pub key: &'a str,
    pub replaces: &'a str,
    pub settles: i64,
    /// The set its writer saw as the newest.
    pub after: Option<ReadingSetId>,
}

/// What became of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Entered {
    /// It stands in its cell.
    Stands,
    /// Kept, but something else stands there that its writer had not seen.
    Disputed,
    /// Kept, but the set had been taken down before it came.
    Late,
}

/// Enters one value. The same key twice is one entry. The entry itself says who and when, so it needs no event.
///
/// # Errors
/// Refused when the job has left the house.
pub async fn enter(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, new: &NewEntry<'_>) -> Result<Entered> {
    let newest = newest_set(tx, job_id).await?;
    let late = newest != new.after;
    let known = sqlx::query_scalar!(
        r#"SELECT is_disputed AS "is_disputed: bool" FROM reading_entry WHERE entry_key = ?"#,
        new.key
    )
    .fetch_optional(&mut **tx)
    .await?;
    if let Some(is_disputed) = known {
        return Ok(match (is_disputed, late) {
            (false, _) => Entered::Stands,
            (true, false) => Entered::Disputed,
            (true, true) => Entered::Late,
        });
    }
    let person = by.person()?;
    let job = job::find(&mut **tx, job_id).await?;
    if !job.stage.is_open() {
        return Err(Error::refused(format!("{} has left the house; its readings are closed.", job.number)));
    }
    let draft = find_or_open(tx, by, job_id, new.after).await?;
    let standing = sqlx::query!(
        "SELECT entry_key, typed FROM reading_entry WHERE draft_id = ? AND cell = ? AND is_disputed = 0
         ORDER BY id DESC LIMIT 1",
        draft,
        new.cell,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let unseen = standing.is_some_and(|standing| standing.entry_key != new.replaces && standing.typed != new.typed);
    let is_disputed = late || unseen;
    sqlx::query!(
        "INSERT INTO reading_entry (draft_id, cell, typed, is_sure, entry_key, replaces, settles, is_disputed, staff_id, entered_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        draft,
        new.cell,
        new.typed,
        new.is_sure,
        new.key,
        new.replaces,
        new.settles,
        is_disputed,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    Ok(match (late, unseen) {
        (true, _) => Entered::Late,
        (false, true) => Entered::Disputed,
        (false, false) => Entered::Stands,
    })
}

/// Notes that steps of the plan were done since the newest set, so that what they made stale is read again.
pub async fn step_done(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, steps: &[&str]) -> Result<()> {
    let newest = newest_set(tx, job_id).await?;
    let draft = find_or_open(tx, by, job_id, newest).await?;
    let steps_json = as_json(steps)?;
    let done = sqlx::query!(
        "UPDATE reading_draft SET done_steps = ? WHERE id = ? AND done_steps <> ?",
        steps_json,
        draft,
        steps_json
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(());
    }
    event::write(tx, by, "step done", "job", job_id.0, None, Some(&steps)).await
}

async fn find_or_open(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    after: Option<ReadingSetId>,
) -> Result<DraftId> {
    if let Some(found) = find(tx, job_id, after).await? {
        return Ok(found);
    }
    let id = DraftId::new();
    let person = by.person()?;
    sqlx::query!(
        "INSERT INTO reading_draft (id, job_id, after_set_id, done_steps, opened_at, staff_id) VALUES (?, ?, ?, '[]', ?, ?)",
        id,
        job_id,
        after,
        by.at,
        person,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "measuring begun", "job", job_id.0, None, Some(&id)).await?;
    Ok(id)
}

async fn find(
    connection: &mut SqliteConnection,
    job_id: JobId,
    after: Option<ReadingSetId>,
) -> Result<Option<DraftId>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: DraftId" FROM reading_draft
           WHERE job_id = ? AND coalesce(after_set_id, x'') = coalesce(?, x'')"#,
        job_id,
        after,
    )
    .fetch_optional(&mut *connection)
    .await?)
}

/// The newest set of a job.
pub async fn newest_set(connection: &mut SqliteConnection, job_id: JobId) -> Result<Option<ReadingSetId>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: ReadingSetId" FROM reading_set WHERE job_id = ? ORDER BY taken_at DESC, id DESC LIMIT 1"#,
        job_id,
    )
    .fetch_optional(&mut *connection)
    .await?)
}

/// How far the books had come with a job and its instrument: the newest deed about each, and the newest entry of its
/// grid. What was worked out from a reading of them stands as long as this does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reached {
    job_deed: Option<i64>,
    instrument_deed: Option<i64>,
    entry: Option<i64>,
}

/// How far the books have come with a job and its instrument.
pub async fn reached(executor: impl sqlx::SqliteExecutor<'_>, job: JobId, instrument: InstrumentId) -> Result<Reached> {
    Ok(sqlx::query_as!(
        Reached,
        r#"SELECT (SELECT max(id) FROM event WHERE record_id = ?1) AS "job_deed: i64",
                  (SELECT max(id) FROM event WHERE record_id = ?2) AS "instrument_deed: i64",
                  (SELECT max(entry.id) FROM reading_draft JOIN reading_entry AS entry ON entry.draft_id = reading_draft.id
                   WHERE reading_draft.job_id = ?1) AS "entry: i64""#,
        job,
        instrument,
    )
    .fetch_one(executor)
    .await?)
}

/// The draft that follows a set; `None` where nothing was typed and no step was done since.
pub async fn after(
    connection: &mut SqliteConnection,
    job_id: JobId,
    set: Option<ReadingSetId>,
) -> Result<Option<Draft>> {
    let found = sqlx::query!(
        r#"SELECT id AS "id: DraftId", done_steps FROM reading_draft
           WHERE job_id = ? AND coalesce(after_set_id, x'') = coalesce(?, x'')"#,
        job_id,
        set,
    )
    .fetch_optional(&mut *connection)
    .await?;
    let Some(found) = found else {
        return Ok(None);
    };
    let rows = sqlx::query!(
        r#"SELECT entry.id, cell, typed, is_sure AS "is_sure: bool", entry_key, settles, is_disputed AS "is_disputed: bool",
                  staff_id AS "staff_id: StaffId", staff.name AS who, entered_at AS "at: Instant"
           FROM reading_entry AS entry JOIN staff ON staff.id = entry.staff_id
           WHERE draft_id = ? ORDER BY entry.id"#,
        found.id,
    )
    .fetch_all(&mut *connection)
    .await?;
    let mut draft = Draft {
        id: found.id,
        done_steps: serde_json::from_str(&found.done_steps).unwrap_or_default(),
        cells: BTreeMap::new(),
        disputes: BTreeMap::new(),
        seen: rows.last().map_or(0, |row| row.id),
    };
    for row in rows {
        let entry = Entry {
            id: row.id,
            cell: row.cell.clone(),
            typed: row.typed,
            is_sure: row.is_sure,
            key: row.entry_key,
            staff_id: row.staff_id,
            who: row.who,
            at: row.at,
        };
        if row.is_disputed {
            draft.disputes.insert(row.cell, entry);
        } else {
            if draft.disputes.get(&row.cell).is_some_and(|dispute| dispute.id <= row.settles) {
                draft.disputes.remove(&row.cell);
            }
            draft.cells.insert(row.cell, entry);
        }
    }
    Ok(Some(draft))
}

/// Values that are in no set: those that came after the newest one was taken down, and those that met another value
/// before it and that nobody settled. Kept, and named until the next set.
pub async fn late(
    connection: &mut SqliteConnection,
    job_id: JobId,
    newest: Option<ReadingSetId>,
) -> Result<Vec<Entry>> {
    Ok(sqlx::query_as!(
        Entry,
        r#"SELECT entry.id, cell, typed, is_sure AS "is_sure: bool", entry_key AS key, entry.staff_id AS "staff_id: StaffId",
                  staff.name AS who, entered_at AS "at: Instant"
           FROM reading_draft JOIN reading_entry AS entry ON entry.draft_id = reading_draft.id
           JOIN staff ON staff.id = entry.staff_id
           WHERE job_id = ?1 AND coalesce(after_set_id, x'') <> coalesce(?2, x'') AND is_disputed = 1
             AND (entered_at >= (SELECT taken_at FROM reading_set WHERE reading_set.id = ?2)
               OR coalesce(after_set_id, x'') = coalesce((SELECT before.id FROM reading_set AS before
                    WHERE before.job_id = ?1 AND before.id <> ?2 ORDER BY taken_at DESC, before.id DESC LIMIT 1), x''))
             AND NOT EXISTS (SELECT 1 FROM reading_entry AS settling WHERE settling.draft_id = entry.draft_id
                 AND settling.cell = entry.cell AND settling.is_disputed = 0 AND settling.settles >= entry.id)
           ORDER BY entry.id"#,
        job_id,
        newest,
    )
    .fetch_all(&mut *connection)
    .await?)
}

/// How a person measures; `usual` where they never said.
pub async fn habit(executor: impl sqlx::SqliteExecutor<'_>, staff: StaffId, usual: HabitUnit) -> Result<Habit> {
    let row = sqlx::query!(
        r#"SELECT travel AS "travel: Travel", unit AS "unit: HabitUnit" FROM bench_habit WHERE staff_id = ?"#,
        staff,
    )
    .fetch_optional(executor)
    .await?;
    Ok(row.map_or(Habit { travel: Travel::ByString, unit: usual }, |row| Habit { travel: row.travel, unit: row.unit }))
}

/// Remembers how a person measures. A habit is nobody else's business, so it leaves no event.
pub async fn remember_habit(tx: &mut WriteTx, by: &AuditContext, habit: Habit) -> Result<()> {
    let person = by.person()?;
    sqlx::query!(
        "INSERT INTO bench_habit (staff_id, travel, unit) VALUES (?, ?, ?)
         ON CONFLICT (staff_id) DO UPDATE SET travel = excluded.travel, unit = excluded.unit",
        person,
        habit.travel,
        habit.unit,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Takes the words out of what was typed into a job's cells (the note, and why something cannot be measured): its
/// customer asked to be forgotten. Figures stay.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE reading_entry SET typed = ''
         WHERE draft_id IN (SELECT id FROM reading_draft WHERE job_id = ?)
           AND (cell = 'note' OR typed LIKE 'not measurable%')",
        job,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
