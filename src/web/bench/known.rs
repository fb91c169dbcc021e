//! What the bench knows of one job, and the plan that follows from it.

use std::sync::Arc;

use uuid::Uuid;

use super::circumstances::read_circumstances;
use super::grid;
use crate::drawing::clearance_map::clearance_map;
use crate::drawing::side_view::{SideString, SideView, side_view};
use crate::quantity::{Instant, LengthUnit};
use crate::records::draft::{self, Draft, Entry, Reached};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::observation::{self, Observation};
use crate::records::plan as kept;
use crate::records::reading::{self, CARRIED_HOURS, Reading, ReadingKind, ReadingSet, ReadingStage};
use crate::records::stage::Stage;
use crate::records::work::{self, LineState, WorkLine};
use crate::records::{JobId, ReadingSetId, StaffId, WriteTx};
use crate::setup::clearance::{ClearanceInput, StringHeights, clearance};
use crate::setup::plan::{HouseTargets, PlanAir, PlanInput, PlanOutput, RodPair, plan};
use crate::web::form::FormData;
use crate::web::page::RequestContext;
use crate::web::plan_view::{reading_words, title};
use crate::web::readings_view::{
    BeforeAfter, before_and_after, first_fret, kinds_per_string, mean_words, once, string_names,
};
use crate::web::words::length_unit;
use crate::web::{Error, Result};

const MICROSECONDS_PER_HOUR: i64 = 3_600_000_000;

/// Before and after, string by string.
pub(super) struct Comparison {
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<(String, Vec<(String, String)>)>,
    pub(super) once: Vec<BeforeAfter>,
}

/// Everything the bench knows of one job.
pub(super) struct BenchJob {
    pub(super) job: Job,
    pub(super) instrument: Instrument,
    pub(super) sets: Vec<ReadingSet>,
    /// Readings under way since the newest set.
    pub(super) draft: Option<Draft>,
    /// The steps done between the last two sets.
    pub(super) done_before_last: Vec<String>,
    /// Readings of the newest set that the next one may carry over.
    pub(super) carried: Vec<Reading>,
    pub(super) late: Vec<Entry>,
    pub(super) earlier: Option<(Instant, Vec<Reading>)>,
    pub(super) observations: Vec<Observation>,
    pub(super) lines: Vec<WorkLine>,
    pub(super) house: Arc<HouseTargets>,
    /// What rods did in this shop.
    rod_pairs: Vec<RodPair>,
    pub(super) unit: LengthUnit,
    /// How far the books had come when this was read.
    reached: Reached,
}

/// The readings that count now, and the plan that follows from them.
pub(super) struct Current {
    pub(super) set: ReadingSet,
    pub(super) input: PlanInput,
    pub(super) output: PlanOutput,
}

impl BenchJob {
    pub(super) async fn load(context: &RequestContext, id: JobId) -> Result<Self> {
        let mut connection = context.app.db.read().acquire().await?;
        let connection = &mut *connection;
        let job = job::find(&mut *connection, id).await?;
        // before anything else: what is written while the rest is read counts as written after it
        let reached = draft::reached(&mut *connection, id, job.instrument_id).await?;
        let sets = reading::of_job(&mut *connection, id).await?;
        let newest = sets.last().map(|set| set.id);
        let before_last = match sets.as_slice() {
            [.., before, _] => draft::after(&mut *connection, id, Some(before.id)).await?,
            [_] => draft::after(&mut *connection, id, None).await?,
            [] => None,
        };
        let mut bench = Self {
            instrument: instrument::find(&mut *connection, job.instrument_id).await?,
            carried: Vec::new(),
            draft: draft::after(&mut *connection, id, newest).await?,
            done_before_last: before_last.map(|draft| draft.done_steps).unwrap_or_default(),
            late: draft::late(&mut *connection, id, newest).await?,
            earlier: reading::of_earlier_visit(&mut *connection, job.instrument_id, id).await?,
            lines: work::of_job(&mut *connection, id).await?,
            unit: length_unit(&context.settings),
            sets,
            observations: observation::of_job(&mut *connection, id).await?,
            house: context.settings.house().map_err(Error::internal)?,
            rod_pairs: Vec::new(),
            reached,
            job,
        };
        bench.rod_pairs = kept::rod_pairs(&mut *connection, bench.instrument.entry.body_fret).await?;
        if let Some((last, _, output)) = bench.plan()
            && !job::waited_since(&mut *connection, &bench.job, last.taken_at).await?
        {
            let oldest = Instant(context.now().0 - CARRIED_HOURS * MICROSECONDS_PER_HOUR);
            let is_fresh = |reading: &Reading| {
                !reading.kind.is_among(&output.measure_again)
                    && reading.carried.as_ref().is_some_and(|from| from.read_at > oldest)
            };
            bench.carried = last.carried().filter(is_fresh).collect();
        }
        Ok(bench)
    }

