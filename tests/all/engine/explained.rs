//! Every number shows its working, and the working is true: its formula, evaluated by another program with
//! exactly the numbers put in, gives the number of the answer.

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::{Value, json};
use thumbplane::calc::{NAMES, USUAL_TARGETS, explained};
use thumbplane::setup::plan::{HouseTargets, PlanInput, workings};
use thumbplane::working::{MOST, Working, below};

use super::contract::good;
use super::formula::{evaluated, incomplete_beta as regularised_beta, normal};
use super::plan::{guitar, seen, steel};
use super::sixty::benches;
use super::{answer, number, numbers};
use crate::support::paired;

/// Numbers that are copies of what was given, or plain counts.
fn is_copy_or_count(name: &str, pointer: &str, input: &Value, answer: &Value) -> bool {
    let parts: Vec<&str> = pointer.split('/').skip(1).collect();
    match (name, parts.as_slice()) {
        ("tension", ["strings", place, "linear_density_g_m"]) => {
            !input["strings"][place.parse::<usize>().unwrap()]["linear_density_g_m"].is_null()
        }
        ("frequency", ["strings", place, "linear_density_g_m"]) => {
            !input["strings"][place.parse::<usize>().unwrap()]["linear_density_g_m"].is_null()
        }
        ("string-change", ["strings", place, which @ ("now" | "next"), "linear_density_g_m"]) => {
            !input[which][place.parse::<usize>().unwrap()]["linear_density_g_m"].is_null()
        }
        ("clearance", [.., "fret" | "touches_fret"])
        | ("cut" | "plan", [.., "raise", _, "string"])
        | ("string-spacing", ["positions_mm", "0"])
        | ("drift", ["action_by_moisture", "visits"])
        | ("promise-record", ["rank", "promised_days"])
        | ("reading", ["outlier"])
        // the pull of one string stands twice
        | ("string-change", ["strings", _, "tension_n", "now" | "next"])
        | (
            "turnaround",
            ["longest_finished_days"]
            | ["curve", _, "days" | "at_risk" | "finished"]
            | ["restricted_mean", "until_days"],
        )
        | ("plan", ["findings", _, "strings", _] | ["steps", _, "posts_without", "string"])
        | ("plan", ["findings", _, "numbers", "fret" | "rh_percent" | "target_rh_percent" | "least_showing_mm" | "most_mm"]) => {
            true
        }
        ("plan", ["findings", place, "numbers", "target_mm"]) => {
            // only the targets of heights differ from string to string; the others are the house's as they stand
            let numbers = &answer["findings"][place.parse::<usize>().unwrap()]["numbers"];
            numbers["action_12_mm"].is_null() && numbers["first_fret_mm"].is_null()
        }
        _ => false,
    }
}

fn leaves(value: &Value, at: &str, found: &mut Vec<(String, f64)>) {
    match value {
        Value::Number(number) => found.push((at.to_owned(), number.as_f64().unwrap())),
        Value::Array(entries) => {
            for (place, entry) in entries.iter().enumerate() {
                leaves(entry, &format!("{at}/{place}"), found);
            }
        }
        Value::Object(fields) => {
            for (name, value) in fields.iter().filter(|(name, _)| !at.is_empty() || *name != "working") {
                leaves(value, &format!("{at}/{name}"), found);
            }
        }
        _ => {}
    }
}

fn told(name: &str, input: &Value, pointer: Option<&str>) -> (Value, Vec<Working>) {
    let answered = explained(name, input.to_string().as_bytes(), pointer);
    let answered = answered.unwrap_or_else(|refusal| panic!("{name} refused {input}: {}", refusal.document()));
    let workings = serde_json::from_value(answered["working"].clone()).expect("a list of workings");
    (answered, workings)
}

/// Nine digits, and for what comes to nothing a billionth of a cent or a picometre.
fn is_same(actual: f64, expected: f64, unit: &str) -> bool {
    let nothing = if unit == "cents" { 1e-9 } else { 1e-12 };
    (actual - expected).abs() <= 1e-9 * expected.abs() + nothing
}

