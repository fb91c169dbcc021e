//! How every reading stands to what is wished, judged once, before anything is planned on it.

use super::bench::{Bench, Read};
use super::doubts::Quantity;
use super::input::BridgeKind;
use super::nut::NutJudged;
use crate::setup::spread::quantile;

/// How a reading stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stand {
    High,
    Low,
    Good,
    /// Outside, but not by more than the reading's uncertainty; reading it again may decide.
    Unsure,
    /// The same, read often enough: it is let stand.
    Accepted,
    /// Asked for again: nothing is judged by it.
    Doubted,
    NotRead,
    /// This instrument has no such place.
    NotAsked,
}

impl Stand {
    /// Of a reading that should lie within a range, where what is done about it can be undone.
    pub(super) fn of(read: &Read, least: f64, most: f64) -> Self {
        Self::beyond(read, read.expanded, (least, most))
    }

    /// The same where what is too high is taken off and does not come back: that must be surer than what is only told.
    pub(super) fn to_cut(read: &Read, least: f64, most: f64, risk: f64) -> Self {
        let surely = quantile(1.0 - risk, read.freedom) * read.uncertainty;
        Self::beyond(read, surely.max(read.expanded), (least, most))
    }

    fn beyond(read: &Read, over: f64, (least, most): (f64, f64)) -> Self {
        if read.value - over > most {
            Self::High
        } else if read.value + read.expanded < least {
            Self::Low
        } else if read.value <= most && read.value >= least {
            Self::Good
        } else if read.may_be_repeated() {
            Self::Unsure
        } else {
            Self::Accepted
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
        let fine = |stand: &Stand| matches!(stand, Stand::Good | Stand::Accepted);
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
    let risk = bench.risk_of_the_chosen();
    let is_cut = matches!(bench.bridge, Some(BridgeKind::FixedSaddle | BridgeKind::LooseBridge) | None);
    let of = |(place, read): (usize, Option<Read>)| match read {
        None => Stand::NotRead,
        Some(_) if bench.doubts(Quantity::Action, place) => Stand::Doubted,
        Some(read) => {
            let target = bench.action_target(place);
            let (least, most) = (target - tolerance, target + tolerance);
            if is_cut { Stand::to_cut(&read, least, most, risk) } else { Stand::of(&read, least, most) }
        }
    };
    bench.strings.iter().map(|string| string.action).enumerate().map(of).collect()
}
