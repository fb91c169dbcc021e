//! The saddle: felt all the way up the neck. The last place where heights are set, and the dearest.

use super::bench::{Bench, Read};
use super::relief;
use super::types::{Forecast, ObservationKey, Severity};
use super::walk::{Found, Stage, StringAmounts, Todo, Walk, range, said_amounts, said_strings};
use crate::problem::Problems;
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, Ends, cut, rounded_down};
use crate::setup::frame::{felt_from_nut, fret_position_mm};

/// Said of a step at the saddle that may not be done yet.
const LOWER_LATER: &str =
    "Lower the saddle as far as it is still high, once what comes before it is settled and the heights are read again.";
const RAISE_LATER: &str =
    "Raise the saddle where it is still low, once what comes before it is settled and the heights are read again.";
const TURN_LATER: &str =
    "Turn the saddles to their target heights, once what comes before it is settled and the heights are read again.";

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) -> Result<(), Problems> {
    let all = bench.strings.len();
    let numbered = || (1..).zip(bench.strings.iter().enumerate());
    let missing: Vec<usize> =
        numbered().filter(|(_, (_, string))| string.action.is_none()).map(|(number, _)| number).collect();
    if !missing.is_empty() {
        walk.ask_for("action_12_mm");
        let on = said_strings(&missing, all);
        walk.unread(Stage::Saddle, format!("the height over the 12th fret on {on}"));
        let words = format!("The height at the 12th fret was not read on {on}: nothing comes off there.");
        walk.find(Stage::Saddle, Found::new("reading-missing", Severity::Watch, words).on(missing));
    }
    let tolerance = bench.targets.action_tolerance_mm;
    let beyond = |sign: f64| -> (Vec<usize>, Vec<usize>) {
        let outside = numbered().filter_map(|(number, (place, string))| {
            let action = string.action?;
            let off = sign * (action.value - bench.action_target(place)) - tolerance;
            (off > 0.0).then_some((number, off > action.expanded))
        });
        let (sure, unsure): (Vec<_>, Vec<_>) = outside.partition(|(_, sure)| *sure);
        (sure.into_iter().map(|(number, _)| number).collect(), unsure.into_iter().map(|(number, _)| number).collect())
    };
    let ((high, high_unsure), (low, low_unsure)) = (beyond(1.0), beyond(-1.0));
    if high.is_empty() && low.is_empty() {
        let mut unsure = high_unsure;
        unsure.extend(low_unsure);
        unsure.sort_unstable();
        if !unsure.is_empty() {
            walk.ask_for("action_12_mm");
            let words = format!(
                "On {} the height at the 12th is outside its range, but by no more than the reading's uncertainty. Repeat the reading before any cut.",
                said_strings(&unsure, all)
            );
            walk.find(Stage::Saddle, Found::new("readings-too-uncertain", Severity::Watch, words).on(unsure));
        }
        return Ok(());
    }
    report(bench, walk, &high, &low);
    if bench.saddle_turns {
        turn_screws(bench, walk, &high, &low);
        return Ok(());
    }
    if bench.has(ObservationKey::SaddleGlued) {
        let words =
            "Free the saddle with warmth and patience, seat it dry and square, tune, and read the heights again.";
        walk.caution(Stage::SaddleReady, "heat");
        walk.step(Todo::plain(Stage::SaddleReady, "saddle-glued", words));
    }
    if !low.is_empty() {
        raise(bench, walk, &low)?;
    }
    if !high.is_empty() {
        lower(bench, walk, &high)?;
    }
    for stage in [Stage::SaddleRaised, Stage::Saddle] {
        walk.caution(stage, "string-tension");
    }
    Ok(())
}

fn report(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize]) {
    let all = bench.strings.len();
    for (numbers, sign, key, service) in
        [(high, 1.0, "saddle-high", "saddle-lower"), (low, -1.0, "saddle-low", "new-saddle")]
    {
        let offs = numbers.iter().filter_map(|number| {
            let action = bench.strings.get(number - 1)?.action?;
            let target = bench.action_target(number - 1);
            Some((sign * (action.value - target), action, target))
        });
        let Some((most, action, target)) = offs.max_by(|(one, ..), (other, ..)| one.total_cmp(other)) else {
            continue;
        };
        let on = said_strings(numbers, all);
        let read = format!("{} mm where {target:.2} mm is wished", action.said());
        let (words, over) = if sign > 0.0 {
            (
                format!(
                    "The strings stand high at the 12th on {on}, by up to {most:.2} mm ({read}): they are hard to press."
                ),
                "over_target_mm",
            )
        } else {
            (
                format!("The strings stand low at the 12th on {on}, by up to {most:.2} mm ({read}): they will buzz."),
                "under_target_mm",
            )
        };
        let found = Found::new(key, Severity::Work, words).on(numbers.to_vec()).service(service);
        let found = found.with(over, most).with("action_12_mm", action.value).with("target_mm", target);
        walk.find(Stage::Saddle, found.with("expanded_mm", action.expanded));
    }
}

