//! The engine against reference libraries: `tests/reference/tables.json`, computed by
//! `tests/reference/tables.py` from scipy, statsmodels, lifelines, GTC, uncertainties, psychrolib,
//! pretty_midi, dateutil and phonenumbers at the versions of `tests/reference/requirements.txt`.
//!
//! By table, here, on every run and offline: all of it. Live, in `tests/run`: the table is computed
//! anew and compared with the committed one, so that it cannot rot; the libraries are Python's, and a
//! test that needed them would fail wherever they are not. What no library knows (the order of work,
//! wood, clearance) is checked in `engine/` against published tables.

use std::sync::LazyLock;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use thumbplane::forecast::turnaround::comparison::{By, compare};
use thumbplane::quantity::telephone::to_e164;
use thumbplane::quantity::{
    LengthUnit, Micrometres, Money, Rounding, TaxLevel, TaxRate, add_months_clamped, next_anniversary, parse_day,
    tax_in_gross, tax_on_lines, with_weekday,
};
use thumbplane::setup::cut::{CutInput, CutPlace, CutString, Ends, cut};
use thumbplane::setup::reading::coverage_factor;
use thumbplane::setup::tension::pitch_hz;

use super::engine::{answer, clopper_pearson, close, close_percent, number, numbers};
use crate::support::paired;

static TABLES: LazyLock<Value> = LazyLock::new(|| {
    serde_json::from_str(include_str!("../reference/tables.json")).expect("the reference tables are JSON")
});

/// The rows of one table, at least `least` of them.
fn rows<R: DeserializeOwned>(table: &str, least: usize) -> Vec<R> {
    let rows: Vec<R> = serde_json::from_value(TABLES[table].clone()).expect(table);
    assert!(rows.len() >= least, "{table} has only {} rows", rows.len());
    rows
}

#[derive(Deserialize)]
struct Quantile {
    p: f64,
    freedom: Option<f64>,
    quantile: f64,
}

/// scipy: a coverage on both sides is a quantile of t on one; the engine cuts the degrees of freedom.
#[test]
fn students_t_is_scipys() {
    let whole = |freedom: f64| freedom.fract() == 0.0;
    let mut compared = 0;
    for row in rows::<Quantile>("student", 40).into_iter().filter(|row| row.freedom.is_none_or(whole)) {
        close(coverage_factor(2.0 * row.p - 1.0, row.freedom), row.quantile, 1e-6 * (1.0 + row.quantile.abs()));
        compared += 1;
    }
    assert!(compared >= 20, "{compared}");
}

#[derive(Deserialize)]
struct Guarded {
    action_12_mm: f64,
    target_mm: f64,
    standard_uncertainty_mm: f64,
    cut_uncertainty_mm: f64,
    degrees_of_freedom: Option<f64>,
    first_pass_risk: f64,
    exact_mm: f64,
    both_mm: f64,
    guarded_mm: f64,
}

fn saddle(strings: Vec<CutString>, showing_mm: Ends) -> CutInput {
    CutInput {
        place: CutPlace::Saddle,
        scale_mm: 648.0,
        saddle_setback_mm: 0.0,
        first_pass_risk: 0.025,
        step_mm: 0.001,
        cut_uncertainty_mm: 0.03,
        shim_mm: 0.3,
        strings,
        showing_mm: Some(showing_mm),
        showing_expanded_mm: None,
        board_radius_mm: None,
        spread_at_other_end_mm: None,
        least_showing_mm: Some(1.0),
    }
}

