//! The saddle: felt all the way up the neck. The last place where heights are set, and the dearest.

use super::bench::{Bench, Read};
use super::types::{Forecast, Severity};
use super::walk::{Found, Stage, Todo, Walk, range, said_strings};
use crate::problem::Problems;
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, Ends, cut};
use crate::setup::frame::{felt_from_nut, fret_position_mm, relief_effect_at_12};

/// A coverage of 95 % on the normal.
const COVERAGE: f64 = 1.96;

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) -> Result<(), Problems> {
    let all = bench.strings.len();
    let numbered = || (1..).zip(bench.strings.iter().enumerate());
    let missing: Vec<usize> =
        numbered().filter(|(_, (_, string))| string.action.is_none()).map(|(number, _)| number).collect();
    if !missing.is_empty() {
        walk.ask_for("action_12_mm");
        let words = format!("The height at the 12th fret was not read on {}.", said_strings(&missing, all));
        walk.find(Stage::Saddle, Found::new("reading-missing", Severity::Watch, words).on(missing.clone()));
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
    let Some(showing) = bench.showing else {
        walk.ask_for("saddle_showing_mm");
        let words =
            "How much saddle shows above the bridge was not read, at treble and bass. Without it no cut is safe.";
        walk.find(Stage::Saddle, Found::new("reading-missing", Severity::Work, words));
        let key = if high.is_empty() { "saddle-low" } else { "saddle-high" };
        walk.step(Todo {
            forecast: removal_forecast(bench, walk),
            ..Todo::plain(
                Stage::Saddle,
                key,
                "Read the saddle's showing at treble and bass; the amounts follow from it.",
            )
        });
        return Ok(());
    };
    let amounts = amounts(bench, showing)?;
    decide(bench, walk, &high, &low, amounts);
    Ok(())
}

fn report(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize]) {
    let all = bench.strings.len();
    let off = |numbers: &[usize], sign: f64| {
        let offs = numbers.iter().filter_map(|number| {
            let place = number - 1;
            let action = bench.strings.get(place)?.action?;
            Some(sign * (action.value - bench.action_target(place)))
        });
        offs.fold(0.0, f64::max)
    };
    if !high.is_empty() {
        let most = off(high, 1.0);
        let words = format!(
            "The strings stand high at the 12th on {}, by up to {most:.2} mm over the target.",
            said_strings(high, all)
        );
        walk.find(
            Stage::Saddle,
            Found::new("saddle-high", Severity::Work, words)
                .on(high.to_vec())
                .with("over_target_mm", most)
                .service("saddle-lower"),
        );
    }
    if !low.is_empty() {
        let most = off(low, -1.0);
        let words = format!(
            "The strings stand low at the 12th on {}, by up to {most:.2} mm under the target: they will buzz.",
            said_strings(low, all)
        );
        walk.find(
            Stage::Saddle,
            Found::new("saddle-low", Severity::Work, words)
                .on(low.to_vec())
                .with("under_target_mm", most)
                .service("new-saddle"),
        );
    }
}

fn amounts(bench: &Bench<'_>, showing: (Read, Read)) -> Result<CutOutput, Problems> {
    let habits = &bench.house.bench;
    let strings = bench.strings.iter().enumerate().map(|(place, string)| CutString {
        position_mm: Some(bench.position_mm(place)),
        action_12_mm: string.action.map(|action| action.value),
        target_mm: bench.action_target(place),
        standard_uncertainty_mm: string.action.map_or(0.0, |action| action.uncertainty),
        degrees_of_freedom: string.action.and_then(|action| action.freedom),
        ..CutString::default()
    });
    cut(&CutInput {
        place: CutPlace::Saddle,
        scale_mm: bench.input.instrument.scale_mm,
        saddle_setback_mm: bench.input.instrument.saddle_setback_mm,
        first_pass_risk: habits.first_pass_risk,
        step_mm: habits.step_mm,
        cut_uncertainty_mm: habits.cut_uncertainty_mm,
        shim_mm: habits.shim_mm,
        strings: strings.collect(),
        showing_mm: Some(Ends { treble: showing.0.value, bass: showing.1.value }),
        least_showing_mm: Some(bench.targets.least_showing_mm),
    })
}

