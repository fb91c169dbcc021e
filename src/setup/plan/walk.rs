//! The walk along the order of work: what was found and what is to be done, and the one place that decides which
//! of it may be done now.
//!
//! A step can be undone or not by its kind. What can be undone waits for the work before it. What cannot waits
//! besides for everything that is not known: for each reading and each look that is still open up to its stage,
//! and for anything reversible there. It then says what it waits for.

use super::bench::Bench;
pub(super) use super::output::range;
use super::output::{PlanOutput, Range, Severity, StepState};
pub(super) use super::said::{said_amounts, said_strings, said_turns, said_way};
use super::settled::{as_finding, as_step};
pub(super) use super::stage::Stage;
use super::todo::Act;
pub(super) use super::todo::{Adjustment, EndAmounts, Found, Holds, PostsDown, Removal, StringAmounts, Todo, Turn};

/// What the walk has gathered so far.
#[derive(Debug, Default)]
pub(super) struct Walk {
    found: Vec<(Stage, Found)>,
    todo: Vec<Todo>,
    /// What was not read, with the first stage that needs it.
    unread: Vec<(Stage, String)>,
    missing: Vec<&'static str>,
    /// With the stage whose work they belong to.
    cautions: Vec<(Stage, &'static str)>,
    /// What the nut is expected to lose, string by string, mm; minus is a raise.
    nut_removal: Vec<Option<Range>>,
}

impl Walk {
    pub(super) fn find(&mut self, stage: Stage, found: Found) {
        self.found.push((stage, found));
    }

    pub(super) fn step(&mut self, todo: Todo) {
        self.todo.push(todo);
    }

    /// Asks for a reading to be taken (again).
    pub(super) fn ask_for(&mut self, reading: &'static str) {
        if !self.missing.contains(&reading) {
            self.missing.push(reading);
        }
    }

    /// Notes a reading that a stage needs and does not have: it is taken before anything of that stage.
    pub(super) fn unread(&mut self, stage: Stage, words: impl Into<String>) {
        let words = words.into();
        match self.unread.iter_mut().find(|(_, known)| *known == words) {
            Some((first, _)) => *first = stage.min(*first),
            None => self.unread.push((stage, words)),
        }
    }

    /// What the nut's work will take off, for what comes after it.
    pub(super) fn expect_at_nut(&mut self, removal: Vec<Option<Range>>) {
        self.nut_removal = removal;
    }

    /// All of it, string by string.
    pub(super) fn nut_removals(&self) -> &[Option<Range>] {
        &self.nut_removal
    }

    /// Removal expected at the nut under a string, mm; nothing where the nut stays as it is.
    pub(super) fn at_nut(&self, place: usize) -> Range {
        self.nut_removal.get(place).copied().flatten().unwrap_or(Range { least: 0.0, most: 0.0 })
    }

    pub(super) fn caution(&mut self, stage: Stage, key: &'static str) {
        self.cautions.push((stage, key));
    }

    /// What was found turns out to be only suspected: it is watched, and nothing is sold for it.
    pub(super) fn only_suspect(&mut self, key: &str) {
        for (_, found) in
            self.found.iter_mut().filter(|(_, found)| found.key == key && found.severity == Severity::Work)
        {
            (found.severity, found.service) = (Severity::Watch, None);
        }
    }

    /// Whether a finding of this key is already there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.found.iter().any(|(_, found)| found.key == key)
    }

    /// Whether a step of this key is already there.
    pub(super) fn has_step(&self, key: &str) -> bool {
        self.todo.iter().any(|todo| todo.key == key)
    }

    /// Whether something ended cutting.
    pub(super) fn is_stopped(&self) -> bool {
        self.found.iter().any(|(_, found)| found.severity == Severity::Stop)
    }

    /// Whether what is known of this stage may still change: work before it, or something not known up to it.
    pub(super) fn is_open(&self, stage: Stage) -> bool {
        let work = Todo::irreversible(stage, "", "");
        self.todo.iter().any(|todo| todo.comes_before(&work).is_some())
            || self.unread.iter().any(|(unread, _)| *unread <= stage)
    }

