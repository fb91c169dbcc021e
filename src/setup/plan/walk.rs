//! The walk along the order of work: what was found and what is to be done, and which of it may be done now.

use std::collections::BTreeMap;

use super::types::{Cause, Finding, Forecast, PlanOutput, Range, Severity, Step, StepState};
use crate::setup::cut::CutOutput;

/// The stages of a setup, in their order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stage {
    Air,
    Structure,
    SimpleCauses,
    Relief,
    Nut,
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
            Self::Air | Self::Structure => ALL,
            Self::SimpleCauses | Self::Relief | Self::Frets => {
                &["relief_mm", "action_12_mm", "first_fret_mm", "gap_at_1_stopped_at_3_mm", "cents_at_12"]
            }
            Self::Nut => &["action_12_mm", "first_fret_mm", "gap_at_1_stopped_at_3_mm", "cents_at_12"],
            Self::Saddle => &["action_12_mm", "first_fret_mm", "saddle_showing_mm", "cents_at_12"],
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
    pub(super) words: String,
    pub(super) cut: Option<CutOutput>,
    pub(super) turn_down_mm: Option<Vec<Option<f64>>>,
    pub(super) forecast: Option<Forecast>,
    /// Larger work that a setup does not do.
    pub(super) is_offer: bool,
}

impl Todo {
    pub(super) fn plain(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self { stage, key, words: words.into(), cut: None, turn_down_mm: None, forecast: None, is_offer: false }
    }

    pub(super) fn offer(stage: Stage, key: &'static str, words: impl Into<String>) -> Self {
        Self { is_offer: true, ..Self::plain(stage, key, words) }
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
    missing: Vec<&'static str>,
    cautions: Vec<&'static str>,
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

    pub(super) fn caution(&mut self, key: &'static str) {
        if !self.cautions.contains(&key) {
            self.cautions.push(key);
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

    /// Whether a step comes before this stage: its readings will be stale.
    pub(super) fn is_stale(&self, stage: Stage) -> bool {
        self.todo.iter().any(|todo| todo.stage < stage)
    }

    /// The plan: exactly the steps of the first undone stage are *now*; after a stop the rest is *offer*.
    pub(super) fn settle(mut self) -> PlanOutput {
        let stopped = self.is_stopped();
        self.found.sort_by_key(|(stage, _)| *stage);
        self.todo.sort_by_key(|todo| todo.stage);
        let first = self.todo.iter().filter(|todo| !todo.is_offer).map(|todo| todo.stage).min();
        let recovering =
            self.found.iter().any(|(stage, found)| *stage == Stage::Air && found.severity == Severity::Stop);
        let mut measure_again: Vec<&str> = self.missing;
        let steps: Vec<Step> = self
            .todo
            .into_iter()
            .map(|todo| {
                let state = if todo.is_offer || (stopped && !(recovering && todo.stage == Stage::Air)) {
                    StepState::Offer
                } else if Some(todo.stage) == first {
                    StepState::Now
                } else {
                    StepState::AfterMeasuringAgain
                };
                let is_now = state == StepState::Now;
                if is_now {
                    for reading in todo.stage.makes_stale() {
                        if !measure_again.contains(reading) {
                            measure_again.push(reading);
                        }
                    }
                }
                Step {
                    key: todo.key.to_owned(),
                    state,
                    cut: todo.cut.filter(|_| is_now),
                    turn_down_mm: todo.turn_down_mm.filter(|_| is_now),
                    forecast: todo.forecast.filter(|_| state == StepState::AfterMeasuringAgain || is_now),
                    words: todo.words,
                }
            })
            .collect();
        PlanOutput {
            findings: self.found.into_iter().map(|(_, found)| as_finding(found)).collect(),
            steps,
            stopped,
            measure_again: measure_again.into_iter().map(str::to_owned).collect(),
            cautions: self.cautions.into_iter().map(str::to_owned).collect(),
        }
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
