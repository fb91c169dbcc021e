//! Two groups of jobs beside each other: does one take longer, or is it chance?
//!
//! Log-rank (Mantel, Cancer Chemotherapy Reports 50, 1966): on each day on which jobs ended, how many of them
//! were of the first group, against how many were to be expected if both were alike; its χ² has one degree of
//! freedom. That distribution is that of many closures. Where the jobs are so few that all ways to deal them
//! out to two groups of these sizes can be tried, the chance is the share of ways that differ as much from what
//! was to be expected: that is exact where both groups were looked at equally long. Where fewer than
//! [`FEW_CLOSURES`] ended in all and the ways are too many, some are drawn.
//!
//! Who looks at many pairs finds one by chance: [`Comparison::p_among`] allows for it.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use statrs::function::erf::erfc;

use super::{RestrictedMean, TurnaroundInput, as_number, curve, restricted_mean, sorted};
use crate::forecast::limits::NORMAL_QUANTILE;
use crate::problem::Problems;

/// Closures of both groups below which the χ² distribution is not trusted. Our own choice.
pub const FEW_CLOSURES: usize = 10;
/// Ways to deal the jobs out that are all tried.
const MOST_WAYS: usize = 200_000;
/// Ways drawn where there are too many to try: as many as this many jobs make, within bounds.
const DRAWN_JOBS: usize = 2_000_000;
const DRAWN_WAYS: (usize, usize) = (1_000, 20_000);
/// A rounding hair: as far from the expected as what was seen.
const HAIR: f64 = 1e-9;

/// How two groups differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// Jobs of the first group that ended.
    pub finished: usize,
    /// How many were to be expected if both groups were alike.
    pub expected: f64,
    /// Variance of that number.
    pub variance: f64,
    /// (finished − expected)² / variance; 0 where there is no variance.
    pub chi_square: f64,
    /// How often chance alone gives as much.
    pub p: f64,
    /// How that was found.
    pub by: By,
    /// Mean days of the first group less those of the second, within the longest duration that both know.
    pub difference: Difference,
}

/// How the chance of as large a difference was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// From the χ² distribution.
    ChiSquare,
    /// From all ways to deal the jobs out to two groups of these sizes, so many.
    AllWays(usize),
    /// From so many of these ways, drawn by a seed.
    DrawnWays(usize),
}

/// The difference of two restricted means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Of the first group.
    pub first: RestrictedMean,
    /// Of the second.
    pub second: RestrictedMean,
    /// The first less the second.
    pub days: f64,
    /// Where the true difference lies, with 95 %: least and most.
    pub limits_days: [f64; 2],
}

impl Comparison {
    /// The chance that one of `comparisons` shows as much (Bonferroni): for who looks at several pairs.
    pub fn p_among(&self, comparisons: u32) -> f64 {
        (self.p * f64::from(comparisons)).min(1.0)
    }
}

/// Compares two groups. `seed` is used only where the ways to deal the jobs out are too many to try.
///
/// # Errors
/// When one is no list of durations.
pub fn compare(first: &TurnaroundInput, second: &TurnaroundInput, seed: u64) -> Result<Comparison, Problems> {
    let (one, other) = (sorted(first)?, sorted(second)?);
    let test = LogRank::new(&one, &other);
    let chi_square = if test.variance > 0.0 { test.away().powi(2) / test.variance } else { 0.0 };
    let (p, by) = match ways(test.scores.len(), test.smaller) {
        Some(ways) => test.by_all(ways),
        None if closures(&one) + closures(&other) < FEW_CLOSURES => test.by_drawn(seed),
        None => (erfc((chi_square / 2.0).sqrt()), By::ChiSquare),
    };
    Ok(Comparison {
        finished: closures(&one),
        expected: test.expected,
        variance: test.variance,
        chi_square,
        p,
        by,
        difference: difference(&one, &other),
    })
}

fn closures(jobs: &[(f64, bool)]) -> usize {
    jobs.iter().filter(|(_, finished)| *finished).count()
}

fn difference(one: &[(f64, bool)], other: &[(f64, bool)]) -> Difference {
    let longest = |jobs: &[(f64, bool)]| jobs.last().map_or(0.0, |(days, _)| *days);
    let until = f64::min(longest(one), longest(other));
    let (first, second) = (restricted_mean(&curve(one), until), restricted_mean(&curve(other), until));
    let days = first.days - second.days;
    let half = NORMAL_QUANTILE * first.standard_error_days.hypot(second.standard_error_days);
    Difference { first, second, days, limits_days: [days - half, days + half] }
}

