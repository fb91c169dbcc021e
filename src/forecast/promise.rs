//! `promise`: what day a job can be promised, by simulation over the bench calendar.
//!
//! Each draw picks hours for every job of the queue and walks them through the bench's hours in order.
//! The promise is the day by which the stated share of draws was done. Same seed, same answer.
//!
//! The order is kept: the bench does not begin a job before the one ahead of it is done, and where a
//! job waits for its part the hours until then are lost. Who would go on with the next job meanwhile
//! gives that one first.

mod working;

use std::collections::{BTreeMap, BTreeSet};

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use super::day::Day;
use super::ends::{DayShare, Ends};
use super::whole_number::{whole, whole_u64};
use crate::problem::{Problem, Problems};

pub use working::explain;

/// Days looked ahead: beyond ten years nothing is promised.
const HORIZON_DAYS: usize = 3660;
const MOST_JOBS: usize = 1000;
const MOST_HOURS: usize = 5000;
const MOST_DRAWS: usize = 200_000;
/// Jobs × draws, so that no request keeps a processor busy for long.
const MOST_WORK: usize = 20_000_000;
/// Draws walked through the queue side by side: the hours of one job are then at hand for all of them.
const TOGETHER: usize = 256;
/// Years that a day may lie in.
const YEARS: std::ops::RangeInclusive<i32> = 1900..=2200;
/// A rounding hair, hours.
const HAIR: f64 = 1e-9;

/// What `promise` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PromiseInput {
    /// The first day with hours to give; as every day here from 1900 to 2200.
    #[serde(with = "super::day")]
    #[schemars(with = "Day")]
    pub start: Date,
    /// Bench hours of each weekday, Monday first.
    #[schemars(length(min = 7, max = 7))]
    pub week_hours: Vec<f64>,
    /// Days without hours.
    #[serde(default, with = "super::day::list")]
    #[schemars(with = "Vec<Day>", length(max = HORIZON_DAYS))]
    pub closed: Vec<Date>,
    /// In bench order; the last is the one to promise.
    #[schemars(length(min = 1, max = MOST_JOBS))]
    pub jobs: Vec<QueuedJob>,
    /// Share of draws that must be done by the promised day.
    #[serde(default = "usual_confidence")]
    #[schemars(range(min = 0.01, max = 0.999))]
    pub confidence: f64,
    /// How many draws.
    #[serde(default = "usual_draws", deserialize_with = "whole")]
    #[schemars(range(min = 1, max = MOST_DRAWS))]
    pub draws: usize,
    /// Any whole number: the same seed, the same draws.
    #[serde(deserialize_with = "whole_u64")]
    #[schemars(range(min = 0, max = u64::MAX))]
    pub seed: u64,
}

fn usual_confidence() -> f64 {
    0.9
}
fn usual_draws() -> usize {
    20_000
}

/// One job of the queue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QueuedJob {
    /// Hours it may take.
    #[schemars(length(min = 1, max = MOST_HOURS))]
    pub hours: Vec<f64>,
    /// How likely each is; equal when absent.
    #[serde(default)]
    pub weights: Option<Vec<f64>>,
    /// It cannot start before this day (a part on order).
    #[serde(default, with = "super::day::maybe")]
    #[schemars(with = "Option<Day>")]
    pub not_before: Option<Date>,
}

/// What `promise` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PromiseOutput {
    /// Days on which the job may be done, with their shares.
    pub days: Vec<DayShare>,
    /// The day by which half of the draws were done.
    #[serde(with = "super::day")]
    #[schemars(with = "Day")]
    pub median_day: Date,
    /// The day by which the stated share was done.
    #[serde(with = "super::day")]
    #[schemars(with = "Day")]
    pub promised_day: Date,
    /// The share that was done by then: the stated one or a little more, because a day is whole.
    pub promised_share: f64,
}

