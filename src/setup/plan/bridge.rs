//! The bridge: felt all the way up the neck. The last place where heights are set, and each kind of bridge its own way.

mod loose;
mod posts;
mod saddle;
mod screws;

pub(super) use loose::cut_input as loose_cut_input;
pub(super) use posts::{Fit as PostsFit, fit as posts_fit, notches_cut_input};
pub(super) use saddle::cut_input as saddle_cut_input;
pub(super) use screws::{travel, turned};

use super::bench::{Bench, Read};
use super::input::BridgeKind;
use super::judged::{Judged, Stand};
use super::output::{Forecast, Severity};
use super::relief;
use super::walk::{Found, Holds, Stage, Todo, Walk, range, said_strings};

pub(super) fn look(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    not_read(bench, judged, walk);
    let Some(bridge) = bench.bridge else {
        not_known(bench, judged, walk);
        return;
    };
    unsure(bench, judged, walk, bridge);
    let off = Off { high: judged.heights_that(Stand::High), low: judged.heights_that(Stand::Low) };
    if off.high.is_empty() && off.low.is_empty() {
        return;
    }
    match bridge {
        BridgeKind::FixedSaddle => saddle::look(bench, walk, &off),
        BridgeKind::ScrewSaddles => screws::look(bench, walk, &off),
        BridgeKind::TwoPost => posts::look(bench, judged, walk, &off),
        // its posts, where they are measured, else its saddles; either way it is brought level again after each change
        BridgeKind::Sprung if bench.input.instrument.post_positions_mm.is_some() => {
            posts::look(bench, judged, walk, &off);
        }
        BridgeKind::Sprung => screws::look(bench, walk, &off),
        BridgeKind::LooseBridge => loose::look(bench, walk, &off),
    }
}

/// The strings that stand off their target at the 12th, from 1.
struct Off {
    high: Vec<usize>,
    low: Vec<usize>,
}

impl Off {
    fn all(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self.high.iter().chain(&self.low).copied().collect();
        all.sort_unstable();
        all
    }
}

fn not_read(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    let missing = judged.heights_that(Stand::NotRead);
    if missing.is_empty() {
        return;
    }
    walk.ask_for("action_12_mm");
    let on = said_strings(&missing, bench.strings.len());
    walk.unread(Stage::BridgeReady, format!("the height over the 12th fret on {on}"));
    let words = format!("The height at the 12th fret was not read on {on}: nothing comes off there.");
    walk.find(Stage::Bridge, Found::new("reading-missing", Severity::Watch, words).on(missing));
}

/// What is done about a height hangs on the bridge.
fn not_known(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    walk.ask_for("bridge");
    walk.unread(Stage::BridgeReady, "what kind of bridge it has, on the instrument's own page");
    let words = "What holds the strings' heights is not known: a fixed saddle, screws, two posts, a loose bridge or one on springs. Nothing is done there before it is.";
    walk.find(Stage::BridgeReady, Found::new("reading-missing", Severity::Watch, words));
    report(bench, walk, &judged.heights_that(Stand::High), Way::Down, None);
    report(bench, walk, &judged.heights_that(Stand::Low), Way::Up, None);
}

/// Heights outside their range by no more than their uncertainty.
fn unsure(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk, bridge: BridgeKind) {
    let all = bench.strings.len();
    let let_stand = judged.heights_that(Stand::Accepted);
    if !let_stand.is_empty() {
        let words = format!(
            "On {} the height at the 12th is at the edge of its range; repeated readings leave it open. It is let stand.",
            said_strings(&let_stand, all)
        );
        walk.find(Stage::Bridge, Found::new("readings-too-uncertain", Severity::Watch, words).on(let_stand));
    }
    let unsure = judged.heights_that(Stand::Unsure);
    if unsure.is_empty() {
        return;
    }
    let on = said_strings(&unsure, all);
    let words = format!(
        "On {on} the height at the 12th is outside its range, but by no more than the reading's uncertainty. Repeat the reading before anything is taken off."
    );
    walk.ask_for("action_12_mm");
    walk.find(Stage::Bridge, Found::new("readings-too-uncertain", Severity::Watch, words).on(unsure));
    let again = format!("Read the heights at the 12th again on {on}, three times at least.");
    let settles = format!("the height at the 12th is read again on {on}");
    // a screw may be turned meanwhile; a saddle may not be cut
    let stage = if bridge == BridgeKind::FixedSaddle { Stage::BridgeReady } else { Stage::BridgeAdjusted };
    walk.step(Todo::reading(stage, "readings-too-uncertain", again, settles, Holds::WhatCannotBeUndone));
}

/// Where the strings have to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Down,
    Up,
}

/// What is high or low at the 12th, and which service mends it at this bridge.
fn report(bench: &Bench<'_>, walk: &mut Walk, strings: &[usize], way: Way, service: Option<&'static str>) {
    if let Some(found) = height_finding(bench, strings, way) {
        walk.find(Stage::Bridge, found.service(service));
    }
}

/// The same where the bridge can come no nearer: it is left.
fn report_left(bench: &Bench<'_>, walk: &mut Walk, strings: &[usize], way: Way, words: &str) {
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
        Way::Up => ("saddle-low", "low", "they will buzz", "under_target_mm"),
    };
    let words = format!("The strings stand {which} at the 12th on {on}, by up to {most:.2} mm ({read}): {end}.");
    let found = Found::new(key, Severity::Work, words).on(strings.to_vec());
    let found = found.with(over, most).with("action_12_mm", action.value).with("target_mm", target);
    Some(found.with("expanded_mm", action.expanded))
}

/// Nothing is taken off on a single reading by a tool whose scatter nobody measured.
fn lonely(bench: &Bench<'_>, walk: &mut Walk, high: &[usize]) {
    let is_lonely = |number: &&usize| bench.action(**number - 1).is_some_and(|read| bench.is_too_lonely(&read));
    let lonely: Vec<usize> = high.iter().filter(is_lonely).copied().collect();
    if lonely.is_empty() {
        return;
    }
    let on = said_strings(&lonely, bench.strings.len());
    let again = format!(
        "Read the heights at the 12th once more on {on}: a single reading, with a tool whose own scatter is not known, is not enough to cut by."
    );
    walk.ask_for("action_12_mm");
    let settles = format!("the heights at the 12th are read a second time on {on}");
    walk.step(Todo::reading(Stage::BridgeReady, "readings-too-uncertain", again, settles, Holds::WhatCannotBeUndone));
}

/// What is wished at the bridge under one string, mm: plus down.
fn wish(bench: &Bench<'_>, place: usize) -> Option<(f64, Read)> {
    let action = bench.action(place)?;
    let off = action.value - bench.action_target(place);
    Some((off * bench.saddle_factor(place), action))
}

/// What the bridge may have to come down once the steps before it are done: a range, never an amount to cut.
fn removal_forecast(bench: &Bench<'_>, walk: &Walk) -> Forecast {
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
