//! Simple causes: half the complaints. The checks that cost nothing come before any file.

use super::bench::Bench;
use super::built::BridgeKind;
use super::observation::ObservationKey;
use super::output::{Cause, Severity};
use super::walk::{Found, Holds, Stage, Todo, Walk, said_strings};

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    reversed(bench, walk);
    sharp_everywhere(bench, walk);
    head_slack(bench, walk);
    bridge_tilts(bench, walk);
    saddle_glued(bench, walk);
    sharp_edges(bench, walk);
    rounded_edges(bench, walk);
    strings_old(bench, walk);
}

fn reversed(bench: &Bench<'_>, walk: &mut Walk) {
    if bench.has(ObservationKey::NutReversed) {
        let words =
            "The nut faces the wrong way: its front edge is not at the frets, so every note reads sharp or flat.";
        walk.find(Stage::SimpleCauses, Found::new("nut-reversed", Severity::Work, words).service("setup"));
        walk.step(Todo::reversible(
            Stage::SimpleCauses,
            "nut-reversed",
            "Turn the nut round, tune, and measure again before anything is filed.",
        ));
        walk.caution(Stage::SimpleCauses, "string-tension");
    }
    if bench.has(ObservationKey::SaddleReversed) {
        let (part, stands_free) = reversible_part(bench);
        let words = format!("The {part} faces the wrong way: its compensation works against the strings.");
        walk.find(Stage::SimpleCauses, Found::new("saddle-reversed", Severity::Work, words).service("setup"));
        walk.step(Todo::reversible(
            Stage::SimpleCauses,
            "saddle-reversed",
            if stands_free {
                format!("Slacken, turn the {part} round, set its place by the 12th, tune, and measure again.")
            } else {
                format!("Turn the {part} round, tune, and measure again before anything is cut.")
            },
        ));
        walk.caution(Stage::SimpleCauses, "string-tension");
    }
}

/// What of a bridge can be put back the wrong way round, and whether it stands by itself.
fn reversible_part(bench: &Bench<'_>) -> (&'static str, bool) {
    match bench.bridge {
        Some(BridgeKind::LooseBridge | BridgeKind::TwoPost) => ("bridge", true),
        _ => ("saddle", false),
    }
}

/// A part that went back the wrong way round, or a bridge that moved while the strings were off, reads as an
/// intonation fault: looked at before anything is filed.
fn sharp_everywhere(bench: &Bench<'_>, walk: &mut Walk) {
    if !bench.has(ObservationKey::SharpEverywhere) {
        return;
    }
    let stands_free = matches!(bench.bridge, Some(BridgeKind::LooseBridge | BridgeKind::TwoPost));
    let cause = |key: &str, reason: &str, check: &str| Cause {
        key: key.to_owned(),
        reason: reason.to_owned(),
        check: check.to_owned(),
    };
    let nut = cause(
        "nut-reversed",
        "Sharp everywhere since a string change: the nut went back the wrong way round.",
        "Look at its ramp: the front edge belongs at the frets.",
    );
    let saddle = cause(
        "saddle-reversed",
        "Sharp everywhere since a string change: the saddle went back the wrong way round.",
        "Look at its compensation and its ramp: the front edge belongs at the frets.",
    );
    let moved = cause(
        "intonation-off",
        "Sharp everywhere since a string change: the bridge moved towards the frets, or turned round, while the strings were off.",
        "Compare the 12th's harmonic with its stopped note at both outer strings.",
    );
    let heavier = cause(
        "strings-old",
        "Sharp everywhere since a string change: a heavier set, or another pitch, than the saddles were set for.",
        "Compare the set's gauges with those it came with, and tune to pitch.",
    );
    // saddles on screws stay where they are while strings are changed
    let is_on_screws = matches!(bench.bridge, Some(BridgeKind::ScrewSaddles | BridgeKind::Sprung));
    let causes = match (stands_free, is_on_screws) {
        (true, _) => vec![moved, nut],
        (false, true) => vec![nut, heavier],
        (false, false) => vec![nut, saddle],
    };
    let strings = bench.strings_seen(ObservationKey::SharpEverywhere);
    let words = "Sharp everywhere since the strings were changed.";
    walk.find(Stage::SimpleCauses, Found::new("sharp-everywhere", Severity::Watch, words).on(strings).because(causes));
    let is_found = bench.has(ObservationKey::NutReversed) || bench.has(ObservationKey::SaddleReversed);
    if is_found {
        return;
    }
    let step = if stands_free {
        "Look whether the bridge moved or was turned round while the strings were off, and whether the nut faces the right way. Put right what is wrong, tune, and tell what it was."
    } else if is_on_screws {
        "Look whether the nut faces the right way, and whether the new set is of the gauges and at the pitch that the saddles were set for. Put right what is wrong, tune, and tell what it was."
    } else {
        "Look whether nut and saddle face the right way; turn round what does not, tune, and tell what it was."
    };
    let settles = "it is known why every note is sharp";
    let look = Todo::reading(Stage::SimpleCauses, "sharp-everywhere", step, settles, Holds::Everything);
    walk.step(look.into_complaint());
}

