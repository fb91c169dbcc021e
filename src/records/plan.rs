//! Plans as they were said: what the setup engine answered to one reading set, kept whole, because a
//! cut was made by it.

use std::collections::BTreeMap;

use serde_json::Value;
use sqlx::SqliteConnection;

use super::column::as_json;
use super::event::{self, AuditContext};
use super::family::{BridgeKind, Family, NeckJoint, Nut, StringMaterial, TrussRod};
use super::instrument::{InstrumentEntry, courses_count_up};
use super::job::{Job, Style};
use super::observation::Observation;
use super::reading::scatter::{self, ToolScatter};
use super::reading::{ReadingKind, ReadingSet, ReadingStage};
use super::{Error, JobId, PlanId, ReadingSetId, Result, WriteTx, repeatability};
use crate::quantity::{Instant, Micrometres};
use crate::setup::board::BoardRadius;
use crate::setup::frame::fret_position_mm;
use crate::setup::plan::{
    self, AfterWork, HouseTargets, PlanAir, PlanFamily, PlanInput, PlanInstrument, PlanObservation, PlanOutput,
    PlanRod, PlanString, PlanStyle, PlanTool, PostPositions, Readings, RodPair, SaddleShowing, Severity,
    StringReadings, compare_after_work,
};
use crate::setup::reading::Repeatability;
use crate::setup::tension::Material;

/// A kept plan.
#[derive(Debug, Clone)]
pub struct KeptPlan {
    /// Key.
    pub id: PlanId,
    /// The readings it was made from.
    pub reading_set_id: ReadingSetId,
    /// The engine that said it.
    pub engine_version: String,
    /// When.
    pub made_at: Instant,
    /// What the engine was given.
    pub input: PlanInput,
    /// What it said.
    pub output: PlanOutput,
}

/// Keeps a plan, unless the job's latest one says the same of the same readings.
pub async fn keep(
    tx: &mut WriteTx,
    by: &AuditContext,
    job: JobId,
    reading_set: ReadingSetId,
    input: &PlanInput,
    output: &PlanOutput,
) -> Result<()> {
    let person = by.person()?;
    let input_json = as_json(input)?;
    let output_json = as_json(output)?;
    let engine_version = crate::setup::ENGINE_VERSION;
    let latest = sqlx::query!(
        r#"SELECT reading_set_id AS "reading_set_id: ReadingSetId", input_json, engine_version FROM plan
           WHERE job_id = ? ORDER BY made_at DESC, id DESC LIMIT 1"#,
        job,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let asked = (reading_set, input_json.as_str(), engine_version);
    if latest.is_some_and(|latest| asked == (latest.reading_set_id, &latest.input_json, &latest.engine_version)) {
        return Ok(());
    }
    let id = PlanId::new();
    sqlx::query!(
        "INSERT INTO plan (id, job_id, reading_set_id, engine_version, input_json, output_json, made_at, staff_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job,
        reading_set,
        engine_version,
        input_json,
        output_json,
        by.at,
        person,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "plan made", "job", job.0, None, Some(&id)).await
}

/// Takes what was noted of a place out of a job's plans: its customer asked to be forgotten. Figures, findings and
/// steps stay as they were said.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    let plans = sqlx::query!(r#"SELECT id AS "id: PlanId", input_json, output_json FROM plan WHERE job_id = ?"#, job,)
        .fetch_all(&mut **tx)
        .await?;
    for plan in plans {
        let mut input: Value = serde_json::from_str(&plan.input_json).map_err(Error::unwritable)?;
        let mut output: Value = serde_json::from_str(&plan.output_json).map_err(Error::unwritable)?;
        for seen in input.get_mut("observations").and_then(Value::as_array_mut).into_iter().flatten() {
            let Some(noted) = seen.get_mut("at").map(Value::take) else { continue };
            if let Some(noted) = noted.as_str() {
                take_out(&mut output, noted);
            }
        }
        let (input, output) = (as_json(&input)?, as_json(&output)?);
        sqlx::query!("UPDATE plan SET input_json = ?, output_json = ? WHERE id = ?", input, output, plan.id)
            .execute(&mut **tx)
            .await?;
    }
    Ok(())
}

