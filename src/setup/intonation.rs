//! `intonation`: how sharp each fretted note is, why, and which set-backs mend it.
//!
//! The chain of length, mass, tension and stiffness as in Anderson and Beausoleil, "Classical guitar
//! intonation and compensation", JASA 156 (2024) 683, with one clamped end (k = 1): clamped at fret or
//! nut, hinged at the saddle. The line through the two height readings is kept when set-backs vary.
//! Measured cents of a real string outrank this forecast; hearing studies find the last cent inaudible.

mod chain;
mod input;
mod output;
mod search;
mod unsure;
pub(super) mod working;

use crate::problem::Problems;

pub use chain::Chain;
pub use input::{IntonationInput, IntonationString, IntonationUncertainty};
pub use output::{IntonationOutput, Parts, Rms, SetBacks};
pub use working::{explain, setback_to_add};

/// Errors and best set-backs of one string.
///
/// # Errors
/// When the string is not described enough, a number is out of range, or the numbers together make no
/// string that could be brought into tune.
pub fn intonation(input: &IntonationInput) -> Result<IntonationOutput, Problems> {
    let chain = Chain::new(input, input.finger_behind_mm)?;
    let given = SetBacks { saddle_setback_mm: input.saddle_setback_mm, nut_setback_mm: input.nut_setback_mm };
    let parts = chain.parts(given);
    let cents: Vec<f64> = parts.iter().map(Parts::sum).collect();
    let best_saddle = chain.best_saddle(input.nut_setback_mm);
    let (best_pair, rms_cents) = chain.best_pair();

    // a search that ran away makes things worse, or no number at all
    let (Some(best_saddle_setback_mm), true) = (best_saddle, rms_cents.with_best_pair <= rms_cents.without) else {
        let mut problems = Problems::default();
        problems.note("/string", "cannot be tuned with these heights and this scale: check pitch, diameter and mass");
        return Err(problems);
    };
    let (best_saddle_expanded_mm, best_pair_expanded) = match input.uncertainty {
        Some(of) => {
            let shifts = unsure::Shifts::of(input, of, best_saddle_setback_mm, best_pair)?;
            (shifts.expanded_mm(|best| best.saddle_mm), shifts.pair_expanded())
        }
        None => (None, None),
    };
    Ok(IntonationOutput {
        cents,
        parts,
        best_saddle_setback_mm,
        best_saddle_expanded_mm,
        best_pair,
        best_pair_expanded,
        rms_cents,
        tension_n: chain.tension_n,
        stretch_ratio: chain.stretch_ratio,
        stiffness: chain.stiffness_mm / input.scale_mm,
    })
}
