//! The walk along the order of work: what was found and what is to be done, and which of it may be done now.

use std::collections::BTreeMap;

use super::types::{Cause, Finding, Forecast, PlanOutput, Range, Severity, Step, StepState};
use crate::setup::cut::CutOutput;

/// The stages of a setup, in their order. Raising comes before lowering: a shim lifts its neighbours too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stage {
    Air,
    Structure,
    SimpleCauses,
    Relief,
    /// Two readings of the nut that contradict each other are settled before it is touched.
    NutReadings,
    NutRaised,
    Nut,
    /// The saddle is free and its showing is read before anything is taken off it.
    SaddleReady,
    SaddleRaised,
    Saddle,
    Frets,
    Intonation,
    Finishing,
}

impl Stage {
    /// Readings that a step of this stage makes stale.
    fn makes_stale(self) -> &'static [&'static str] {
        const ALL: &[&str] = &[
            "relief_mm",
            "action_12_mm",
            "first_fret_mm",
            "gap_at_1_stopped_at_3_mm",
            "saddle_showing_mm",
            "cents_at_12",
        ];
        match self {
            // an instrument has recovered once its air says so
            Self::Air => &[
                "air",
                "relief_mm",
                "action_12_mm",
                "first_fret_mm",
                "gap_at_1_stopped_at_3_mm",
                "saddle_showing_mm",
                "cents_at_12",
            ],
            Self::Structure => ALL,
            Self::SimpleCauses | Self::Relief | Self::Frets => {
                &["relief_mm", "action_12_mm", "first_fret_mm", "gap_at_1_stopped_at_3_mm", "cents_at_12"]
            }
            Self::NutReadings | Self::NutRaised | Self::Nut => {
                &["action_12_mm", "first_fret_mm", "gap_at_1_stopped_at_3_mm", "cents_at_12"]
            }
            Self::SaddleReady | Self::SaddleRaised | Self::Saddle => {
                &["action_12_mm", "first_fret_mm", "saddle_showing_mm", "cents_at_12"]
            }
            Self::Intonation => &["cents_at_12"],
            Self::Finishing => &[],
        }
    }
}

/// A step on its way into the plan.
#[derive(Debug, Clone)]
pub(super) struct Todo {
    pub(super) stage: Stage,
    pub(super) key: &'static str,
    /// What to do, said of a step that may be done now.
    pub(super) words: String,
    /// The same without amounts, of a step that waits or is only offered; `None` says `words`.
    pub(super) waiting_words: Option<&'static str>,
    pub(super) cut: Option<CutOutput>,
    pub(super) turn_down: Option<StringAmounts>,
    pub(super) setback_to_add: Option<StringAmounts>,
    pub(super) forecast: Option<Forecast>,
    pub(super) kind: Kind,
}

/// One amount a string, null where nothing was read or nothing is to be done, with expanded uncertainties, mm.
#[derive(Debug, Clone)]
pub(super) struct StringAmounts {
    pub(super) mm: Vec<Option<f64>>,
    pub(super) expanded_mm: Vec<Option<f64>>,
}

/// What a step does to the instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Changes it.
    Work,
    /// Only reads it: nothing becomes stale, and after a stop there is nothing to read it for.
    Reading,
    /// Larger work that a setup does not do.
    Offer,
}

impl Todo {
    pub(super) fn plain(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self {
            stage,
            key,
            words: words.into(),
            waiting_words: None,
            cut: None,
            turn_down: None,
            setback_to_add: None,
            forecast: None,
            kind: Kind::Work,
        }
    }

    pub(super) fn offer(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self { kind: Kind::Offer, ..Self::plain(stage, key, words) }
    }

    pub(super) fn reading(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self { kind: Kind::Reading, ..Self::plain(stage, key, words) }
    }

    pub(super) fn while_waiting(mut self, words: &'static str) -> Self {
        self.waiting_words = Some(words);
        self
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

    pub(super) fn service(mut self, service: &'static str) -> Self {
        self.service = Some(service);
        self
    }
}

/// What the walk has gathered so far.
#[derive(Debug, Default)]
pub(super) struct Walk {
    found: Vec<(Stage, Found)>,
    todo: Vec<Todo>,
    /// What was not read, with the stage that needs it.
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

