//! Finishing: what every setup ends with. A drop of oil at each tuner, slots polished, water and cotton.

use super::bench::Bench;
use super::built::{BridgeKind, NutKind};
use super::observation::ObservationKey;
use super::output::Severity;
use super::walk::{Found, Holds, Stage, Todo, Walk};

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    // a saddle that needs no work stays as it is, and whoever owns it is told
    let is_fixed = matches!(bench.bridge, Some(BridgeKind::FixedSaddle) | None);
    if bench.has(ObservationKey::SaddleGlued) && is_fixed && !walk.has_step("saddle-glued") {
        let words = "Leave the glued saddle as it is, and tell whoever plays it: the next change of height begins with freeing it.";
        let settles = "the glued saddle is told";
        walk.step(Todo::reading(Stage::Finishing, "saddle-glued", words, settles, Holds::Nothing));
    }
    // a nut that clamps is moved as one: no slot of it was touched
    let by_stage: &[&str] = if bench.nut == NutKind::Clamping { &[] } else { &["nut-high", "nut-low"] };
    let nut_worked = by_stage.iter().chain(&["edge-sharp", "edge-rounded"]).any(|key| walk.has_step(key));
    if nut_worked || bench.has(ObservationKey::PolishSlots) {
        let words = "Slots that were worked on, or are rough, are polished so that strings slide and do not fray.";
        walk.find(Stage::Finishing, Found::new("polish-slots", Severity::Fine, words));
        let step = if bench.bridge == Some(BridgeKind::FixedSaddle) {
            "Polish the nut slots and the top of the saddle."
        } else {
            "Polish the nut slots and where the strings lie on the bridge."
        };
        walk.step(Todo::reversible(Stage::Finishing, "polish-slots", step));
    }
    let stiff = bench.has(ObservationKey::TunersDry);
    let (severity, words) = if stiff {
        (Severity::Work, "The tuners are dry or stiff: they wear out early.")
    } else {
        (Severity::Fine, "The tuners' gears get their yearly drop of oil.")
    };
    let found = Found::new("tuners-dry", severity, words).on(bench.strings_seen(ObservationKey::TunersDry));
    walk.find(Stage::Finishing, if stiff { found.service("tuner-service") } else { found });
    walk.step(Todo::reversible(
        Stage::Finishing,
        "tuners-dry",
        "A drop of oil at each tuner's gear; wipe off what runs.",
    ));
    walk.find(Stage::Finishing, Found::new("clean", Severity::Fine, "It leaves clean.").service("clean-polish"));
    walk.step(Todo::reversible(Stage::Finishing, "clean", "Clean with water and a cotton cloth only; dry at once."));
}
