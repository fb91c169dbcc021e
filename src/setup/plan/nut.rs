//! The nut: a change there stays at the nut. Slots are lowered one by one, never below the frame's least.

use super::bench::{Bench, Read, StringRead, as_number};
use super::relief;
use super::types::{Forecast, Range, Severity};
use super::walk::{Found, Stage, Todo, Walk, range, said_amounts, said_strings};
use crate::problem::Problems;
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, MOST_SHIMS, cut};

/// How one string stands at the nut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stand {
    High,
    Low,
    Good,
    /// Outside, but not by more than the reading's uncertainty.
    Unsure,
    /// Read twice, and the two readings contradict each other.
    Disagrees,
    NotRead,
}

/// The reading a string is judged by, its target, its least and most.
pub(super) struct Judged {
    pub(super) read: Read,
    pub(super) is_gap: bool,
    pub(super) target: f64,
    least: f64,
    most: f64,
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) -> Result<(), Problems> {
    let apart = apart(bench);
    disagreements(bench, walk, &apart);
    let Stood { judged, stands } = Stood::of(bench, &apart);
    let which = |wanted: Stand| -> Vec<usize> {
        (1..).zip(&stands).filter(|(_, stand)| **stand == wanted).map(|(string, _)| string).collect()
    };
    let all = stands.len();
    let (high, low, unsure, missing) =
        (which(Stand::High), which(Stand::Low), which(Stand::Unsure), which(Stand::NotRead));
    if !missing.is_empty() {
        walk.ask_for("gap_at_1_stopped_at_3_mm");
        let on = said_strings(&missing, all);
        walk.unread(Stage::Nut, format!("the gap over the 1st fret, stopped at the 3rd, on {on}"));
        let words = format!("The nut was not read on {on}: stop at the 3rd fret and read the gap over the 1st.");
        walk.find(Stage::Nut, Found::new("reading-missing", Severity::Watch, words).on(missing));
    }
    if !unsure.is_empty() {
        let on = said_strings(&unsure, all);
        let reads = unsure.iter().filter_map(|number| judged.get(number - 1)?.as_ref());
        if reads.into_iter().any(|judged| judged.read.may_be_repeated()) {
            let words = format!(
                "On {on} the nut stands outside its range, but by no more than the reading's uncertainty. Repeat the reading before any file touches it."
            );
            let again = format!("Read the nut again on {on}, three times at least, before anything is cut.");
            walk.step(Todo::reading(Stage::Nut, "readings-too-uncertain", again));
            too_uncertain(walk, words, unsure);
        } else {
            let words = format!(
                "On {on} the nut stands at the edge of its range; repeated readings leave it open. It is let stand."
            );
            walk.find(Stage::Nut, Found::new("readings-too-uncertain", Severity::Watch, words).on(unsure));
        }
    }
    if high.is_empty() && low.is_empty() {
        return Ok(());
    }
    let amounts = amounts(bench, &judged, &stands)?;
    let change = relief::planned_change_mm(bench, walk);
    walk.expect_at_nut(removal_ranges(bench, change, &judged, &amounts));
    if !low.is_empty() {
        raise(bench, walk, &low, &judged, &amounts);
    }
    if !high.is_empty() {
        lower(bench, walk, &high, &judged, amounts);
    }
    Ok(())
}

/// How every string stands.
pub(super) struct Stood {
    pub(super) judged: Vec<Option<Judged>>,
    stands: Vec<Stand>,
}

impl Stood {
    pub(super) fn of(bench: &Bench<'_>, apart: &[Apart]) -> Self {
        let judged: Vec<Option<Judged>> = (0..bench.strings.len()).map(|place| judge(bench, place)).collect();
        let stands = (1..)
            .zip(&judged)
            .map(|(number, judged)| match judged {
                None => Stand::NotRead,
                Some(_) if apart.iter().any(|apart| apart.string == number) => Stand::Disagrees,
                Some(judged) => stand(judged),
            })
            .collect();
        Self { judged, stands }
    }

    /// Whether some string is to be filed or raised.
    pub(super) fn has_work(&self) -> bool {
        self.stands.iter().any(|stand| matches!(stand, Stand::High | Stand::Low))
    }

    pub(super) fn cut_input(&self, bench: &Bench<'_>) -> CutInput {
        cut_input(bench, &self.judged, &self.stands)
    }
}