/// A slack head sinks under the bridge and takes the strings with it: it comes before any height.
fn head_slack(bench: &Bench<'_>, walk: &mut Walk) {
    const KEY: &str = "head-slack";
    if !bench.has(ObservationKey::HeadSlack) {
        return;
    }
    if bench.bridge == Some(BridgeKind::LooseBridge) {
        let words = "The head is slack: the bridge sinks into it, the strings come down and the tone is dull. It comes before any height.";
        walk.find(Stage::SimpleCauses, Found::new(KEY, Severity::Work, words).service("head-tension"));
        let step = "Tighten the head crosswise, an eighth of a turn at each hook, until it is even at every hook by gauge or tap. Stop before a hook, the rim or the head gives way. Tune, and measure again.";
        walk.step(Todo::reversible(Stage::SimpleCauses, KEY, step));
        walk.caution(Stage::SimpleCauses, "string-tension");
        return;
    }
    let words = "A slack head was noted, yet the bridge of this instrument stands on none.";
    does_not_fit(walk, KEY, words, "Look whether it has a head, and what the bridge stands on; then tell.");
}

/// A bridge that tilts makes every height void.
fn bridge_tilts(bench: &Bench<'_>, walk: &mut Walk) {
    const KEY: &str = "bridge-tilts";
    if !bench.has(ObservationKey::BridgeTilts) {
        return;
    }
    let (words, step) = match bench.bridge {
        Some(BridgeKind::Sprung) => (
            "The bridge tilts: strings and springs are out of balance, and heights read so are void.",
            "Tune to pitch, then bring the bridge level at its springs, both sides alike, and tune again; repeat until it stands level at pitch. Then measure everything.",
        ),
        Some(BridgeKind::LooseBridge) => (
            "The bridge leans: heights and intonation read so are void.",
            "Slacken a little, stand the bridge upright with its feet flush on the top, tune, and look again. Then measure everything.",
        ),
        Some(BridgeKind::TwoPost | BridgeKind::ScrewSaddles) => (
            "The bridge leans: its posts or screws are bent, loose, or set unevenly, and heights read so are void.",
            "Slacken, set the bridge upright, look whether its posts or screws hold, tune, and look again. Then measure everything.",
        ),
        Some(BridgeKind::FixedSaddle) | None => {
            let words = "The bridge tilts under the strings: it may be lifting, or the top may have sunk before it.";
            let look = "Slide a strip of paper along the bridge's edges, sight along the top, and tell what it is: lifting, a loose brace, dry air, or nothing.";
            does_not_fit(walk, KEY, words, look);
            return;
        }
    };
    walk.find(Stage::SimpleCauses, Found::new(KEY, Severity::Work, words).service("setup"));
    walk.step(Todo::reversible(Stage::SimpleCauses, KEY, step));
    walk.caution(Stage::SimpleCauses, "string-tension");
}

/// Something seen that does not fit the instrument as it is described is looked at again.
fn does_not_fit(walk: &mut Walk, key: &'static str, words: &str, look: &str) {
    walk.find(Stage::SimpleCauses, Found::new(key, Severity::Watch, words));
    let settles = "it is known what was seen there";
    walk.step(Todo::reading(Stage::SimpleCauses, key, look, settles, Holds::Everything));
}

/// Noted here; it is freed where the saddle is worked on.
fn saddle_glued(bench: &Bench<'_>, walk: &mut Walk) {
    if !bench.has(ObservationKey::SaddleGlued) {
        return;
    }
    if !matches!(bench.bridge, Some(BridgeKind::FixedSaddle) | None) {
        let words = "A glued saddle was noted, yet this bridge has none that is glued.";
        does_not_fit(walk, "saddle-glued", words, "Look again, and tell what kind of bridge it is.");
        return;
    }
    let words =
        "The saddle is glued in. It is freed with warmth and patience before it can be cut, or it is shaped in place.";
    let service = bench.bridge.map(|_| "saddle-lower");
    walk.find(Stage::SimpleCauses, Found::new("saddle-glued", Severity::Watch, words).service(service));
}

/// Where a string frays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FraysAt {
    Nut,
    Bridge,
    Tuner,
    /// Somewhere that was said in other words.
    Said,
    NotSaid,
}

impl FraysAt {
    fn of(said: &str) -> Self {
        let said = said.to_lowercase();
        let has = |words: &[&str]| words.iter().any(|word| said.contains(word));
        if said.trim().is_empty() {
            Self::NotSaid
        } else if has(&["nut", "zero fret"]) {
            Self::Nut
        } else if has(&["saddle", "bridge"]) {
            Self::Bridge
        } else if has(&["tuner", "peg", "post", "machine"]) {
            Self::Tuner
        } else {
            Self::Said
        }
    }
}

