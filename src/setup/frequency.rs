//! `frequency`: the note that a string of a known pull sounds, from the nominal scale.
//!
//! Mersenne–Taylor turned round: f = √(T/μ)/(2L), without a stiffness term, as `tension` has it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::limits::{A4_HZ, MOST_STRINGS, SCALE_MM};
use super::tension::{Material, standard_pitch, string_density, working as tension_working};
use crate::problem::Problems;
use crate::working::{Working, Workings};

/// Semitones of an octave, from C.
const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];

/// What `frequency` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FrequencyInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    #[schemars(range(min = A4_HZ.0, max = A4_HZ.1))]
    pub a4_hz: f64,
    /// The strings.
    #[schemars(length(min = 1, max = MOST_STRINGS))]
    pub strings: Vec<PulledString>,
}

/// One string: its pull, and its mass per length stated or from its diameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PulledString {
    /// Pull, N.
    pub tension_n: f64,
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

/// What `frequency` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrequencyOutput {
    /// String by string.
    pub strings: Vec<StringFrequency>,
}

/// What one string sounds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringFrequency {
    /// g/m.
    pub linear_density_g_m: f64,
    /// Hz.
    pub frequency_hz: f64,
    /// The nearest note of equal temperament, such as "E4" or "F#3".
    pub pitch: String,
    /// How far it sounds over (plus) or under that note, cents.
    pub cents: f64,
}

/// The note of each string.
///
/// # Errors
/// When a string is not described enough, or a number is out of range.
pub fn frequency(input: &FrequencyInput) -> Result<FrequencyOutput, Problems> {
    let mut problems = Problems::default();
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.within("/a4_hz", input.a4_hz, A4_HZ.0, A4_HZ.1);
    problems.count("/strings", input.strings.len(), 1, MOST_STRINGS);
    let mut strings = Vec::with_capacity(input.strings.len());
    for (place, string) in input.strings.iter().enumerate() {
        let at = format!("/strings/{place}");
        problems.within(format_args!("{at}/tension_n"), string.tension_n, 0.01, 10_000.0);
        let density = string_density(
            &mut problems,
            &at,
            (string.material, string.density_kg_m3),
            string.diameter_mm,
            string.linear_density_g_m,
        );
        if let Some(linear_density_g_m) = density {
            let frequency_hz = frequency_hz(input.scale_mm, string.tension_n, linear_density_g_m);
            let semitones = semitones(frequency_hz, input.a4_hz);
            let note = semitones.round();
            strings.push(StringFrequency {
                linear_density_g_m,
                frequency_hz,
                pitch: name(note),
                cents: 100.0 * (semitones - note),
            });
        }
    }
    problems.check()?;
    Ok(FrequencyOutput { strings })
}

/// f = √(T/μ)/(2L), Hz.
pub fn frequency_hz(scale_mm: f64, tension_n: f64, linear_density_g_m: f64) -> f64 {
    (tension_n / (linear_density_g_m / 1000.0)).sqrt() / (2.0 * scale_mm / 1000.0)
}

/// Semitones counted so that C4 is 60.
fn semitones(frequency_hz: f64, a4_hz: f64) -> f64 {
    69.0 + 12.0 * (frequency_hz / a4_hz).log2()
}

fn name(note: f64) -> String {
    let octave = (note / 12.0).floor() - 1.0;
    let letter = (0_u8..).zip(NAMES).find(|(place, _)| f64::from(*place) == note.rem_euclid(12.0));
    format!("{}{octave}", letter.map_or("", |(_, letter)| letter))
}

/// The working of every number but masses that were stated.
pub fn explain(input: &FrequencyInput, output: &FrequencyOutput, workings: &mut Workings) {
    for (place, (string, sounds)) in input.strings.iter().zip(&output.strings).enumerate() {
        let at = format!("/strings/{place}");
        workings.figure(&at, || {
            let mut chain = Vec::new();
            if string.linear_density_g_m.is_none()
                && let Some(diameter) = string.diameter_mm
            {
                let of = format!("{at}/linear_density_g_m");
                chain.push(match (string.density_kg_m3, string.material) {
                    (Some(own), _) => tension_working::own_mass(&of, own, diameter, sounds.linear_density_g_m),
                    (None, material) => tension_working::plain_mass(
                        &of,
                        material.unwrap_or(Material::Steel),
                        diameter,
                        sounds.linear_density_g_m,
                    ),
                });
            }
            chain.push(
                Working::new(format!("{at}/frequency_hz"), "frequency", "f = √(T/μ)/(2·L)")
                    .put("T", "pull", string.tension_n, "N")
                    .put("μ", "mass per length", sounds.linear_density_g_m / 1000.0, "kg/m")
                    .put("L", "nominal scale", input.scale_mm / 1000.0, "m")
                    .gives(sounds.frequency_hz, "Hz", "Mersenne's law; any acoustics text"),
            );
            let note = semitones(sounds.frequency_hz, input.a4_hz).round();
            let what = format!("how far it sounds from {}", sounds.pitch);
            chain.push(
                Working::new(format!("{at}/cents"), what, "c = 1200·log2(f/A₄) − 100·(n − 69)")
                    .put("f", "frequency", sounds.frequency_hz, "Hz")
                    .put("A₄", "standard pitch, the A in the treble stave", input.a4_hz, "Hz")
                    .put("n", "that note in semitones counted so that C4 is 60", note, "")
                    .gives(sounds.cents, "cents", "twelve-tone equal temperament on A4; ISO 16:1975 for 440 Hz"),
            );
            chain
        });
    }
}
