//! The minutes of the jobs of one draw.
//!
//! Log-normal numbers are drawn from tables of equally likely ones: twenty thousand draws of a long queue cost
//! milliseconds then. A table of 512 reaches from one in a thousand to all but one.

use std::sync::LazyLock;

use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ContinuousCDF, Normal};

use super::chance::pick;
use super::input::{QueuedJob, Simulation};
use crate::forecast::minutes::TrueMinutes;

/// Entries of a table.
const ENTRIES: u32 = 512;
/// Entries of what may be left of a line that was begun: each costs as much as twenty draws.
const REST_ENTRIES: u32 = 256;
/// Standard deviations above the middle from which on the tail is taken as exponential on logs.
const FAR: f64 = 6.0;

/// Equally likely numbers of the normal distribution, in rising order.
static NORMAL: LazyLock<Vec<f64>> =
    LazyLock::new(|| middles(ENTRIES).map(|share| Normal::standard().inverse_cdf(share)).collect());

/// The middles of as many equal parts of the way from 0 to 1.
fn middles(parts: u32) -> impl Iterator<Item = f64> {
    (0..parts).map(move |part| (f64::from(part) + 0.5) / f64::from(parts))
}

/// The jobs of a queue, ready to be drawn.
pub(super) struct JobMinutes<'a> {
    input: &'a Simulation,
    kinds: Vec<Kind>,
    /// Factors of log-normal numbers about 1, by their standard deviation on logs.
    tables: Vec<(f64, Vec<f64>)>,
    jobs: Vec<Vec<Line>>,
    /// What each kind is multiplied by in the draw at hand.
    factors: Vec<f64>,
}

/// One kind of work: its middle, and the tables of what is unsure about it and of how its jobs scatter.
struct Kind {
    factor: f64,
    error_table: usize,
    spread_table: usize,
}

enum Line {
    /// Not begun: its estimate, and its kind.
    Whole { estimate_minutes: f64, kind: usize },
    /// Begun: what may be left of it.
    Rest(Vec<f64>),
}

impl<'a> JobMinutes<'a> {
    pub(super) fn new(input: &'a Simulation) -> Self {
        let mut tables: Vec<(f64, Vec<f64>)> = Vec::new();
        let mut table = |deviation: f64| {
            let found = tables.iter().position(|(of, _)| of.total_cmp(&deviation).is_eq());
            found.unwrap_or_else(|| {
                tables.push((deviation, NORMAL.iter().map(|normal| (deviation * normal).exp()).collect()));
                tables.len() - 1
            })
        };
        let kind = |known: &TrueMinutes| Kind {
            factor: known.factor,
            error_table: table(known.log_error),
            spread_table: table(known.log_spread),
        };
        let kinds: Vec<Kind> = input.kinds.iter().map(kind).collect();
        let lines = |job: &QueuedJob| {
            let worked = job.work.iter().filter(|work| work.estimate_minutes > 0.0);
            let line = worked.map(|work| match input.kinds.get(work.kind) {
                Some(known) if work.spent_minutes > 0.0 => {
                    Line::Rest(rest(known, work.estimate_minutes, work.spent_minutes))
                }
                _ => Line::Whole { estimate_minutes: work.estimate_minutes, kind: work.kind },
            });
            line.collect()
        };
        Self { jobs: input.jobs.iter().map(lines).collect(), factors: vec![1.0; kinds.len()], kinds, tables, input }
    }

    /// Draws the minutes of every job, as the calendar counts them.
    pub(super) fn draw(&mut self, chance: &mut ChaCha8Rng, minutes: &mut [f64]) {
        let calendar = 1.0 / pick(&self.input.worked_shares, chance).copied().unwrap_or(1.0);
        let (kinds, tables) = (&self.kinds, &self.tables);
        for (factor, kind) in self.factors.iter_mut().zip(kinds) {
            *factor = calendar * kind.factor * drawn(tables, kind.error_table, chance);
        }
        let factors = &self.factors;
        for (minutes, lines) in minutes.iter_mut().zip(&self.jobs) {
            let line = |line: &Line| match line {
                Line::Whole { estimate_minutes, kind } => {
                    let spread = kinds.get(*kind).map_or(1.0, |kind| drawn(tables, kind.spread_table, chance));
                    estimate_minutes * spread * factors.get(*kind).copied().unwrap_or(calendar)
                }
                Line::Rest(left) => calendar * pick(left, chance).copied().unwrap_or(0.0),
            };
            *minutes = lines.iter().map(line).sum();
        }
    }
}

/// A factor out of a table.
fn drawn(tables: &[(f64, Vec<f64>)], table: usize, chance: &mut ChaCha8Rng) -> f64 {
    tables.get(table).and_then(|(_, table)| pick(table, chance)).copied().unwrap_or(1.0)
}

/// Equally likely minutes that are left of a line on which some were spent: what lies above those.
fn rest(known: &TrueMinutes, estimate_minutes: f64, spent_minutes: f64) -> Vec<f64> {
    let deviation = known.log_spread.hypot(known.log_error);
    let middle = known.usual_minutes(estimate_minutes);
    if deviation <= 0.0 {
        // certain minutes that are over: a moment more, as a bench would say
        return vec![(middle - spent_minutes).max(1.0)];
    }
    let normal = Normal::standard();
    let reached = (spent_minutes / middle).ln() / deviation;
    let tail = normal.sf(reached);
    let whole = |share_left: f64| {
        if reached > FAR {
            spent_minutes * (-share_left.ln() * deviation / reached).exp()
        } else {
            middle * (-deviation * normal.inverse_cdf(share_left * tail)).exp()
        }
    };
    middles(REST_ENTRIES).map(|share_left| (whole(share_left) - spent_minutes).max(0.0)).collect()
}