fn too_uncertain(walk: &mut Walk, words: String, strings: Vec<usize>) {
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    walk.find(Stage::Nut, Found::new("readings-too-uncertain", Severity::Watch, words).on(strings));
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
    cut(&cut_input(bench, judged, stands))
}

fn cut_input(bench: &Bench<'_>, judged: &[Option<Judged>], stands: &[Stand]) -> CutInput {
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
    CutInput {
        place: CutPlace::Nut,
        scale_mm: bench.input.instrument.scale_mm,
        saddle_setback_mm: bench.input.instrument.saddle_setback_mm,
        first_pass_risk: habits.first_pass_risk,
        step_mm: habits.step_mm,
        cut_uncertainty_mm: habits.cut_uncertainty_mm,
        shim_mm: habits.shim_mm,
        strings: strings.collect(),
        showing_mm: None,
        showing_expanded_mm: None,
        least_showing_mm: None,
        board_radius_mm: None,
        spread_at_other_end_mm: None,
    }
}

/// How much the slot can lose before the open string is closer to fret 1 than to fret 2 stopped at 1.
fn most_removal(bench: &Bench<'_>, place: usize) -> Option<f64> {
    nut_floor(bench, place).map(|floor| floor.most_removal_mm())
}

/// The height a nut may come down to, and what it stands on, mm.
pub(super) struct NutFloor {
    pub(super) nut_mm: f64,
    pub(super) saddle_mm: f64,
    pub(super) least_mm: f64,
}

impl NutFloor {
    pub(super) fn most_removal_mm(&self) -> f64 {
        (self.nut_mm - self.least_mm).max(0.0)
    }
}

pub(super) fn nut_floor(bench: &Bench<'_>, place: usize) -> Option<NutFloor> {
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
    Some(NutFloor { nut_mm, saddle_mm, least_mm: frame.least_nut_mm(saddle_mm) })
}

/// What each slot is expected to lose, mm: the amount itself, and more or less of it once relief has changed.
pub(super) fn removal_ranges(
    bench: &Bench<'_>,
    change: f64,
    judged: &[Option<Judged>],
    amounts: &CutOutput,
) -> Vec<Option<Range>> {
    let (x_1, x_3) = (bench.frame.position_mm(1), bench.frame.position_mm(3));
    let one = |(judged, amount): (&Option<Judged>, &crate::setup::cut::StringCut)| {
        let (judged, exact) = judged.as_ref().zip(amount.exact_mm)?;
        let (felt, factor) = if judged.is_gap {
            (relief::felt_at_gap(bench, change), 1.0 / (1.0 - x_1 / x_3))
        } else {
            (relief::felt_at_first(bench, change), bench.sounding_mm() / (bench.sounding_mm() - x_1))
        };
        let unsure = judged.read.expanded * factor;
        Some(range(exact + felt.least * factor, exact + felt.most * factor, unsure))
    };
    judged.iter().zip(&amounts.strings).map(one).collect()
}

/// The reading of the string that stands farthest off, as words and figures.
fn worst<'j>(strings: &[usize], judged: &'j [Option<Judged>]) -> Option<&'j Judged> {
    let of = strings.iter().filter_map(|number| judged.get(number - 1)?.as_ref());
    let off = |judged: &Judged| (judged.read.value - judged.target).abs();
    of.max_by(|one, other| off(one).total_cmp(&off(other)))
}

fn with_figures(found: Found, worst: Option<&Judged>) -> Found {
    let Some(Judged { read, is_gap, target, .. }) = worst else {
        return found;
    };
    let name = if *is_gap { "gap_at_1_stopped_at_3_mm" } else { "first_fret_mm" };
    found.with(name, read.value).with("expanded_mm", read.expanded).with("target_mm", *target)
}

fn said_worst(worst: Option<&Judged>) -> String {
    let Some(Judged { read, is_gap, least, most, .. }) = worst else {
        return String::new();
    };
    let what = if *is_gap { "gap over the 1st stopped at the 3rd" } else { "open height over the 1st" };
    format!("{what} {} mm at worst, {least:.2} to {most:.2} mm is wished", read.said())
}

