//! The walk along the order of work: what was found and what is to be done, and the one place that decides which
//! of it may be done now.
//!
//! A step can be undone or not by its kind. What can be undone waits for the work before it. What cannot waits
//! besides for everything that is not known: for each reading and each look that is still open up to its stage,
//! and for anything reversible there. It then says what it waits for.

use std::collections::BTreeMap;

use super::bench::Bench;
use super::output::{Cause, Finding, Forecast, PlanOutput, PostsWithout, Range, Severity, Step, StepState};
pub(super) use super::stage::Stage;
use crate::setup::cut::{CutOutput, Ends};

/// Services that no stop forbids: they move no height and glue nothing.
const AFTER_A_STOP: [&str; 3] = ["humidify", "tuner-service", "clean-polish"];

/// A step on its way into the plan.
#[derive(Debug, Clone)]
pub(super) struct Todo {
    pub(super) stage: Stage,
    pub(super) key: &'static str,
    /// What to do, said of a step that may be done now.
    pub(super) words: String,
    /// The same without amounts, of a step that waits or is only offered; `None` says `words`.
    waiting_words: Option<&'static str>,
    act: Act,
    /// What to expect of it.
    forecast: Option<Forecast>,
    /// What to expect there once the steps before it are done; only while it waits.
    forecast_while_waiting: Option<Forecast>,
    /// How far each string's break point stands back today.
    setback_now: Option<Vec<Option<f64>>>,
    /// The first measure of a stop itself goes on when all else ends.
    is_remedy: bool,
}

/// What a step does to the instrument.
#[derive(Debug, Clone)]
enum Act {
    /// Reads or looks; nothing changes.
    Reading(Opens),
    Reversible(Option<Adjustment>),
    Irreversible(Option<Removal>),
    /// Larger work that a setup does not do, with the thickness of a shim.
    Offer(Option<f64>),
}

/// A question that a reading or a look settles.
#[derive(Debug, Clone)]
struct Opens {
    settles: String,
    holds: Holds,
}

/// What waits for the answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    /// All work from that stage on.
    Everything,
    /// Only what cannot be undone.
    WhatCannotBeUndone,
    /// Nothing.
    Nothing,
}

/// Amounts that can be taken back.
#[derive(Debug, Clone)]
pub(super) enum Adjustment {
    /// Each string its own screws.
    Turn(Turn),
    /// Two posts under one bridge.
    Posts(Box<PostsDown>),
    /// A shim under a saddle, a taller bridge.
    Raise(CutOutput),
    /// A nut that moves as one, plus up.
    NutAsOne(EndAmounts),
    /// Break points on screws.
    SetBack(StringAmounts),
    /// A loose bridge.
    Move { by: EndAmounts, miss_mm: f64 },
}

/// Amounts that cannot.
#[derive(Debug, Clone)]
pub(super) enum Removal {
    /// What is taken off, or a slot filled and cut again.
    Cut(CutOutput),
    /// Break points filed on a saddle.
    SetBack(StringAmounts),
}

/// One amount a string, null where nothing was read or nothing is to be done, with expanded uncertainties, mm.
#[derive(Debug, Clone)]
pub(super) struct StringAmounts {
    pub(super) mm: Vec<Option<f64>>,
    pub(super) expanded_mm: Vec<Option<f64>>,
}

/// An amount at both ends with its expanded uncertainty, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct EndAmounts {
    pub(super) mm: Ends,
    pub(super) expanded_mm: Ends,
}

/// Screws turned down, minus is up.
#[derive(Debug, Clone)]
pub(super) struct Turn {
    pub(super) down: StringAmounts,
    pub(super) turns: Option<Vec<Option<f64>>>,
    pub(super) travel_left: Option<Ends>,
}

/// Posts going down, minus is up.
#[derive(Debug, Clone)]
pub(super) struct PostsDown {
    /// What that is under each string.
    pub(super) down: StringAmounts,
    /// At the posts, where it is known where they stand.
    pub(super) posts: Option<EndAmounts>,
    pub(super) turns: Option<Ends>,
    pub(super) miss_mm: f64,
    pub(super) without: Option<PostsWithout>,
    pub(super) travel_left: Option<Ends>,
}

impl Todo {
    fn new(stage: Stage, key: &'static str, words: impl Into<String>, act: Act) -> Self {
        Self {
            stage,
            key,
            words: words.into(),
            waiting_words: None,
            act,
            forecast: None,
            forecast_while_waiting: None,
            setback_now: None,
            is_remedy: false,
        }
    }

    /// Reads or looks. `settles` is what is then known: "the air is read".
    pub(super) fn reading(
        stage: Stage,
        key: &'static str,
        words: impl Into<String>,
        settles: impl Into<String>,
        holds: Holds,
    ) -> Self {
        Self::new(stage, key, words, Act::Reading(Opens { settles: settles.into(), holds }))
    }

    /// Turned, moved, exchanged, cleaned.
    pub(super) fn reversible(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self::new(stage, key, words, Act::Reversible(None))
    }

