//! A slotted nut: slots filed one by one; a slot too low among good ones filled and cut again; a nut too low
//! altogether raised with shims, which lift it whole.

use super::judged::{AtNut, NutJudged, said_worst, too_uncertain, with_figures};
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, MOST_SHIMS, Raise, StringCut, worked_out};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::output::{Forecast, Range, Severity};
use crate::setup::plan::read::{ENOUGH_REPEATS, as_number};
use crate::setup::plan::relief;
use crate::setup::plan::stand::Stand;
use crate::setup::plan::walk::{Found, Holds, Removal, Stage, Todo, Walk, range, said_amounts, said_strings};

pub(super) fn look(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let (high, low) = (nut.that(Stand::High), nut.that(Stand::Low));
    let amounts = worked_out(&cut_input(bench, nut));
    walk.expect_at_nut(removal_ranges(bench, relief::planned_change_mm(bench, walk), nut, &amounts));
    lean_on_heights(bench, walk, &high, &low);
    if !low.is_empty() {
        raise(bench, walk, nut, (&low, &high), &amounts);
    }
    if !high.is_empty() {
        lower(bench, walk, nut, (&high, &low), amounts);
    }
}

/// A slot is worked on only where the height at the 12th is known: its least follows from it.
fn lean_on_heights(bench: &Bench<'_>, walk: &mut Walk, high: &[usize], low: &[usize]) {
    let is_unread = |number: &&usize| bench.strings.get(**number - 1).is_some_and(|string| string.action.is_none());
    let mut missing: Vec<usize> = high.iter().chain(low).filter(is_unread).copied().collect();
    if missing.is_empty() {
        return;
    }
    missing.sort_unstable();
    walk.ask_for("action_12_mm");
    let on = said_strings(&missing, bench.strings.len());
    walk.unread(Stage::NutRaised, format!("the height over the 12th fret on {on}"));
}

/// A slot or two too low among good ones: a shim would lift them all.
fn is_filled(low: &[usize], nut: &NutJudged) -> bool {
    low.len() * 2 < nut.stands.len()
}

pub(in crate::setup::plan) fn cut_input(bench: &Bench<'_>, nut: &NutJudged) -> CutInput {
    let strings = nut.strings.iter().zip(&nut.stands).enumerate().map(|(place, (judged, stand))| {
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
            repeats: Some(judged.read.repeats),
            most_removal_mm: most_removal(bench, place),
            ..bench.run_of(place)
        }
    });
    CutInput {
        strings: strings.collect(),
        first_pass_risk: bench.risk_of_the_chosen(),
        ..bench.cut_input(CutPlace::Nut)
    }
}

/// How much the slot can lose before the open string is closer to its first fret than to its second stopped at the
/// first.
fn most_removal(bench: &Bench<'_>, place: usize) -> Option<f64> {
    floor(bench, place).map(|floor| floor.most_removal_mm())
}

/// The height a nut may come down to, and what it stands on, mm.
pub(in crate::setup::plan) struct Floor {
    pub(in crate::setup::plan) nut_mm: f64,
    pub(in crate::setup::plan) saddle_mm: f64,
    pub(in crate::setup::plan) least_mm: f64,
}

impl Floor {
    pub(in crate::setup::plan) fn most_removal_mm(&self) -> f64 {
        (self.nut_mm - self.least_mm).max(0.0)
    }
}

pub(in crate::setup::plan) fn floor(bench: &Bench<'_>, place: usize) -> Option<Floor> {
    let string = bench.strings.get(place)?;
    let action = bench.action(place)?.value;
    let frame = bench.frame(place);
    let from = frame.start_mm();
    let nut_mm = match (string.gap, string.first) {
        (Some(gap), _) => frame.nut_from_gap_mm(gap.value),
        (None, Some(first)) => frame.string(first.value, action).height_mm(from),
        (None, None) => return None,
    };
    let over_twelfth = action + frame.top_mm(12);
    let saddle_mm = nut_mm + (over_twelfth - nut_mm) * (frame.scale_mm() - from) / (frame.position_mm(12) - from);
    Some(Floor { nut_mm, saddle_mm, least_mm: frame.least_nut_mm(saddle_mm) })
}

/// What each slot is expected to lose, mm: the amount itself, and more or less of it once relief has changed.
pub(in crate::setup::plan) fn removal_ranges(
    bench: &Bench<'_>,
    change: f64,
    nut: &NutJudged,
    amounts: &CutOutput,
) -> Vec<Option<Range>> {
    let one = |(place, (judged, amount)): (usize, (&Option<AtNut>, &StringCut))| {
        let (judged, exact) = judged.as_ref().zip(amount.exact_mm)?;
        let frame = bench.frame(place);
        let models = if judged.is_gap { frame.relief_at_gap() } else { frame.relief_at_first() };
        let factor = bench.nut_factor(place, judged.is_gap);
        let felt = relief::felt(models, change);
        let unsure = judged.read.expanded * factor;
        Some(range(exact + felt.least * factor, exact + felt.most * factor, unsure))
    };
    nut.strings.iter().zip(&amounts.strings).enumerate().map(one).collect()
}

