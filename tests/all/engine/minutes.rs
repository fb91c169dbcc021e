//! True minutes of a service: credibility by hand and by the published estimators, outliers, suggestions.

use proptest::prelude::*;
use thumbplane::forecast::minutes::{Clocked, Components, Scatter, Suggestion, TrueMinutes, outliers};

use super::{Chance, close};

/// Worked by hand: σ² 0.12, τ² 0.04, so k = 3; a catalogue of 60 minutes.
const SCATTER: Scatter = Scatter { within: 0.12, between: 0.04, house: 0.0, own: true };

/// `jobs` jobs whose geometric mean is `minutes`, of a service estimated at an hour.
fn of_an_hour(jobs: usize, minutes: f64) -> TrueMinutes {
    let clocked = Clocked { jobs: vec![(60.0, minutes); jobs] };
    SCATTER.true_minutes(&clocked.logs())
}

/// Bühlmann (ASTIN Bulletin 4, 1967), by hand.
#[test]
fn few_jobs_move_the_estimate_a_little_and_many_move_it_all_the_way() {
    for (jobs, minutes, credibility, estimate) in
        [(1, 90.0, 0.25, 66.40), (4, 75.0, 0.5714, 68.16), (12, 75.0, 0.8, 71.73), (40, 75.0, 0.9302, 73.84)]
    {
        let known = of_an_hour(jobs, minutes);
        close(known.credibility, credibility, 1e-4);
        close(known.usual_minutes(60.0), estimate, 0.01);
        let n = f64::from(u32::try_from(jobs).expect("few"));
        close(known.log_error, (0.12 / (n + 3.0)).sqrt(), 1e-12);
    }
    // nothing clocked: as estimated, and as unsure as services are
    let known = SCATTER.true_minutes(&[]);
    close(known.usual_minutes(60.0), 60.0, 1e-12);
    close(known.log_error, 0.2, 1e-12);
    // for summing, the mean lies above the middle
    close(of_an_hour(12, 75.0).mean_minutes(60.0), 71.73 * ((0.12_f64 + 0.12 / 15.0) / 2.0).exp(), 0.01);
}

/// The variances of three services with 4, 3 and 5 jobs, computed by a second program.
#[test]
fn scatter_is_split_into_jobs_and_services() {
    let services = [vec![0.1, 0.3, 0.2, 0.0], vec![-0.1, 0.1, 0.0], vec![0.4, 0.6, 0.5, 0.5, 0.3]];
    let found = Components::of(&services);
    close(found.within, 0.013_556, 1e-6);
    close(found.jobs_a_service, 3.916_67, 1e-5);
    close(found.between, 0.053_624, 1e-6);
    // services that differ less than chance lets them do not differ: every one takes what the house takes
    let alike = Components::of(&[vec![0.1, -0.1], vec![0.1, -0.1], vec![0.05, -0.05]]);
    close(alike.between, 0.0, 0.0);
}

#[test]
fn a_house_that_clocked_little_begins_with_what_is_usual() {
    let few = Scatter::of(&[vec![0.4, 0.5], vec![0.1]]);
    assert_eq!(few, Scatter::BEFORE_ANYTHING_IS_KNOWN);
    assert_eq!(Scatter::of(&[]), Scatter::BEFORE_ANYTHING_IS_KNOWN);
    // one job each of many services says nothing of how jobs of a service scatter
    assert!(!Scatter::of(&vec![vec![0.3]; 30]).own);
}

/// Seven services that all take a third longer than the catalogue says: a service nobody clocked yet is
/// believed to do so too.
#[test]
fn a_house_that_is_slower_than_its_catalogue_is_slower_in_everything() {
    let third = (4.0_f64 / 3.0).ln();
    let services: Vec<Vec<f64>> = (0..7)
        .map(|service| (0..6).map(|job| third + 0.02 * f64::from(service - 3) + 0.1 * (f64::from(job) - 2.5)).collect())
        .collect();
    let scatter = Scatter::of(&services);
    assert!(scatter.own);
    close(scatter.house, third, 1e-9);
    close(scatter.true_minutes(&[]).usual_minutes(60.0), 80.0, 0.01);
}

