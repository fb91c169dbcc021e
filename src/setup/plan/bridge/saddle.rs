//! A bar in a slot: what comes off its foot or top does not come back, and what is glued to it or made anew is not
//! undone either.

use super::heights::{Off, Way, lonely, removal_forecast, report, wish};
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, Ends, Foot, Raise, rounded_down, worked_out};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::built::NeckJoint;
use crate::setup::plan::neck;
use crate::setup::plan::observation::ObservationKey;
use crate::setup::plan::output::Severity;
use crate::setup::plan::read::{ENOUGH_REPEATS, Read};
use crate::setup::plan::walk::{Found, Holds, Removal, Stage, Todo, Walk, said_amounts, said_strings};

const LOWER_LATER: &str = "Lower the saddle as far as it is still high, once the heights are read again.";
const RAISE_LATER: &str = "Raise the saddle where it is still low, once the heights are read again.";

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk, off: &Off) {
    report(bench, walk, &off.high, Way::Down, Some("saddle-lower"));
    report(bench, walk, &off.low, Way::Up, Some("new-saddle"));
    walk.caution(Stage::BridgeAdjusted, "string-tension");
    walk.caution(Stage::Bridge, "string-tension");
    if bench.has(ObservationKey::SaddleGlued) {
        let words =
            "Free the saddle with warmth and patience, seat it dry and square, tune, and read the heights again.";
        walk.caution(Stage::BridgeReady, "heat");
        walk.step(Todo::reversible(Stage::BridgeReady, "saddle-glued", words));
    }
    // what goes under a bar lifts every string over it: the rest is lowered by readings taken after that
    if off.low.is_empty() {
        lower(bench, walk, &off.high);
    } else {
        raise(bench, walk, off);
    }
}

/// What `cut` is asked. What shows of the saddle bounds a cut, and says nothing of a raise: a saddle whose
/// showing was not read has nothing to lose.
pub(in crate::setup::plan) fn cut_input(bench: &Bench<'_>) -> CutInput {
    let string = |place: usize| {
        let action = bench.action(place);
        CutString {
            position_mm: Some(bench.position_mm(place)),
            action_12_mm: action.map(|action| action.value),
            target_mm: bench.action_target(place),
            standard_uncertainty_mm: action.map_or(0.0, |action| action.uncertainty),
            degrees_of_freedom: action.and_then(|action| action.freedom),
            repeats: action.map(|action| action.repeats),
            ..bench.run_of(place)
        }
    };
    CutInput {
        strings: (0..bench.strings.len()).map(string).collect(),
        showing_mm: bench
            .showing
            .map(|(treble, bass)| Ends { treble: treble.value, bass: bass.value })
            .or(Some(Ends { treble: 0.0, bass: 0.0 })),
        showing_expanded_mm: bench.showing.map(|(treble, bass)| Ends { treble: treble.expanded, bass: bass.expanded }),
        least_showing_mm: Some(bench.targets.least_showing_mm),
        board_radius_mm: bench.board_radius_mm(),
        ..bench.cut_input(CutPlace::Saddle)
    }
}

fn raise(bench: &Bench<'_>, walk: &mut Walk, off: &Off) {
    lonely(bench, walk, &off.low);
    let wanted = off.low.iter().filter_map(|number| Some((*number, -wish(bench, number - 1)?.0)));
    let each = said_amounts(wanted);
    let then = if off.high.is_empty() { "" } else { " What then stands high is taken off by those readings." };
    let mut amounts = only_raise(worked_out(&cut_input(bench)), &off.low);
    // what lies under the whole bar lifts the good ones too
    let is_built_up = off.low.len() * 2 < bench.strings.len();
    let words = if is_built_up {
        amounts.raise = amounts.raise.into_iter().map(|raise| Raise { shims: 0, ..raise }).collect();
        format!(
            "Build the saddle's top up there and shape it, or make a new saddle: {each}. A shim would lift every string. Then read the heights again.{then}"
        )
    } else {
        format!("Raise the saddle: {each}; a shim its full length, or a new saddle. Then read the heights again.{then}")
    };
    let todo = Todo::removing(Stage::BridgeAdjusted, "saddle-low", words, Removal::Cut(Box::new(amounts)));
    walk.step(todo.while_waiting(RAISE_LATER).expecting_while_waiting(removal_forecast(bench, walk)));
}