/// Both groups, day by day.
struct LogRank {
    finished: f64,
    expected: f64,
    variance: f64,
    /// Of each job of both groups: 1 if it has ended, less the hazard summed until its day. Those of a group
    /// sum to what ended in it less what was expected, however the jobs are dealt out.
    scores: Vec<f64>,
    /// Jobs of the smaller group.
    smaller: usize,
}

impl LogRank {
    fn new(one: &[(f64, bool)], other: &[(f64, bool)]) -> Self {
        let labelled = one.iter().map(|job| (*job, true)).chain(other.iter().map(|job| (*job, false)));
        let mut jobs: Vec<((f64, bool), bool)> = labelled.collect();
        jobs.sort_by(|one, other| one.0.0.total_cmp(&other.0.0));
        let (mut at_risk, mut first_at_risk) = (as_number(jobs.len()), as_number(one.len()));
        let (mut expected, mut variance, mut hazard) = (0.0, 0.0, 0.0);
        let mut scores = Vec::with_capacity(jobs.len());
        for day in jobs.chunk_by(|one, other| one.0.0.total_cmp(&other.0.0).is_eq()) {
            let d = as_number(day.iter().filter(|((_, finished), _)| *finished).count());
            let share = first_at_risk / at_risk;
            expected += d * share;
            hazard += d / at_risk;
            if at_risk > 1.0 {
                variance += d * share * (1.0 - share) * (at_risk - d) / (at_risk - 1.0);
            }
            scores.extend(day.iter().map(|((_, finished), _)| f64::from(u8::from(*finished)) - hazard));
            at_risk -= as_number(day.len());
            first_at_risk -= as_number(day.iter().filter(|(_, first)| *first).count());
        }
        let finished = as_number(closures(one));
        Self { finished, expected, variance, scores, smaller: one.len().min(other.len()) }
    }

    fn away(&self) -> f64 {
        self.finished - self.expected
    }

    /// Share of the ways to deal the jobs out that differ as much from what is to be expected. All scores
    /// together are nothing, so either group may be the one that is dealt.
    fn by_all(&self, ways: usize) -> (f64, By) {
        let as_much = as_far(&self.scores, self.smaller, 0.0, self.away().abs() - HAIR);
        (as_number(as_much) / as_number(ways), By::AllWays(ways))
    }

    /// The same of ways that are drawn.
    fn by_drawn(&self, seed: u64) -> (f64, By) {
        let least = self.away().abs() - HAIR;
        let (fewest, most) = DRAWN_WAYS;
        let ways = (DRAWN_JOBS / self.smaller.max(1)).clamp(fewest, most);
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let mut scores = self.scores.clone();
        let as_much = (0..ways).filter(|_| drawn(&mut scores, self.smaller, &mut chance).abs() >= least).count();
        // what was seen is itself one of the ways (Phipson and Smyth 2010): p is never 0
        (as_number(as_much + 1) / as_number(ways + 1), By::DrawnWays(ways))
    }
}

/// Ways to choose `k` of `n`; `None` where they are too many to try.
fn ways(n: usize, k: usize) -> Option<usize> {
    let mut ways: usize = 1;
    for chosen in 0..k {
        ways = ways.checked_mul(n - chosen)? / (chosen + 1);
        if ways > MOST_WAYS {
            return None;
        }
    }
    Some(ways)
}

/// Of all ways to choose `k` more scores, how many end as far from nothing as `least`.
fn as_far(scores: &[f64], k: usize, sum: f64, least: f64) -> usize {
    if k == 0 {
        return usize::from(sum.abs() >= least);
    }
    let first_places = scores.len().saturating_sub(k - 1);
    let from =
        |(place, score): (usize, &f64)| as_far(scores.get(place + 1..).unwrap_or_default(), k - 1, sum + score, least);
    scores.iter().enumerate().take(first_places).map(from).sum()
}

/// The sum of `k` scores drawn without putting back (the beginning of Fisher and Yates' shuffle).
fn drawn(scores: &mut [f64], k: usize, chance: &mut ChaCha8Rng) -> f64 {
    let mut sum = 0.0;
    for place in 0..k {
        let among = u64::try_from(scores.len() - place).unwrap_or(u64::MAX);
        let further = (u64::from(chance.next_u32()) * among) >> 32;
        scores.swap(place, place + usize::try_from(further).unwrap_or(0));
        sum += scores.get(place).copied().unwrap_or(0.0);
    }
    sum
}
