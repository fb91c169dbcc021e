//! Frets and board: what the eye and the straightedge find.

use super::bench::Bench;
use super::types::{ObservationKey, Severity};
use super::walk::{Found, Stage, Todo, Walk};

const FAULTS: &[(ObservationKey, &str, &str, &str)] = &[
    (
        ObservationKey::FretHigh,
        "A fret stands high or loose.",
        "Press or tap the fret home and glue it, or level it with its neighbours; then measure again.",
        "fret-level",
    ),
    (
        ObservationKey::FretsWorn,
        "The frets are worn under the strings.",
        "Dress the frets: level, crown and polish as far as their height allows; else quote new frets.",
        "fret-dress",
    ),
    (
        ObservationKey::BoardRises,
        "The board rises beyond the body joint.",
        "Level the last frets with a fall-away, then measure again.",
        "fret-level",
    ),
];

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    for (key, words, step, service) in FAULTS {
        if !bench.has(*key) {
            continue;
        }
        let frets: Vec<usize> = bench.seen(*key).filter_map(|seen| seen.fret).collect();
        let mut found = Found::new(key.key(), Severity::Work, *words).on(bench.strings_seen(*key)).service(service);
        if let Some(fret) = frets.first() {
            found = found.with("fret", super::bench::as_number(*fret));
        }
        walk.find(Stage::Frets, found);
        walk.caution(Stage::Frets, "fret-dust");
        walk.step(Todo::plain(Stage::Frets, key.key(), *step));
        if *key == ObservationKey::FretsWorn {
            let words = "Where the frets have no height left to dress, new frets are the repair.";
            walk.find(Stage::Frets, Found::new(key.key(), Severity::Watch, words).service("refret"));
        }
    }
}