#[track_caller]
fn check(working: &Working, name: &str, input: &Value, answer: &Value) {
    let said =
        || format!("{name}: {} ({}): {} with {:?} in {input}", working.of, working.what, working.formula, working.with);
    assert!(!working.source.is_empty() && !working.what.is_empty(), "{}", said());
    for put in &working.with {
        let symbol = put.symbol.trim_end_matches(|letter: char| ('₀'..='₉').contains(&letter));
        let listed = format!("{symbol}ᵢ");
        assert!(
            working.formula.contains(&put.symbol) || working.formula.contains(&listed),
            "{} not in {}",
            put.symbol,
            said()
        );
        assert!(!put.meaning.is_empty(), "{}", said());
    }
    match evaluated(working) {
        Some(found) => {
            assert!(is_same(found, working.result, &working.unit), "{found} is not {}: {}", working.result, said());
        }
        None => check_condition(working, input),
    }
    if !working.of.is_empty() {
        let stands = number(answer, &working.of);
        assert!(is_same(working.result, stands, &working.unit), "{stands} stands there: {}", said());
    }
}

/// What was searched for is checked by asking the calculation about it and its neighbours.
fn check_condition(working: &Working, input: &Value) {
    let with = |set: &[(&str, f64)]| -> Option<Vec<f64>> {
        let mut asked = input.clone();
        for (name, value) in set {
            asked[*name] = json!(value);
        }
        // far set-backs may be found, but not asked for
        let most = asked["scale_mm"].as_f64()? / 50.0;
        set.iter()
            .all(|(_, value)| value.abs() <= most.min(50.0))
            .then(|| numbers(&answer("intonation", &asked), "/cents"))
    };
    let put = |symbol: &str| working.with.iter().find(|put| put.symbol == symbol).map(|put| put.value).unwrap();
    match working.of.as_str() {
        "/best_saddle_setback_mm" => {
            assert!(put("c₁₂(ΔS, ΔN)").abs() < 1e-9);
            if let Some(cents) = with(&[("saddle_setback_mm", working.result)]) {
                assert!(cents.get(11).is_none_or(|twelfth| twelfth.abs() < 1e-9), "{cents:?}");
            }
        }
        "/best_pair/saddle_setback_mm" | "/best_pair/nut_setback_mm" => {
            let whole = answer("intonation", input);
            let (saddle, nut) =
                (number(&whole, "/best_pair/saddle_setback_mm"), number(&whole, "/best_pair/nut_setback_mm"));
            let squares = |saddle: f64, nut: f64| {
                let cents = with(&[("saddle_setback_mm", saddle), ("nut_setback_mm", nut)])?;
                Some(cents.iter().map(|cents| cents * cents).sum::<f64>())
            };
            let Some(least) = squares(saddle, nut) else { return };
            for (by_saddle, by_nut) in [(0.02, 0.0), (-0.02, 0.0), (0.0, 0.02), (0.0, -0.02)] {
                if let Some(near) = squares(saddle + by_saddle, nut + by_nut) {
                    assert!(near >= least, "{near} is less than {least}");
                }
            }
        }
        "/rh_percent" => assert!((put("M(φ)") - put("M")).abs() < 1e-9, "{working:?}"),
        "/median_days" | "/p80_days" | "/p90_days" => {
            let still_open = 1.0 - put("p") + 1e-12;
            assert!(put("S(t)") <= still_open && put("S(before t)") > still_open, "{working:?}");
        }
        "/median_least_days" | "/median_most_days" => assert!(put("S_l(t)") <= 0.5, "{working:?}"),
        "/plate/half_h" | "/plate/ninety_percent_h" => {
            let part = |number: usize| {
                let of =
                    |letter: &str| working.with.iter().find(|put| put.symbol == format!("{letter}{}", below(number)));
                Some(of("w")?.value * (-of("r")?.value * working.result).exp())
            };
            let left: f64 = (1..).map_while(part).sum();
            assert!((left - (1.0 - put("E"))).abs() < 1e-9, "{left}: {working:?}");
        }
        "/interval/0" | "/interval/1" => {
            let (k, n, p) = (put("k"), put("n"), working.result);
            let below = if working.of == "/interval/0" {
                regularised_beta(k, n - k + 1.0, p)
            } else {
                regularised_beta(k + 1.0, n - k, p)
            };
            assert!((below - put("q")).abs() < 1e-8, "{below}: {working:?}");
        }
        "/kupiec/p" => {
            assert!((normal(1.0 - working.result / 2.0).powi(2) - put("LR")).abs() < 1e-6, "{working:?}");
        }
        at if at.starts_with("/strings/") && at.ends_with("/saddle_setback_mm") => {
            assert!(put("c₁₂(ΔS, ΔN)").abs() < 1e-9, "{working:?}");
        }
        other => panic!("{other} has a formula that nothing checks: {}", working.formula),
    }
}

