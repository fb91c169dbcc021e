//! Laws of cutting: what the engine says, done and measured again, lands where it was meant to.

use proptest::prelude::*;
use thumbplane::setup::cut::{CutInput, CutOutput, CutPlace, CutString, Ends, cut};
use thumbplane::setup::frame::{Board, Frame, StringLine, fret_position_mm};
use thumbplane::setup::reading::{ReadingInput, reading};

use super::Chance;
use crate::support::paired;

fn input(place: CutPlace, scale_mm: f64, strings: Vec<CutString>) -> CutInput {
    CutInput {
        place,
        scale_mm,
        saddle_setback_mm: 0.0,
        first_pass_risk: 0.025,
        step_mm: 0.01,
        cut_uncertainty_mm: 0.03,
        shim_mm: 0.3,
        strings,
        showing_mm: None,
        showing_expanded_mm: None,
        least_showing_mm: None,
        board_radius_mm: None,
        spread_at_other_end_mm: None,
    }
}

fn saddle(scale_mm: f64, showing: Ends, strings: Vec<CutString>) -> CutInput {
    CutInput { showing_mm: Some(showing), least_showing_mm: Some(1.0), ..input(CutPlace::Saddle, scale_mm, strings) }
}

fn at_saddle(position_mm: f64, action_12_mm: f64, target_mm: f64) -> CutString {
    CutString {
        position_mm: Some(position_mm),
        action_12_mm: Some(action_12_mm),
        target_mm,
        standard_uncertainty_mm: 0.02,
        ..CutString::default()
    }
}

fn done(input: &CutInput) -> CutOutput {
    cut(input).unwrap_or_else(|problems| panic!("{problems}"))
}

fn exact(output: &CutOutput, string: usize) -> f64 {
    output.strings[string].exact_mm.expect("a reading leads to an amount")
}

const TALL: Ends = Ends { treble: 50.0, bass: 50.0 };

/// The line from the nut to a saddle that was moved up or down.
fn strung(nut_mm: f64, saddle_mm: f64, sounding_mm: f64) -> StringLine {
    StringLine { nut_mm, slope: (saddle_mm - nut_mm) / sounding_mm }
}