fn decide(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize], amounts: CutOutput) {
    let all = bench.strings.len();
    let is_stale = walk.is_stale(Stage::Saddle);
    let spent = amounts.stops.iter().any(|stop| stop.key == "saddle-spent");
    if spent && !high.is_empty() {
        let least = bench.targets.least_showing_mm;
        let showing = bench.showing.map_or(0.0, |(treble, bass)| treble.value.min(bass.value));
        let words = format!(
            "Bringing the strings down would leave less than {least:.1} mm of saddle above the bridge. This is beyond a setup: neck angle or bridge is the larger work."
        );
        let severity = if is_stale { Severity::Watch } else { Severity::Stop };
        let end = if is_stale { " The steps before may change that: measure again first." } else { "" };
        let found = Found::new("saddle-spent", severity, format!("{words}{end}")).on(high.to_vec());
        walk.find(
            Stage::Saddle,
            found.with("showing_mm", showing).with("least_showing_mm", least).service("neck-reset"),
        );
        if !is_stale {
            walk.step(Todo::offer(
                Stage::Saddle,
                "saddle-spent",
                "Quote the larger work: neck reset, or a lower bridge and new saddle, as the bench finds.",
            ));
            return;
        }
    }
    let forecast = removal_forecast(bench, walk);
    if !low.is_empty() {
        let words = format!(
            "Raise the saddle under {}: a shim its full length, or a new saddle. Then read the heights again.",
            said_strings(low, all)
        );
        walk.step(Todo {
            cut: Some(amounts.clone()),
            forecast: forecast.clone(),
            ..Todo::plain(Stage::Saddle, "saddle-low", words)
        });
    }
    if !high.is_empty() {
        walk.caution("bone-dust");
        let words = "Take the first pass off the saddle's foot, straight and square, fit, tune, let it settle. Read the heights again, then plan the rest.";
        walk.step(Todo { cut: Some(amounts), forecast, ..Todo::plain(Stage::Saddle, "saddle-high", words) });
    }
    walk.caution("string-tension");
}

/// Screws and wheels turn both ways: no material is lost, so the whole amount is said at once.
fn turn_screws(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize]) {
    let factor = bench.saddle_factor();
    let amounts = bench
        .strings
        .iter()
        .enumerate()
        .map(|(place, string)| string.action.map(|action| (action.value - bench.action_target(place)) * factor));
    let key = if high.is_empty() { "saddle-low" } else { "saddle-high" };
    let mut strings: Vec<usize> = high.iter().chain(low).copied().collect();
    strings.sort_unstable();
    let words = format!(
        "Turn the saddles of {} to their target heights, keeping the board's curve. Tune and read again.",
        said_strings(&strings, bench.strings.len())
    );
    walk.step(Todo {
        turn_down_mm: Some(amounts.collect()),
        forecast: removal_forecast(bench, walk),
        ..Todo::plain(Stage::Saddle, key, words)
    });
}

/// What the saddle may have to lose once the steps before it are done: a range, never an amount to cut.
fn removal_forecast(bench: &Bench<'_>, walk: &Walk) -> Option<Forecast> {
    if !walk.is_stale(Stage::Saddle) {
        return None;
    }
    let instrument = &bench.input.instrument;
    let relief_change = match bench.relief {
        Some(relief) if walk.has_step("relief-too-much") || walk.has_step("relief-too-little") => {
            bench.targets.relief_mm - relief.value
        }
        _ => 0.0,
    };
    let (tied, bent) = relief_effect_at_12(instrument.scale_mm, instrument.body_fret);
    let at_12 = felt_from_nut(fret_position_mm(instrument.scale_mm, 12), bench.sounding_mm());
    let nut_works = walk.has_step("nut-high") || walk.has_step("nut-low");
    let factor = bench.saddle_factor();
    let strings = bench.strings.iter().enumerate().map(|(place, string)| {
        string.action.map(|action| {
            let nut_change = match string.gap {
                Some(gap) if nut_works => {
                    let per_gap = 1.0 / (1.0 - bench.frame.position_mm(1) / bench.frame.position_mm(3));
                    -(gap.value - bench.targets.gap_mm) * per_gap * at_12
                }
                _ => 0.0,
            };
            let over = action.value + nut_change - bench.action_target(place);
            range(
                (over + relief_change * tied) * factor,
                (over + relief_change * bent) * factor,
                COVERAGE * action.uncertainty * factor,
            )
        })
    });
    Some(Forecast { quantity: "saddle_removal_mm".to_owned(), strings: strings.collect() })
}
