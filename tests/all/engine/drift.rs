//! From visit to visit: a certified regression, and when nothing may be said.

use serde_json::{Value, json};
use thumbplane::setup::air::equivalent_rh_percent;
use thumbplane::setup::drift::line;

use super::{answer, close, number};
use crate::support::paired;

/// NIST Statistical Reference Datasets, linear regression, Norris (data and certified values from memory;
/// an independent computation gives the certified values to 14 digits): y, x.
const NORRIS: [(f64, f64); 36] = [
    (0.1, 0.2),
    (338.8, 337.4),
    (118.1, 118.2),
    (888.0, 884.6),
    (9.2, 10.1),
    (228.1, 226.5),
    (668.5, 666.3),
    (998.5, 996.3),
    (449.1, 448.6),
    (778.9, 777.0),
    (559.2, 558.2),
    (0.3, 0.4),
    (0.1, 0.6),
    (778.1, 775.5),
    (668.8, 666.9),
    (339.3, 338.0),
    (448.9, 447.5),
    (10.8, 11.6),
    (557.7, 556.0),
    (228.3, 228.1),
    (998.0, 995.8),
    (888.8, 887.6),
    (119.6, 120.2),
    (0.3, 0.3),
    (0.6, 0.3),
    (557.6, 556.8),
    (339.3, 339.1),
    (888.0, 887.2),
    (998.5, 999.0),
    (778.9, 779.0),
    (10.2, 11.1),
    (117.6, 118.3),
    (228.9, 229.2),
    (668.4, 669.1),
    (449.2, 448.9),
    (0.2, 0.5),
];

#[test]
fn a_certified_regression_is_met() {
    let points: Vec<(f64, f64)> = NORRIS.iter().map(|(y, x)| (*x, *y)).collect();
    let found = line(&points).expect("a line");
    close(found.intercept, -0.262_323_073_774_029, 1e-10);
    close(found.slope, 1.002_116_818_020_45, 1e-12);
    close(found.slope_standard_error, 0.429_796_848_199_937e-3, 1e-12);
}

/// Inverse of the Wood Handbook's eq. 4-5: 8 % at 20 °C is the air of 41.829 %, 10 % at 21 °C of 54.574 %.
#[test]
fn moisture_is_told_as_the_air_that_gives_it() {
    close(equivalent_rh_percent(20.0, 8.0), 41.829, 0.01);
    close(equivalent_rh_percent(21.0, 10.0), 54.574, 0.01);
}

fn visits(moistures: &[f64], actions: &[f64]) -> Value {
    let rows: Vec<Value> = paired(moistures, actions)
        .enumerate()
        .map(|(year, (moisture, action))| {
            json!({"years": year, "moisture_content_percent": moisture, "action_12_mm": action})
        })
        .collect();
    json!({ "visits": rows })
}

#[test]
fn a_damp_summer_raises_the_strings_by_the_instruments_own_slope() {
    let worked = answer("drift", &visits(&[6.5, 8.5, 10.5, 7.5], &[2.0, 2.2, 2.4, 2.1]));
    close(number(&worked, "/action_by_moisture/slope_mm_per_percent"), 0.1, 1e-9);
    close(number(&worked, "/action_by_moisture/standard_error_mm_per_percent"), 0.0, 1e-9);
    // scatter shows: residuals 0.05, −0.10, 0.05 about 0.1 a point over ±2 points
    let scattered = answer("drift", &visits(&[6.5, 8.5, 10.5], &[2.05, 2.1, 2.45]));
    close(number(&scattered, "/action_by_moisture/slope_mm_per_percent"), 0.1, 1e-9);
    let by_hand = ((0.05_f64.powi(2) * 2.0 + 0.1_f64.powi(2)) / 8.0).sqrt();
    close(number(&scattered, "/action_by_moisture/standard_error_mm_per_percent"), by_hand, 1e-9);
}

#[test]
fn two_visits_or_one_seasons_air_make_no_slope() {
    for (case, word) in
        [(visits(&[6.5, 10.5], &[2.0, 2.4]), "3 visits"), (visits(&[8.5, 8.6, 8.7], &[2.0, 2.2, 2.1]), "apart")]
    {
        let worked = answer("drift", &case);
        let told = &worked["action_by_moisture"];
        assert!(told["slope_mm_per_percent"].is_null() && told["standard_error_mm_per_percent"].is_null());
        assert!(told["reason"].as_str().expect("a reason").contains(word), "{told}");
    }
}

fn saddle(rows: &[(&str, f64)]) -> Value {
    let visits: Vec<Value> = rows
        .iter()
        .map(|(day, showing)| json!({"day": day, "saddle_showing_mm": showing, "least_showing_mm": 1.5}))
        .collect();
    answer("drift", &json!({ "visits": visits }))["saddle"].clone()
}

#[test]
fn a_saddle_spent_a_little_each_year_has_so_many_years_left() {
    let told = saddle(&[("2020-03-01", 4.0), ("2022-03-01", 3.6), ("2025-03-01", 3.0)]);
    close(number(&told, "/spent_mm_a_year"), 0.2, 1e-3);
    close(number(&told, "/years_of_lowering_left"), 7.5, 0.05);
    // a new saddle starts anew
    let told = saddle(&[("2018-03-01", 2.0), ("2020-03-01", 4.0), ("2025-03-01", 3.0)]);
    close(number(&told, "/spent_mm_a_year"), 0.2, 1e-3);
    // at its least, none is left
    let told = saddle(&[("2020-03-01", 2.5), ("2025-03-01", 1.5)]);
    close(number(&told, "/years_of_lowering_left"), 0.0, 1e-9);
}

#[test]
fn a_saddle_that_is_not_spent_lasts_and_says_so() {
    for rows in [
        &[("2020-03-01", 4.0), ("2025-03-01", 4.0)][..],
        &[("2020-03-01", 4.0)],
        &[("2020-03-01", 4.0), ("2020-04-01", 3.5)],
    ] {
        let told = saddle(rows);
        assert!(told["years_of_lowering_left"].is_null(), "{told}");
        assert!(told["reason"].is_string(), "{told}");
    }
}
