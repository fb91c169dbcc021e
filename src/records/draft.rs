//! Readings under way: every value as it is typed, until somebody says *that is the set*.
//!
//! A draft follows the job's newest reading set; a newer set makes it history. Its entries are only added,
//! each with the key its tablet gave it, so that a value sent twice is there once. An entry names the one it
//! replaces: if something else stands in the cell by then, both are kept and the bench is asked which.

use serde::Deserialize;
use sqlx::SqliteConnection;
use sqlx::types::Json;
use std::collections::BTreeMap;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::reading::ReadingSet;
use super::{
    DraftId, Error, InstrumentId, JobId, ObservationId, ReadingSetId, Result, StaffId, WriteTx, job, observation,
};
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

/// The plan's steps that turn the rod. Where one of them was all that was done between two sets, the sets tell what a
/// rod does in this shop.
const TURNS_THE_ROD: [&str; 2] = ["relief-too-much", "relief-too-little"];

/// How a person measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Habit {
    /// The order of travel.
    pub travel: Travel,
    /// The unit.
    pub unit: HabitUnit,
}

/// What was typed into one cell.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
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
    /// The set it follows; `None` before the first.
    pub after: Option<ReadingSetId>,
    /// When the first of it was done or typed.
    pub opened_at: Instant,
    /// The steps done since the set it follows, as the plan names them.
    pub done_steps: Vec<String>,
    /// What stands, by cell.
    pub cells: BTreeMap<String, Entry>,
    /// The newest unsettled entry of a cell that met another one.
    pub disputes: BTreeMap<String, Entry>,
    /// Every entry that met another one and that nobody settled.
    unsettled: Vec<Entry>,
    /// The newest entry of all.
    pub seen: i64,
    /// Who said that the steps are done, and when.
    pub done_by: String,
    /// When.
    pub done_at: Instant,
    /// The plan that the steps were done by, as it was kept: what the engine was given, and what it said.
    pub done_plan: Option<(String, String)>,
    /// What was said to be done and was taken back, oldest first.
    pub corrections: Vec<StepCorrection>,
}

