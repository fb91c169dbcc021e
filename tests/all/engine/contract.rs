//! The one contract: what is refused, how each fault is named, and what a refusal looks like.

use serde_json::{Value, json};
use thumbplane::calc::{LARGEST_INPUT, NAMES, calc};
use thumbplane::setup::plan::HouseTargets;

use super::schemas::faults_of_answer;
use super::{answer, faults, number};

/// A good input of each calculation.
pub(super) fn good(name: &str) -> Value {
    match name {
        "frets" => json!({"scale_mm": 648, "frets": 22}),
        "tension" => json!({"scale_mm": 648, "a4_hz": 440, "strings": [
            {"pitch": "E4", "material": "steel", "diameter_mm": 0.305},
            {"pitch": "G3", "linear_density_g_m": 1.7}]}),
        "frequency" => json!({"scale_mm": 648, "a4_hz": 440, "strings": [
            {"tension_n": 72, "material": "steel", "diameter_mm": 0.254},
            {"tension_n": 60, "density_kg_m3": 1140, "diameter_mm": 0.7},
            {"tension_n": 80, "linear_density_g_m": 6.5}]}),
        "overtones" => json!({"scale_mm": 648, "a4_hz": 440, "partials": 5,
            "string": {"pitch": "E4", "material": "steel", "diameter_mm": 0.254, "modulus_gpa": 200}}),
        "humidity" => json!({"temperature_c": 20, "moisture_content_percent": 9}),
        "intonation" => json!({"scale_mm": 648, "frets": 20, "first_fret_mm": 0.5, "action_12_mm": 2.0,
            "relief_mm": 0.1, "body_fret": 14, "saddle_setback_mm": 2, "nut_setback_mm": -0.2, "clamped_ends": 1,
            "string": {"pitch": "B3", "material": "steel", "diameter_mm": 0.33, "modulus_gpa": 200}}),
        "clearance" => json!({"scale_mm": 648, "frets": 20, "body_fret": 14, "relief_mm": 0.2, "fall_away_mm": 0.1,
            "high_frets_mm": {"7": 0.05}, "strings": [{"first_fret_mm": 0.45, "action_12_mm": 2.0}],
            "pluck": {"at_fraction_from_saddle": 0.17, "amplitude_mm": 0.5, "direction": "either"}}),
        "cut" => json!({"place": "saddle", "scale_mm": 648, "saddle_setback_mm": 2, "strings": [
            {"position_mm": 0, "action_12_mm": 2.4, "target_mm": 2, "standard_uncertainty_mm": 0.03,
                "degrees_of_freedom": 12.5},
            {"position_mm": 50, "action_12_mm": 2.9, "target_mm": 2.4, "standard_uncertainty_mm": 0.03,
                "degrees_of_freedom": null}],
            "showing_mm": {"treble": 3, "bass": 4}, "least_showing_mm": 1,
            "board_radius_mm": {"nut": 254, "end": 406, "end_at_mm": 480}, "spread_at_other_end_mm": 36}),
        "string-spacing" => json!({"outer_centres_mm": 36, "diameters_mm": [1.29, 1.02, 0.76, 0.56, 0.41, 0.30]}),
        "string-change" => json!({"scale_mm": 648, "frets": 20, "a4_hz": 440, "family": "steel-string",
            "now": [{"pitch": "E4", "material": "steel", "diameter_mm": 0.305},
                {"pitch": "E2", "material": "steel", "wound": true, "diameter_mm": 1.346, "core_diameter_mm": 0.43}],
            "next": [{"pitch": "E4", "material": "steel", "diameter_mm": 0.33, "scale_mm": 648},
                {"pitch": "E2", "material": "steel", "core_diameter_mm": 0.45, "wrap_diameter_mm": 0.46,
                    "wrap_metal": "bronze", "linear_density_g_m": 10.2}],
            "heights": [{"first_fret_mm": 0.5, "action_12_mm": 2.0}, {"first_fret_mm": 0.55, "action_12_mm": 2.4}],
            "relief_mm": 0.2, "body_fret": 14,
            "relief_pairs": [{"pull_before_n": 600, "pull_after_n": 700, "relief_before_mm": 0.2, "relief_after_mm": 0.3}],
            "break_angle": {"front_degrees": 1.5, "back_degrees": 20}, "height_over_top_mm": 9}),
        "reading" => json!({"values_mm": [2.1, 2.15], "resolution_mm": 0.05, "tool_limit_mm": 0.03, "coverage": 0.95}),
        "air" => json!({"temperature_c": 20, "rh_percent": 50, "target_rh_percent": 45, "species": "sitka spruce",
            "grain": "radial", "width_mm": 400, "time_constant_h": 72, "case_volume_l": 45, "wood_g": 1600,
            "wood_moisture_percent": 7,
            "plate": {"thickness_mm": 2.8, "faces": 2, "diffusivity_m2_s": 1e-10, "surface_film_m_s": 1e-7},
            "outside": {"temperature_c": 5, "rh_percent": 80}}),
        "drift" => json!({"visits": [
            {"day": "2024-01-10", "action_12_mm": 2.2, "air": {"temperature_c": 20, "rh_percent": 35},
                "saddle_showing_mm": 4.0, "least_showing_mm": 1.5},
            {"day": "2025-01-12", "action_12_mm": 2.4, "moisture_content_percent": 9.0, "saddle_showing_mm": 3.6},
            {"day": "2026-06-01", "action_12_mm": 2.5, "moisture_content_percent": 10.0, "saddle_showing_mm": 3.3}]}),
        "turnaround" => json!({"durations_days": [3, 5, 8], "finished": [true, false, true]}),
        "promise" => json!({"start": "2026-06-01", "week_hours": [6, 6, 6, 6, 6, 0, 0], "closed": ["2026-06-04"],
            "jobs": [{"hours": [2, 5], "weights": [0.7, 0.3], "not_before": "2026-06-02"}, {"hours": [3]}],
            "confidence": 0.9, "draws": 200, "seed": 1}),
        "promise-record" => json!({"kept": 18, "promised": 20, "confidence": 0.9, "past_days": [3, 5, 8, 13]}),
        "plan" => json!({"instrument": {"family": "steel-string", "scale_mm": 648, "frets": 20, "body_fret": 14,
                "truss_rod": "one-way", "strings": [{"position_mm": 0}, {"position_mm": 52}]},
            "style": "medium", "air": {"temperature_c": 20, "rh_percent": 48},
            "tool": {"resolution_mm": 0.05, "limit_mm": 0.03},
            "readings": {"relief_mm": [0.15], "saddle_showing_mm": {"treble": [3.5], "bass": [4.2]}, "strings": [
                {"action_12_mm": [2.6, 2.65], "first_fret_mm": [0.45], "gap_at_1_stopped_at_3_mm": [0.08], "cents_at_12": [2]},
                {"action_12_mm": [3.0], "first_fret_mm": [], "gap_at_1_stopped_at_3_mm": [0.1], "cents_at_12": []}]},
            "observations": [{"key": "buzz", "string": 1, "fret": 3}]}),
        other => panic!("no input of {other} here"),
    }
}

