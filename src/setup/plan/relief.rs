//! Relief: the neck's bow, before any slot or saddle is touched.
//!
//! What a change of relief does to the heights lies between two models and is given as a range; a
//! relief reading never stands in for a second height reading.

use super::bench::Bench;
use super::built::PlanRod;
use super::judged::Judged;
use super::observation::ObservationKey;
use super::output::{Forecast, Range, Severity};
use super::own_rods::{OwnEffect, Verdict};
use super::read::Read;
use super::stand::Stand;
use super::walk::{Found, Holds, Stage, Todo, Walk, range};
use crate::setup::frame::Models;

pub(super) fn look(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    let Some(relief) = bench.relief else {
        walk.ask_for("relief_mm");
        walk.unread(Stage::Relief, "relief, half-way between fret 1 and the body joint");
        let words =
            "Relief was not read. It comes before nut and saddle: read it half-way between fret 1 and the body joint.";
        walk.find(Stage::Relief, Found::new("reading-missing", Severity::Watch, words));
        return;
    };
    // a neck that no rod can mend has already stopped the plan
    if walk.is_stopped() && (walk.has("back-bow") || walk.has("neck-bends")) {
        return;
    }
    eye_against_reading(bench, walk, relief);
    let targets = &bench.targets;
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
    let key = match judged.relief {
        Stand::High => "relief-too-much",
        Stand::Low => "relief-too-little",
        Stand::Accepted => {
            let words = format!("{measured} Repeated readings leave that open: it is let stand as it is.");
            walk.find(Stage::Relief, found("readings-too-uncertain", Severity::Watch, words));
            return;
        }
        Stand::Unsure => {
            walk.ask_for("relief_mm");
            let words = format!("{measured} That is within the reading's uncertainty: read it again.");
            walk.find(Stage::Relief, found("readings-too-uncertain", Severity::Watch, words));
            let again = "Read relief again, three times at least, before nut or saddle is touched.";
            let settles = "relief is read again";
            walk.step(Todo::reading(Stage::Relief, "readings-too-uncertain", again, settles, Holds::Everything));
            return;
        }
        Stand::Good | Stand::Doubted | Stand::NotRead | Stand::NotAsked => return,
    };
    if bench.input.instrument.truss_rod == PlanRod::None {
        let words = format!("{measured} This neck has no rod: the plan works with the relief as it is.");
        walk.find(Stage::Relief, found(key, Severity::Watch, words));
        return;
    }
    let change = targets.relief_mm - relief.value;
    let own = OwnEffect::of(bench);
    let finding = found(key, Severity::Work, measured).service("truss-rod");
    walk.find(
        Stage::Relief,
        match &own {
            Some(own) => finding.with("own_effect_at_12", own.at_12).with("own_effect_expanded", own.expanded),
            None => finding,
        },
    );
    walk.caution(Stage::Relief, "truss-rod");
    let (turn, way, goes) = match key {
        "relief-too-much" => ("Tighten", "clockwise", "less"),
        _ => ("Slacken", "anticlockwise", "more"),
    };
    let words = format!(
        "{turn} the rod towards {:.2} mm: relief becomes {goes}. Seen from the wrench's end that is {way} on a usual rod; try an eighth of a turn first, and see that relief moves that way. Slacken the strings, turn a quarter turn at most, retune to pitch, let the neck settle, then read; stop if it resists. Then measure all heights again.",
        targets.relief_mm
    );
    let words = match &own {
        Some(own) => format!("{words} {}", own.words(change)),
        None => words,
    };
    walk.step(
        Todo::reversible(Stage::Relief, key, words)
            .while_waiting("Set the relief at the rod, once what comes before it is settled and relief is read again.")
            .expecting(heights_after(bench, relief, change, own.as_ref())),
    );
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
    let settles = "eye and gauge agree on the neck";
    walk.step(Todo::reading(Stage::Relief, "readings-disagree", check, settles, Holds::Everything));
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

/// A change of relief as the two models feel it somewhere, mm.
pub(super) fn felt(models: Models, change_mm: f64) -> Range {
    range(change_mm * models.tied, change_mm * models.bent, 0.0)
}

/// Change of a string's height at the 12th with a change of relief, mm.
pub(super) fn felt_at_12(bench: &Bench<'_>, place: usize, change_mm: f64) -> Range {
    felt(bench.frame(place).relief_at_12(), change_mm)
}

/// Heights at the 12th once relief has changed: between the models, and as far as the shop's own rods where those
/// contradict both.
fn heights_after(bench: &Bench<'_>, relief: Read, change_mm: f64, own: Option<&OwnEffect>) -> Forecast {
    let strings = bench.strings.iter().enumerate().map(|(place, string)| {
        let action = string.action?;
        let felt = felt_after(bench, place, change_mm, own);
        let unsure = felt_at_12(bench, place, relief.expanded).most;
        Some(range(action.value + felt.least, action.value + felt.most, action.expanded.hypot(unsure)))
    });
    Forecast { quantity: "action_12_mm".to_owned(), strings: strings.collect() }
}

/// What the models, and where they contradict them the shop's own rods, say of a change at the 12th, mm.
pub(super) fn felt_after(bench: &Bench<'_>, place: usize, change_mm: f64, own: Option<&OwnEffect>) -> Range {
    let felt = felt_at_12(bench, place, change_mm);
    match own.filter(|own| own.verdict == Verdict::Contradicts) {
        Some(own) => {
            let here = own.felt(change_mm);
            Range { least: felt.least.min(here.least), most: felt.most.max(here.most) }
        }
        None => felt,
    }
}