    /// One step for everything that was not read, before the first stage that needs it.
    fn read_first(&mut self) {
        let Some(stage) = self.unread.iter().map(|(stage, _)| *stage).min() else {
            return;
        };
        let words: Vec<String> = self.unread.drain(..).map(|(_, words)| words).collect();
        let what = words.join("; ");
        let settles = if words.len() == 1 { format!("{what} is read") } else { format!("these are read: {what}") };
        let words = format!("Read first: {what}. The amounts follow from it.");
        self.todo.insert(0, Todo::reading(stage, "reading-missing", words, settles, Holds::Everything));
    }

    /// What a step waits for, in the order of work, each once.
    fn waits_for(&self, todo: &Todo) -> Vec<String> {
        let mut waits: Vec<String> = Vec::new();
        for before in self.todo.iter().filter_map(|other| other.comes_before(todo)) {
            if !waits.iter().any(|known| known == before) {
                waits.push(before.to_owned());
            }
        }
        waits
    }

    /// The plan. After a stop only the stop's own first measure goes on; the rest becomes an offer.
    pub(super) fn settle(mut self, bench: &Bench<'_>) -> PlanOutput {
        let stopped = self.is_stopped();
        self.read_first();
        if stopped {
            // there is nothing left to read it for; a complaint is heard again afterwards
            self.todo.retain(|todo| todo.is_complaint || !matches!(todo.act, Act::Reading(_)));
            for complaint in self.todo.iter_mut().filter(|todo| todo.is_complaint) {
                complaint.words = format!("Look again once what stops the plan is put right. {}", complaint.words);
            }
        }
        self.found.sort_by_key(|(stage, _)| *stage);
        self.todo.sort_by_key(|todo| (todo.stage, todo.rank()));
        let remedy = self.todo.iter().filter(|todo| todo.is_remedy).map(|todo| todo.stage).min();
        let waits: Vec<Vec<String>> = self.todo.iter().map(|todo| self.waits_for(todo)).collect();
        let states: Vec<StepState> = self
            .todo
            .iter()
            .zip(&waits)
            .map(|(todo, waits)| match todo.act {
                Act::Offer(_) => StepState::Offer,
                _ if stopped && !(todo.is_remedy && Some(todo.stage) == remedy) => StepState::Offer,
                _ if waits.is_empty() => StepState::Now,
                _ => StepState::AfterMeasuringAgain,
            })
            .collect();
        let cautions = self.cautions_of(&states);
        let mut measure_again = self.missing;
        for (todo, _) in
            self.todo.iter().zip(&states).filter(|(todo, state)| todo.is_work() && **state == StepState::Now)
        {
            for reading in todo.stage.makes_stale() {
                if !measure_again.contains(reading) && bench.asks(reading) {
                    measure_again.push(reading);
                }
            }
        }
        let steps = self.todo.into_iter().zip(states).zip(waits);
        PlanOutput {
            steps: steps.map(|((todo, state), waits)| as_step(todo, state, waits)).collect(),
            findings: self.found.into_iter().map(|(_, found)| as_finding(found, stopped)).collect(),
            stopped,
            measure_again: measure_again.into_iter().map(str::to_owned).collect(),
            cautions,
        }
    }

    /// The cautions of what may be done, now or later, and of what is offered instead; work that a stop ended
    /// needs none.
    fn cautions_of(&self, states: &[StepState]) -> Vec<String> {
        let counts = |stage: Stage| {
            let of_stage = self.todo.iter().zip(states).filter(|(todo, _)| todo.stage == stage);
            of_stage.into_iter().any(|(todo, state)| matches!(todo.act, Act::Offer(_)) || *state != StepState::Offer)
        };
        let mut keys: Vec<String> = Vec::new();
        for (_, key) in self.cautions.iter().filter(|(stage, _)| counts(*stage)) {
            if !keys.iter().any(|seen| seen == key) {
                keys.push((*key).to_owned());
            }
        }
        keys
    }
}
