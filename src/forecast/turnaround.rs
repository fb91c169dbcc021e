//! `turnaround`: how long jobs take when some are still open.
//!
//! Kaplan–Meier (JASA 53, 1958): an open job is censored at its present age; leaving it out, or counting
//! it as done today, would both make turnaround look shorter than it is. Standard error by Greenwood.

mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;

pub use working::explain;

/// Jobs in one calculation, at most.
const MOST_JOBS: usize = 100_000;
/// A rounding hair, so that 1 − 0.2 counts as 0.8.
const HAIR: f64 = 1e-12;

/// What `turnaround` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
}

/// The share of jobs still open after each day.
///
/// # Errors
/// When the lists are empty, unequal or hold what is not a duration.
pub fn turnaround(input: &TurnaroundInput) -> Result<TurnaroundOutput, Problems> {
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
            curve.push(Step { days, at_risk, finished, share_open, standard_error: share_open * f64::sqrt(sum) });
        }
        at_risk -= day.len();
    }
    let percentile = |p: f64| curve.iter().find(|step| step.share_open <= 1.0 - p + HAIR).map(|step| step.days);
    Ok(TurnaroundOutput {
        median_days: percentile(0.5),
        p80_days: percentile(0.8),
        p90_days: percentile(0.9),
        longest_finished_days: curve.last().map(|step| step.days),
        curve,
    })
}

/// What a day adds to Greenwood's sum; the last job of all adds nothing.
fn variance_part(finished: usize, at_risk: usize) -> f64 {
    let (d, n) = (as_number(finished), as_number(at_risk));
    if finished < at_risk { d / (n * (n - d)) } else { 0.0 }
}

fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
