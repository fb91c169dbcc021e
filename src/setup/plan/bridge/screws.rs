//! Each string its own screws: they turn both ways, nothing is lost, and the whole amount is said at once. What ends
//! it is the screws' travel.

use super::heights::{Off, Way, removal_forecast, report, wish};
use crate::setup::cut::Ends;
use crate::setup::plan::bench::Bench;
use crate::setup::plan::built::{BridgeKind, NeckJoint};
use crate::setup::plan::neck;
use crate::setup::plan::output::Severity;
use crate::setup::plan::read::Read;
use crate::setup::plan::walk::{Adjustment, Found, Stage, StringAmounts, Todo, Turn, Walk, said_strings};

const TURN_LATER: &str = "Turn the saddles to their target heights, once the heights are read again.";

/// What one string's screws turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::setup::plan) struct Turned {
    /// Down by what is wished, no further than they can go, mm; minus is up.
    pub(in crate::setup::plan) down_mm: f64,
    pub(in crate::setup::plan) wished_mm: f64,
    pub(in crate::setup::plan) expanded_mm: f64,
    /// How far they can still go down, mm, where it was read.
    pub(in crate::setup::plan) travel_mm: Option<f64>,
}

/// How far screws can still go down under a string, mm: straight between the ends where it was read.
pub(in crate::setup::plan) fn travel(bench: &Bench<'_>, position_mm: f64) -> Option<f64> {
    let (treble, bass) = bench.showing?;
    let (first, last) = (bench.position_mm(0), bench.position_mm(bench.strings.len().saturating_sub(1)));
    let share = if last > first { (position_mm - first) / (last - first) } else { 0.0 };
    Some(treble.value + (bass.value - treble.value) * share)
}

pub(in crate::setup::plan) fn turned(bench: &Bench<'_>, place: usize) -> Option<Turned> {
    let (wished_mm, action): (f64, Read) = wish(bench, place)?;
    let travel_mm = travel(bench, bench.position_mm(place));
    Some(Turned {
        down_mm: travel_mm.map_or(wished_mm, |travel| wished_mm.min(travel)),
        wished_mm,
        expanded_mm: action.expanded * bench.saddle_factor(place),
        travel_mm,
    })
}

/// Turns of a screw of this pitch, to the eighth, halves up.
pub(in crate::setup::plan) fn eighths(down_mm: f64, pitch_mm: f64) -> f64 {
    (down_mm / pitch_mm * 8.0 + 0.5).floor() / 8.0
}

