//! Kaplan–Meier and the log-rank test against published remission data; Little's law.

use proptest::prelude::*;
use serde_json::{Value, json};
use thumbplane::forecast::littles_law::{LittlesLaw, Stay};
use thumbplane::forecast::turnaround::TurnaroundInput;
use thumbplane::forecast::turnaround::comparison::{By, Comparison, compare};

use super::{answer, close, number, numbers};
use crate::support::paired;

/// Freireich et al., Blood 21 (1963) 699, weeks of remission; a minus marks those still in remission
/// (values from memory; curve and errors agree with the lifelines library).
const REMISSIONS: [i32; 21] =
    [6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35];

/// The same paper's other arm, all of which ended.
const PLACEBO: [i32; 21] = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23];

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
    for (step, (days, at_risk, finished, share_open, error)) in paired(curve, rows) {
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

/// Limits of both arms at 95 %, from the log of the cumulative hazard (Kalbfleisch and Prentice 1980); values
/// by the lifelines library.
#[test]
fn remissions_have_log_log_limits() {
    type Row<'a> = (&'a [i32], [(f64, f64, f64); 3]);
    let rows: [Row<'_>; 2] = [
        (&REMISSIONS, [(10.0, 0.5032, 0.8894), (13.0, 0.4316, 0.8491), (23.0, 0.1881, 0.6801)]),
        (&PLACEBO, [(4.0, 0.4254, 0.8250), (8.0, 0.1831, 0.5778), (12.0, 0.0595, 0.3774)]),
    ];
    for (arm, limits) in rows {
        let worked = answer("turnaround", &case(arm));
        for (days, least, most) in limits {
            let curve = worked["curve"].as_array().expect("a curve");
            let step = curve.iter().find(|step| step["days"] == days).expect("a step");
            close(number(step, "/limits/0"), least, 1e-4);
            close(number(step, "/limits/1"), most, 1e-4);
        }
    }
    // where nothing is open any more there is nothing to be unsure about
    let placebo = answer("turnaround", &case(&PLACEBO));
    assert!(placebo["curve"].as_array().and_then(|curve| curve.last()).expect("a step")["limits"].is_null());
    close(number(&placebo, "/median_days"), 8.0, 0.0);
    close(number(&placebo, "/median_least_days"), 4.0, 0.0);
    close(number(&placebo, "/median_most_days"), 11.0, 0.0);
    // the drug's median may be anything from the 13th week on
    let drug = answer("turnaround", &case(&REMISSIONS));
    close(number(&drug, "/median_least_days"), 13.0, 0.0);
    assert!(drug["median_most_days"].is_null());
}

/// Where every job has ended the restricted mean is the plain mean, and its error that of a mean with the
/// spread of the values themselves (derived: Greenwood's sum then is that of the binomial).
#[test]
fn the_mean_of_a_closed_group_is_the_plain_mean() {
    let worked = answer("turnaround", &case(&PLACEBO));
    let values = PLACEBO.map(f64::from);
    let mean = values.iter().sum::<f64>() / 21.0;
    let spread = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 21.0;
    close(number(&worked, "/restricted_mean/days"), mean, 1e-9);
    close(number(&worked, "/restricted_mean/standard_error_days"), (spread / 21.0).sqrt(), 1e-9);
    close(number(&worked, "/restricted_mean/until_days"), 23.0, 0.0);
    // the published mean until week 35, which counts those still in remission
    close(number(&answer("turnaround", &case(&REMISSIONS)), "/restricted_mean/days"), 23.287, 0.001);
    assert!(answer("turnaround", &case(&[-3, -5]))["restricted_mean"].is_null());
}

fn group(durations: &[i32]) -> TurnaroundInput {
    serde_json::from_value(case(durations)).expect("durations")
}

fn compared(first: &[i32], second: &[i32]) -> Comparison {
    compare(&group(first), &group(second), 1).expect("two groups")
}

/// Mantel's test of Freireich's arms: values by the lifelines library and by hand.
#[test]
fn the_drug_and_the_placebo_differ_as_published() {
    let found = compared(&REMISSIONS, &PLACEBO);
    assert_eq!(found.finished, 9);
    close(found.expected, 19.2505, 1e-4);
    close(found.variance, 6.256_96, 1e-4);
    close(found.chi_square, 16.7929, 1e-4);
    close(found.p, 4.169e-5, 1e-8);
    assert_eq!(found.by, By::ChiSquare);
    close(found.difference.first.days, 17.909, 0.001);
    close(found.difference.second.days, 8.667, 0.001);
    close(found.difference.days, 9.243, 0.001);
    close(found.difference.limits_days[0], 5.174, 0.001);
    close(found.difference.limits_days[1], 13.311, 0.001);
}

