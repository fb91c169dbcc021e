//! Intonation, once heights are right: measured cents outrank every forecast.

use super::bench::Bench;
use super::types::Severity;
use super::walk::{Found, Stage, Todo, Walk, said_strings};

/// Cents in a whole of the scale: 1200/ln 2.
const CENTS_PER_LENGTH: f64 = 1_731.234_049_066_756;

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let tolerance = bench.targets.cents_tolerance;
    let off: Vec<(usize, f64)> = (1..)
        .zip(&bench.strings)
        .filter_map(|(number, string)| string.cents.map(|cents| (number, cents)))
        .filter(|(_, cents)| cents.value.abs() - cents.expanded > tolerance)
        .map(|(number, cents)| (number, cents.value))
        .collect();
    if off.is_empty() {
        return;
    }
    let strings: Vec<usize> = off.iter().map(|(number, _)| *number).collect();
    let worst = off
        .iter()
        .map(|(_, cents)| *cents)
        .fold(0.0_f64, |worst, cents| if cents.abs() > worst.abs() { cents } else { worst });
    // set-back to add is c·L/1731: first order of the chain
    let setback = worst * bench.input.instrument.scale_mm / CENTS_PER_LENGTH;
    let words = format!(
        "{} read {worst:+.1} cents at the 12th at worst; up to {tolerance:.0} is left alone.",
        capitalized(&said_strings(&strings, bench.strings.len()))
    );
    walk.find(
        Stage::Intonation,
        Found::new("intonation-off", Severity::Work, words)
            .on(strings)
            .with("cents_at_12", worst)
            .with("setback_to_add_mm", setback)
            .service("intonation"),
    );
    let each = off.iter().map(|(number, cents)| {
        format!("string {number} {:+.1} mm", cents * bench.input.instrument.scale_mm / CENTS_PER_LENGTH)
    });
    let each = each.collect::<Vec<_>>().join(", ");
    let words = format!(
        "Move the string's break point on the saddle away from the frets (plus) or towards them (minus): {each}. The last cent is not heard."
    );
    walk.step(Todo::plain(Stage::Intonation, "intonation-off", words));
}

fn capitalized(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
