//! Laws that hold for any input: nothing panics, nothing is infinite, more is never less.

use proptest::prelude::*;
use serde_json::{Value, json};
use thumbplane::calc::{NAMES, calc};
use thumbplane::setup::air::{Grain, moisture_content_percent};
use thumbplane::setup::intonation::{Chain, IntonationInput, SetBacks};

use super::contract::good;
use super::schemas::faults_of_answer;
use super::{answer, number, numbers};
use crate::support::paired;

fn check_outcome(name: &str, input: &[u8]) -> Result<(), TestCaseError> {
    match calc(name, input) {
        Ok(answer) => prop_assert_eq!(faults_of_answer(name, &answer), Vec::<String>::new(), "{}", name),
        Err(refusal) => {
            let document = refusal.document();
            let errors = document["errors"].as_array().map_or(0, Vec::len);
            prop_assert!(errors > 0 || document["status"] == 404, "{}", document);
        }
    }
    Ok(())
}

fn any_scalar() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        (-3..70_i64).prop_map(Value::from),
        prop::num::f64::NORMAL.prop_map(Value::from),
        (-5.0..5.0_f64).prop_map(Value::from),
        prop::sample::select(vec![
            0.0, 1e-300, 1e-9, 0.02, 0.05, 0.999, 49.99, 50.0, 100.0, 3000.0, 1e6, 1e300, -1e-300
        ])
        .prop_map(Value::from),
        prop::sample::select(vec!["", "E2", "C-1", "B9", "nylon", "gut", "nut", "saddle", "away", "2026-06-01", "koa"])
            .prop_map(Value::from),
        "\\PC{0,12}".prop_map(Value::from),
    ]
}

fn any_json() -> impl Strategy<Value = Value> {
    any_scalar().prop_recursive(3, 24, 5, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::hash_map(
                prop::sample::select(vec!["scale_mm", "frets", "strings", "values_mm", "place", "7", "x", "a/b"]),
                inner,
                0..5
            )
            .prop_map(|fields| fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()),
        ]
    })
}

/// Every place of a value, as JSON pointers.
fn places(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Array(entries) => {
            for (place, entry) in entries.iter().enumerate() {
                places(entry, &format!("{at}/{place}"), found);
            }
        }
        Value::Object(fields) => {
            for (name, value) in fields {
                places(value, &format!("{at}/{name}"), found);
            }
        }
        _ => {}
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn no_change_of_a_good_input_makes_a_panic_or_an_infinite_number(
        name in prop::sample::select(NAMES.to_vec()),
        changes in prop::collection::vec((any::<prop::sample::Index>(), prop_oneof![3 => any_scalar(), 1 => any_json()]), 1..4),
    ) {
        let mut input = good(name);
        for (place, value) in changes {
            let mut found = Vec::new();
            places(&input, "", &mut found);
            let at = found[place.index(found.len())].clone();
            if let Some(target) = input.pointer_mut(&at) {
                *target = value;
            }
        }
        // a bounded number of draws: this is about panics, not patience
        if name == "promise" && input["draws"].as_u64().is_some_and(|draws| draws > 500) {
            input["draws"] = json!(500);
        }
        check_outcome(name, input.to_string().as_bytes())?;
    }

    #[test]
    fn no_json_makes_a_panic(name in prop::sample::select(NAMES.to_vec()), input in any_json()) {
        check_outcome(name, input.to_string().as_bytes())?;
    }

    #[test]
    fn no_bytes_make_a_panic(
        name in prop_oneof![prop::sample::select(NAMES.to_vec()).prop_map(str::to_owned), "\\PC{0,200}"],
        bytes in prop::collection::vec(any::<u8>(), 0..60),
        cut_at in any::<prop::sample::Index>(),
    ) {
        check_outcome(&name, &bytes)?;
        if NAMES.contains(&name.as_str()) {
            let mut torn = good(&name).to_string().into_bytes();
            torn.truncate(cut_at.index(torn.len()));
            torn.extend(bytes);
            check_outcome(&name, &torn)?;
        }
    }

    /// Heights, masses and set-backs anywhere within what is accepted.
    #[test]
    fn an_accepted_string_has_finite_cents_and_a_pair_that_helps(
        scale in 50.0..3000.0_f64, frets in 2..=60_usize, first in 0.0..100.0_f64, action in 0.0..100.0_f64,
        relief in -50.0..50.0_f64, pitch in prop::sample::select(vec!["C-1", "E2", "B3", "E5", "G9"]),
        density in 0.001..1000.0_f64, core in 0.02..20.0_f64, stretch in prop::option::of(1.0..2000.0_f64),
    ) {
        let case = json!({"scale_mm": scale, "frets": frets, "first_fret_mm": first, "action_12_mm": action,
            "relief_mm": relief, "body_fret": 14,
            "string": {"pitch": pitch, "material": "steel", "linear_density_g_m": density, "diameter_mm": core,
                "stretch_ratio": stretch}});
        if let Ok(answer) = calc("intonation", case.to_string().as_bytes()) {
            prop_assert_eq!(faults_of_answer("intonation", &answer), Vec::<String>::new());
            prop_assert!(number(&answer, "/rms_cents/with_best_pair") <= number(&answer, "/rms_cents/without"));
            let input: IntonationInput = serde_json::from_value(case).expect("it was accepted");
            let chain = Chain::new(&IntonationInput { frets: 12, ..input }, 0.0).expect("it was accepted");
            let saddle_setback_mm = number(&answer, "/best_saddle_setback_mm");
            let twelfth = chain.cents(SetBacks { saddle_setback_mm, nut_setback_mm: 0.0 })[11];
            prop_assert!(twelfth.abs() < 1e-6, "{twelfth} cents at {saddle_setback_mm} mm");
        }
    }
}