/// The same with one value changed or added.
fn changed(name: &str, pointer: &str, value: Value) -> Value {
    let mut input = good(name);
    let (parent, field) = pointer.rsplit_once('/').expect("a pointer");
    match input.pointer_mut(parent).expect("its parent") {
        Value::Array(list) => list[field.parse::<usize>().expect("a place")] = value,
        object => object[field] = value,
    }
    input
}

#[test]
fn every_calculation_takes_its_good_input() {
    for name in NAMES.iter() {
        assert_eq!(faults_of_answer(name, &answer(name, &good(name))), [""; 0], "{name}");
    }
}

#[test]
fn each_fault_is_named_by_its_place() {
    let rows = [
        ("frets", "/scale_mm", json!(0)),
        ("frets", "/scale_mm", json!(-648)),
        ("frets", "/scale_mm", json!("648")),
        ("frets", "/scale_mm", json!(null)),
        ("frets", "/scale_mm", json!(1e300)),
        ("frets", "/frets", json!(0)),
        ("frets", "/frets", json!(61)),
        ("frets", "/frets", json!(12.5)),
        ("frets", "/frets", json!(-3)),
        ("frets", "/fret_height_mm", json!(1)),
        ("tension", "/scale_mm", json!(0)),
        ("tension", "/a4_hz", json!(0)),
        ("tension", "/strings", json!([])),
        ("tension", "/strings/0/pitch", json!("H9")),
        ("tension", "/strings/0/material", json!("catgut")),
        ("tension", "/strings/0/diameter_mm", json!(-0.3)),
        ("tension", "/strings/1/linear_density_g_m", json!(0)),
        ("tension", "/strings/1/linear_density_g_m", json!(null)),
        ("tension", "/strings/0/colour", json!("red")),
        ("intonation", "/scale_mm", json!(0)),
        ("intonation", "/frets", json!(1)),
        ("intonation", "/first_fret_mm", json!(-0.1)),
        ("intonation", "/action_12_mm", json!(-2)),
        ("intonation", "/relief_mm", json!(1000)),
        ("intonation", "/body_fret", json!(1)),
        ("intonation", "/body_fret", json!(null)),
        ("intonation", "/a4_hz", json!(-440)),
        ("intonation", "/saddle_setback_mm", json!(100)),
        ("intonation", "/nut_setback_mm", json!(-100)),
        ("intonation", "/clamped_ends", json!(3)),
        ("intonation", "/string/pitch", json!("")),
        ("intonation", "/string/diameter_mm", json!(0)),
        ("intonation", "/string/core_diameter_mm", json!(-1)),
        ("intonation", "/string/modulus_gpa", json!(0)),
        ("intonation", "/string/stretch_ratio", json!(50)),
        ("intonation", "/string/youngs_modulus", json!(200)),
        ("clearance", "/scale_mm", json!(0)),
        ("clearance", "/frets", json!(0)),
        ("clearance", "/body_fret", json!(0)),
        ("clearance", "/body_fret", json!(40)),
        ("clearance", "/relief_mm", json!("0.2")),
        ("clearance", "/high_frets_mm/21", json!(0.1)),
        ("clearance", "/high_frets_mm/0", json!(0.1)),
        ("clearance", "/high_frets_mm/7", json!(500)),
        ("clearance", "/strings", json!([])),
        ("clearance", "/strings/0/first_fret_mm", json!(-0.1)),
        ("clearance", "/strings/0/action_12_mm", json!(1e9)),
        ("clearance", "/pluck/at_fraction_from_saddle", json!(0)),
        ("clearance", "/pluck/at_fraction_from_saddle", json!(1)),
        ("clearance", "/pluck/amplitude_mm", json!(-0.5)),
        ("clearance", "/pluck/direction", json!("sideways")),
        ("cut", "/place", json!("bridge")),
        ("cut", "/scale_mm", json!(0)),
        ("cut", "/first_pass_risk", json!(0)),
        ("cut", "/first_pass_risk", json!(0.6)),
        ("cut", "/step_mm", json!(0)),
        ("cut", "/cut_uncertainty_mm", json!(-0.1)),
        ("cut", "/shim_mm", json!(0)),
        ("cut", "/strings", json!([])),
        ("cut", "/strings/0/position_mm", json!(null)),
        ("cut", "/strings/0/action_12_mm", json!(-1)),
        ("cut", "/strings/1/target_mm", json!(-1)),
        ("cut", "/strings/1/standard_uncertainty_mm", json!(-0.01)),
        ("cut", "/strings/0/degrees_of_freedom", json!(0)),
        ("cut", "/strings/0/first_fret_mm", json!(0.5)),
        ("cut", "/strings/0/gap_at_1_stopped_at_3_mm", json!(0.5)),
        ("cut", "/strings/0/most_removal_mm", json!(0.5)),
        ("cut", "/showing_mm", json!(null)),
        ("cut", "/showing_mm/treble", json!(-1)),
        ("cut", "/showing_mm/middle", json!(1)),
        ("cut", "/least_showing_mm", json!(null)),
        ("cut", "/least_showing_mm", json!(-1)),
        ("cut", "/board_radius_mm/middle", json!(300)),
        ("cut", "/board_radius_mm/nut", json!(0)),
        ("cut", "/board_radius_mm/end", json!(-406)),
        ("cut", "/board_radius_mm/end_at_mm", json!(0)),
        ("cut", "/board_radius_mm", json!({"nut": 400, "end": 50, "end_at_mm": 480})),
        ("cut", "/board_radius_mm", json!(null)),
        ("cut", "/spread_at_other_end_mm", json!(0)),
        ("string-spacing", "/outer_centres_mm", json!(0)),
        ("string-spacing", "/outer_centres_mm", json!(3)),
        ("string-spacing", "/diameters_mm", json!([0.3])),
        ("string-spacing", "/diameters_mm/2", json!(-0.76)),
        ("string-change", "/scale_mm", json!(0)),
        ("string-change", "/frets", json!(0)),
        ("string-change", "/a4_hz", json!(0)),
        ("string-change", "/family", json!("lute")),
        ("string-change", "/now", json!([])),
        ("string-change", "/now/0/pitch", json!("H4")),
        ("string-change", "/now/0/diameter_mm", json!(0)),
        ("string-change", "/now/0/scale_mm", json!(0)),
        ("string-change", "/now/1/core_diameter_mm", json!(-1)),
        ("string-change", "/next", json!([])),
        ("string-change", "/next", json!([{"pitch": "E4", "material": "steel", "diameter_mm": 0.3}])),
        ("string-change", "/next/0/colour", json!("red")),
        ("string-change", "/next/1/wrap_metal", json!("gold")),
        ("string-change", "/next/1/wrap_diameter_mm", json!(0)),
        ("string-change", "/next/1/linear_density_g_m", json!(-10)),
        ("string-change", "/heights", json!([])),
        ("string-change", "/heights/0/first_fret_mm", json!(-1)),
        ("string-change", "/heights/1/action_12_mm", json!(-1)),
        ("string-change", "/relief_mm", json!(900)),
        ("string-change", "/body_fret", json!(null)),
        ("string-change", "/body_fret", json!(1)),
        ("string-change", "/relief_pairs/0/pull_before_n", json!(-1)),
        (
            "string-change",
            "/relief_pairs/0",
            json!({"pull_before_n": 600, "pull_after_n": 601, "relief_before_mm": 0.2,
            "relief_after_mm": 0.3}),
        ),
        ("string-change", "/break_angle/front_degrees", json!(-80)),
        ("string-change", "/break_angle/back_degrees", json!(120)),
        ("string-change", "/height_over_top_mm", json!(-9)),
        ("reading", "/values_mm", json!([])),
        ("reading", "/values_mm/1", json!(1e6)),
        ("reading", "/values_mm/1", json!(null)),
        ("reading", "/resolution_mm", json!(-0.05)),
        ("reading", "/tool_limit_mm", json!(-0.05)),
        ("reading", "/coverage", json!(1)),
        ("reading", "/coverage", json!(0)),
        ("air", "/temperature_c", json!(1000)),
        ("air", "/rh_percent", json!(-1)),
        ("air", "/rh_percent", json!(101)),
        ("air", "/target_rh_percent", json!(150)),
        ("air", "/grain", json!("diagonal")),
        ("air", "/grain", json!(null)),
        ("air", "/width_mm", json!(null)),
        ("air", "/width_mm", json!(-400)),
        ("air", "/time_constant_h", json!(0)),
        ("air", "/species", json!("x".repeat(1000))),
        ("air", "/case_volume_l", json!(0)),
        ("air", "/case_volume_l", json!(null)),
        ("air", "/wood_g", json!(null)),
        ("air", "/wood_moisture_percent", json!(-7)),
        ("air", "/target_rh_percent", json!(null)),
        ("air", "/plate/thickness_mm", json!(0)),
        ("air", "/plate/faces", json!(3)),
        ("air", "/plate/diffusivity_m2_s", json!(0)),
        ("air", "/plate/surface_film_m_s", json!(-1)),
        ("air", "/outside/temperature_c", json!(-300)),
        ("air", "/outside/rh_percent", json!(101)),
        ("drift", "/visits", json!([])),
        ("drift", "/visits/0/day", json!("10.01.2024")),
        ("drift", "/visits/0/day", json!(null)),
        ("drift", "/visits/1/years", json!(3)),
        ("drift", "/visits/1", json!({"years": 3})),
        ("drift", "/visits", json!([{"years": 2}, {"years": 1}])),
        ("drift", "/visits/1/action_12_mm", json!(-1)),
        ("drift", "/visits/1/moisture_content_percent", json!(60)),
        ("drift", "/visits/0/moisture_content_percent", json!("8")),
        ("drift", "/visits/0/air/rh_percent", json!(120)),
        ("drift", "/visits/0/air/temperature_c", json!(500)),
        ("drift", "/visits/1/air", json!({"temperature_c": 20, "rh_percent": 45})),
        ("drift", "/visits/0/saddle_showing_mm", json!(-1)),
        ("drift", "/visits/0/least_showing_mm", json!(-1)),
        ("promise-record", "/kept", json!(21)),
        ("promise-record", "/kept", json!(-1)),
        ("promise-record", "/promised", json!(0)),
        ("promise-record", "/confidence", json!(1)),
        ("promise-record", "/past_days/0", json!(-3)),
        ("turnaround", "/durations_days", json!([])),
        ("turnaround", "/durations_days/1", json!(-5)),
        ("turnaround", "/finished", json!([true])),
        ("turnaround", "/finished/1", json!("yes")),
        ("promise", "/start", json!("01.06.2026")),
        ("promise", "/start", json!("2026-02-29")),
        ("promise", "/start", json!("0001-01-01")),
        ("promise", "/week_hours", json!([6, 6, 6])),
        ("promise", "/week_hours", json!([0, 0, 0, 0, 0, 0, 0])),
        ("promise", "/week_hours/2", json!(-6)),
        ("promise", "/closed/0", json!("Whit Monday")),
        ("promise", "/jobs", json!([])),
        ("promise", "/jobs/0/hours", json!([])),
        ("promise", "/jobs/0/hours/1", json!(-2)),
        ("promise", "/jobs/0/weights", json!([1])),
        ("promise", "/jobs/0/weights", json!([0, 0])),
        ("promise", "/jobs/0/weights/0", json!(-1)),
        ("promise", "/jobs/0/not_before", json!("soon")),
        ("promise", "/confidence", json!(1)),
        ("promise", "/draws", json!(0)),
        ("promise", "/draws", json!(200_001)),
        ("promise", "/seed", json!(-1)),
        ("promise", "/seed", json!(null)),
    ];
    for (name, pointer, value) in rows {
        let found = faults(name, &changed(name, pointer, value.clone()).to_string());
        let named = found.iter().find(|(at, _)| at == pointer);
        let (_, detail) = named.unwrap_or_else(|| panic!("{name} {pointer} = {value}: named {found:?}"));
        assert!(detail.len() > 5, "{name} {pointer}: {detail}");
        let of_this_program = ["f64", "usize", "u64", "struct", "variant", "line 1"];
        assert!(of_this_program.iter().all(|word| !detail.contains(word)), "{name} {pointer}: {detail}");
    }
}

