//! The nut: a change there stays at the nut. Slots are lowered one by one, never below the frame's least.

use super::bench::{Bench, Read};
use super::types::{Forecast, Severity};
use super::walk::{Found, Stage, Todo, Walk, range, said_strings};
use crate::problem::Problems;
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, MOST_SHIMS, cut};

/// A coverage of 95 % on the normal, for comparing two readings of one thing.
const COVERAGE: f64 = 1.96;

/// How one string stands at the nut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stand {
    High,
    Low,
    Good,
    /// Outside, but not by more than the reading's uncertainty.
    Unsure,
    NotRead,
}

/// The reading a string is judged by, its target, its least and most.
struct Judged {
    read: Read,
    is_gap: bool,
    target: f64,
    least: f64,
    most: f64,
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) -> Result<(), Problems> {
    disagreements(bench, walk);
    let judged: Vec<Option<Judged>> = (0..bench.strings.len()).map(|place| judge(bench, place)).collect();
    let stands: Vec<Stand> = judged.iter().map(|judged| judged.as_ref().map_or(Stand::NotRead, stand)).collect();
    let which = |wanted: Stand| -> Vec<usize> {
        (1..).zip(&stands).filter(|(_, stand)| **stand == wanted).map(|(string, _)| string).collect()
    };
    let all = stands.len();
    let (high, low, unsure, missing) =
        (which(Stand::High), which(Stand::Low), which(Stand::Unsure), which(Stand::NotRead));
    if !missing.is_empty() {
        walk.ask_for("gap_at_1_stopped_at_3_mm");
        let words = format!(
            "The nut was not read on {}: stop at the 3rd fret and read the gap over the 1st.",
            said_strings(&missing, all)
        );
        walk.find(Stage::Nut, Found::new("reading-missing", Severity::Watch, words).on(missing));
    }
    if !unsure.is_empty() {
        walk.ask_for("gap_at_1_stopped_at_3_mm");
        let words = format!(
            "On {} the nut stands outside its range, but by no more than the reading's uncertainty. Repeat the reading before any file touches it.",
            said_strings(&unsure, all)
        );
        walk.find(Stage::Nut, Found::new("readings-too-uncertain", Severity::Watch, words).on(unsure));
    }
    if high.is_empty() && low.is_empty() {
        return Ok(());
    }
    let amounts = amounts(bench, &judged, &stands)?;
    report_high(walk, &high, &amounts, all);
    report_low(walk, &low, &amounts, all);
    steps(bench, walk, &high, &low, amounts);
    Ok(())
}

fn judge(bench: &Bench<'_>, place: usize) -> Option<Judged> {
    let string = bench.strings.get(place)?;
    let targets = &bench.targets;
    if let Some(read) = string.gap {
        return Some(Judged {
            read,
            is_gap: true,
            target: targets.gap_mm,
            least: targets.gap_least_mm,
            most: targets.gap_most_mm,
        });
    }
    let read = string.first?;
    let target = bench.first_target(place);
    let tolerance = targets.first_fret_tolerance_mm;
    Some(Judged { read, is_gap: false, target, least: target - tolerance, most: target + tolerance })
}

fn stand(judged: &Judged) -> Stand {
    let Judged { read, least, most, .. } = judged;
    if read.value - read.expanded > *most {
        Stand::High
    } else if read.value + read.expanded < *least {
        Stand::Low
    } else if read.value > *most || read.value < *least {
        Stand::Unsure
    } else {
        Stand::Good
    }
}

fn amounts(bench: &Bench<'_>, judged: &[Option<Judged>], stands: &[Stand]) -> Result<CutOutput, Problems> {
    let strings = judged.iter().zip(stands).enumerate().map(|(place, (judged, stand))| {
        let Some(judged) = judged else {
            return CutString::default();
        };
        // a string that stands well keeps its slot: nothing comes off there
        let value = matches!(stand, Stand::High | Stand::Low).then_some(judged.read.value);
        CutString {
            gap_at_1_stopped_at_3_mm: value.filter(|_| judged.is_gap),
            first_fret_mm: value.filter(|_| !judged.is_gap),
            target_mm: judged.target.max(0.0),
            standard_uncertainty_mm: judged.read.uncertainty,
            degrees_of_freedom: judged.read.freedom,
            most_removal_mm: most_removal(bench, place),
            ..CutString::default()
        }
    });
    let habits = &bench.house.bench;
    cut(&CutInput {
        place: CutPlace::Nut,
        scale_mm: bench.input.instrument.scale_mm,
        saddle_setback_mm: bench.input.instrument.saddle_setback_mm,
        first_pass_risk: habits.first_pass_risk,
        step_mm: habits.step_mm,
        cut_uncertainty_mm: habits.cut_uncertainty_mm,
        shim_mm: habits.shim_mm,
        strings: strings.collect(),
        showing_mm: None,
        least_showing_mm: None,
    })
}

/// How much the slot can lose before the open string is closer to fret 1 than to fret 2 stopped at 1.
fn most_removal(bench: &Bench<'_>, place: usize) -> Option<f64> {
    let string = bench.strings.get(place)?;
    let action = string.action?.value;
    let frame = &bench.frame;
    let scale = frame.scale_mm();
    let nut_mm = match (string.gap, string.first) {
        (Some(gap), _) => frame.nut_from_gap_mm(gap.value),
        (None, Some(first)) => frame.string(first.value, action).nut_mm,
        (None, None) => return None,
    };
    let over_twelfth = action + frame.top_mm(12);
    let saddle_mm = nut_mm + (over_twelfth - nut_mm) * scale / frame.position_mm(12);
    Some((nut_mm - frame.least_nut_mm(saddle_mm)).max(0.0))
}