/// Ten jobs are dealt out in all 252 ways; 14 of them differ as much (counted by a second program). The χ²
/// distribution of many closures would have called it a difference.
#[test]
fn a_handful_of_jobs_is_compared_by_all_ways_to_deal_them_out() {
    let found = compared(&[2, 3, 3, 5, 8], &[4, 6, 9, 9, 12]);
    assert_eq!(found.by, By::AllWays(252));
    close(found.p, 14.0 / 252.0, 1e-12);
    close(statrs::function::erf::erfc((found.chi_square / 2.0).sqrt()), 0.0351, 1e-4);
    // who looks at three families allows for three chances
    close(found.p_among(3), 42.0 / 252.0, 1e-12);
    close(found.p_among(100), 1.0, 0.0);
    // one against one says nothing
    close(compared(&[3], &[9]).p, 1.0, 1e-12);
    close(compared(&[-3], &[-9]).p, 1.0, 1e-12);
}

/// Few closures among many open jobs: drawn by a seed, and near what all ways would say (derived: the one
/// closure of 200 jobs falls into the group of 60 with 0.3, and differs as much whenever it does).
#[test]
fn few_closures_among_many_jobs_are_compared_by_drawn_ways() {
    let mut first = vec![-30; 60];
    first[0] = 4;
    let found = compared(&first, &[-30; 140]);
    let By::DrawnWays(ways) = found.by else { panic!("{found:?}") };
    let deviation = (0.3 * 0.7 / f64::from(u32::try_from(ways).expect("few"))).sqrt();
    close(found.p, 0.3, 5.0 * deviation);
    assert_eq!(compared(&first, &[-30; 140]), found);
}

fn any_group() -> impl Strategy<Value = Vec<i32>> {
    prop::collection::vec((1..30_i32, prop::bool::weighted(0.7)), 1..9)
        .prop_map(|jobs| jobs.into_iter().map(|(days, ended)| if ended { days } else { -days }).collect())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Which group is called the first does not matter, and limits lie on both sides of what they limit.
    #[test]
    fn a_comparison_has_no_direction_but_its_sign(one in any_group(), other in any_group()) {
        let (there, back) = (compared(&one, &other), compared(&other, &one));
        close(there.chi_square, back.chi_square, 1e-9);
        close(there.p, back.p, 1e-9);
        close(there.difference.days, -back.difference.days, 1e-9);
        prop_assert!((0.0..=1.0).contains(&there.p));
        let worked = answer("turnaround", &case(&one));
        for step in worked["curve"].as_array().expect("a curve").iter().filter(|step| !step["limits"].is_null()) {
            let (least, share, most) = (number(step, "/limits/0"), number(step, "/share_open"), number(step, "/limits/1"));
            prop_assert!(0.0 <= least && least < share && share < most && most <= 1.0, "{}", step);
        }
    }
}

/// Four jobs a week that stay 31.5 days are 18 in the house (Little 1961).
#[test]
fn open_jobs_are_those_that_close_times_how_long_they_stay() {
    let stays: Vec<Stay> = (0..400)
        .map(|job| f64::from(job) * 7.0 / 4.0)
        .map(|from| Stay { from_days: from, until_days: Some(from + 31.5) })
        .collect();
    let law = LittlesLaw::over(&stays, 70.0, 490.0).expect("closures");
    close(law.closed_a_day, 4.0 / 7.0, 0.003);
    close(law.mean_days, 31.5, 1e-9);
    close(law.expected_open, 18.0, 0.1);
    close(law.mean_open, 18.0, 0.1);
    assert!(!law.differs_widely());
}

#[test]
fn a_shop_that_takes_in_more_than_it_closes_is_told_so() {
    // forty come in a month, ten of them leave
    let stays: Vec<Stay> = (0..40_u8)
        .map(|job| Stay {
            from_days: f64::from(job) * 0.75,
            until_days: (job % 4 == 0).then(|| f64::from(job) * 0.75 + 4.0),
        })
        .collect();
    let law = LittlesLaw::over(&stays, 0.0, 30.0).expect("closures");
    assert!(law.differs_widely() && law.difference > 0.0, "{law:?}");
    assert!(LittlesLaw::over(&[Stay { from_days: 0.0, until_days: None }], 0.0, 30.0).is_none());
    assert!(LittlesLaw::over(&stays, 30.0, 30.0).is_none());
}