fn raise(bench: &Bench<'_>, walk: &mut Walk, nut: &NutJudged, (low, high): (&[usize], &[usize]), amounts: &CutOutput) {
    let on = said_strings(low, bench.strings.len());
    let most = amounts.raise.iter().map(|raise| raise.mm).fold(0.0, f64::max);
    let shims = amounts.raise.iter().map(|raise| raise.shims).max().unwrap_or(0);
    let worst = nut.worst(low);
    let with_numbers = |found: Found| with_figures(found, worst).with("raise_mm", most);
    if shims > MOST_SHIMS && !walk.is_open(Stage::NutRaised) {
        let words = format!(
            "The nut is low on {on} by {most:.2} mm ({}): that is more than {MOST_SHIMS} shims. A new nut is the honest repair.",
            said_worst(worst)
        );
        let found = Found::new("nut-beyond-shims", Severity::Stop, words).on(low.to_vec()).service("new-nut");
        walk.find(Stage::NutRaised, with_numbers(found).with("shims", as_number(shims)));
        walk.step(Todo::offer(
            Stage::NutRaised,
            "nut-beyond-shims",
            "Quote a new nut, cut to the strings on the instrument.",
        ));
        return;
    }
    let words = format!("The nut is low on {on} ({}): open strings buzz on the first fret.", said_worst(worst));
    let found = Found::new("nut-low", Severity::Work, words).on(low.to_vec()).service("nut-slots");
    let filled = is_filled(low, nut);
    walk.find(
        Stage::NutRaised,
        if filled { with_numbers(found) } else { with_numbers(found).with("shims", as_number(shims)) },
    );
    lonely(bench, walk, nut, low, Stage::NutRaised);
    walk.caution(Stage::NutRaised, "string-tension");
    walk.caution(Stage::NutRaised, "thin-glue");
    walk.caution(Stage::NutRaised, "bone-dust");
    let each = said_amounts(amounts.raise.iter().map(|raise| (raise.string, raise.mm)));
    let slots = if low.len() == 1 { "slot" } else { "slots" };
    let (words, later) = if filled {
        (
            format!(
                "Fill the {slots} of {on} and cut again, higher at the front by: {each}; or quote a new nut. A shim would lift every string. Then read those gaps again."
            ),
            "Fill the slots that are still low and cut them again, or quote a new nut, once the gaps are read again.",
        )
    } else {
        let then = if high.is_empty() { "" } else { " Slots that then stand high are filed by those readings." };
        (
            format!("Raise the nut under {on} with shims, glued thin: {each}. Then read every gap again.{then}"),
            "Raise the nut with shims where it is still low, once the gaps are read again.",
        )
    };
    let todo = Todo::removing(Stage::NutRaised, "nut-low", words, Removal::Cut(Box::new(only_raise(amounts, filled))));
    walk.step(todo.while_waiting(later).expecting_while_waiting(forecast(walk)));
}

/// Only the raise: slots that are high are filed by readings of their own.
fn only_raise(amounts: &CutOutput, filled: bool) -> CutOutput {
    let mut only = amounts.clone();
    for string in only.strings.iter_mut().filter(|string| string.exact_mm.is_some_and(|exact| exact > 0.0)) {
        (string.exact_mm, string.expanded_mm, string.first_pass_mm) = (None, None, 0.0);
    }
    if filled {
        only.raise = only.raise.into_iter().map(|raise| Raise { shims: 0, ..raise }).collect();
    }
    only
}