fn amounts(bench: &Bench<'_>) -> Result<CutOutput, Problems> {
    cut(&cut_input(bench))
}

/// What `cut` is asked. What shows of the saddle bounds a cut, and says nothing of a raise: a saddle whose
/// showing was not read has nothing to lose.
pub(super) fn cut_input(bench: &Bench<'_>) -> CutInput {
    let habits = &bench.house.bench;
    let strings = bench.strings.iter().enumerate().map(|(place, string)| CutString {
        position_mm: Some(bench.position_mm(place)),
        action_12_mm: string.action.map(|action| action.value),
        target_mm: bench.action_target(place),
        standard_uncertainty_mm: string.action.map_or(0.0, |action| action.uncertainty),
        degrees_of_freedom: string.action.and_then(|action| action.freedom),
        ..CutString::default()
    });
    CutInput {
        place: CutPlace::Saddle,
        scale_mm: bench.input.instrument.scale_mm,
        saddle_setback_mm: bench.input.instrument.saddle_setback_mm,
        first_pass_risk: habits.first_pass_risk,
        step_mm: habits.step_mm,
        cut_uncertainty_mm: habits.cut_uncertainty_mm,
        shim_mm: habits.shim_mm,
        strings: strings.collect(),
        showing_mm: bench
            .showing
            .map(|(treble, bass)| Ends { treble: treble.value, bass: bass.value })
            .or(Some(Ends { treble: 0.0, bass: 0.0 })),
        showing_expanded_mm: bench.showing.map(|(treble, bass)| Ends { treble: treble.expanded, bass: bass.expanded }),
        least_showing_mm: Some(bench.targets.least_showing_mm),
        board_radius_mm: bench.board_radius_mm(),
        spread_at_other_end_mm: None,
    }
}

/// Material goes back on before any comes off: a shim under a bar lifts every string over it.
fn raise(bench: &Bench<'_>, walk: &mut Walk, low: &[usize]) -> Result<(), Problems> {
    let factor = bench.saddle_factor();
    let wanted = low.iter().filter_map(|number| {
        let action = bench.strings.get(number - 1)?.action?;
        Some((*number, (bench.action_target(number - 1) - action.value) * factor))
    });
    let words = format!(
        "Raise the saddle: {}; a shim its full length, or a new saddle. Then read the heights again.",
        said_amounts(wanted)
    );
    let cut = Some(only_raise(amounts(bench)?, low));
    let forecast = removal_forecast(bench, walk, Stage::SaddleRaised);
    let todo = Todo::plain(Stage::SaddleRaised, "saddle-low", words).while_waiting(RAISE_LATER);
    walk.step(Todo { cut, forecast, ..todo });
    Ok(())
}

/// What goes on under the low strings, and nothing of what comes off elsewhere: that is read again first.
fn only_raise(mut amounts: CutOutput, low: &[usize]) -> CutOutput {
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

fn lower(bench: &Bench<'_>, walk: &mut Walk, high: &[usize]) -> Result<(), Problems> {
    let all = bench.strings.len();
    let Some(showing) = bench.showing else {
        walk.ask_for("saddle_showing_mm");
        walk.unread(Stage::SaddleReady, "how much saddle shows above the bridge, at treble and bass");
        let words =
            "How much saddle shows above the bridge was not read, at treble and bass. Without it no cut is safe.";
        walk.find(Stage::Saddle, Found::new("reading-missing", Severity::Watch, words));
        walk.caution(Stage::Saddle, "bone-dust");
        let forecast = removal_forecast(bench, walk, Stage::Saddle);
        let todo = Todo::plain(Stage::Saddle, "saddle-high", LOWER_LATER);
        walk.step(Todo { forecast, ..todo });
        return Ok(());
    };
    let mut amounts = amounts(bench)?;
    let is_stale = walk.is_stale(Stage::Saddle);
    if amounts.stops.iter().any(|stop| stop.key == "saddle-spent") {
        spent(bench, walk, high, showing, is_stale);
        if !is_stale {
            return Ok(());
        }
    }
    if amounts.strings.iter().all(|string| string.first_pass_mm <= 0.0) {
        let words = format!(
            "The strings are high on {}, but what is to come off is no more than reading and cut are unsure of. Repeat the readings, or use a finer tool; nothing is cut.",
            said_strings(high, all)
        );
        walk.ask_for("action_12_mm");
        walk.step(Todo::reading(Stage::Saddle, "readings-too-uncertain", words.clone()));
        let found = Found::new("readings-too-uncertain", Severity::Watch, words);
        walk.find(Stage::Saddle, found.on(high.to_vec()));
        return Ok(());
    }
    walk.caution(Stage::Saddle, "bone-dust");
    // a string that is a little under its target, and left alone, is not raised
    amounts.raise.clear();
    let words = first_pass_words(bench, &amounts);
    let forecast = removal_forecast(bench, walk, Stage::Saddle);
    let todo = Todo::plain(Stage::Saddle, "saddle-high", words).while_waiting(LOWER_LATER);
    walk.step(Todo { cut: Some(amounts), forecast, ..todo });
    Ok(())
}

/// The end of the saddle: a stop, unless a step before it may still change the heights.
fn spent(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], showing: (Read, Read), is_stale: bool) {
    let least = bench.targets.least_showing_mm;
    let (severity, end) = if is_stale {
        (Severity::Watch, " The steps before may change that: measure again first.")
    } else {
        (Severity::Stop, "")
    };
    let words = format!(
        "Bringing the strings down would leave less than {least:.1} mm of saddle above the bridge, which shows {:.2} mm at the treble and {:.2} mm at the bass. \
         This is beyond a setup: neck angle or bridge is the larger work.{end}",
        showing.0.value, showing.1.value
    );
    let found = Found::new("saddle-spent", severity, words).on(high.to_vec()).service("neck-reset");
    let lower = if showing.0.value <= showing.1.value { showing.0 } else { showing.1 };
    let found = found.with("showing_mm", lower.value).with("expanded_mm", lower.expanded);
    walk.find(Stage::Saddle, found.with("least_showing_mm", least));
    if !is_stale {
        walk.step(Todo::offer(
            Stage::Saddle,
            "saddle-spent",
            "Quote the larger work: neck reset, or a lower bridge and new saddle, as the bench finds.",
        ));
    }
}