/// Steps that were said to be done and were not, or otherwise.
#[derive(Debug, Clone, Deserialize)]
pub struct StepCorrection {
    /// As the plan names them.
    pub steps: Vec<String>,
    /// What was done instead, or why not; empty where nothing had been read since.
    pub words: String,
    /// Who said so.
    pub who: String,
    /// When.
    pub at: Instant,
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
    job::in_the_house(&mut **tx, job_id, "its readings are closed").await?;
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
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn step_done(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, steps: &[&str]) -> Result<()> {
    job::in_the_house(&mut **tx, job_id, "no step is done any more").await?;
    let newest = newest_set(tx, job_id).await?;
    let draft = find_or_open(tx, by, job_id, newest).await?;
    let steps_json = as_json(steps)?;
    let is_rod_alone = matches!(steps, [only] if TURNS_THE_ROD.contains(only));
    let person = by.person()?;
    let done = sqlx::query!(
        "UPDATE reading_draft SET done_steps = ?, is_rod_alone = ?, steps_done_at = ?, steps_done_by = ?
         WHERE id = ? AND done_steps <> ?",
        steps_json,
        is_rod_alone,
        by.at,
        person,
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

/// Takes back that steps of the plan were done. Until something was read since, that needs no word; afterwards it is a
/// correction, and says what was done instead or why it was not. What was seen and put right stays so. Pressed twice it
/// changes nothing; answers whether it changed anything.
///
/// # Errors
/// Refused once the instrument has left the house, and without a word where something was read since.
pub async fn take_back(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: DraftId, words: &str) -> Result<bool> {
    let person = by.person()?;
    job::in_the_house(&mut **tx, job_id, "what was done stays as it was said").await?;
    let Some(draft) = sqlx::query!(
        r#"SELECT after_set_id AS "after: ReadingSetId", done_steps AS "done_steps: Json<Vec<String>>",
                  EXISTS (SELECT 1 FROM reading_entry WHERE draft_id = reading_draft.id) AS "was_read!: bool",
                  (SELECT json_group_array(key) FROM observation
                   WHERE job_id = reading_draft.job_id AND cleared_at >= opened_at AND taken_back = 0)
                      AS "put_right!: Json<Vec<String>>"
           FROM reading_draft WHERE id = ? AND job_id = ?"#,
        id,
        job_id,
    )
    .fetch_optional(&mut **tx)
    .await?
    else {
        return Ok(false);
    };
    let (put_right, taken_back): (Vec<String>, Vec<String>) =
        draft.done_steps.0.into_iter().partition(|step| draft.put_right.0.contains(step));
    if taken_back.is_empty() {
        return Ok(false);
    }
    let words = canonical(words);
    if words.is_empty() && (draft.was_read || newest_set(tx, job_id).await? != draft.after) {
        return Err(Error::refused("Something was read since. Say what was done instead, or why it was not."));
    }
    let (left, steps) = (as_json(&put_right)?, as_json(&taken_back)?);
    sqlx::query!("UPDATE reading_draft SET done_steps = ?, is_rod_alone = 0 WHERE id = ?", left, id)
        .execute(&mut **tx)
        .await?;
    sqlx::query!(
        "INSERT INTO step_correction (draft_id, steps, words, staff_id, corrected_at) VALUES (?, ?, ?, ?, ?)",
        id,
        steps,
        words,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "step taken back", "job", job_id.0, None, Some(&(taken_back, words))).await?;
    Ok(true)
}

/// What was seen or heard is put right. What was read while it stood and changes by it is read again, as after a step of
/// the plan; says whether anything is.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn put_right(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: ObservationId) -> Result<bool> {
    let Some(seen) = observation::clear(tx, by, job_id, id).await? else {
        return Ok(false);
    };
    let Some(newest) = newest_set(tx, job_id).await?.filter(|_| !seen.makes_stale().is_empty()) else {
        return Ok(false);
    };
    let draft = find_or_open(tx, by, job_id, Some(newest)).await?;
    let done = sqlx::query!(
        "UPDATE reading_draft SET done_steps = json_insert(done_steps, '$[#]', ?1), is_rod_alone = 0
         WHERE id = ?2 AND NOT EXISTS (SELECT 1 FROM json_each(done_steps) WHERE value = ?1)",
        seen.key,
        draft,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() > 0 {
        event::write(tx, by, "step done", "job", job_id.0, None, Some(&[seen.key])).await?;
    }
    Ok(true)
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

/// An entry with what decides where it stands.
#[derive(Debug, Deserialize)]
struct LoggedEntry {
    #[serde(flatten)]
    entry: Entry,
    settles: i64,
    is_disputed: bool,
}

/// Drafts with their entries, in one statement; `$which` ends it.
macro_rules! drafts {
    ($connection:expr, $which:literal, $($argument:expr),+ $(,)?) => {
        sqlx::query!(
            r#"SELECT id AS "id: DraftId", after_set_id AS "after: ReadingSetId", opened_at AS "opened_at: Instant", done_steps AS "done_steps: Json<Vec<String>>",
                      (SELECT json_group_array(json_object('id', entry.id, 'cell', cell, 'typed', typed,
                                  'is_sure', json(iif(is_sure, 'true', 'false')), 'key', entry_key, 'staff_id', hex(entry.staff_id),
                                  'who', staff.name, 'at', entered_at, 'settles', settles,
                                  'is_disputed', json(iif(is_disputed, 'true', 'false'))) ORDER BY entry.id)
                       FROM reading_entry AS entry JOIN staff ON staff.id = entry.staff_id
                       WHERE draft_id = reading_draft.id) AS "entries!: Json<Vec<LoggedEntry>>",
                      coalesce(steps_done_at, opened_at) AS "done_at!: Instant",
                      (SELECT name FROM staff WHERE id = coalesce(steps_done_by, reading_draft.staff_id)) AS "done_by!: String",
                      (SELECT json_array(input_json, output_json) FROM plan
                       WHERE plan.job_id = reading_draft.job_id AND reading_set_id = after_set_id AND done_steps <> '[]'
                         AND made_at <= coalesce(steps_done_at, opened_at)
                       ORDER BY made_at DESC, plan.id DESC LIMIT 1) AS "done_plan?: Json<(String, String)>",
                      (SELECT json_group_array(json_object('steps', json(steps), 'words', words, 'who', staff.name,
                                  'at', corrected_at) ORDER BY step_correction.id)
                       FROM step_correction JOIN staff ON staff.id = step_correction.staff_id
                       WHERE draft_id = reading_draft.id) AS "corrections!: Json<Vec<StepCorrection>>"
               FROM reading_draft "# + $which,
            $($argument),+
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(|row| Draft {
            done_by: row.done_by,
            done_at: row.done_at,
            done_plan: row.done_plan.map(|plan| plan.0),
            corrections: row.corrections.0,
            ..Draft::of((row.id, row.after, row.opened_at), row.done_steps.0, row.entries.0)
        })
    };
}

impl Draft {
    /// Nothing was typed and no step is done: what was said to be done was taken back.
    pub fn is_untouched(&self) -> bool {
        self.seen == 0 && self.done_steps.is_empty()
    }

    fn of(
        (id, after, opened_at): (DraftId, Option<ReadingSetId>, Instant),
        done_steps: Vec<String>,
        entries: Vec<LoggedEntry>,
    ) -> Self {
        let seen = entries.last().map_or(0, |logged| logged.entry.id);
        let (mut cells, mut unsettled) = (BTreeMap::new(), Vec::<Entry>::new());
        for LoggedEntry { entry, settles, is_disputed } in entries {
            if is_disputed {
                unsettled.push(entry);
            } else {
                unsettled.retain(|dispute| dispute.cell != entry.cell || dispute.id > settles);
                cells.insert(entry.cell.clone(), entry);
            }
        }
        let disputes = unsettled.iter().map(|dispute| (dispute.cell.clone(), dispute.clone())).collect();
        Self {
            id,
            after,
            opened_at,
            done_steps,
            cells,
            disputes,
            unsettled,
            seen,
            done_by: String::new(),
            done_at: opened_at,
            done_plan: None,
            corrections: Vec::new(),
        }
    }
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
    Ok(drafts!(connection, "WHERE job_id = ? AND coalesce(after_set_id, x'') = coalesce(?, x'')", job_id, set).next())
}

/// Everything that was typed on a job, set by set.
#[derive(Debug, Clone)]
pub struct Drafts(Vec<Draft>);

/// The drafts of a job.
pub async fn of_job(connection: &mut SqliteConnection, job_id: JobId) -> Result<Drafts> {
    Ok(Drafts(drafts!(connection, "WHERE job_id = ?", job_id).collect()))
}

impl Drafts {
    /// Those that begin with steps of the plan, done or taken back, newest first.
    pub fn finished(&self) -> Vec<&Draft> {
        let mut finished: Vec<&Draft> =
            self.0.iter().filter(|draft| !draft.done_steps.is_empty() || !draft.corrections.is_empty()).collect();
        finished.sort_by_key(|draft| std::cmp::Reverse(draft.done_at));
        finished
    }

    /// The draft that follows a set; `None` where nothing was typed and no step was done since.
    pub fn after(&self, set: Option<ReadingSetId>) -> Option<&Draft> {
        self.0.iter().find(|draft| draft.after == set)
    }

    /// Values that are in no set: those that came after the newest one was taken down, and those that met another
    /// value before it and that nobody settled. Kept, and named until the next set. `sets` are the job's, oldest first.
    pub fn late(&self, sets: &[ReadingSet]) -> Vec<Entry> {
        let Some((newest, before)) = sets.split_last() else {
            return Vec::new();
        };
        let before = before.last().map(|set| set.id);
        let followed = self.0.iter().filter(|draft| draft.after != Some(newest.id));
        let unsettled = followed.flat_map(|draft| draft.unsettled.iter().map(move |entry| (draft.after, entry)));
        let late = unsettled.filter(|(after, entry)| entry.at >= newest.taken_at || *after == before);
        let mut late: Vec<Entry> = late.map(|(_, entry)| entry.clone()).collect();
        late.sort_by_key(|entry| entry.id);
        late
    }
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
    sqlx::query!(
        "UPDATE step_correction SET words = '' WHERE draft_id IN (SELECT id FROM reading_draft WHERE job_id = ?)",
        job,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