/// scipy's quantiles, degrees of freedom not whole included.
#[test]
fn the_guard_band_of_a_first_pass_is_scipys() {
    for row in rows::<Guarded>("guard_band", 30) {
        let string = CutString {
            position_mm: Some(0.0),
            action_12_mm: Some(row.action_12_mm),
            target_mm: row.target_mm,
            standard_uncertainty_mm: row.standard_uncertainty_mm,
            degrees_of_freedom: row.degrees_of_freedom,
            ..CutString::default()
        };
        let case = CutInput {
            first_pass_risk: row.first_pass_risk,
            cut_uncertainty_mm: row.cut_uncertainty_mm,
            ..saddle(vec![string], Ends { treble: 20.0, bass: 20.0 })
        };
        let told = cut(&case).expect("a good case").strings[0];
        close(told.exact_mm.expect("an amount"), row.exact_mm, 1e-9);
        close(told.standard_uncertainty_mm, row.both_mm, 1e-9);
        // rounded down to a thousandth, never below nothing
        let guarded = row.guarded_mm.max(0.0);
        assert!(told.first_pass_mm <= guarded + 1e-6, "{} of {guarded}", told.first_pass_mm);
        assert!(told.first_pass_mm > guarded - 0.001 - 1e-6, "{} of {guarded}", told.first_pass_mm);
    }
}

/// GTC for uncertainty and degrees of freedom, uncertainties for the printed form, scipy for t and
/// Grubbs' limit.
#[test]
fn repeated_readings_are_evaluated_as_by_gtc() {
    let mut printed = 0;
    for row in rows::<Value>("readings", 30) {
        let worked = answer("reading", &row["input"]);
        for field in ["mean_mm", "standard_uncertainty_mm", "coverage_factor", "expanded_mm"] {
            close_percent(number(&worked, &format!("/{field}")), number(&row, &format!("/{field}")), 1e-4);
        }
        for field in ["standard_deviation_mm", "degrees_of_freedom"] {
            match row[field].as_f64() {
                Some(expected) => close_percent(number(&worked, &format!("/{field}")), expected, 1e-4),
                None => assert!(worked[field].is_null(), "{field} of {}", row["input"]),
            }
        }
        assert_eq!(worked["outlier"], row["outlier"], "{}", row["input"]);
        if !row["reported"].is_null() {
            assert_eq!(worked["reported"], row["reported"], "{}", row["input"]);
            printed += 1;
        }
    }
    assert!(printed >= 30, "all but ties are compared as printed: {printed}");
}

#[derive(Deserialize)]
struct StraightCut {
    positions_mm: Vec<f64>,
    actions_12_mm: Vec<f64>,
    showing_mm: Ends,
    sum_mm: f64,
    slope_mm: f64,
}

/// scipy's linprog (HiGHS) finds no straight cut that takes more, nor a flatter one that takes as much.
#[test]
fn the_saddles_foot_is_linprogs() {
    for row in rows::<StraightCut>("foot", 40) {
        let width = row.positions_mm.last().copied().expect("positions");
        let strings = paired(&row.positions_mm, &row.actions_12_mm).map(|(position, action)| CutString {
            position_mm: Some(*position),
            action_12_mm: Some(*action),
            target_mm: 2.0,
            ..CutString::default()
        });
        let foot = cut(&saddle(strings.collect(), row.showing_mm)).expect("a good case").foot.expect("a foot");
        let at = |position: &f64| foot.treble_mm + (foot.bass_mm - foot.treble_mm) * position / width;
        close(row.positions_mm.iter().map(at).sum(), row.sum_mm, 1e-6);
        close((foot.bass_mm - foot.treble_mm).abs(), row.slope_mm, 1e-6);
    }
}

/// A second writing of Anderson and Beausoleil's chain in numpy; scipy's brentq and least_squares.
#[test]
fn intonation_is_that_of_an_independent_chain() {
    for row in rows::<Value>("intonation", 30) {
        let worked = answer("intonation", &row["input"]);
        close_percent(number(&worked, "/tension_n"), number(&row, "/tension_n"), 1e-8);
        close_percent(number(&worked, "/stretch_ratio"), number(&row, "/stretch_ratio"), 1e-8);
        let (cents, expected) = (numbers(&worked, "/cents"), numbers(&row, "/cents"));
        for (cents, expected) in paired(cents, expected) {
            close(cents, expected, 1e-7);
        }
        close(number(&worked, "/best_saddle_setback_mm"), number(&row, "/best_saddle_setback_mm"), 1e-7);
        // the engine's slopes are differences over a tenth of a micrometre
        close(number(&worked, "/best_pair/saddle_setback_mm"), number(&row, "/best_pair/0"), 2e-6);
        close(number(&worked, "/best_pair/nut_setback_mm"), number(&row, "/best_pair/1"), 2e-6);
        close(number(&worked, "/rms_cents/without"), number(&row, "/rms_without"), 1e-7);
        close(number(&worked, "/rms_cents/with_best_pair"), number(&row, "/rms_with"), 1e-5);
    }
}

