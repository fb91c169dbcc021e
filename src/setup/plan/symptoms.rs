//! Symptoms weighed with the readings: each likely cause ranked with its reason, the least costly check first.

use super::bench::Bench;
use super::types::{Cause, ObservationKey, PlanObservation, Severity};
use super::walk::{Found, Stage, Todo, Walk, said_strings};

/// Frets at which too little relief shows.
const LOW_FRETS: std::ops::RangeInclusive<usize> = 1..=4;

pub(super) fn weigh(bench: &Bench<'_>, walk: &mut Walk) {
    for key in [ObservationKey::Buzz, ObservationKey::Choke] {
        buzzes(bench, walk, key);
    }
    if bench.has(ObservationKey::SharpLowFrets) {
        sharp_low_frets(bench, walk);
    }
}

/// A cause with how well the readings speak for it and what its check costs; lower is looked at first.
struct Weighed {
    key: &'static str,
    reason: String,
    check: &'static str,
    /// 0: a reading shows it; 1: the symptom points to it; 2: possible.
    doubt: u8,
    cost: u8,
}

fn ranked(mut causes: Vec<Weighed>) -> Vec<Cause> {
    causes.sort_by_key(|cause| (cause.doubt, cause.cost));
    causes
        .into_iter()
        .map(|cause| Cause { key: cause.key.to_owned(), reason: cause.reason, check: cause.check.to_owned() })
        .collect()
}

fn buzzes(bench: &Bench<'_>, walk: &mut Walk, key: ObservationKey) {
    let seen: Vec<&PlanObservation> = bench.seen(key).collect();
    if seen.is_empty() {
        return;
    }
    let mut places: Vec<usize> = seen.iter().filter_map(|seen| seen.fret).collect();
    places.sort_unstable();
    places.dedup();
    let body = bench.input.instrument.body_fret;
    let open_only = places.iter().all(|fret| *fret == 0);
    let low_only = places.iter().all(|fret| LOW_FRETS.contains(fret));
    let beyond_only = places.iter().all(|fret| *fret >= body);
    let causes = if open_only {
        open_string(walk)
    } else if places.len() == 1 && !beyond_only {
        let mut causes = one_fret(walk, places[0]);
        if low_only {
            causes.extend(low_frets(walk));
        }
        causes
    } else if low_only {
        low_frets(walk)
    } else if beyond_only {
        beyond_the_joint(walk)
    } else {
        everywhere(walk)
    };
    let strings = bench.strings_seen(key);
    let where_ = said_places(&places, body);
    let on =
        if strings.is_empty() { String::new() } else { format!(" on {}", said_strings(&strings, bench.strings.len())) };
    let verb = if key == ObservationKey::Choke { "Chokes" } else { "Buzzes" };
    let causes = ranked(causes);
    suspect(walk, &causes, places.first().copied());
    let mut found = Found::new(key.key(), Severity::Watch, format!("{verb} {where_}{on}.")).on(strings);
    found.causes = causes;
    walk.find(Stage::Frets, found);
}

fn said_places(places: &[usize], body: usize) -> String {
    match places {
        [0] => "on the open string only".to_owned(),
        [only] if *only >= body => format!("at fret {only}, beyond the body joint"),
        [only] => format!("when stopped at fret {only}"),
        [first, .., last] => format!("when stopped between frets {first} and {last}"),
        [] => "somewhere".to_owned(),
    }
}

fn shown(walk: &Walk, key: &str) -> u8 {
    if walk.has(key) { 0 } else { 1 }
}

fn open_string(walk: &Walk) -> Vec<Weighed> {
    vec![
        Weighed {
            key: "nut-low",
            reason: "Only the open string touches: what holds it there is the nut.".to_owned(),
            check: "Stop at the 3rd fret and read the gap over the 1st.",
            doubt: shown(walk, "nut-low"),
            cost: 1,
        },
        Weighed {
            key: "edge-rounded",
            reason: "A slot whose edge lies behind the front lets the string rattle in it.".to_owned(),
            check: "Look along the slot with a lens: the string must leave at the very front.",
            doubt: if walk.has("edge-rounded") { 0 } else { 2 },
            cost: 0,
        },
    ]
}

fn low_frets(walk: &Walk) -> Vec<Weighed> {
    vec![Weighed {
        key: "relief-too-little",
        reason: "Stopped at frets 1 to 4 the string clears the middle of the neck only through relief.".to_owned(),
        check: "Read relief half-way between fret 1 and the body joint.",
        doubt: shown(walk, "relief-too-little"),
        cost: 0,
    }]
}

