//! Were past forecasts right: outcomes, bands, pinball losses and estimates, by hand.

use thumbplane::forecast::promises_kept::{
    Made, Outcome, against_plain_rules, by_band, estimates, interval_score, pinball,
};
use time::macros::date;
use time::{Date, Duration};

use super::close;

const TODAY: Date = date!(2026 - 10 - 14);

fn made(made_on: Date, days: i64, done_after: Option<i64>) -> Made {
    Made {
        made_on,
        confidence: 0.9,
        promised_share: 0.92,
        median_day: made_on + Duration::days(days - 4),
        promised_day: made_on + Duration::days(days),
        done_on: done_after.map(|days| made_on + Duration::days(days)),
    }
}

#[test]
fn open_past_its_day_is_broken_and_what_is_to_come_is_left_out() {
    let outcome = |days, done| made(date!(2026 - 10 - 01), days, done).outcome(TODAY);
    assert_eq!(outcome(10, Some(10)), Outcome::Kept);
    assert_eq!(outcome(10, Some(11)), Outcome::Broken);
    assert_eq!(outcome(12, None), Outcome::Broken, "its day was yesterday");
    assert_eq!(outcome(13, None), Outcome::NotDue, "its day is today");
}

/// Wilson 17 of 20: 0.6396 to 0.9476 (computed by statsmodels).
#[test]
fn a_band_says_how_many_were_kept_and_how_wide_they_were() {
    let day = date!(2026 - 08 - 01);
    let mut all: Vec<Made> = (0..17).map(|_| made(day, 10, Some(9))).collect();
    all.extend((0..3).map(|_| made(day, 20, Some(30))));
    all.push(made(date!(2026 - 10 - 13), 10, None));
    let bands = by_band(&all, TODAY);
    assert_eq!(bands.len(), 1);
    let band = bands[0];
    assert_eq!((band.from, band.below, band.kept.count, band.kept.of), (0.9, 0.95, 17, 20));
    close(band.kept.limits[0], 0.6396, 5e-5);
    close(band.kept.limits[1], 0.9476, 5e-5);
    close(band.stated, 0.92, 1e-12);
    close(band.mean_days, (17.0 * 10.0 + 3.0 * 20.0) / 20.0, 1e-12);
    close(band.mean_width_days, 4.0, 1e-12);
    assert!(!band.is_ruled_out, "17 of 20 does not rule 92 % out");
    // all of another shop's are broken: that rules it out
    let broken: Vec<Made> = (0..20).map(|_| made(day, 10, Some(30))).collect();
    assert!(by_band(&broken, TODAY)[0].is_ruled_out);
}

/// Gneiting and Raftery (J. Am. Stat. Assoc. 102, 2007), by hand.
#[test]
fn losses_are_those_worked_by_hand() {
    close(pinball(10.0, 0.9, 12.0), 1.8, 1e-12);
    close(pinball(10.0, 0.9, 8.0), 0.2, 1e-12);
    close(pinball(14.0, 0.8, 25.0), 8.8, 1e-12);
    for (actual, score) in [(12.0, 10.0), (7.0, 20.0), (21.0, 40.0)] {
        close(interval_score([8.0, 18.0], 0.2, actual), score, 1e-12);
    }
}

/// Five jobs of the month before took 4, 5, 6, 8 and 20 days: the median is 6, nine of ten 20. One was promised in 10
/// days and took 12: it costs 0.9·2 as promised, 0.1·2 by two weeks, 0.9·6 by the median, 0.1·8 by the share. Another
/// was promised in two weeks and took one day: 0.1·13, 0.1·13, 0.1·5, 0.1·19.
#[test]
fn plain_rules_know_only_what_was_known_that_day() {
    let day = date!(2026 - 06 - 25);
    let mut all = [4, 5, 6, 8, 20].map(|days| made(day - Duration::days(30), 14, Some(days))).to_vec();
    // it was done on the day the next was made: not known yet
    all.push(made(day - Duration::days(1), 14, Some(1)));
    all.push(made(day, 10, Some(12)));
    let scores = against_plain_rules(&all, TODAY).expect("two can be compared");
    assert_eq!((scores.compared, scores.left_out), (2, 5));
    close(scores.ours, (1.8 + 1.3) / 2.0, 1e-12);
    close(scores.two_weeks, (0.2 + 1.3) / 2.0, 1e-12);
    close(scores.last_months_median, (5.4 + 0.5) / 2.0, 1e-12);
    close(scores.last_months_share, (0.8 + 1.9) / 2.0, 1e-12);
    assert_eq!(against_plain_rules(&all[..5], TODAY), None, "of the first month nothing is known");
}

/// ln 2 and −ln 2: the factor is 1, Student's t of one degree at 97.5 % is 12.7062, the standard error ln 2.
#[test]
fn estimates_are_held_against_the_minutes_that_were_clocked() {
    let found = estimates(&[(60.0, 120.0), (60.0, 30.0), (60.0, 0.0), (0.0, 10.0)]).expect("two have both");
    assert_eq!((found.jobs, found.near.count), (2, 0));
    close(found.factor, 1.0, 1e-12);
    let [least, most] = found.limits.expect("two are enough");
    close(most.ln(), 12.706_2 * 2.0_f64.ln(), 1e-3);
    close(least.ln(), -most.ln(), 1e-9);
    let near = estimates(&[(100.0, 120.0), (100.0, 83.4), (100.0, 121.0)]).expect("three");
    assert_eq!((near.near.count, near.near.of), (2, 3));
    assert_eq!(estimates(&[(60.0, 0.0)]), None);
}
