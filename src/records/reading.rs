//! Readings: one act of measuring, with every repeat as it was typed.

pub mod scatter;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;
use sqlx::types::Json;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::stage::Stage;
use super::{Error, InstrumentId, JobId, ReadingSetId, Result, StaffId, WriteTx, job};
use crate::quantity::{Instant, Micrometres};
use crate::setup::reading::ReadingInput;

words! {
    /// When in the stay the readings were taken.
    ReadingStage {
        /// As it came.
        Received = "received" => "as received",
        /// After a step.
        During = "during" => "during the work",
        /// Proving the work.
        Final = "final" => "final",
    }
}

words! {
    /// What was read.
    ReadingKind {
        /// Height over the 12th fret, per string.
        Height12 = "height-12" => "height at the 12th fret",
        /// Open height over the 1st fret, per string.
        Height1 = "height-1" => "height at the 1st fret",
        /// Gap over the 1st fret when stopped at the 3rd, per string.
        Gap1Stopped3 = "gap-1-stopped-3" => "gap over the 1st, stopped at the 3rd",
        /// Cents error at the 12th fret, per string.
        Cents12 = "cents-12" => "cents at the 12th fret",
        /// From the crown of fret 12 to where the string leaves the saddle, per string.
        From12ToSaddle = "from-12-to-saddle" => "from the 12th fret to the saddle",
        /// Relief half-way between the 1st and the body-joint fret.
        Relief = "relief" => "relief",
        /// Saddle showing at the treble side.
        SaddleTreble = "saddle-treble" => "saddle showing, treble",
        /// Saddle showing at the bass side.
        SaddleBass = "saddle-bass" => "saddle showing, bass",
        /// Depth of the saddle's slot.
        SaddleSlot = "saddle-slot" => "saddle slot depth",
        /// Height of the frets.
        FretHeight = "fret-height" => "fret height",
    }
}

/// A reading is carried over into a later set for this long: after that wood and air have moved on.
pub const CARRIED_HOURS: i64 = 24;
const MICROSECONDS_PER_HOUR: i64 = 3_600_000_000;

impl ReadingKind {
    /// Whether it is read string by string.
    pub fn is_per_string(self) -> bool {
        matches!(self, Self::Height12 | Self::Height1 | Self::Gap1Stopped3 | Self::Cents12 | Self::From12ToSaddle)
    }

    /// What the plan calls readings of this kind; `None` where it does not plan with them.
    pub fn plan_key(self) -> Option<&'static str> {
        Some(match self {
            Self::Height12 => "action_12_mm",
            Self::Height1 => "first_fret_mm",
            Self::Gap1Stopped3 => "gap_at_1_stopped_at_3_mm",
            Self::Cents12 => "cents_at_12",
            Self::From12ToSaddle => "from_12_to_saddle_mm",
            Self::Relief => "relief_mm",
            Self::SaddleTreble | Self::SaddleBass => "saddle_showing_mm",
            Self::SaddleSlot | Self::FretHeight => return None,
        })
    }

    /// The kind that the plan calls by this name. What shows of a saddle is two kinds: it has none here.
    pub fn of_quantity(quantity: &str) -> Option<Self> {
        Self::ALL
            .iter()
            .copied()
            .filter(|kind| !matches!(kind, Self::SaddleTreble | Self::SaddleBass))
            .find(|kind| kind.plan_key() == Some(quantity))
    }

    /// Whether the plan names readings of this kind among `keys`.
    pub fn is_among(self, keys: &[String]) -> bool {
        self.plan_key().is_some_and(|own| keys.iter().any(|key| key == own))
    }
}

/// One value: micrometres, or thousandths of a cent for [`ReadingKind::Cents12`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// What.
    pub kind: ReadingKind,
    /// String, from 1; 0 for what is read once.
    pub string_number: i64,
    /// First, second… reading of the same place.
    pub repeat: i64,
    /// The value.
    pub value: i64,
    /// As the person typed it.
    pub typed: String,
    /// Where it was carried over from, untouched since; `None` where it was read with its set.
    pub carried: Option<Carried>,
}

