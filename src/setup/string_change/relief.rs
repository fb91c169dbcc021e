//! What a change of pull does to the neck's relief.
//!
//! The sign is sure: more pull bows the neck forward. The amount is not. Without readings of this neck it is
//! told as a wide range: the neck as an even beam between nut and body joint, bent by the strings that run
//! beside its middle, δ = ΔT·e·l²/(8·EI). Its stiffness and the strings' lever are an assumption, no source.

use super::input::{ReliefPair, StringChangeInput};
use super::output::{Change, ReliefEffect, ReliefFrom, ReliefSign};
use crate::problem::Problems;
use crate::setup::frame::fret_position_mm;

/// Bending stiffness of necks, N·m²: a thin one without a rod to a thick one with. Assumption, no source.
const NECK_STIFFNESS_N_M2: (f64, f64) = (150.0, 800.0);
/// Strings over the middle of the neck's bending, mm. Assumption, no source.
const STRINGS_OVER_NECK_MM: (f64, f64) = (8.0, 20.0);
/// A change of pull smaller than gauges are sure of, %: nothing is said then.
const SAME_PERCENT: f64 = 1.0;
/// A pair needs at least this change of pull, N: below, the ruler's error is all one sees.
const LEAST_PAIR_N: f64 = 10.0;
/// Pairs of one instrument, at most.
const MOST_PAIRS: usize = 100;

pub(super) fn check(problems: &mut Problems, pairs: &[ReliefPair]) {
    problems.count("/relief_pairs", pairs.len(), 0, MOST_PAIRS);
    for (place, pair) in pairs.iter().enumerate() {
        let at = format!("/relief_pairs/{place}");
        problems.within(format_args!("{at}/pull_before_n"), pair.pull_before_n, 0.0, 10_000.0);
        problems.within(format_args!("{at}/pull_after_n"), pair.pull_after_n, 0.0, 10_000.0);
        problems.within(format_args!("{at}/relief_before_mm"), pair.relief_before_mm, -10.0, 10.0);
        problems.within(format_args!("{at}/relief_after_mm"), pair.relief_after_mm, -10.0, 10.0);
        let differs = (pair.pull_after_n - pair.pull_before_n).abs() >= LEAST_PAIR_N;
        problems.require(differs, at, format_args!("must differ by {LEAST_PAIR_N} N of pull at least"));
    }
}

pub(super) fn effect(input: &StringChangeInput, total: Change) -> ReliefEffect {
    let sign = if total.change_percent.abs() < SAME_PERCENT {
        ReliefSign::Same
    } else if total.change > 0.0 {
        ReliefSign::More
    } else {
        ReliefSign::Less
    };
    let (slopes, from) = slopes(input).unzip();
    let change_mm = slopes.map(|(least, most)| {
        let ends = [least * total.change, most * total.change];
        if ends[0] <= ends[1] { ends } else { [ends[1], ends[0]] }
    });
    let direction = match sign {
        ReliefSign::More => "More pull bows the neck forward: relief grows.",
        ReliefSign::Less => {
            "Less pull lets the neck straighten: relief shrinks, and strings may buzz at the low frets."
        }
        ReliefSign::Same => "The pull stays the same as far as gauges tell: the neck should stay where it is.",
    };
    let basis = match (sign, from) {
        (ReliefSign::Same, _) | (_, None) => "",
        (_, Some(ReliefFrom::OwnPairs)) => " The amount is drawn from this instrument's own readings.",
        (_, Some(ReliefFrom::Assumption)) => {
            " The amount is a guess of size from an assumed neck, no source: measure once it has settled, and set \
             the rod by the reading."
        }
    };
    ReliefEffect { sign, change_mm, from, words: format!("{direction}{basis}") }
}

/// mm of relief per N, least and most, and what they rest on.
pub(super) fn slopes(input: &StringChangeInput) -> Option<((f64, f64), ReliefFrom)> {
    let own = own_slopes(&input.relief_pairs).map(|own| (own, ReliefFrom::OwnPairs));
    let assumed = || Some((assumed_slopes(input.scale_mm, input.body_fret?), ReliefFrom::Assumption));
    own.or_else(assumed)
}

/// mm of relief per N, least and most, from the instrument itself.
fn own_slopes(pairs: &[ReliefPair]) -> Option<(f64, f64)> {
    let slopes = pairs
        .iter()
        .map(|pair| (pair.relief_after_mm - pair.relief_before_mm) / (pair.pull_after_n - pair.pull_before_n));
    slopes.fold(None, |range: Option<(f64, f64)>, slope| {
        Some(range.map_or((slope, slope), |(least, most)| (least.min(slope), most.max(slope))))
    })
}

/// The same from an even beam, mm per N.
fn assumed_slopes(scale_mm: f64, body_fret: usize) -> (f64, f64) {
    let length_m = (fret_position_mm(scale_mm, body_fret) - fret_position_mm(scale_mm, 1)) / 1000.0;
    // N · mm · m² / (N·m²) is mm
    let slope = |lever_mm: f64, stiffness: f64| lever_mm * length_m * length_m / (8.0 * stiffness);
    (slope(STRINGS_OVER_NECK_MM.0, NECK_STIFFNESS_N_M2.1), slope(STRINGS_OVER_NECK_MM.1, NECK_STIFFNESS_N_M2.0))
}
