//! How every reading stands to what is wished, judged once, before anything is planned on it.

use super::bench::{Bench, Read};
use super::doubts::Quantity;
use super::nut::NutJudged;

/// How a reading stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stand {
    High,
    Low,
    Good,
    /// Outside, but not by more than the reading's uncertainty; reading it again may decide.
    Unsure,
    /// The same, read often enough: it is let stand.
    LetStand,
    /// Asked for again: nothing is judged by it.
    Doubted,
    NotRead,
    /// This instrument has no such place.
    NotAsked,
}

impl Stand {
    /// Of a reading that should lie within a range.
    pub(super) fn of(read: &Read, least: f64, most: f64) -> Self {
        if read.value - read.expanded > most {
            Self::High
        } else if read.value + read.expanded < least {
            Self::Low
        } else if read.value <= most && read.value >= least {
            Self::Good
        } else if read.may_be_repeated() {
            Self::Unsure
        } else {
            Self::LetStand
        }
    }
}

/// Everything that was judged.
#[derive(Debug)]
pub(super) struct Judged {
    pub(super) relief: Stand,
    /// String by string, at the 12th.
    pub(super) heights: Vec<Stand>,
    pub(super) nut: NutJudged,
}

impl Judged {
    pub(super) fn of(bench: &Bench<'_>) -> Self {
        Self { relief: relief(bench), heights: heights(bench), nut: NutJudged::of(bench) }
    }

    /// The strings that stand so at the 12th, from 1.
    pub(super) fn heights_that(&self, wanted: Stand) -> Vec<usize> {
        strings_that(&self.heights, wanted)
    }

    /// Whether heights and relief were read and stand where they should.
    pub(super) fn stands_well(&self) -> bool {
        let fine = |stand: &Stand| matches!(stand, Stand::Good | Stand::LetStand);
        fine(&self.relief) && self.heights.iter().all(fine)
    }
}

/// The strings that stand so, from 1.
pub(super) fn strings_that(stands: &[Stand], wanted: Stand) -> Vec<usize> {
    (1..).zip(stands).filter(|(_, stand)| **stand == wanted).map(|(string, _)| string).collect()
}

fn relief(bench: &Bench<'_>) -> Stand {
    let targets = &bench.targets;
    match bench.relief {
        None => Stand::NotRead,
        Some(_) if bench.doubts_relief() => Stand::Doubted,
        Some(read) => Stand::of(&read, targets.relief_least_mm, targets.relief_most_mm),
    }
}

fn heights(bench: &Bench<'_>) -> Vec<Stand> {
    let tolerance = bench.targets.action_tolerance_mm;
    let of = |(place, read): (usize, Option<Read>)| match read {
        None => Stand::NotRead,
        Some(_) if bench.doubts(Quantity::Action, place) => Stand::Doubted,
        Some(read) => {
            let target = bench.action_target(place);
            Stand::of(&read, target - tolerance, target + tolerance)
        }
    };
    bench.strings.iter().map(|string| string.action).enumerate().map(of).collect()
}
