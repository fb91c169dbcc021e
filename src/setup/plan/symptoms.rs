//! Symptoms weighed with the readings: each likely cause ranked with its reason, the least costly check first. A
//! symptom that no finding explains ends in a look, and nothing is taken off before that look was had. A cause that
//! is only suspected is never called found.

use super::bench::Bench;
use super::built::{BridgeKind, NutKind, PlanRod};
use super::fretwork::zero_fret_is_worn;
use super::judged::Judged;
use super::observation::{ObservationKey, PlanObservation};
use super::output::{Cause, Severity};
use super::read::{Read, StringRead};
use super::stand::Stand;
use super::walk::{Found, Holds, Stage, Todo, Walk, said_strings};

/// Said of a cause that a reading speaks against.
const LESS_LIKELY: &str = "Less likely:";
/// Frets at which too little relief shows.
const LOW_FRETS: std::ops::RangeInclusive<usize> = 1..=4;

pub(super) fn weigh(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    for key in [ObservationKey::Buzz, ObservationKey::Choke] {
        for pattern in patterns(bench, key) {
            buzzes(bench, judged, walk, key, &pattern);
        }
    }
    if bench.has(ObservationKey::SharpLowFrets) {
        sharp_low_frets(bench, judged, walk);
    }
}

fn sharp_low_frets(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    const KEY: &str = "sharp-low-frets";
    let strings = bench.strings_seen(ObservationKey::SharpLowFrets);
    let nut = if bench.nut == NutKind::ZeroFret {
        Likely {
            key: "fret-high",
            reason: "Only the first frets are sharp: the string is bent down from a high zero fret.".to_owned(),
            check: "Read the open height over the 1st, and rock a straightedge over the zero fret.",
            cost: 1,
        }
    } else {
        Likely {
            key: "nut-high",
            reason: "Only the first frets are sharp: the string is bent down from a high nut.".to_owned(),
            check: "Stop at the 3rd fret and read the gap over the 1st.",
            cost: 0,
        }
    };
    let pressing = Likely {
        key: "strings-old",
        reason: "Old strings, tall frets or a hard hand read sharp low on the neck too.".to_owned(),
        check: "Stop lightly just behind the fret, with a fresh string, and compare.",
        cost: 1,
    };
    let (causes, is_explained) = ranked(bench, judged, walk, &strings, vec![nut, pressing]);
    let look = causes.first().map_or_else(String::new, |cause| cause.check.clone());
    walk.find(
        Stage::Frets,
        Found::new(KEY, Severity::Watch, "Sharp at frets 1 to 3 only.").on(strings).because(causes),
    );
    if !is_explained {
        let words = format!("{look} Then tell what it is.");
        let settles = "it is known why the first frets are sharp";
        let look = Todo::reading(Stage::Frets, KEY, words, settles, Holds::WhatCannotBeUndone);
        walk.step(look.into_complaint());
    }
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

fn buzzes(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk, key: ObservationKey, pattern: &Pattern) {
    let likely = match pattern.region {
        Region::Open if bench.nut == NutKind::ZeroFret => zero_fret(),
        Region::Open => open_string(),
        Region::OneFret(fret) if LOW_FRETS.contains(&fret) => vec![low_frets(), one_fret(fret)],
        Region::OneFret(fret) => vec![one_fret(fret)],
        Region::Low => vec![low_frets(), uneven("Several of the first frets may be uneven.")],
        Region::Beyond => beyond_the_joint(),
        Region::Everywhere => everywhere(bench, judged),
    };
    let on = match pattern.strings.as_slice() {
        [] => String::new(),
        strings => format!(" on {},", said_strings(strings, bench.strings.len())),
    };
    let verb = if key == ObservationKey::Choke { "Chokes" } else { "Buzzes" };
    let at = said_frets(pattern);
    let (causes, is_explained) = ranked(bench, judged, walk, &pattern.strings, likely);
    // what reads as it should is not read once more
    let open = causes.iter().filter(|cause| !cause.reason.contains(LESS_LIKELY)).count().clamp(1, 2);
    let looks: Vec<String> = causes.iter().take(open).map(|cause| cause.check.clone()).collect();
    walk.find(
        Stage::Frets,
        Found::new(key.key(), Severity::Watch, format!("{verb}{on} {at}.")).on(pattern.strings.clone()).because(causes),
    );
    if is_explained {
        return;
    }
    let words = format!("{} Then tell what it is; nothing is taken off for it before.", looks.join(" "));
    let settles = format!("it is known why it {}{on} {at}", verb.to_lowercase());
    let look = Todo::reading(Stage::Frets, key.key(), words, settles, Holds::WhatCannotBeUndone);
    walk.step(look.into_complaint());
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
#[derive(Debug, Clone, PartialEq, Eq)]
enum Evidence {
    /// A reading or the eye found it, and the plan deals with it.
    Found,
    /// Nothing was read that could tell.
    Silent,
    /// A reading stands where it should: the cause is looked at last.
    Against(String),
}

/// The causes that were found first, then those nothing was read of, then those readings speak against; within each
/// the least costly check first. Whether the first of them was found comes with it.
fn ranked(
    bench: &Bench<'_>,
    judged: &Judged,
    walk: &Walk,
    strings: &[usize],
    likely: Vec<Likely>,
) -> (Vec<Cause>, bool) {
    let mut weighed: Vec<(Evidence, Likely)> =
        likely.into_iter().map(|likely| (evidence(bench, judged, walk, strings, likely.key), likely)).collect();
    weighed.sort_by_key(|(evidence, likely)| {
        let doubt = match evidence {
            Evidence::Found => 0,
            Evidence::Silent => 1,
            Evidence::Against(_) => 2,
        };
        (doubt, likely.cost)
    });
    let is_found = weighed.first().is_some_and(|(evidence, _)| *evidence == Evidence::Found);
    let cause = |(evidence, likely): (Evidence, Likely)| {
        let reason = match evidence {
            Evidence::Found => format!("{} The bench found it.", likely.reason),
            Evidence::Silent => likely.reason,
            Evidence::Against(words) => format!("{} {LESS_LIKELY} {words}.", likely.reason),
        };
        Cause { key: likely.key.to_owned(), reason, check: likely.check.to_owned() }
    };
    (weighed.into_iter().map(cause).collect(), is_found)
}

fn evidence(bench: &Bench<'_>, judged: &Judged, walk: &Walk, strings: &[usize], key: &str) -> Evidence {
    let on: Vec<usize> = if strings.is_empty() { bench.numbers().collect() } else { strings.to_vec() };
    let seen = |key: ObservationKey| {
        let named = bench.strings_seen(key);
        let is_here = named.is_empty() || on.iter().any(|number| named.contains(number));
        if bench.has(key) && is_here { Evidence::Found } else { Evidence::Silent }
    };
    let any = |stands: &[Stand], wanted: Stand| on.iter().any(|number| stands.get(number - 1) == Some(&wanted));
    let all_fine = |stands: &[Stand]| {
        on.iter().all(|number| matches!(stands.get(number - 1), Some(Stand::Good | Stand::Accepted)))
    };
    let reads = |what: &str, read: fn(&StringRead) -> Option<Read>| {
        let first = on.iter().find_map(|number| read(bench.strings.get(number - 1)?));
        first.map_or(Evidence::Silent, |read| {
            Evidence::Against(format!("{what} reads {} mm, as it should", read.said()))
        })
    };
    match key {
        "relief-too-little" => match judged.relief {
            Stand::Low if bench.input.instrument.truss_rod != PlanRod::None => Evidence::Found,
            Stand::Good | Stand::High | Stand::Accepted => bench.relief.map_or(Evidence::Silent, |relief| {
                Evidence::Against(format!("relief reads {} mm, as it should", relief.said()))
            }),
            _ => Evidence::Silent,
        },
        "nut-low" | "nut-high" => {
            let (wanted, other) = if key == "nut-low" { (Stand::Low, Stand::High) } else { (Stand::High, Stand::Low) };
            let stands = &judged.nut.stands;
            if any(stands, wanted) {
                Evidence::Found
            } else if all_fine(stands) || (!any(stands, Stand::NotRead) && any(stands, other)) {
                reads("the gap over the 1st", |string| string.gap.or(string.first))
            } else {
                Evidence::Silent
            }
        }
        "saddle-low" => {
            if any(&judged.heights, Stand::Low) {
                // of a bridge that nobody knows nothing is done about it, and the look stays
                if bench.bridge.is_some() { Evidence::Found } else { Evidence::Silent }
            } else if on.iter().all(|number| {
                matches!(judged.heights.get(number - 1), Some(Stand::Good | Stand::Accepted | Stand::High))
            }) {
                reads("the height at the 12th", |string| string.action)
            } else {
                Evidence::Silent
            }
        }
        "air-dry" => match bench.input.air {
            _ if bench.has(ObservationKey::AirDry) => Evidence::Found,
            Some(air) if air.rh_percent >= bench.house.air.good_rh_percent[0] => {
                Evidence::Against(format!("the air is at {:.0} %", air.rh_percent))
            }
            _ => Evidence::Silent,
        },
        "fret-high" if walk.has("fret-high") => Evidence::Found,
        "frets-worn" if seen(ObservationKey::FretsWorn) == Evidence::Found || zero_fret_is_worn(bench) => {
            Evidence::Found
        }
        "board-rises" => seen(ObservationKey::BoardRises),
        "edge-rounded" => seen(ObservationKey::EdgeRounded),
        "strings-old" => seen(ObservationKey::StringsOld),
        "head-slack" if bench.bridge == Some(BridgeKind::LooseBridge) => seen(ObservationKey::HeadSlack),
        _ => Evidence::Silent,
    }
}

fn likely(key: &'static str, reason: impl Into<String>, check: &'static str, cost: u8) -> Likely {
    Likely { key, reason: reason.into(), check, cost }
}

fn open_string() -> Vec<Likely> {
    vec![
        likely(
            "nut-low",
            "Only the open string touches: what holds it there is the nut.",
            "Stop at the 3rd fret and read the gap over the 1st.",
            1,
        ),
        likely(
            "edge-rounded",
            "A slot whose edge lies behind the front lets the string rattle in it.",
            "Look along the slot with a lens: the string must leave at the very front.",
            0,
        ),
    ]
}

fn zero_fret() -> Vec<Likely> {
    vec![
        likely(
            "frets-worn",
            "Only the open string touches: what carries it is the zero fret, and it wears under the strings.",
            "Look at the zero fret under the string with a lens, and read the open height over the 1st.",
            0,
        ),
        likely("fret-high", "The 1st fret may stand high.", "Rock a short straightedge over three frets at a time.", 2),
    ]
}

fn low_frets() -> Likely {
    likely(
        "relief-too-little",
        "Stopped at frets 1 to 4 the string clears the middle of the neck only through relief.",
        "Read relief half-way between fret 1 and the body joint.",
        1,
    )
}

fn one_fret(fret: usize) -> Likely {
    likely(
        "fret-high",
        format!("It touches when stopped at fret {fret} and nowhere else: fret {} may stand high.", fret + 1),
        "Rock a short straightedge over three frets at a time.",
        2,
    )
}

fn uneven(reason: &str) -> Likely {
    likely(
        "frets-worn",
        reason,
        "Sight along the frets for grooves and flats, and rock a short straightedge along the whole board.",
        2,
    )
}

fn beyond_the_joint() -> Vec<Likely> {
    vec![
        likely(
            "saddle-low",
            "Beyond the body joint only the bridge and the board decide.",
            "Read the heights at the 12th.",
            1,
        ),
        likely(
            "board-rises",
            "A board that rises beyond the joint meets the string there.",
            "Lay a straightedge over the frets up to the joint and look at the last ones.",
            2,
        ),
    ]
}

/// At good height and relief a buzz on many frets is the frets': worn or uneven.
fn everywhere(bench: &Bench<'_>, judged: &Judged) -> Vec<Likely> {
    let mut all = vec![
        likely("relief-too-little", "With too little relief the string runs close to many frets.", "Read relief.", 1),
        likely("saddle-low", "Low at the 12th is low everywhere.", "Read the heights at the 12th.", 1),
    ];
    if bench.bridge == Some(BridgeKind::LooseBridge) {
        all.push(likely(
            "head-slack",
            "A slack head lets the bridge sink and the strings come down everywhere.",
            "Tap the head at each hook, or gauge how far it gives.",
            1,
        ));
    }
    if bench.has_wooden_top() {
        all.push(likely(
            "air-dry",
            "In dry air the top sinks and the strings come down everywhere.",
            "Read the air and ask where the instrument has been.",
            1,
        ));
    }
    let mut frets =
        uneven("On many frets at once, with heights and relief as they should be: the frets are worn or uneven.");
    if judged.stands_well() {
        frets.cost = 0;
    } else {
        "On many frets at once: the frets may be worn or uneven.".clone_into(&mut frets.reason);
    }
    all.push(frets);
    all
}
