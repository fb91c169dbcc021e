//! Kaplan–Meier against published remission data.

use serde_json::{Value, json};

use super::{answer, close, number, numbers};

/// Freireich et al., Blood 21 (1963) 699, weeks of remission; a minus marks those still in remission
/// (values from memory; curve and errors agree with the lifelines library).
const REMISSIONS: [i32; 21] =
    [6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35];

fn case(durations: &[i32]) -> Value {
    let days: Vec<i32> = durations.iter().map(|days| days.abs()).collect();
    let finished: Vec<bool> = durations.iter().map(|days| *days > 0).collect();
    json!({"durations_days": days, "finished": finished})
}

#[test]
fn remissions_have_their_published_curve() {
    let worked = answer("turnaround", &case(&REMISSIONS));
    let rows = [
        (6.0, 21, 3, 0.8571, 0.0764),
        (7.0, 17, 1, 0.8067, 0.0869),
        (10.0, 15, 1, 0.7529, 0.0963),
        (13.0, 12, 1, 0.6902, 0.1068),
        (16.0, 11, 1, 0.6275, 0.1141),
        (22.0, 7, 1, 0.5378, 0.1282),
        (23.0, 6, 1, 0.4482, 0.1346),
    ];
    let curve = worked["curve"].as_array().expect("a curve");
    assert_eq!(curve.len(), rows.len());
    for (step, (days, at_risk, finished, share_open, error)) in curve.iter().zip(rows) {
        close(number(step, "/days"), days, 0.0);
        assert_eq!((&step["at_risk"], &step["finished"]), (&json!(at_risk), &json!(finished)));
        close(number(step, "/share_open"), share_open, 0.0001);
        close(number(step, "/standard_error"), error, 0.0001);
    }
    close(number(&worked, "/median_days"), 23.0, 0.0);
    assert!(worked["p80_days"].is_null() && worked["p90_days"].is_null());
    close(number(&worked, "/longest_finished_days"), 23.0, 0.0);

    // the area under the curve to week 35 is the published restricted mean
    let mut area = 0.0;
    let mut previous = (0.0, 1.0);
    for step in curve {
        area += (number(step, "/days") - previous.0) * previous.1;
        previous = (number(step, "/days"), number(step, "/share_open"));
    }
    close(area + (35.0 - previous.0) * previous.1, 23.287, 0.001);
}

#[test]
fn leaving_open_jobs_out_would_flatter_the_shop() {
    let closed: Vec<i32> = REMISSIONS.into_iter().filter(|days| *days > 0).collect();
    let flattered = number(&answer("turnaround", &case(&closed)), "/median_days");
    assert!(flattered < number(&answer("turnaround", &case(&REMISSIONS)), "/median_days") / 1.5);
}

/// Without open jobs the curve is the plain share, and percentiles are nearest rank.
#[test]
fn when_all_jobs_are_done_percentiles_are_nearest_rank() {
    let worked = answer("turnaround", &case(&[2, 3, 3, 5, 6, 8, 9, 12, 14, 30]));
    close(number(&worked, "/median_days"), 6.0, 0.0);
    close(number(&worked, "/p80_days"), 12.0, 0.0);
    close(number(&worked, "/p90_days"), 14.0, 0.0);
    close(number(&worked, "/longest_finished_days"), 30.0, 0.0);
    let last = worked["curve"].as_array().and_then(|curve| curve.last()).expect("a last step");
    close(number(last, "/share_open"), 0.0, 0.0);
    close(number(last, "/standard_error"), 0.0, 0.0);
}

#[test]
fn the_order_of_the_jobs_does_not_matter() {
    let mut backwards = REMISSIONS;
    backwards.reverse();
    assert_eq!(answer("turnaround", &case(&backwards)), answer("turnaround", &case(&REMISSIONS)));
}

#[test]
fn a_shop_that_has_closed_nothing_yet_has_no_percentiles() {
    let worked = answer("turnaround", &case(&[-3, -5, -9]));
    assert!(numbers(&worked, "/curve").is_empty());
    for field in ["median_days", "p80_days", "p90_days", "longest_finished_days"] {
        assert!(worked[field].is_null(), "{field}");
    }
}