#[test]
fn a_number_out_of_range_is_told_the_range() {
    let rows = [
        ("frets", "/scale_mm", json!(0), ["50", "3000"]),
        ("frets", "/frets", json!(90), ["1", "60"]),
        ("reading", "/coverage", json!(2), ["0.5", "0.9999"]),
        ("air", "/rh_percent", json!(101), ["0", "100"]),
        ("cut", "/first_pass_risk", json!(0.6), ["0.0001", "0.5"]),
        ("promise", "/draws", json!(0), ["1", "200000"]),
    ];
    for (name, pointer, value, limits) in rows {
        let found = faults(name, &changed(name, pointer, value).to_string());
        assert!(limits.iter().all(|limit| found[0].1.contains(limit)), "{name} {pointer}: {found:?}");
    }
}

#[test]
fn a_missing_field_is_named_where_it_should_be() {
    let rows = [
        ("frets", "/scale_mm"),
        ("tension", "/strings/0/pitch"),
        ("intonation", "/string"),
        ("clearance", "/body_fret"),
        ("clearance", "/pluck/amplitude_mm"),
        ("cut", "/strings/0/target_mm"),
        ("cut", "/showing_mm/bass"),
        ("cut", "/strings/0/position_mm"),
        ("reading", "/resolution_mm"),
        ("air", "/rh_percent"),
        ("turnaround", "/finished"),
        ("promise", "/seed"),
        ("promise", "/jobs/1/hours"),
    ];
    for (name, pointer) in rows {
        let mut input = good(name);
        let (parent, field) = pointer.rsplit_once('/').expect("a pointer");
        let parent = input.pointer_mut(parent).and_then(Value::as_object_mut).expect("its parent");
        assert!(parent.remove(field).is_some(), "{name} {pointer} was there");
        let found = faults(name, &input.to_string());
        assert!(found.iter().any(|(at, _)| at == pointer), "{name} {pointer}: {found:?}");
    }
}

