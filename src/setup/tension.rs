//! `tension`: what each string pulls.
//!
//! Mersenne–Taylor: T = μ(2Lf)², from the nominal scale, without a stiffness term, so that one number
//! shows everywhere. Pitches: equal temperament on A4 (ISO 16:1975: 440 Hz). Densities: steel 7850
//! (piano wire), nylon 1100, fluorocarbon 1780 (both from memory), gut 1300 kg/m³.

pub(super) mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::limits::{A4_HZ, DIAMETER_MM, MOST_STRINGS, SCALE_MM};
use crate::problem::Problems;

pub use working::explain;

/// What a string, or its core, is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Material {
    /// Music wire.
    Steel,
    /// Nylon.
    Nylon,
    /// PVDF.
    Fluorocarbon,
    /// Gut.
    Gut,
}

impl Material {
    /// Density, kg/m³.
    pub fn density_kg_m3(self) -> f64 {
        match self {
            Self::Steel => 7850.0,
            Self::Nylon => 1100.0,
            Self::Fluorocarbon => 1780.0,
            Self::Gut => 1300.0,
        }
    }
}

/// What `tension` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TensionInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    #[schemars(range(min = A4_HZ.0, max = A4_HZ.1))]
    pub a4_hz: f64,
    /// The strings.
    #[schemars(length(min = 1, max = MOST_STRINGS))]
    pub strings: Vec<TensionString>,
}

/// One string: its note, and its mass per length stated or from material and diameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TensionString {
    /// "E2", "F#3", "Bb1".
    pub pitch: String,
    /// Of a plain string.
    #[serde(default)]
    pub material: Option<Material>,
    /// Of a plain string, mm.
    #[serde(default)]
    pub diameter_mm: Option<f64>,
    /// Density of one's own instead of a material's, kg/m³; with a diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_kg_m3: Option<f64>,
    /// Stated or weighed, g/m; wins over everything else.
    #[serde(default)]
    pub linear_density_g_m: Option<f64>,
}

/// What `tension` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TensionOutput {
    /// String by string.
    pub strings: Vec<StringTension>,
    /// All together, N.
    pub total_n: f64,
}

/// One string's pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringTension {
    /// Hz.
    pub frequency_hz: f64,
    /// g/m.
    pub linear_density_g_m: f64,
    /// N.
    pub tension_n: f64,
}

/// 440 Hz.
pub(super) fn standard_pitch() -> f64 {
    440.0
}

/// The pull of each string and of all together.
///
/// # Errors
/// When a pitch cannot be read, or a number is out of range.
pub fn tension(input: &TensionInput) -> Result<TensionOutput, Problems> {
    let mut problems = Problems::default();
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.within("/a4_hz", input.a4_hz, A4_HZ.0, A4_HZ.1);
    problems.count("/strings", input.strings.len(), 1, MOST_STRINGS);
    let mut strings = Vec::with_capacity(input.strings.len());
    for (place, string) in input.strings.iter().enumerate() {
        let at = format!("/strings/{place}");
        let frequency = pitch_hz(&string.pitch, input.a4_hz);
        if frequency.is_none() {
            problems.note(format_args!("{at}/pitch"), PITCH_FORM);
        }
        let density = string_density(
            &mut problems,
            &at,
            (string.material, string.density_kg_m3),
            string.diameter_mm,
            string.linear_density_g_m,
        );
        if let (Some(frequency_hz), Some(linear_density_g_m)) = (frequency, density) {
            let tension_n = tension_n(input.scale_mm, frequency_hz, linear_density_g_m);
            strings.push(StringTension { frequency_hz, linear_density_g_m, tension_n });
        }
    }
    problems.check()?;
    let total_n = strings.iter().map(|string| string.tension_n).sum();
    Ok(TensionOutput { strings, total_n })
}

/// What a pitch must look like.
pub(super) const PITCH_FORM: &str = "must be a note name with its octave from -1 to 9, such as E2, F#3 or Bb1";

/// T = μ(2Lf)², N.
pub fn tension_n(scale_mm: f64, frequency_hz: f64, linear_density_g_m: f64) -> f64 {
    linear_density_g_m / 1000.0 * (2.0 * scale_mm / 1000.0 * frequency_hz).powi(2)
}