/// Every working of an answer is true, and every number that ought to have one does.
#[track_caller]
fn check_all(name: &str, input: &Value) -> usize {
    let (answered, workings) = told(name, input, None);
    for working in &workings {
        check(working, name, input, &answered);
    }
    let mut of: BTreeMap<&str, usize> = BTreeMap::new();
    for working in workings.iter().filter(|working| !working.of.is_empty()) {
        *of.entry(&working.of).or_default() += 1;
    }
    assert!(
        of.values().all(|count| *count == 1),
        "{name}: told twice in {:?}",
        of.iter().filter(|(_, count)| **count > 1).collect::<Vec<_>>()
    );
    let mut found = Vec::new();
    leaves(&answered, "", &mut found);
    for (place, (pointer, _)) in found.iter().enumerate() {
        if of.contains_key(pointer.as_str()) || is_copy_or_count(name, pointer, input, &answered) {
            continue;
        }
        // a long list: the working of any of them is told when it is asked for
        let room = matches!(name, "clearance" | "intonation" | "turnaround" | "promise") && workings.len() + 60 > MOST;
        assert!(room, "{name}: {pointer} has no working in {input}");
        if place % 17 == 0 {
            let (_, chain) = told(name, input, Some(pointer));
            assert_eq!(chain.last().map(|working| working.of.as_str()), Some(pointer.as_str()), "{name}");
            for working in &chain {
                check(working, name, input, &answered);
            }
        }
    }
    workings.len()
}

#[test]
fn every_worked_example_shows_its_working() {
    let file: Value = serde_json::from_str(include_str!("worked-examples.json")).unwrap();
    let mut checked = 0;
    for example in file["examples"].as_array().unwrap() {
        checked += check_all(example["name"].as_str().unwrap(), &example["input"]);
    }
    assert!(checked > 1500, "only {checked} workings");
}

#[test]
fn every_calculation_shows_its_working() {
    for name in NAMES.iter().copied() {
        assert!(check_all(name, &good(name)) > 0, "{name}");
    }
}

#[test]
fn the_working_says_what_the_field_knows() {
    let (_, workings) = told("tension", &good("tension"), Some("/strings/0/tension_n"));
    let force = workings.last().unwrap();
    assert_eq!(force.formula, "T = μ·(2·L·f)²");
    assert!(force.source.contains("Mersenne"), "{}", force.source);
    assert_eq!(workings.len(), 3, "frequency and mass come before it: {workings:?}");
    let (_, workings) = told("air", &good("air"), Some("/target/movement_mm/0"));
    assert!(workings.last().unwrap().source.contains("(13-2)"));
}

