//! Frets and board: what the eye and the straightedge find. Levelling changes heights, so it comes before slot and
//! saddle, and what follows is read again.

use super::bench::Bench;
use super::built::NutKind;
use super::observation::ObservationKey;
use super::output::Severity;
use super::read::as_number;
use super::said::capital;
use super::walk::{Found, Stage, Todo, Walk};

/// A zero fret this far under the others is worn, mm; so far over them it stands high. Common practice, no source.
const ZERO_FRET_WORN_MM: f64 = 0.03;
const ZERO_FRET_HIGH_MM: f64 = 0.15;

/// What was seen, what it is, what is done, the service.
struct Fault {
    seen: ObservationKey,
    words: &'static str,
    step: &'static str,
    service: &'static str,
}

const FAULTS: &[Fault] = &[
    Fault {
        seen: ObservationKey::FretHigh,
        words: "A fret stands high or loose.",
        step: "Where it springs back when pressed it is loose: reseat and glue it; else level it with its neighbours. Then measure again.",
        service: "fret-level",
    },
    Fault {
        seen: ObservationKey::FretsWorn,
        words: "The frets are worn under the strings.",
        step: "Dress the frets: level, crown and polish as far as their height allows; else quote new frets. Then measure everything again.",
        service: "fret-dress",
    },
    Fault {
        seen: ObservationKey::BoardRises,
        words: "The board rises beyond the body joint.",
        step: "Level the last frets with a fall-away, then measure again.",
        service: "fret-level",
    },
];

/// "fret 8 stands", "frets 8 and 11 stand": the high ones that were noted.
fn frets_named(bench: &Bench<'_>, key: ObservationKey) -> Option<(String, &'static str)> {
    if key != ObservationKey::FretHigh {
        return None;
    }
    let mut frets: Vec<usize> = bench.seen(key).filter_map(|seen| seen.fret).collect();
    frets.sort_unstable();
    frets.dedup();
    match frets.as_slice() {
        [] => None,
        [only] => Some((format!("fret {only}"), "stands")),
        [rest @ .., last] => {
            let rest = rest.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            Some((format!("frets {rest} and {last}"), "stand"))
        }
    }
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    for fault in FAULTS {
        let key = fault.seen;
        if !bench.has(key) {
            continue;
        }
        let fret = bench.seen(key).find_map(|seen| seen.fret);
        let which = frets_named(bench, key);
        let words = match &which {
            Some(which) => format!("{} {} high or loose.", capital(&which.0), which.1),
            None => fault.words.to_owned(),
        };
        let mut found = Found::new(key.key(), Severity::Work, words).on(bench.strings_seen(key)).service(fault.service);
        if let Some(fret) = fret {
            found = found.with("fret", as_number(fret));
        }
        walk.find(Stage::Frets, found);
        walk.caution(Stage::Frets, "fret-dust");
        let step = if key == ObservationKey::FretHigh && fret.is_none() {
            format!("Find which fret it is: rock a short straightedge over three frets at a time. {}", fault.step)
        } else if let Some((which, _)) = which {
            format!("Press {which}. {}", fault.step)
        } else {
            fault.step.to_owned()
        };
        walk.step(Todo::irreversible(Stage::Frets, key.key(), step));
        if key == ObservationKey::FretsWorn {
            let words = "Where the frets have no height left to dress, new frets are the repair.";
            walk.find(Stage::Frets, Found::new(key.key(), Severity::Watch, words).service("refret"));
        }
    }
    zero_fret(bench, walk);
}

/// Where a zero fret stands over the line of the others under one string, mm, with what the readings leave of it.
pub(super) fn zero_fret_mm(bench: &Bench<'_>, place: usize) -> Option<(f64, f64)> {
    let string = bench.strings.get(place)?;
    let (first, action) = (string.first?, string.action?);
    let frame = bench.frame(place);
    let (x_1, x_12) = (frame.position_mm(1), frame.position_mm(12));
    let nut_mm = frame.string(first.value, action.value).nut_mm;
    // by similar triangles a reading over the 1st counts nearly whole, one at the 12th by a little
    let expanded = (first.expanded * x_12 / (x_12 - x_1)).hypot(action.expanded * x_1 / (x_12 - x_1));
    Some((nut_mm, expanded))
}

/// A zero fret carries the open strings: worn, they buzz; high, the first frets read sharp. Nothing is cut at the nut
/// for it.
fn zero_fret(bench: &Bench<'_>, walk: &mut Walk) {
    if bench.nut != NutKind::ZeroFret {
        return;
    }
    let stands: Vec<(usize, f64, f64)> = bench
        .numbers()
        .filter_map(|number| {
            let (stands_mm, expanded) = zero_fret_mm(bench, number - 1)?;
            Some((number, stands_mm, expanded))
        })
        .collect();
    let worn = |(_, mm, expanded): &&(usize, f64, f64)| mm + expanded < -ZERO_FRET_WORN_MM;
    let high = |(_, mm, expanded): &&(usize, f64, f64)| mm - expanded > ZERO_FRET_HIGH_MM;
    let of = |strings: &[&(usize, f64, f64)]| strings.iter().map(|(number, ..)| *number).collect::<Vec<usize>>();
    let worn: Vec<&(usize, f64, f64)> = stands.iter().filter(worn).collect();
    let high: Vec<&(usize, f64, f64)> = stands.iter().filter(high).collect();
    for (strings, key, words, step) in [
        (
            worn,
            "frets-worn",
            "The zero fret is worn under the strings: it stands under the line of the others, and open strings buzz. The nut only guides them; nothing is filed there.",
            "Replace the zero fret with one of the others' height; then measure again.",
        ),
        (
            high,
            "fret-high",
            "The zero fret stands high over the line of the others: the first frets are hard to press. The nut only guides the strings; nothing is filed there.",
            "Level the zero fret to its neighbours, or replace it; then measure again.",
        ),
    ] {
        let Some((_, mm, expanded)) =
            strings.iter().max_by(|(_, one, _), (_, other, _)| one.abs().total_cmp(&other.abs()))
        else {
            continue;
        };
        let found = Found::new(key, Severity::Work, words).on(of(&strings)).service("fret-level");
        walk.find(Stage::Frets, found.with("zero_fret_mm", *mm).with("expanded_mm", *expanded));
        walk.caution(Stage::Frets, "fret-dust");
        if !walk.has_step(key) {
            walk.step(Todo::irreversible(Stage::Frets, key, step));
        }
    }
}

/// Whether the readings alone call the zero fret worn.
pub(super) fn zero_fret_is_worn(bench: &Bench<'_>) -> bool {
    bench.nut == NutKind::ZeroFret
        && bench.numbers().any(|number| {
            zero_fret_mm(bench, number - 1).is_some_and(|(mm, expanded)| mm + expanded < -ZERO_FRET_WORN_MM)
        })
}
