//! How every reading stands to what is wished, judged once, before anything is planned on it.

use super::bench::Bench;
use super::built::BridgeKind;
use super::misread::Quantity;
use super::nut::NutJudged;
use super::read::Read;
use super::stand::{Stand, strings_that};

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