/// Takes words out of every sentence; a lone word is a key of ours.
fn take_out(value: &mut Value, words: &str) {
    match value {
        Value::String(text) if text.contains(' ') && text.contains(words) => *text = text.replace(words, "…"),
        Value::Array(values) => values.iter_mut().for_each(|value| take_out(value, words)),
        Value::Object(fields) => fields.values_mut().for_each(|value| take_out(value, words)),
        _ => {}
    }
}

/// The plans of a job, newest first. One written by an engine whose words we no longer read is left out.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<KeptPlan>> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id: PlanId", reading_set_id AS "reading_set_id: ReadingSetId", engine_version,
                  made_at AS "made_at: Instant", input_json, output_json
           FROM plan WHERE job_id = ? ORDER BY made_at DESC, id DESC"#,
        job,
    )
    .fetch_all(executor)
    .await?;
    let plans = rows.into_iter().filter_map(|row| {
        Some(KeptPlan {
            id: row.id,
            reading_set_id: row.reading_set_id,
            engine_version: row.engine_version,
            made_at: row.made_at,
            input: serde_json::from_str(&row.input_json).ok()?,
            output: serde_json::from_str(&row.output_json).ok()?,
        })
    });
    Ok(plans.collect())
}

/// What the engine was last given of one reading set, with the observations that stood then.
pub async fn input_of(
    executor: impl sqlx::SqliteExecutor<'_>,
    job: JobId,
    set: ReadingSetId,
) -> Result<Option<PlanInput>> {
    let kept = sqlx::query_scalar!(
        "SELECT input_json FROM plan WHERE job_id = ? AND reading_set_id = ? ORDER BY made_at DESC, id DESC LIMIT 1",
        job,
        set,
    )
    .fetch_optional(executor)
    .await?;
    Ok(kept.and_then(|kept| serde_json::from_str(&kept).ok()))
}

/// What turning a rod alone did to relief and to the mean height at the 12th, on necks of the same body joint, the
/// newest first. Carried readings tell nothing.
pub async fn rod_pairs(executor: impl sqlx::SqliteExecutor<'_>, body_fret: i64) -> Result<Vec<RodPair>> {
    const MOST: i64 = 30;
    let rows = sqlx::query!(
        r#"SELECT (SELECT avg(value) FROM reading WHERE reading_set_id = before.id AND kind = 'relief') AS "relief_before: f64",
                  (SELECT avg(value) FROM reading WHERE reading_set_id = after.id AND kind = 'relief' AND carried_from IS NULL)
                      AS "relief_after: f64",
                  (SELECT avg(value) FROM reading WHERE reading_set_id = before.id AND kind = 'height-12') AS "action_before: f64",
                  (SELECT avg(value) FROM reading WHERE reading_set_id = after.id AND kind = 'height-12' AND carried_from IS NULL)
                      AS "action_after: f64"
           FROM reading_draft
           JOIN reading_set AS before ON before.id = reading_draft.after_set_id
           JOIN reading_set AS after ON after.id = (
               SELECT id FROM reading_set AS newer
               WHERE newer.job_id = before.job_id AND newer.taken_at > before.taken_at ORDER BY newer.taken_at LIMIT 1)
           WHERE is_rod_alone = 1 AND reading_draft.body_fret = ?
           ORDER BY reading_draft.opened_at DESC LIMIT ?"#,
        body_fret,
        MOST,
    )
    .fetch_all(executor)
    .await?;
    let pairs = rows.into_iter().filter_map(|row| {
        Some(RodPair {
            relief_before_mm: row.relief_before? / 1000.0,
            relief_after_mm: row.relief_after? / 1000.0,
            action_12_before_mm: row.action_before? / 1000.0,
            action_12_after_mm: row.action_after? / 1000.0,
        })
    });
    Ok(pairs.collect())
}

