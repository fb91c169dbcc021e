//! Relief: the neck's bow, before any slot or saddle is touched.
//!
//! What a change of relief does to the heights lies between two models and is given as a range; a
//! relief reading never stands in for a second height reading.

use super::bench::{Bench, Read};
use super::types::{Forecast, PlanRod, Severity};
use super::walk::{Found, Stage, Todo, Walk, range};
use crate::setup::frame::relief_effect_at_12;

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let Some(relief) = bench.relief else {
        walk.ask_for("relief_mm");
        let words =
            "Relief was not read. It comes before nut and saddle: read it half-way between fret 1 and the body joint.";
        walk.find(Stage::Relief, Found::new("reading-missing", Severity::Watch, words));
        return;
    };
    let targets = &bench.targets;
    let too_much = relief.value > targets.relief_most_mm;
    let too_little = relief.value < targets.relief_least_mm;
    let beyond = if too_much { relief.value - targets.relief_most_mm } else { targets.relief_least_mm - relief.value };
    let key = match (too_much, too_little) {
        (true, _) => "relief-too-much",
        (_, true) => "relief-too-little",
        _ => return,
    };
    // a back-bow that no rod can mend has already stopped the plan
    if walk.has("back-bow") {
        return;
    }
    let sure = beyond > relief.expanded;
    let rod = bench.input.instrument.truss_rod;
    let change = targets.relief_mm - relief.value;
    let found = |severity, words: String| {
        Found::new(key, severity, words)
            .with("relief_mm", relief.value)
            .with("expanded_mm", relief.expanded)
            .with("target_mm", targets.relief_mm)
            .with("change_mm", change)
    };
    let measured = format!(
        "Relief is {:.2} ± {:.2} mm; {:.2} to {:.2} is wished.",
        relief.value, relief.expanded, targets.relief_least_mm, targets.relief_most_mm
    );
    if !sure {
        walk.ask_for("relief_mm");
        walk.find(
            Stage::Relief,
            found(Severity::Watch, format!("{measured} That is within the reading's uncertainty: read it again.")),
        );
        return;
    }
    if rod == PlanRod::None {
        let words = format!("{measured} This neck has no rod: the plan works with the relief as it is.");
        walk.find(Stage::Relief, found(Severity::Watch, words));
        return;
    }
    let turn = if too_much { "Tighten the rod" } else { "Slacken the rod" };
    walk.find(Stage::Relief, found(Severity::Work, measured).service("truss-rod"));
    walk.caution("truss-rod");
    walk.step(Todo {
        forecast: Some(heights_after(bench, relief, change)),
        ..Todo::plain(
            Stage::Relief,
            key,
            format!("{turn} by quarter turns until relief reads {:.2} mm, letting the neck settle between turns. Then measure all heights again.", targets.relief_mm),
        )
    });
}

/// Heights at the 12th once relief has changed: between "ends tied" and "even bend from the joint".
fn heights_after(bench: &Bench<'_>, relief: Read, change_mm: f64) -> Forecast {
    let (tied, bent) = relief_effect_at_12(bench.input.instrument.scale_mm, bench.input.instrument.body_fret);
    let strings = bench.strings.iter().map(|string| {
        string.action.map(|action| {
            let spread = action.expanded.hypot(relief.expanded * bent);
            range(action.value + change_mm * tied, action.value + change_mm * bent, spread)
        })
    });
    Forecast { quantity: "action_12_mm".to_owned(), strings: strings.collect() }
}
