//! What stands high or low at the 12th, and what that is at the bridge.

use crate::setup::plan::bench::Bench;
use crate::setup::plan::output::{Forecast, Severity};
use crate::setup::plan::read::Read;
use crate::setup::plan::relief;
use crate::setup::plan::walk::{Found, Holds, Stage, Todo, Walk, range, said_strings};

/// The strings that stand off their target at the 12th, from 1.
pub(super) struct Off {
    pub(super) high: Vec<usize>,
    pub(super) low: Vec<usize>,
}

impl Off {
    pub(super) fn all(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self.high.iter().chain(&self.low).copied().collect();
        all.sort_unstable();
        all
    }
}

/// Where the strings have to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Down,
    Up,
}

/// What is high or low at the 12th, and which service mends it at this bridge.
pub(super) fn report(bench: &Bench<'_>, walk: &mut Walk, strings: &[usize], way: Way, service: Option<&'static str>) {
    if let Some(found) = height_finding(bench, strings, way) {
        walk.find(Stage::Bridge, found.service(service));
    }
}

/// The same where the bridge can come no nearer: it is left.
pub(super) fn report_left(bench: &Bench<'_>, walk: &mut Walk, strings: &[usize], way: Way, words: &str) {
    if let Some(found) = height_finding(bench, strings, way) {
        let words = format!("{} {words}", found.words);
        walk.find(Stage::Bridge, Found { severity: Severity::Watch, words, ..found });
    }
}

fn height_finding(bench: &Bench<'_>, strings: &[usize], way: Way) -> Option<Found> {
    let sign = if way == Way::Down { 1.0 } else { -1.0 };
    let offs = strings.iter().filter_map(|number| {
        let action = bench.action(number - 1)?;
        let target = bench.action_target(number - 1);
        Some((sign * (action.value - target), action, target))
    });
    let (most, action, target) = offs.max_by(|(one, ..), (other, ..)| one.total_cmp(other))?;
    let on = said_strings(strings, bench.strings.len());
    let read = format!("{} mm where {target:.2} mm is wished", action.said());
    let (key, which, end, over) = match way {
        Way::Down => ("saddle-high", "high", "they are hard to press", "over_target_mm"),
        Way::Up => ("saddle-low", "low", "they may buzz", "under_target_mm"),
    };
    let words = format!("The strings stand {which} at the 12th on {on}, by up to {most:.2} mm ({read}): {end}.");
    let found = Found::new(key, Severity::Work, words).on(strings.to_vec());
    let found = found.with(over, most).with("action_12_mm", action.value).with("target_mm", target);
    Some(found.with("expanded_mm", action.expanded))
}

/// Nothing is taken off on a single reading by a tool whose scatter nobody measured.
pub(super) fn lonely(bench: &Bench<'_>, walk: &mut Walk, high: &[usize]) {
    let is_lonely = |number: &&usize| bench.action(**number - 1).is_some_and(|read| bench.is_too_lonely(&read));
    let lonely: Vec<usize> = high.iter().filter(is_lonely).copied().collect();
    if lonely.is_empty() {
        return;
    }
    let on = said_strings(&lonely, bench.strings.len());
    let again = format!(
        "Read the heights at the 12th once more on {on}: a single reading, with a tool whose own scatter is not known, is not enough for what does not come back."
    );
    walk.ask_for("action_12_mm");
    let settles = format!("the heights at the 12th are read a second time on {on}");
    walk.step(Todo::reading(Stage::BridgeReady, "readings-too-uncertain", again, settles, Holds::WhatCannotBeUndone));
}

/// What is wished at the bridge under one string, mm: plus down.
pub(super) fn wish(bench: &Bench<'_>, place: usize) -> Option<(f64, Read)> {
    let action = bench.action(place)?;
    let off = action.value - bench.action_target(place);
    Some((off * bench.saddle_factor(place), action))
}

/// What the bridge may have to come down once the steps before it are done: a range, never an amount to cut.
pub(super) fn removal_forecast(bench: &Bench<'_>, walk: &Walk) -> Forecast {
    let change = relief::planned_change_mm(bench, walk);
    let strings = (0..bench.strings.len()).map(|place| {
        let action = bench.action(place)?;
        let felt = relief::felt_at_12(bench, place, change);
        let from_nut = bench.frame(place).felt_from_nut(12, bench.setback_mm(place));
        let factor = bench.saddle_factor(place);
        let over = action.value - bench.action_target(place);
        let nut = walk.at_nut(place);
        Some(range(
            (over + felt.least - nut.most * from_nut) * factor,
            (over + felt.most - nut.least * from_nut) * factor,
            action.expanded * factor,
        ))
    });
    Forecast { quantity: "saddle_removal_mm".to_owned(), strings: strings.collect() }
}
