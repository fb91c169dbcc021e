//! What `plan` takes and answers.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::families::{PlanFamily, PlanStyle};
use super::own_rods::RodPair;
use super::targets::TargetsGiven;
use crate::setup::board::BoardRadius;
use crate::setup::cut::CutOutput;
use crate::setup::limits::{MOST_STRINGS, SCALE_MM};
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
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub saddle_setback_mm: f64,
    /// The board's radius; flat when absent. With it, and strings measured across, a saddle's cut tells the shape
    /// of its top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_radius_mm: Option<BoardRadius>,
    /// String 1 first.
    #[schemars(length(min = 1, max = MOST_STRINGS))]
    pub strings: Vec<PlanString>,
}

/// Truss rods.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PlanRod {
    /// None.
    None,
    /// Works against string pull only.
    OneWay,
    /// Works both ways.
    TwoWay,
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
}

/// Readings with their repeats.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Readings {
    /// Half-way between fret 1 and the body joint, mm; minus is back-bow.
    pub relief_mm: Vec<f64>,
    /// Saddle above the bridge, mm.
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
    /// Open, over fret 1, mm.
    pub first_fret_mm: Vec<f64>,
    /// Over fret 1, stopped at 3, mm.
    pub gap_at_1_stopped_at_3_mm: Vec<f64>,
    /// Error at the 12th, cents.
    pub cents_at_12: Vec<f64>,
}

/// One thing seen or heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanObservation {
    /// What.
    pub key: ObservationKey,
    /// On which string, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub string: Option<usize>,
    /// At which fret; 0 is the open string.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fret: Option<usize>,
    /// Where, for fraying: nut, saddle, tuner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
}

macro_rules! observation_keys {
    ($($variant:ident = $key:literal => $spoken:literal),+ $(,)?) => {
        /// What the eye and ear can find.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        #[expect(missing_docs, reason = "each says itself in `spoken`")]
        pub enum ObservationKey { $(#[serde(rename = $key)] $variant),+ }

        impl ObservationKey {
            /// Every one.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// As it is written.
            pub fn key(self) -> &'static str {
                match self { $(Self::$variant => $key),+ }
            }
            /// As the bench says it.
            pub fn spoken(self) -> &'static str {
                match self { $(Self::$variant => $spoken),+ }
            }
        }

        impl std::str::FromStr for ObservationKey {
            type Err = ();
            fn from_str(text: &str) -> Result<Self, ()> {
                match text { $($key => Ok(Self::$variant),)+ _ => Err(()) }
            }
        }
    };
}

observation_keys! {
    Buzz = "buzz" => "buzzes",
    Choke = "choke" => "chokes",
    Fraying = "fraying" => "string frays",
    SharpLowFrets = "sharp-low-frets" => "sharp at frets 1 to 3 only",
    SharpEverywhere = "sharp-everywhere" => "sharp everywhere, since a string change",
    NutReversed = "nut-reversed" => "nut faces the wrong way",
    SaddleReversed = "saddle-reversed" => "saddle faces the wrong way",
    SaddleGlued = "saddle-glued" => "saddle is glued in",
    EdgeSharp = "edge-sharp" => "slot edge is sharp",
    EdgeRounded = "edge-rounded" => "slot edge is rounded",
    StringsOld = "strings-old" => "strings are old",
    TunersDry = "tuners-dry" => "tuners are dry or stiff",
    FretHigh = "fret-high" => "a fret stands high or loose",
    FretsWorn = "frets-worn" => "frets are worn",
    BoardRises = "board-rises" => "board rises beyond the body joint",
    Crack = "crack" => "crack",
    BridgeLifting = "bridge-lifting" => "bridge is lifting",
    BraceLoose = "brace-loose" => "brace is loose",
    NeckAngle = "neck-angle" => "neck angle points below the bridge",
    BackBow = "back-bow" => "neck bows back",
    AirDry = "air-dry" => "looks dry: fret ends out, top sunk",
    AirDamp = "air-damp" => "looks damp: top and back swollen",
    PolishSlots = "polish-slots" => "slots are rough",
    Clean = "clean" => "needs cleaning",
}

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
    /// `refret`, `restring`, `tuner-service`, `clean-polish`, `humidify`, `crack-repair`, `bridge-reglue`, `brace-reglue`, `neck-reset`.
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
    /// Amounts to remove; only on a step that may be done now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut: Option<CutOutput>,
    /// Amounts to turn a screwed saddle, mm, minus is up; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_down_mm: Option<Vec<Option<f64>>>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_down_expanded_mm: Option<Vec<Option<f64>>>,
    /// Set-backs to add, mm, plus is away from the frets; only now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setback_to_add_mm: Option<Vec<Option<f64>>>,
    /// Their expanded uncertainties (95 %), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setback_to_add_expanded_mm: Option<Vec<Option<f64>>>,
    /// What to expect after the steps before it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forecast: Option<Forecast>,
    /// In words.
    pub words: String,
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
