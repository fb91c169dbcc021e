//! How fast a thin plate follows the air: Fick's diffusion through its thickness, with or without a film of
//! still air at its face (Crank, The Mathematics of Diffusion, from memory).
//!
//! E(t) = 1 − Σ wₙ·exp(−rₙt). Without a film wₙ = 8/(π²(2n+1)²), rₙ = (2n+1)²π²D/(4L²); with one, βₙ tan βₙ
//! = S·L/D, wₙ = 2B²/(βₙ²(βₙ² + B² + B)), rₙ = βₙ²D/L². L is half the thickness if both faces breathe, the
//! whole if one does. Published diffusivities of spruce are near 1·10⁻¹⁰ m²/s: an order of size, no more.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;

/// Terms of the series: enough from a thousandth of the whole change.
const TERMS: u32 = 100;
/// Of softwood across the grain, m²/s (Sánchez-Ferrer and Engelhardt, Sci. Rep. 2026: 0.94 to 1.00).
const SOFTWOOD_DIFFUSIVITY_M2_S: f64 = 1e-10;

/// A bare plate in the air.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plate {
    /// mm.
    pub thickness_mm: f64,
    /// Faces that breathe: 1 or 2.
    pub faces: u8,
    /// Of moisture through the wood, m²/s.
    #[serde(default = "softwood")]
    pub diffusivity_m2_s: f64,
    /// Of the still air at its face, m/s; none when absent.
    #[serde(default)]
    pub surface_film_m_s: Option<f64>,
}

fn softwood() -> f64 {
    SOFTWOOD_DIFFUSIVITY_M2_S
}

/// How fast it follows; an order of size.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateFollows {
    /// Of the slowest part, h.
    pub time_constant_h: f64,
    /// Until half of the change, h.
    pub half_h: f64,
    /// Until nine tenths, h.
    pub ninety_percent_h: f64,
}

impl Plate {
    pub(super) fn check(&self, problems: &mut Problems) {
        problems.within("/plate/thickness_mm", self.thickness_mm, 0.1, 200.0);
        problems.require((1..=2).contains(&self.faces), "/plate/faces", "must be 1 or 2");
        problems.within("/plate/diffusivity_m2_s", self.diffusivity_m2_s, 1e-13, 1e-8);
        problems.within_if_given("/plate/surface_film_m_s", self.surface_film_m_s, 1e-10, 1e-2);
    }

    /// How fast it follows.
    pub(super) fn follows(&self) -> PlateFollows {
        let modes = self.modes();
        let slowest = modes.first().map_or(0.0, |mode| 1.0 / mode.per_h);
        let when = |share: f64| {
            let left = |time: f64| modes.iter().map(|mode| mode.weight * (-mode.per_h * time).exp()).sum::<f64>();
            let (mut least, mut most) = (0.0, 20.0 * slowest);
            for _ in 0..80 {
                let middle = f64::midpoint(least, most);
                if left(middle) > 1.0 - share { least = middle } else { most = middle }
            }
            f64::midpoint(least, most)
        };
        PlateFollows { time_constant_h: slowest, half_h: when(0.5), ninety_percent_h: when(0.9) }
    }

    /// How far moisture has to go through the wood, m.
    pub(super) fn length_m(&self) -> f64 {
        self.thickness_mm / 1000.0 / f64::from(self.faces)
    }

    /// The parts of the change, the slowest first.
    pub(super) fn modes(&self) -> Vec<Mode> {
        let length = self.length_m();
        let per_h = 3600.0 * self.diffusivity_m2_s / (length * length);
        let film = self.surface_film_m_s.map(|film| film * length / self.diffusivity_m2_s);
        let one = |n| {
            let (weight, beta) = mode(n, film);
            Mode { weight, beta, per_h: beta * beta * per_h }
        };
        (0..TERMS).map(one).collect()
    }
}

/// One part of the change, which dies away by itself.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mode {
    /// Its share at the start.
    pub(super) weight: f64,
    /// β.
    pub(super) beta: f64,
    /// Its rate.
    pub(super) per_h: f64,
}

/// Weight and β of the n-th part.
fn mode(n: u32, film: Option<f64>) -> (f64, f64) {
    use std::f64::consts::{FRAC_PI_2, PI};
    let start = f64::from(n) * PI;
    let Some(film) = film else {
        let beta = start + FRAC_PI_2;
        return (2.0 / (beta * beta), beta);
    };
    // β tan β rises from 0 without end over this quarter turn
    let (mut least, mut most) = (0.0, FRAC_PI_2);
    for _ in 0..80 {
        let middle = f64::midpoint(least, most);
        if (start + middle) * middle.sin() < film * middle.cos() { least = middle } else { most = middle }
    }
    let beta = start + f64::midpoint(least, most);
    let squared = beta * beta;
    (2.0 * film * film / (squared * (squared + film * film + film)), beta)
}