/// The day a job can be promised.
///
/// # Errors
/// When the calendar has no hours, a list is off, or the queue reaches beyond ten years.
pub fn promise(input: &PromiseInput) -> Result<PromiseOutput, Problems> {
    check(input)?;
    let calendar = Calendar::new(input);
    let jobs: Vec<Drawing<'_>> = input.jobs.iter().map(|job| Drawing::new(job, &calendar)).collect();
    let last_earliest = jobs.last().map_or(0.0, |job| job.earliest);
    let mut chance = ChaCha8Rng::seed_from_u64(input.seed);
    let mut ended: BTreeMap<usize, u32> = BTreeMap::new();
    let too_far = || {
        Problems(vec![Problem {
            pointer: "/jobs".to_owned(),
            detail: "reach further than ten years with these bench hours".to_owned(),
        }])
    };
    let (mut spent, mut lots) = (Vec::with_capacity(TOGETHER), Vec::with_capacity(TOGETHER * jobs.len()));
    let mut left = input.draws;
    while left > 0 {
        let together = left.min(TOGETHER);
        left -= together;
        lots.clear();
        lots.extend((0..together * jobs.len()).map(|_| lot(&mut chance)));
        spent.clear();
        spent.resize(together, 0.0);
        for (place, job) in jobs.iter().enumerate() {
            for (spent, lots) in spent.iter_mut().zip(lots.chunks_exact(jobs.len())) {
                *spent = f64::max(*spent, job.earliest) + lots.get(place).map_or(0.0, |lot| job.hours(*lot));
            }
        }
        for spent in &spent {
            let day = calendar.day_reaching(*spent, last_earliest).ok_or_else(too_far)?;
            *ended.entry(day).or_default() += 1;
        }
    }
    let draws = u32::try_from(input.draws).unwrap_or(u32::MAX);
    let ends = Ends { counts: ended.into_iter().collect(), draws };
    let reaching = |share: f64| ends.reaching(share).ok_or_else(too_far);
    let ((median_day, _), (promised_day, promised_share)) = (reaching(0.5)?, reaching(input.confidence)?);
    Ok(PromiseOutput {
        days: ends.shares(|day| calendar.date(day)),
        median_day: calendar.date(median_day),
        promised_day: calendar.date(promised_day),
        promised_share,
    })
}

fn check(input: &PromiseInput) -> Result<(), Problems> {
    let mut problems = Problems::default();
    let mut in_range = |at: std::fmt::Arguments<'_>, day: Date| {
        problems.require(
            YEARS.contains(&day.year()),
            at,
            format_args!("must be a day from {} to {}", YEARS.start(), YEARS.end()),
        );
    };
    in_range(format_args!("/start"), input.start);
    for (place, day) in input.closed.iter().enumerate() {
        in_range(format_args!("/closed/{place}"), *day);
    }
    for (place, job) in input.jobs.iter().enumerate() {
        if let Some(day) = job.not_before {
            in_range(format_args!("/jobs/{place}/not_before"), day);
        }
    }
    problems.count("/week_hours", input.week_hours.len(), 7, 7);
    for (place, hours) in input.week_hours.iter().enumerate() {
        problems.within(format_args!("/week_hours/{place}"), *hours, 0.0, 240.0);
    }
    problems.require(
        input.week_hours.iter().any(|hours| *hours > 0.0),
        "/week_hours",
        "must have hours on at least one day",
    );
    problems.count("/closed", input.closed.len(), 0, HORIZON_DAYS);
    problems.count("/jobs", input.jobs.len(), 1, MOST_JOBS);
    problems.within("/confidence", input.confidence, 0.01, 0.999);
    problems.require((1..=MOST_DRAWS).contains(&input.draws), "/draws", format_args!("must be from 1 to {MOST_DRAWS}"));
    problems.require(
        input.draws.saturating_mul(input.jobs.len()) <= MOST_WORK,
        "/draws",
        format_args!("times the number of jobs must not exceed {MOST_WORK}"),
    );
    for (place, job) in input.jobs.iter().enumerate() {
        problems.count(format_args!("/jobs/{place}/hours"), job.hours.len(), 1, MOST_HOURS);
        for (entry, hours) in job.hours.iter().enumerate() {
            problems.within(format_args!("/jobs/{place}/hours/{entry}"), *hours, 0.0, 10_000.0);
        }
        let Some(weights) = &job.weights else {
            continue;
        };
        let at = format!("/jobs/{place}/weights");
        problems.require(
            weights.len() == job.hours.len(),
            at.clone(),
            format_args!("must have as many entries as hours ({})", job.hours.len()),
        );
        for (entry, weight) in weights.iter().enumerate() {
            problems.within(format_args!("{at}/{entry}"), *weight, 0.0, 1e9);
        }
        problems.require(weights.iter().sum::<f64>() > 0.0, at, "must not all be 0");
    }
    problems.check()
}

/// Bench hours summed day by day.
struct Calendar {
    start: Date,
    summed: Vec<f64>,
}