proptest! {
    #[test]
    fn cutting_a_saddle_as_told_and_measuring_again_lands_on_target(
        scale in 300.0..900.0_f64, set_back in -3.0..6.0_f64, relief in -0.2..0.5_f64,
        first in 0.2..0.9_f64, action in 1.0..4.0_f64, target in 1.0..4.0_f64,
    ) {
        let board = Board { body_fret: Some(14), relief_mm: relief, ..Board::default() };
        let frame = Frame::new(scale, 20, &board);
        let before = frame.string(first, action);
        let case = CutInput { saddle_setback_mm: set_back, ..saddle(scale, TALL, vec![at_saddle(0.0, action, target)]) };
        let sounding = scale + set_back;
        let after = strung(before.nut_mm, before.height_mm(sounding) - exact(&done(&case), 0), sounding);
        let measured = after.height_mm(frame.position_mm(12)) - frame.top_mm(12);
        prop_assert!((measured - target).abs() < 1e-9, "{measured} is not {target}");
    }

    #[test]
    fn cutting_a_nut_as_told_and_measuring_again_lands_on_target(
        scale in 300.0..900.0_f64, set_back in -3.0..6.0_f64, relief in -0.2..0.5_f64,
        first in 0.2..0.9_f64, action in 1.0..4.0_f64, target in 0.0..0.5_f64,
    ) {
        let board = Board { body_fret: Some(14), relief_mm: relief, ..Board::default() };
        let frame = Frame::new(scale, 20, &board);
        let before = frame.string(first, action);
        let gap = frame.gap_at_1_stopped_at_3_mm(before.nut_mm);
        prop_assume!(gap >= 0.0);
        let sounding = scale + set_back;
        let by_gap = CutString { gap_at_1_stopped_at_3_mm: Some(gap), target_mm: target, ..CutString::default() };
        let by_height = CutString { first_fret_mm: Some(first), target_mm: target, ..CutString::default() };
        let case = CutInput { saddle_setback_mm: set_back, ..input(CutPlace::Nut, scale, vec![by_gap, by_height]) };
        let told = done(&case);

        let measured = frame.gap_at_1_stopped_at_3_mm(before.nut_mm - exact(&told, 0));
        prop_assert!((measured - target).abs() < 1e-9, "gap {measured} is not {target}");
        let after = strung(before.nut_mm - exact(&told, 1), before.height_mm(sounding), sounding);
        let measured = after.height_mm(frame.position_mm(1)) - frame.top_mm(1);
        prop_assert!((measured - target).abs() < 1e-9, "height {measured} is not {target}");
    }

    #[test]
    fn a_higher_reading_never_takes_less_off(
        low in 0.5..4.0_f64, more in 0.0..1.0_f64, target in 0.5..4.0_f64, uncertainty in 0.0..0.2_f64,
        freedom in prop::option::of(1.0..40.0_f64),
    ) {
        let string = |action| CutString {
            standard_uncertainty_mm: uncertainty, degrees_of_freedom: freedom, ..at_saddle(0.0, action, target)
        };
        let lower = done(&saddle(648.0, TALL, vec![string(low)]));
        let higher = done(&saddle(648.0, TALL, vec![string(low + more)]));
        prop_assert!(exact(&higher, 0) >= exact(&lower, 0));
        prop_assert!(higher.strings[0].first_pass_mm >= lower.strings[0].first_pass_mm);
        // and the first pass is never more than the whole
        prop_assert!(higher.strings[0].first_pass_mm <= exact(&higher, 0).max(0.0) + 1e-9);
    }

    #[test]
    fn a_mirrored_saddle_is_cut_in_the_mirror(
        actions in prop::collection::vec(1.5..3.5_f64, 1..9), gaps in prop::collection::vec(5.0..14.0_f64, 9),
        treble in 1.0..6.0_f64, bass in 1.0..6.0_f64,
    ) {
        let positions = across(&gaps, actions.len());
        let width = positions.last().copied().unwrap_or(0.0);
        let forth: Vec<CutString> = paired(&positions, &actions).map(|(x, action)| at_saddle(*x, *action, 2.0)).collect();
        let back: Vec<CutString> =
            paired(positions.iter().rev(), actions.iter().rev()).map(|(x, action)| at_saddle(width - x, *action, 2.0)).collect();
        let there = done(&saddle(648.0, Ends { treble, bass }, forth));
        let mirrored = done(&saddle(648.0, Ends { treble: bass, bass: treble }, back));
        let (foot, other) = (there.foot.expect("a foot"), mirrored.foot.expect("a foot"));
        prop_assert!((foot.treble_mm - other.bass_mm).abs() < 1e-6, "{foot:?} {other:?}");
        prop_assert!((foot.bass_mm - other.treble_mm).abs() < 1e-6, "{foot:?} {other:?}");
        for (one, other) in paired(&there.strings, mirrored.strings.iter().rev()) {
            prop_assert!((one.first_pass_mm - other.first_pass_mm).abs() < 1e-12);
            prop_assert!((one.on_top_mm.unwrap_or(-1.0) - other.on_top_mm.unwrap_or(-1.0)).abs() < 1e-6);
        }
        let keys = |output: &CutOutput| output.stops.iter().map(|stop| stop.key.clone()).collect::<Vec<_>>();
        prop_assert_eq!(keys(&there), keys(&mirrored));
        prop_assert_eq!(there.raise.len(), mirrored.raise.len());
    }

    #[test]
    fn foot_and_top_together_are_the_whole_and_the_least_stays(
        actions in prop::collection::vec(1.5..3.5_f64, 1..9), gaps in prop::collection::vec(5.0..14.0_f64, 9),
        treble in 1.0..6.0_f64, bass in 1.0..6.0_f64,
    ) {
        let positions = across(&gaps, actions.len());
        let width = positions.last().copied().unwrap_or(0.0);
        let strings = paired(&positions, &actions).map(|(x, action)| at_saddle(*x, *action, 2.0)).collect();
        let told = done(&saddle(648.0, Ends { treble, bass }, strings));
        let foot = told.foot.expect("a foot");
        for (place, x) in positions.iter().enumerate() {
            let share = if width > 0.0 { x / width } else { 0.0 };
            let at_foot = foot.treble_mm + (foot.bass_mm - foot.treble_mm) * share;
            let whole = exact(&told, place).max(0.0);
            prop_assert!(at_foot >= -1e-8 && at_foot <= whole + 1e-8, "{at_foot} of {whole}");
            let on_top = told.strings[place].on_top_mm.unwrap_or(-1.0);
            prop_assert!(on_top >= 0.0 && (at_foot + on_top - whole).abs() < 1e-8);
        }
        // foot and top come off what shows under the outer strings; no less than the least is left, or it stops
        let left = told.left_showing_mm.expect("what is left");
        let whole = |place: usize| exact(&told, place).max(0.0);
        prop_assert!((left.treble - (treble - whole(0))).abs() < 1e-8, "{left:?}");
        prop_assert!((left.bass - (bass - whole(positions.len() - 1))).abs() < 1e-8, "{left:?}");
        let stays = left.treble >= 1.0 - 1e-8 && left.bass >= 1.0 - 1e-8;
        prop_assert!(stays || !told.stops.is_empty(), "{left:?}");
    }

    #[test]
    fn no_other_straight_cut_takes_more_off_the_foot(
        actions in prop::collection::vec(2.0..3.5_f64, 2..8), gaps in prop::collection::vec(5.0..14.0_f64, 9),
        treble in 1.0..4.0_f64, bass in 1.0..4.0_f64,
    ) {
        let positions = across(&gaps, actions.len());
        let width = positions.last().copied().unwrap_or(0.0);
        let strings = paired(&positions, &actions).map(|(x, action)| at_saddle(*x, *action, 2.0)).collect();
        let told = done(&saddle(648.0, Ends { treble, bass }, strings));
        let foot = told.foot.expect("a foot");
        let sum = |at_treble: f64, at_bass: f64| {
            positions.iter().map(|x| at_treble + (at_bass - at_treble) * x / width).sum::<f64>()
        };
        let told_sum = sum(foot.treble_mm, foot.bass_mm);
        let whole: Vec<f64> = (0..actions.len()).map(|string| exact(&told, string).max(0.0)).collect();

        // every treble end on a grid; for each the highest bass end that overshoots nowhere
        for step in 0..=200 {
            let at_treble = (treble - 1.0).min(whole[0]) * f64::from(step) / 200.0;
            let at_bass = paired(&positions, &whole).skip(1).fold(bass - 1.0, |highest, (x, whole)| {
                highest.min(at_treble + (whole - at_treble) * width / x)
            });
            if at_bass >= 0.0 {
                let other = sum(at_treble, at_bass);
                prop_assert!(other <= told_sum + 1e-7, "{other} at {at_treble}, {at_bass} beats {told_sum} of {foot:?}");
            }
        }
    }
}