/// Fraying at one place is a rough edge there. Where no place was noted it is looked for.
fn sharp_edges(bench: &Bench<'_>, walk: &mut Walk) {
    let all = bench.strings.len();
    if bench.has(ObservationKey::EdgeSharp) {
        let strings = bench.strings_seen(ObservationKey::EdgeSharp);
        rough_edge(walk, &strings, all, FraysAt::Nut, "");
    }
    let mut places: Vec<(FraysAt, &str, Vec<usize>)> = Vec::new();
    for seen in bench.seen(ObservationKey::Fraying) {
        let said = seen.at.as_deref().unwrap_or("").trim();
        let at = FraysAt::of(said);
        let same = places.iter_mut().find(|(known, words, _)| *known == at && (at != FraysAt::Said || *words == said));
        match same {
            Some((_, _, strings)) => strings.extend(seen.string),
            None => places.push((at, said, seen.string.into_iter().collect())),
        }
    }
    for (at, said, mut strings) in places {
        strings.sort_unstable();
        strings.dedup();
        if at == FraysAt::NotSaid {
            frays_somewhere(walk, &strings, all);
        } else if at != FraysAt::Nut || !bench.has(ObservationKey::EdgeSharp) {
            rough_edge(walk, &strings, all, at, said);
        }
    }
}

fn on_strings(strings: &[usize], all: usize) -> String {
    if strings.is_empty() { String::new() } else { format!(" on {}", said_strings(strings, all)) }
}

fn rough_edge(walk: &mut Walk, strings: &[usize], all: usize, at: FraysAt, said: &str) {
    let (place, service) = match at {
        FraysAt::Nut => ("at the nut's slot".to_owned(), Some("nut-slots")),
        FraysAt::Bridge => ("at the bridge".to_owned(), Some("setup")),
        FraysAt::Tuner => ("at the tuner's post".to_owned(), Some("tuner-service")),
        FraysAt::Said | FraysAt::NotSaid => (format!("where it was noted (“{said}”)"), Some("setup")),
    };
    let on = on_strings(strings, all);
    let words = format!("A sharp or rough edge {place}{on}: it frays the string. The string is not at fault.");
    walk.find(Stage::Edges, Found::new("edge-sharp", Severity::Work, words).on(strings.to_vec()).service(service));
    let step = format!("Ease and polish the edge {place}{on}, then put on a fresh string and measure again.");
    walk.step(Todo::irreversible(Stage::Edges, "edge-sharp", step));
    walk.caution(Stage::Edges, "string-tension");
}

fn frays_somewhere(walk: &mut Walk, strings: &[usize], all: usize) {
    let on = on_strings(strings, all);
    let words = format!("A string frays{on}; where along it was not noted.");
    walk.find(Stage::SimpleCauses, Found::new("fraying", Severity::Watch, words).on(strings.to_vec()));
    let step = format!(
        "Find where the string frays{on}: lay the break against nut, bridge and tuner. Tell the place; the edge there is eased."
    );
    let settles = "it is known where the string frays";
    let look = Todo::reading(Stage::SimpleCauses, "fraying", step, settles, Holds::WhatCannotBeUndone);
    walk.step(look.into_complaint());
}

fn rounded_edges(bench: &Bench<'_>, walk: &mut Walk) {
    if !bench.has(ObservationKey::EdgeRounded) {
        return;
    }
    let rounded = bench.strings_seen(ObservationKey::EdgeRounded);
    let on = on_strings(&rounded, bench.strings.len());
    let words = format!(
        "The front edge of the slot is rounded{on}: the string leaves behind the front and buzzes or reads flat."
    );
    walk.find(Stage::Edges, Found::new("edge-rounded", Severity::Work, words).on(rounded).service("nut-slots"));
    walk.step(Todo::irreversible(
        Stage::Edges,
        "edge-rounded",
        "Ramp the slot down towards the tuner, so that the string leaves at the very front; its height at the front stays.",
    ));
    walk.caution(Stage::Edges, "bone-dust");
}

fn strings_old(bench: &Bench<'_>, walk: &mut Walk) {
    if !bench.has(ObservationKey::StringsOld) {
        return;
    }
    let words = "The strings are old: they read sharp up the neck and break at the bench.";
    let strings = bench.strings_seen(ObservationKey::StringsOld);
    walk.find(Stage::Strings, Found::new("strings-old", Severity::Work, words).on(strings).service("restring"));
    walk.step(Todo::reversible(
        Stage::Strings,
        "strings-old",
        "Put new strings of the same set on, stretch and tune them, and measure again.",
    ));
    walk.caution(Stage::Strings, "string-tension");
}