/// lifelines' curve and statsmodels' Greenwood error; the first two rows are the leukaemia data of
/// Freireich et al. (Blood 21, 1963) as lifelines carries them.
#[test]
fn turnaround_is_that_of_lifelines() {
    for row in rows::<Value>("survival", 14) {
        let case = json!({"durations_days": row["durations_days"], "finished": row["finished"]});
        let worked = answer("turnaround", &case);
        let (curve, expected) = (worked["curve"].as_array().expect("a curve"), row["curve"].as_array().expect("rows"));
        for (step, expected) in paired(curve, expected) {
            for (place, field) in ["days", "at_risk", "finished", "share_open", "standard_error"].iter().enumerate() {
                close(number(step, &format!("/{field}")), number(expected, &format!("/{place}")), 1e-9);
            }
        }
        for field in ["median_days", "p80_days", "p90_days", "median_least_days", "median_most_days"] {
            assert_eq!(worked[field].as_f64(), row[field].as_f64(), "{field}");
        }
        for (step, limits) in curve.iter().zip(row["limits"].as_array().expect("limits")) {
            assert_eq!(step["limits"].is_null(), limits.is_null());
            if !limits.is_null() {
                close(number(step, "/limits/0"), number(limits, "/0"), 1e-9);
                close(number(step, "/limits/1"), number(limits, "/1"), 1e-9);
            }
        }
        // lifelines sums the area in steps of its own
        close(number(&worked, "/restricted_mean/days"), number(&row, "/restricted_mean_days"), 1e-6);
    }
}

/// lifelines' log-rank test; the first pair are the two arms of Freireich et al. (Blood 21, 1963).
#[test]
fn groups_differ_as_much_as_lifelines_says() {
    for row in rows::<Value>("log_rank", 4) {
        let group = |side: &str| serde_json::from_value(row[side].clone()).expect("durations");
        let found = compare(&group("first"), &group("second"), 1).expect("two groups");
        close(found.chi_square, number(&row, "/chi_square"), 1e-9);
        assert_eq!(found.by, By::ChiSquare);
        close(found.p, number(&row, "/p"), 1e-9);
    }
}

/// psychrolib (ASHRAE Fundamentals 2017): the engine's Magnus form differs by at most 0.29 % in
/// pressure and 0.04 K in dew point between 0.5 and 45 °C, and neither knows the real gas.
#[test]
fn air_is_psychrolibs_within_the_difference_of_the_models() {
    for row in rows::<Value>("air", 30) {
        let case = json!({"temperature_c": row["temperature_c"], "rh_percent": row["rh_percent"]});
        let worked = answer("air", &case);
        close_percent(number(&worked, "/vapour_pressure_pa"), number(&row, "/vapour_pressure_pa"), 0.3);
        close_percent(number(&worked, "/absolute_humidity_g_m3"), number(&row, "/absolute_humidity_g_m3"), 0.35);
        close(number(&worked, "/dew_point_c"), number(&row, "/dew_point_c"), 0.045);
    }
}

/// pretty_midi: every natural, sharp and flat of ten octaves.
#[test]
fn notes_are_pretty_midis() {
    for row in rows::<Value>("notes", 200) {
        let pitch = row["pitch"].as_str().expect("a name");
        close_percent(pitch_hz(pitch, 440.0).expect(pitch), number(&row, "/frequency_hz"), 1e-9);
    }
}

/// Exact shares by convolution. Five standard deviations of 20 000 draws, and 0.0005 for shares near 0.
#[test]
fn promised_days_have_their_exact_shares() {
    for row in rows::<Value>("promises", 12) {
        let mut case = row["input"].clone();
        case["seed"] = json!(1);
        let worked = answer("promise", &case);
        let drawn = |day: &Value| {
            let days = worked["days"].as_array().expect("days");
            days.iter().find(|share| &share["day"] == day).map_or(0.0, |share| number(share, "/probability"))
        };
        let exact = row["days"].as_array().expect("days");
        for share in exact {
            let probability = number(share, "/probability");
            let deviation = (probability * (1.0 - probability) / 20_000.0).max(0.0).sqrt();
            close(drawn(&share["day"]), probability, 5.0 * deviation + 0.0005);
        }
        let known = |day: &Value| exact.iter().any(|share| &share["day"] == day);
        assert!(worked["days"].as_array().expect("days").iter().all(|share| known(&share["day"])), "{case}");
    }
}

