//! Were promises kept? Exact intervals and Kupiec's statistic against published and computed values.

use serde_json::json;
use thumbplane::forecast::limits::{Share, at_most, power};

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

/// Wilson (J. Am. Stat. Assoc. 22, 1927); values by statsmodels.
#[test]
fn a_share_that_is_shown_has_wilsons_limits() {
    for (kept, promised, least, most) in
        [(17, 20, 0.6396, 0.9476), (85, 100, 0.7672, 0.9069), (1800, 2000, 0.8861, 0.9124)]
    {
        let worked = answer("promise-record", &json!({"kept": kept, "promised": promised, "confidence": 0.9}));
        close(number(&worked, "/wilson_interval/0"), least, 1e-4);
        close(number(&worked, "/wilson_interval/1"), most, 1e-4);
    }
    assert_eq!(Share::new(0, 0), None);
    assert_eq!(Share::new(3, 2), None);
    let all = Share::new(12, 12).expect("a share");
    close(all.limits[1], 1.0, 0.0);
    close(Share::new(0, 12).expect("a share").limits[0], 0.0, 0.0);
}

/// The exact verdict's power at 5 %, 85 % kept where 90 % was said: by scipy's binomial and beta distributions.
/// Four fifths are first reached at 341 promises and for good from 362 on, because counts are whole.
#[test]
fn a_verdict_of_few_promises_finds_little_out() {
    for (promises, expected) in [(50, 0.2092), (100, 0.3280), (200, 0.5303), (500, 0.9077)] {
        close(power(promises, 0.9, 0.85), expected, 1e-4);
    }
    let enough = |promises: u64| power(promises, 0.9, 0.85) >= 0.8;
    assert_eq!((1..600).find(|promises| enough(*promises)), Some(341));
    assert_eq!((1..600).rfind(|promises| !enough(*promises)), Some(361));
    // what holds is ruled out once in twenty at most
    assert!((1..400).all(|promises| power(promises, 0.9, 0.9) <= 0.05));
    // the power is what the verdicts say, each as often as it happens
    let (promises, truly) = (80_u64, 0.78);
    let ruled_out = |kept: u64| Share::new(kept, promises).expect("a share").rules_out(0.9);
    let chance =
        |kept: u64| at_most(kept, promises, truly) - if kept > 0 { at_most(kept - 1, promises, truly) } else { 0.0 };
    let summed: f64 = (0..=promises).filter(|kept| ruled_out(*kept)).map(chance).sum();
    close(power(promises, 0.9, truly), summed, 1e-9);
}