fn raise(bench: &Bench<'_>, walk: &mut Walk, low: &[usize], judged: &[Option<Judged>], amounts: &CutOutput) {
    let on = said_strings(low, bench.strings.len());
    let most = amounts.raise.iter().map(|raise| raise.mm).fold(0.0, f64::max);
    let shims = amounts.raise.iter().map(|raise| raise.shims).max().unwrap_or(0);
    let worst = worst(low, judged);
    let beyond = amounts.stops.iter().any(|stop| stop.key == "nut-beyond-shims");
    if beyond && !walk.is_stale(Stage::NutRaised) {
        let words = format!(
            "The nut is low on {on} by {most:.2} mm ({}): that is more than {MOST_SHIMS} shims. A new nut is the honest repair.",
            said_worst(worst)
        );
        let found = Found::new("nut-beyond-shims", Severity::Stop, words).on(low.to_vec()).service("new-nut");
        walk.find(Stage::Nut, with_figures(found, worst).with("raise_mm", most).with("shims", as_number(shims)));
        walk.step(Todo::offer(
            Stage::Nut,
            "nut-beyond-shims",
            "Quote a new nut, cut to the strings on the instrument.",
        ));
        return;
    }
    let words = format!("The nut is low on {on} ({}): open strings buzz on the first fret.", said_worst(worst));
    let found = Found::new("nut-low", Severity::Work, words).on(low.to_vec()).service("nut-slots");
    walk.find(Stage::Nut, with_figures(found, worst).with("raise_mm", most).with("shims", as_number(shims)));
    walk.caution(Stage::NutRaised, "string-tension");
    walk.caution(Stage::NutRaised, "thin-glue");
    let each = said_amounts(amounts.raise.iter().map(|raise| (raise.string, raise.mm)));
    let words = format!("Raise the nut under {on} with shims, glued thin: {each}. Then read every gap again.");
    let todo = Todo::plain(Stage::NutRaised, "nut-low", words)
        .while_waiting("Raise the nut with shims where it is still low, once what comes before it is settled and the gaps are read again.");
    let forecast = waiting_forecast(walk, Stage::NutRaised);
    // only the raise belongs to this step: slots that are high are filed after the gaps were read again
    let mut only_raise = amounts.clone();
    for string in only_raise.strings.iter_mut().filter(|string| string.exact_mm.is_some_and(|exact| exact > 0.0)) {
        (string.exact_mm, string.expanded_mm, string.first_pass_mm) = (None, None, 0.0);
    }
    walk.step(Todo { cut: Some(only_raise), forecast, ..todo });
}

fn lower(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], judged: &[Option<Judged>], mut amounts: CutOutput) {
    let on = said_strings(high, bench.strings.len());
    let first_pass = |number: usize| amounts.strings.get(number - 1).map_or(0.0, |string| string.first_pass_mm);
    let passes: Vec<(usize, f64)> =
        high.iter().map(|number| (*number, first_pass(*number))).filter(|(_, pass)| *pass > 0.0).collect();
    let most = amounts.strings.iter().filter_map(|string| string.exact_mm).fold(0.0, f64::max);
    let worst = worst(high, judged);
    let words =
        format!("The nut is high on {on} ({}): the first frets are hard to press and read sharp.", said_worst(worst));
    let found = Found::new("nut-high", Severity::Work, words).on(high.to_vec()).service("nut-slots");
    walk.find(Stage::Nut, with_figures(found, worst).with("most_removal_needed_mm", most));
    let step = bench.house.bench.step_mm;
    if high.iter().all(|number| most_removal(bench, number - 1).is_some_and(|most| most < step)) {
        let words = format!(
            "The nut reads high on {on}, yet its slots are as low as they may be: any lower, and the open string would come closer to fret 1 than it does to fret 2 when stopped at 1. Read the gaps and the heights at the 12th again; nothing is filed."
        );
        walk.ask_for("action_12_mm");
        walk.ask_for("gap_at_1_stopped_at_3_mm");
        walk.step(Todo::reading(Stage::Nut, "readings-disagree", words.clone()));
        walk.find(Stage::Nut, Found::new("readings-disagree", Severity::Watch, words).on(high.to_vec()));
        return;
    }
    if passes.is_empty() {
        let words = format!(
            "The nut is high on {on}, but what is to come off is no more than reading and file are unsure of. Repeat the readings, or use a finer tool; nothing is filed."
        );
        walk.step(Todo::reading(Stage::Nut, "readings-too-uncertain", words.clone()));
        too_uncertain(walk, words, high.to_vec());
        return;
    }
    walk.caution(Stage::Nut, "string-tension");
    walk.caution(Stage::Nut, "bone-dust");
    let words = format!(
        "First pass off the slots, ramped towards the tuner: {}. String back in, tuned; read the gap again before the rest.",
        said_amounts(passes.into_iter())
    );
    // shims under the low strings lift the whole nut
    let shims = amounts.raise.drain(..).map(|raise| raise.shims).max().unwrap_or(0);
    let lift = as_number(shims) * bench.house.bench.shim_mm;
    let mut forecast = waiting_forecast(walk, Stage::Nut);
    for range in forecast.iter_mut().flat_map(|forecast| forecast.strings.iter_mut().flatten()) {
        range.most += lift;
    }
    let todo = Todo::plain(Stage::Nut, "nut-high", words).while_waiting(
        "Lower the nut slots that are still high, once what comes before it is settled and the gaps are read again.",
    );
    walk.step(Todo { cut: Some(amounts), forecast, ..todo });
}