/// μ of a plain round string, g/m.
pub fn plain_linear_density_g_m(material: Material, diameter_mm: f64) -> f64 {
    material.density_kg_m3() * std::f64::consts::PI * diameter_mm * diameter_mm / 4.0 / 1000.0
}

/// μ of a string as it is described, g/m: stated, else from a density of its own, else from its material.
pub(super) fn string_density(
    problems: &mut Problems,
    at: &str,
    (material, density_kg_m3): (Option<Material>, Option<f64>),
    diameter_mm: Option<f64>,
    stated_g_m: Option<f64>,
) -> Option<f64> {
    let own = own_linear_density(problems, at, density_kg_m3, diameter_mm);
    linear_density(problems, at, material, diameter_mm, stated_g_m.or(own))
}

/// μ of a plain round string of a density of one's own, g/m; `None` where none is given.
fn own_linear_density(
    problems: &mut Problems,
    at: &str,
    density_kg_m3: Option<f64>,
    diameter_mm: Option<f64>,
) -> Option<f64> {
    let density = density_kg_m3?;
    problems.within(format_args!("{at}/density_kg_m3"), density, 100.0, 25_000.0);
    problems.within_if_given(format_args!("{at}/diameter_mm"), diameter_mm, DIAMETER_MM.0, DIAMETER_MM.1);
    problems.require(diameter_mm.is_some(), format_args!("{at}/diameter_mm"), "is needed with density_kg_m3, in mm");
    // a stated mass in g/m is checked between 0.001 and 1000, and so is this
    diameter_mm.map(|diameter| density * std::f64::consts::PI * diameter * diameter / 4.0 / 1000.0)
}

/// μ of a core with one layer of touching round wire, g/m. Helix slope is left out (about 1 %).
pub fn wound_linear_density_g_m(core_mm: f64, core_kg_m3: f64, wrap_mm: f64, wrap_kg_m3: f64) -> f64 {
    let quarter_pi = std::f64::consts::FRAC_PI_4;
    let wrap = std::f64::consts::PI * quarter_pi * wrap_kg_m3 * wrap_mm * (core_mm + wrap_mm);
    (quarter_pi * core_kg_m3 * core_mm * core_mm + wrap) / 1000.0
}

pub(super) fn linear_density(
    problems: &mut Problems,
    at: &str,
    material: Option<Material>,
    diameter_mm: Option<f64>,
    stated_g_m: Option<f64>,
) -> Option<f64> {
    problems.within_if_given(format_args!("{at}/diameter_mm"), diameter_mm, DIAMETER_MM.0, DIAMETER_MM.1);
    problems.within_if_given(format_args!("{at}/linear_density_g_m"), stated_g_m, 0.001, 1000.0);
    match (stated_g_m, material, diameter_mm) {
        (Some(stated), _, _) => Some(stated),
        (None, Some(material), Some(diameter)) => Some(plain_linear_density_g_m(material, diameter)),
        (None, _, _) => {
            problems.note(
                format_args!("{at}/linear_density_g_m"),
                "give this, or both material and diameter_mm of a plain string",
            );
            None
        }
    }
}

/// Frequency of a note name, Hz: f = A4·2^((n − 69)/12), C4 = 60; `#` and `b` may repeat.
pub fn pitch_hz(pitch: &str, a4_hz: f64) -> Option<f64> {
    note_number(pitch).map(|note| a4_hz * (f64::from(note - 69) / 12.0).exp2())
}

/// Semitones counted so that C4 is 60.
fn note_number(pitch: &str) -> Option<i32> {
    let mut letters = pitch.trim().chars();
    let semitone = match letters.next()?.to_ascii_uppercase() {
        'C' => 0,
        'D' => 2,
        'E' => 4,
        'F' => 5,
        'G' => 7,
        'A' => 9,
        'B' => 11,
        _ => return None,
    };
    let rest = letters.as_str();
    let octave_at = rest.find(|c: char| c.is_ascii_digit() || c == '-')?;
    let (accidentals, octave) = rest.split_at(octave_at);
    if accidentals.chars().count() > 4 {
        return None;
    }
    let shift = accidentals.chars().try_fold(0, |shift, accidental| match accidental {
        '#' | '♯' => Some(shift + 1),
        'b' | '♭' => Some(shift - 1),
        _ => None,
    })?;
    let octave: i32 = octave.parse().ok().filter(|octave| (-1..=9).contains(octave))?;
    Some(12 * (octave + 1) + semitone + shift)
}
