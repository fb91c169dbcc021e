//! The final check: the list of the trade before *ready*, which the owner keeps, and what was answered
//! for one job. A job that comes back to the final check is checked afresh.

use serde::Serialize;
use sqlx::SqliteConnection;

use super::column::words;
use super::event::{self, AuditContext};
use super::family::Family;
use super::fold::canonical;
use super::instrument::{self, Instrument};
use super::job::Job;
use super::labour::{self, Labour};
use super::observation::{self, Observation};
use super::reading::{self, ReadingStage};
use super::stage::Stage;
use super::{CheckItemId, Error, ObservationId, Result, WriteTx, job, plan as kept, settings, staff};
use crate::quantity::Instant;
use crate::setup::plan::{AfterWork, ComparedPlace, ObservationKey};

words! {
    /// What was answered to one item.
    CheckAnswer {
        /// It is so.
        Yes = "yes" => "yes",
        /// There is nothing of the kind on this instrument.
        NotApplicable = "not-applicable" => "not applicable",
        /// It is not so, and that is right here.
        Reason = "reason" => "no, because …",
    }
}

/// One item of the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CheckItem {
    pub id: CheckItemId,
    pub position: i64,
    pub words: String,
    pub hint: String,
    pub family: Option<Family>,
    pub by_readings: bool,
    pub archived: bool,
    pub version: i64,
}

/// What the owner writes down of an item.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CheckItemEntry {
    pub position: i64,
    pub words: String,
    pub hint: String,
    pub family: Option<Family>,
    pub archived: bool,
}

/// One item as it stands for one job.
#[derive(Debug, Clone)]
pub struct Checked {
    /// The item.
    pub item: CheckItem,
    /// What was answered, where it was.
    pub given: Option<Given>,
}

/// An answer, with who and when.
#[derive(Debug, Clone)]
pub struct Given {
    /// What.
    pub answer: CheckAnswer,
    /// Why, where the answer is a reason.
    pub reason: String,
    /// Who.
    pub who: String,
    /// When.
    pub at: Instant,
}

/// The final check of one job.
#[derive(Debug, Clone)]
pub struct FinalCheck {
    /// The list, in order.
    pub items: Vec<Checked>,
    /// What the final readings say; `None` where none were taken since the last work.
    pub after_work: Option<AfterWork>,
    /// What was heard or found broken and was not put right, and why it leaves like that, where somebody said.
    pub unresolved: Vec<(Observation, Option<Given>)>,
    /// Clocks that still run on the job.
    pub running: Vec<Labour>,
}

/// What does not leave the house without a word: it sounds wrong, or something gives way.
const NOT_LEFT_UNSAID: [ObservationKey; 5] = [
    ObservationKey::Buzz,
    ObservationKey::Choke,
    ObservationKey::Crack,
    ObservationKey::BridgeLifting,
    ObservationKey::BraceLoose,
];

impl FinalCheck {
    /// Items that nobody has answered.
    pub fn open(&self) -> impl Iterator<Item = &CheckItem> {
        self.items.iter().filter(|checked| checked.given.is_none()).map(|checked| &checked.item)
    }

    /// Everything that stands before *ready*, in words.
    pub fn open_words(&self) -> Vec<String> {
        let items = self.open().map(|item| format!("“{}”", item.words));
        let unresolved = self.unresolved.iter().filter(|(_, given)| given.is_none());
        let unresolved = unresolved.map(|(seen, _)| format!("what was noted and not put right: {}", seen.in_words()));
        let running = self.running.iter().map(|entry| format!("{}’s clock on “{}” still runs", entry.who, entry.words));
        items.chain(unresolved).chain(running).collect()
    }

    /// How many places were read, and how many of them are off.
    pub fn places(&self) -> (usize, usize) {
        let places: &[ComparedPlace] = self.after_work.as_ref().map_or(&[], |found| &found.places);
        (places.len(), places.iter().filter(|place| !place.proved).count())
    }
}

