//! What is wished of each string's heights: the house's ends spread over the strings, one wish for a whole course, and
//! of a short string what the bridge leaves it that carries its neighbours.

use super::check::scales;
use super::input::PlanInstrument;
use super::read::as_number;
use super::short_run::ShortRun;
use super::targets::Targets;

/// Wished heights of one string, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WishedHeights {
    /// Over fret 12.
    pub action_12_mm: f64,
    /// Open, over its own first fret, once the height at the 12th is as wished.
    pub first_fret_mm: f64,
}

/// The wishes string by string, string 1 first, at the instrument's stated set-back.
pub fn wished_heights(instrument: &PlanInstrument, targets: &Targets) -> Vec<WishedHeights> {
    let of = |(place, scale_mm): (usize, f64)| {
        let share = share(instrument, place);
        let start = instrument.strings.get(place).and_then(|string| string.starts_at_fret).unwrap_or(0);
        let run = ShortRun::of(scale_mm, instrument.saddle_setback_mm, start, targets.gap_mm);
        let whole = between(targets.action_12_treble_mm, targets.action_12_bass_mm, share);
        WishedHeights {
            action_12_mm: run.own_mm(whole),
            first_fret_mm: between(targets.first_fret_treble_mm, targets.first_fret_bass_mm, share),
        }
    };
    scales(instrument).enumerate().map(of).collect()
}

pub(super) fn between(treble: f64, bass: f64, share: f64) -> f64 {
    treble + (bass - treble) * share
}

/// What comes before a string in its spread of wishes, and of how many: strings, or courses where it is strung so.
pub(super) fn spread(instrument: &PlanInstrument, place: usize) -> (usize, usize) {
    let strings = &instrument.strings;
    let course = |place: usize| strings.get(place).and_then(|string| string.course);
    match course(place).zip(course(strings.len().saturating_sub(1))) {
        Some((course, last)) => (course.saturating_sub(1), last),
        None => (place, strings.len()),
    }
}

/// From string 1 (0) to the last (1); strings of one course stand at one share.
pub(super) fn share(instrument: &PlanInstrument, place: usize) -> f64 {
    let (before, count) = spread(instrument, place);
    if count < 2 { 0.0 } else { as_number(before) / as_number(count - 1) }
}
