//! What the bench knows of one job: read once a request, with the plan that follows from it.

use std::borrow::Cow;
use std::sync::Arc;

use super::grid;
use crate::quantity::{Instant, LengthUnit};
use crate::records::bench::{PlanContext, plan_context};
use crate::records::draft::{self, Draft, Drafts, Entry, Reached};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::observation::Observation;
use crate::records::plan as kept;
use crate::records::reading::scatter::ToolScatter;
use crate::records::reading::{self, Reading, ReadingKind, ReadingSet, is_carried_over};
use crate::records::work::{self, WorkLine};
use crate::records::{JobId, PlanId, WriteTx, repeatability};
use crate::setup::plan::{HouseTargets, PlanAir, PlanInput, PlanOutput, RodPair, plan};
use crate::web::Result;
use crate::web::finished_view::{FinishedView, finished};
use crate::web::form::FormData;
use crate::web::page::RequestContext;
use crate::web::plan_view::{reading_words, titles};
use crate::web::words::length_unit;

/// Everything that the plan of one job follows from, and the plan of its newest set.
pub(super) struct BenchJob {
    pub(super) job: Job,
    pub(super) instrument: Instrument,
    /// Oldest first.
    pub(super) sets: Vec<ReadingSet>,
    /// What the last visit left behind.
    pub(super) earlier_visit: Option<ReadingSet>,
    /// Readings under way since the newest set.
    pub(super) draft: Option<Draft>,
    /// The steps done between the last two sets.
    pub(super) done_before_last: Vec<String>,
    /// When the step was done that the newest readings follow, or the last two sets lie around.
    done_at: Option<Instant>,
    /// Values that are in no set.
    pub(super) late: Vec<Entry>,
    /// Everything that was typed, set by set, with the steps that were done.
    drafts: Drafts,
    /// Readings of the newest set that the next one may carry over.
    pub(super) carried: Vec<Reading>,
    pub(super) observations: Vec<Observation>,
    pub(super) lines: Vec<WorkLine>,
    pub(super) house: Arc<HouseTargets>,
    /// How far tools scatter in this shop's hands.
    pub(super) scatters: Vec<ToolScatter>,
    /// What rods did in this shop.
    rod_pairs: Vec<RodPair>,
    pub(super) unit: LengthUnit,
    /// The newest plan kept.
    pub(super) newest_plan: Option<PlanId>,
    /// Of the newest set and the observations that stand; `None` before the first reading.
    pub(super) planned: Option<Planned>,
    /// Readings of the newest set that say nothing any more once what is in hand is done, or since what stood when they
    /// were taken was put right.
    pub(super) void: Vec<String>,
    /// It waited since the newest set: nothing is carried over.
    was_set_aside: bool,
    /// The moment of the request.
    pub(super) now: Instant,
    /// How far the books had come when this was read.
    reached: Reached,
}

/// A plan, and what the engine was given.
#[derive(Clone)]
pub(super) struct Planned {
    pub(super) input: PlanInput,
    pub(super) output: PlanOutput,
}

/// The readings that count now, and the plan that page, card, drawing and workings show of them.
pub(super) struct Current<'a> {
    pub(super) set: Cow<'a, ReadingSet>,
    /// `None` where the engine refused them.
    pub(super) planned: Option<Cow<'a, Planned>>,
}

impl Current<'_> {
    /// The set with its plan, where there is one.
    pub(super) fn both(&self) -> Option<(&ReadingSet, &Planned)> {
        Some((&self.set, self.planned.as_deref()?))
    }
}