/// Where a reading that was carried over comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Carried {
    /// The set it was read with.
    pub from: ReadingSetId,
    /// When.
    pub read_at: Instant,
    /// With what.
    pub tool: String,
    /// Smallest step of that tool.
    pub tool_resolution: Micrometres,
    /// Half-width within which that tool is right.
    pub tool_limit: Micrometres,
}

/// The circumstances of a reading set.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Circumstances {
    pub stage: ReadingStage,
    pub tuned_to: String,
    pub temperature_millicelsius: Option<i64>,
    pub humidity_permille: Option<i64>,
    pub tool: String,
    pub tool_resolution: Micrometres,
    pub tool_limit: Micrometres,
    pub fret_wear: String,
    pub note: String,
}

/// A reading set.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct ReadingSet {
    pub id: ReadingSetId,
    pub job_id: JobId,
    pub taken_at: Instant,
    pub staff_id: StaffId,
    pub circumstances: Circumstances,
    pub readings: Vec<Reading>,
    pub version: i64,
}

impl ReadingSet {
    /// The repeats of one place, in order.
    pub fn values(&self, kind: ReadingKind, string_number: i64) -> impl Iterator<Item = &Reading> {
        self.readings.iter().filter(move |reading| reading.kind == kind && reading.string_number == string_number)
    }

    /// The mean of one place in mm (cents for cents), where it was read.
    pub fn mean(&self, kind: ReadingKind, string_number: i64) -> Option<f64> {
        mean(&self.readings, kind, string_number)
    }

    /// What `reading` is asked of one place: its repeats, and the tool they were read with.
    pub fn reading_input(&self, kind: ReadingKind, string_number: i64) -> ReadingInput {
        let values = self.values(kind, string_number).map(|reading| Micrometres(reading.value).mm());
        let tool = &self.circumstances;
        ReadingInput::usual(values.collect(), tool.tool_resolution.mm(), tool.tool_limit.mm())
    }

    /// The air, °C and %, where both were read.
    pub fn air(&self) -> Option<(f64, f64)> {
        let seen = &self.circumstances;
        let (temperature, humidity) = seen.temperature_millicelsius.zip(seen.humidity_permille)?;
        // thousandths of a degree, and tenths of a percent
        Some((Micrometres(temperature).mm(), Micrometres(humidity).mm() * 100.0))
    }

    /// The readings that the next set may carry over at a moment: those that nothing done since made `stale` (as the
    /// plan names them) and that were read within [`CARRIED_HOURS`]. A job that waited since carries nothing over
    /// (`records::bench::plan_context` says).
    pub fn carried_over(&self, stale: &[String], now: Instant) -> Vec<Reading> {
        let is_fresh = |reading: &Reading| {
            let read_at = reading.carried.as_ref().map(|from| from.read_at);
            !reading.kind.is_among(stale) && read_at.is_some_and(|read_at| is_carried_over(read_at, now))
        };
        self.carried().filter(is_fresh).collect()
    }

    /// The readings as a later set carries them over: with the tool and the moment they were read with.
    fn carried(&self) -> impl Iterator<Item = Reading> {
        self.readings.iter().map(|reading| {
            let here = || Carried {
                from: self.id,
                read_at: self.taken_at,
                tool: self.circumstances.tool.clone(),
                tool_resolution: self.circumstances.tool_resolution,
                tool_limit: self.circumstances.tool_limit,
            };
            Reading { carried: Some(reading.carried.clone().unwrap_or_else(here)), ..reading.clone() }
        })
    }
}

/// Whether what was read at one moment may still be carried over at another.
pub fn is_carried_over(read_at: Instant, now: Instant) -> bool {
    read_at.0 > now.0.saturating_sub(CARRIED_HOURS * MICROSECONDS_PER_HOUR)
}

/// The mean of one place in mm (cents for cents), where it was read.
pub fn mean(readings: &[Reading], kind: ReadingKind, string_number: i64) -> Option<f64> {
    let here = readings.iter().filter(|reading| reading.kind == kind && reading.string_number == string_number);
    let values: Vec<f64> = here.map(|reading| Micrometres(reading.value).mm()).collect();
    let count = f64::from(u32::try_from(values.len()).ok()?);
    (count > 0.0).then(|| values.iter().sum::<f64>() / count)
}

