//! Symptoms weighed with the readings: each likely cause ranked with its reason, the least costly check first.

use super::bench::{Bench, Read};
use super::types::{Cause, ObservationKey, PlanObservation, Severity};
use super::walk::{Found, Stage, Todo, Walk, said_strings};

/// Frets at which too little relief shows.
const LOW_FRETS: std::ops::RangeInclusive<usize> = 1..=4;

pub(super) fn weigh(bench: &Bench<'_>, walk: &mut Walk) {
    for key in [ObservationKey::Buzz, ObservationKey::Choke] {
        for pattern in patterns(bench, key) {
            buzzes(bench, walk, key, &pattern);
        }
    }
    if bench.has(ObservationKey::SharpLowFrets) {
        sharp_low_frets(bench, walk);
    }
}

/// A nut or saddle put back the wrong way round reads as an intonation fault: looked at before anything is filed.
pub(super) fn sharp_everywhere(bench: &Bench<'_>, walk: &mut Walk) {
    if !bench.has(ObservationKey::SharpEverywhere) {
        return;
    }
    let strings = bench.strings_seen(ObservationKey::SharpEverywhere);
    let of = |key: &'static str, what: &str| Likely {
        key,
        reason: format!("Sharp everywhere since a string change: the {what} went back the wrong way round."),
        check: "Look at its compensation and its ramp: the front edge belongs at the frets.",
        cost: 0,
    };
    let causes = ranked(bench, walk, &strings, vec![of("nut-reversed", "nut"), of("saddle-reversed", "saddle")]);
    suspect(walk, &causes, None);
    let mut found =
        Found::new("sharp-everywhere", Severity::Watch, "Sharp everywhere since the strings were changed.").on(strings);
    found.causes = causes;
    walk.find(Stage::SimpleCauses, found);
}

fn sharp_low_frets(bench: &Bench<'_>, walk: &mut Walk) {
    let strings = bench.strings_seen(ObservationKey::SharpLowFrets);
    let nut = Likely {
        key: "nut-high",
        reason: "Only the first frets are sharp: the string is bent down from a high nut.".to_owned(),
        check: "Stop at the 3rd fret and read the gap over the 1st.",
        cost: 0,
    };
    let causes = ranked(bench, walk, &strings, vec![nut]);
    let mut found = Found::new("sharp-low-frets", Severity::Watch, "Sharp at frets 1 to 3 only.").on(strings);
    found.causes = causes;
    walk.find(Stage::Nut, found);
}

/// Where on the neck a string touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Region {
    Open,
    /// Stopped at this fret only, before the body joint.
    OneFret(usize),
    /// Stopped at several of the first frets.
    Low,
    Beyond,
    Everywhere,
}

/// Strings that touch in the same region, with the frets they were heard at.
#[derive(Debug)]
struct Pattern {
    region: Region,
    strings: Vec<usize>,
    frets: Vec<usize>,
}

/// Each string is judged by itself: an open 6th and a 1st string at fret 17 have nothing in common.
fn patterns(bench: &Bench<'_>, key: ObservationKey) -> Vec<Pattern> {
    let seen: Vec<&PlanObservation> = bench.seen(key).collect();
    let mut strings: Vec<Option<usize>> = seen.iter().map(|seen| seen.string).collect();
    strings.sort_unstable();
    strings.dedup();
    let mut patterns: Vec<Pattern> = Vec::new();
    for string in strings {
        let mut frets: Vec<usize> =
            seen.iter().filter(|seen| seen.string == string).filter_map(|seen| seen.fret).collect();
        frets.sort_unstable();
        frets.dedup();
        let region = region(&frets, bench.input.instrument.body_fret);
        match patterns.iter_mut().find(|pattern| pattern.region == region) {
            Some(pattern) => {
                pattern.strings.extend(string);
                pattern.frets.extend(&frets);
                pattern.frets.sort_unstable();
                pattern.frets.dedup();
            }
            None => patterns.push(Pattern { region, strings: string.into_iter().collect(), frets }),
        }
    }
    patterns
}

