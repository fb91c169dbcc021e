//! Relief: the neck's bow, before any slot or saddle is touched.
//!
//! What a change of relief does to the heights lies between two models and is given as a range; a
//! relief reading never stands in for a second height reading.

use super::bench::{Bench, Read};
use super::own_rods::OwnEffect;
use super::types::{Forecast, ObservationKey, PlanRod, Range, Severity};
use super::walk::{Found, Stage, Todo, Walk, range};
use crate::setup::frame::{Board, Frame, felt_from_nut, fret_position_mm, relief_effect_at_12};

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let Some(relief) = bench.relief else {
        walk.ask_for("relief_mm");
        walk.unread(Stage::Relief, "relief, half-way between fret 1 and the body joint");
        let words =
            "Relief was not read. It comes before nut and saddle: read it half-way between fret 1 and the body joint.";
        walk.find(Stage::Relief, Found::new("reading-missing", Severity::Watch, words));
        return;
    };
    // a back-bow that no rod can mend has already stopped the plan
    if walk.has("back-bow") && walk.is_stopped() {
        return;
    }
    eye_against_reading(bench, walk, relief);
    let targets = &bench.targets;
    let too_much = relief.value > targets.relief_most_mm;
    let too_little = relief.value < targets.relief_least_mm;
    let (key, beyond) = match (too_much, too_little) {
        (true, _) => ("relief-too-much", relief.value - targets.relief_most_mm),
        (_, true) => ("relief-too-little", targets.relief_least_mm - relief.value),
        _ => return,
    };
    let measured = format!(
        "Relief is {} mm; {:.2} to {:.2} mm is wished.",
        relief.said(),
        targets.relief_least_mm,
        targets.relief_most_mm
    );
    let found = |key, severity, words: String| {
        Found::new(key, severity, words)
            .with("relief_mm", relief.value)
            .with("expanded_mm", relief.expanded)
            .with("target_mm", targets.relief_mm)
            .with("change_mm", targets.relief_mm - relief.value)
    };
    if beyond <= relief.expanded {
        if !relief.may_be_repeated() {
            let words = format!("{measured} Repeated readings leave that open: it is let stand as it is.");
            walk.find(Stage::Relief, found("readings-too-uncertain", Severity::Watch, words));
            return;
        }
        walk.ask_for("relief_mm");
        let words = format!("{measured} That is within the reading's uncertainty: read it again.");
        walk.find(Stage::Relief, found("readings-too-uncertain", Severity::Watch, words));
        let again = "Read relief again, three times at least, before nut or saddle is touched.";
        walk.step(Todo::reading(Stage::Relief, "readings-too-uncertain", again));
        return;
    }
    if bench.input.instrument.truss_rod == PlanRod::None {
        let words = format!("{measured} This neck has no rod: the plan works with the relief as it is.");
        walk.find(Stage::Relief, found(key, Severity::Watch, words));
        return;
    }
    let own = OwnEffect::of(&bench.input.rod_pairs);
    let finding = found(key, Severity::Work, measured).service("truss-rod");
    walk.find(
        Stage::Relief,
        match &own {
            Some(own) => finding.with("own_effect_at_12", own.at_12).with("own_effect_expanded", own.expanded),
            None => finding,
        },
    );
    walk.caution(Stage::Relief, "truss-rod");
    let turn = if too_much { "Tighten the rod" } else { "Slacken the rod" };
    let words = format!(
        "{turn} by quarter turns until relief reads {:.2} mm, letting the neck settle between turns. Then measure all heights again.",
        targets.relief_mm
    );
    let words = match &own {
        Some(own) => format!("{words} {}", own.words(targets.relief_mm - relief.value)),
        None => words,
    };
    let forecast = heights_after(bench, relief, targets.relief_mm - relief.value);
    let todo = Todo::plain(Stage::Relief, key, words)
        .while_waiting("Set the relief at the rod, once what comes before it is settled and relief is read again.");
    walk.step(Todo { forecast: Some(forecast), ..todo });
}