/// Takes a reading set down. The same form sent twice makes one. First readings move a checked-in
/// job to *measured*; final readings move one on the bench to *final check*.
///
/// # Errors
/// Refused when there is not one reading, or the job has left the house.
pub async fn take(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    circumstances: &Circumstances,
    readings: &[Reading],
) -> Result<ReadingSetId> {
    if let Some(id) = by_form_key(tx, form_key).await? {
        return Ok(id);
    }
    let person = by.person()?;
    job::in_the_house(&mut **tx, job_id, "its readings are closed").await?;
    if readings.is_empty() {
        return Err(Error::refused("Type at least one reading."));
    }
    let id = ReadingSetId::new();
    let (fret_wear, note) = (canonical(&circumstances.fret_wear), canonical(&circumstances.note));
    sqlx::query!(
        "INSERT INTO reading_set (id, job_id, stage, taken_at, staff_id, tuned_to, temperature_millicelsius, humidity_permille,
             tool, tool_resolution_um, tool_limit_um, fret_wear, note, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        circumstances.stage,
        by.at,
        person,
        circumstances.tuned_to,
        circumstances.temperature_millicelsius,
        circumstances.humidity_permille,
        circumstances.tool,
        circumstances.tool_resolution,
        circumstances.tool_limit,
        fret_wear,
        note,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    // one statement for the whole set: a hundred single ones are felt
    let rows = as_json(readings)?;
    sqlx::query!(
        "INSERT INTO reading (reading_set_id, kind, string_number, repeat, value, typed,
             carried_from, read_at, tool, tool_resolution_um, tool_limit_um)
         SELECT ?, json_each.value ->> 'kind', json_each.value ->> 'string_number', json_each.value ->> 'repeat',
                json_each.value ->> 'value', json_each.value ->> 'typed',
                unhex(json_each.value ->> '$.carried.from', '-'), json_each.value ->> '$.carried.read_at',
                json_each.value ->> '$.carried.tool', json_each.value ->> '$.carried.tool_resolution',
                json_each.value ->> '$.carried.tool_limit'
         FROM json_each(?)",
        id,
        rows,
    )
    .execute(&mut **tx)
    .await?;
    scatter::learn(tx, id, &circumstances.tool).await?;
    event::write(tx, by, "readings taken", "job", job_id.0, None, Some(&(circumstances, readings))).await?;
    match circumstances.stage {
        ReadingStage::Received => job::follow(tx, by, job_id, Stage::CheckedIn, Stage::Measured).await?,
        ReadingStage::During => {}
        ReadingStage::Final => job::follow(tx, by, job_id, Stage::OnTheBench, Stage::FinalCheck).await?,
    }
    Ok(id)
}