impl Calendar {
    fn new(input: &PromiseInput) -> Self {
        let closed: BTreeSet<Date> = input.closed.iter().copied().collect();
        let mut sum = 0.0;
        let days = (0_i64..).take(HORIZON_DAYS).map_while(|ahead| input.start.checked_add(Duration::days(ahead)));
        let summed = days.map(|day| {
            let weekday = usize::from(day.weekday().number_days_from_monday());
            if !closed.contains(&day) {
                sum += input.week_hours.get(weekday).copied().unwrap_or(0.0);
            }
            sum
        });
        Self { start: input.start, summed: summed.collect() }
    }

    /// Hours given before a day begins; without end beyond the days looked ahead.
    fn before(&self, day: Date) -> f64 {
        match usize::try_from((day - self.start).whole_days()) {
            Ok(0) | Err(_) => 0.0,
            Ok(ahead) => self.summed.get(ahead - 1).copied().unwrap_or(f64::INFINITY),
        }
    }

    /// The first day whose summed hours reach `hours`. A job of no hours still ends on a day with
    /// hours, and not before those `given_before` it may start are over.
    fn day_reaching(&self, hours: f64, given_before: f64) -> Option<usize> {
        let day = self.summed.partition_point(|sum| *sum <= given_before || *sum < hours - HAIR);
        (day < self.summed.len()).then_some(day)
    }

    fn date(&self, day: usize) -> Date {
        let ahead = i64::try_from(day).unwrap_or(0);
        self.start.checked_add(Duration::days(ahead)).unwrap_or(self.start)
    }
}

/// 32 random bits: one of 2³² lots of equal chance.
fn lot(chance: &mut ChaCha8Rng) -> u32 {
    u32::try_from(chance.next_u64() >> 32).unwrap_or(0)
}

/// A job ready to be drawn.
struct Drawing<'a> {
    hours: &'a [f64],
    /// `None` where all hours are equally likely.
    weighted: Option<Weighted>,
    earliest: f64,
}

/// Hours that are not equally likely.
struct Weighted {
    /// Summed shares, the last 1.
    shares: Vec<f64>,
    /// For each of as many equal steps of chance where among the shares to begin looking: a draw then costs the same
    /// however many hours there are.
    guide: Vec<usize>,
}

impl<'a> Drawing<'a> {
    fn new(job: &'a QueuedJob, calendar: &Calendar) -> Self {
        Self {
            hours: &job.hours,
            weighted: job.weights.as_deref().map(Weighted::new),
            earliest: job.not_before.map_or(0.0, |day| calendar.before(day)),
        }
    }

    /// The hours that a lot draws: each lot stands for the middle of its step between 0 and 1, never either.
    fn hours(&self, lot: u32) -> f64 {
        let place = match &self.weighted {
            None => of_equals(lot, self.hours.len()),
            Some(weighted) => weighted.place((f64::from(lot) + 0.5) / 4_294_967_296.0),
        };
        self.hours.get(place).copied().unwrap_or(0.0)
    }
}

/// Which of `count` equal parts the middle of a lot's step lies in: ⌊(lot + ½)/2³²·count⌋.
fn of_equals(lot: u32, count: usize) -> usize {
    let count = u64::try_from(count).unwrap_or(0);
    usize::try_from(((2 * u64::from(lot) + 1) * count) >> 33).unwrap_or(0)
}

impl Weighted {
    fn new(weights: &[f64]) -> Self {
        let total: f64 = weights.iter().sum();
        let mut sum = 0.0;
        let shares: Vec<f64> = weights
            .iter()
            .map(|weight| {
                sum += weight / total;
                sum
            })
            .collect();
        let mut place = 0;
        let guide = (0..shares.len())
            .map(|step| {
                let from = as_number(step) / as_number(shares.len());
                while shares.get(place).is_some_and(|share| *share < from) {
                    place += 1;
                }
                place
            })
            .collect();
        Self { shares, guide }
    }

    /// The first place whose summed share reaches `even`.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a few thousand, cut to a whole number"
    )]
    fn place(&self, even: f64) -> usize {
        let last = self.shares.len().saturating_sub(1);
        let step = (even * as_number(self.guide.len())) as usize;
        let mut place = self.guide.get(step).copied().unwrap_or(last);
        while place < last && self.shares.get(place).is_some_and(|share| *share < even) {
            place += 1;
        }
        place
    }
}

fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
