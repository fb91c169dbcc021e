//! What a service really takes here: the minutes of the labour clock, drawn toward the estimate they began
//! with while they are few.
//!
//! Bühlmann's credibility (ASTIN Bulletin 4, 1967) on logarithms, because twice as long and half as long are
//! equally far: with `y = ln(clocked/estimate)` of each job, `ȳ` their mean, n their number,
//!
//! ```text
//! Z = n/(n + k)    k = σ²/τ²    true minutes = estimate · exp(μ + Z·(ȳ − μ))    their log error = √(σ²/(n + k))
//! ```
//!
//! σ² is how jobs of one service scatter, τ² how services differ from their estimates, μ by how much the whole
//! house does. All three come from the house's own jobs ([`Scatter::of`]) once there are enough of them.
//!
//! The same function serves twice: a service is drawn toward the catalogue, a family within a service toward
//! the service.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// Services whose minutes must be known before the house's own scatter is believed. Our own choice.
pub const FEWEST_SERVICES: usize = 5;
/// Jobs beyond one a service that must be known for it. Our own choice.
pub const FEWEST_REPEATS: usize = 10;
/// Jobs from which on a new estimate is suggested. Our own choice.
pub const FEWEST_TO_SUGGEST: usize = 8;
/// By how much the true minutes must differ, and how sure that must be. Our own choice.
pub const WORTH_CHANGING: f64 = 1.1;
/// How sure it must be.
pub const SURE: f64 = 0.9;
/// Jobs from which on one of them can be called unusual. Our own choice.
pub const FEWEST_FOR_OUTLIERS: usize = 5;
/// Score from which on a job is unusual (Iglewicz and Hoaglin 1993).
const UNUSUAL: f64 = 3.5;
/// The normal distribution's three-quarter quantile, by which that score is stated.
const QUARTILE: f64 = 0.6745;
/// Least median deviation of logs that is believed: five jobs of the same minute are luck. Our own choice.
const LEAST_DEVIATION: f64 = 0.05;
/// A suggested estimate is a multiple of this.
const SUGGESTED_STEP_MINUTES: f64 = 5.0;

/// How minutes scatter about their estimates, on logs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Scatter {
    /// σ²: jobs of one service about that service's mean.
    pub within: f64,
    /// τ²: services about the house's mean; 0 where they do not differ more than chance lets them.
    pub between: f64,
    /// μ: the house's mean; 0 is as estimated.
    pub house: f64,
    /// Whether this is the house's own. Otherwise it is [`Scatter::BEFORE_ANYTHING_IS_KNOWN`].
    pub own: bool,
}

/// One service's clocked minutes, and the estimate that each was done under.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Clocked {
    /// Estimate and clocked minutes of each job.
    pub jobs: Vec<(f64, f64)>,
}

/// What is known of a service's true minutes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrueMinutes {
    /// Jobs they rest on.
    pub jobs: usize,
    /// Z: the weight of these jobs against the estimate, from 0 to 1.
    pub credibility: f64,
    /// What a job's estimate is multiplied by: half of the jobs take less, half more.
    pub factor: f64,
    /// How unsure the factor is: its standard deviation on logs, shared by all jobs of the service.
    pub log_error: f64,
    /// How single jobs scatter about it: their standard deviation on logs.
    pub log_spread: f64,
}

/// A job whose minutes do not belong with the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlier {
    /// Its place in the list.
    pub place: usize,
    /// Its score: minus is too short.
    pub score: f64,
}

/// Whether the price list should carry other minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Suggestion {
    /// Too few jobs to say.
    TooFew {
        /// That many are there.
        jobs: usize,
    },
    /// It may stay.
    Keep,
    /// It takes longer: with this probability at least a tenth longer.
    Longer {
        /// The new estimate.
        minutes: f64,
        /// How sure.
        probability: f64,
    },
    /// It takes less.
    Shorter {
        /// The new estimate.
        minutes: f64,
        /// How sure.
        probability: f64,
    },
}

impl Clocked {
    /// ln(clocked/estimate) of each job that has both; where either is missing there is nothing to learn.
    pub fn logs(&self) -> Vec<f64> {
        let with_both = self.jobs.iter().filter(|(estimate, clocked)| *estimate > 0.0 && *clocked > 0.0);
        with_both.map(|(estimate, clocked)| (clocked / estimate).ln()).collect()
    }
}

impl Scatter {
    /// What is believed of a house that has clocked too little: jobs differ by a third either way, services by
    /// a fifth, and the catalogue is right on average. Common practice, no source.
    pub const BEFORE_ANYTHING_IS_KNOWN: Self = Self { within: 0.12, between: 0.04, house: 0.0, own: false };

    /// The house's own scatter from the logs of each service (the estimators of Bühlmann and Straub, Bulletin
    /// of the Swiss Actuaries 70, 1970, with each job of weight one), where there are enough jobs for it.
    pub fn of(services: &[Vec<f64>]) -> Self {
        let services: Vec<&Vec<f64>> = services.iter().filter(|logs| !logs.is_empty()).collect();
        let (groups, all) = (services.len(), services.iter().map(|logs| logs.len()).sum::<usize>());
        if groups < FEWEST_SERVICES || all < groups + FEWEST_REPEATS {
            return Self::BEFORE_ANYTHING_IS_KNOWN;
        }
        let components = Components::of(&services);
        let (within, between) = (components.within, components.between);
        // each service counts by its credibility; all alike where they do not differ
        let weight = |logs: &[f64]| {
            if between > 0.0 { credibility(logs.len(), within, between) } else { as_number(logs.len()) }
        };
        let weights: f64 = services.iter().map(|logs| weight(logs)).sum();
        let house = services.iter().map(|logs| weight(logs) * mean(logs)).sum::<f64>() / weights;
        Self { within, between, house, own: true }
    }

