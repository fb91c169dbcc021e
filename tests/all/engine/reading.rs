//! Uncertainty of readings against the published examples of JCGM 100:2008 (GUM) and of Grubbs' test.

use serde_json::{Value, json};
use thumbplane::setup::reading::{
    Contribution, combine, coverage_factor, grubbs_limit, pooled_repeatability, reported, supported,
};

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

fn pooled(values: &[f64], r: f64, freedom: u32) -> serde_json::Value {
    answer(
        "reading",
        &json!({"values_mm": values, "resolution_mm": 0, "repeatability_mm": r, "repeatability_degrees_of_freedom": freedom}),
    )
}

/// GUM (JCGM 100:2008) 4.2.4 with table G.2: readings 2.10, 2.16, 2.13, the first n of them; computed by an
/// independent script. One reading is no surer than two.
#[test]
fn the_tools_own_repeatability_is_pooled_with_the_repeats() {
    let values = [2.10, 2.16, 2.13];
    for (r, freedom, rows) in [
        (0.03, 5, [(0.0300, 0.0300, 5.0, 2.5706), (0.0324, 0.0229, 6.0, 2.4469), (0.0300, 0.0173, 7.0, 2.3646)]),
        (0.05, 12, [(0.0500, 0.0500, 12.0, 2.1788), (0.0495, 0.0350, 13.0, 2.1604), (0.0477, 0.0275, 14.0, 2.1448)]),
    ] {
        let mut before = f64::INFINITY;
        for (count, (s, u, nu, t)) in (1..).zip(rows) {
            let told = pooled(&values[..count], r, freedom);
            close(number(&told, "/standard_deviation_mm"), s, 5e-5);
            close(number(&told, "/standard_uncertainty_mm"), u, 5e-5);
            close(number(&told, "/degrees_of_freedom"), nu, 1e-9);
            close(number(&told, "/coverage_factor"), t, 5e-5);
            assert!(number(&told, "/expanded_mm") < before, "more readings are never less sure here");
            before = number(&told, "/expanded_mm");
        }
    }
    // without the two fields all is as before
    assert!(answer("reading", &json!({"values_mm": [2.1], "resolution_mm": 0.0}))["standard_deviation_mm"].is_null());
}

/// GUM H.1.3.2: a pooled standard deviation of 13 nm from 25 comparisons (24 degrees of freedom) leaves the mean of
/// five an uncertainty of 5.8 nm.
#[test]
fn five_comparisons_of_an_end_gauge_are_as_sure_as_the_pooled_scatter_says() {
    // in micrometres: five values that scatter as the pool does, their own sum of squares is 4·13²
    let spread = 0.013 * 2.0_f64.sqrt();
    let told = pooled(&[0.215 - spread, 0.215, 0.215, 0.215, 0.215 + spread], 0.013, 24);
    close(number(&told, "/standard_deviation_mm"), 0.013, 1e-9);
    close(number(&told, "/standard_uncertainty_mm"), 0.0058, 0.00005);
    close(number(&told, "/degrees_of_freedom"), 28.0, 1e-9);
}

/// NIST Statistical Reference Datasets, analysis of variance, SiRstv (resistivity of silicon, five instruments, five
/// readings each; the data from memory, which agree with the certified values): certified within-instrument standard
/// deviation 0.104076068334656 with 20 degrees of freedom.
#[test]
fn the_scatter_of_a_tool_is_pooled_over_every_place_that_was_read_again() {
    let places: [&[f64]; 7] = [
        &[196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
        &[196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
        &[196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
        &[196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
        &[196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
        // a place that was read once, or not at all, tells nothing
        &[170.0],
        &[],
    ];
    let known = pooled_repeatability(places).expect("places read again");
    close(known.standard_deviation_mm, 0.104_076_068_334_656, 1e-12);
    close(known.degrees_of_freedom, 20.0, 0.0);
    assert!(pooled_repeatability([&[1.0][..], &[2.0]]).is_none());
}
