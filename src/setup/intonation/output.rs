//! What `intonation` answers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What `intonation` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IntonationOutput {
    /// Error of each fretted note at the given set-backs, cents, fret 1 first.
    pub cents: Vec<f64>,
    /// What it is made of.
    pub parts: Vec<Parts>,
    /// Set-back that puts the 12th in tune with the nut as given, mm.
    pub best_saddle_setback_mm: f64,
    /// Expanded uncertainty (95 %) of that, mm, where the inputs' uncertainties were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub best_saddle_expanded_mm: Option<f64>,
    /// Least squares over all frets.
    pub best_pair: SetBacks,
    /// Expanded uncertainties (95 %) of that pair, mm, where the inputs' uncertainties were given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best_pair_expanded: Option<SetBacks>,
    /// Root mean square over all frets.
    pub rms_cents: Rms,
    /// Nominal tension, N.
    pub tension_n: f64,
    /// κ used.
    pub stretch_ratio: f64,
    /// ε = √(EI/(TL²)) used.
    pub stiffness: f64,
}

/// Shares of one note's error, cents.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Parts {
    /// The sounding part is not the nominal length.
    pub length: f64,
    /// Stretched string is lighter.
    pub mass: f64,
    /// Pressing stretches.
    pub tension: f64,
    /// Bending stiffness shortens what sounds.
    pub stiffness: f64,
}

/// Two set-backs, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetBacks {
    /// At the saddle.
    pub saddle_setback_mm: f64,
    /// At the nut.
    pub nut_setback_mm: f64,
}

/// Root mean square errors, cents.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rms {
    /// With no set-back at all.
    pub without: f64,
    /// With the best pair.
    pub with_best_pair: f64,
}

impl Parts {
    /// The whole error, cents.
    pub fn sum(&self) -> f64 {
        self.length + self.mass + self.tension + self.stiffness
    }
}
