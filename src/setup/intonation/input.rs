//! What `intonation` takes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;
use crate::setup::limits::{A4_HZ, HEIGHT_MM, SCALE_MM, SIGNED_MM};
use crate::setup::tension::{Material, standard_pitch};

/// What `intonation` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IntonationInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// How many frets.
    pub frets: usize,
    /// Open height over fret 1, mm.
    #[schemars(range(min = HEIGHT_MM.0, max = HEIGHT_MM.1))]
    pub first_fret_mm: f64,
    /// Height over fret 12, mm.
    #[schemars(range(min = HEIGHT_MM.0, max = HEIGHT_MM.1))]
    pub action_12_mm: f64,
    /// Relief, mm.
    #[serde(default)]
    #[schemars(range(min = SIGNED_MM.0, max = SIGNED_MM.1))]
    pub relief_mm: f64,
    /// Fret at the body joint; needed with relief.
    #[serde(default)]
    pub body_fret: Option<usize>,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    #[schemars(range(min = A4_HZ.0, max = A4_HZ.1))]
    pub a4_hz: f64,
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub saddle_setback_mm: f64,
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub nut_setback_mm: f64,
    /// How far behind the fret the finger presses, mm; 0 leaves out how the string dips to it.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = MOST_BEHIND_MM))]
    pub finger_behind_mm: f64,
    /// Ends held stiffly: 0, 1 or 2.
    #[serde(default = "one_clamped_end")]
    pub clamped_ends: u8,
    /// The string.
    pub string: IntonationString,
    /// How well the inputs are known; with it the best set-back carries its expanded uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<IntonationUncertainty>,
}

/// No finger presses further behind its fret, mm.
pub(super) const MOST_BEHIND_MM: f64 = 15.0;

fn one_clamped_end() -> u8 {
    1
}

/// The string. Its core stretches and bends; a winding only adds mass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IntonationString {
    /// "B3".
    pub pitch: String,
    /// Of the string, or of its core.
    #[serde(default)]
    pub material: Option<Material>,
    /// Outer diameter, mm.
    #[serde(default)]
    pub diameter_mm: Option<f64>,
    /// Core diameter of a wound string, mm.
    #[serde(default)]
    pub core_diameter_mm: Option<f64>,
    /// Mass per length, g/m.
    #[serde(default)]
    pub linear_density_g_m: Option<f64>,
    /// Young's modulus of the core, GPa.
    #[serde(default)]
    pub modulus_gpa: Option<f64>,
    /// κ = EA/T, instead of a modulus.
    #[serde(default)]
    pub stretch_ratio: Option<f64>,
}

/// How well the inputs are known, as standard uncertainties.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct IntonationUncertainty {
    /// Of the open height over fret 1, mm.
    pub first_fret_mm: f64,
    /// Of the height over fret 12, mm.
    pub action_12_mm: f64,
    /// Of the core's diameter, mm.
    pub core_diameter_mm: f64,
    /// Of the modulus or κ, in percent of itself.
    pub stretch_percent: f64,
}

impl IntonationUncertainty {
    pub(super) fn check(&self, problems: &mut Problems) {
        for (name, value, most) in [
            ("first_fret_mm", self.first_fret_mm, 1.0),
            ("action_12_mm", self.action_12_mm, 1.0),
            ("core_diameter_mm", self.core_diameter_mm, 0.1),
            ("stretch_percent", self.stretch_percent, 50.0),
        ] {
            problems.within(format_args!("/uncertainty/{name}"), value, 0.0, most);
        }
    }
}
