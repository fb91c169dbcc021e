//! The bridge: felt all the way up the neck. The last place where heights are set, and each kind of bridge its own way.

mod heights;
mod loose;
mod posts;
mod saddle;
mod screws;

pub(super) use loose::cut_input as loose_cut_input;
pub(super) use posts::{Fit as PostsFit, fit as posts_fit, notches_cut_input};
pub(super) use saddle::cut_input as saddle_cut_input;
pub(super) use screws::{travel, turned};

use super::bench::Bench;
use super::built::BridgeKind;
use super::judged::Judged;
use super::output::Severity;
use super::stand::Stand;
use super::walk::{Found, Holds, Stage, Todo, Walk, said_strings};
use heights::{Off, Way, report};

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
