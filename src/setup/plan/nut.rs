//! The nut: a change there stays at the nut. Slots are lowered one by one, never below the frame's least, and lean on
//! the heights at the 12th; a nut that moves as one is shimmed; before a zero fret the nut only guides.

mod apart;
mod clamping;
mod slots;

pub(super) use apart::{Apart, ByReading, farthest};
pub(super) use clamping::fit as clamped_fit;
pub(super) use slots::{cut_input, floor, removal_ranges};

use super::bench::{Bench, Read};
use super::doubts::Quantity;
use super::input::NutKind;
use super::judged::{Judged, Stand, strings_that};
use super::output::Severity;
use super::walk::{Found, Holds, Stage, Todo, Walk, said_strings};

/// The reading a string is judged by, its target, its least and most.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtNut {
    pub(super) read: Read,
    pub(super) is_gap: bool,
    pub(super) target: f64,
    pub(super) least: f64,
    pub(super) most: f64,
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
        let target = bench.first_target(place);
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
pub(super) struct NutJudged {
    pub(super) strings: Vec<Option<AtNut>>,
    pub(super) stands: Vec<Stand>,
    /// Strings whose two readings contradict each other.
    pub(super) apart: Vec<Apart>,
}

impl NutJudged {
    pub(super) fn of(bench: &Bench<'_>) -> Self {
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
    pub(super) fn that(&self, wanted: Stand) -> Vec<usize> {
        strings_that(&self.stands, wanted)
    }

    /// Whether some string is to be filed or raised.
    pub(super) fn has_work(&self) -> bool {
        self.stands.iter().any(|stand| matches!(stand, Stand::High | Stand::Low))
    }

    /// The one of some strings that stands farthest off.
    fn worst(&self, strings: &[usize]) -> Option<&AtNut> {
        let of = strings.iter().filter_map(|number| self.strings.get(number - 1)?.as_ref());
        let off = |judged: &AtNut| (judged.read.value - judged.target).abs();
        of.max_by(|one, other| off(one).total_cmp(&off(other)))
    }
}

pub(super) fn look(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    if bench.nut == NutKind::ZeroFret {
        return;
    }
    let nut = &judged.nut;
    disagreements(bench, nut, walk);
    not_read(bench, nut, walk);
    unsure(bench, nut, walk);
    if !nut.has_work() {
        return;
    }
    if bench.nut == NutKind::Clamping {
        clamping::look(bench, nut, walk);
    } else {
        slots::look(bench, nut, walk);
    }
}

fn not_read(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let missing = nut.that(Stand::NotRead);
    if missing.is_empty() {
        return;
    }
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let on = said_strings(&missing, bench.strings.len());
    walk.unread(Stage::Nut, format!("the gap over the 1st fret, stopped at the 3rd, on {on}"));
    let words = format!("The nut was not read on {on}: stop at the 3rd fret and read the gap over the 1st.");
    walk.find(Stage::Nut, Found::new("reading-missing", Severity::Watch, words).on(missing));
}

fn unsure(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let all = bench.strings.len();
    let let_stand = nut.that(Stand::Accepted);
    if !let_stand.is_empty() {
        let words = format!(
            "On {} the nut stands at the edge of its range; repeated readings leave it open. It is let stand.",
            said_strings(&let_stand, all)
        );
        walk.find(Stage::Nut, Found::new("readings-too-uncertain", Severity::Watch, words).on(let_stand));
    }
    let unsure = nut.that(Stand::Unsure);
    if unsure.is_empty() {
        return;
    }
    let on = said_strings(&unsure, all);
    let words = format!(
        "On {on} the nut stands outside its range, but by no more than the reading's uncertainty. Repeat the reading before any file touches it."
    );
    let again = format!("Read the nut again on {on}, three times at least, before anything is cut.");
    too_uncertain(walk, Stage::Nut, words, again, format!("the nut is read again on {on}"), unsure);
}

/// Asks for a reading of the nut again before anything is cut.
fn too_uncertain(walk: &mut Walk, stage: Stage, words: String, again: String, settles: String, strings: Vec<usize>) {
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    walk.step(Todo::reading(stage, "readings-too-uncertain", again, settles, Holds::Everything));
    walk.find(stage, Found::new("readings-too-uncertain", Severity::Watch, words).on(strings));
}

fn disagreements(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let Some(Apart { off_mm: worst, expanded_mm: allowed, .. }) = farthest(&nut.apart) else {
        return;
    };
    let strings: Vec<usize> = nut.apart.iter().map(|apart| apart.string).collect();
    walk.ask_for("first_fret_mm");
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let on = said_strings(&strings, bench.strings.len());
    let check = format!(
        "Read the open height and the stopped gap over the 1st fret again on {on}, tuned to pitch and the 3rd fret fully pressed."
    );
    let words = format!(
        "On {on} the open height and the stopped gap over the 1st fret contradict each other by up to {worst:.2} mm, where {allowed:.2} mm could be the readings. Nothing is filed on either."
    );
    let settles = format!("the two readings of the nut agree on {on}");
    walk.step(Todo::reading(Stage::NutReadings, "readings-disagree", check, settles, Holds::Everything));
    let found = Found::new("readings-disagree", Severity::Watch, words).on(strings);
    walk.find(Stage::NutReadings, found.with("apart_mm", *worst).with("expanded_mm", *allowed));
}

/// The figures of the string that stands farthest off.
fn with_figures(found: Found, worst: Option<&AtNut>) -> Found {
    let Some(AtNut { read, is_gap, target, .. }) = worst else {
        return found;
    };
    let name = if *is_gap { "gap_at_1_stopped_at_3_mm" } else { "first_fret_mm" };
    found.with(name, read.value).with("expanded_mm", read.expanded).with("target_mm", *target)
}

fn said_worst(worst: Option<&AtNut>) -> String {
    let Some(AtNut { read, is_gap, least, most, .. }) = worst else {
        return String::new();
    };
    let what = if *is_gap { "gap over the 1st stopped at the 3rd" } else { "open height over the 1st" };
    format!("{what} {} mm at worst, {least:.2} to {most:.2} mm is wished", read.said())
}
