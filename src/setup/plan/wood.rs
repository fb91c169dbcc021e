//! Air and wood first: a dry or damp instrument recovers and is measured again before anything is cut.
//!
//! Only the sign is said (dry: the top sinks, strings lower; damp: it rises), never millimetres. Where a wooden top
//! carries the bridge nothing is taken off before the air was read.

use super::bench::Bench;
use super::input::PlanAir;
use super::observation::ObservationKey;
use super::output::Severity;
use super::walk::{Found, Holds, Stage, Todo, Walk};
use crate::setup::air::moisture_content_percent;

/// One of the two ways wood goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Dry,
    Damp,
}

impl Way {
    fn key(self) -> &'static str {
        match self {
            Self::Dry => "air-dry",
            Self::Damp => "air-damp",
        }
    }

    fn seen(self) -> ObservationKey {
        match self {
            Self::Dry => ObservationKey::AirDry,
            Self::Damp => ObservationKey::AirDamp,
        }
    }

    /// Whether a humidity lies on this side of the limits [least, most].
    fn is_beyond(self, rh_percent: f64, limits: [f64; 2]) -> bool {
        match self {
            Self::Dry => rh_percent < limits[0],
            Self::Damp => rh_percent > limits[1],
        }
    }
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let air = bench.input.air;
    if air.is_none() && bench.has_wooden_top() {
        not_read(walk);
    }
    if contradicts(bench, walk) {
        return;
    }
    for way in [Way::Dry, Way::Damp] {
        let seen = bench.has(way.seen());
        let read = air.filter(|air| way.is_beyond(air.rh_percent, bench.house.air.good_rh_percent));
        match (read, seen) {
            (Some(air), seen) => found(bench, walk, way, air, seen),
            (None, true) => {
                walk.find(Stage::Air, serviced(seen_only(bench, way), way));
                recover(bench, walk, way);
            }
            (None, false) => {}
        }
    }
}

fn not_read(walk: &mut Walk) {
    walk.ask_for("air");
    let words =
        "The air was not read. Heights read in dry or damp air mislead: nothing is taken off before it is known.";
    walk.find(Stage::Air, Found::new("reading-missing", Severity::Watch, words));
    let step = "Read the air: temperature and humidity where the instrument has been, and for how long.";
    let holds = Holds::WhatCannotBeUndone;
    walk.step(Todo::reading(Stage::Air, "reading-missing", step, "the air is read", holds));
}

/// Dry seen and damp read, or damp seen and dry read, or both seen: one of the two is wrong, and what the heights
/// say hangs on it.
fn contradicts(bench: &Bench<'_>, walk: &mut Walk) -> bool {
    let limits = bench.house.air.good_rh_percent;
    let humidity = bench.input.air.map(|air| air.rh_percent);
    let read = |way: Way| humidity.filter(|humidity| way.is_beyond(*humidity, limits));
    let (dry, damp) = (bench.has(ObservationKey::AirDry), bench.has(ObservationKey::AirDamp));
    let words = match (dry, damp) {
        (true, true) => "It was noted as dry and as damp: one of the two is wrong.".to_owned(),
        (true, false) => match read(Way::Damp) {
            Some(humidity) => {
                format!(
                    "It looks dry, yet the air is at {humidity:.0} %: it came from other air, or one of the two is wrong."
                )
            }
            None => return false,
        },
        (false, true) => match read(Way::Dry) {
            Some(humidity) => {
                format!(
                    "It looks damp, yet the air is at {humidity:.0} %: it came from other air, or one of the two is wrong."
                )
            }
            None => return false,
        },
        (false, false) => return false,
    };
    walk.ask_for("air");
    walk.find(Stage::Air, Found::new("readings-disagree", Severity::Watch, words));
    let step = "Look again at fret ends, top and back, read the air where it has been, and ask for how long. Then tell which it is.";
    let settles = "it is known whether the wood is dry or damp";
    walk.step(Todo::reading(Stage::Air, "readings-disagree", step, settles, Holds::Everything));
    true
}

/// What the air says, and whether the instrument must recover first. A plank recovers only where the eye saw it.
fn found(bench: &Bench<'_>, walk: &mut Walk, way: Way, air: PlanAir, seen: bool) {
    let limits = &bench.house.air;
    let humidity = air.rh_percent;
    let moves = bench.has_wooden_top();
    let recovers = seen || (moves && way.is_beyond(humidity, limits.watch_rh_percent));
    let sign = match (moves, way) {
        (true, Way::Dry) => "In dry air the top sinks and the strings come lower than they will be",
        (true, Way::Damp) => "In damp air the top and back rise and the strings stand higher than they will",
        (false, _) => "No wooden top moves the bridge here; the neck's relief may still go with the air",
    };
    let moisture = moisture_content_percent(air.temperature_c, humidity);
    let (severity, end) = match (recovers, moves) {
        (true, _) => (Severity::Stop, "Let it recover first, slowly, then measure again. Nothing is cut today."),
        (false, true) => {
            (Severity::Watch, "Say how long it has been in this air; measure again if it came from elsewhere.")
        }
        (false, false) => (Severity::Watch, "Read relief again when it is back in its own air."),
    };
    let words = format!(
        "The air is at {humidity:.0} %; wood that settles in it holds about {moisture:.0} % moisture. {sign}. {end}"
    );
    let found = Found::new(way.key(), severity, words)
        .with("rh_percent", humidity)
        .with("target_rh_percent", limits.target_rh_percent)
        .with("moisture_content_percent", moisture);
    walk.find(Stage::Air, if moves || recovers { serviced(found, way) } else { found });
    if recovers {
        recover(bench, walk, way);
    }
}

fn serviced(found: Found, way: Way) -> Found {
    if way == Way::Dry { found.service("humidify") } else { found }
}

/// What the eye says where the air is good or was not read: the instrument came from other air.
fn seen_only(bench: &Bench<'_>, way: Way) -> Found {
    let words = match way {
        Way::Dry if !bench.has_wooden_top() => {
            "It looks dry: fret ends stand out. Let it recover slowly and measure again; nothing is cut today."
        }
        Way::Damp if !bench.has_wooden_top() => {
            "It looks damp: neck or board is swollen. Let it recover slowly and measure again; nothing is cut today."
        }
        Way::Dry => {
            "It looks dry: fret ends stand out or the top has sunk. Let it recover slowly and measure again; nothing is cut today."
        }
        Way::Damp => {
            "It looks damp: the top or back is swollen. Let it recover slowly and measure again; nothing is cut today."
        }
    };
    Found::new(way.key(), Severity::Stop, words)
}

fn recover(bench: &Bench<'_>, walk: &mut Walk, way: Way) {
    let target = bench.house.air.target_rh_percent;
    let (caution, how) = match way {
        Way::Dry => ("dry-instrument", "in its closed case with a case humidifier"),
        Way::Damp => ("damp-instrument", "in drier air, the case open"),
    };
    walk.caution(Stage::Air, caution);
    let words =
        format!("Bring it back to about {target:.0} % {how}, slowly, over days. Then measure everything again.");
    walk.step(Todo::reversible(Stage::Air, way.key(), words).into_remedy());
}
