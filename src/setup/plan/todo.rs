//! A step and a finding on their way into the plan. A step can be undone or not by its kind, and only the amounts of
//! that kind can stand on it.

use super::output::{Cause, Forecast, PostsWithout, Severity};
use super::stage::Stage;
use crate::setup::cut::{CutOutput, Ends};

/// A step on its way into the plan.
#[derive(Debug, Clone)]
pub(super) struct Todo {
    pub(super) stage: Stage,
    pub(super) key: &'static str,
    /// What to do, said of a step that may be done now.
    pub(super) words: String,
    /// The same without amounts, of a step that waits or is only offered; `None` says `words`.
    pub(super) waiting_words: Option<&'static str>,
    pub(super) act: Act,
    /// What to expect of it.
    pub(super) forecast: Option<Forecast>,
    /// What to expect there once the steps before it are done; only while it waits.
    pub(super) forecast_while_waiting: Option<Forecast>,
    /// How far each string's break point stands back today.
    pub(super) setback_now: Option<Vec<Option<f64>>>,
    /// The first measure of a stop itself goes on when all else ends.
    pub(super) is_remedy: bool,
    /// Answers what somebody complained of: it is not dropped where all else ends.
    pub(super) is_complaint: bool,
}

/// What a step does to the instrument.
#[derive(Debug, Clone)]
pub(super) enum Act {
    /// Reads or looks; nothing changes.
    Reading(Opens),
    Reversible(Option<Adjustment>),
    Irreversible(Option<Removal>),
    /// Larger work that a setup does not do, with the thickness of a shim.
    Offer(Option<f64>),
}

/// A question that a reading or a look settles.
#[derive(Debug, Clone)]
pub(super) struct Opens {
    pub(super) settles: String,
    pub(super) holds: Holds,
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
    Raise(Box<CutOutput>),
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
    Cut(Box<CutOutput>),
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
            is_complaint: false,
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

    pub(super) fn into_remedy(mut self) -> Self {
        self.is_remedy = true;
        self
    }

    pub(super) fn into_complaint(mut self) -> Self {
        self.is_complaint = true;
        self
    }

    pub(super) fn is_work(&self) -> bool {
        matches!(self.act, Act::Reversible(_) | Act::Irreversible(_))
    }

    pub(super) fn is_reversible(&self) -> bool {
        matches!(self.act, Act::Reversible(_) | Act::Reading(_))
    }

    /// Readings come first within a stage, and what takes off last.
    pub(super) fn rank(&self) -> u8 {
        match self.act {
            Act::Reading(_) => 0,
            Act::Reversible(_) => 1,
            Act::Irreversible(_) => 2,
            Act::Offer(_) => 3,
        }
    }

    /// What `other` has to wait for here; `None` where it need not.
    pub(super) fn comes_before(&self, other: &Self) -> Option<&str> {
        let cannot_be_undone = matches!(other.act, Act::Irreversible(_));
        match &self.act {
            Act::Reading(_) if matches!(other.act, Act::Reading(_)) => None,
            Act::Reading(opens) if cannot_be_undone => {
                (opens.holds != Holds::Nothing && self.stage <= other.stage).then_some(opens.settles.as_str())
            }
            Act::Reading(opens) => {
                (opens.holds == Holds::Everything && self.stage <= other.stage).then_some(opens.settles.as_str())
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
