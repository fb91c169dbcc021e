//! What the plan gives a hand to act on, and what it holds back: every amount with its uncertainty, the shape of a
//! saddle's top, readings that must be taken again first, and the cautions that go with the work.

use serde_json::{Value, json};

use super::plan::{findings, guitar, has_cut, pair, seen, steel, steps};
use super::{answer, close, number};

fn cautions(plan: &Value) -> Vec<String> {
    serde_json::from_value(plan["cautions"].clone()).unwrap()
}

fn step<'a>(plan: &'a Value, key: &str) -> &'a Value {
    let all = plan["steps"].as_array().unwrap();
    all.iter().find(|step| step["key"] == key).unwrap_or_else(|| panic!("no {key} in {plan}"))
}

#[test]
fn relief_at_the_edge_of_its_range_is_read_again_before_the_saddle_is_cut() {
    let mut case = steel([2.5, 2.9], 0.07, 0.15, [3.6, 4.4]);
    // 0.30 ± some 0.07, where at most 0.25 is wished: one reading of a coarse scale
    case["readings"]["relief_mm"] = json!([0.30]);
    case["tool"] = json!({"resolution_mm": 0.05, "limit_mm": 0.05});
    let plan = answer("plan", &case);
    assert_eq!(steps(&plan)[0], pair("readings-too-uncertain", "now"));
    assert_eq!(step(&plan, "saddle-high")["state"], "after-measuring-again");
    assert!(!has_cut(&plan), "{plan}");
    // three readings that still leave it open are let stand, so that the work can go on
    case["readings"]["relief_mm"] = json!([0.30, 0.30, 0.25]);
    let plan = answer("plan", &case);
    assert!(findings(&plan).contains(&pair("readings-too-uncertain", "watch")));
    assert_eq!(step(&plan, "saddle-high")["state"], "now", "{plan}");
}

#[test]
fn a_nut_at_the_edge_of_its_range_is_read_again_before_the_saddle_is_cut() {
    let mut case = steel([2.5, 2.9], 0.07, 0.15, [3.6, 4.4]);
    case["readings"]["strings"][1]["gap_at_1_stopped_at_3_mm"] = json!([0.15]);
    let plan = answer("plan", &case);
    assert_eq!(steps(&plan)[0], pair("readings-too-uncertain", "now"), "{plan}");
    assert!(!has_cut(&plan));
}

#[test]
fn what_a_high_bridge_adds_over_the_first_fret_is_not_the_nuts() {
    // strings 5 mm over the 12th stand high over the 1st whatever the nut: its slots have no depth to lose
    let mut case = steel([5.0, 5.0], 0.07, 0.0, [9.0, 9.0]);
    for string in case["readings"]["strings"].as_array_mut().unwrap() {
        let read = string.as_object_mut().unwrap();
        read.remove("gap_at_1_stopped_at_3_mm");
        read.insert("first_fret_mm".to_owned(), json!([0.72, 0.72, 0.72]));
    }
    case["targets"] = json!({"relief_least_mm": -0.1, "relief_mm": 0.0, "relief_most_mm": 0.1,
        "first_fret_treble_mm": 0.4, "first_fret_bass_mm": 0.4});
    let plan = answer("plan", &case);
    assert!(steps(&plan).iter().all(|(key, _)| !key.starts_with("nut-")), "{plan}");
    assert!(plan["findings"].as_array().unwrap().iter().all(|found| found["key"] != "nut-high"), "{plan}");
    assert_eq!(step(&plan, "saddle-high")["state"], "now");
}

#[test]
fn what_a_stop_ended_needs_no_caution_and_what_is_offered_keeps_its_own() {
    let working = answer("plan", &steel([2.5, 2.9], 0.07, 0.15, [3.6, 4.4]));
    assert!(cautions(&working).contains(&"bone-dust".to_owned()));
    let cracked = seen(steel([2.5, 2.9], 0.07, 0.4, [3.6, 4.4]), json!([{"key": "crack"}, {"key": "frets-worn"}]));
    assert_eq!(cautions(&answer("plan", &cracked)), ["slacken-before-glue"]);
}

#[test]
fn an_instrument_that_recovers_is_not_planned_on_until_its_air_is_read_again() {
    let mut case = steel([2.5, 2.9], 0.07, 0.15, [3.6, 4.4]);
    case["air"]["rh_percent"] = json!(25);
    let plan = answer("plan", &case);
    assert_eq!(plan["measure_again"][0], "air", "{plan}");
    assert_eq!(cautions(&plan), ["dry-instrument"]);
}

