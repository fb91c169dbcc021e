//! On which days simulated jobs ended, and the first day by which a share of them had.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use time::Date;

use super::day::Day;

/// A rounding hair, draws.
const HAIR: f64 = 1e-9;

/// One day and its share of the draws.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DayShare {
    /// The day.
    #[serde(with = "super::day")]
    #[schemars(with = "Day")]
    pub day: Date,
    /// Share of draws that end on it.
    pub probability: f64,
}

/// How many draws ended on which day, in order of the days. Draws that never ended are in `draws` alone.
pub(super) struct Ends<D> {
    pub(super) counts: Vec<(D, u32)>,
    pub(super) draws: u32,
}

impl<D: Copy> Ends<D> {
    /// The first day by which a share of the draws had ended, and the share that had; `None` where it never is
    /// reached.
    pub(super) fn reaching(&self, share: f64) -> Option<(D, f64)> {
        let draws = f64::from(self.draws);
        let mut ended = 0;
        let (day, _) = self.counts.iter().find(|(_, count)| {
            ended += *count;
            f64::from(ended) >= share * draws - HAIR
        })?;
        Some((*day, f64::from(ended) / draws))
    }

    /// Each day's share.
    pub(super) fn shares(&self, date: impl Fn(D) -> Date) -> Vec<DayShare> {
        let draws = f64::from(self.draws);
        let share = |(day, count): &(D, u32)| DayShare { day: date(*day), probability: f64::from(*count) / draws };
        self.counts.iter().map(share).collect()
    }
}
