//! How every string stands at the nut, and how that is said.

use super::apart::{self, Apart};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::built::NutKind;
use crate::setup::plan::misread::Quantity;
use crate::setup::plan::output::Severity;
use crate::setup::plan::read::Read;
use crate::setup::plan::stand::{Stand, strings_that};
use crate::setup::plan::walk::{Found, Holds, Stage, Todo, Walk};

/// The reading a string is judged by, its target, its least and most.
#[derive(Debug, Clone, Copy)]
pub(in crate::setup::plan) struct AtNut {
    pub(in crate::setup::plan) read: Read,
    pub(in crate::setup::plan) is_gap: bool,
    pub(in crate::setup::plan) target: f64,
    pub(in crate::setup::plan) least: f64,
    pub(in crate::setup::plan) most: f64,
}

impl AtNut {
    fn of(bench: &Bench<'_>, place: usize) -> Option<Self> {
        let string = bench.strings.get(place)?;
        let targets = &bench.targets;
        if let Some(read) = string.gap {
            let (least, target, most) = (targets.gap_least_mm, targets.gap_mm, targets.gap_most_mm);
            return Some(Self { read, is_gap: true, target, least, most });
        }
        let read = string.first?;
        // the open height leans on the height at the 12th: without it nothing is known of the nut
        let target = bench.first_target_here(place)?;
        let tolerance = targets.first_fret_tolerance_mm;
        Some(Self { read, is_gap: false, target, least: target - tolerance, most: target + tolerance })
    }

    fn stand(&self, bench: &Bench<'_>) -> Stand {
        // a string that lies on the fret is seen to; no gauge is needed for that
        if self.is_gap && self.read.value <= 0.0 && self.least > 0.0 {
            return Stand::Low;
        }
        match bench.nut {
            NutKind::Slotted => Stand::to_cut(&self.read, self.least, self.most, bench.risk_of_the_chosen()),
            NutKind::Clamping | NutKind::ZeroFret => Stand::of(&self.read, self.least, self.most),
        }
    }
}

/// How every string stands at the nut.
#[derive(Debug)]
pub(in crate::setup::plan) struct NutJudged {
    pub(in crate::setup::plan) strings: Vec<Option<AtNut>>,
    pub(in crate::setup::plan) stands: Vec<Stand>,
    /// Strings whose two readings contradict each other.
    pub(in crate::setup::plan) apart: Vec<Apart>,
}

impl NutJudged {
    pub(in crate::setup::plan) fn of(bench: &Bench<'_>) -> Self {
        if bench.nut == NutKind::ZeroFret {
            let count = bench.strings.len();
            return Self { strings: vec![None; count], stands: vec![Stand::NotAsked; count], apart: Vec::new() };
        }
        let apart = apart::of(bench);
        let strings: Vec<Option<AtNut>> = (0..bench.strings.len()).map(|place| AtNut::of(bench, place)).collect();
        let stands = strings
            .iter()
            .enumerate()
            .map(|(place, judged)| match judged {
                None => Stand::NotRead,
                Some(_) if apart.iter().any(|apart| apart.string == place + 1) => Stand::Doubted,
                Some(judged) => {
                    let quantity = if judged.is_gap { Quantity::Gap } else { Quantity::FirstFret };
                    if bench.doubts(quantity, place) { Stand::Doubted } else { judged.stand(bench) }
                }
            })
            .collect();
        Self { strings, stands, apart }
    }

    /// The strings that stand so, from 1.
    pub(in crate::setup::plan) fn that(&self, wanted: Stand) -> Vec<usize> {
        strings_that(&self.stands, wanted)
    }

    /// Whether some string is to be filed or raised.
    pub(in crate::setup::plan) fn has_work(&self) -> bool {
        self.stands.iter().any(|stand| matches!(stand, Stand::High | Stand::Low))
    }

    /// The one of some strings that stands farthest off.
    pub(super) fn worst(&self, strings: &[usize]) -> Option<&AtNut> {
        let of = strings.iter().filter_map(|number| self.strings.get(number - 1)?.as_ref());
        let off = |judged: &AtNut| (judged.read.value - judged.target).abs();
        of.max_by(|one, other| off(one).total_cmp(&off(other)))
    }
}

/// Asks for a reading of the nut again before anything is cut.
pub(super) fn too_uncertain(
    walk: &mut Walk,
    stage: Stage,
    words: String,
    again: String,
    settles: String,
    strings: Vec<usize>,
) {
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    walk.step(Todo::reading(stage, "readings-too-uncertain", again, settles, Holds::Everything));
    walk.find(stage, Found::new("readings-too-uncertain", Severity::Watch, words).on(strings));
}

/// The figures of the string that stands farthest off.
pub(super) fn with_figures(found: Found, worst: Option<&AtNut>) -> Found {
    let Some(AtNut { read, is_gap, target, .. }) = worst else {
        return found;
    };
    let name = if *is_gap { "gap_at_1_stopped_at_3_mm" } else { "first_fret_mm" };
    found.with(name, read.value).with("expanded_mm", read.expanded).with("target_mm", *target)
}

pub(super) fn said_worst(worst: Option<&AtNut>) -> String {
    let Some(AtNut { read, is_gap, least, most, .. }) = worst else {
        return String::new();
    };
    let what = if *is_gap { "gap over the 1st stopped at the 3rd" } else { "open height over the 1st" };
    format!("{what} {} mm at worst, {least:.2} to {most:.2} mm is wished", read.said())
}