#[test]
fn all_faults_are_told_at_once() {
    let input = json!({"scale_mm": 0, "frets": 99, "body_fret": 0, "relief_mm": 700,
        "strings": [{"first_fret_mm": -1, "action_12_mm": -1}]});
    let pointers: Vec<String> = faults("clearance", &input.to_string()).into_iter().map(|(at, _)| at).collect();
    let expected =
        ["/scale_mm", "/frets", "/body_fret", "/relief_mm", "/strings/0/first_fret_mm", "/strings/0/action_12_mm"];
    assert_eq!(pointers, expected);
}

#[test]
fn absurdly_long_lists_are_refused() {
    let string = json!({"first_fret_mm": 0.5, "action_12_mm": 2});
    let rows = [
        ("clearance", "/strings", json!(vec![string; 25])),
        ("tension", "/strings", json!(vec![json!({"pitch": "E2", "linear_density_g_m": 9}); 25])),
        ("reading", "/values_mm", json!(vec![2.0; 201])),
        ("promise", "/jobs", json!(vec![json!({"hours": [1]}); 1001])),
        ("promise", "/jobs/0/hours", json!(vec![1; 5001])),
    ];
    for (name, pointer, value) in rows {
        let found = faults(name, &changed(name, pointer, value).to_string());
        assert!(found.iter().any(|(at, _)| at == pointer), "{name} {pointer}: {found:?}");
    }
    // each alone is allowed, together they would keep a processor busy
    let mut busy = changed("promise", "/jobs", json!(vec![json!({"hours": [1]}); 1000]));
    busy["draws"] = json!(200_000);
    assert_eq!(faults("promise", &busy.to_string())[0].0, "/draws");
}