impl BenchJob {
    pub(super) async fn load(context: &RequestContext, id: JobId) -> Result<Self> {
        let mut connection = context.app.db.read().acquire().await?;
        let connection = &mut *connection;
        let job = job::find(&mut *connection, id).await?;
        // before anything else: what is written while the rest is read counts as written after it
        let reached = draft::reached(&mut *connection, id, job.instrument_id).await?;
        let instrument = instrument::find(&mut *connection, job.instrument_id).await?;
        let (sets, earlier_visit) = reading::of_job_and_earlier_visit(&mut *connection, id).await?;
        let drafts = draft::of_job(&mut *connection, id).await?;
        let PlanContext { observations, was_set_aside, scatters, newest } = plan_context(&mut *connection, id).await?;
        let of_last = |nth: usize| sets.iter().rev().nth(nth).map(|set| set.id);
        let before_last = drafts.after(of_last(1)).filter(|_| !sets.is_empty());
        let under_way = drafts.after(of_last(0)).filter(|draft| !draft.is_untouched());
        let newest_draft = under_way.filter(|_| !sets.is_empty());
        let mut bench = Self {
            done_at: newest_draft.or(before_last).map(|draft| draft.opened_at),
            draft: under_way.cloned(),
            done_before_last: before_last.map(|draft| draft.done_steps.clone()).unwrap_or_default(),
            late: drafts.late(&sets),
            carried: Vec::new(),
            lines: work::of_job(&mut *connection, id).await?,
            scatters,
            rod_pairs: kept::rod_pairs(&mut *connection, instrument.entry.body_fret).await?,
            house: context.settings.house()?,
            unit: length_unit(&context.settings),
            newest_plan: newest.as_ref().map(|plan| plan.id),
            planned: None,
            void: Vec::new(),
            was_set_aside,
            now: context.now(),
            reached,
            observations,
            job,
            instrument,
            sets,
            earlier_visit,
            drafts,
        };
        bench.planned = bench.plan_of_newest_set(newest.as_ref());
        bench.void = bench.void_readings();
        if let (Some(last), Some(_), false) = (bench.sets.last(), &bench.planned, bench.was_set_aside) {
            bench.carried = last.carried_over(&bench.void, bench.now);
        }
        Ok(bench)
    }

    fn void_readings(&self) -> Vec<String> {
        let mut void = self.planned.as_ref().map(|planned| planned.output.measure_again.clone()).unwrap_or_default();
        let taken_at = self.sets.last().map_or(self.now, |set| set.taken_at);
        let put_right = self.observations.iter().filter(|seen| seen.cleared_at.is_some() && seen.stood_at(taken_at));
        for reading in put_right.flat_map(Observation::makes_stale) {
            if !void.iter().any(|known| known == reading) {
                void.push((*reading).to_owned());
            }
        }
        void
    }

    /// Whether something was written about the job or its instrument since this was read. Asked within the transaction
    /// that writes what was worked out from it.
    pub(super) async fn has_moved(&self, tx: &mut WriteTx) -> Result<bool> {
        Ok(draft::reached(&mut **tx, self.job.id, self.instrument.id).await? != self.reached)
    }

    /// While readings are under way the page shows their plan: that of the set they follow was worked out when it was
    /// taken, and is worked out again only where another question would be asked by now.
    fn plan_of_newest_set(&self, kept: Option<&kept::NewestPlan>) -> Option<Planned> {
        let set = self.sets.last()?;
        let input = self.asked(set);
        let kept = kept.filter(|_| self.draft.is_some()).and_then(|kept| kept.answer_to(set.id, &input));
        match kept {
            Some(output) => Some(Planned { input, output }),
            None => self.worked_out(input),
        }
    }