#[test]
fn worn_frets_are_dressed_and_new_ones_named_where_nothing_is_left_to_dress() {
    let plan = answer("plan", &seen(steel([1.9, 2.3], 0.07, 0.15, [3.6, 4.4]), json!([{"key": "frets-worn"}])));
    let offered: Vec<(&str, &str)> = plan["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|finding| finding["key"] == "frets-worn")
        .map(|finding| (finding["severity"].as_str().unwrap(), finding["service"].as_str().unwrap()))
        .collect();
    assert_eq!(offered, [("work", "fret-dress"), ("watch", "refret")]);
}

#[test]
fn a_saddle_is_raised_by_an_amount_that_says_how_sure_it_is_whatever_it_shows() {
    let mut case = steel([1.3, 1.7], 0.07, 0.15, [3.6, 4.4]);
    case["readings"].as_object_mut().unwrap().remove("saddle_showing_mm");
    let plan = answer("plan", &case);
    let raise = &step(&plan, "saddle-low")["cut"]["raise"][0];
    // 0.60 under the target at the 12th is 1.20 at the saddle: similar triangles
    close(number(raise, "/mm"), 1.2, 1e-9);
    assert!(number(raise, "/expanded_mm") > 0.03, "{raise}");
    assert!(step(&plan, "saddle-low")["cut"]["foot"].is_null());
}

#[test]
fn screwed_saddles_are_turned_by_amounts_that_say_how_sure_they_are() {
    let plan = answer("plan", &guitar("electric", "two-way", (648.0, 22, 16), 6, [2.6, 3.0], 0.07, 0.15, None));
    let turn = step(&plan, "saddle-high");
    let (height, target) =
        (number(&plan, "/findings/0/numbers/action_12_mm"), number(&plan, "/findings/0/numbers/target_mm"));
    assert!(number(turn, "/turn_down_mm/0") > 0.0 && height > target);
    // the reading's own uncertainty, doubled from the 12th to the saddle; of a tool whose scatter nobody measured
    // 0.03 mm with 5 degrees of freedom are taken (common practice, no source)
    let repeats = json!({"values_mm": [2.6, 2.61, 2.59], "resolution_mm": 0.01, "tool_limit_mm": 0.02,
        "repeatability_mm": 0.03, "repeatability_degrees_of_freedom": 5});
    let at_12 = number(&answer("reading", &repeats), "/expanded_mm");
    close(number(turn, "/turn_down_expanded_mm/0"), 2.0 * at_12, 1e-9);
}

#[test]
fn each_string_that_is_out_of_tune_has_its_own_set_back_with_its_uncertainty() {
    let mut case = steel([1.9, 2.3], 0.07, 0.15, [3.6, 4.4]);
    case["readings"]["strings"][1]["cents_at_12"] = json!([3.6, 3.6, 3.6]);
    case["readings"]["strings"][4]["cents_at_12"] = json!([-3.9, -3.9, -3.9]);
    let plan = answer("plan", &case);
    let intonation = step(&plan, "intonation-off");
    // a string of length L is 1200/ln 2 cents to a length: 3.6 cents of 645 mm
    close(number(intonation, "/setback_to_add_mm/1"), 3.6 * 645.0 * 2_f64.ln() / 1200.0, 1e-9);
    close(number(intonation, "/setback_to_add_mm/4"), -3.9 * 645.0 * 2_f64.ln() / 1200.0, 1e-9);
    assert!(intonation["setback_to_add_mm"][0].is_null());
    assert!(number(intonation, "/setback_to_add_expanded_mm/1") > 0.0);
}

#[test]
fn a_wound_steel_string_without_its_core_is_not_foretold_by_its_outer_diameter() {
    let mut case = steel([2.5, 2.9], 0.07, 0.15, [3.6, 4.4]);
    let string =
        json!({"pitch": "E2", "material": "steel", "diameter_mm": 1.346, "linear_density_g_m": 9.17, "wound": true});
    case["instrument"]["strings"][5] = string;
    case["readings"]["strings"][5]["cents_at_12"] = json!([9.0, 9.0, 9.0]);
    let forecast = |case: &Value| step(&answer("plan", case), "intonation-off")["forecast"]["strings"][5].clone();
    assert!(forecast(&case).is_null());
    case["instrument"]["strings"][5]["core_diameter_mm"] = json!(0.43);
    assert!(!forecast(&case).is_null());
}

#[test]
fn over_a_curved_board_the_saddles_cut_tells_the_shape_of_its_top_where_the_strings_were_measured_across() {
    let mut case = steel([2.5, 2.9], 0.07, 0.15, [3.6, 4.4]);
    case["instrument"]["board_radius_mm"] = json!({"nut": 406, "end": 406, "end_at_mm": 440});
    let top = |case: &Value| step(&answer("plan", case), "saddle-high")["cut"]["top"].clone();
    assert!(top(&case).is_null(), "nobody measured where the strings lie");
    for place in 0..6_u32 {
        case["instrument"]["strings"][place as usize]["position_mm"] = json!(10.6 * f64::from(place));
    }
    let told = top(&case);
    close(number(&told, "/board_radius_mm"), 406.0, 1e-9);
    // the middle of a chord of 53 mm in a circle of R lies R − √(R² − 26.5²) under it: circle geometry
    let radius = number(&told, "/top_radius_mm");
    let at = |w: f64| (radius * radius - w * w).sqrt();
    close(number(&told, "/strings/2/ideal_over_chord_mm"), at(5.3) - at(26.5), 1e-9);
    case["instrument"]["board_radius_mm"]["nut"] = json!(20);
    assert!(
        super::faults("plan", &case.to_string()).iter().any(|(at, _)| at.starts_with("/instrument/board_radius_mm"))
    );
}

/// The slope through the origin and its standard error, as any text on regression has them: here
/// Σdh/Σd² of (−0.10, −0.09), (−0.20, −0.21), (0.10, 0.11), worked by hand.
#[test]
fn what_rods_did_in_this_shop_is_shown_beside_the_models() {
    let mut case = steel([1.9, 2.3], 0.07, 0.4, [3.6, 4.4]);
    let pair = |relief: [f64; 2], action: [f64; 2]| {
        json!({"relief_before_mm": relief[0], "relief_after_mm": relief[1],
            "action_12_before_mm": action[0], "action_12_after_mm": action[1]})
    };
    // the last moved by less than any gauge tells
    let pairs = [
        pair([0.30, 0.20], [2.10, 2.01]),
        pair([0.40, 0.20], [2.30, 2.09]),
        pair([0.05, 0.15], [1.90, 2.01]),
        pair([0.20, 0.19], [2.00, 2.30]),
    ];
    // by a tool whose scatter hardly counts
    case["tool"] = json!({"resolution_mm": 0.01, "limit_mm": 0.02, "repeatability_mm": 0.001,
        "repeatability_degrees_of_freedom": 50});
    case["rod_pairs"] = json!(pairs[3..]);
    let told = |case: &Value| answer("plan", case)["findings"][0]["numbers"].clone();
    assert!(told(&case)["own_effect_at_12"].is_null(), "a rod that moved nothing says nothing");
    case["rod_pairs"] = json!(pairs);
    let numbers = told(&case);
    let slope = (0.1 * 0.09 + 0.2 * 0.21 + 0.1 * 0.11) / (0.01 + 0.04 + 0.01);
    close(number(&numbers, "/own_effect_at_12"), slope, 1e-9);
    let left = (0.09 - 0.1 * slope).powi(2) + (0.21 - 0.2 * slope).powi(2) + (0.11 - 0.1 * slope).powi(2);
    // Student's t for 95 % at 2 degrees of freedom: 4.303, JCGM 100:2008 (GUM) table G.2
    close(number(&numbers, "/own_effect_expanded"), 4.303 * (left / 2.0 / 0.06).sqrt(), 1e-4);
    let words = |case: &Value| answer("plan", case)["steps"][0]["words"].as_str().unwrap().to_owned();
    assert!(words(&case).contains("This shop's own 3 rods moved the 12th by"), "{}", words(&case));
    // they are shown, and no range rests on them
    let mut without = case.clone();
    without.as_object_mut().unwrap().remove("rod_pairs");
    let forecast = |case: &Value| answer("plan", case)["steps"][0]["forecast"].clone();
    assert_eq!(forecast(&case), forecast(&without));
}

/// However few, they have a width: two differences of two readings each, each of a standard deviation r, leave
/// t·r·√(2(1 + g²)/Σd²) of a slope g (JCGM 100:2008 (GUM) 5.1.2); t for 95 % at 5 degrees of freedom is 2.571.
#[test]
fn one_rod_of_this_shops_own_has_a_width_and_one_that_contradicts_the_models_is_said_to() {
    let mut case = steel([1.9, 2.3], 0.07, 0.4, [3.6, 4.4]);
    let with = |case: &mut Value, action_after: f64, times: usize| {
        let pair = json!({"relief_before_mm": 0.4, "relief_after_mm": 0.2, "action_12_before_mm": 2.3,
            "action_12_after_mm": action_after});
        case["rod_pairs"] = json!(vec![pair; times]);
        answer("plan", case)
    };
    let width = |plan: &Value| number(plan, "/findings/0/numbers/own_effect_expanded");
    let words = |plan: &Value| plan["steps"][0]["words"].as_str().unwrap().to_owned();
    let one = with(&mut case, 2.1, 1);
    close(number(&one, "/findings/0/numbers/own_effect_at_12"), 1.0, 1e-9);
    close(width(&one), 2.571 * 0.03 * (2.0 * 2.0 / 0.04_f64).sqrt(), 1e-3);
    assert!(words(&one).contains("the only one yet"), "{}", words(&one));
    // three that agree to a hair agree by chance: they are no surer than their readings
    let three = with(&mut case, 2.1, 3);
    close(width(&three), 2.571 * 0.03 * (2.0 * 2.0 / 0.12_f64).sqrt(), 1e-3);
    // tightened, and the strings went up by four times as much: no model says that
    let odd = with(&mut case, 3.1, 3);
    assert!(words(&odd).contains("contradicts both models"), "{}", words(&odd));
    let least = |plan: &Value| number(plan, "/steps/0/forecast/strings/0/least");
    let most = |plan: &Value| number(plan, "/steps/0/forecast/strings/0/most");
    assert!(most(&odd) > most(&one) + 0.5 && least(&odd) <= least(&one) + 1e-9, "both are to be expected");
}