#[test]
fn a_queue_beyond_ten_years_is_refused() {
    let mut endless = good("promise");
    endless["week_hours"] = json!([0.001, 0, 0, 0, 0, 0, 0]);
    assert_eq!(faults("promise", &endless.to_string())[0].0, "/jobs");
    let mut endless = good("promise");
    endless["jobs"][1]["not_before"] = json!("2190-01-01");
    assert_eq!(faults("promise", &endless.to_string())[0].0, "/jobs");
}

#[test]
fn a_nut_takes_no_fields_of_a_saddle() {
    let nut = json!({"place": "nut", "scale_mm": 648, "showing_mm": {"treble": 3, "bass": 3}, "least_showing_mm": 1,
        "strings": [{"action_12_mm": 2, "target_mm": 1, "standard_uncertainty_mm": 0.01},
            {"first_fret_mm": 0.5, "gap_at_1_stopped_at_3_mm": 0.1, "target_mm": 1, "standard_uncertainty_mm": 0.01}]});
    let pointers: Vec<String> = faults("cut", &nut.to_string()).into_iter().map(|(at, _)| at).collect();
    assert_eq!(pointers, ["/strings/0/action_12_mm", "/strings/1/first_fret_mm", "/showing_mm", "/least_showing_mm"]);
}

#[test]
fn strings_across_a_saddle_stand_in_their_order() {
    let found = faults("cut", &changed("cut", "/strings/1/position_mm", json!(0)).to_string());
    assert_eq!(found[0].0, "/strings");
}