    /// Whether something was written about the job or its instrument since this was read. Asked within the transaction
    /// that writes what was worked out from it.
    pub(super) async fn has_moved(&self, tx: &mut WriteTx) -> Result<bool> {
        Ok(draft::reached(&mut **tx, self.job.id, self.instrument.id).await? != self.reached)
    }

    /// The plan from the newest readings and the observations that stand; `None` before the first reading.
    pub(super) fn plan(&self) -> Option<(&ReadingSet, PlanInput, PlanOutput)> {
        let set = self.sets.last()?;
        self.plan_of(set).map(|(input, output)| (set, input, output))
    }

    /// The air that an earlier set of this job was stopped by, where a later one leaves it blank: an instrument has
    /// recovered once its air was read again, not once nobody looks.
    fn unrecovered_air(&self, set: &ReadingSet) -> Option<PlanAir> {
        let earlier = self.sets.iter().rev().filter(|earlier| earlier.id != set.id);
        let (temperature_c, rh_percent) = earlier.filter_map(ReadingSet::air).next()?;
        let [least, most] = self.house.air.watch_rh_percent;
        (!(least..=most).contains(&rh_percent)).then_some(PlanAir { temperature_c, rh_percent })
    }

    /// The readings that count now: those under way, else the newest set.
    pub(super) fn current_set(&self) -> Option<ReadingSet> {
        self.under_way(&self.fresh_form()).or_else(|| self.sets.last().cloned())
    }

    /// The plan that page, card, drawing and workings show: it follows from the readings that count now.
    pub(super) fn current_plan(&self) -> Option<Current> {
        let set = self.current_set()?;
        let (input, output) = self.plan_of(&set)?;
        Some(Current { set, input, output })
    }

    /// When and how a set was read, in words.
    pub(super) fn taken_words(&self, context: &RequestContext, set: &ReadingSet) -> String {
        if self.draft.is_some() {
            return "under way".to_owned();
        }
        format!("{}, {}", set.circumstances.stage, context.moment(set.taken_at))
    }

    /// What is read again before anything else is done, where steps were done since the newest set; else "".
    pub(super) fn again_words(&self) -> String {
        let Some((_, _, output)) = self.plan().filter(|_| !self.done_steps().is_empty()) else {
            return String::new();
        };
        let words: Vec<&str> = output.measure_again.iter().map(|key| reading_words(key)).collect();
        format!("Done since the last set: {}. Measure again first: {}.", titles(self.done_steps()), words.join(", "))
    }

    /// The plan from one set and the observations that stand.
    pub(super) fn plan_of(&self, set: &ReadingSet) -> Option<(PlanInput, PlanOutput)> {
        let mut input = kept::input(&self.instrument.entry, self.job.style, set, &self.observations);
        input.rod_pairs.clone_from(&self.rod_pairs);
        input.air = input.air.or_else(|| self.unrecovered_air(set));
        match plan(&input, &self.house) {
            Ok(output) => Some((input, output)),
            Err(problems) => {
                tracing::warn!(job = %self.job.id, problems = %problems, "plan.refused");
                None
            }
        }
    }

    /// The steps done since the newest set.
    pub(super) fn done_steps(&self) -> &[String] {
        self.draft.as_ref().map_or(&[], |draft| draft.done_steps.as_slice())
    }

    /// The readings under way as a set, where something was typed or done since the newest one. It has no key
    /// and no place in the books yet. What cannot be read is left out; its cell says so.
    pub(super) fn under_way(&self, form: &FormData) -> Option<ReadingSet> {
        self.draft.as_ref()?;
        let mut form = form.clone().with("sure", "yes");
        let readings = grid::readings_from_form(&mut form, &self.instrument.entry, self.unit, None, &self.carried);
        Some(ReadingSet {
            id: ReadingSetId(Uuid::nil()),
            job_id: self.job.id,
            taken_at: Instant(0),
            staff_id: StaffId(Uuid::nil()),
            circumstances: read_circumstances(&mut form)?,
            readings,
            version: 0,
        })
    }