fn across(gaps: &[f64], count: usize) -> Vec<f64> {
    let mut position = 0.0;
    gaps.iter()
        .take(count)
        .map(|gap| {
            let here = position;
            position += gap;
            here
        })
        .collect()
}

/// How a bench reads and cuts, for simulations.
#[derive(Debug, Clone, Copy)]
struct Habits {
    place: CutPlace,
    repeats: usize,
    /// Of one reading, mm.
    reading_spread: f64,
    /// Step of the tool's scale, mm; 0 reads without steps.
    resolution: f64,
    /// The tool is off by something within this, the same for all repeats, mm.
    tool_limit: f64,
    cut_spread: f64,
    risk: f64,
}

const HONEST: Habits = Habits {
    place: CutPlace::Saddle,
    repeats: 3,
    reading_spread: 0.04,
    resolution: 0.0,
    tool_limit: 0.0,
    cut_spread: 0.0,
    risk: 0.025,
};
const BENCHES: u32 = 10_000;

/// Share of benches whose first pass took more off than there was to take.
fn overshoots(seed: u64, habits: Habits) -> f64 {
    let mut chance = Chance::new(seed);
    let (scale, target) = (648.0, if habits.place == CutPlace::Saddle { 2.0 } else { 0.1 });
    // what a millimetre off is felt as where it is read: half at the 12th, 0.647 in the stopped gap
    let felt = if habits.place == CutPlace::Saddle { 0.5 } else { 1.0 - first_three_frets() };
    let too_low = (0..BENCHES)
        .filter(|_| {
            let truth = target + 0.3 + 0.2 * chance.even();
            let off = habits.tool_limit * (2.0 * chance.even() - 1.0);
            let mut read = || {
                let seen = truth + off + chance.normal(habits.reading_spread);
                if habits.resolution > 0.0 { (seen / habits.resolution).round() * habits.resolution } else { seen }
            };
            let values_mm = (0..habits.repeats).map(|_| read()).collect();
            let read = reading(&ReadingInput::usual(values_mm, habits.resolution, habits.tool_limit))
                .expect("readings are good");
            let of_both = CutString {
                target_mm: target,
                standard_uncertainty_mm: read.standard_uncertainty_mm,
                degrees_of_freedom: read.degrees_of_freedom,
                ..CutString::default()
            };
            let case = match habits.place {
                CutPlace::Saddle => {
                    let string = CutString { position_mm: Some(0.0), action_12_mm: Some(read.mean_mm), ..of_both };
                    saddle(scale, TALL, vec![string])
                }
                CutPlace::Nut => {
                    let string = CutString { gap_at_1_stopped_at_3_mm: Some(read.mean_mm.max(0.0)), ..of_both };
                    input(CutPlace::Nut, scale, vec![string])
                }
            };
            let case = CutInput {
                first_pass_risk: habits.risk,
                step_mm: 0.001,
                cut_uncertainty_mm: habits.cut_spread,
                ..case
            };
            let first_pass = done(&case).strings[0].first_pass_mm;
            first_pass > 0.0 && truth - (first_pass + chance.normal(habits.cut_spread)) * felt < target
        })
        .count();
    f64::from(u32::try_from(too_low).expect("small")) / f64::from(BENCHES)
}

