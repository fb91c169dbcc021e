//! `cut`: exactly how much may come off, and how much of it in the first pass.
//!
//! exact = (reading − target)·k with k = L′/x₁₂ at a saddle, 1/(1 − x₁/x₃) for the gap over fret 1
//! stopped at 3, 1/(1 − x₁/L′) for the open height over fret 1 (similar triangles). First pass = exact −
//! t·u one-sided, rounded down to the file's step: guarded acceptance (JCGM 106:2012, ISO 14253-1:2017
//! for the sense), because removed material does not come back. Where a height rests on a single reading it is at
//! most half of the amount: take half, read, then the rest (common practice, no source).

mod amounts;
mod check;
mod foot;
mod input;
mod output;
mod saddle;
mod top;
pub(super) mod working;

use crate::problem::Problems;

pub(super) use amounts::rounded_down;
pub use input::{CutInput, CutPlace, CutString, Ends};
pub use output::{CutOutput, Foot, Raise, Stop, StringCut, Top, TopString};
pub use working::explain;

/// Shims under one nut, at most: beyond, a new nut is quoted. Common practice, no source.
pub const MOST_SHIMS: usize = 2;

/// Amounts to remove at a saddle or a nut. A string without a reading is never cut: its amount is null
/// and the foot's cut stays at 0 there.
///
/// # Errors
/// When a field is missing for the place, or a number is out of range.
pub fn cut(input: &CutInput) -> Result<CutOutput, Problems> {
    check::check(input)?;
    let worked = worked_out(input);
    check::stays_in_the_material(input, &worked)?;
    Ok(worked)
}

/// The same of numbers that are known to be in range. Without what shows nothing bounds a saddle's foot: so
/// with a bridge that stands by itself.
pub(super) fn worked_out(input: &CutInput) -> CutOutput {
    let strings: Vec<StringCut> = input.strings.iter().map(|string| amounts::of(input, string)).collect();
    let raise = amounts::raises(&strings, input.shim_mm);
    let top = top::top(input, &strings);
    let worked = match input.place {
        CutPlace::Saddle => saddle::saddle(input, strings, raise),
        CutPlace::Nut => nut(strings, raise),
    };
    CutOutput { top, ..worked }
}

fn nut(strings: Vec<StringCut>, raise: Vec<Raise>) -> CutOutput {
    let stop = raise.iter().any(|raise| raise.shims > MOST_SHIMS).then(|| Stop {
        key: "nut-beyond-shims".to_owned(),
        words: format!("The nut would need more than {MOST_SHIMS} shims. A new nut is the honest repair."),
    });
    CutOutput {
        strings,
        foot: None,
        foot_first_pass: None,
        left_showing_mm: None,
        left_showing_expanded_mm: None,
        raise,
        stops: stop.into_iter().collect(),
        top: None,
    }
}