    /// The form as it stands for everybody: what the last plan leaves fresh, under what was typed since.
    pub(super) fn fresh_form(&self) -> FormData {
        let lines = &self.lines;
        let all_done =
            !lines.is_empty() && lines.iter().all(|line| matches!(line.state, LineState::Done | LineState::Declined));
        let stage = match self.job.stage {
            Stage::CheckedIn => ReadingStage::Received,
            Stage::FinalCheck | Stage::Ready => ReadingStage::Final,
            Stage::OnTheBench if all_done => ReadingStage::Final,
            _ => ReadingStage::During,
        };
        let last = self.sets.last();
        let tool = last.map_or("ruler-010", |set| set.circumstances.tool.as_str());
        let mut form = FormData::fresh()
            .with("stage", stage.key())
            .with("tool", tool)
            .with("tuned_to", last.map_or("standard", |set| &set.circumstances.tuned_to))
            .with("after", last.map(|set| set.id.to_string()).unwrap_or_default())
            .with("seen", self.draft.as_ref().map_or(0, |draft| draft.seen).to_string());
        if stage == ReadingStage::During && !self.carried.is_empty() {
            form = grid::carry(form.with("carried", "yes"), &self.carried);
        }
        let typed = self.draft.iter().flat_map(|draft| draft.cells.values());
        typed.fold(form, |form, entry| form.with(&entry.cell, entry.typed.clone()))
    }

    pub(super) fn comparison(&self, context: &RequestContext) -> Option<Comparison> {
        let unit = length_unit(&context.settings);
        let (before, after) = before_and_after(&self.sets);
        after?;
        let kinds = kinds_per_string(before, after);
        let cells = |number: i64| {
            let both =
                |kind: &ReadingKind| (mean_words(before, *kind, number, unit), mean_words(after, *kind, number, unit));
            kinds.iter().map(both).collect()
        };
        Some(Comparison {
            columns: kinds.iter().map(|kind| kind.spoken()).collect(),
            rows: (1_i64..)
                .zip(string_names(&self.instrument.entry))
                .map(|(number, name)| (name, cells(number)))
                .collect(),
            once: once(before, after, unit),
        })
    }

    /// Thinnest and thickest string over the frets, with target and forecast.
    pub(super) fn side_view(&self, set: &ReadingSet, output: Option<&PlanOutput>) -> Option<String> {
        let entry = &self.instrument.entry;
        let last = i64::try_from(entry.strings.len()).ok()?;
        let mut view = SideView {
            scale_mm: entry.scale.mm(),
            frets: usize::try_from(entry.frets).ok()?,
            body_fret: usize::try_from(entry.body_fret).ok()?,
            relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
            strings: Vec::new(),
            targets_12_mm: Vec::new(),
            forecast_12_mm: Vec::new(),
        };
        let input = kept::input(entry, self.job.style, set, &[]);
        let (targets, _) = self.house.of(input.instrument.family, input.style)?;
        let expected = output.and_then(|output| {
            output
                .steps
                .iter()
                .find_map(|step| step.forecast.as_ref().filter(|forecast| forecast.quantity == "action_12_mm"))
        });
        for (number, name, target) in
            [(1, "treble", targets.action_12_treble_mm), (last, "bass", targets.action_12_bass_mm)]
        {
            let (Some(first), Some(action)) = (first_fret(entry, set, number), set.mean(ReadingKind::Height12, number))
            else {
                continue;
            };
            let place = usize::try_from(number - 1).ok()?;
            view.strings.push(SideString { name: name.to_owned(), first_fret_mm: first, action_12_mm: action });
            view.targets_12_mm.push(Some(target));
            view.forecast_12_mm.push(
                expected
                    .and_then(|expected| expected.strings.get(place).copied().flatten())
                    .map(|range| (range.least, range.most)),
            );
        }
        (!view.strings.is_empty()).then(|| side_view(&view))
    }

    pub(super) fn clearance_map(&self, set: &ReadingSet) -> Option<String> {
        let found = clearance(&self.clearance_asked(set)?).ok()?;
        Some(clearance_map(&found, &string_names(&self.instrument.entry)))
    }

    /// What `clearance` is asked of one set; `None` where a height or relief is missing.
    pub(super) fn clearance_asked(&self, set: &ReadingSet) -> Option<ClearanceInput> {
        let entry = &self.instrument.entry;
        let heights: Option<Vec<StringHeights>> = (1_i64..)
            .zip(&entry.strings)
            .map(|(number, _)| {
                let first_fret_mm = first_fret(entry, set, number)?;
                Some(StringHeights { first_fret_mm, action_12_mm: set.mean(ReadingKind::Height12, number)? })
            })
            .collect();
        Some(ClearanceInput {
            scale_mm: entry.scale.mm(),
            frets: usize::try_from(entry.frets).ok()?,
            body_fret: usize::try_from(entry.body_fret).ok()?,
            relief_mm: set.mean(ReadingKind::Relief, 0)?,
            fall_away_mm: 0.0,
            high_frets_mm: std::collections::BTreeMap::new(),
            strings: heights?,
            pluck: None,
        })
    }
}

/// Steps in words; one that is said twice stands once.
pub(super) fn titles<T: AsRef<str>>(steps: &[T]) -> String {
    let mut titles: Vec<&str> = steps.iter().map(|step| title(step.as_ref())).collect();
    titles.dedup();
    titles.join(", ")
}