/// What goes on under the low strings, and nothing of what comes off elsewhere: that is read again first.
pub(super) fn only_raise(mut amounts: CutOutput, low: &[usize]) -> CutOutput {
    for (number, string) in (1..).zip(&mut amounts.strings) {
        if !low.contains(&number) {
            (string.exact_mm, string.expanded_mm) = (None, None);
        }
        (string.first_pass_mm, string.on_top_mm) = (0.0, None);
    }
    amounts.raise.retain(|raise| low.contains(&raise.string));
    CutOutput {
        foot: None,
        foot_first_pass: None,
        left_showing_mm: None,
        left_showing_expanded_mm: None,
        stops: Vec::new(),
        top: None,
        ..amounts
    }
}

fn lower(bench: &Bench<'_>, walk: &mut Walk, high: &[usize]) {
    lonely(bench, walk, high);
    walk.caution(Stage::Bridge, "bone-dust");
    let Some(showing) = bench.showing else {
        walk.ask_for("saddle_showing_mm");
        walk.unread(Stage::BridgeReady, "how much saddle shows above the bridge, at treble and bass");
        let words =
            "How much saddle shows above the bridge was not read, at treble and bass. Without it no cut is safe.";
        walk.find(Stage::Bridge, Found::new("reading-missing", Severity::Watch, words));
        let todo = Todo::irreversible(Stage::Bridge, "saddle-high", LOWER_LATER);
        walk.step(todo.expecting_while_waiting(removal_forecast(bench, walk)));
        return;
    };
    let mut amounts = worked_out(&cut_input(bench));
    if amounts.stops.iter().any(|stop| stop.key == "saddle-spent") {
        let is_open = walk.is_open(Stage::Bridge);
        spent(bench, walk, high, showing, is_open);
        if !is_open {
            return;
        }
    }
    if amounts.strings.iter().all(|string| string.first_pass_mm <= 0.0) {
        too_uncertain(bench, walk, high, "cut");
        return;
    }
    // a string that is a little under its target, and left alone, is not raised
    amounts.raise.clear();
    let words = first_pass_words(bench, &amounts, "Fit, tune, let it settle.");
    let todo = Todo::removing(Stage::Bridge, "saddle-high", words, Removal::Cut(Box::new(amounts)));
    walk.step(todo.while_waiting(LOWER_LATER).expecting_while_waiting(removal_forecast(bench, walk)));
}

/// What is to come off is no more than reading and cut are unsure of.
pub(super) fn too_uncertain(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], cut: &str) {
    walk.only_suspect("saddle-high");
    let on = said_strings(high, bench.strings.len());
    let fewest = high.iter().filter_map(|number| bench.action(number - 1)).map(|read| read.repeats).min().unwrap_or(0);
    let start =
        format!("The strings are high on {on}, but what is to come off is no more than reading and cut are unsure of.");
    if fewest >= 2 * ENOUGH_REPEATS {
        let words = format!("{start} Repeated readings leave it so: it is let stand, or read with a finer tool.");
        walk.find(Stage::Bridge, Found::new("readings-too-uncertain", Severity::Watch, words).on(high.to_vec()));
        return;
    }
    let words = format!("{start} Repeat the readings, or use a finer tool; nothing is {cut}.");
    walk.ask_for("action_12_mm");
    let settles = format!("the heights at the 12th are read again on {on}");
    walk.step(Todo::reading(Stage::Bridge, "readings-too-uncertain", words.clone(), settles, Holds::Everything));
    walk.find(Stage::Bridge, Found::new("readings-too-uncertain", Severity::Watch, words).on(high.to_vec()));
}