/// The whole list, in order; archived items last.
pub async fn items(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<CheckItem>> {
    Ok(sqlx::query_as!(
        CheckItem,
        r#"SELECT id AS "id: CheckItemId", position, words, hint, family AS "family: Family",
                  by_readings AS "by_readings: bool", archived AS "archived: bool", version
           FROM check_item ORDER BY archived, position, id"#
    )
    .fetch_all(executor)
    .await?)
}

/// One item.
pub async fn item(executor: impl sqlx::SqliteExecutor<'_>, id: CheckItemId) -> Result<CheckItem> {
    items(executor).await?.into_iter().find(|item| item.id == id).ok_or(Error::NotFound("item of the final check"))
}

/// Adds an item; the same form sent twice adds one.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    form_key: &str,
    by_readings: bool,
    entry: &CheckItemEntry,
) -> Result<CheckItemId> {
    if let Some(id) =
        sqlx::query_scalar!(r#"SELECT id AS "id: CheckItemId" FROM check_item WHERE form_key = ?"#, form_key)
            .fetch_optional(&mut **tx)
            .await?
    {
        return Ok(id);
    }
    let id = CheckItemId::new();
    let (words, hint) = item_words(entry)?;
    sqlx::query!(
        "INSERT INTO check_item (id, position, words, hint, family, by_readings, archived, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        entry.position,
        words,
        hint,
        entry.family,
        by_readings,
        entry.archived,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    place(tx, id, entry.position).await?;
    event::write(tx, by, "item of the final check added", "check_item", id.0, None, Some(entry)).await.map(|()| id)
}

/// Saves a changed item. Its place in the list is its position; the others move.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: CheckItemId,
    version: i64,
    entry: &CheckItemEntry,
) -> Result<()> {
    let before = item(&mut **tx, id).await?;
    let (words, hint) = item_words(entry)?;
    let done = sqlx::query!(
        "UPDATE check_item SET words = ?, hint = ?, family = ?, archived = ?, version = version + 1
         WHERE id = ? AND version = ?",
        words,
        hint,
        entry.family,
        entry.archived,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "item")?;
    place(tx, id, entry.position).await?;
    let after = item(&mut **tx, id).await?;
    event::write(tx, by, "item of the final check changed", "check_item", id.0, Some(&before), Some(&after)).await
}

fn item_words(entry: &CheckItemEntry) -> Result<(String, String)> {
    let words = canonical(&entry.words);
    if words.is_empty() {
        return Err(Error::refused("Type what is looked at."));
    }
    Ok((words, canonical(&entry.hint)))
}

/// Puts an item at a place of the list and numbers the others around it.
async fn place(tx: &mut WriteTx, id: CheckItemId, position: i64) -> Result<()> {
    let mut order: Vec<CheckItemId> =
        items(&mut **tx).await?.into_iter().map(|item| item.id).filter(|other| *other != id).collect();
    let at = usize::try_from(position - 1).unwrap_or(0).min(order.len());
    order.insert(at, id);
    for (position, id) in (1_i64..).zip(order) {
        sqlx::query!("UPDATE check_item SET position = ? WHERE id = ? AND position <> ?", position, id, position)
            .execute(&mut **tx)
            .await?;
    }
    Ok(())
}

/// The final check of one job as it stands. Each item of the list that suits the instrument; the one the
/// final readings answer is filled from what they say of the plan.
pub async fn of_job(connection: &mut SqliteConnection, job: &Job) -> Result<FinalCheck> {
    let instrument = instrument::find(&mut *connection, job.instrument_id).await?;
    // what was answered of the work before a line was opened again is asked anew
    let reopened_at = job.work_reopened_at.unwrap_or(Instant(0));
    let answers = sqlx::query!(
        r#"SELECT check_item_id AS "item: CheckItemId", answer AS "answer: CheckAnswer", reason, staff.name AS who,
                  answered_at AS "at: Instant"
           FROM check_answer JOIN staff ON staff.id = check_answer.staff_id
           WHERE job_id = ? AND arrived_at = ? AND answered_at >= ?
           ORDER BY check_answer.id DESC"#,
        job.id,
        job.stage_since,
        reopened_at,
    )
    .fetch_all(&mut *connection)
    .await?;
    let Proved { after_work, given: proved, finals_at } = read_proofs(&mut *connection, job, &instrument).await?;
    let list = items(&mut *connection).await?;
    let family = instrument.entry.family;
    let suits = |item: &CheckItem| !item.archived && item.family.is_none_or(|only| only == family);
    let items = list.into_iter().filter(suits).map(|item| {
        let given = answers.iter().find(|answer| answer.item == item.id).map(|answer| Given {
            answer: answer.answer,
            reason: answer.reason.clone(),
            who: answer.who.clone(),
            at: answer.at,
        });
        // a reason was given for the readings of its day, not for newer ones
        let is_of_these = |given: &Given| finals_at.is_none_or(|finals_at| given.at >= finals_at);
        let given = if item.by_readings { proved.clone().or(given.filter(is_of_these)) } else { given };
        Checked { item, given }
    });
    let items = items.collect();
    let unresolved = unresolved_observations(&mut *connection, job).await?;
    let mut running = labour::of_job(connection, job.id).await?;
    running.retain(|entry| entry.ended_at.is_none());
    Ok(FinalCheck { items, after_work, unresolved, running })
}

/// What was heard or found broken and stands, with why it is left.
async fn unresolved_observations(
    connection: &mut SqliteConnection,
    job: &Job,
) -> Result<Vec<(Observation, Option<Given>)>> {
    let left = sqlx::query!(
        r#"SELECT observation_id AS "observation: ObservationId", reason, staff.name AS who, answered_at AS "at: Instant"
           FROM observation_left JOIN staff ON staff.id = observation_left.staff_id
           WHERE job_id = ?1 AND arrived_at = ?2
           ORDER BY observation_left.id DESC"#,
        job.id,
        job.stage_since,
    )
    .fetch_all(&mut *connection)
    .await?;
    let mut seen = observation::of_job(connection, job.id).await?;
    let counts = |key: &str| key.parse().is_ok_and(|key| NOT_LEFT_UNSAID.contains(&key));
    seen.retain(|seen| seen.cleared_at.is_none() && counts(&seen.key));
    let answered = seen.into_iter().map(|seen| {
        let given = left.iter().find(|left| left.observation == seen.id).map(|left| Given {
            answer: CheckAnswer::Reason,
            reason: left.reason.clone(),
            who: left.who.clone(),
            at: left.at,
        });
        (seen, given)
    });
    Ok(answered.collect())
}

/// Says why something that was noted leaves the house as it is; what says the same as before is left as it was.
///
/// # Errors
/// Refused when the job is not at the final check, or nothing of the kind stands.
pub async fn leave(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: super::JobId,
    left: &[(ObservationId, String)],
) -> Result<()> {
    let person = by.person()?;
    let job = job::find(&mut **tx, job_id).await?;
    require_here(&job)?;
    let unresolved = unresolved_observations(tx, &job).await?;
    for (id, reason) in left {
        let (seen, given) =
            unresolved.iter().find(|(seen, _)| seen.id == *id).ok_or(Error::NotFound("observation that is left"))?;
        let reason = canonical(reason);
        if reason.is_empty() || given.as_ref().is_some_and(|given| given.reason == reason) {
            continue;
        }
        sqlx::query!(
            "INSERT INTO observation_left (job_id, observation_id, arrived_at, reason, staff_id, answered_at)
             VALUES (?, ?, ?, ?, ?, ?)",
            job_id,
            id,
            job.stage_since,
            reason,
            person,
            by.at,
        )
        .execute(&mut **tx)
        .await?;
        event::write(tx, by, "observation left as it is", "job", job_id.0, None, Some(&(seen.in_words(), reason)))
            .await?;
    }
    Ok(())
}

fn require_here(job: &Job) -> Result<()> {
    if job.stage == Stage::FinalCheck {
        return Ok(());
    }
    Err(Error::refused(format!(
        "{} is {}: the list is answered once it has come to the final check. Move it there first.",
        job.number, job.stage
    )))
}

/// What the final readings prove, and the answer that follows from it.
#[derive(Default)]
struct Proved {
    after_work: Option<AfterWork>,
    given: Option<Given>,
    /// When the final readings were taken, whatever they say.
    finals_at: Option<Instant>,
}

/// Holds the final readings against the plan. The answer is yes where every place that was read as received was read again and is
/// proved. Readings from before the job was last put on the bench, or before a newer set, prove nothing.
async fn read_proofs(connection: &mut SqliteConnection, job: &Job, instrument: &Instrument) -> Result<Proved> {
    let sets = reading::of_job(&mut *connection, job.id).await?;
    let Some(finals) = sets.last().filter(|set| set.circumstances.stage == ReadingStage::Final) else {
        return Ok(Proved::default());
    };
    let finals_at = Some(finals.taken_at);
    let was_reopened = job.work_reopened_at.is_some_and(|at| at > finals.taken_at);
    if was_reopened || job::came_to_since(&mut *connection, job.id, Stage::OnTheBench, finals.taken_at).await? {
        return Ok(Proved { finals_at, ..Proved::default() });
    }
    let house = settings::house(&settings::current(&mut *connection).await?.targets)?;
    let after_work = kept::after_work(&mut *connection, job, &instrument.entry, &sets, &house).await?;
    let given = if after_work.as_ref().is_some_and(|found| found.proved && found.unread == 0) {
        let who = staff::find(&mut *connection, finals.staff_id).await?.name;
        Some(Given { answer: CheckAnswer::Yes, reason: String::new(), who, at: finals.taken_at })
    } else {
        None
    };
    Ok(Proved { after_work, given, finals_at })
}

/// Answers items, each with who and when; what says the same as before is left as it was.
///
/// # Errors
/// Refused when the job is not at the final check, an item is not of this job's list, or a reason is missing.
pub async fn answer(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: super::JobId,
    answers: &[(CheckItemId, CheckAnswer, String)],
) -> Result<()> {
    let person = by.person()?;
    let job = job::find(&mut **tx, job_id).await?;
    require_here(&job)?;
    let check = of_job(tx, &job).await?;
    let mut written = Vec::new();
    for (id, answer, reason) in answers {
        let checked = check
            .items
            .iter()
            .find(|checked| checked.item.id == *id)
            .ok_or(Error::NotFound("item of the final check"))?;
        let reason = if *answer == CheckAnswer::Reason { canonical(reason) } else { String::new() };
        if *answer == CheckAnswer::Reason && reason.is_empty() {
            return Err(Error::refused(format!("“{}”: say why it is right as it is.", checked.item.words)));
        }
        if checked.item.by_readings && *answer != CheckAnswer::Reason {
            return Err(Error::refused(format!(
                "“{}” is answered by the readings, or by a reason: take final readings, or type why.",
                checked.item.words
            )));
        }
        if checked.given.as_ref().is_some_and(|given| given.answer == *answer && given.reason == reason) {
            continue;
        }
        sqlx::query!(
            "INSERT INTO check_answer (job_id, check_item_id, arrived_at, answer, reason, staff_id, answered_at)
             VALUES (?, ?, ?, ?, ?, ?, ?)",
            job_id,
            id,
            job.stage_since,
            answer,
            reason,
            person,
            by.at,
        )
        .execute(&mut **tx)
        .await?;
        written.push((checked.item.words.clone(), *answer, reason));
    }
    if written.is_empty() {
        return Ok(());
    }
    event::write(tx, by, "final check answered", "job", job_id.0, None, Some(&written)).await
}

/// Takes the reasons of a job's answers out: its customer asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: super::JobId) -> Result<()> {
    sqlx::query!("UPDATE check_answer SET reason = 'anonymised' WHERE job_id = ? AND answer = 'reason'", job)
        .execute(&mut **tx)
        .await?;
    Ok(())
}

/// Refuses, in words, while the list is not complete.
pub(super) async fn require_complete(connection: &mut SqliteConnection, job: &Job) -> Result<()> {
    let check = of_job(connection, job).await?;
    let open = check.open_words();
    if open.is_empty() {
        return Ok(());
    }
    Err(Error::refused(format!("{} is not ready yet. The final check still asks: {}.", job.number, open.join(", "))))
}