    /// The same by amounts.
    pub(super) fn adjusting(stage: Stage, key: &'static str, words: impl Into<String>, adjustment: Adjustment) -> Self {
        Self::new(stage, key, words, Act::Reversible(Some(adjustment)))
    }

    /// Taken off, glued, levelled.
    pub(super) fn irreversible(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self::new(stage, key, words, Act::Irreversible(None))
    }

    /// The same by amounts.
    pub(super) fn removing(stage: Stage, key: &'static str, words: impl Into<String>, removal: Removal) -> Self {
        Self::new(stage, key, words, Act::Irreversible(Some(removal)))
    }

    pub(super) fn offer(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self::new(stage, key, words, Act::Offer(None))
    }

    /// An offer to shim the neck by so much, where that is known.
    pub(super) fn offer_shim(stage: Stage, key: &'static str, words: impl Into<String>, shim_mm: Option<f64>) -> Self {
        Self::new(stage, key, words, Act::Offer(shim_mm))
    }

    pub(super) fn while_waiting(mut self, words: &'static str) -> Self {
        self.waiting_words = Some(words);
        self
    }

    pub(super) fn expecting(mut self, forecast: Forecast) -> Self {
        self.forecast = Some(forecast);
        self
    }

    pub(super) fn expecting_while_waiting(mut self, forecast: Forecast) -> Self {
        self.forecast_while_waiting = Some(forecast);
        self
    }

    pub(super) fn standing_at(mut self, setback_now: Vec<Option<f64>>) -> Self {
        self.setback_now = setback_now.iter().any(Option::is_some).then_some(setback_now);
        self
    }

    pub(super) fn as_remedy(mut self) -> Self {
        self.is_remedy = true;
        self
    }

    fn is_work(&self) -> bool {
        matches!(self.act, Act::Reversible(_) | Act::Irreversible(_))
    }

    fn is_reversible(&self) -> bool {
        matches!(self.act, Act::Reversible(_) | Act::Reading(_))
    }

    /// Readings come first within a stage, and what takes off last.
    fn rank(&self) -> u8 {
        match self.act {
            Act::Reading(_) => 0,
            Act::Reversible(_) => 1,
            Act::Irreversible(_) => 2,
            Act::Offer(_) => 3,
        }
    }

    /// What `other` has to wait for here; `None` where it need not.
    fn comes_before(&self, other: &Self) -> Option<&str> {
        let cannot_be_undone = matches!(other.act, Act::Irreversible(_));
        match &self.act {
            Act::Reading(_) if matches!(other.act, Act::Reading(_)) => None,
            Act::Reading(opens) if cannot_be_undone => {
                (opens.holds != Holds::Nothing && self.stage <= other.stage).then_some(opens.settles.as_str())
            }
            Act::Reading(opens) => {
                (opens.holds == Holds::Everything && self.stage < other.stage).then_some(opens.settles.as_str())
            }
            Act::Reversible(_) if cannot_be_undone => (self.stage <= other.stage).then(|| self.stage.done()),
            Act::Reversible(_) | Act::Irreversible(_) => (self.stage < other.stage).then(|| self.stage.done()),
            Act::Offer(_) => None,
        }
    }
}

/// A finding on its way into the plan.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) key: &'static str,
    pub(super) severity: Severity,
    pub(super) words: String,
    pub(super) strings: Vec<usize>,
    pub(super) numbers: Vec<(&'static str, f64)>,
    pub(super) causes: Vec<Cause>,
    pub(super) service: Option<&'static str>,
}

impl Found {
    pub(super) fn new(key: &'static str, severity: Severity, words: impl Into<String>) -> Self {
        Self {
            key,
            severity,
            words: words.into(),
            strings: Vec::new(),
            numbers: Vec::new(),
            causes: Vec::new(),
            service: None,
        }
    }

    pub(super) fn on(mut self, strings: Vec<usize>) -> Self {
        self.strings = strings;
        self
    }

    pub(super) fn with(mut self, name: &'static str, value: f64) -> Self {
        self.numbers.push((name, value));
        self
    }

    pub(super) fn because(mut self, causes: Vec<Cause>) -> Self {
        self.causes = causes;
        self
    }

    pub(super) fn service(mut self, service: impl Into<Option<&'static str>>) -> Self {
        self.service = service.into();
        self
    }
}

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
            // there is nothing left to read it for
            self.todo.retain(|todo| !matches!(todo.act, Act::Reading(_)));
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

/// A step without amounts.
fn bare(todo: &Todo, state: StepState) -> Step {
    Step {
        key: todo.key.to_owned(),
        state,
        reversible: todo.is_reversible(),
        waits_for: Vec::new(),
        cut: None,
        turn_down_mm: None,
        turn_down_expanded_mm: None,
        turns: None,
        travel_left_mm: None,
        posts_down_mm: None,
        posts_down_expanded_mm: None,
        posts_turns: None,
        posts_miss_mm: None,
        posts_without: None,
        raise_nut_mm: None,
        raise_nut_expanded_mm: None,
        shim_mm: None,
        setback_now_mm: None,
        setback_to_add_mm: None,
        setback_to_add_expanded_mm: None,
        move_bridge_mm: None,
        move_bridge_expanded_mm: None,
        move_bridge_miss_mm: None,
        forecast: None,
        words: String::new(),
    }
}

