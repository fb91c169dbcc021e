//! One string's amounts: from its reading by similar triangles, less what the reading is unsure of.

use super::{CutInput, CutPlace, CutString, Raise, StringCut};
use crate::setup::frame::{felt_from_nut, felt_from_saddle, fret_position_mm};
use crate::setup::spread::quantile;

/// Share of cases that an expanded uncertainty covers.
pub(super) const COVERAGE: f64 = 0.95;

/// Below this two amounts are the same, mm: far finer than any file.
pub(super) const SAME_MM: f64 = 1e-9;

/// The reading a string is cut by.
pub(super) fn value(input: &CutInput, string: &CutString) -> Option<f64> {
    match input.place {
        CutPlace::Saddle => string.action_12_mm,
        CutPlace::Nut => string.first_fret_mm.or(string.gap_at_1_stopped_at_3_mm),
    }
}

/// Where a string runs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    pub(super) scale_mm: f64,
    pub(super) setback_mm: f64,
    /// The fret at which it begins; 0 is the nut.
    pub(super) start: usize,
}

impl Run {
    pub(super) fn of(input: &CutInput, string: &CutString) -> Self {
        Self {
            scale_mm: string.scale_mm.unwrap_or(input.scale_mm),
            setback_mm: string.saddle_setback_mm.unwrap_or(input.saddle_setback_mm),
            start: string.starts_at_fret.unwrap_or(0),
        }
    }

    /// Whether it runs as the whole does.
    pub(super) fn is_plain(string: &CutString) -> bool {
        string.scale_mm.is_none() && string.saddle_setback_mm.is_none() && string.starts_at_fret.is_none()
    }

    /// From where it begins to a fret, mm.
    pub(super) fn to_fret_mm(self, fret: usize) -> f64 {
        fret_position_mm(self.scale_mm, fret) - fret_position_mm(self.scale_mm, self.start)
    }

    /// From where it begins to the saddle, mm.
    pub(super) fn sounding_mm(self) -> f64 {
        self.scale_mm + self.setback_mm - fret_position_mm(self.scale_mm, self.start)
    }
}

/// What a millimetre of the reading is at the saddle or nut.
pub(super) fn factor(input: &CutInput, string: &CutString) -> f64 {
    let run = Run::of(input, string);
    let first = run.to_fret_mm(run.start + 1);
    match input.place {
        CutPlace::Saddle => 1.0 / felt_from_saddle(run.to_fret_mm(12), run.sounding_mm()),
        CutPlace::Nut if string.first_fret_mm.is_some() => 1.0 / felt_from_nut(first, run.sounding_mm()),
        CutPlace::Nut => 1.0 / (1.0 - first / run.to_fret_mm(run.start + 3)),
    }
}

/// Student's t that the amount overshoots by no more often than the stated risk.
pub(super) fn guard_factor(input: &CutInput, string: &CutString) -> f64 {
    quantile(1.0 - input.first_pass_risk, string.degrees_of_freedom)
}

/// Student's t that covers the amount on both sides.
pub(super) fn expanded_factor(string: &CutString) -> f64 {
    quantile(f64::midpoint(1.0, COVERAGE), string.degrees_of_freedom)
}

/// How much of the whole amount the first pass may be: all that is sure, of a single reading half.
pub(super) fn first_share(string: &CutString) -> f64 {
    if string.repeats == Some(1) { 0.5 } else { 1.0 }
}

pub(super) fn of(input: &CutInput, string: &CutString) -> StringCut {
    let (value, factor) = (value(input, string), factor(input, string));
    let uncertainty = (string.standard_uncertainty_mm * factor).hypot(input.cut_uncertainty_mm);
    let cap = string.most_removal_mm.unwrap_or(f64::INFINITY);
    let exact = value.map(|value| ((value - string.target_mm) * factor).min(cap));
    let guard = guard_factor(input, string) * uncertainty;
    let first_pass =
        exact.map_or(0.0, |exact| rounded_down((exact - guard).min(first_share(string) * exact), input.step_mm));
    let on_top_mm = (input.place == CutPlace::Saddle).then_some(0.0);
    StringCut {
        exact_mm: exact,
        standard_uncertainty_mm: uncertainty,
        expanded_mm: exact.map(|_| expanded_factor(string) * uncertainty),
        first_pass_mm: first_pass,
        on_top_mm,
    }
}

/// Down to the step, never below 0. An amount a hair under a step counts as the step.
pub(in crate::setup) fn rounded_down(amount_mm: f64, step_mm: f64) -> f64 {
    if amount_mm <= 0.0 { 0.0 } else { (amount_mm / step_mm + SAME_MM).floor() * step_mm }
}

pub(super) fn raises(strings: &[StringCut], shim_mm: f64) -> Vec<Raise> {
    let low = (1..)
        .zip(strings)
        .filter_map(|(string, cut)| Some((string, -cut.exact_mm.filter(|exact| *exact < -SAME_MM)?, cut.expanded_mm)));
    low.map(|(string, mm, expanded_mm)| Raise { string, mm, expanded_mm, shims: shims(mm, shim_mm) }).collect()
}

/// How many shims reach an amount.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a few ten thousand at most by the checked ranges"
)]
fn shims(amount_mm: f64, shim_mm: f64) -> usize {
    (amount_mm / shim_mm - SAME_MM).ceil().max(1.0) as usize
}
