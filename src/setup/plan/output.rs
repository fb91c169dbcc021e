//! What `plan` answers.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::setup::cut::{CutOutput, Ends};

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Ends cutting.
    Stop,
    /// To be done.
    Work,
    /// To be kept an eye on.
    Watch,
    /// As it should be.
    Fine,
}

impl Severity {
    /// As written.
    pub fn key(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Work => "work",
            Self::Watch => "watch",
            Self::Fine => "fine",
        }
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// What.
    pub key: String,
    /// How grave.
    pub severity: Severity,
    /// In words.
    pub words: String,
    /// On which strings, from 1; empty for the whole instrument.
    pub strings: Vec<usize>,
    /// The figures behind it, with their units in the names.
    pub numbers: BTreeMap<String, f64>,
    /// Likely causes, the likeliest first and of equals the least costly to check.
    pub causes: Vec<Cause>,
    /// The key of the service that mends it, as the shop's catalogue names it: `setup`, `truss-rod`,
    /// `nut-slots`, `new-nut`, `saddle-lower`, `new-saddle`, `intonation`, `fret-level`, `fret-dress`,
    /// `refret`, `restring`, `tuner-service`, `clean-polish`, `humidify`, `crack-repair`, `bridge-reglue`, `brace-reglue`,
    /// `neck-reset`, `neck-shim`, `neck-heat`, `bridge-height`, `head-tension`. After a stop only those that it leaves.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<String>,
}

/// A likely cause.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Cause {
    /// A finding's key.
    pub key: String,
    /// Why it is likely, from readings and symptoms.
    pub reason: String,
    /// How to check it.
    pub check: String,
}

/// Whether a step may be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StepState {
    /// Do it.
    Now,
    /// Its readings will be stale: measure again first.
    AfterMeasuringAgain,
    /// Beyond this setup: offer it.
    Offer,
}

impl StepState {
    /// As written.
    pub fn key(self) -> &'static str {
        match self {
            Self::Now => "now",
            Self::AfterMeasuringAgain => "after-measuring-again",
            Self::Offer => "offer",
        }
    }
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// A finding's key; `reading-missing` and its kin are readings to take before anything after them.
    pub key: String,
    /// Whether it may be done.
    pub state: StepState,
    /// Whether it can be undone: a reading, a screw or a rod turned, a bridge moved. What takes off, glues or levels
    /// cannot, and waits for what is not known.
    #[serde(default)]
    pub reversible: bool,
    /// What has to be known or done before it, where it waits.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub waits_for: Vec<String>,
    /// Amounts to remove; only on a step that may be done now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut: Option<CutOutput>,
    /// Amounts to turn a screwed saddle, mm, minus is up; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_down_mm: Option<Vec<Option<f64>>>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_down_expanded_mm: Option<Vec<Option<f64>>>,
    /// The same in turns of a screw of the stated pitch, to the eighth; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turns: Option<Vec<Option<f64>>>,
    /// What screws, wheels or posts can still go down once that is done, mm, where it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub travel_left_mm: Option<Ends>,
    /// How far two posts go down to bring the bridge nearest to every string, mm, minus is up; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub posts_down_mm: Option<Ends>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub posts_down_expanded_mm: Option<Ends>,
    /// The same in turns, to the eighth; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub posts_turns: Option<Ends>,
    /// How far the bridge then is from what the worst string asks, mm; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub posts_miss_mm: Option<f64>,
    /// The posts without the one string that draws them away from the others; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub posts_without: Option<PostsWithout>,
    /// How far a nut that moves as one goes up, mm, minus is down; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub raise_nut_mm: Option<Ends>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub raise_nut_expanded_mm: Option<Ends>,
    /// Thickness of a shim under a bolted neck, a taper over the whole pocket, at its thick end, mm; of an offer too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shim_mm: Option<f64>,
    /// How far the strings leave the saddle beyond half the scale from the 12th today, mm, where it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setback_now_mm: Option<Vec<Option<f64>>>,
    /// Set-backs to add, mm, plus is away from the frets; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setback_to_add_mm: Option<Vec<Option<f64>>>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setback_to_add_expanded_mm: Option<Vec<Option<f64>>>,
    /// How far a loose bridge moves under its outer strings, mm, plus is away from the frets; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub move_bridge_mm: Option<Ends>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub move_bridge_expanded_mm: Option<Ends>,
    /// How far the bridge then is from where the worst string wishes it, mm; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub move_bridge_miss_mm: Option<f64>,
    /// What to expect after the steps before it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forecast: Option<Forecast>,
    /// In words.
    pub words: String,
}

/// Two posts without one string, whose own notch is the matter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PostsWithout {
    /// The string left out, from 1.
    pub string: usize,
    /// The treble post goes down, mm, minus is up.
    pub treble_mm: f64,
    /// The bass post goes down, mm, minus is up.
    pub bass_mm: f64,
    /// The same in turns, to the eighth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turns: Option<Ends>,
    /// How far the bridge then is from what the worst of the others asks, mm.
    pub miss_mm: f64,
    /// What the string's own notch is to lose beyond that, mm; minus is to be raised.
    pub notch_mm: f64,
}

/// An expectation, never an amount to cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Forecast {
    /// What: `action_12_mm`, `nut_removal_mm`, `saddle_removal_mm`, `saddle_setback_mm`.
    pub quantity: String,
    /// String by string; null where nothing was read, or nothing is to be done.
    pub strings: Vec<Option<Range>>,
}

/// From least to most.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Range {
    /// Least.
    pub least: f64,
    /// Most.
    pub most: f64,
}

/// What `plan` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanOutput {
    /// What was found, in the order of work.
    pub findings: Vec<Finding>,
    /// What to do, in the order of work.
    pub steps: Vec<Step>,
    /// Whether something ended cutting.
    pub stopped: bool,
    /// Readings to take (again): `relief_mm`, `action_12_mm`…
    pub measure_again: Vec<String>,
    /// Keys of cautions.
    pub cautions: Vec<String>,
}

/// A range from two ends in any order, widened by an expanded uncertainty.
pub(super) fn range(one: f64, other: f64, expanded: f64) -> Range {
    Range { least: one.min(other) - expanded, most: one.max(other) + expanded }
}
