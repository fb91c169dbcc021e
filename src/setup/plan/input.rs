//! What `plan` takes: the instrument as it is built, the air, the tool, the readings.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::built::{BridgeKind, NeckJoint, NutKind, PlanRod, PostPositions};
use super::families::{PlanFamily, PlanStyle};
use super::observation::PlanObservation;
use super::targets::TargetsGiven;
use crate::setup::board::BoardRadius;
use crate::setup::limits::{LATEST_START, MOST_STRINGS, SCALE_MM};
use crate::setup::neck_shim::NeckPocket;
use crate::setup::tension::Material;

/// What `plan` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanInput {
    /// The instrument.
    pub instrument: PlanInstrument,
    /// How hard the player plays.
    pub style: PlanStyle,
    /// Wishes of this job; the house's targets where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub targets: Option<TargetsGiven>,
    /// The air the instrument has been in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub air: Option<PlanAir>,
    /// What the readings were taken with.
    pub tool: PlanTool,
    /// The readings, each with its repeats; any may be missing.
    #[serde(default)]
    pub readings: Readings,
    /// What the eye and ear found.
    #[serde(default)]
    pub observations: Vec<PlanObservation>,
    /// What rods did in this shop, on necks of the same body joint.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rod_pairs: Vec<RodPair>,
}

/// The instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanInstrument {
    /// What it is.
    pub family: PlanFamily,
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// How many frets.
    pub frets: usize,
    /// Fret at the body joint.
    pub body_fret: usize,
    /// The rod in the neck.
    pub truss_rod: PlanRod,
    /// Plus is away from the frets, mm. Where `from_12_to_saddle_mm` is read of a string, that counts for it.
    #[serde(default)]
    pub saddle_setback_mm: f64,
    /// Scale of the last string of a fanned board, mm; `scale_mm` is then that of string 1, and those between vary
    /// straight across.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_bass_mm: Option<f64>,
    /// What holds the strings' heights at that end; by family where absent, and asked for where that says nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bridge: Option<BridgeKind>,
    /// Height that one full turn of a height screw, wheel or post makes, mm. With it amounts are told in turns too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screw_pitch_mm: Option<f64>,
    /// Where the two posts stand across, from string 1, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub post_positions_mm: Option<PostPositions>,
    /// How the neck is joined.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub neck_joint: Option<NeckJoint>,
    /// The pocket of a bolted neck; from the body joint's fret on where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub neck_pocket_mm: Option<NeckPocket>,
    /// The nut; slotted where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nut: Option<NutKind>,
    /// The board's radius; flat when absent. With it, and strings measured across, a saddle's cut tells the shape
    /// of its top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_radius_mm: Option<BoardRadius>,
    /// String 1 first.
    #[schemars(length(min = 1, max = MOST_STRINGS))]
    pub strings: Vec<PlanString>,
}

/// One string. Everything is optional: heights alone make a plan.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[expect(missing_docs, reason = "as in `intonation`")]
pub struct PlanString {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pitch: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub material: Option<Material>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub core_diameter_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub linear_density_g_m: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub modulus_gpa: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stretch_ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wound: Option<bool>,
    /// Across the saddle, from string 1, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position_mm: Option<f64>,
    /// The fret at which a short string begins: 5 for a banjo's fifth. Its gap and open height are read over the
    /// next fret, its own first; what lies before is neither asked for nor planned.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = LATEST_START))]
    pub starts_at_fret: Option<usize>,
    /// The course it belongs to, from 1: strings of one course share a slot height and a target. Of all strings, or
    /// of none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub course: Option<usize>,
}

/// The air.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanAir {
    /// °C.
    #[schemars(range(min = -40.0, max = 60.0))]
    pub temperature_c: f64,
    /// %.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub rh_percent: f64,
}

/// The tool.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanTool {
    /// Smallest step, mm.
    pub resolution_mm: f64,
    /// Half-width within which it is right, mm.
    #[serde(default)]
    pub limit_mm: f64,
    /// How far single readings scatter with it in this shop's hands: the standard deviation, mm. Where absent it is
    /// taken as 0.03 with 5 degrees of freedom (common practice, no source), and nothing is taken off on one reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability_mm: Option<f64>,
    /// How well that is known; needed with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability_degrees_of_freedom: Option<f64>,
}

/// Readings with their repeats.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Readings {
    /// Half-way between fret 1 and the body joint, mm; minus is back-bow.
    pub relief_mm: Vec<f64>,
    /// Saddle above the bridge, mm; of a bridge with screws, wheels or posts what they can still go down.
    pub saddle_showing_mm: SaddleShowing,
    /// String 1 first.
    pub strings: Vec<StringReadings>,
}

/// Saddle above the bridge.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SaddleShowing {
    /// At string 1, mm.
    pub treble: Vec<f64>,
    /// At the last string, mm.
    pub bass: Vec<f64>,
}

/// Readings of one string.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct StringReadings {
    /// Over fret 12, mm.
    pub action_12_mm: Vec<f64>,
    /// Open, over fret 1, or a short string's own first, mm.
    pub first_fret_mm: Vec<f64>,
    /// Over fret 1, stopped at 3, mm; of a short string over its own.
    pub gap_at_1_stopped_at_3_mm: Vec<f64>,
    /// Error at the octave, cents: at the 12th, of a short string twelve frets beyond its beginning.
    pub cents_at_12: Vec<f64>,
    /// From the crown of fret 12 to where the string leaves the saddle, mm: its set-back is that less half the scale.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub from_12_to_saddle_mm: Vec<f64>,
}

/// Relief and 12th-fret height before and after a rod was turned and nothing else was touched; the heights are
/// means over the strings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RodPair {
    /// mm.
    pub relief_before_mm: f64,
    /// mm.
    pub relief_after_mm: f64,
    /// mm.
    pub action_12_before_mm: f64,
    /// mm.
    pub action_12_after_mm: f64,
}
