//! Were past forecasts right? How often they held, how narrow they were, and whether plain rules would have
//! done as well.
//!
//! A promise is kept when its job was done on the day or before; one that is open past its day is broken; one
//! whose day is still to come is left out. Jobs of one week share their queue, so that a hundred promises of a
//! month say less than a hundred of a year: limits here take them as independent.

use std::collections::BTreeMap;

use statrs::distribution::{ContinuousCDF, StudentsT};
use time::{Date, Duration};

use super::limits::{Share, TAIL, first};

/// Where bands of stated confidence begin; the last ends at 1.
pub const BANDS: [f64; 8] = [0.0, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95];
/// The plainest rule: always so many days.
pub const PLAIN_DAYS: i64 = 14;
/// Days that count as the last month.
const MONTH_DAYS: i64 = 30;
/// Jobs done in the last month from which on it says something. Our own choice.
const FEWEST_OF_MONTH: usize = 5;
/// An estimate is called near when the minutes are within this factor of it either way. Our own choice.
const NEAR: f64 = 1.2;

/// One promise as it was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Made {
    /// Day it was made.
    pub made_on: Date,
    /// How sure it was to be at least.
    pub confidence: f64,
    /// How sure it was: days are whole, so mostly a little more.
    pub promised_share: f64,
    /// The day that was as likely to be too early as too late.
    pub median_day: Date,
    /// The day promised.
    pub promised_day: Date,
    /// Day the job was done; `None` while it is open.
    pub done_on: Option<Date>,
}

/// What became of a promise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Done in time.
    Kept,
    /// Done later, or open past its day.
    Broken,
    /// Its day is still to come.
    NotDue,
}

impl Made {
    /// As of a day.
    pub fn outcome(&self, today: Date) -> Outcome {
        match self.done_on {
            Some(done) if done <= self.promised_day => Outcome::Kept,
            Some(_) => Outcome::Broken,
            None if today > self.promised_day => Outcome::Broken,
            None => Outcome::NotDue,
        }
    }

    fn days(&self, day: Date) -> f64 {
        as_number((day - self.made_on).whole_days())
    }
}

/// The promises of one band of stated confidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Stated from here on…
    pub from: f64,
    /// …to below here.
    pub below: f64,
    /// How sure they were, on average.
    pub stated: f64,
    /// How many were kept of those that are due.
    pub kept: Share,
    /// Whether that rules out what was said, at 5 %.
    pub is_ruled_out: bool,
    /// Days from making to the promised day, on average.
    pub mean_days: f64,
    /// Sharpness: days from the median to the promised day, on average. Compare it only among bands and rules
    /// whose word holds.
    pub mean_width_days: f64,
}

/// The bands in which promises are due, in rising order.
pub fn by_band(made: &[Made], today: Date) -> Vec<Band> {
    let ends = BANDS.iter().skip(1).copied().chain([f64::INFINITY]);
    let band = |(from, below): (f64, f64)| {
        let due = || {
            let within = made.iter().filter(move |promise| (from..below).contains(&promise.confidence));
            within.filter(move |promise| promise.outcome(today) != Outcome::NotDue)
        };
        let count = |kept: &dyn Fn(Outcome) -> bool| {
            u64::try_from(due().filter(|promise| kept(promise.outcome(today))).count()).unwrap_or(u64::MAX)
        };
        let kept = Share::new(count(&|outcome| outcome == Outcome::Kept), count(&|_| true))?;
        let stated = mean(due().map(|promise| promise.promised_share))?;
        Some(Band {
            from,
            below: below.min(1.0),
            stated,
            kept,
            is_ruled_out: kept.rules_out(stated),
            mean_days: mean(due().map(|promise| promise.days(promise.promised_day)))?,
            mean_width_days: mean(
                due().map(|promise| as_number((promise.promised_day - promise.median_day).whole_days())),
            )?,
        })
    };
    BANDS.iter().copied().zip(ends).filter_map(band).collect()
}

/// Mean pinball losses, days: the smaller, the better the day was chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scores {
    /// Promises compared: the same for all.
    pub compared: usize,
    /// Promises left out: made before a month was known, or still open before any of the days compared.
    pub left_out: usize,
    /// Of the promises made.
    pub ours: f64,
    /// Of "always two weeks".
    pub two_weeks: f64,
    /// Of the median of last month's jobs.
    pub last_months_median: f64,
    /// Of last month's jobs at the stated confidence: the fairest of the plain rules.
    pub last_months_share: f64,
}