/// What the final readings say of the plan that was made of the first; `None` before they are taken. Work that
/// was declined, or is not done, is not expected to have changed anything.
pub async fn after_work(
    connection: &mut SqliteConnection,
    job: &Job,
    instrument: &InstrumentEntry,
    sets: &[ReadingSet],
    house: &HouseTargets,
) -> Result<Option<AfterWork>> {
    if newest_of(sets, ReadingStage::Final).is_none() {
        return Ok(None);
    }
    let received = match sets.iter().find(|set| set.circumstances.stage == ReadingStage::Received) {
        Some(received) => input_of(&mut *connection, job.id, received.id).await?,
        None => None,
    };
    let left_alone = sqlx::query_scalar!(
        r#"SELECT finding AS "finding!" FROM work_line
           WHERE job_id = ?1 AND state <> 'done' AND finding IS NOT NULL
               AND finding NOT IN (SELECT finding FROM work_line WHERE job_id = ?1 AND state = 'done' AND finding IS NOT NULL)"#,
        job.id,
    )
    .fetch_all(&mut *connection)
    .await?;
    let scatters = scatter::of_all_tools(connection).await?;
    Ok(proof(job, instrument, sets, house, received, &left_alone, &scatters))
}

/// The same of what was read already: `received` is what the engine was last given of the first received set,
/// `left_alone` are the findings whose work was not done, and `scatters` is how far tools scatter in this shop's hands.
pub fn proof(
    job: &Job,
    instrument: &InstrumentEntry,
    sets: &[ReadingSet],
    house: &HouseTargets,
    received: Option<PlanInput>,
    left_alone: &[String],
    scatters: &[ToolScatter],
) -> Option<AfterWork> {
    let finals = newest_of(sets, ReadingStage::Final)?;
    let first = sets.iter().find(|set| set.circumstances.stage == ReadingStage::Received);
    let of = |set| of_kept_set(instrument, job.style, set, &[], scatters);
    let before = first.map(|first| received.unwrap_or_else(|| of(first)));
    match compare_after_work(before.as_ref(), &of(finals), house, left_alone) {
        Ok(found) => Some(found),
        Err(problems) => {
            tracing::warn!(job = %job.id, problems = %problems, "plan.refused");
            None
        }
    }
}

fn newest_of(sets: &[ReadingSet], stage: ReadingStage) -> Option<&ReadingSet> {
    sets.iter().rev().find(|set| set.circumstances.stage == stage)
}

/// A job's newest plan as the books hold it.
#[derive(Debug, Clone)]
pub struct NewestPlan {
    /// Its key: another one where readings or observations changed since.
    pub id: PlanId,
    pub(super) reading_set_id: ReadingSetId,
    pub(super) engine_version: String,
    pub(super) input_json: String,
    pub(super) output_json: String,
}

impl NewestPlan {
    /// What it says, where just this was asked of it, of this engine.
    pub fn answer_to(&self, set: ReadingSetId, asked: &PlanInput) -> Option<PlanOutput> {
        let is_same = self.reading_set_id == set && self.engine_version == crate::setup::ENGINE_VERSION;
        let is_same = is_same && as_json(asked).is_ok_and(|asked| asked == self.input_json);
        serde_json::from_str(&self.output_json).ok().filter(|_| is_same)
    }
}

/// The key of a job's newest plan: another one where readings or observations changed since.
pub async fn newest(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Option<PlanId>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: PlanId" FROM plan WHERE job_id = ? ORDER BY made_at DESC, id DESC LIMIT 1"#,
        job,
    )
    .fetch_optional(executor)
    .await?)
}

