//! What `cut` takes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::setup::board::BoardRadius;

/// Which end is worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CutPlace {
    /// The saddle: felt all the way.
    Saddle,
    /// The nut: stays at the nut.
    Nut,
}

/// What `cut` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutInput {
    /// Saddle or nut.
    pub place: CutPlace,
    /// Nominal scale, mm.
    pub scale_mm: f64,
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub saddle_setback_mm: f64,
    /// Risk of taking too much in the first pass.
    #[serde(default = "usual_risk")]
    pub first_pass_risk: f64,
    /// The file's step, mm.
    #[serde(default = "usual_step")]
    pub step_mm: f64,
    /// Standard uncertainty of the cut itself, mm.
    #[serde(default = "usual_cut_uncertainty")]
    pub cut_uncertainty_mm: f64,
    /// Thickness of one shim, mm.
    #[serde(default = "usual_shim")]
    pub shim_mm: f64,
    /// The strings, string 1 first.
    pub strings: Vec<CutString>,
    /// Saddle above the bridge, mm; for a saddle.
    #[serde(default)]
    pub showing_mm: Option<Ends>,
    /// Expanded uncertainty of what shows, mm, where it is known; for a saddle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub showing_expanded_mm: Option<Ends>,
    /// What must stay above the bridge, mm; for a saddle.
    #[serde(default)]
    pub least_showing_mm: Option<f64>,
    /// The board's radius; flat when absent. With it the top's shape is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_radius_mm: Option<BoardRadius>,
    /// Between the outer strings at the other end of the string, mm; with a radius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spread_at_other_end_mm: Option<f64>,
}

fn usual_risk() -> f64 {
    0.025
}

fn usual_step() -> f64 {
    0.01
}

fn usual_cut_uncertainty() -> f64 {
    0.03
}

fn usual_shim() -> f64 {
    0.3
}

/// One string. A missing reading is null: nothing comes off there. A string that runs otherwise than its
/// neighbours, on a fanned board or from a fret on, says so; the rest follow the fields of the whole.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutString {
    /// Across the saddle or nut, from string 1, mm; needed for a saddle and with a board's radius.
    #[serde(default)]
    pub position_mm: Option<f64>,
    /// Height over fret 12, mm; for a saddle.
    #[serde(default)]
    pub action_12_mm: Option<f64>,
    /// Gap over fret 1 stopped at 3, mm; for a nut.
    #[serde(default)]
    pub gap_at_1_stopped_at_3_mm: Option<f64>,
    /// Open height over fret 1, mm; for a nut.
    #[serde(default)]
    pub first_fret_mm: Option<f64>,
    /// Wished, of the same kind as the reading, mm.
    pub target_mm: f64,
    /// Standard uncertainty of the reading, mm.
    pub standard_uncertainty_mm: f64,
    /// Of the reading; null is large.
    #[serde(default)]
    pub degrees_of_freedom: Option<f64>,
    /// How often the reading was taken, where that is known. Of a single one at most half of the amount comes off in
    /// the first pass: take half, read, then the rest (common practice, no source).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeats: Option<usize>,
    /// Where the nut's least is reached, mm: amounts are capped there.
    #[serde(default)]
    pub most_removal_mm: Option<f64>,
    /// Its own scale on a fanned board, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_mm: Option<f64>,
    /// Its own set-back, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saddle_setback_mm: Option<f64>,
    /// The fret at which a short string begins; the gap and the open height are over its own first fret, the
    /// next one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub starts_at_fret: Option<usize>,
}

/// The two ends of a saddle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ends {
    /// At string 1, mm.
    pub treble: f64,
    /// At the last string, mm.
    pub bass: f64,
}