fn waiting_forecast(walk: &Walk, stage: Stage) -> Option<Forecast> {
    walk.is_stale(stage)
        .then(|| Forecast { quantity: "nut_removal_mm".to_owned(), strings: walk.nut_removals().to_vec() })
}

/// A string whose open height and stopped gap tell the nut's height twice, and differently.
#[derive(Debug, Clone, Copy)]
pub(super) struct Apart {
    /// From 1.
    pub(super) string: usize,
    /// Gap that follows from the open heights, mm.
    pub(super) gap_from_heights_mm: f64,
    /// How far the two lie apart, mm.
    pub(super) off_mm: f64,
    /// What could be the readings, mm.
    pub(super) expanded_mm: f64,
}

/// How much a reading moves the gap that follows from the open heights, mm per mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct ByReading {
    pub(super) first: f64,
    pub(super) action: f64,
    pub(super) relief: f64,
}

impl ByReading {
    pub(super) fn of(bench: &Bench<'_>) -> Self {
        let frame = &bench.frame;
        let (x_1, x_3, x_12) = (frame.position_mm(1), frame.position_mm(3), frame.position_mm(12));
        let share = x_1 / x_3;
        // the nut's height follows the first reading nearly whole and the 12th by a little
        Self {
            first: (1.0 - share) * x_12 / (x_12 - x_1),
            action: (1.0 - share) * x_1 / (x_12 - x_1),
            relief: relief::felt_at_gap(bench, 1.0).least,
        }
    }
}

/// Where the two readings of one string differ by more than their uncertainty one of them was misread,
/// and nothing is filed until that is settled.
pub(super) fn apart(bench: &Bench<'_>) -> Vec<Apart> {
    let frame = &bench.frame;
    let by = ByReading::of(bench);
    let relief_expanded = bench.relief.map_or(0.0, |relief| relief.expanded);
    let of = |(string, read): (usize, &StringRead)| {
        let (gap, first, action) = (read.gap?, read.first?, read.action?);
        let nut_mm = frame.string(first.value, action.value).nut_mm;
        let gap_from_heights_mm = frame.gap_at_1_stopped_at_3_mm(nut_mm);
        let off_mm = (gap_from_heights_mm - gap.value).abs();
        let expanded_mm = (by.first * first.expanded)
            .hypot(by.action * action.expanded)
            .hypot(gap.expanded)
            .hypot(by.relief * relief_expanded);
        (off_mm > expanded_mm).then_some(Apart { string, gap_from_heights_mm, off_mm, expanded_mm })
    };
    (1..).zip(&bench.strings).filter_map(of).collect()
}

/// The one that lies farthest apart; of equals the first.
pub(super) fn farthest(apart: &[Apart]) -> Option<&Apart> {
    apart.iter().rev().max_by(|one, other| one.off_mm.total_cmp(&other.off_mm))
}

fn disagreements(bench: &Bench<'_>, walk: &mut Walk, apart: &[Apart]) {
    let Some(Apart { off_mm: worst, expanded_mm: allowed, .. }) = farthest(apart) else {
        return;
    };
    let strings: Vec<usize> = apart.iter().map(|apart| apart.string).collect();
    walk.ask_for("first_fret_mm");
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let on = said_strings(&strings, bench.strings.len());
    let check = format!(
        "Read the open height and the stopped gap over the 1st fret again on {on}, tuned to pitch and the 3rd fret fully pressed."
    );
    let words = format!(
        "On {on} the open height and the stopped gap over the 1st fret contradict each other by up to {worst:.2} mm, where {allowed:.2} mm could be the readings. Nothing is filed on either."
    );
    walk.step(Todo::reading(Stage::NutReadings, "readings-disagree", check));
    let found = Found::new("readings-disagree", Severity::Watch, words).on(strings);
    walk.find(Stage::Nut, found.with("apart_mm", *worst).with("expanded_mm", *allowed));
}