/// "; where a step of a screw is left, come up to it".
pub(super) fn finish(bench: &Bench<'_>) -> &'static str {
    match bench.bridge {
        Some(BridgeKind::Sprung) => {
            "Tune, bring the bridge level at its springs again, and only then read the heights: each change upsets the balance."
        }
        _ => "Tune, and read the heights again; where a screw goes down, turn it a little too far and come back up.",
    }
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk, off: &Off) {
    report(bench, walk, &off.high, Way::Down, Some("setup"));
    report(bench, walk, &off.low, Way::Up, Some("setup"));
    walk.caution(Stage::BridgeAdjusted, "string-tension");
    let turns: Vec<Option<Turned>> = (0..bench.strings.len()).map(|place| turned(bench, place)).collect();
    let ended: Vec<usize> = (1..)
        .zip(&turns)
        .filter(|(number, turned)| {
            let tolerance = bench.targets.action_tolerance_mm * bench.saddle_factor(number - 1);
            turned.is_some_and(|turned| turned.wished_mm - turned.down_mm > tolerance)
        })
        .map(|(number, _)| number)
        .collect();
    if !ended.is_empty() && travel_ends(bench, walk, &ended) {
        return;
    }
    let key = if off.high.is_empty() { "saddle-low" } else { "saddle-high" };
    let on = said_strings(&off.all(), bench.strings.len());
    let words =
        format!("Turn the saddles of {on} to their target heights, keeping the board's curve. {}", finish(bench));
    let each = |pick: fn(&Turned) -> f64| -> Vec<Option<f64>> {
        turns.iter().map(|turned| turned.as_ref().map(pick)).collect()
    };
    let pitch = bench.input.instrument.screw_pitch_mm;
    let turn = Turn {
        down: StringAmounts { mm: each(|turned| turned.down_mm), expanded_mm: each(|turned| turned.expanded_mm) },
        turns: pitch
            .map(|pitch| turns.iter().map(|turned| turned.map(|turned| eighths(turned.down_mm, pitch))).collect()),
        travel_left: travel_left(&turns),
    };
    let todo = Todo::adjusting(Stage::BridgeAdjusted, key, words, Adjustment::Turn(turn));
    walk.step(todo.while_waiting(TURN_LATER).expecting_while_waiting(removal_forecast(bench, walk)));
}

/// What the outer strings' screws can still go down afterwards.
fn travel_left(turns: &[Option<Turned>]) -> Option<Ends> {
    let left = |turned: Option<&Option<Turned>>| {
        let turned = (*turned?)?;
        Some(turned.travel_mm? - turned.down_mm)
    };
    Some(Ends { treble: left(turns.first())?, bass: left(turns.last())? })
}

/// The screws end before the strings are down: the neck's angle is the matter. A stop, unless something before it may
/// still change the heights. Answers whether it is one.
pub(super) fn travel_ends(bench: &Bench<'_>, walk: &mut Walk, strings: &[usize]) -> bool {
    let is_open = walk.is_open(Stage::BridgeAdjusted);
    let (severity, end) = if is_open {
        (Severity::Watch, " What is still open before may change that: measure again first.")
    } else {
        (Severity::Stop, " Screws and saddles are not filed for it.")
    };
    let joint = bench.input.instrument.neck_joint;
    let shows = bench.showing.map(|(treble, bass)| if treble.value <= bass.value { treble } else { bass });
    let words = format!(
        "The bridge cannot go down as far as {} would need: its travel ends before. This is the neck's angle, not the bridge's.{end}",
        said_strings(strings, bench.strings.len())
    );
    let service = match joint {
        Some(NeckJoint::Bolted) => Some("neck-shim"),
        Some(NeckJoint::Glued) => Some("neck-reset"),
        Some(NeckJoint::Through) => Some("bridge-height"),
        Some(NeckJoint::Rods) => Some("setup"),
        // a look at the joint tells
        None => None,
    };
    let mut found = Found::new("saddle-spent", severity, words).on(strings.to_vec()).service(service);
    if let Some(shows) = shows {
        found = found.with("showing_mm", shows.value).with("expanded_mm", shows.expanded);
    }
    walk.find(Stage::BridgeAdjusted, found);
    if is_open {
        return false;
    }
    match joint {
        // a neck whose angle is wrong has its offer already
        _ if walk.has_step("neck-angle") => {}
        Some(NeckJoint::Bolted) => neck::offer_shim(bench, walk, Stage::BridgeAdjusted, "saddle-spent"),
        Some(NeckJoint::Rods) => walk.step(Todo::offer(
            Stage::BridgeAdjusted,
            "saddle-spent",
            "Trim the neck's angle at its rods by a few tenths; where that is not enough, quote a lower bridge.",
        )),
        Some(NeckJoint::Glued) => walk.step(Todo::offer(
            Stage::BridgeAdjusted,
            "saddle-spent",
            "Look, tell, decide: a lower bridge, or a reset of the glued neck by a specialist. Quote what the bench finds.",
        )),
        Some(NeckJoint::Through) => walk.step(Todo::offer(
            Stage::BridgeAdjusted,
            "saddle-spent",
            "Quote a lower bridge, or one let into the body: this neck is one piece with it.",
        )),
        None => walk.step(Todo::offer(
            Stage::BridgeAdjusted,
            "saddle-spent",
            "Look how the neck is joined, and quote what fits: a shim under a bolted neck, a lower bridge else.",
        )),
    }
    true
}