/// Promises against plain rules, each with what was known on its day. `made` has the first promise of each job.
///
/// A job that is open past all the days compared is taken as done today: the losses then are too small, by the
/// same for all.
pub fn against_plain_rules(made: &[Made], today: Date) -> Option<Scores> {
    let mut closings: Vec<(Date, f64)> =
        made.iter().filter_map(|promise| promise.done_on.map(|done| (done, promise.days(done)))).collect();
    closings.sort_by_key(|(done, _)| *done);
    // promises of one day know the same month
    let mut months: BTreeMap<Date, Option<Vec<f64>>> = BTreeMap::new();
    let mut sums = [0.0; 4];
    let mut compared = 0;
    for promise in made {
        let month = months.entry(promise.made_on).or_insert_with(|| last_month(&closings, promise.made_on));
        let Some(month) = month else {
            continue;
        };
        let plain = promise.made_on.checked_add(Duration::days(PLAIN_DAYS)).unwrap_or(promise.made_on);
        let days = [
            promise.days(promise.promised_day),
            promise.days(plain),
            at_rank(month, 0.5),
            at_rank(month, promise.confidence),
        ];
        let lasted = promise.days(promise.done_on.unwrap_or(today));
        if promise.done_on.is_none() && days.iter().any(|day| lasted < *day) {
            continue;
        }
        compared += 1;
        for (sum, day) in sums.iter_mut().zip(days) {
            *sum += pinball(day, promise.confidence, lasted);
        }
    }
    let [ours, two_weeks, last_months_median, last_months_share] =
        sums.map(|sum| sum / as_number(i64::try_from(compared).unwrap_or(i64::MAX)));
    let left_out = made.len() - compared;
    (compared > 0).then_some(Scores { compared, left_out, ours, two_weeks, last_months_median, last_months_share })
}

/// How long the jobs took that were done in the month before a day, in rising order; `None` where they were too
/// few. `closings` stand in the order of their days.
fn last_month(closings: &[(Date, f64)], day: Date) -> Option<Vec<f64>> {
    let from = day.checked_sub(Duration::days(MONTH_DAYS))?;
    let (first, end) =
        (closings.partition_point(|(done, _)| *done < from), closings.partition_point(|(done, _)| *done < day));
    let mut days: Vec<f64> = closings.get(first..end)?.iter().map(|(_, days)| *days).collect();
    days.sort_by(f64::total_cmp);
    (days.len() >= FEWEST_OF_MONTH).then_some(days)
}

/// The nearest rank: the smallest value with at least this share at or below it.
fn at_rank(sorted: &[f64], share: f64) -> f64 {
    let number = |count: u64| as_number(i64::try_from(count).unwrap_or(i64::MAX));
    let count = u64::try_from(sorted.len()).unwrap_or(u64::MAX);
    let place = first(count, |place| number(place + 1) >= share * number(count) - 1e-9);
    let found = usize::try_from(place).ok().and_then(|place| sorted.get(place));
    found.or(sorted.last()).copied().unwrap_or(0.0)
}

/// Pinball loss of a quantile at `share`, once the actual value is known (Gneiting and Raftery, J. Am. Stat.
/// Assoc. 102, 2007): too early costs the share, too late the rest, for each day.
pub fn pinball(quantile: f64, share: f64, actual: f64) -> f64 {
    if actual >= quantile { (actual - quantile) * share } else { (quantile - actual) * (1.0 - share) }
}

/// Interval score of limits that a share `outside` should miss, once the actual value is known (same source):
/// their width, and for a miss its distance times 2/outside.
pub fn interval_score([least, most]: [f64; 2], outside: f64, actual: f64) -> f64 {
    let miss = (least - actual).max(actual - most).max(0.0);
    (most - least) + 2.0 / outside * miss
}

/// Estimates against the minutes that were clocked then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EstimateRecord {
    /// Jobs that have both.
    pub jobs: usize,
    /// Clocked minutes for each estimated one: geometric mean.
    pub factor: f64,
    /// Where the true factor lies, with 95 % (Student's t on logs); `None` of a single job.
    pub limits: Option<[f64; 2]>,
    /// How many were within a fifth of their estimate, either way.
    pub near: Share,
}

/// Of pairs of estimated and clocked minutes; those without one of them are passed over. `None` where none is
/// left.
pub fn estimates(pairs: &[(f64, f64)]) -> Option<EstimateRecord> {
    let both = pairs.iter().filter(|(estimated, clocked)| *estimated > 0.0 && *clocked > 0.0);
    let logs: Vec<f64> = both.map(|(estimated, clocked)| (clocked / estimated).ln()).collect();
    let middle = mean(logs.iter().copied())?;
    let n = as_number(i64::try_from(logs.len()).unwrap_or(i64::MAX));
    let near = logs.iter().filter(|log| log.abs() <= NEAR.ln() + 1e-12).count();
    let limits = StudentsT::new(0.0, 1.0, n - 1.0).ok().filter(|_| logs.len() > 1).map(|student| {
        let spread = logs.iter().map(|log| (log - middle).powi(2)).sum::<f64>() / (n - 1.0);
        let half = student.inverse_cdf(1.0 - TAIL) * (spread / n).sqrt();
        [(middle - half).exp(), (middle + half).exp()]
    });
    let whole = |count: usize| u64::try_from(count).unwrap_or(u64::MAX);
    Some(EstimateRecord {
        jobs: logs.len(),
        factor: middle.exp(),
        limits,
        near: Share::new(whole(near), whole(logs.len()))?,
    })
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (count, sum) = values.fold((0.0, 0.0), |(count, sum), value| (count + 1.0, sum + value));
    (count > 0.0).then(|| sum / count)
}

fn as_number(count: i64) -> f64 {
    i32::try_from(count).map_or(f64::INFINITY, f64::from)
}