/// The first pass as the bench says it: straight at the foot, the rest on top.
fn first_pass_words(bench: &Bench<'_>, amounts: &CutOutput) -> String {
    let foot = amounts.foot_first_pass.unwrap_or_default();
    let (first, last) = (bench.position_mm(0), bench.position_mm(bench.strings.len().saturating_sub(1)));
    let at_foot = |place: usize| {
        let share = if last > first { (bench.position_mm(place) - first) / (last - first) } else { 0.0 };
        foot.treble_mm + (foot.bass_mm - foot.treble_mm) * share
    };
    let step = bench.house.bench.step_mm;
    let on_top: Vec<(usize, f64)> = amounts
        .strings
        .iter()
        .enumerate()
        .map(|(place, string)| (place + 1, string.first_pass_mm - at_foot(place)))
        .filter(|(_, rest)| *rest >= step)
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
    format!("First pass: {what}. Fit, tune, let it settle. Read the heights again, then plan the rest.")
}

/// Screws and wheels turn both ways: no material is lost, so the whole amount is said at once.
fn turn_screws(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize]) {
    let factor = bench.saddle_factor();
    let amounts = bench
        .strings
        .iter()
        .enumerate()
        .map(|(place, string)| string.action.map(|action| (action.value - bench.action_target(place)) * factor));
    let unsure = bench.strings.iter().map(|string| string.action.map(|action| action.expanded * factor));
    let key = if high.is_empty() { "saddle-low" } else { "saddle-high" };
    let mut strings: Vec<usize> = high.iter().chain(low).copied().collect();
    strings.sort_unstable();
    let words = format!(
        "Turn the saddles of {} to their target heights, keeping the board's curve. Tune and read again.",
        said_strings(&strings, bench.strings.len())
    );
    let forecast = removal_forecast(bench, walk, Stage::Saddle);
    let todo = Todo::plain(Stage::Saddle, key, words).while_waiting(TURN_LATER);
    let turn = StringAmounts { mm: amounts.collect(), expanded_mm: unsure.collect() };
    walk.step(Todo { turn_down: Some(turn), forecast, ..todo });
}

/// What the saddle may have to lose once the steps before it are done: a range, never an amount to cut.
fn removal_forecast(bench: &Bench<'_>, walk: &Walk, stage: Stage) -> Option<Forecast> {
    if !walk.is_stale(stage) {
        return None;
    }
    let relief = relief::felt_at_12(bench, relief::planned_change_mm(bench, walk));
    let from_nut = felt_from_nut(fret_position_mm(bench.frame.scale_mm(), 12), bench.sounding_mm());
    let factor = bench.saddle_factor();
    let strings = bench.strings.iter().enumerate().map(|(place, string)| {
        string.action.map(|action| {
            let over = action.value - bench.action_target(place);
            let nut = walk.at_nut(place);
            range(
                (over + relief.least - nut.most * from_nut) * factor,
                (over + relief.most - nut.least * from_nut) * factor,
                action.expanded * factor,
            )
        })
    });
    Some(Forecast { quantity: "saddle_removal_mm".to_owned(), strings: strings.collect() })
}