/// Amounts only on a step that may be done now; no expectation of what is only offered.
fn as_step(todo: Todo, state: StepState, waits_for: Vec<String>) -> Step {
    let step = bare(&todo, state);
    let is_now = state == StepState::Now;
    let waits = state == StepState::AfterMeasuringAgain;
    let mut words = match todo.waiting_words.filter(|_| !is_now) {
        Some(waiting) => waiting.to_owned(),
        None => todo.words,
    };
    if waits && matches!(todo.act, Act::Irreversible(_)) && !waits_for.is_empty() {
        words = format!("{words} It waits until {}.", waits_for.join("; "));
    }
    let forecast = if waits { todo.forecast_while_waiting.or(todo.forecast) } else { todo.forecast };
    let step = Step {
        waits_for: if waits { waits_for } else { Vec::new() },
        forecast: forecast.filter(|_| state != StepState::Offer),
        setback_now_mm: todo.setback_now.filter(|_| is_now),
        words,
        ..step
    };
    match todo.act {
        Act::Offer(shim_mm) => Step { shim_mm, ..step },
        Act::Reversible(Some(adjustment)) if is_now => adjusted(step, adjustment),
        Act::Irreversible(Some(Removal::Cut(cut))) if is_now => Step { cut: Some(cut), ..step },
        Act::Irreversible(Some(Removal::SetBack(amounts))) if is_now => set_back(step, amounts),
        Act::Reading(_) | Act::Reversible(_) | Act::Irreversible(_) => step,
    }
}

fn set_back(step: Step, amounts: StringAmounts) -> Step {
    Step { setback_to_add_mm: Some(amounts.mm), setback_to_add_expanded_mm: Some(amounts.expanded_mm), ..step }
}

fn adjusted(step: Step, adjustment: Adjustment) -> Step {
    match adjustment {
        Adjustment::Raise(cut) => Step { cut: Some(cut), ..step },
        Adjustment::SetBack(amounts) => set_back(step, amounts),
        Adjustment::Turn(turn) => Step {
            turn_down_mm: Some(turn.down.mm),
            turn_down_expanded_mm: Some(turn.down.expanded_mm),
            turns: turn.turns,
            travel_left_mm: turn.travel_left,
            ..step
        },
        Adjustment::Posts(posts) => Step {
            turn_down_mm: Some(posts.down.mm),
            turn_down_expanded_mm: Some(posts.down.expanded_mm),
            posts_down_mm: posts.posts.map(|posts| posts.mm),
            posts_down_expanded_mm: posts.posts.map(|posts| posts.expanded_mm),
            posts_turns: posts.turns,
            posts_miss_mm: Some(posts.miss_mm),
            posts_without: posts.without,
            travel_left_mm: posts.travel_left,
            ..step
        },
        Adjustment::NutAsOne(raised) => {
            Step { raise_nut_mm: Some(raised.mm), raise_nut_expanded_mm: Some(raised.expanded_mm), ..step }
        }
        Adjustment::Move { by, miss_mm } => Step {
            move_bridge_mm: Some(by.mm),
            move_bridge_expanded_mm: Some(by.expanded_mm),
            move_bridge_miss_mm: Some(miss_mm),
            ..step
        },
    }
}

fn as_finding(found: Found, stopped: bool) -> Finding {
    let numbers: BTreeMap<String, f64> =
        found.numbers.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
    // what is not the stop's own repair is not sold behind it
    let may_be_sold =
        |service: &&'static str| !stopped || found.severity == Severity::Stop || AFTER_A_STOP.contains(service);
    Finding {
        key: found.key.to_owned(),
        severity: found.severity,
        words: found.words,
        strings: found.strings,
        numbers,
        causes: found.causes,
        service: found.service.filter(may_be_sold).map(str::to_owned),
    }
}

/// A range from two ends in any order, widened by an expanded uncertainty.
pub(super) fn range(one: f64, other: f64, expanded: f64) -> Range {
    Range { least: one.min(other) - expanded, most: one.max(other) + expanded }
}

/// "string 3", "strings 1, 2 and 5", or "all strings".
pub(super) fn said_strings(strings: &[usize], all: usize) -> String {
    match strings {
        [] => "no string".to_owned(),
        _ if strings.len() == all && all > 1 => "all strings".to_owned(),
        [only] => format!("string {only}"),
        [rest @ .., last] => {
            let rest = rest.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            format!("strings {rest} and {last}")
        }
    }
}

/// "string 1 0.28 mm, string 2 0.31 mm".
pub(super) fn said_amounts(amounts: impl Iterator<Item = (usize, f64)>) -> String {
    amounts.map(|(string, mm)| format!("string {string} {mm:.2} mm")).collect::<Vec<_>>().join(", ")
}
