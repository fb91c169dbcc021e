//! Simple causes: half the complaints. The checks that cost nothing come before any file.

use super::bench::Bench;
use super::types::{ObservationKey, Severity};
use super::walk::{Found, Stage, Todo, Walk, said_strings};

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let all = bench.strings.len();
    if bench.has(ObservationKey::NutReversed) {
        let words =
            "The nut faces the wrong way: its front edge is not at the frets, so every note reads sharp or flat.";
        walk.find(Stage::SimpleCauses, Found::new("nut-reversed", Severity::Work, words).service("setup"));
        walk.step(Todo::plain(
            Stage::SimpleCauses,
            "nut-reversed",
            "Turn the nut round, tune, and measure again before anything is filed.",
        ));
        walk.caution(Stage::SimpleCauses, "string-tension");
    }
    if bench.has(ObservationKey::SaddleReversed) {
        let words = "The saddle faces the wrong way: its compensation works against the strings.";
        walk.find(Stage::SimpleCauses, Found::new("saddle-reversed", Severity::Work, words).service("setup"));
        walk.step(Todo::plain(
            Stage::SimpleCauses,
            "saddle-reversed",
            "Turn the saddle round, tune, and measure again before anything is cut.",
        ));
        walk.caution(Stage::SimpleCauses, "string-tension");
    }
    if bench.has(ObservationKey::StringsOld) {
        let words = "The strings are old: they read sharp up the neck and break at the bench.";
        let strings = bench.strings_seen(ObservationKey::StringsOld);
        walk.find(
            Stage::SimpleCauses,
            Found::new("strings-old", Severity::Work, words).on(strings).service("restring"),
        );
        walk.step(Todo::plain(
            Stage::SimpleCauses,
            "strings-old",
            "Put new strings on, stretch and tune them, and measure again.",
        ));
        walk.caution(Stage::SimpleCauses, "string-tension");
    }
    if bench.has(ObservationKey::SaddleGlued) {
        let words = "The saddle is glued in. It is freed with warmth and patience before it can be cut, or it is shaped in place.";
        walk.find(Stage::SimpleCauses, Found::new("saddle-glued", Severity::Watch, words).service("saddle-lower"));
        walk.caution(Stage::SaddleReady, "heat");
    }
    sharp_edges(bench, walk, all);
    let rounded = bench.strings_seen(ObservationKey::EdgeRounded);
    if bench.has(ObservationKey::EdgeRounded) {
        let words = format!(
            "The front edge of the slot is rounded on {}: the string leaves behind the front and buzzes or reads flat.",
            said_strings(&rounded, all)
        );
        walk.find(
            Stage::SimpleCauses,
            Found::new("edge-rounded", Severity::Work, words).on(rounded).service("nut-slots"),
        );
        walk.step(Todo::plain(
            Stage::SimpleCauses,
            "edge-rounded",
            "Ramp the slot down towards the tuner, so that the string leaves at the very front.",
        ));
        walk.caution(Stage::SimpleCauses, "bone-dust");
    }
}

/// Fraying at one place is a rough edge there.
fn sharp_edges(bench: &Bench<'_>, walk: &mut Walk, all: usize) {
    let mut strings = bench.strings_seen(ObservationKey::EdgeSharp);
    strings.extend(bench.strings_seen(ObservationKey::Fraying));
    strings.sort_unstable();
    strings.dedup();
    if !bench.has(ObservationKey::EdgeSharp) && !bench.has(ObservationKey::Fraying) {
        return;
    }
    let place = bench.seen(ObservationKey::Fraying).find_map(|seen| seen.at.as_deref()).unwrap_or("slot");
    let on = if strings.is_empty() { String::new() } else { format!(" on {}", said_strings(&strings, all)) };
    let words = format!("A sharp or rough edge at the {place}{on}: it frays the string. The string is not at fault.");
    walk.find(Stage::SimpleCauses, Found::new("edge-sharp", Severity::Work, words).on(strings).service("nut-slots"));
    let step = format!("Ease and polish the edge at the {place}, then put on a fresh string and measure again.");
    walk.step(Todo::plain(Stage::SimpleCauses, "edge-sharp", step));
    walk.caution(Stage::SimpleCauses, "string-tension");
}
