//! What `cut` answers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::input::Ends;

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
