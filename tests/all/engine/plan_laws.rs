//! Laws of the plan for any bench: one stage at a time, the mirror, both systems of length, more is never less.

use proptest::prelude::*;
use serde_json::{Value, json};
use thumbplane::quantity::{LengthUnit, Micrometres};

use super::plan::{steel, steps};
use super::plan_order::any_bench;
use super::{answer, number};
use crate::support::paired;

/// The order of work, as a technician would tell it (common practice, no source).
const STAGES: [&[&str]; 11] = [
    &["air-dry", "air-damp"],
    &["crack", "bridge-lifting", "brace-loose", "neck-angle", "back-bow"],
    &["nut-reversed", "saddle-reversed", "head-slack", "bridge-tilts"],
    &["edge-sharp", "edge-rounded"],
    &["strings-old"],
    &["relief-too-much", "relief-too-little"],
    &["fret-high", "frets-worn", "board-rises"],
    &["nut-high", "nut-low", "nut-beyond-shims"],
    &["saddle-high", "saddle-low", "saddle-spent"],
    &["intonation-off"],
    &["tuners-dry", "polish-slots", "clean"],
];

fn stage(key: &str) -> Option<usize> {
    STAGES.iter().position(|keys| keys.contains(&key))
}

/// Turns a bench about: string 1 becomes the last, treble becomes bass, and so do the wishes.
fn mirrored(case: &Value) -> Value {
    let mut case = case.clone();
    let strings = case["instrument"]["strings"].as_array().expect("strings").len();
    for list in ["/instrument/strings", "/readings/strings"] {
        if let Some(list) = case.pointer_mut(list).and_then(Value::as_array_mut) {
            list.reverse();
        }
    }
    let showing = case["readings"]["saddle_showing_mm"].clone();
    case["readings"]["saddle_showing_mm"] = json!({"treble": showing["bass"], "bass": showing["treble"]});
    for (one, other) in [("action_12_treble_mm", "action_12_bass_mm"), ("first_fret_treble_mm", "first_fret_bass_mm")] {
        let kept = case["targets"][one].clone();
        case["targets"][one] = case["targets"][other].clone();
        case["targets"][other] = kept;
    }
    for seen in case["observations"].as_array_mut().into_iter().flatten() {
        seen["string"] = json!(strings + 1 - usize::try_from(seen["string"].as_u64().expect("a string")).expect("few"));
    }
    case
}

/// The same strings, seen from the other side.
fn other_side(strings: &Value, all: usize) -> Vec<u64> {
    let all = u64::try_from(all).expect("few");
    let mut turned: Vec<u64> =
        strings.as_array().into_iter().flatten().filter_map(Value::as_u64).map(|string| all + 1 - string).collect();
    turned.sort_unstable();
    turned
}

