//! Uncertainty of readings against the published examples of JCGM 100:2008 (GUM) and of Grubbs' test.

use serde_json::{Value, json};
use thumbplane::setup::reading::{Contribution, combine, coverage_factor, grubbs_limit, reported, supported};

use super::{answer, close, close_percent, number};

fn part(standard_uncertainty: f64, degrees_of_freedom: f64) -> Contribution {
    let degrees_of_freedom = degrees_of_freedom.is_finite().then_some(degrees_of_freedom);
    Contribution { standard_uncertainty, degrees_of_freedom }
}

/// GUM 4.4.3: twenty temperatures.
#[test]
fn twenty_readings_are_evaluated_as_in_the_guide() {
    let temperatures = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11,
        101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    let worked = answer("reading", &json!({"values_mm": temperatures, "resolution_mm": 0}));
    close(number(&worked, "/mean_mm"), 100.145, 0.0005);
    close(number(&worked, "/standard_deviation_mm"), 1.489, 0.0005);
    close(number(&worked, "/standard_uncertainty_mm"), 0.333, 0.0005);
    close(number(&worked, "/degrees_of_freedom"), 19.0, 1e-9);
    close(number(&worked, "/coverage_factor"), 2.093, 0.001);
    assert!(worked["outlier"].is_null());
}

/// GUM Annex H.1, the end gauge: u_c 32 nm (31.66 unrounded), ν_eff 16 (16.7 before cutting),
/// t₉₉(16) 2.92, U₉₉ 93 nm printed from the rounded 32.
#[test]
fn an_end_gauge_is_evaluated_as_in_the_guide() {
    let pooled = part(13.0 / 5_f64.sqrt(), 24.0);
    let certificate = part(10.0 / coverage_factor(0.95, Some(5.0)), 5.0);
    let comparator = part(20.0 / 3.0, 8.0);
    let difference = combine(&[pooled, certificate, comparator]);
    close(difference.standard_uncertainty, 9.7, 0.05);
    close(difference.degrees_of_freedom.expect("finite"), 25.6, 0.05);

    let standard_nm = 50.000_623e6;
    let length = combine(&[
        part(75.0 / 3.0, 18.0),
        difference,
        part(standard_nm * 0.1 * 1e-6 / 3_f64.sqrt(), 50.0),
        part(standard_nm * 11.5e-6 * 0.05 / 3_f64.sqrt(), 2.0),
    ]);
    close(length.standard_uncertainty, 31.66, 0.02);
    close(length.degrees_of_freedom.expect("finite"), 16.74, 0.05);
    let factor = coverage_factor(0.99, length.degrees_of_freedom);
    close(factor, 2.921, 0.002);
    close(factor * length.standard_uncertainty, 92.47, 0.1);
}

/// Student's t, two-sided 95 % (GUM Table G.2).
#[test]
fn coverage_factors_are_students() {
    let rows = [
        (1.0, 12.706),
        (2.0, 4.303),
        (3.0, 3.182),
        (4.0, 2.776),
        (5.0, 2.571),
        (6.0, 2.447),
        (9.0, 2.262),
        (19.0, 2.093),
    ];
    for (freedom, expected) in rows {
        close(coverage_factor(0.95, Some(freedom)), expected, 0.001);
        // degrees of freedom are cut, never rounded up
        close(coverage_factor(0.95, Some(freedom + 0.9)), expected, 0.001);
    }
    close(coverage_factor(0.95, None), 1.960, 0.001);
    close(coverage_factor(0.95, Some(1e9)), 1.960, 0.001);
    close(coverage_factor(0.9973, None), 3.0, 0.001);
}

#[test]
fn a_shops_repeats_and_its_ruler_are_combined() {
    let rows = [
        (vec![2.15, 2.10, 2.20, 2.15, 2.10], 0.05, 0.03, [0.029_297, 24.06, 2.0639, 0.0605]),
        (vec![2.71, 2.74, 2.70, 2.73], 0.01, 0.02, [0.015_000, 21.87, 2.0796, 0.0312]),
    ];
    for (values, resolution, limit, [uncertainty, freedom, factor, expanded]) in rows {
        let case = json!({"values_mm": values, "resolution_mm": resolution, "tool_limit_mm": limit});
        let worked = answer("reading", &case);
        close_percent(number(&worked, "/standard_uncertainty_mm"), uncertainty, 0.3);
        close_percent(number(&worked, "/degrees_of_freedom"), freedom, 0.3);
        close_percent(number(&worked, "/coverage_factor"), factor, 0.3);
        close_percent(number(&worked, "/expanded_mm"), expanded, 0.3);
    }
    let alone = answer("reading", &json!({"values_mm": [2.15, 2.10, 2.20, 2.15, 2.10], "resolution_mm": 0}));
    close(number(&alone, "/mean_mm"), 2.1400, 1e-5);
    close(number(&alone, "/standard_deviation_mm"), 0.041_833, 1e-5);
    close(number(&alone, "/standard_uncertainty_mm"), 0.018_708, 1e-5);
}