fn report_high(walk: &mut Walk, high: &[usize], amounts: &CutOutput, all: usize) {
    if high.is_empty() {
        return;
    }
    let most = largest(amounts, |exact| exact);
    let words =
        format!("The nut is high on {}: the first frets are hard to press and read sharp.", said_strings(high, all));
    let found = Found::new("nut-high", Severity::Work, words).on(high.to_vec()).with("most_removal_needed_mm", most);
    walk.find(Stage::Nut, found.service("nut-slots"));
}

fn report_low(walk: &mut Walk, low: &[usize], amounts: &CutOutput, all: usize) {
    if low.is_empty() {
        return;
    }
    let most = largest(amounts, |exact| -exact);
    let shims = amounts.raise.iter().map(|raise| raise.shims).max().unwrap_or(0);
    let beyond = amounts.stops.iter().any(|stop| stop.key == "nut-beyond-shims");
    if beyond && !walk.is_stale(Stage::Nut) {
        let words = format!(
            "The nut is low on {} by {most:.2} mm: that is more than {MOST_SHIMS} shims. A new nut is the honest repair.",
            said_strings(low, all)
        );
        let found = Found::new("nut-beyond-shims", Severity::Stop, words).on(low.to_vec());
        walk.find(
            Stage::Nut,
            found.with("raise_mm", most).with("shims", super::bench::as_number(shims)).service("new-nut"),
        );
        walk.step(Todo::offer(
            Stage::Nut,
            "nut-beyond-shims",
            "Quote a new nut, cut to the strings on the instrument.",
        ));
        return;
    }
    let words = format!("The nut is low on {}: open strings buzz on the first fret.", said_strings(low, all));
    let found = Found::new("nut-low", Severity::Work, words).on(low.to_vec()).with("raise_mm", most);
    walk.find(Stage::Nut, found.with("shims", super::bench::as_number(shims)).service("nut-slots"));
}

fn largest(amounts: &CutOutput, of: impl Fn(f64) -> f64) -> f64 {
    amounts.strings.iter().filter_map(|string| string.exact_mm.map(&of)).fold(0.0, f64::max)
}

fn steps(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize], amounts: CutOutput) {
    walk.caution("bone-dust");
    let all = bench.strings.len();
    let is_stale = walk.is_stale(Stage::Nut);
    let forecast = is_stale.then(|| Forecast {
        quantity: "nut_removal_mm".to_owned(),
        strings: amounts
            .strings
            .iter()
            .map(|string| string.exact_mm.map(|exact| range(exact, exact, COVERAGE * string.standard_uncertainty_mm)))
            .collect(),
    });
    if !low.is_empty() && !walk.has_step("nut-beyond-shims") {
        let words =
            format!("Raise the nut under {} with shims, glued thin, then read the gaps again.", said_strings(low, all));
        walk.caution("thin-glue");
        walk.step(Todo {
            cut: Some(amounts.clone()),
            forecast: forecast.clone(),
            ..Todo::plain(Stage::Nut, "nut-low", words)
        });
    }
    if !high.is_empty() {
        let words = format!(
            "Lower the slots of {} by the first pass, ramped towards the tuner, string back in, tuned. Read the gap again before the rest.",
            said_strings(high, all)
        );
        walk.step(Todo { cut: Some(amounts), forecast, ..Todo::plain(Stage::Nut, "nut-high", words) });
    }
}

/// The open height and the stopped gap of one string tell the nut's height twice. Where they differ by
/// more than their uncertainty one of them was misread.
fn disagreements(bench: &Bench<'_>, walk: &mut Walk) {
    let frame = &bench.frame;
    let (x_1, x_3, x_12) = (frame.position_mm(1), frame.position_mm(3), frame.position_mm(12));
    let share = x_1 / x_3;
    let relief_share = bench.relief.map_or(0.0, |relief| relief.uncertainty);
    let mut apart: Vec<usize> = Vec::new();
    let mut worst = 0.0_f64;
    for (number, string) in (1..).zip(&bench.strings) {
        let (Some(gap), Some(first), Some(action)) = (string.gap, string.first, string.action) else {
            continue;
        };
        let nut_mm = frame.string(first.value, action.value).nut_mm;
        let expected = frame.gap_at_1_stopped_at_3_mm(nut_mm);
        // the nut's height follows the first reading nearly whole and the 12th by a little
        let by_first = (1.0 - share) * x_12 / (x_12 - x_1);
        let by_action = (1.0 - share) * x_1 / (x_12 - x_1);
        let uncertainty = (by_first * first.uncertainty)
            .hypot(by_action * action.uncertainty)
            .hypot(gap.uncertainty)
            .hypot(share * relief_share);
        if (expected - gap.value).abs() > COVERAGE * uncertainty {
            apart.push(number);
            worst = worst.max((expected - gap.value).abs());
        }
    }
    if apart.is_empty() {
        return;
    }
    walk.ask_for("first_fret_mm");
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let words = format!(
        "On {} the open height and the stopped gap over the 1st fret contradict each other by up to {worst:.2} mm. Read both again; \
         check that the string was tuned and the 3rd fret fully pressed.",
        said_strings(&apart, bench.strings.len())
    );
    walk.find(Stage::Nut, Found::new("readings-disagree", Severity::Watch, words).on(apart).with("apart_mm", worst));
}