/// The eye found a back-bow where the gauge found none: one of the two is wrong, and a cut would rest on it.
fn eye_against_reading(bench: &Bench<'_>, walk: &mut Walk, relief: Read) {
    if !bench.has(ObservationKey::BackBow) || relief.value - relief.expanded <= 0.0 {
        return;
    }
    walk.ask_for("relief_mm");
    let words =
        format!("The neck was seen to bow back, yet relief reads {} mm: one of the two is wrong.", relief.said());
    let found = Found::new("readings-disagree", Severity::Watch, words);
    walk.find(Stage::Relief, found.with("relief_mm", relief.value).with("expanded_mm", relief.expanded));
    let check = "Sight along the neck again, tuned to pitch, and read relief again.";
    walk.step(Todo::reading(Stage::Relief, "readings-disagree", check));
}

/// The change of relief that is planned, mm; 0 where the rod stays as it is.
pub(super) fn planned_change_mm(bench: &Bench<'_>, walk: &Walk) -> f64 {
    let is_planned = walk.has_step("relief-too-much") || walk.has_step("relief-too-little");
    change_mm(bench, is_planned)
}

/// From the relief as read to the relief wished, where the rod is to be turned, mm.
pub(super) fn change_mm(bench: &Bench<'_>, is_planned: bool) -> f64 {
    match bench.relief {
        Some(relief) if is_planned => bench.targets.relief_mm - relief.value,
        _ => 0.0,
    }
}

/// Change of a 12th-fret height with a change of relief, mm: from "ends tied" to "even bend from the joint".
pub(super) fn felt_at_12(bench: &Bench<'_>, change_mm: f64) -> Range {
    let instrument = &bench.input.instrument;
    let (tied, bent) = relief_effect_at_12(instrument.scale_mm, instrument.body_fret);
    range(change_mm * tied, change_mm * bent, 0.0)
}

/// The same for the gap over fret 1 stopped at 3. Tied ends: the frame's own answer. Even bend: a parabola
/// c·(x_B − x)² leaves c·x₁(x₃ − x₁) under a string from nut to fret 3, with c = 4/(x_B − x₁)² per mm.
pub(super) fn felt_at_gap(bench: &Bench<'_>, change_mm: f64) -> Range {
    let (tied, bent) = models_at_gap(bench);
    range(change_mm * tied, change_mm * bent, 0.0)
}

/// Both models, mm per mm of relief.
pub(super) fn models_at_gap(bench: &Bench<'_>) -> (f64, f64) {
    let instrument = &bench.input.instrument;
    let gap = |relief_mm: f64| {
        let board = Board { body_fret: Some(instrument.body_fret), relief_mm, ..Board::default() };
        Frame::new(instrument.scale_mm, instrument.frets, &board).gap_at_1_stopped_at_3_mm(0.0)
    };
    let (x_1, x_3) = (bench.frame.position_mm(1), bench.frame.position_mm(3));
    (gap(1.0) - gap(0.0), bend_per_mm(bench) * x_1 * (x_3 - x_1))
}

/// The same for the open height over fret 1: nothing with tied ends.
pub(super) fn felt_at_first(bench: &Bench<'_>, change_mm: f64) -> Range {
    let (tied, bent) = models_at_first(bench);
    range(change_mm * tied, change_mm * bent, 0.0)
}

/// Both models, mm per mm of relief.
pub(super) fn models_at_first(bench: &Bench<'_>) -> (f64, f64) {
    let (x_1, x_body) =
        (bench.frame.position_mm(1), fret_position_mm(bench.frame.scale_mm(), bench.input.instrument.body_fret));
    let nut_rises = x_body * x_body * felt_from_nut(x_1, bench.frame.scale_mm());
    (0.0, bend_per_mm(bench) * (nut_rises - (x_body - x_1) * (x_body - x_1)))
}

/// c of the even bend c·(x_B − x)², per mm of relief.
fn bend_per_mm(bench: &Bench<'_>) -> f64 {
    let (x_1, x_body) =
        (bench.frame.position_mm(1), fret_position_mm(bench.frame.scale_mm(), bench.input.instrument.body_fret));
    4.0 / ((x_body - x_1) * (x_body - x_1))
}

/// Heights at the 12th once relief has changed.
fn heights_after(bench: &Bench<'_>, relief: Read, change_mm: f64) -> Forecast {
    let felt = felt_at_12(bench, change_mm);
    let unsure = felt_at_12(bench, relief.expanded).most;
    let strings = bench.strings.iter().map(|string| {
        string
            .action
            .map(|action| range(action.value + felt.least, action.value + felt.most, action.expanded.hypot(unsure)))
    });
    Forecast { quantity: "action_12_mm".to_owned(), strings: strings.collect() }
}