/// The words of the newest plan's findings that a customer should read: what stops, and what is to be done.
pub async fn latest_findings(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<String>> {
    let newest = sqlx::query_scalar!(
        "SELECT output_json FROM plan WHERE job_id = ? ORDER BY made_at DESC, id DESC LIMIT 1",
        job,
    )
    .fetch_optional(executor)
    .await?;
    let newest: Option<PlanOutput> = newest.and_then(|output| serde_json::from_str(&output).ok());
    let findings = newest.map(|plan| plan.findings).unwrap_or_default();
    Ok(findings
        .into_iter()
        .filter(|finding| matches!(finding.severity, Severity::Stop | Severity::Work))
        .map(|finding| finding.words)
        .collect())
}

/// What was found on a job, by the finding's key, in words for the customer: of all its plans the newest that found it.
pub(super) async fn reasons(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<BTreeMap<String, String>> {
    let outputs = sqlx::query_scalar!("SELECT output_json FROM plan WHERE job_id = ? ORDER BY made_at, id", job)
        .fetch_all(executor)
        .await?;
    let plans = outputs.iter().filter_map(|output| serde_json::from_str::<PlanOutput>(output).ok());
    Ok(plans.flat_map(|plan| plan.findings).map(|finding| (finding.key, finding.words)).collect())
}

/// What the engine is given: one instrument, one reading set, the observations that stood when it was taken down.
pub fn input(instrument: &InstrumentEntry, style: Style, set: &ReadingSet, observations: &[Observation]) -> PlanInput {
    let repeats = |kind: ReadingKind, string: i64| -> Vec<f64> {
        set.values(kind, string).map(|reading| Micrometres(reading.value).mm()).collect()
    };
    let numbers = || (1_i64..).zip(&instrument.strings).map(|(number, _)| number);
    PlanInput {
        instrument: plan_instrument(instrument),
        style: family_and_style(instrument, style).1,
        targets: None,
        air: set.air().map(|(temperature_c, rh_percent)| PlanAir { temperature_c, rh_percent }),
        tool: coarsest_tool(set),
        readings: Readings {
            relief_mm: repeats(ReadingKind::Relief, 0),
            saddle_showing_mm: SaddleShowing {
                treble: repeats(ReadingKind::SaddleTreble, 0),
                bass: repeats(ReadingKind::SaddleBass, 0),
            },
            strings: numbers()
                .map(|number| StringReadings {
                    action_12_mm: repeats(ReadingKind::Height12, number),
                    first_fret_mm: repeats(ReadingKind::Height1, number),
                    gap_at_1_stopped_at_3_mm: repeats(ReadingKind::Gap1Stopped3, number),
                    cents_at_12: repeats(ReadingKind::Cents12, number),
                    from_12_to_saddle_mm: near_half_the_scale(instrument, repeats(ReadingKind::From12ToSaddle, number)),
                })
                .collect(),
        },
        observations: observations
            .iter()
            .filter(|seen| seen.stood_at(set.taken_at))
            .filter(|seen| is_on_its_string(instrument, seen.string_number, seen.fret))
            .filter_map(plan_observation)
            .collect(),
        rod_pairs: Vec::new(),
    }
}

/// The same of a set that was taken down, with the scatter of its tools as all other sets tell it.
pub fn of_kept_set(
    instrument: &InstrumentEntry,
    style: Style,
    set: &ReadingSet,
    observations: &[Observation],
    scatters: &[ToolScatter],
) -> PlanInput {
    let asked = input(instrument, style, set, observations);
    PlanInput { tool: with_scatter(asked.tool, repeatability::of_set(scatters, set, true)), ..asked }
}

/// Whether a place lies on a string: open, or beyond the fret at which a short one begins.
pub fn is_on_its_string(instrument: &InstrumentEntry, string: Option<i64>, fret: Option<i64>) -> bool {
    let place = string.and_then(|number| usize::try_from(number - 1).ok());
    let start = place.and_then(|place| instrument.strings.get(place)?.starts_at_fret).unwrap_or(0);
    fret.is_none_or(|fret| fret == 0 || fret > start)
}

/// From the 12th fret to a saddle, least and most, that can be meant of an instrument: half of its scale, or of either
/// scale of a fanned board, and no further from that than any saddle stands.
pub fn half_scale_range(instrument: &InstrumentEntry) -> (Micrometres, Micrometres) {
    const FARTHEST_UM: i64 = 15_000;
    let bass = instrument.scale_bass.unwrap_or(instrument.scale);
    let (short, long) = (instrument.scale.min(bass), instrument.scale.max(bass));
    (Micrometres(short.0 / 2 - FARTHEST_UM), Micrometres(long.0 / 2 + FARTHEST_UM))
}

/// A distance read before the scale was corrected is no distance of this scale: the plan asks for it again instead of
/// refusing everything.
fn near_half_the_scale(instrument: &InstrumentEntry, read_mm: Vec<f64>) -> Vec<f64> {
    let (least, most) = half_scale_range(instrument);
    let is_near = read_mm.iter().all(|read| (least.mm()..=most.mm()).contains(read));
    if is_near { read_mm } else { Vec::new() }
}

/// A plan is no surer than the coarsest tool of the readings it rests on.
fn coarsest_tool(set: &ReadingSet) -> PlanTool {
    let own = (set.circumstances.tool_resolution, set.circumstances.tool_limit);
    let carried = set.readings.iter().filter_map(|reading| reading.carried.as_ref());
    let (resolution, limit) = carried
        .fold(own, |(resolution, limit), from| (resolution.max(from.tool_resolution), limit.max(from.tool_limit)));
    PlanTool {
        resolution_mm: resolution.mm(),
        limit_mm: limit.mm(),
        repeatability_mm: None,
        repeatability_degrees_of_freedom: None,
    }
}

/// A tool whose scatter the shop knows from its own repeats; as usual where it does not.
pub fn with_scatter(tool: PlanTool, known: Option<Repeatability>) -> PlanTool {
    PlanTool {
        repeatability_mm: known.map(|known| known.standard_deviation_mm),
        repeatability_degrees_of_freedom: known.map(|known| known.degrees_of_freedom),
        ..tool
    }
}

fn plan_observation(seen: &Observation) -> Option<PlanObservation> {
    let place = |number: Option<i64>| number.and_then(|number| usize::try_from(number).ok());
    Some(PlanObservation {
        key: seen.key.parse().ok()?,
        string: place(seen.string_number),
        fret: place(seen.fret),
        at: (!seen.note.is_empty()).then(|| seen.note.clone()),
    })
}

/// The instrument as the engine takes it.
pub fn plan_instrument(instrument: &InstrumentEntry) -> PlanInstrument {
    let count = |number: i64| usize::try_from(number).unwrap_or(0);
    // positions must rise; an instrument whose strings were never measured across is spaced by the engine
    let positions: Vec<Option<f64>> =
        instrument.strings.iter().map(|string| string.position.map(Micrometres::mm)).collect();
    let in_courses = courses_count_up(&instrument.strings);
    let rising = positions.windows(2).all(|pair| matches!(pair, [Some(one), Some(other)] if other > one));
    PlanInstrument {
        family: engine_family(instrument.family),
        scale_mm: instrument.scale.mm(),
        frets: count(instrument.frets),
        body_fret: count(instrument.body_fret),
        truss_rod: match instrument.truss_rod {
            TrussRod::None => PlanRod::None,
            TrussRod::OneWay => PlanRod::OneWay,
            TrussRod::TwoWay => PlanRod::TwoWay,
        },
        saddle_setback_mm: 0.0,
        scale_bass_mm: instrument.scale_bass.map(Micrometres::mm).filter(|_| instrument.strings.len() > 1),
        bridge: instrument.bridge_kind.map(engine_bridge),
        screw_pitch_mm: instrument.screw_pitch.map(Micrometres::mm),
        post_positions_mm: instrument
            .posts
            .map(|(treble, bass)| PostPositions { treble: treble.mm(), bass: bass.mm() }),
        neck_joint: instrument.neck_joint.map(|joint| match joint {
            NeckJoint::Glued => plan::NeckJoint::Glued,
            NeckJoint::Bolted => plan::NeckJoint::Bolted,
            NeckJoint::Through => plan::NeckJoint::Through,
            NeckJoint::Rods => plan::NeckJoint::Rods,
        }),
        neck_pocket_mm: None,
        nut: instrument.nut.map(|nut| match nut {
            Nut::Slotted => plan::NutKind::Slotted,
            Nut::ZeroFret => plan::NutKind::ZeroFret,
            Nut::Clamping => plan::NutKind::Clamping,
        }),
        board_radius_mm: instrument.radius.map(|(nut, end)| BoardRadius {
            nut: nut.mm(),
            end: end.mm(),
            end_at_mm: fret_position_mm(instrument.scale.mm(), count(instrument.frets)),
        }),
        strings: instrument
            .strings
            .iter()
            .zip(positions)
            .map(|(string, position)| PlanString {
                pitch: Some(string.pitch.clone()),
                material: string.material.map(engine_material),
                diameter_mm: string.gauge.map(Micrometres::mm),
                core_diameter_mm: string.core.map(Micrometres::mm),
                linear_density_g_m: string.linear_density_ug_per_m.map(|density| Micrometres(density / 1000).mm()),
                wound: Some(string.wound),
                position_mm: position.filter(|_| rising),
                starts_at_fret: string.starts_at_fret.map(count),
                course: string.course.map(count).filter(|_| in_courses),
                ..PlanString::default()
            })
            .collect(),
    }
}

/// Family and style as the engine and the house's targets name them.
pub fn family_and_style(instrument: &InstrumentEntry, style: Style) -> (PlanFamily, PlanStyle) {
    let style = match style {
        Style::Light => PlanStyle::Light,
        Style::Medium => PlanStyle::Medium,
        Style::Strong => PlanStyle::Strong,
    };
    (engine_family(instrument.family), style)
}

/// What holds the strings' heights, as somebody said, else as is usual for the family; `None` where only a look tells.
pub fn bridge_of(instrument: &InstrumentEntry) -> Option<BridgeKind> {
    instrument.bridge_kind.or_else(|| usual_bridge(instrument.family))
}

/// What holds the strings' heights on most instruments of a family.
pub fn usual_bridge(family: Family) -> Option<BridgeKind> {
    let usual = engine_family(family).usual_bridge();
    BridgeKind::ALL.iter().copied().find(|kind| Some(engine_bridge(*kind)) == usual)
}

fn engine_bridge(kind: BridgeKind) -> plan::BridgeKind {
    match kind {
        BridgeKind::FixedSaddle => plan::BridgeKind::FixedSaddle,
        BridgeKind::ScrewSaddles => plan::BridgeKind::ScrewSaddles,
        BridgeKind::TwoPost => plan::BridgeKind::TwoPost,
        BridgeKind::LooseBridge => plan::BridgeKind::LooseBridge,
        BridgeKind::Sprung => plan::BridgeKind::Sprung,
    }
}

/// The family as the engine names it.
pub(super) fn engine_family(family: Family) -> PlanFamily {
    match family {
        Family::SteelString => PlanFamily::SteelString,
        Family::Classical => PlanFamily::Classical,
        Family::Electric => PlanFamily::Electric,
        Family::Bass => PlanFamily::Bass,
        Family::Ukulele => PlanFamily::Ukulele,
        Family::Mandolin => PlanFamily::Mandolin,
        Family::Banjo => PlanFamily::Banjo,
        Family::Other => PlanFamily::Other,
    }
}

/// The material as the engine names it.
pub(super) fn engine_material(material: StringMaterial) -> Material {
    match material {
        StringMaterial::Steel => Material::Steel,
        StringMaterial::Nylon => Material::Nylon,
        StringMaterial::Fluorocarbon => Material::Fluorocarbon,
        StringMaterial::Gut => Material::Gut,
    }
}