/// Steel, classical and nut readings of both kinds; high, low, stale, offered, stopped.
fn plans() -> Vec<Value> {
    let mut both_kinds = steel([2.7, 3.2], 0.15, 0.35, [3.6, 4.4]);
    for (place, string) in both_kinds["readings"]["strings"].as_array_mut().unwrap().iter_mut().enumerate() {
        string["first_fret_mm"] = json!([0.5 + 0.05 * place as f64]);
        string["cents_at_12"] = json!([6.0, 6.2]);
    }
    let mut open_heights = both_kinds.clone();
    for string in open_heights["readings"]["strings"].as_array_mut().unwrap() {
        string["gap_at_1_stopped_at_3_mm"] = json!([]);
        string["first_fret_mm"] = json!([0.9, 0.92]);
    }
    let strings = open_heights["instrument"]["strings"].as_array_mut().unwrap();
    for (string, pitch) in paired(strings, ["E4", "B3", "G3", "D3", "A2", "E2"]) {
        *string = json!({"pitch": pitch, "material": "steel", "diameter_mm": 0.4});
    }
    let mut low_heights = open_heights.clone();
    for string in low_heights["readings"]["strings"].as_array_mut().unwrap() {
        string["first_fret_mm"] = json!([0.1, 0.1, 0.1]);
    }
    let mut dry = steel([2.4, 2.9], 0.07, 0.15, [3.6, 4.4]);
    dry["air"]["rh_percent"] = json!(25);
    vec![
        steel([1.9, 2.3], 0.07, 0.15, [3.6, 4.4]),
        steel([2.4, 2.9], 0.07, 0.15, [3.6, 4.4]),
        steel([2.4, 2.9], 0.07, 0.15, [1.6, 1.4]),
        steel([1.2, 1.5], 0.07, 0.15, [3.6, 4.4]),
        steel([2.4, 2.9], 0.25, 0.15, [3.6, 4.4]),
        steel([2.4, 2.9], 0.01, 0.15, [3.6, 4.4]),
        steel([2.4, 2.9], 0.25, 0.6, [3.6, 4.4]),
        steel([2.4, 2.9], 0.01, -0.1, [3.6, 4.4]),
        guitar("electric", "two-way", (648.0, 22, 17), 6, [2.2, 2.6], 0.2, 0.5, None),
        guitar("electric", "two-way", (648.0, 22, 17), 6, [2.2, 2.6], 0.05, 0.2, None),
        guitar("classical", "none", (650.0, 19, 12), 6, [3.6, 4.6], 0.1, 0.1, Some([4.0, 5.0])),
        seen(
            steel([2.4, 2.9], 0.07, 0.15, [3.6, 4.4]),
            json!([{"key": "saddle-glued"}, {"key": "fret-high", "fret": 7}]),
        ),
        both_kinds,
        open_heights,
        low_heights,
        dry,
    ]
}

#[test]
fn every_figure_of_a_plan_shows_its_working() {
    let mut keys = std::collections::BTreeSet::new();
    for plan in plans() {
        check_all("plan", &plan);
        let answered = answer("plan", &plan);
        for of in ["findings", "steps"] {
            keys.extend(answered[of].as_array().unwrap().iter().map(|entry| entry["key"].as_str().unwrap().to_owned()));
        }
    }
    for key in [
        "air-dry",
        "relief-too-much",
        "relief-too-little",
        "nut-high",
        "nut-low",
        "readings-disagree",
        "saddle-high",
        "saddle-low",
        "saddle-spent",
        "intonation-off",
    ] {
        assert!(keys.contains(key), "no plan here has {key}: {keys:?}");
    }
}