/// GUM 7.2.6: two digits of the expanded uncertainty, the value to the same place.
#[test]
fn results_are_reported_with_two_digits_of_their_uncertainty() {
    let rows = [
        (2.1432, 0.0317, "2.143", "0.032"),
        (1.234, 0.0996, "1.23", "0.10"),
        (1.234, 0.0994, "1.234", "0.099"),
        (100.145, 0.697, "100.15", "0.70"),
        (1.5, 1.0, "1.5", "1.0"),
        (123.4, 12.3, "123", "12"),
        (1234.0, 123.0, "1230", "120"),
        (-0.0004, 0.012, "0.000", "0.012"),
        (-0.25, 0.05, "-0.250", "0.050"),
        (1.9, 0.0, "1.900", "0"),
    ];
    for (value, expanded, shown, shown_expanded) in rows {
        let reported = reported(value, expanded);
        assert_eq!(
            (reported.value.as_str(), reported.expanded.as_str()),
            (shown, shown_expanded),
            "{value} ± {expanded}"
        );
    }
}

#[test]
fn figures_to_act_on_show_the_decimal_that_their_uncertainty_supports() {
    // J. R. Taylor, An Introduction to Error Analysis, section 2.2: its examples, from memory
    for (value, expanded, said) in [
        (9.82, 0.02385, "9.82 ± 0.02"),
        (6051.78, 30.0, "6050 ± 30"),
        (92.81, 0.3, "92.8 ± 0.3"),
        (92.81, 3.0, "93 ± 3"),
        (92.81, 30.0, "90 ± 30"),
        // "if the leading digit is a 1, it may be better to keep two"
        (0.1389, 0.0142, "0.139 ± 0.014"),
        // the shop's own
        (2.712, 0.031, "2.71 ± 0.03"),
        (0.549, 0.0707, "0.55 ± 0.07"),
        (0.549, 0.097, "0.55 ± 0.10"),
        (-0.004, 0.05, "0.00 ± 0.05"),
    ] {
        assert_eq!(supported(value, expanded).to_string(), said);
    }
}

/// Two-sided limits at 5 % as printed in D. Harvey, Analytical Chemistry, appendix 7 (its entry for
/// seven readings is a misprint and left out).
#[test]
fn the_limit_of_grubbs_test_is_the_published_one() {
    let rows = [
        (3, 1.155),
        (4, 1.481),
        (5, 1.715),
        (6, 1.887),
        (8, 2.126),
        (9, 2.215),
        (10, 2.290),
        (11, 2.355),
        (12, 2.412),
        (13, 2.462),
        (14, 2.507),
        (15, 2.549),
    ];
    for (readings, expected) in rows {
        close(grubbs_limit(readings).expect("three or more"), expected, 0.001);
    }
    assert_eq!(grubbs_limit(2), None);
}

/// Eight masses of the NIST/SEMATECH handbook's example (from memory): G = 2.4687, the last is an outlier.
#[test]
fn an_outlier_is_named_and_kept() {
    let masses = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
    let worked = answer("reading", &json!({"values_mm": masses, "resolution_mm": 0}));
    assert_eq!(worked["outlier"], 7);
    let (mean, deviation) = (number(&worked, "/mean_mm"), number(&worked, "/standard_deviation_mm"));
    close((245.57 - mean) / deviation, 2.4687, 0.0005);
    close(mean, masses.iter().sum::<f64>() / 8.0, 1e-9);

    let worked = answer("reading", &json!({"values_mm": [2.10, 2.12, 2.11, 2.10, 2.61, 2.12], "resolution_mm": 0.01}));
    assert_eq!(worked["outlier"], 4);
    let worked = answer("reading", &json!({"values_mm": [2.10, 2.105, 2.61], "resolution_mm": 0.01}));
    assert_eq!(worked["outlier"], 2, "two that nearly agree accuse a third");
    let worked = answer("reading", &json!({"values_mm": [2.10, 2.40, 2.61], "resolution_mm": 0.01}));
    assert!(worked["outlier"].is_null());
}

#[test]
fn one_reading_has_the_tools_uncertainty_and_equal_ones_no_more() {
    let once = answer("reading", &json!({"values_mm": [1.9], "resolution_mm": 0.1}));
    for count in 2..8 {
        let worked = answer("reading", &json!({"values_mm": vec![1.9; count], "resolution_mm": 0.1}));
        close(number(&worked, "/standard_deviation_mm"), 0.0, 0.0);
        assert!(worked["degrees_of_freedom"].is_null());
        for field in ["standard_uncertainty_mm", "expanded_mm", "coverage_factor"] {
            assert_eq!(worked[field], once[field], "{field}");
        }
        assert_eq!(worked["outlier"], Value::Null);
    }
    assert!(once["standard_deviation_mm"].is_null());
}

#[test]
fn more_coverage_is_a_wider_claim() {
    let at = |coverage: f64| {
        let case = json!({"values_mm": [2.1, 2.2, 2.15], "resolution_mm": 0.05, "coverage": coverage});
        number(&answer("reading", &case), "/expanded_mm")
    };
    assert!(at(0.68) < at(0.95) && at(0.95) < at(0.99));
}
