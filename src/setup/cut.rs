//! `cut`: exactly how much may come off, and how much of it in the first pass.
//!
//! exact = (reading − target)·k with k = L′/x₁₂ at a saddle, 1/(1 − x₁/x₃) for the gap over fret 1
//! stopped at 3, 1/(1 − x₁/L′) for the open height over fret 1 (similar triangles). First pass = exact −
//! t·u one-sided, rounded down to the file's step: guarded acceptance (JCGM 106:2012, ISO 14253-1:2017
//! for the sense), because removed material does not come back.

mod amounts;
mod check;
mod foot;
mod saddle;
mod top;
pub(super) mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::board::BoardRadius;
use crate::problem::Problems;

pub(super) use amounts::rounded_down;
pub use working::explain;

/// Shims under one nut, at most: beyond, a new nut is quoted. Common practice, no source.
pub const MOST_SHIMS: usize = 2;
/// Share of cases that an expanded uncertainty covers.
const COVERAGE: f64 = 0.95;
/// Below this two amounts are the same, mm: far finer than any file.
const SAME_MM: f64 = 1e-9;

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

/// What `cut` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutOutput {
    /// String by string.
    pub strings: Vec<StringCut>,
    /// Straight cut at the saddle's foot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foot: Option<Foot>,
    /// The same from the first-pass amounts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foot_first_pass: Option<Foot>,
    /// Saddle above the bridge once all is off, at the foot and on top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_showing_mm: Option<Ends>,
    /// Expanded uncertainty (95 %) of that, mm: of what comes off and of what shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_showing_expanded_mm: Option<Ends>,
    /// Strings to raise.
    pub raise: Vec<Raise>,
    /// Why not to cut.
    pub stops: Vec<Stop>,
    /// The top over a curved board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub top: Option<Top>,
}

/// The top's shape over a curved board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Top {
    /// Of the board under the top, mm.
    pub board_radius_mm: f64,
    /// On which strings of one height lie: the board's radius and the mean wished height, mm.
    pub top_radius_mm: f64,
    /// String by string.
    pub strings: Vec<TopString>,
    /// How far the board stands, half-way, over the straight line under an outer string, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_over_fanned_line_mm: Option<f64>,
}

/// How far one string stands over the straight line between the outer two.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TopString {
    /// On an arc of the top's radius, mm.
    pub ideal_over_chord_mm: f64,
    /// As read, mm; null where a reading is missing, or only the open height at a nut is known.
    pub present_over_chord_mm: Option<f64>,
    /// Once the exact amounts are off, mm; strings to raise stay as they are.
    pub after_cut_over_chord_mm: Option<f64>,
}

/// One string's amounts; null where its reading is missing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringCut {
    /// Removal at the saddle or nut, mm; minus is raise.
    pub exact_mm: Option<f64>,
    /// Standard uncertainty of the removal, mm.
    pub standard_uncertainty_mm: f64,
    /// Expanded uncertainty of the removal, mm: covers 95 %, Student's t of the reading's degrees of freedom
    /// as given; absent where the reading is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expanded_mm: Option<f64>,
    /// First pass, mm; 0 is: do not cut, measure again.
    pub first_pass_mm: f64,
    /// What remains after the foot's cut, to shape on top, mm; for a saddle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_top_mm: Option<f64>,
}

/// A straight cut, given at its ends.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Foot {
    /// At string 1, mm.
    pub treble_mm: f64,
    /// At the last string, mm.
    pub bass_mm: f64,
    /// Expanded uncertainty (95 %) of the exact cut at the treble end, mm: of the readings it rests on and of
    /// the cutting itself; absent of a first pass, which is chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treble_expanded_mm: Option<f64>,
    /// The same at the bass end, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bass_expanded_mm: Option<f64>,
}

/// One string to raise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Raise {
    /// From 1.
    pub string: usize,
    /// By how much at the saddle or nut, mm.
    pub mm: f64,
    /// Expanded uncertainty (95 %) of that, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expanded_mm: Option<f64>,
    /// Shims of the stated thickness; 0 where none goes under it: a slot is filled, a bridge exchanged.
    pub shims: usize,
}

/// A reason not to cut.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Stop {
    /// `saddle-spent` or `nut-beyond-shims`.
    pub key: String,
    /// In words.
    pub words: String,
}

/// Amounts to remove at a saddle or a nut. A string without a reading is never cut: its amount is null
/// and the foot's cut stays at 0 there.
///
/// # Errors
/// When a field is missing for the place, or a number is out of range.
pub fn cut(input: &CutInput) -> Result<CutOutput, Problems> {
    check::check(input)?;
    Ok(worked_out(input))
}

/// The same of numbers that are known to be in range. Without what shows nothing bounds a saddle's foot: so
/// with a bridge that stands by itself.
pub(super) fn worked_out(input: &CutInput) -> CutOutput {
    let strings: Vec<StringCut> = input.strings.iter().map(|string| amounts::of(input, string)).collect();
    let raise = amounts::raises(&strings, input.shim_mm);
    let top = top::top(input, &strings);
    let worked = match input.place {
        CutPlace::Saddle => saddle::saddle(input, strings, raise),
        CutPlace::Nut => nut(strings, raise),
    };
    CutOutput { top, ..worked }
}

fn nut(strings: Vec<StringCut>, raise: Vec<Raise>) -> CutOutput {
    let stop = raise.iter().any(|raise| raise.shims > MOST_SHIMS).then(|| Stop {
        key: "nut-beyond-shims".to_owned(),
        words: format!("The nut would need more than {MOST_SHIMS} shims. A new nut is the honest repair."),
    });
    CutOutput {
        strings,
        foot: None,
        foot_first_pass: None,
        left_showing_mm: None,
        left_showing_expanded_mm: None,
        raise,
        stops: stop.into_iter().collect(),
        top: None,
    }
}