/// Simulated houses: the scatter comes back, on average over 40 of them within four standard errors.
#[test]
fn the_scatter_of_a_simulated_house_is_found_again() {
    let mut chance = Chance::new(11);
    let (mut within, mut between): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for _ in 0..40 {
        let services: Vec<Vec<f64>> = (0..18_usize)
            .map(|service| {
                let own = chance.normal(0.2);
                (0..3 + 4 * (service % 5)).map(|_| own + chance.normal(0.35)).collect()
            })
            .collect();
        let found = Components::of(&services);
        within.push(found.within);
        between.push(found.between);
    }
    for (found, expected) in [(within, 0.35_f64.powi(2)), (between, 0.04)] {
        let mean = found.iter().sum::<f64>() / 40.0;
        let spread = found.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 39.0;
        close(mean, expected, 4.0 * (spread / 40.0).sqrt());
    }
}

/// Iglewicz and Hoaglin (1993): ten jobs, one of which somebody forgot the clock on.
#[test]
fn a_forgotten_clock_is_shown_and_left_in() {
    let minutes = [52.0, 55.0, 58.0, 60.0, 61.0, 63.0, 66.0, 70.0, 74.0, 240.0];
    let clocked = Clocked { jobs: minutes.iter().map(|minutes| (60.0, *minutes)).collect() };
    let logs = clocked.logs();
    let found = outliers(&logs);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].place, 9);
    close(found[0].score, 9.81, 0.01);
    let geometric = |logs: &[f64]| 60.0 * (logs.iter().sum::<f64>() / logs.len() as f64).exp();
    close(geometric(&logs), 70.74, 0.01);
    close(geometric(&logs[..9]), 61.76, 0.01);
    // jobs of the very same minutes are luck, not a reason to call the next one unusual
    assert!(outliers(&[0.0, 0.0, 0.0, 0.0, 0.0, 0.2]).is_empty());
    assert_eq!(outliers(&[0.0, 0.0, 0.0, 0.0, 0.0, -0.3]).len(), 1);
    // of four nobody can say what is usual
    assert!(outliers(&[0.0, 0.0, 0.0, 3.0]).is_empty());
}

/// The chance that the true minutes are more than a tenth above the catalogue's: by hand, normal on logs.
#[test]
fn a_new_estimate_is_suggested_once_it_is_sure() {
    close(of_an_hour(12, 75.0).more_than(1.1), 0.824, 0.001);
    close(of_an_hour(40, 75.0).more_than(1.1), 0.983, 0.001);
    assert_eq!(of_an_hour(7, 150.0).suggestion(60.0), Suggestion::TooFew { jobs: 7 });
    assert_eq!(of_an_hour(12, 75.0).suggestion(60.0), Suggestion::Keep);
    let Suggestion::Longer { minutes, probability } = of_an_hour(40, 75.0).suggestion(60.0) else {
        panic!("forty jobs of 75 minutes are longer than an hour");
    };
    close(minutes, 75.0, 0.0);
    close(probability, 0.983, 0.001);
    let Suggestion::Shorter { minutes, .. } = of_an_hour(40, 45.0).suggestion(60.0) else {
        panic!("forty jobs of 45 minutes are shorter than an hour");
    };
    close(minutes, 45.0, 0.0);
    // where services do not differ from one another the house's own pace is what is suggested
    let alike = Scatter { within: 0.1, between: 0.0, house: 0.3, own: true };
    assert!(matches!(alike.true_minutes(&[0.3; 9]).suggestion(60.0), Suggestion::Longer { .. }));
}

#[test]
fn a_job_without_minutes_teaches_nothing() {
    let clocked = Clocked { jobs: vec![(60.0, 0.0), (0.0, 45.0), (60.0, 60.0)] };
    assert_eq!(clocked.logs(), [0.0]);
    assert_eq!(SCATTER.true_minutes(&Clocked::default().logs()).jobs, 0);
}

proptest! {
    /// The estimate lies between the catalogue's and what was clocked, and more jobs make it surer.
    #[test]
    fn an_estimate_lies_between_the_catalogue_and_the_clock(
        minutes in 5.0..600.0_f64, jobs in 1..80_usize, within in 0.001..1.0_f64, between in 0.0..1.0_f64,
    ) {
        let scatter = Scatter { within, between, house: 0.0, own: true };
        let log = (minutes / 60.0).ln();
        let (known, more) = (scatter.true_minutes(&vec![log; jobs]), scatter.true_minutes(&vec![log; jobs + 1]));
        let (least, most) = if minutes < 60.0 { (minutes, 60.0) } else { (60.0, minutes) };
        prop_assert!(known.usual_minutes(60.0) >= least - 1e-9 && known.usual_minutes(60.0) <= most + 1e-9);
        prop_assert!(more.log_error <= known.log_error + 1e-12 && more.credibility >= known.credibility);
        prop_assert!((0.0..=1.0).contains(&known.more_than(1.1)));
    }
}