fn region(frets: &[usize], body: usize) -> Region {
    match frets {
        [0] => Region::Open,
        [_, ..] if frets.iter().all(|fret| *fret >= body) => Region::Beyond,
        [only] => Region::OneFret(*only),
        [_, ..] if frets.iter().all(|fret| LOW_FRETS.contains(fret)) => Region::Low,
        _ => Region::Everywhere,
    }
}

fn buzzes(bench: &Bench<'_>, walk: &mut Walk, key: ObservationKey, pattern: &Pattern) {
    let likely = match pattern.region {
        Region::Open => open_string(),
        Region::OneFret(fret) if LOW_FRETS.contains(&fret) => vec![low_frets(), one_fret(fret)],
        Region::OneFret(fret) => vec![one_fret(fret)],
        Region::Low => vec![low_frets()],
        Region::Beyond => beyond_the_joint(),
        Region::Everywhere => everywhere(),
    };
    let on = match pattern.strings.as_slice() {
        [] => String::new(),
        strings => format!(" on {}", said_strings(strings, bench.strings.len())),
    };
    let verb = if key == ObservationKey::Choke { "Chokes" } else { "Buzzes" };
    let causes = ranked(bench, walk, &pattern.strings, likely);
    suspect(walk, &causes, pattern.frets.first().copied());
    let words = format!("{verb} {}{on}.", said_frets(pattern));
    let mut found = Found::new(key.key(), Severity::Watch, words).on(pattern.strings.clone());
    found.causes = causes;
    walk.find(Stage::Frets, found);
}

fn said_frets(pattern: &Pattern) -> String {
    match (pattern.region, pattern.frets.as_slice()) {
        (Region::Open, _) => "on the open string only".to_owned(),
        (Region::Beyond, [only]) => format!("at fret {only}, beyond the body joint"),
        (Region::Beyond, [first, .., last]) => format!("at frets {first} to {last}, beyond the body joint"),
        (_, [only]) => format!("when stopped at fret {only}"),
        (_, [0, .., last]) => format!("open and when stopped up to fret {last}"),
        (_, [first, .., last]) => format!("when stopped between frets {first} and {last}"),
        (_, []) => "somewhere".to_owned(),
    }
}

/// A cause that a symptom points to, and what its check costs: 0 is a look, 1 a reading, 2 a tool.
struct Likely {
    key: &'static str,
    reason: String,
    check: &'static str,
    cost: u8,
}

/// What the readings say of a cause.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Evidence {
    /// A finding or a reading shows it.
    Shows,
    /// Nothing was read that could tell.
    Silent,
    /// A reading stands where it should: the cause is looked at last.
    Against(String),
}

/// The causes that readings show first, then those nothing was read of, then those readings speak against;
/// within each the least costly check first.
fn ranked(bench: &Bench<'_>, walk: &Walk, strings: &[usize], likely: Vec<Likely>) -> Vec<Cause> {
    let mut weighed: Vec<(Evidence, Likely)> =
        likely.into_iter().map(|likely| (evidence(bench, walk, strings, likely.key), likely)).collect();
    weighed.sort_by_key(|(evidence, likely)| {
        let doubt = match evidence {
            Evidence::Shows => 0,
            Evidence::Silent => 1,
            Evidence::Against(_) => 2,
        };
        (doubt, likely.cost)
    });
    let cause = |(evidence, likely): (Evidence, Likely)| {
        let reason = match evidence {
            Evidence::Shows => format!("{} The bench found it.", likely.reason),
            Evidence::Silent => likely.reason,
            Evidence::Against(words) => format!("{} Less likely: {words}.", likely.reason),
        };
        Cause { key: likely.key.to_owned(), reason, check: likely.check.to_owned() }
    };
    weighed.into_iter().map(cause).collect()
}