    /// The readings that count now, with their plan: those under way, which are what stands in the fresh form, else
    /// the newest set.
    pub(super) fn current(&self, fresh: &FormData) -> Option<Current<'_>> {
        if let Some(set) = self.under_way(fresh) {
            let planned = self.worked_out(self.asked(&set)).map(Cow::Owned);
            return Some(Current { set: Cow::Owned(set), planned });
        }
        Some(Current { set: Cow::Borrowed(self.sets.last()?), planned: self.planned.as_ref().map(Cow::Borrowed) })
    }

    /// What the engine is asked of one set.
    pub(super) fn asked(&self, set: &ReadingSet) -> PlanInput {
        self.asked_with(set, &self.observations)
    }

    /// The same as it was asked before the step that followed: what was noted since led nobody to do it.
    pub(super) fn asked_before(&self, set: &ReadingSet) -> PlanInput {
        let noted: Vec<Observation> = self
            .observations
            .iter()
            .filter(|seen| self.done_at.is_none_or(|done| seen.seen_at <= done))
            .cloned()
            .collect();
        self.asked_with(set, &noted)
    }

    fn asked_with(&self, set: &ReadingSet, observations: &[Observation]) -> PlanInput {
        let mut input = kept::input(&self.instrument.entry, self.job.style, set, observations);
        let is_kept = self.sets.iter().any(|kept| kept.id == set.id);
        input.tool = kept::with_scatter(input.tool, repeatability::of_set(&self.scatters, set, is_kept));
        input.rod_pairs.clone_from(&self.rod_pairs);
        input.air = input.air.or_else(|| self.earlier_air(set));
        input
    }

    fn worked_out(&self, input: PlanInput) -> Option<Planned> {
        tracing::debug!(job = %self.job.id, "plan.worked_out");
        match plan(&input, &self.house) {
            Ok(output) => Some(Planned { input, output }),
            Err(problems) => {
                tracing::warn!(job = %self.job.id, problems = %problems, "plan.refused");
                None
            }
        }
    }

    /// The air of an earlier set of this job, where this one leaves it blank: for as long as readings are carried over, as
    /// long as nothing was done to the air. What stopped the plan counts longer: an instrument has recovered once its air
    /// was read again, not once nobody looks.
    fn earlier_air(&self, set: &ReadingSet) -> Option<PlanAir> {
        let earlier = self.sets.iter().rev().filter(|earlier| earlier.id != set.id && earlier.taken_at <= set.taken_at);
        let (read_at, (temperature_c, rh_percent)) =
            earlier.filter_map(|earlier| Some((earlier.taken_at, earlier.air()?))).next()?;
        let [least, most] = self.house.air.watch_rh_percent;
        let has_recovered = (least..=most).contains(&rh_percent);
        let is_under_way = !self.sets.iter().any(|kept| kept.id == set.id);
        let is_stale = !is_carried_over(read_at, set.taken_at) || is_under_way && self.is_air_void();
        (!has_recovered || !is_stale).then_some(PlanAir { temperature_c, rh_percent })
    }

    /// The air read last, where the next set may leave it blank: for the page to show.
    pub(super) fn air_read_last(&self) -> Option<(f64, f64)> {
        let (read_at, air) = self.sets.iter().rev().find_map(|set| Some((set.taken_at, set.air()?)))?;
        (!self.is_air_void() && is_carried_over(read_at, self.now)).then_some(air)
    }

    /// Whether the air that the newest set was read in says nothing of the next.
    fn is_air_void(&self) -> bool {
        self.was_set_aside || self.void.iter().any(|reading| reading == "air")
    }

    /// Whether the intonation is to be set, or was read so already: where the saddle stands today tells how far.
    pub(super) fn asks_to_saddle(&self) -> bool {
        let was_read = self
            .sets
            .last()
            .is_some_and(|set| set.readings.iter().any(|reading| reading.kind == ReadingKind::From12ToSaddle));
        let steps = self.planned.iter().flat_map(|planned| &planned.output.steps);
        was_read || steps.into_iter().any(|step| step.key == "intonation-off")
    }

    /// The steps done since the newest set.
    pub(super) fn done_steps(&self) -> &[String] {
        self.draft.as_ref().map_or(&[], |draft| draft.done_steps.as_slice())
    }

    /// The readings that steps done since the newest set made stale, as the plan names them.
    pub(super) fn stale(&self) -> &[String] {
        if self.done_steps().is_empty() { &[] } else { &self.void }
    }

    /// The field of the first place to read: of an instrument that nobody has read, or of what a step made stale and was
    /// read before; `None` where all of it was read.
    pub(super) fn first_to_read(&self) -> Option<String> {
        let entry = &self.instrument.entry;
        let typed = |field: &str| self.draft.as_ref().is_some_and(|draft| draft.cells.contains_key(field));
        let last = self.sets.last();
        let is_wanted = |kind: ReadingKind, string: i64| match last {
            None => self.draft.is_none(),
            Some(last) => kind.is_among(self.stale()) && last.values(kind, string).next().is_some(),
        };
        let mut places = grid::places(entry).into_iter();
        places.find_map(|(kind, string)| {
            let field = grid::field(kind, string);
            (is_wanted(kind, string) && !typed(&field)).then_some(field)
        })
    }

    /// What is read again before anything else is done, where steps were done since the newest set; else "".
    pub(super) fn again_words(&self) -> String {
        let (Some(_), false) = (&self.planned, self.done_steps().is_empty()) else {
            return String::new();
        };
        let words: Vec<&str> = self.stale().iter().map(|key| reading_words(key)).collect();
        format!("Done since the last set: {}. Measure again first: {}.", titles(self.done_steps()), words.join(", "))
    }

    /// The steps of the plan that are done, newest first.
    pub(super) fn finished(&self, context: &RequestContext, form: &FormData) -> Vec<FinishedView> {
        finished(&self.drafts, &self.sets, &self.instrument.entry, (context, self.unit, form))
    }

    /// When and how a set was read, in words.
    pub(super) fn taken_words(&self, context: &RequestContext, set: &ReadingSet) -> String {
        if self.draft.is_some() {
            return "under way".to_owned();
        }
        format!("{}, {}", set.circumstances.stage, context.moment(set.taken_at))
    }
}