fn lower(
    bench: &Bench<'_>,
    walk: &mut Walk,
    nut: &NutJudged,
    (high, low): (&[usize], &[usize]),
    mut amounts: CutOutput,
) {
    let on = said_strings(high, bench.strings.len());
    let first_pass = |number: usize| amounts.strings.get(number - 1).map_or(0.0, |string| string.first_pass_mm);
    let passes: Vec<(usize, f64)> =
        high.iter().map(|number| (*number, first_pass(*number))).filter(|(_, pass)| *pass > 0.0).collect();
    let most = amounts.strings.iter().filter_map(|string| string.exact_mm).fold(0.0, f64::max);
    let worst = nut.worst(high);
    // what is to come off ends at the slot's least, and that is no more than reading and file are unsure of
    let is_at_least = passes.is_empty()
        && high.iter().all(|number| {
            let exact = amounts.strings.get(number - 1).and_then(|string| string.exact_mm);
            most_removal(bench, number - 1).is_some_and(|most| exact.is_some_and(|exact| exact >= most))
        });
    let repeats = |number: usize| {
        let nut = nut.strings.get(number - 1).and_then(Option::as_ref).map_or(0, |judged| judged.read.repeats);
        nut.min(bench.action(number - 1).map_or(0, |read| read.repeats))
    };
    let fewest = high.iter().map(|number| repeats(*number)).min().unwrap_or(0);
    let may_decide = fewest < ENOUGH_REPEATS;
    // a cut that is less than what reading and file leave open is given up after twice as many
    let is_given_up = passes.is_empty() && !is_at_least && fewest >= 2 * ENOUGH_REPEATS;
    let is_left = is_given_up || (is_at_least && !may_decide);
    let words =
        format!("The nut is high on {on} ({}): the first frets are hard to press and read sharp.", said_worst(worst));
    let severity = if is_left { Severity::Watch } else { Severity::Work };
    let found = Found::new("nut-high", severity, words).on(high.to_vec());
    let found = if is_left { found } else { found.service("nut-slots") };
    // where nothing is filed it is not called found, nor sold
    if is_at_least {
        as_low_as_may_be(walk, &on, high, may_decide);
        return;
    }
    let found = if passes.is_empty() { Found { severity: Severity::Watch, service: None, ..found } } else { found };
    walk.find(Stage::Nut, with_figures(found, worst).with("most_removal_needed_mm", most));
    if passes.is_empty() {
        if !is_given_up {
            let words = format!(
                "The nut is high on {on}, but what is to come off is no more than reading and file are unsure of. Repeat the readings, or use a finer tool; nothing is filed."
            );
            let settles = format!("the nut is read again on {on}");
            too_uncertain(walk, Stage::Nut, words.clone(), words, settles, high.to_vec());
        }
        return;
    }
    // shims lift the whole nut: what is then high is filed by readings taken after them
    if !low.is_empty() && !is_filled(low, nut) && walk.has_step("nut-low") {
        return;
    }
    lonely(bench, walk, nut, high, Stage::Nut);
    walk.caution(Stage::Nut, "string-tension");
    walk.caution(Stage::Nut, "bone-dust");
    let where_from = begins_at(bench, &passes);
    let words = format!(
        "First pass off {where_from}: {}. String back in, tuned; read the gap again before the rest.",
        said_amounts(passes.into_iter())
    );
    amounts.raise.clear();
    for string in amounts.strings.iter_mut().filter(|string| string.exact_mm.is_some_and(|exact| exact < 0.0)) {
        (string.exact_mm, string.expanded_mm) = (None, None);
    }
    let todo = Todo::removing(Stage::Nut, "nut-high", words, Removal::Cut(Box::new(amounts)));
    walk.step(
        todo.while_waiting("Lower the nut slots that are still high, once the gaps are read again.")
            .expecting_while_waiting(forecast(walk)),
    );
}

/// What carries the strings where they begin: slots, or the pip of a short string, which has no ramp.
fn begins_at(bench: &Bench<'_>, passes: &[(usize, f64)]) -> &'static str {
    let short = passes.iter().filter(|(number, _)| bench.frame(number - 1).start() > 0).count();
    match short {
        0 => "the slots, ramped towards the tuner",
        _ if short == passes.len() => "the pip's own notch, level under the string, or set the pip that much deeper",
        _ => "the slots, ramped towards the tuner, and the short string's pip, level under the string",
    }
}

/// The slots have no depth to lose, however high the first fret reads.
fn as_low_as_may_be(walk: &mut Walk, on: &str, high: &[usize], may_decide: bool) {
    let words = format!(
        "The nut reads high on {on}, yet its slots are as low as they may be: any lower, and the open string would come closer to fret 1 than it does to fret 2 when stopped at 1."
    );
    let end = if may_decide {
        " Read the gaps and the heights at the 12th again; nothing is filed."
    } else {
        " Repeated readings say the same: what is high is the string over the whole board, and nothing is filed at the nut."
    };
    let words = format!("{words}{end}");
    if may_decide {
        walk.ask_for("action_12_mm");
        walk.ask_for("gap_at_1_stopped_at_3_mm");
        let settles = format!("nut and heights are read again on {on}");
        walk.step(Todo::reading(Stage::Nut, "readings-disagree", words.clone(), settles, Holds::Everything));
    }
    walk.find(Stage::Nut, Found::new("readings-disagree", Severity::Watch, words).on(high.to_vec()));
}

/// Nothing is taken off or glued on a single reading by a tool whose scatter nobody measured.
fn lonely(bench: &Bench<'_>, walk: &mut Walk, nut: &NutJudged, strings: &[usize], stage: Stage) {
    let is_lonely = |number: &&usize| {
        nut.strings.get(**number - 1).and_then(Option::as_ref).is_some_and(|judged| bench.is_too_lonely(&judged.read))
    };
    let lonely: Vec<usize> = strings.iter().filter(is_lonely).copied().collect();
    if lonely.is_empty() {
        return;
    }
    let on = said_strings(&lonely, bench.strings.len());
    let again = format!(
        "Read the nut once more on {on}{}: a single reading, with a tool whose own scatter is not known, is not enough to cut by.",
        bench.said_own_frets(&lonely)
    );
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let settles = format!("the nut is read a second time on {on}");
    walk.step(Todo::reading(stage, "readings-too-uncertain", again, settles, Holds::WhatCannotBeUndone));
}

fn forecast(walk: &Walk) -> Forecast {
    Forecast { quantity: "nut_removal_mm".to_owned(), strings: walk.nut_removals().to_vec() }
}