/// The set that a form made, where it was sent before.
pub async fn by_form_key(connection: &mut SqliteConnection, form_key: &str) -> Result<Option<ReadingSetId>> {
    Ok(sqlx::query_scalar!(r#"SELECT id AS "id: ReadingSetId" FROM reading_set WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut *connection)
        .await?)
}

/// Sets with their readings, in one statement; `$which` ends it.
macro_rules! sets {
    ($connection:expr, $which:literal, $($argument:expr),+ $(,)?) => {
        sqlx::query!(
            r#"SELECT reading_set.id AS "id: ReadingSetId", reading_set.job_id AS "job_id: JobId",
                      reading_set.stage AS "stage: ReadingStage", taken_at AS "taken_at: Instant",
                      reading_set.staff_id AS "staff_id: StaffId", tuned_to, temperature_millicelsius, humidity_permille, tool,
                      tool_resolution_um AS "tool_resolution: Micrometres", tool_limit_um AS "tool_limit: Micrometres",
                      fret_wear, note, reading_set.version,
                      (SELECT json_group_array(json_object('kind', kind, 'string_number', string_number, 'repeat', repeat,
                                  'value', value, 'typed', typed, 'carried', json(iif(carried_from IS NULL, NULL,
                                      json_object('from', hex(carried_from), 'read_at', read_at, 'tool', reading.tool,
                                          'tool_resolution', reading.tool_resolution_um, 'tool_limit', reading.tool_limit_um))))
                                  ORDER BY kind, string_number, repeat)
                       FROM reading WHERE reading_set_id = reading_set.id) AS "readings!: Json<Vec<Reading>>"
               FROM reading_set "# + $which,
            $($argument),+
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(|row| ReadingSet {
            id: row.id,
            job_id: row.job_id,
            taken_at: row.taken_at,
            staff_id: row.staff_id,
            circumstances: Circumstances {
                stage: row.stage,
                tuned_to: row.tuned_to,
                temperature_millicelsius: row.temperature_millicelsius,
                humidity_permille: row.humidity_permille,
                tool: row.tool,
                tool_resolution: row.tool_resolution,
                tool_limit: row.tool_limit,
                fret_wear: row.fret_wear,
                note: row.note,
            },
            readings: row.readings.0,
            version: row.version,
        })
    };
}

/// The reading sets of a job, oldest first.
pub async fn of_job(connection: &mut SqliteConnection, job: JobId) -> Result<Vec<ReadingSet>> {
    Ok(sets!(connection, "WHERE job_id = ? ORDER BY taken_at, reading_set.id", job).collect())
}

/// The reading sets of a job, oldest first, and the one that the last visit before it left behind.
pub async fn of_job_and_earlier_visit(
    connection: &mut SqliteConnection,
    job: JobId,
) -> Result<(Vec<ReadingSet>, Option<ReadingSet>)> {
    let sets = sets!(
        connection,
        "WHERE job_id = ?1 OR reading_set.id = (
             SELECT left_behind.id
             FROM job JOIN job AS earlier ON earlier.instrument_id = job.instrument_id AND earlier.checked_in_at < job.checked_in_at
             JOIN reading_set AS left_behind ON left_behind.job_id = earlier.id
             WHERE job.id = ?1 AND earlier.id <> ?1
             ORDER BY earlier.checked_in_at DESC, left_behind.taken_at DESC LIMIT 1)",
        job,
    );
    let (mut own, mut earlier): (Vec<_>, Vec<_>) = sets.partition(|set| set.job_id == job);
    own.sort_by_key(|set| (set.taken_at, set.id));
    Ok((own, earlier.pop()))
}

/// The reading sets of some jobs, each job's oldest first; a job that nobody measured is not among them. One
/// statement, however many jobs are asked for.
pub async fn of_jobs(connection: &mut SqliteConnection, jobs: &[JobId]) -> Result<BTreeMap<JobId, Vec<ReadingSet>>> {
    let jobs = as_json(jobs)?;
    let sets = sets!(
        connection,
        "WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY taken_at, reading_set.id",
        jobs,
    );
    let mut found: BTreeMap<JobId, Vec<ReadingSet>> = BTreeMap::new();
    for set in sets {
        found.entry(set.job_id).or_default().push(set);
    }
    Ok(found)
}

/// The newest reading set of each job that was measured.
pub async fn newest_of_jobs(connection: &mut SqliteConnection, jobs: &[JobId]) -> Result<BTreeMap<JobId, ReadingSet>> {
    let sets = of_jobs(connection, jobs).await?;
    Ok(sets.into_iter().filter_map(|(job, mut sets)| Some((job, sets.pop()?))).collect())
}

/// The newest reading set of an instrument, from whichever visit.
pub async fn newest_of_instrument(
    connection: &mut SqliteConnection,
    instrument: InstrumentId,
) -> Result<Option<ReadingSet>> {
    let job = sqlx::query_scalar!(
        r#"SELECT reading_set.job_id AS "job_id: JobId"
           FROM job JOIN reading_set ON reading_set.job_id = job.id
           WHERE job.instrument_id = ?
           ORDER BY reading_set.taken_at DESC, reading_set.id DESC
           LIMIT 1"#,
        instrument,
    )
    .fetch_optional(&mut *connection)
    .await?;
    match job {
        Some(job) => Ok(of_job(connection, job).await?.pop()),
        None => Ok(None),
    }
}

/// Takes the notes of a job's reading sets out: its customer asked to be forgotten. The figures stay.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE reading_set SET note = '', version = version + 1 WHERE job_id = ?", job)
        .execute(&mut **tx)
        .await?;
    Ok(())
}
