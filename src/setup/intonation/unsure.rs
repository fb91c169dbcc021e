//! How far the best set-back may be off, because heights, string and modulus are only known so well.
//!
//! Each input is nudged by its standard uncertainty and the shifts are added in square (GUM 5.1.2, with
//! sensitivities found numerically as in its note 2 to 5.1.3). What no figure covers is which ends are
//! held stiffly: that assumption (`clamped_ends`) moves the answer more than all of these.

use super::{Chain, IntonationInput, IntonationUncertainty, SetBacks};
use crate::problem::Problems;
use crate::setup::reading::coverage_factor;

pub(super) fn factor() -> f64 {
    coverage_factor(0.95, None)
}

/// The best set-backs of one string, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Best {
    /// With the nut as given; `None` where no set-back puts the 12th in tune.
    pub(super) saddle_mm: Option<f64>,
    /// The pair.
    pub(super) pair: SetBacks,
}

impl Best {
    fn of(chain: &Chain, nut_setback_mm: f64) -> Self {
        Self { saddle_mm: chain.best_saddle(nut_setback_mm), pair: chain.best_pair().0 }
    }
}

/// The best set-backs as they are, and once each input is moved by its standard uncertainty: height over
/// fret 1, over fret 12, stretch, core.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shifts {
    best: Best,
    moved: [Best; 4],
}

impl Shifts {
    /// # Errors
    /// When a nudged input is out of range.
    pub(super) fn of(
        input: &IntonationInput,
        of: IntonationUncertainty,
        saddle_mm: f64,
        pair: SetBacks,
    ) -> Result<Self, Problems> {
        let nut = input.nut_setback_mm;
        let nudged = |input: IntonationInput| Ok(Best::of(&Chain::new(&input, input.finger_behind_mm)?, nut));
        let chain = Chain::new(input, input.finger_behind_mm)?;
        Ok(Self {
            best: Best { saddle_mm: Some(saddle_mm), pair },
            moved: [
                nudged(IntonationInput { first_fret_mm: input.first_fret_mm + of.first_fret_mm, ..input.clone() })?,
                nudged(IntonationInput { action_12_mm: input.action_12_mm + of.action_12_mm, ..input.clone() })?,
                Best::of(&chain.with_stretch(1.0 + of.stretch_percent / 100.0), nut),
                Best::of(&chain.with_core(of.core_diameter_mm), nut),
            ],
        })
    }

    /// What each nudge moves one of the set-backs by, mm. `None` where a nudged string has no best.
    pub(super) fn shifts_mm(&self, pick: impl Fn(&Best) -> Option<f64>) -> Option<[f64; 4]> {
        let best = pick(&self.best)?;
        let [first, action, stretch, core] = &self.moved;
        Some([pick(first)? - best, pick(action)? - best, pick(stretch)? - best, pick(core)? - best])
    }

    /// Expanded uncertainty (95 %) of one of the set-backs, mm.
    pub(super) fn expanded_mm(&self, pick: impl Fn(&Best) -> Option<f64>) -> Option<f64> {
        let shifts = self.shifts_mm(pick)?;
        let expanded = factor() * shifts.iter().map(|shift| shift * shift).sum::<f64>().sqrt();
        expanded.is_finite().then_some(expanded)
    }

    pub(super) fn pair_expanded(&self) -> Option<SetBacks> {
        Some(SetBacks {
            saddle_setback_mm: self.expanded_mm(|best| Some(best.pair.saddle_setback_mm))?,
            nut_setback_mm: self.expanded_mm(|best| Some(best.pair.nut_setback_mm))?,
        })
    }
}
