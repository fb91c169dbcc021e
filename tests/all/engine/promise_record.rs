//! Were promises kept? Exact intervals and Kupiec's statistic against published and computed values.

use serde_json::json;

use super::{answer, close, number};

/// Clopper–Pearson (Biometrika 26, 1934) 95 %; agrees with scipy's beta quantiles.
#[test]
fn the_kept_share_has_its_exact_interval() {
    let rows = [(18, 20, 0.6830, 0.9877), (40, 50, 0.6628, 0.8997), (45, 50, 0.7819, 0.9667), (10, 10, 0.6915, 1.0)];
    for (kept, promised, least, most) in rows {
        let worked = answer("promise-record", &json!({"kept": kept, "promised": promised, "confidence": 0.9}));
        close(number(&worked, "/share"), f64::from(kept) / f64::from(promised), 1e-12);
        close(number(&worked, "/interval/0"), least, 1e-4);
        close(number(&worked, "/interval/1"), most, 1e-4);
        assert_eq!(worked["honest"], least <= 0.9 && 0.9 <= most, "{kept} of {promised}");
    }
    // mirrored, and none kept
    let none = answer("promise-record", &json!({"kept": 0, "promised": 10, "confidence": 0.9}));
    close(number(&none, "/interval/1"), 1.0 - 0.6915, 1e-4);
    assert_eq!(none["honest"], false);
}

/// Kupiec (1995, from memory), χ² with one degree of freedom.
#[test]
fn misses_are_tested_against_what_was_said() {
    let as_said = answer("promise-record", &json!({"kept": 45, "promised": 50, "confidence": 0.9}));
    close(number(&as_said, "/kupiec/statistic"), 0.0, 1e-9);
    close(number(&as_said, "/kupiec/p"), 1.0, 1e-4);
    let too_many = answer("promise-record", &json!({"kept": 40, "promised": 50, "confidence": 0.9}));
    close(number(&too_many, "/kupiec/statistic"), 4.4403, 1e-4);
    close(number(&too_many, "/kupiec/p"), 0.0351, 1e-4);
}

/// The rank rule of exchangeable jobs: k = ⌈(n + 1)c⌉ of n, or too few jobs.
#[test]
fn a_promise_by_rank_is_a_past_value_or_none() {
    for (n, confidence, k) in [(9, 0.9, Some(9)), (19, 0.95, Some(19)), (20, 0.9, Some(19)), (8, 0.9, None)] {
        let past: Vec<i32> = (1..=n).rev().collect();
        let case = json!({"kept": 1, "promised": 1, "confidence": confidence, "past_days": past});
        let rank = answer("promise-record", &case)["rank"].clone();
        match k {
            Some(k) => close(number(&rank, "/promised_days"), f64::from(k), 0.0),
            None => assert_eq!((&rank["promised_days"], &rank["reason"]), (&json!(null), &json!("Too few jobs."))),
        }
    }
}