fn evidence(bench: &Bench<'_>, walk: &Walk, strings: &[usize], key: &str) -> Evidence {
    if walk.has(key) {
        return Evidence::Shows;
    }
    let of_strings = |what: fn(&super::bench::StringRead) -> Option<Read>| -> Option<Vec<(usize, Read)>> {
        let numbers: Vec<usize> =
            if strings.is_empty() { (1..=bench.strings.len()).collect() } else { strings.to_vec() };
        numbers.into_iter().map(|number| Some((number, what(bench.strings.get(number - 1)?)?))).collect()
    };
    let stands = |what: &str, read: &Read| Evidence::Against(format!("{what} reads {} mm, as it should", read.said()));
    let targets = &bench.targets;
    match key {
        "relief-too-little" => match bench.relief {
            Some(relief) if relief.value >= targets.relief_least_mm => stands("relief", &relief),
            _ => Evidence::Silent,
        },
        "nut-low" | "nut-high" => {
            let high = key == "nut-high";
            let good = |read: &Read| {
                if high { read.value <= targets.gap_most_mm } else { read.value >= targets.gap_least_mm }
            };
            match of_strings(|string| string.gap) {
                Some(gaps) if gaps.iter().all(|(_, gap)| good(gap)) => {
                    gaps.first().map_or(Evidence::Silent, |(_, gap)| stands("the gap over the 1st", gap))
                }
                _ => Evidence::Silent,
            }
        }
        "saddle-low" => {
            let least = |number: usize| bench.action_target(number - 1) - targets.action_tolerance_mm;
            match of_strings(|string| string.action) {
                Some(heights) if heights.iter().all(|(number, height)| height.value >= least(*number)) => {
                    heights.first().map_or(Evidence::Silent, |(_, height)| stands("the height at the 12th", height))
                }
                _ => Evidence::Silent,
            }
        }
        "air-dry" => match bench.input.air {
            Some(air) if air.rh_percent >= bench.house.air.good_rh_percent[0] => {
                Evidence::Against(format!("the air is at {:.0} %", air.rh_percent))
            }
            _ => Evidence::Silent,
        },
        _ => Evidence::Silent,
    }
}

fn open_string() -> Vec<Likely> {
    vec![
        Likely {
            key: "nut-low",
            reason: "Only the open string touches: what holds it there is the nut.".to_owned(),
            check: "Stop at the 3rd fret and read the gap over the 1st.",
            cost: 1,
        },
        Likely {
            key: "edge-rounded",
            reason: "A slot whose edge lies behind the front lets the string rattle in it.".to_owned(),
            check: "Look along the slot with a lens: the string must leave at the very front.",
            cost: 0,
        },
    ]
}

fn low_frets() -> Likely {
    Likely {
        key: "relief-too-little",
        reason: "Stopped at frets 1 to 4 the string clears the middle of the neck only through relief.".to_owned(),
        check: "Read relief half-way between fret 1 and the body joint.",
        cost: 1,
    }
}

fn one_fret(fret: usize) -> Likely {
    Likely {
        key: "fret-high",
        reason: format!("It touches when stopped at fret {fret} and nowhere else: fret {} stands high.", fret + 1),
        check: "Rock a short straightedge over three frets at a time.",
        cost: 2,
    }
}

fn beyond_the_joint() -> Vec<Likely> {
    vec![
        Likely {
            key: "saddle-low",
            reason: "Beyond the body joint only the saddle and the board decide.".to_owned(),
            check: "Read the heights at the 12th.",
            cost: 1,
        },
        Likely {
            key: "board-rises",
            reason: "A board that rises beyond the joint meets the string there.".to_owned(),
            check: "Lay a straightedge over the frets up to the joint and look at the last ones.",
            cost: 2,
        },
    ]
}

fn everywhere() -> Vec<Likely> {
    let of = |key, reason: &str, check, cost| Likely { key, reason: reason.to_owned(), check, cost };
    vec![
        of(
            "air-dry",
            "In dry air the top sinks and the strings come down everywhere.",
            "Read the air and ask where the instrument has been.",
            0,
        ),
        of("relief-too-little", "With too little relief the string runs close to many frets.", "Read relief.", 1),
        of("saddle-low", "Low at the 12th is low everywhere.", "Read the heights at the 12th.", 1),
    ]
}

/// The likeliest cause, where the readings have not found it yet, is looked at before anything is done for it.
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