    /// Notes a reading that a stage needs and does not have: it is taken before anything after that stage.
    pub(super) fn unread(&mut self, stage: Stage, words: impl Into<String>) {
        self.unread.push((stage, words.into()));
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

    /// The cautions of what may be done, now or later, and of what is offered instead; work that a stop ended
    /// needs none.
    fn cautions(&self, state: impl Fn(&Todo) -> StepState) -> Vec<String> {
        let counts = |stage: Stage| {
            let mut of_stage = self.todo.iter().filter(|todo| todo.stage == stage);
            of_stage.any(|todo| todo.kind == Kind::Offer || state(todo) != StepState::Offer)
        };
        let mut keys: Vec<String> = Vec::new();
        for (_, key) in self.cautions.iter().filter(|(stage, _)| counts(*stage)) {
            if !keys.iter().any(|seen| seen == key) {
                keys.push((*key).to_owned());
            }
        }
        keys
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

    /// Whether a step comes before this stage: its readings will be stale.
    pub(super) fn is_stale(&self, stage: Stage) -> bool {
        self.todo.iter().any(|todo| todo.stage < stage) || self.unread.iter().any(|(unread, _)| *unread < stage)
    }

    /// One step for everything that was not read, before the first stage that needs it.
    fn read_first(&mut self) {
        let Some(stage) = self.unread.iter().map(|(stage, _)| *stage).min() else {
            return;
        };
        let words: Vec<String> = self.unread.drain(..).map(|(_, words)| words).collect();
        let words = format!("Read first: {}. The amounts follow from it.", words.join("; "));
        self.todo.insert(0, Todo::reading(stage, "reading-missing", words));
    }

    /// The plan: exactly the steps of the first undone stage are *now*; after a stop the rest is *offer*.
    pub(super) fn settle(mut self) -> PlanOutput {
        let stopped = self.is_stopped();
        let recovering =
            self.found.iter().any(|(stage, found)| *stage == Stage::Air && found.severity == Severity::Stop);
        self.read_first();
        if stopped {
            self.todo.retain(|todo| todo.kind != Kind::Reading);
        }
        self.found.sort_by_key(|(stage, _)| *stage);
        self.todo.sort_by_key(|todo| todo.stage);
        let first = self.todo.iter().filter(|todo| todo.kind != Kind::Offer).map(|todo| todo.stage).min();
        let state = |todo: &Todo| {
            if todo.kind == Kind::Offer || (stopped && !(recovering && todo.stage == Stage::Air)) {
                StepState::Offer
            } else if Some(todo.stage) == first {
                StepState::Now
            } else {
                StepState::AfterMeasuringAgain
            }
        };
        let cautions = self.cautions(state);
        let mut measure_again = self.missing;
        for todo in self.todo.iter().filter(|todo| todo.kind == Kind::Work && state(todo) == StepState::Now) {
            for reading in todo.stage.makes_stale() {
                if !measure_again.contains(reading) {
                    measure_again.push(reading);
                }
            }
        }
        PlanOutput {
            steps: self.todo.into_iter().map(|todo| as_step(state(&todo), todo)).collect(),
            findings: self.found.into_iter().map(|(_, found)| as_finding(found)).collect(),
            stopped,
            measure_again: measure_again.into_iter().map(str::to_owned).collect(),
            cautions,
        }
    }
}

/// Amounts only on a step that may be done now; no expectation of what is only offered.
fn as_step(state: StepState, todo: Todo) -> Step {
    let is_now = state == StepState::Now;
    let words = match todo.waiting_words.filter(|_| !is_now) {
        Some(waiting) => waiting.to_owned(),
        None => todo.words,
    };
    let amounts = |amounts: Option<StringAmounts>| {
        amounts.filter(|_| is_now).map(|amounts| (amounts.mm, amounts.expanded_mm)).unzip()
    };
    let (turn_down_mm, turn_down_expanded_mm) = amounts(todo.turn_down);
    let (setback_to_add_mm, setback_to_add_expanded_mm) = amounts(todo.setback_to_add);
    Step {
        key: todo.key.to_owned(),
        state,
        cut: todo.cut.filter(|_| is_now),
        turn_down_mm,
        turn_down_expanded_mm,
        setback_to_add_mm,
        setback_to_add_expanded_mm,
        forecast: todo.forecast.filter(|_| state != StepState::Offer),
        words,
    }
}

fn as_finding(found: Found) -> Finding {
    let numbers: BTreeMap<String, f64> =
        found.numbers.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
    Finding {
        key: found.key.to_owned(),
        severity: found.severity,
        words: found.words,
        strings: found.strings,
        numbers,
        causes: found.causes,
        service: found.service.map(str::to_owned),
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