fn same_numbers(one: &Value, other: &Value) -> bool {
    match (one.as_f64(), other.as_f64()) {
        (Some(one), Some(other)) => (one - other).abs() < 1e-6,
        (None, None) => one.is_null() == other.is_null(),
        _ => false,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn only_one_stage_is_now_and_none_before_it_waits(case in any_bench()) {
        let plan = answer("plan", &case);
        let of_state = |wanted: &str| -> Vec<usize> {
            steps(&plan).into_iter().filter(|(_, state)| state == wanted).filter_map(|(key, _)| stage(&key)).collect()
        };
        let (now, waiting) = (of_state("now"), of_state("after-measuring-again"));
        prop_assert!(now.windows(2).all(|pair| pair[0] == pair[1]), "{:?}", steps(&plan));
        prop_assert!(waiting.iter().all(|later| now.iter().all(|first| later >= first)), "{:?}", steps(&plan));
        prop_assert!(waiting.is_sorted(), "{:?}", steps(&plan));
        // a stop is the end of every amount, wherever it might stand
        if plan["stopped"] == json!(true) {
            let said = plan["steps"].to_string();
            let amounts = ["first_pass_mm", "exact_mm", "turn_down_mm", "foot"];
            prop_assert!(amounts.iter().all(|amount| !said.contains(&format!("\"{amount}\""))), "{}", said);
        }
    }

    #[test]
    fn a_mirrored_instrument_gets_the_mirrored_plan(
        mut case in any_bench(), wishes in (0.5_f64..4.0, 0.5_f64..4.0, 0.2_f64..0.8, 0.2_f64..0.8),
    ) {
        case["targets"] = json!({"action_12_treble_mm": wishes.0, "action_12_bass_mm": wishes.1,
            "first_fret_treble_mm": wishes.2, "first_fret_bass_mm": wishes.3});
        let strings = case["instrument"]["strings"].as_array().expect("strings").len();
        // on a single string there is no other side: its height is wished at the treble end
        prop_assume!(strings > 1);
        let (one, other) = (answer("plan", &case), answer("plan", &mirrored(&case)));
        prop_assert_eq!(steps(&one), steps(&other));
        let list = |plan: &Value, name: &str| plan[name].as_array().cloned().unwrap_or_default();
        let sorted = |plan: &Value, turn: bool| {
            let mut found: Vec<(String, Vec<u64>)> = list(plan, "findings").iter().map(|finding| {
                let turned = other_side(&finding["strings"], strings);
                let strings = if turn { turned } else { other_side(&json!(turned), strings) };
                (finding["key"].to_string(), strings)
            }).collect();
            found.sort();
            found
        };
        prop_assert_eq!(sorted(&one, false), sorted(&other, true));
        for (step, turned) in paired(list(&one, "steps"), list(&other, "steps")) {
            for (forth, back) in [("treble_mm", "bass_mm"), ("bass_mm", "treble_mm")] {
                for foot in ["foot", "foot_first_pass"] {
                    prop_assert!(same_numbers(&step["cut"][foot][forth], &turned["cut"][foot][back]), "{step} {turned}");
                }
            }
            let amounts = |step: &Value| step["cut"]["strings"].as_array().cloned().unwrap_or_default();
            for (string, turned) in paired(amounts(&step), amounts(&turned).into_iter().rev()) {
                for field in ["exact_mm", "first_pass_mm", "on_top_mm"] {
                    prop_assert!(same_numbers(&string[field], &turned[field]), "{field}: {string} {turned}");
                }
            }
        }
    }

    /// A length typed in inches to the thousandth, and the same length typed in mm: one length, one plan.
    #[test]
    fn mm_and_inches_make_the_same_plan(
        heights in prop::collection::vec(40_u32..200, 6), relief in 0_u32..30, gaps in prop::collection::vec(0_u32..20, 6),
    ) {
        let read = |thousandths: u32, inches: bool| {
            let tenths_of_a_micrometre = thousandths * 254;
            let typed = if inches {
                format!("0.{thousandths:03}\"")
            } else {
                format!("{}.{:04} mm", tenths_of_a_micrometre / 10_000, tenths_of_a_micrometre % 10_000)
            };
            Micrometres::parse(&typed, LengthUnit::Millimetre).expect("a length")
        };
        let bench = |inches: bool| {
            let mm = |thousandths: u32| read(thousandths, inches).mm();
            let mut case = steel([2.0, 2.0], 0.1, 0.1, [3.6, 4.4]);
            case["readings"]["relief_mm"] = json!([mm(relief)]);
            for (place, row) in case["readings"]["strings"].as_array_mut().expect("rows").iter_mut().enumerate() {
                row["action_12_mm"] = json!([mm(heights[place]), mm(heights[place])]);
                row["gap_at_1_stopped_at_3_mm"] = json!([mm(gaps[place])]);
            }
            case
        };
        prop_assert_eq!(answer("plan", &bench(true)), answer("plan", &bench(false)));
        for thousandths in heights {
            // what one system shows the other reads back, within half of its last place
            let length = read(thousandths, true);
            let again = |shown: &str| Micrometres::parse(shown, LengthUnit::Millimetre).expect("a length");
            prop_assert_eq!(again(&length.in_mm()), length);
            prop_assert!((again(&length.in_inches()).0 - length.0).abs() <= 13);
        }
    }

    /// One string read higher, all else as it was: that string never loses less, and no other more at the saddle.
    #[test]
    fn one_higher_reading_never_takes_less_off_that_string(
        heights in prop::collection::vec(2.3_f64..3.2, 6), place in 0..6_usize, more in 0.0_f64..0.6,
    ) {
        let cut = |lift: f64| {
            let mut case = steel([2.5, 2.9], 0.07, 0.15, [9.0, 9.0]);
            for (number, row) in case["readings"]["strings"].as_array_mut().expect("rows").iter_mut().enumerate() {
                let height = heights[number] + 0.4 * number as f64 / 5.0 + if number == place { lift } else { 0.0 };
                row["action_12_mm"] = json!([height, height + 0.01, height - 0.01]);
            }
            let plan = answer("plan", &case);
            assert_eq!(plan["steps"][0]["key"], "saddle-high");
            plan["steps"][0]["cut"].clone()
        };
        let (before, after) = (cut(0.0), cut(more));
        for string in 0..6 {
            for field in ["exact_mm", "first_pass_mm"] {
                let at = format!("/strings/{string}/{field}");
                let (low, high) = (number(&before, &at), number(&after, &at));
                let held = if string == place { high >= low - 1e-9 } else { (high - low).abs() < 1e-9 };
                prop_assert!(held, "string {}: {low}, then {high}", string + 1);
            }
        }
    }
}