/// x₁/x₃, the same on every scale.
fn first_three_frets() -> f64 {
    fret_position_mm(648.0, 1) / fret_position_mm(648.0, 3)
}

/// 10 000 benches each: tools from a fine calliper to a ruler, two to eight repeats, risks from one in a
/// hundred to one in five. Four standard deviations of a share are allowed.
#[test]
fn a_first_pass_overshoots_no_more_often_than_its_stated_risk() {
    let calliper = Habits { resolution: 0.01, tool_limit: 0.02, reading_spread: 0.03, cut_spread: 0.03, ..HONEST };
    let ruler = Habits { resolution: 0.1, tool_limit: 0.03, reading_spread: 0.05, cut_spread: 0.03, ..HONEST };
    let nut = Habits { place: CutPlace::Nut, reading_spread: 0.015, cut_spread: 0.02, repeats: 4, ..calliper };
    for (seed, habits) in (1..).zip([
        HONEST,
        Habits { repeats: 5, cut_spread: 0.03, ..HONEST },
        Habits { repeats: 8, reading_spread: 0.02, cut_spread: 0.05, risk: 0.05, ..HONEST },
        Habits { repeats: 4, reading_spread: 0.06, cut_spread: 0.02, risk: 0.1, ..HONEST },
        Habits { repeats: 2, risk: 0.2, ..HONEST },
        calliper,
        Habits { risk: 0.01, repeats: 6, ..calliper },
        ruler,
        Habits { risk: 0.05, repeats: 5, ..ruler },
        nut,
        Habits { risk: 0.1, repeats: 3, ..nut },
    ]) {
        let share = overshoots(seed, habits);
        let four_deviations = 4.0 * (habits.risk * (1.0 - habits.risk) / f64::from(BENCHES)).sqrt();
        assert!(share <= habits.risk + four_deviations, "{habits:?}: {share}");
    }
}

/// With no uncertainty but the repeats' own, Student's t is exact: the risk is used, not just kept.
#[test]
fn a_first_pass_is_no_more_timid_than_its_stated_risk() {
    for (seed, repeats, risk) in [(11, 5, 0.025), (12, 3, 0.10)] {
        let share = overshoots(seed, Habits { repeats, reading_spread: 0.02, risk, ..HONEST });
        let four_deviations = 4.0 * (risk * (1.0 - risk) / f64::from(BENCHES)).sqrt();
        // rounding down to a thousandth takes a little of it
        assert!(share >= risk * 0.85 - four_deviations, "seed {seed}: {share} of {risk}");
    }
}
