//! What the bench reads of one job beside its readings and its work: two statements, however much was noted,
//! photographed and taken from the drawers.

use serde::Deserialize;
use sqlx::SqliteConnection;
use sqlx::types::Json;

use super::draft::{Habit, HabitUnit, Travel};
use super::labour::Labour;
use super::note::Note;
use super::observation::Observation;
use super::part::Part;
use super::photo::Photo;
use super::plan::NewestPlan;
use super::reading::scatter::ToolScatter;
use super::service::Service;
use super::{Error, JobId, PartMovementId, PlanId, ReadingSetId, Result, StaffId};
use crate::quantity::{Instant, Thousandths};
use crate::setup::plan::PlanInput;

/// What a plan follows from, beside the readings.
#[derive(Debug)]
pub struct PlanContext {
    /// Those that stand first.
    pub observations: Vec<Observation>,
    /// Whether the job waits, or was set aside to wait since its newest set was taken.
    pub was_set_aside: bool,
    /// How far each tool scatters in this shop's hands.
    pub scatters: Vec<ToolScatter>,
    /// The newest plan.
    pub newest: Option<NewestPlan>,
}

/// What a plan of a job follows from, beside the readings.
pub async fn plan_context(connection: &mut SqliteConnection, job: JobId) -> Result<PlanContext> {
    let row = sqlx::query!(
        r#"SELECT EXISTS (
                      SELECT 1 FROM job_wait
                      WHERE job_id = job.id AND (ended_at IS NULL
                        OR ended_at >= (SELECT max(taken_at) FROM reading_set WHERE job_id = job.id))) AS "was_set_aside!: bool",
                  (SELECT json_group_array(json_object('id', hex(id), 'key', key, 'string_number', string_number, 'fret', fret,
                              'note', note, 'seen_at', seen_at, 'cleared_at', cleared_at,
                              'taken_back', json(iif(taken_back, 'true', 'false')))
                              ORDER BY cleared_at IS NOT NULL, seen_at, id)
                   FROM observation WHERE job_id = job.id) AS "observations!: Json<Vec<Observation>>",
                  (SELECT json_group_array(json_object('tool', tool, 'squares', squares, 'degrees_of_freedom', degrees_of_freedom)
                              ORDER BY tool) FROM tool_scatter) AS "scatters!: Json<Vec<ToolScatter>>",
                  plan.id AS "plan_id?: PlanId", plan.reading_set_id AS "reading_set_id?: ReadingSetId",
                  plan.engine_version AS "engine_version?", plan.input_json AS "input_json?", plan.output_json AS "output_json?"
           FROM job
           LEFT JOIN plan ON plan.id = (SELECT id FROM plan WHERE job_id = job.id ORDER BY made_at DESC, id DESC LIMIT 1)
           WHERE job.id = ?"#,
        job,
    )
    .fetch_optional(&mut *connection)
    .await?
    .ok_or(Error::NotFound("job"))?;
    let newest = match (row.plan_id, row.reading_set_id, row.engine_version, row.input_json, row.output_json) {
        (Some(id), Some(reading_set_id), Some(engine_version), Some(input_json), Some(output_json)) => {
            Some(NewestPlan { id, reading_set_id, engine_version, input_json, output_json })
        }
        _ => None,
    };
    Ok(PlanContext {
        observations: row.observations.0,
        was_set_aside: row.was_set_aside,
        scatters: row.scatters.0,
        newest,
    })
}

/// What the page of a job shows beside its readings, its plan and its work.
#[derive(Debug)]
pub struct PageContext {
    /// Who is on it.
    pub technician: Option<String>,
    /// How the person at the bench measures, where they said.
    pub habit: Option<Habit>,
    /// What the engine was last given of the first set as received.
    pub received: Option<PlanInput>,
    /// Stretches of work, newest first.
    pub labour: Vec<Labour>,
    /// Newest first.
    pub notes: Vec<Note>,
    /// Oldest first.
    pub photos: Vec<Photo>,
    /// Parts that can be taken, by name.
    pub parts: Vec<Part>,
    /// Parts that were taken for the job and not put back, oldest first.
    pub taken: Vec<TakenPart>,
    /// The whole catalogue, by name.
    pub services: Vec<Service>,
}

/// A part that was taken for a job.
#[derive(Debug, Clone, Deserialize)]
pub struct TakenPart {
    /// The movement.
    pub id: PartMovementId,
    /// What it is called.
    pub part: String,
    /// In which unit it is counted.
    pub unit: String,
    /// How much left the drawer: more than nothing.
    pub quantity: Thousandths,
    /// The words of the line it was taken for.
    pub line: Option<String>,
    /// Who took it.
    pub who: String,
    /// When.
    pub at: Instant,
}