    /// What the jobs of one service say of its true minutes.
    pub fn true_minutes(&self, logs: &[f64]) -> TrueMinutes {
        let credibility = credibility(logs.len(), self.within, self.between);
        let own = if logs.is_empty() { self.house } else { mean(logs) };
        TrueMinutes {
            jobs: logs.len(),
            credibility,
            factor: (self.house + credibility * (own - self.house)).exp(),
            // √(σ²/(n + k)), written so that τ² may be 0
            log_error: (self.between * (1.0 - credibility)).sqrt(),
            log_spread: self.within.sqrt(),
        }
    }
}

/// The two variances from services of unequal numbers of jobs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Components {
    /// σ².
    pub within: f64,
    /// τ², never below 0.
    pub between: f64,
    /// Jobs of a service on average, as far as the services differ.
    pub jobs_a_service: f64,
}

impl Components {
    /// From the logs of each service: at least two of them, none empty, and at least one with two jobs.
    pub fn of<L: AsRef<[f64]>>(services: &[L]) -> Self {
        let sizes = || services.iter().map(|logs| as_number(logs.as_ref().len()));
        let (groups, all) = (as_number(services.len()), sizes().sum::<f64>());
        let grand = services.iter().flat_map(AsRef::as_ref).sum::<f64>() / all;
        let squares = |logs: &[f64]| logs.iter().map(|log| (log - mean(logs)).powi(2)).sum::<f64>();
        let within = services.iter().map(|logs| squares(logs.as_ref())).sum::<f64>() / (all - groups);
        let apart = services.iter().zip(sizes()).map(|(logs, size)| size * (mean(logs.as_ref()) - grand).powi(2));
        let jobs_a_service = (all - sizes().map(|size| size * size).sum::<f64>() / all) / (groups - 1.0);
        let between = (apart.sum::<f64>() / (groups - 1.0) - within) / jobs_a_service;
        Self { within, between: between.max(0.0), jobs_a_service }
    }
}

impl TrueMinutes {
    /// Minutes of a job with this estimate that half of such jobs stay below.
    pub fn usual_minutes(&self, estimate_minutes: f64) -> f64 {
        estimate_minutes * self.factor
    }

    /// Minutes of a job with this estimate on average, for summing: the mean of a log-normal job lies above
    /// its middle.
    pub fn mean_minutes(&self, estimate_minutes: f64) -> f64 {
        self.usual_minutes(estimate_minutes) * ((self.log_spread.powi(2) + self.log_error.powi(2)) / 2.0).exp()
    }

    /// How likely the true minutes are to be more than `times` the estimate.
    pub fn more_than(&self, times: f64) -> f64 {
        let away = self.factor.ln() - times.ln();
        if self.log_error > 0.0 {
            Normal::standard().cdf(away / self.log_error)
        } else {
            f64::from(u8::from(away > 0.0))
        }
    }

    /// Whether the price list should say other minutes than `estimate_minutes`.
    pub fn suggestion(&self, estimate_minutes: f64) -> Suggestion {
        if self.jobs < FEWEST_TO_SUGGEST {
            return Suggestion::TooFew { jobs: self.jobs };
        }
        let (longer, shorter) = (self.more_than(WORTH_CHANGING), 1.0 - self.more_than(1.0 / WORTH_CHANGING));
        let steps = (self.usual_minutes(estimate_minutes) / SUGGESTED_STEP_MINUTES).round().max(1.0);
        let minutes = steps * SUGGESTED_STEP_MINUTES;
        // minutes that are rounded back to what the list says already are no news
        if longer >= SURE && minutes > estimate_minutes {
            Suggestion::Longer { minutes, probability: longer }
        } else if shorter >= SURE && minutes < estimate_minutes {
            Suggestion::Shorter { minutes, probability: shorter }
        } else {
            Suggestion::Keep
        }
    }
}

/// The jobs that do not belong with the others, by the median rule on logs: `0.6745·(y − median)/MAD` beyond
/// 3.5 (Iglewicz and Hoaglin, How to Detect and Handle Outliers, 1993). To be shown, never dropped silently.
pub fn outliers(logs: &[f64]) -> Vec<Outlier> {
    if logs.len() < FEWEST_FOR_OUTLIERS {
        return Vec::new();
    }
    let middle = median(logs);
    let deviations: Vec<f64> = logs.iter().map(|log| (log - middle).abs()).collect();
    let deviation = median(&deviations).max(LEAST_DEVIATION);
    let scored = logs.iter().map(|log| QUARTILE * (log - middle) / deviation).enumerate();
    scored.filter(|(_, score)| score.abs() > UNUSUAL).map(|(place, score)| Outlier { place, score }).collect()
}

/// Z of n jobs; 0 where services do not differ.
fn credibility(jobs: usize, within: f64, between: f64) -> f64 {
    let n = as_number(jobs);
    if jobs == 0 || between <= 0.0 { 0.0 } else { n * between / (n * between + within) }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / as_number(values.len())
}

/// Of a list that is not empty.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |place: usize| sorted.get(place).copied().unwrap_or(0.0);
    f64::midpoint(at((sorted.len() - 1) / 2), at(sorted.len() / 2))
}

fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