/// statsmodels; the other tests ask this interval whether a share of hits is honest.
#[test]
fn exact_intervals_of_a_share_are_statsmodels() {
    for row in rows::<Value>("coverage", 20) {
        let whole = |field: &str| row[field].as_u64().expect(field);
        let (least, most) = clopper_pearson(whole("hits"), whole("of"), 0.95);
        close(least, number(&row, "/interval/0"), 1e-7);
        close(most, number(&row, "/interval/1"), 1e-7);
    }
}

/// dateutil's relativedelta, and the weekday of ISO 8601.
#[test]
fn months_and_years_are_dateutils() {
    for row in rows::<Value>("months", 60) {
        let day = |field: &str| parse_day(row[field].as_str().expect(field)).expect(field);
        let months = i32::try_from(row["months"].as_i64().expect("months")).expect("few");
        assert_eq!(add_months_clamped(day("anchor"), months), day("then"), "{row}");
        assert_eq!(next_anniversary(day("anchor"), day("after")), day("anniversary"), "{row}");
        let weekdays = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
        let weekday = usize::try_from(row["weekday"].as_u64().expect("a weekday")).expect("small");
        assert!(with_weekday(day("anchor")).starts_with(weekdays[weekday - 1]), "{row}");
    }
}

/// Python's decimal.
#[test]
fn taxes_are_those_of_decimal_arithmetic() {
    for row in rows::<Value>("taxes", 180) {
        let whole = |field: &str| row[field].as_i64().expect(field);
        let rate = TaxRate(whole("rate"));
        let prices: Vec<i64> = serde_json::from_value(row["lines"].clone()).expect("lines");
        let lines: Vec<(Money, TaxRate)> = prices.iter().map(|price| (Money(*price), rate)).collect();
        let rounding = match row["rounding"].as_str() {
            Some("half-up") => Rounding::HalfUp,
            Some("half-even") => Rounding::HalfEven,
            _ => Rounding::Down,
        };
        assert_eq!(tax_on_lines(&lines, rounding, TaxLevel::PerLine), Some(Money(whole("per_line"))), "{row}");
        assert_eq!(tax_on_lines(&lines, rounding, TaxLevel::OnTotal), Some(Money(whole("on_total"))), "{row}");
        let gross = Money(prices.iter().sum());
        assert_eq!(tax_in_gross(gross, rate, rounding), Some(Money(whole("in_gross"))), "{row}");
    }
}

/// Python's fractions: exact, then to the nearest micrometre.
#[test]
fn lengths_are_read_as_exact_fractions() {
    for row in rows::<Value>("lengths", 60) {
        let typed = row["typed"].as_str().expect("typed");
        let read = Micrometres::parse(typed, LengthUnit::Millimetre).map(|length| length.0);
        assert_eq!(read, Ok(row["micrometres"].as_i64().expect("whole")), "{typed}");
    }
}

/// phonenumbers' example numbers, as they are written at home and from abroad.
#[test]
fn telephone_numbers_are_read_as_by_phonenumbers() {
    for row in rows::<Value>("telephones", 60) {
        let (typed, country) = (row["typed"].as_str().expect("typed"), row["country"].as_str().expect("a country"));
        let read = to_e164(typed, country).map(|found| found.number);
        assert_eq!(read.as_deref(), row["e164"].as_str(), "{typed} in {country}");
    }
}

/// A table that says nothing proves nothing.
#[test]
fn every_reference_table_is_asked() {
    let asked = include_str!("reference.rs");
    for name in TABLES.as_object().expect("tables").keys() {
        assert!(asked.contains(&format!("(\"{name}\",")), "nobody asks the table {name}");
    }
}
