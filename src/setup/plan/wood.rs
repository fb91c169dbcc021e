//! Air and wood first: a dry or damp instrument recovers and is measured again before anything is cut.
//!
//! Only the sign is said (dry: the top sinks, strings lower; damp: it rises), never millimetres.

use super::bench::Bench;
use super::types::{ObservationKey, Severity};
use super::walk::{Found, Stage, Todo, Walk};
use crate::setup::air::moisture_content_percent;

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let target = bench.house.air.target_rh_percent;
    if bench.input.air.is_none() {
        walk.ask_for("air");
        let words = "The air was not read. Note temperature and humidity: heights read in dry or damp air mislead.";
        walk.find(Stage::Air, Found::new("reading-missing", Severity::Watch, words));
    }
    for (dry, key, seen) in
        [(true, "air-dry", bench.has(ObservationKey::AirDry)), (false, "air-damp", bench.has(ObservationKey::AirDamp))]
    {
        let Some((found, beyond)) =
            read_air(bench, dry, key, seen).or_else(|| seen.then(|| (seen_only(dry, key), true)))
        else {
            continue;
        };
        walk.find(Stage::Air, if dry { found.service("humidify") } else { found });
        if beyond {
            walk.caution(Stage::Air, if dry { "dry-instrument" } else { "damp-instrument" });
            walk.step(Todo::plain(Stage::Air, key, recover_words(dry, target)));
        }
    }
}

/// What the air says, and whether the instrument must recover first; `None` where it says nothing of this kind.
fn read_air(bench: &Bench<'_>, dry: bool, key: &'static str, seen: bool) -> Option<(Found, bool)> {
    let air = bench.input.air?;
    let limits = &bench.house.air;
    let humidity = air.rh_percent;
    let side = usize::from(!dry);
    let outside = |limit: f64| if dry { humidity < limit } else { humidity > limit };
    if !outside(limits.good_rh_percent[side]) {
        return None;
    }
    let beyond = seen || outside(limits.watch_rh_percent[side]);
    let sign = if dry {
        "In dry air the top sinks and the strings come lower than they will be"
    } else {
        "In damp air the top and back rise and the strings stand higher than they will"
    };
    let moisture = moisture_content_percent(air.temperature_c, humidity);
    let (severity, end) = if beyond {
        (Severity::Stop, "Let it recover first, slowly, then measure again. Nothing is cut today.")
    } else {
        (Severity::Watch, "Say how long it has been in this air; measure again if it came from elsewhere.")
    };
    let words = format!(
        "The air is at {humidity:.0} %; wood that settles in it holds about {moisture:.0} % moisture. {sign}. {end}"
    );
    let found = Found::new(key, severity, words)
        .with("rh_percent", humidity)
        .with("target_rh_percent", limits.target_rh_percent)
        .with("moisture_content_percent", moisture);
    Some((found, beyond))
}

/// What the eye says where the air is good or was not read: the instrument came from other air.
fn seen_only(dry: bool, key: &'static str) -> Found {
    let words = if dry {
        "It looks dry: fret ends stand out or the top has sunk. Let it recover slowly and measure again; nothing is cut today."
    } else {
        "It looks damp: the top or back is swollen. Let it recover slowly and measure again; nothing is cut today."
    };
    Found::new(key, Severity::Stop, words)
}

fn recover_words(dry: bool, target: f64) -> String {
    let how = if dry { "in its closed case with a case humidifier" } else { "in drier air, the case open" };
    format!("Bring it back to about {target:.0} % {how}, slowly, over days. Then measure everything again.")
}