/// The end of the saddle: a stop, unless something before it may still change the heights.
fn spent(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], showing: (Read, Read), is_open: bool) {
    let least = bench.targets.least_showing_mm;
    let (severity, end) = if is_open {
        (Severity::Watch, " What is still open before may change that: measure again first.")
    } else {
        (Severity::Stop, "")
    };
    let is_glued = bench.input.instrument.neck_joint.is_none_or(|joint| joint == NeckJoint::Glued);
    let words = format!(
        "Bringing the strings down would leave less than {least:.1} mm of saddle above the bridge, which shows {:.2} mm at the treble and {:.2} mm at the bass. \
         This is beyond a setup: neck angle or bridge is the larger work.{end}",
        showing.0.value, showing.1.value
    );
    let service = match bench.input.instrument.neck_joint {
        _ if is_glued => Some("neck-reset"),
        Some(NeckJoint::Bolted) => Some("neck-shim"),
        _ => None,
    };
    let found = Found::new("saddle-spent", severity, words).on(high.to_vec()).service(service);
    let lower = if showing.0.value <= showing.1.value { showing.0 } else { showing.1 };
    let found = found.with("showing_mm", lower.value).with("expanded_mm", lower.expanded);
    walk.find(Stage::Bridge, found.with("least_showing_mm", least));
    // a neck whose angle is wrong has its offer already
    if !is_open && !walk.has_step("neck-angle") {
        let offer = match bench.input.instrument.neck_joint {
            Some(NeckJoint::Bolted) => {
                neck::offer_shim(bench, walk, Stage::Bridge, "saddle-spent");
                return;
            }
            Some(NeckJoint::Rods) => {
                "Trim the neck's angle at its rods by a few tenths; where that is not enough, quote a lower bridge."
            }
            Some(NeckJoint::Through) => "Quote a lower bridge and a new saddle: this neck is one piece with the body.",
            Some(NeckJoint::Glued) | None => {
                "Quote the larger work: neck reset by a specialist, or a lower bridge and new saddle, as the bench finds."
            }
        };
        walk.step(Todo::offer(Stage::Bridge, "saddle-spent", offer));
    }
}

/// The first pass as the bench says it: straight at the foot, the rest on top.
pub(super) fn first_pass_words(bench: &Bench<'_>, amounts: &CutOutput, then: &str) -> String {
    let foot = amounts.foot_first_pass.unwrap_or_default();
    let (first, last) = (bench.position_mm(0), bench.position_mm(bench.strings.len().saturating_sub(1)));
    let at_foot = |place: usize| {
        let share = if last > first { (bench.position_mm(place) - first) / (last - first) } else { 0.0 };
        foot.treble_mm + (foot.bass_mm - foot.treble_mm) * share
    };
    let step = bench.house.bench.step_mm;
    // less than what it is unsure of is noise, and nobody shapes it
    let is_sure = |(number, rest): &(usize, f64)| {
        let cut = amounts.strings.get(number - 1);
        *rest >= step && cut.is_none_or(|cut| *rest >= cut.expanded_mm.unwrap_or(0.0) || foot == Foot::default())
    };
    let on_top: Vec<(usize, f64)> = amounts
        .strings
        .iter()
        .enumerate()
        .map(|(place, string)| (place + 1, string.first_pass_mm - at_foot(place)))
        .filter(is_sure)
        .collect();
    let foot_words = format!(
        "{:.2} mm off the foot at the treble end and {:.2} mm at the bass end, straight and square",
        rounded_down(foot.treble_mm, step),
        rounded_down(foot.bass_mm, step)
    );
    let top_words = format!("off the top, {}", said_amounts(on_top.iter().copied()));
    let what = match (foot.treble_mm.max(foot.bass_mm) >= step, on_top.is_empty()) {
        (true, true) => foot_words,
        (true, false) => format!("{foot_words}; {top_words}"),
        (false, _) => top_words,
    };
    format!("First pass: {what}. {then} Read the heights again, then plan the rest.")
}