/// Of each kind of bridge, nut, neck and string one, with everything about it that makes an amount.
fn built() -> Vec<Value> {
    let wanted = [
        "a flat-top with one height of 4.20 among 2.40s",
        "a flat-top with one worn slot among good ones",
        "a classical with 0.6 mm of relief and no rod, strings high",
        "a bolt-on electric with high strings",
        "a bolt-on electric with its saddles grounded and high strings",
        "a bolt-on electric with a wrong neck angle and low strings",
        "a two-post electric with one string high off the line",
        "a two-post electric with one string high off the line, posts right",
        "an electric with a clamping nut that is low",
        "an electric with a zero fret whose strings lie low over the 1st",
        "a fanned five-string bass, its low string sharp",
        "a mandolin out of tune at the 12th",
        "an archtop with high strings",
        "a banjo with low strings",
        "a banjo out of tune at the 12th",
        "a banjo whose short fifth lies on the 6th fret",
    ];
    let mut built: Vec<Value> =
        benches().into_iter().filter(|(what, _)| wanted.contains(what)).map(|(_, bench)| bench).collect();
    assert_eq!(built.len(), wanted.len());
    // screws with travel and pitch, posts whose travel ends, set-backs as read, a short string with all its readings
    let find = |what: &str| benches().into_iter().find(|(known, _)| *known == what).unwrap().1;
    let mut screws = find("a bolt-on electric with high strings");
    screws["readings"]["saddle_showing_mm"] = json!({"treble": [3.0], "bass": [3.2, 3.3]});
    for row in screws["readings"]["strings"].as_array_mut().unwrap() {
        row["from_12_to_saddle_mm"] = json!([326.1, 326.2]);
        row["cents_at_12"] = json!([7.0, 7.1]);
    }
    let mut in_tune = screws.clone();
    for row in in_tune["readings"]["strings"].as_array_mut().unwrap() {
        row["action_12_mm"] = json!([1.7, 1.7, 1.7]);
    }
    let mut held = find("a two-post electric with high strings");
    held["readings"]["saddle_showing_mm"] = json!({"treble": [0.9], "bass": [4.0]});
    held["instrument"]["screw_pitch_mm"] = json!(1.25);
    let mut off_line = find("a two-post electric with one string high off the line");
    off_line["instrument"]["screw_pitch_mm"] = json!(1.25);
    off_line["readings"]["saddle_showing_mm"] = json!({"treble": [4.0], "bass": [4.0]});
    let mut fifth = find("a banjo whose short fifth lies on the 6th fret");
    fifth["readings"]["relief_mm"] = json!([0.4, 0.4, 0.4]);
    for row in fifth["readings"]["strings"].as_array_mut().unwrap() {
        row["first_fret_mm"] = json!([0.7, 0.7]);
        row["gap_at_1_stopped_at_3_mm"] = json!([]);
    }
    let mut contradicted = steel([1.9, 2.3], 0.07, 0.4, [3.6, 4.4]);
    contradicted["rod_pairs"] = json!([{"relief_before_mm": 0.4, "relief_after_mm": 0.2, "action_12_before_mm": 2.3,
        "action_12_after_mm": 3.3}]);
    let mut both = find("a banjo whose short fifth lies on the 6th fret");
    for row in both["readings"]["strings"].as_array_mut().unwrap() {
        row["first_fret_mm"] = json!([0.9, 0.9]);
    }
    built.extend([screws, in_tune, held, off_line, fifth, contradicted, both]);
    built
}

#[test]
fn every_figure_of_every_kind_of_instrument_shows_its_working() {
    for plan in built() {
        check_all("plan", &plan);
    }
}

#[test]
fn a_page_finds_the_chain_from_the_reading_to_the_first_pass() {
    let house = HouseTargets::read(USUAL_TARGETS).unwrap();
    let asked = steel([2.4, 2.9], 0.07, 0.15, [3.6, 4.4]);
    let answered = answer("plan", &asked);
    let input: PlanInput = serde_json::from_value(asked).unwrap();
    let told = workings(&input, &house);
    let place = answered["steps"].as_array().unwrap().iter().position(|step| !step["cut"].is_null()).unwrap();
    let pointer = format!("/steps/{place}/cut/strings/2/first_pass_mm");
    let shown = number(&answered, &pointer);
    let chain = told.of_number(&pointer, shown);
    let symbols: Vec<&str> = chain.iter().map(|working| working.formula.split(" = ").next().unwrap()).collect();
    let order =
        ["x̄", "s", "u_A", "u_q", "u_t", "u", "ν", "ν_w", "k", "U", "h_t", "k", "u", "a", "t_U", "U", "t", "w", "p"];
    assert_eq!(symbols, [&["x₁₂"][..], &order[..]].concat());
    // a number that does not come out today has no working
    assert!(told.of_number(&pointer, shown + 0.01).is_empty());
    assert!(told.of_number("/steps/99/cut/strings/0/exact_mm", 0.1).is_empty());
}