proptest! {
    #[test]
    fn an_ordinary_string_can_always_be_tuned(
        scale in 340.0..900.0_f64, frets in 12..=24_usize, first in 0.3..0.8_f64, action in 1.2..3.0_f64,
        relief in 0.0..0.25_f64, diameter in 0.2..1.2_f64, tension_like in 0.6..1.6_f64,
    ) {
        // a mass that pulls some 70 N at B3
        let density = 70.0 * tension_like / (2.0 * scale / 1000.0 * 246.94_f64).powi(2) * 1000.0;
        let case = json!({"scale_mm": scale, "frets": frets, "first_fret_mm": first, "action_12_mm": action,
            "relief_mm": relief, "body_fret": 14,
            "string": {"pitch": "B3", "linear_density_g_m": density, "diameter_mm": diameter}});
        let solved = answer("intonation", &case);
        prop_assert!(number(&solved, "/rms_cents/with_best_pair") < 1.0);
        let mut there = case.clone();
        there["saddle_setback_mm"] = solved["best_saddle_setback_mm"].clone();
        prop_assert!(numbers(&answer("intonation", &there), "/cents")[11].abs() < 1e-6);
    }

    #[test]
    fn a_higher_string_never_comes_closer_to_a_fret(
        first in 0.2..0.8_f64, action in 1.2..3.5_f64, more in 0.0..0.5_f64, relief in -0.1..0.4_f64,
        amplitude in 0.0..1.0_f64,
    ) {
        let at = |action: f64| {
            let case = json!({"scale_mm": 648, "frets": 20, "body_fret": 14, "relief_mm": relief,
                "strings": [{"first_fret_mm": first, "action_12_mm": action}],
                "pluck": {"at_fraction_from_saddle": 0.17, "amplitude_mm": amplitude}});
            answer("clearance", &case)
        };
        let (low, high) = (at(action), at(action + more));
        for fret in 1..20 {
            for field in ["clearance_mm", "spare_mm"] {
                let pointer = format!("/strings/0/stopped/{fret}/{field}");
                for (low, high) in paired(numbers(&low, &pointer), numbers(&high, &pointer)) {
                    prop_assert!(high >= low - 1e-12, "stopped at {fret}: {high} under {low}");
                }
            }
            let pointer = format!("/strings/0/stopped/{fret}/largest_clean_pluck_mm");
            prop_assert!(number(&high, &pointer) >= number(&low, &pointer) - 1e-9);
        }
    }

    /// The largest clean pluck is clean, and a hair more touches the fret it names.
    #[test]
    fn the_largest_clean_pluck_just_touches(
        first in 0.3..0.8_f64, action in 1.5..3.5_f64, relief in 0.0..0.4_f64, at_fraction in 0.05..0.25_f64,
        fret in 0..12_usize,
    ) {
        let case = |amplitude: f64| json!({"scale_mm": 648, "frets": 20, "body_fret": 14, "relief_mm": relief,
            "strings": [{"first_fret_mm": first, "action_12_mm": action}],
            "pluck": {"at_fraction_from_saddle": at_fraction, "amplitude_mm": amplitude}});
        let at = format!("/strings/0/stopped/{fret}");
        let before = answer("clearance", &case(0.5));
        let largest = number(&before, &format!("{at}/largest_clean_pluck_mm"));
        let touches = before.pointer(&format!("{at}/touches_fret")).and_then(Value::as_u64).expect("a fret");
        prop_assume!(largest > 0.0);
        let spare = numbers(&answer("clearance", &case(largest)), &format!("{at}/spare_mm"));
        prop_assert!(spare.iter().all(|spare| *spare > -1e-8));
        let touched = usize::try_from(touches).expect("small") - fret - 1;
        prop_assert!(spare[touched].abs() < 1e-8, "{spare:?} at {touches}");
    }

    #[test]
    fn damper_air_is_damper_wood(temperature in -20.0..60.0_f64, rh in 0.0..99.0_f64, more in 0.01..1.0_f64) {
        prop_assert!(moisture_content_percent(temperature, rh + more) > moisture_content_percent(temperature, rh));
    }

    /// Free width grows with moisture for every wood and grain that has a source.
    #[test]
    fn boards_swell_when_damp_and_shrink_when_dry(
        from in 10.0..90.0_f64, to in 10.0..90.0_f64,
        species in prop::sample::select(vec!["sitka spruce", "western redcedar", "sugar maple", "mahogany", "indian rosewood"]),
        grain in prop::sample::select(vec![Grain::Radial, Grain::Tangential]),
    ) {
        let case = json!({"temperature_c": 20, "rh_percent": from, "target_rh_percent": to, "species": species,
            "grain": grain, "width_mm": 400});
        let worked = answer("air", &case);
        let (low, high) = (number(&worked, "/target/movement_mm/0"), number(&worked, "/target/movement_mm/1"));
        prop_assert!(low <= high);
        prop_assert!(if to > from { low > 0.0 } else { high <= 0.0 }, "{from} to {to}: {low} to {high}");
        // at most a tenth of the width: no wood here shrinks more from green to ovendry
        prop_assert!(low.abs().max(high.abs()) < 40.0);
    }

    #[test]
    fn the_share_of_open_jobs_only_falls(jobs in prop::collection::vec((0.0..60.0_f64, any::<bool>()), 1..60)) {
        let (days, finished): (Vec<f64>, Vec<bool>) = jobs.into_iter().unzip();
        let worked = answer("turnaround", &json!({"durations_days": days, "finished": finished}));
        let curve = worked["curve"].as_array().expect("a curve");
        let mut previous = (-1.0, 1.0);
        for step in curve {
            let (days, share) = (number(step, "/days"), number(step, "/share_open"));
            prop_assert!(days > previous.0 && share < previous.1 && share >= 0.0);
            previous = (days, share);
        }
        let percentile = |field: &str| worked[field].as_f64().unwrap_or(f64::INFINITY);
        prop_assert!(percentile("median_days") <= percentile("p80_days"));
        prop_assert!(percentile("p80_days") <= percentile("p90_days"));
        prop_assert_eq!(finished.iter().filter(|finished| **finished).count() > 0, !curve.is_empty());
    }

    #[test]
    fn more_confidence_or_more_work_is_never_an_earlier_day(
        hours in prop::collection::vec(0.0..12.0_f64, 1..6), more in 0.0..6.0_f64, seed in any::<u64>(),
    ) {
        let case = |confidence: f64, own: f64| json!({"start": "2026-06-03", "week_hours": [5, 0, 6, 6, 4, 2, 0],
            "closed": ["2026-06-08"], "jobs": [{"hours": hours}, {"hours": [own]}], "confidence": confidence,
            "draws": 200, "seed": seed});
        let day = |case: &Value| answer("promise", case)["promised_day"].as_str().expect("a day").to_owned();
        prop_assert!(day(&case(0.9, 2.0)) >= day(&case(0.6, 2.0)));
        prop_assert!(day(&case(0.9, 2.0 + more)) >= day(&case(0.9, 2.0)));
        let worked = answer("promise", &case(0.9, 2.0));
        let days = worked["days"].as_array().expect("days").len();
        let shares: f64 = (0..days).map(|day| number(&worked, &format!("/days/{day}/probability"))).sum();
        prop_assert!((shares - 1.0).abs() < 1e-9);
    }

    #[test]
    fn repeats_in_another_order_say_the_same(mut values in prop::collection::vec(0.0..5.0_f64, 1..12)) {
        let worked = |values: &[f64]| answer("reading", &json!({"values_mm": values, "resolution_mm": 0.05}));
        let one = worked(&values);
        values.reverse();
        let other = worked(&values);
        for field in ["mean_mm", "standard_uncertainty_mm", "expanded_mm"] {
            let pointer = format!("/{field}");
            prop_assert!((number(&one, &pointer) - number(&other, &pointer)).abs() < 1e-9, "{field}");
        }
    }
}