fn one_fret(walk: &Walk, fret: usize) -> Vec<Weighed> {
    vec![Weighed {
        key: "fret-high",
        reason: format!("It touches when stopped at fret {fret} and nowhere else: fret {} stands high.", fret + 1),
        check: "Rock a short straightedge over three frets at a time.",
        doubt: shown(walk, "fret-high"),
        cost: 1,
    }]
}

fn beyond_the_joint(walk: &Walk) -> Vec<Weighed> {
    vec![
        Weighed {
            key: "saddle-low",
            reason: "Beyond the body joint only the saddle and the board decide.".to_owned(),
            check: "Read the heights at the 12th.",
            doubt: shown(walk, "saddle-low"),
            cost: 0,
        },
        Weighed {
            key: "board-rises",
            reason: "A board that rises beyond the joint meets the string there.".to_owned(),
            check: "Lay a straightedge over the frets up to the joint and look at the last ones.",
            doubt: shown(walk, "board-rises"),
            cost: 1,
        },
    ]
}

fn everywhere(walk: &Walk) -> Vec<Weighed> {
    let of = |key, reason: &str, check, cost| Weighed {
        key,
        reason: reason.to_owned(),
        check,
        doubt: shown(walk, key),
        cost,
    };
    vec![
        of(
            "air-dry",
            "In dry air the top sinks and the strings come down everywhere.",
            "Read the air and ask where the instrument has been.",
            0,
        ),
        of("relief-too-little", "With too little relief the string runs close to many frets.", "Read relief.", 1),
        of("saddle-low", "Low at the 12th is low everywhere.", "Read the heights at the 12th.", 2),
    ]
}

/// A nut or saddle put back the wrong way round reads as an intonation fault: looked at before anything is filed.
pub(super) fn sharp_everywhere(bench: &Bench<'_>, walk: &mut Walk) {
    if !bench.has(ObservationKey::SharpEverywhere) {
        return;
    }
    let of = |key: &'static str, what: &str, doubt| Weighed {
        key,
        reason: format!("Sharp everywhere since a string change: the {what} went back the wrong way round."),
        check: "Look at its compensation and its ramp: the front edge belongs at the frets.",
        doubt,
        cost: 0,
    };
    let causes = ranked(vec![
        of("nut-reversed", "nut", shown(walk, "nut-reversed")),
        of("saddle-reversed", "saddle", shown(walk, "saddle-reversed")),
    ]);
    suspect(walk, &causes, None);
    let strings = bench.strings_seen(ObservationKey::SharpEverywhere);
    let mut found =
        Found::new("sharp-everywhere", Severity::Watch, "Sharp everywhere since the strings were changed.").on(strings);
    found.causes = causes;
    walk.find(Stage::SimpleCauses, found);
}

fn sharp_low_frets(bench: &Bench<'_>, walk: &mut Walk) {
    let causes = ranked(vec![Weighed {
        key: "nut-high",
        reason: "Only the first frets are sharp: the string is bent down from a high nut.".to_owned(),
        check: "Stop at the 3rd fret and read the gap over the 1st.",
        doubt: shown(walk, "nut-high"),
        cost: 0,
    }]);
    let strings = bench.strings_seen(ObservationKey::SharpLowFrets);
    let mut found = Found::new("sharp-low-frets", Severity::Watch, "Sharp at frets 1 to 3 only.").on(strings);
    found.causes = causes;
    walk.find(Stage::Nut, found);
}

/// The likeliest cause, where the readings have not found it yet, is looked at before anything is cut for it.
fn suspect(walk: &mut Walk, causes: &[Cause], fret: Option<usize>) {
    let Some(likeliest) = causes.first() else {
        return;
    };
    let (stage, key, words) = match likeliest.key.as_str() {
        "nut-reversed" | "saddle-reversed" => (
            Stage::SimpleCauses,
            "nut-reversed",
            "Look whether nut and saddle face the right way; turn what does not, tune, and measure again.".to_owned(),
        ),
        "fret-high" => {
            let fret = fret.map_or(String::new(), |fret| format!(" around fret {}", fret + 1));
            (
                Stage::Frets,
                "fret-high",
                format!("Rock a short straightedge over three frets at a time{fret}; level only what rocks."),
            )
        }
        "board-rises" => (
            Stage::Frets,
            "board-rises",
            "Lay a straightedge over the last frets; level only what stands over it.".to_owned(),
        ),
        _ => return,
    };
    if walk.has(&likeliest.key) || walk.has_step(key) {
        return;
    }
    let found = Found::new(key, Severity::Watch, format!("Suspected: {}", likeliest.reason));
    walk.find(stage, found);
    walk.step(Todo::plain(stage, key, words));
}
