//! `turnaround`: how long jobs take when some are still open.
//!
//! Kaplan–Meier (JASA 53, 1958): an open job is censored at its present age; leaving it out, or counting
//! it as done today, would both make turnaround look shorter than it is. Standard error by Greenwood; limits
//! by the log of the cumulative hazard (Kalbfleisch and Prentice, 1980), which stay between 0 and 1. Where
//! half of the jobs are not done the median has no number; the restricted mean still has one.

pub mod comparison;
mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::limits::NORMAL_QUANTILE;
use crate::problem::Problems;

pub use working::explain;

/// Jobs in one calculation, at most.
const MOST_JOBS: usize = 100_000;
/// A rounding hair, so that 1 − 0.2 counts as 0.8.
const HAIR: f64 = 1e-12;

/// What `turnaround` takes.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TurnaroundInput {
    /// Days from check-in to the end, or to today while open.
    pub durations_days: Vec<f64>,
    /// Whether each has ended.
    pub finished: Vec<bool>,
}

/// What `turnaround` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurnaroundOutput {
    /// One step for each day on which a job ended.
    pub curve: Vec<Step>,
    /// First day with half of the jobs ended; null while fewer have.
    pub median_days: Option<f64>,
    /// Four fifths.
    pub p80_days: Option<f64>,
    /// Nine tenths.
    pub p90_days: Option<f64>,
    /// The longest job that ended; null when none has.
    pub longest_finished_days: Option<f64>,
    /// The least the true median is, with 95 %: first day on which the lower limit of the share still open is
    /// one half or less; null where it never is.
    pub median_least_days: Option<f64>,
    /// The most it is: the same of the upper limit; null where it never is, and then nobody knows how long.
    pub median_most_days: Option<f64>,
    /// Mean of the days within the longest duration known; null when no job has ended.
    pub restricted_mean: Option<RestrictedMean>,
}

/// One step of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "TurnaroundStep")]
pub struct Step {
    /// Day.
    pub days: f64,
    /// Jobs still open just before, those censored on that day included.
    pub at_risk: usize,
    /// Jobs that ended on it.
    pub finished: usize,
    /// Share still open after it.
    pub share_open: f64,
    /// Greenwood's standard error of the share.
    pub standard_error: f64,
    /// Where the true share lies, with 95 %: least and most; null where nothing is open any more.
    pub limits: Option<[f64; 2]>,
}

/// Mean of days that are cut off at `until_days`: the area under the curve. It has a number also where half
/// of the jobs are not done yet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RestrictedMean {
    /// Days beyond count as these.
    pub until_days: f64,
    /// The mean.
    pub days: f64,
    /// Its standard error, by Greenwood's sum over the areas that are left after each step.
    pub standard_error_days: f64,
}

/// The share of jobs still open after each day.
///
/// # Errors
/// When the lists are empty, unequal or hold what is not a duration.
pub fn turnaround(input: &TurnaroundInput) -> Result<TurnaroundOutput, Problems> {
    let jobs = sorted(input)?;
    let curve = curve(&jobs);
    let percentile = |p: f64| curve.iter().find(|step| step.share_open <= 1.0 - p + HAIR).map(|step| step.days);
    let reaches_half = |end: usize| {
        let below = |step: &&Step| step.limits.and_then(|limits| limits.get(end).copied()).is_some_and(|at| at <= 0.5);
        curve.iter().find(below).map(|step| step.days)
    };
    let longest = jobs.last().map_or(0.0, |(days, _)| *days);
    Ok(TurnaroundOutput {
        median_days: percentile(0.5),
        p80_days: percentile(0.8),
        p90_days: percentile(0.9),
        longest_finished_days: curve.last().map(|step| step.days),
        median_least_days: reaches_half(0),
        median_most_days: reaches_half(1),
        restricted_mean: (!curve.is_empty()).then(|| restricted_mean(&curve, longest)),
        curve,
    })
}

/// The jobs in rising order of days, with whether each has ended.
fn sorted(input: &TurnaroundInput) -> Result<Vec<(f64, bool)>, Problems> {
    let mut problems = Problems::default();
    problems.count("/durations_days", input.durations_days.len(), 1, MOST_JOBS);
    problems.require(
        input.finished.len() == input.durations_days.len(),
        "/finished",
        format_args!("must have as many entries as durations_days ({})", input.durations_days.len()),
    );
    for (place, days) in input.durations_days.iter().enumerate() {
        problems.within(format_args!("/durations_days/{place}"), *days, 0.0, 100_000.0);
    }
    problems.check()?;
    let mut jobs: Vec<(f64, bool)> = input.durations_days.iter().copied().zip(input.finished.iter().copied()).collect();
    jobs.sort_by(|one, other| one.0.total_cmp(&other.0));
    Ok(jobs)
}

fn curve(jobs: &[(f64, bool)]) -> Vec<Step> {
    let mut curve: Vec<Step> = Vec::new();
    let (mut share_open, mut sum) = (1.0, 0.0);
    let mut at_risk = jobs.len();
    for day in jobs.chunk_by(|one, other| one.0.total_cmp(&other.0).is_eq()) {
        let finished = day.iter().filter(|(_, finished)| *finished).count();
        if finished > 0 {
            let (d, n) = (as_number(finished), as_number(at_risk));
            share_open *= 1.0 - d / n;
            sum += variance_part(finished, at_risk);
            let days = day.first().map_or(0.0, |job| job.0);
            let limits = (finished < at_risk).then(|| log_log_limits(share_open, sum));
            curve.push(Step {
                days,
                at_risk,
                finished,
                share_open,
                standard_error: share_open * f64::sqrt(sum),
                limits,
            });
        }
        at_risk -= day.len();
    }
    curve
}

/// What a day adds to Greenwood's sum; the last job of all adds nothing.
fn variance_part(finished: usize, at_risk: usize) -> f64 {
    let (d, n) = (as_number(finished), as_number(at_risk));
    if finished < at_risk { d / (n * (n - d)) } else { 0.0 }
}

/// `S^exp(±z·√V/|ln S|)`, least and most, of a share between 0 and 1 and Greenwood's sum.
fn log_log_limits(share_open: f64, sum: f64) -> [f64; 2] {
    let width = NORMAL_QUANTILE * sum.sqrt() / share_open.ln().abs();
    [share_open.powf(width.exp()), share_open.powf((-width).exp())]
}

/// The area under the curve until a day, and its error: each step's addition to Greenwood's sum times the
/// square of the area that is left after it.
fn restricted_mean(curve: &[Step], until_days: f64) -> RestrictedMean {
    let (mut area, mut variance, mut end) = (0.0, 0.0, until_days);
    for step in curve.iter().rev().filter(|step| step.days < until_days) {
        area += step.share_open * (end - step.days);
        variance += area * area * variance_part(step.finished, step.at_risk);
        end = step.days;
    }
    RestrictedMean { until_days, days: area + end, standard_error_days: f64::sqrt(variance) }
}

fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
