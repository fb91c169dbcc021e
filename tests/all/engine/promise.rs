//! Promised days against exact cases.

use serde_json::{Value, json};

use super::{answer, close, number};

/// Monday to Friday six hours; 2026-06-01 is a Monday.
fn week(start: &str, hours: f64) -> Value {
    json!({"start": start, "week_hours": [6, 6, 6, 6, 6, 0, 0], "closed": [], "jobs": [{"hours": [hours]}],
        "draws": 50, "seed": 7})
}

fn promised(case: &Value) -> String {
    let worked = answer("promise", case);
    assert_eq!(worked["days"].as_array().map(Vec::len), Some(1), "one certain day: {worked}");
    close(number(&worked, "/days/0/probability"), 1.0, 0.0);
    assert_eq!(worked["promised_day"], worked["days"][0]["day"]);
    assert_eq!(worked["median_day"], worked["days"][0]["day"]);
    worked["promised_day"].as_str().expect("a day").to_owned()
}

#[test]
fn certain_hours_end_on_the_day_that_reaches_them() {
    assert_eq!(promised(&week("2026-06-05", 7.0)), "2026-06-08");
    assert_eq!(promised(&week("2026-06-05", 6.0)), "2026-06-05");
    assert_eq!(promised(&week("2026-06-06", 0.5)), "2026-06-08");
    let mut closed = week("2026-06-01", 13.0);
    closed["closed"] = json!(["2026-06-02"]);
    assert_eq!(promised(&closed), "2026-06-04");
}

/// Exact: three jobs ahead of 2 h (0.7) or 5 h (0.3), own job 3 h, so done on Tuesday with 0.784.
#[test]
fn draws_come_out_at_their_exact_shares() {
    let ahead = json!({"hours": [2, 5], "weights": [0.7, 0.3]});
    for seed in 1..=5 {
        let case = json!({"start": "2026-06-01", "week_hours": [6, 6, 6, 6, 6, 0, 0], "closed": [],
            "jobs": [ahead, ahead, ahead, {"hours": [3]}], "seed": seed});
        let worked = answer("promise", &case);
        assert_eq!(worked["days"][0]["day"], "2026-06-02");
        close(number(&worked, "/days/0/probability"), 0.784, 0.015);
        assert_eq!(worked["days"][1]["day"], "2026-06-03");
        close(number(&worked, "/days/1/probability"), 0.216, 0.015);
        assert_eq!(worked["median_day"], "2026-06-02");
        assert_eq!(worked["promised_day"], "2026-06-03");
        // the very share of the draws that was done is enough
        let share = number(&worked, "/days/0/probability");
        for (confidence, expected) in [(0.8, "2026-06-03"), (0.7, "2026-06-02"), (share, "2026-06-02")] {
            let mut case = case.clone();
            case["confidence"] = json!(confidence);
            assert_eq!(answer("promise", &case)["promised_day"], expected);
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_answer_and_another_seed_another() {
    let case = |seed: u64| {
        json!({"start": "2026-06-01", "week_hours": [4, 4, 0, 4, 4, 2, 0], "jobs": [
            {"hours": [1.5, 2.0, 3.25, 8.0]}, {"hours": [0.5, 6.0, 2.0]}, {"hours": [2.0, 5.0]}],
            "seed": seed, "draws": 3000})
    };
    assert_eq!(answer("promise", &case(42)), answer("promise", &case(42)));
    assert_ne!(answer("promise", &case(42))["days"], answer("promise", &case(43))["days"]);
    assert_ne!(answer("promise", &case(u64::MAX))["days"], answer("promise", &case(42))["days"]);
}

#[test]
fn hours_without_weights_are_equally_likely() {
    let case = json!({"start": "2026-06-01", "week_hours": [6, 6, 6, 6, 6, 0, 0],
        "jobs": [{"hours": [3, 9, 15, 21]}], "seed": 3});
    let worked = answer("promise", &case);
    assert_eq!(worked["days"].as_array().map(Vec::len), Some(4));
    for day in 0..4 {
        close(number(&worked, &format!("/days/{day}/probability")), 0.25, 0.015);
    }
}

#[test]
fn a_job_waits_for_its_part_and_those_behind_it_wait_too() {
    let mut waiting = week("2026-06-01", 3.0);
    waiting["jobs"] = json!([{"hours": [3], "not_before": "2026-06-04"}]);
    assert_eq!(promised(&waiting), "2026-06-04");
    waiting["jobs"] = json!([{"hours": [3], "not_before": "2026-06-04"}, {"hours": [4]}]);
    assert_eq!(promised(&waiting), "2026-06-05");
    // a part that comes on a Sunday waits for Monday
    waiting["jobs"] = json!([{"hours": [3], "not_before": "2026-06-07"}]);
    assert_eq!(promised(&waiting), "2026-06-08");
    // even a job without hours is not done before its part has come
    waiting["jobs"] = json!([{"hours": [0], "not_before": "2026-06-07"}]);
    assert_eq!(promised(&waiting), "2026-06-08");
    // a part that came long ago holds nothing up
    waiting["jobs"] = json!([{"hours": [3], "not_before": "2026-05-01"}]);
    assert_eq!(promised(&waiting), "2026-06-01");
}

#[test]
fn a_leap_day_is_a_day() {
    // 2028-02-28 is a Monday
    assert_eq!(promised(&week("2028-02-28", 9.0)), "2028-02-29");
    assert_eq!(promised(&week("2027-02-26", 9.0)), "2027-03-01");
}
