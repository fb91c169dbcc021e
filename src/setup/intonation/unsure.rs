//! How far the best set-back may be off, because heights, string and modulus are only known so well.
//!
//! Each input is nudged by its standard uncertainty and the shifts are added in square (GUM 5.1.2, with
//! sensitivities found numerically as in its note 2 to 5.1.3). What no figure covers is which ends are
//! held stiffly: that assumption (`clamped_ends`) moves the answer more than all of these.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Chain, IntonationInput};
use crate::problem::Problems;
use crate::setup::reading::coverage_factor;

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
            problems.within(format!("/uncertainty/{name}"), value, 0.0, most);
        }
    }
}

/// Expanded uncertainty (95 %) of the best saddle set-back, mm. `None` where a nudged string has no best.
///
/// # Errors
/// When a nudged input is out of range.
pub(super) fn best_saddle_expanded_mm(
    input: &IntonationInput,
    of: IntonationUncertainty,
    best_mm: f64,
) -> Result<Option<f64>, Problems> {
    Ok(shifts(input, of, best_mm)?.map(|shifts| expanded(&shifts)))
}

pub(super) fn factor() -> f64 {
    coverage_factor(0.95, None)
}

fn expanded(shifts: &[f64; 4]) -> f64 {
    factor() * shifts.iter().map(|shift| shift.powi(2)).sum::<f64>().sqrt()
}

/// What each nudge moves the best set-back by, mm: height over fret 1, over fret 12, stretch, core.
pub(super) fn shifts(
    input: &IntonationInput,
    of: IntonationUncertainty,
    best_mm: f64,
) -> Result<Option<[f64; 4]>, Problems> {
    let best = |nudged: &IntonationInput| Ok(Chain::new(nudged, 0.0)?.best_saddle(nudged.nut_setback_mm));
    let chain = Chain::new(input, 0.0)?;
    let moved = [
        best(&IntonationInput { first_fret_mm: input.first_fret_mm + of.first_fret_mm, ..input.clone() })?,
        best(&IntonationInput { action_12_mm: input.action_12_mm + of.action_12_mm, ..input.clone() })?,
        chain.with_stretch(1.0 + of.stretch_percent / 100.0).best_saddle(input.nut_setback_mm),
        chain.with_core(of.core_diameter_mm).best_saddle(input.nut_setback_mm),
    ];
    let [Some(first), Some(action), Some(stretch), Some(core)] = moved else {
        return Ok(None);
    };
    Ok(Some([first, action, stretch, core].map(|moved| moved - best_mm)))
}