/// What the page of a job shows to `person` beside its readings, its plan and its work.
pub async fn page_context(
    connection: &mut SqliteConnection,
    job: JobId,
    person: Option<StaffId>,
) -> Result<PageContext> {
    let row = sqlx::query!(
        r#"SELECT staff.name AS "technician?", bench_habit.travel AS "travel?: Travel", bench_habit.unit AS "unit?: HabitUnit",
                  (SELECT input_json FROM plan
                   WHERE job_id = job.id AND reading_set_id = (
                       SELECT id FROM reading_set WHERE job_id = job.id AND stage = 'received' ORDER BY taken_at, id LIMIT 1)
                   ORDER BY made_at DESC, id DESC LIMIT 1) AS "received?",
                  (SELECT json_group_array(json_object('id', hex(entry.id), 'job_id', hex(entry.job_id), 'number', job.number,
                              'work_line_id', hex(work_line_id), 'words', work_line.words, 'staff_id', hex(entry.staff_id),
                              'who', worker.name, 'started_at', started_at, 'ended_at', ended_at,
                              'corrected_minutes', correction.minutes, 'correction', correction.reason)
                              ORDER BY started_at DESC, entry.id DESC)
                   FROM labour_entry AS entry
                   JOIN work_line ON work_line.id = entry.work_line_id
                   JOIN staff AS worker ON worker.id = entry.staff_id
                   LEFT JOIN labour_correction AS correction ON correction.id =
                       (SELECT max(id) FROM labour_correction WHERE labour_entry_id = entry.id)
                   WHERE entry.job_id = job.id) AS "labour!: Json<Vec<Labour>>",
                  (SELECT json_group_array(json_object('words', words, 'who', who, 'at', written_at) ORDER BY written_at DESC, id DESC)
                   FROM (SELECT job_note.id, words, writer.name AS who, written_at
                         FROM job_note JOIN staff AS writer ON writer.id = job_note.staff_id
                         WHERE job_id = job.id ORDER BY written_at DESC, job_note.id DESC LIMIT ?3)) AS "notes!: Json<Vec<Note>>",
                  (SELECT json_group_array(json_object('id', hex(photo.id), 'job_id', hex(photo.job_id),
                              'condition_mark_id', iif(condition_mark_id IS NULL, NULL, hex(condition_mark_id)),
                              'mark', condition_mark.number, 'sha256', hex(sha256), 'small_sha256', hex(small_sha256),
                              'width', width, 'height', height, 'caption', caption,
                              'for_customer', json(iif(for_customer, 'true', 'false')), 'set_aside', json('false'),
                              'who', adder.name, 'added_at', added_at, 'version', photo.version) ORDER BY added_at, photo.id)
                   FROM photo
                   JOIN staff AS adder ON adder.id = photo.staff_id
                   LEFT JOIN condition_mark ON condition_mark.id = photo.condition_mark_id
                   WHERE photo.job_id = job.id AND set_aside = 0) AS "photos!: Json<Vec<Photo>>",
                  (SELECT json_group_array(json_object('id', hex(id), 'name', name, 'unit', unit, 'on_hand', on_hand,
                              'reorder_at', reorder_at, 'cost', cost, 'price', price, 'archived', json('false'),
                              'version', version) ORDER BY name_folded)
                   FROM part WHERE archived = 0) AS "parts!: Json<Vec<Part>>",
                  (SELECT json_group_array(json_object('id', hex(movement.id), 'part', part.name, 'unit', part.unit,
                              'quantity', -movement.quantity, 'line', work_line.words, 'who', taker.name,
                              'at', movement.moved_at) ORDER BY movement.moved_at, movement.id)
                   FROM part_movement AS movement
                   JOIN part ON part.id = movement.part_id
                   JOIN staff AS taker ON taker.id = movement.staff_id
                   LEFT JOIN work_line ON work_line.id = movement.work_line_id
                   WHERE movement.job_id = job.id AND movement.kind = 'taken'
                     AND NOT EXISTS (SELECT 1 FROM part_movement AS back WHERE back.puts_back = movement.id))
                      AS "taken!: Json<Vec<TakenPart>>",
                  (SELECT json_group_array(json_object('id', hex(id), 'key', key, 'name', name, 'minutes', minutes, 'price', price,
                              'hourly', json(iif(hourly, 'true', 'false')), 'told', told, 'suggested_by', suggested_by,
                              'tax_class', tax_class, 'asks_for', asks_for, 'asks_unit', asks_unit,
                              'active', json(iif(active, 'true', 'false')), 'version', version) ORDER BY active DESC, name)
                   FROM service) AS "services!: Json<Vec<Service>>"
           FROM job
           LEFT JOIN staff ON staff.id = job.staff_id
           LEFT JOIN bench_habit ON bench_habit.staff_id = ?2
           WHERE job.id = ?1"#,
        job,
        person,
        super::note::MOST,
    )
    .fetch_optional(&mut *connection)
    .await?
    .ok_or(Error::NotFound("job"))?;
    Ok(PageContext {
        technician: row.technician,
        habit: row.travel.zip(row.unit).map(|(travel, unit)| Habit { travel, unit }),
        received: row.received.and_then(|received| serde_json::from_str(&received).ok()),
        labour: row.labour.0,
        notes: row.notes.0,
        photos: row.photos.0,
        parts: row.parts.0,
        taken: row.taken.0,
        services: row.services.0,
    })
}
