//! Where the open height and the stopped gap over the 1st tell a string's height at the nut twice, and differently.

use crate::setup::plan::bench::Bench;
use crate::setup::plan::misread::Quantity;
use crate::setup::plan::read::StringRead;

/// A string whose two readings contradict each other.
#[derive(Debug, Clone, Copy)]
pub(in crate::setup::plan) struct Apart {
    /// From 1.
    pub(in crate::setup::plan) string: usize,
    /// Gap that follows from the open heights, mm.
    pub(in crate::setup::plan) gap_from_heights_mm: f64,
    /// How far the two lie apart, mm.
    pub(in crate::setup::plan) off_mm: f64,
    /// What could be the readings, mm.
    pub(in crate::setup::plan) expanded_mm: f64,
}

/// How much a reading moves the gap that follows from the open heights, mm per mm.
#[derive(Debug, Clone, Copy)]
pub(in crate::setup::plan) struct ByReading {
    pub(in crate::setup::plan) first: f64,
    pub(in crate::setup::plan) action: f64,
    pub(in crate::setup::plan) relief: f64,
}

impl ByReading {
    pub(in crate::setup::plan) fn of(bench: &Bench<'_>, place: usize) -> Self {
        let frame = bench.frame(place);
        let from = frame.start_mm();
        let (x_1, x_12) = (frame.position_mm(frame.own(1)) - from, frame.position_mm(12) - from);
        let share = frame.first_on_the_way_to_third();
        // the nut's height follows the first reading nearly whole and the 12th by a little
        Self {
            first: (1.0 - share) * x_12 / (x_12 - x_1),
            action: (1.0 - share) * x_1 / (x_12 - x_1),
            relief: frame.relief_at_gap().tied,
        }
    }
}

/// Where the two readings of one string differ by more than their uncertainty one of them was misread, and nothing is
/// filed until that is settled. A reading that is asked for again anyway says nothing here.
pub(super) fn of(bench: &Bench<'_>) -> Vec<Apart> {
    let relief_expanded = bench.relief.map_or(0.0, |relief| relief.expanded);
    let of = |(place, read): (usize, &StringRead)| {
        let (gap, first, action) = (read.gap?, read.first?, read.action?);
        let is_doubted =
            [Quantity::Gap, Quantity::FirstFret, Quantity::Action].iter().any(|of| bench.doubts(*of, place));
        if is_doubted {
            return None;
        }
        let (frame, by) = (bench.frame(place), ByReading::of(bench, place));
        let nut_mm = frame.string(first.value, action.value).height_mm(frame.start_mm());
        let gap_from_heights_mm = frame.gap_at_1_stopped_at_3_mm(nut_mm);
        let off_mm = (gap_from_heights_mm - gap.value).abs();
        let expanded_mm = (by.first * first.expanded)
            .hypot(by.action * action.expanded)
            .hypot(gap.expanded)
            .hypot(by.relief * relief_expanded);
        (off_mm > expanded_mm).then_some(Apart { string: place + 1, gap_from_heights_mm, off_mm, expanded_mm })
    };
    bench.strings.iter().enumerate().filter_map(of).collect()
}

/// The one that lies farthest apart; of equals the first.
pub(in crate::setup::plan) fn farthest(apart: &[Apart]) -> Option<&Apart> {
    apart.iter().rev().max_by(|one, other| one.off_mm.total_cmp(&other.off_mm))
}