#[test]
fn a_page_of_twelve_strings_is_explained_quickly() {
    let house = HouseTargets::read(USUAL_TARGETS).unwrap();
    let asked = guitar("steel-string", "two-way", (648.0, 24, 14), 12, [2.6, 3.2], 0.2, 0.5, Some([4.0, 5.0]));
    let input: PlanInput = serde_json::from_value(asked).unwrap();
    assert!(workings(&input, &house).into_list().len() < 3000);
}

#[test]
fn a_long_list_is_told_up_to_its_bound_but_for_the_figures_acted_on() {
    let strings: Vec<Value> = (0..12).map(|_| json!({"first_fret_mm": 0.45, "action_12_mm": 2.0})).collect();
    let mut input = good("clearance");
    input["strings"] = json!(strings);
    let (answered, workings) = told("clearance", &input, None);
    assert!(workings.len() <= MOST, "{}", workings.len());
    for string in 0..12 {
        for stop in 0..20 {
            let pointer = format!("/strings/{string}/stopped/{stop}/largest_clean_pluck_mm");
            let is_null = answered.pointer(&pointer).unwrap().is_null();
            assert!(is_null || workings.iter().any(|working| working.of == pointer), "{pointer}");
        }
    }
    check_all("clearance", &input);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_string_explains_its_intonation(
        scale in 300.0..900.0_f64, frets in 12..24_usize, first in 0.2..1.0_f64, action in 1.0..4.0_f64,
        relief in -0.2..0.5_f64, saddle in -3.0..4.0_f64, nut in -0.8..0.4_f64, ends in 0..3_u8,
        (material, diameter) in prop_oneof![(Just("steel"), 0.2..0.5_f64), (Just("nylon"), 0.5..1.1_f64), (Just("gut"), 0.5..1.0_f64)],
    ) {
        let input = json!({"scale_mm": scale, "frets": frets, "first_fret_mm": first, "action_12_mm": action,
            "relief_mm": relief, "body_fret": 12, "saddle_setback_mm": saddle, "nut_setback_mm": nut, "clamped_ends": ends,
            "uncertainty": {"first_fret_mm": 0.03, "action_12_mm": 0.03, "core_diameter_mm": 0.005, "stretch_percent": 10},
            "string": {"pitch": "B3", "material": material, "diameter_mm": diameter}});
        // a thin string that hangs slack over a high action has no saddle that tunes it, and is refused
        prop_assume!(thumbplane::calc::calc("intonation", input.to_string().as_bytes()).is_ok());
        check_all("intonation", &input);
    }

    #[test]
    fn any_board_explains_its_clearance(
        scale in 300.0..900.0_f64, frets in 5..15_usize, body in 3..16_usize, relief in -0.3..0.6_f64, fall in 0.0..0.5_f64,
        high in -0.2..0.2_f64, first in 0.1..1.0_f64, action in 1.0..4.0_f64, at in 0.02..0.6_f64, amplitude in 0.0..2.0_f64,
        direction in prop::sample::select(vec!["either", "towards", "away"]),
    ) {
        check_all("clearance", &json!({"scale_mm": scale, "frets": frets, "body_fret": body.min(frets.max(12)), "relief_mm": relief,
            "fall_away_mm": fall, "high_frets_mm": {"4": high}, "strings": [{"first_fret_mm": first, "action_12_mm": action}],
            "pluck": {"at_fraction_from_saddle": at, "amplitude_mm": amplitude, "direction": direction}}));
    }

    #[test]
    fn any_saddle_explains_its_cut(
        actions in prop::collection::vec(prop::option::weighted(0.9, 1.0..4.0_f64), 1..9), target in 1.5..2.5_f64,
        uncertainty in 0.0..0.05_f64, freedom in prop::option::of(1.0..40.0_f64), showing in 0.5..6.0_f64, slope in -2.0..2.0_f64,
        unsure in 0.0..0.2_f64, set_back in -3.0..6.0_f64, risk in 0.001..0.4_f64,
    ) {
        let strings: Vec<Value> = actions.iter().enumerate().map(|(place, action)| json!({"position_mm": 10.3 * place as f64,
            "action_12_mm": action, "target_mm": target, "standard_uncertainty_mm": uncertainty, "degrees_of_freedom": freedom})).collect();
        check_all("cut", &json!({"place": "saddle", "scale_mm": 648.0, "saddle_setback_mm": set_back, "first_pass_risk": risk, "strings": strings,
            "showing_mm": {"treble": showing, "bass": (showing + slope).max(0.0)},
            "showing_expanded_mm": {"treble": unsure, "bass": unsure / 2.0}, "least_showing_mm": 1.0}));
    }

    #[test]
    fn any_nut_explains_its_cut(
        gap in 0.0..0.6_f64, first in 0.0..1.5_f64, target in 0.02..0.8_f64, cap in prop::option::of(0.0..0.5_f64), step in 0.005..0.1_f64,
    ) {
        check_all("cut", &json!({"place": "nut", "scale_mm": 520.0, "step_mm": step, "strings": [
            {"gap_at_1_stopped_at_3_mm": gap, "target_mm": target, "standard_uncertainty_mm": 0.01, "degrees_of_freedom": 3, "most_removal_mm": cap},
            {"first_fret_mm": first, "target_mm": target, "standard_uncertainty_mm": 0.02}, {"target_mm": target, "standard_uncertainty_mm": 0.02}]}));
    }

    #[test]
    fn any_reading_air_and_queue_explain_themselves(
        values in prop::collection::vec(1.0..3.0_f64, 1..8), step in 0.0..0.1_f64, limit in 0.0..0.1_f64, coverage in 0.6..0.999_f64,
        temperature in 0.0..40.0_f64, humidity in 1.0..95.0_f64, target in 1.0..95.0_f64,
        species in prop::sample::select(vec!["sitka spruce", "mahogany", "western redcedar", "indian rosewood", "koa"]),
        jobs in prop::collection::vec((0..30_u32, any::<bool>()), 1..40),
    ) {
        check_all("reading", &json!({"values_mm": values, "resolution_mm": step, "tool_limit_mm": limit, "coverage": coverage}));
        check_all("air", &json!({"temperature_c": temperature, "rh_percent": humidity, "target_rh_percent": target, "species": species,
            "grain": "tangential", "width_mm": 380, "time_constant_h": 72}));
        let (days, finished): (Vec<u32>, Vec<bool>) = jobs.into_iter().unzip();
        check_all("turnaround", &json!({"durations_days": days, "finished": finished}));
    }

    #[test]
    fn any_plan_explains_itself(
        treble in 1.0..3.5_f64, more in 0.0..0.8_f64, gap in 0.0..0.3_f64, relief in -0.2..0.7_f64,
        family in prop::sample::select(vec!["steel-string", "classical", "electric", "bass"]), showing in 1.0..6.0_f64,
        body in 10..18_usize, strings in 1..8_usize, first in prop::option::of(0.2..1.0_f64), cents in -15.0..15.0_f64, humidity in 20.0..80.0_f64,
    ) {
        let rows: Vec<Value> = (0..strings).map(|place| {
            let action = treble + more * place as f64 / 7.0;
            json!({"action_12_mm": [action, action + 0.02], "gap_at_1_stopped_at_3_mm": if place % 3 == 2 { vec![] } else { vec![gap] },
                "first_fret_mm": first.into_iter().collect::<Vec<f64>>(), "cents_at_12": [cents]})
        }).collect();
        check_all("plan", &json!({
            "instrument": {"family": family, "scale_mm": 640.0, "frets": 20, "body_fret": body, "truss_rod": "two-way", "saddle_setback_mm": 2.0,
                "strings": vec![json!({"pitch": "G3", "material": "nylon", "diameter_mm": 1.0}); strings]},
            "style": "medium", "air": {"temperature_c": 21, "rh_percent": humidity}, "tool": {"resolution_mm": 0.05, "limit_mm": 0.02},
            "readings": {"relief_mm": [relief, relief + 0.01], "saddle_showing_mm": {"treble": [showing], "bass": [showing, showing + 0.05]}, "strings": rows}}));
    }
}
