//! What `string-change` answers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What `string-change` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringChangeOutput {
    /// String by string.
    pub strings: Vec<StringChanged>,
    /// Pull of all together, N.
    pub total_n: Change,
    /// Turning moment on the bridge, N·m; with the height over the top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bridge_moment_nm: Option<Change>,
    /// Pressed down on the saddle by all together, N; with the break angle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saddle_down_n: Option<Change>,
    /// What the neck will do.
    pub relief: ReliefEffect,
    /// Whether one of the warnings says stop.
    pub stopped: bool,
    /// The gravest first.
    pub warnings: Vec<Warning>,
    /// Keys of the usual cautions.
    pub cautions: Vec<String>,
}

/// Before, after and between.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Change {
    /// With the strings on it.
    pub now: f64,
    /// With those to come.
    pub next: f64,
    /// Next less now.
    pub change: f64,
    /// The same as a share of now, %.
    pub change_percent: f64,
}

impl Change {
    pub(super) fn new(now: f64, next: f64) -> Self {
        Self { now, next, change: next - now, change_percent: 100.0 * (next - now) / now }
    }
}

/// One string, before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringChanged {
    /// The string on it.
    pub now: OneString,
    /// The string to come.
    pub next: OneString,
    /// Pull, N.
    pub tension_n: Change,
    /// Error of the next string at the 12th where the saddle suits the present one, cents; null where the
    /// heights or a core are not known.
    pub cents_at_12_if_saddle_stays: Option<f64>,
    /// How much thicker the next is, mm; null where a diameter is not known.
    pub thicker_mm: Option<f64>,
}

/// One string's figures.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OneString {
    /// Hz.
    pub frequency_hz: f64,
    /// g/m.
    pub linear_density_g_m: f64,
    /// N.
    pub tension_n: f64,
    /// Saddle's set-back for the 12th in tune, mm; null where the heights or a core are not known.
    pub saddle_setback_mm: Option<f64>,
    /// Of a plain steel string's breaking stress; null for others, which no table here covers.
    pub share_of_breaking: Option<f64>,
    /// The least pull behind the saddle while friction holds, N; with the break angle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_behind_saddle_n: Option<f64>,
}

/// Which way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ReliefSign {
    /// The neck bows forward.
    More,
    /// It straightens.
    Less,
    /// No more than gauges are sure of.
    Same,
}

/// What an amount rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ReliefFrom {
    /// An even beam of assumed stiffness.
    Assumption,
    /// This instrument's own readings.
    OwnPairs,
}

/// What the neck will likely do, the rod untouched.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReliefEffect {
    /// Which way.
    pub sign: ReliefSign,
    /// Change of relief, least and most, mm; null where the body joint is not known.
    pub change_mm: Option<[f64; 2]>,
    /// What the amount rests on; null without one.
    pub from: Option<ReliefFrom>,
    /// In words.
    pub words: String,
}

/// One thing to know before the set goes on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Warning {
    /// `steel-on-nylon-instrument`, `pull-up`, `string-pull-up`, `near-breaking` or `slot-too-narrow`.
    pub key: String,
    /// Do not put it on.
    pub stop: bool,
    /// From 1; absent for the whole instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub string: Option<usize>,
    /// In words.
    pub words: String,
}