#[test]
fn what_is_not_json_is_refused_as_such() {
    for text in
        ["", " ", "{", "{\"scale_mm\":NaN,\"frets\":22}", "{\"scale_mm\":Infinity}", "{} {}", "{'a':1}", "{}\u{feff}"]
    {
        let refusal = calc("frets", text.as_bytes()).expect_err(text);
        assert_eq!(refusal.document()["status"], 400, "{text}");
        assert!(refusal.document()["errors"][0]["detail"].is_string(), "{text}");
    }
    let refusal = calc("frets", b"{\"scale_mm\":648,\"frets\":\xff}").expect_err("not UTF-8");
    assert_eq!(refusal.document()["status"], 400);
    // a number without end is JSON, but none that can be used
    assert_eq!(faults("frets", r#"{"scale_mm":1e999,"frets":22}"#)[0].0, "/scale_mm");
}

#[test]
fn a_list_is_not_taken_for_an_object() {
    for (name, input, pointer) in [
        ("frets", json!([648, 22]), ""),
        ("frets", json!(5), ""),
        ("frets", json!(null), ""),
        ("clearance", changed("clearance", "/strings/0", json!([0.45, 2.0])), "/strings/0"),
        ("clearance", changed("clearance", "/pluck", json!([0.17, 0.5, "away"])), "/pluck"),
        ("cut", changed("cut", "/place", json!({"saddle": null})), "/place"),
    ] {
        let found = faults(name, &input.to_string());
        assert_eq!(found.len(), 1, "{name} {input}");
        assert_eq!(found[0].0, pointer, "{name} {input}");
    }
}

#[test]
fn a_field_given_twice_is_refused_by_its_name_wherever_it_stands() {
    let twice = |name: &str, input: &str| {
        let found = faults(name, input);
        assert_eq!(found[0].1, "is given twice", "{found:?}");
        found[0].0.clone()
    };
    assert_eq!(twice("frets", r#"{"scale_mm":648,"frets":22,"frets":23}"#), "/frets");
    // the same name in other letters (RFC 8259, 7)
    assert_eq!(twice("frets", r#"{"scale_mm":648,"frets":22,"fr\u0065ts":22}"#), "/frets");
    let deep = |high: &str| {
        format!(
            r#"{{"scale_mm":648,"frets":20,"body_fret":14,"relief_mm":0.1,"high_frets_mm":{high},
                "strings":[{{"first_fret_mm":0.5,"action_12_mm":2}},{{"first_fret_mm":0.5,"action_12_mm":2,"action_12_mm":3}}]}}"#
        )
    };
    assert_eq!(twice("clearance", &deep("{}")), "/strings/1/action_12_mm");
    // where any number may be a name, too
    let by_number = deep(r#"{"7":0.05,"7":0.06}"#).replace(r#","action_12_mm":3"#, "");
    assert_eq!(twice("clearance", &by_number), "/high_frets_mm/7");
}

/// RFC 8259, 8.1: a reader may skip a byte-order mark. Some editors write one.
#[test]
fn a_byte_order_mark_is_skipped() {
    let text = good("frets").to_string();
    assert_eq!(calc("frets", format!("\u{feff}{text}").as_bytes()), calc("frets", text.as_bytes()));
    assert!(calc("frets", format!("\u{feff}\u{feff}{text}").as_bytes()).is_err(), "one, and only before the text");
}

#[test]
fn an_input_that_is_too_large_is_told_the_limit_through_every_door() {
    let text = good("frets").to_string();
    let largest = format!("{text}{}", " ".repeat(LARGEST_INPUT - text.len()));
    assert!(calc("frets", largest.as_bytes()).is_ok());
    let document = calc("frets", format!("{largest} ").as_bytes()).expect_err("too large").document();
    assert_eq!(document["status"], 413);
    for said in [&document["detail"], &document["errors"][0]["detail"]] {
        assert!(said.as_str().is_some_and(|said| said.contains("4 MiB") && said.contains("4194304")), "{document}");
    }
}

#[test]
fn a_range_is_told_in_few_figures_and_the_right_way_up() {
    // what hangs on another field is told of the nearest that field could be
    for scale in [json!(0), json!(-5), json!(1e300), json!(333.3), json!(648)] {
        let mut input = changed("intonation", "/scale_mm", scale.clone());
        input["saddle_setback_mm"] = json!(1e6);
        for (pointer, detail) in faults("intonation", &input.to_string()) {
            let limits: Vec<f64> = detail.split(' ').filter_map(|word| word.parse().ok()).collect();
            assert!(limits.len() < 2 || limits[0] <= limits[1], "{pointer} at {scale}: {detail}");
            assert!(detail.len() < 50, "{pointer} at {scale}: {detail}");
        }
    }
    let detail =
        |name: &str, pointer: &str, value: Value| faults(name, &changed(name, pointer, value).to_string())[0].1.clone();
    assert_eq!(detail("air", "/plate/diffusivity_m2_s", json!(0)), "must be a number from 1e-13 to 1e-8");
    assert_eq!(detail("promise", "/jobs/0/weights/0", json!(-1)), "must be a number from 0 to 1e9");
    assert_eq!(detail("reading", "/coverage", json!(1)), "must be a number from 0.5 to 0.9999");
}

/// A day is `YYYY-MM-DD` and a seed a whole number, as the schema says; 20000.0 and 2e4 are integers of JSON Schema
/// (2020-12, validation 6.1.1: any number with a zero fractional part).
#[test]
fn seeds_and_days_are_taken_exactly_as_they_are_described() {
    let taken =
        |pointer: &str, value: Value| calc("promise", changed("promise", pointer, value).to_string().as_bytes());
    let same = taken("/seed", json!(1000)).expect("a seed");
    let written = |seed: &str| {
        let text = good("promise").to_string().replace(r#""seed":1"#, &format!(r#""seed":{seed}"#));
        calc("promise", text.as_bytes())
    };
    assert_eq!(written("1000.0"), Ok(same.clone()));
    assert_eq!(written("1e3"), Ok(same));
    assert!(written("18446744073709551615").is_ok());
    for seed in ["18446744073709551616", "-1", "1.5", "1e300"] {
        let document = written(seed).expect_err(seed).document();
        let detail = document["errors"][0]["detail"].as_str().expect("words").to_owned();
        assert_eq!(detail, "must be a whole number from 0 to 18446744073709551615", "{seed}");
    }
    assert_eq!(
        calc("promise", good("promise").to_string().replace("200,", "2e2,").as_bytes()),
        calc("promise", good("promise").to_string().as_bytes())
    );
    for at in ["/start", "/closed/0", "/jobs/0/not_before"] {
        for day in
            ["+2026-06-03", "-2026-06-03", "2026-6-3", "2026-06-03 ", "2026-06-03T00:00", "20260603", "1899-12-31"]
        {
            let found = faults("promise", &changed("promise", at, json!(day)).to_string());
            assert_eq!(found[0].0, at, "{day}");
        }
        assert!(taken(at, json!("2026-06-03")).is_ok(), "{at}");
    }
    assert_eq!(
        faults("drift", &changed("drift", "/visits/0/day", json!("+2024-01-10")).to_string())[0].0,
        "/visits/0/day"
    );
}

/// RFC 9457 and, for the pointers, RFC 6901.
#[test]
fn a_refusal_is_a_problem_document() {
    let document = calc("frets", br#"{"scale_mm":0,"frets":22,"a/b~c":1}"#).expect_err("refused").document();
    assert_eq!(document["type"], "about:blank");
    assert_eq!(document["title"], "Unprocessable Content");
    assert_eq!(document["status"], 422);
    assert!(document["detail"].is_string());
    assert_eq!(document["errors"][0]["pointer"], "/a~1b~0c");

    let refusal = calc("horoscope", b"{}").expect_err("there is none");
    assert_eq!(refusal.status(), 404);
    let document = refusal.document();
    assert_eq!((&document["title"], &document["status"]), (&json!("Not Found"), &json!(404)));
    let detail = document["detail"].as_str().expect("words");
    assert!(NAMES.iter().all(|name| detail.contains(name)), "{detail}");
    assert_eq!(document["errors"], json!([]));
}

#[test]
fn the_houses_own_targets_can_be_read() {
    assert!(HouseTargets::read(thumbplane::calc::USUAL_TARGETS).is_ok());
}

#[test]
fn defaults_are_those_of_the_contract() {
    let without = |name: &str, fields: &[&str]| {
        let mut input = good(name);
        for field in fields {
            input.as_object_mut().expect("an object").remove(*field);
        }
        input
    };
    let explicit = json!({"values_mm": [2.1, 2.15], "resolution_mm": 0.05, "tool_limit_mm": 0, "coverage": 0.95});
    assert_eq!(answer("reading", &explicit), answer("reading", &without("reading", &["tool_limit_mm", "coverage"])));

    let mut explicit = good("cut");
    for (field, value) in
        [("first_pass_risk", 0.025), ("step_mm", 0.01), ("cut_uncertainty_mm", 0.03), ("shim_mm", 0.3)]
    {
        explicit[field] = json!(value);
    }
    assert_eq!(answer("cut", &explicit), answer("cut", &good("cut")));

    let tuned = answer("tension", &without("tension", &["a4_hz"]));
    assert_eq!(tuned, answer("tension", &good("tension")));
    assert!((number(&tuned, "/strings/0/frequency_hz") - 329.6276).abs() < 1e-4);

    let mut explicit = good("promise");
    explicit["draws"] = json!(20_000);
    assert_eq!(answer("promise", &explicit), answer("promise", &without("promise", &["draws", "confidence"])));
}
