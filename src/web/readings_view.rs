//! Readings as pages and papers show them: before and after, string by string.

use crate::quantity::{LengthUnit, Micrometres};
use crate::records::family::{BridgeKind, Nut};
use crate::records::instrument::InstrumentEntry;
use crate::records::plan::bridge_of;
use crate::records::reading::{ReadingKind, ReadingSet, ReadingStage};
use crate::setup::frame::{Board, Frame};
use crate::web::words::length_words;

/// "1 E4": a string's number and note.
pub(super) fn string_names(instrument: &InstrumentEntry) -> Vec<String> {
    (1..).zip(&instrument.strings).map(|(number, string)| format!("{number} {}", string.pitch)).collect()
}

/// One of them by its place; its number alone where there are no names.
pub(super) fn string_name(names: &[String], place: usize) -> String {
    names.get(place).cloned().unwrap_or_else(|| (place + 1).to_string())
}

/// One place, before and after.
#[derive(Debug, Clone)]
pub(super) struct BeforeAfter {
    /// What was read.
    pub what: String,
    /// As received.
    pub before: String,
    /// Final.
    pub after: String,
}

/// The newest set of a stage.
pub(super) fn newest(sets: &[ReadingSet], stage: ReadingStage) -> Option<&ReadingSet> {
    sets.iter().rev().find(|set| set.circumstances.stage == stage)
}

/// The first received set and the newest final one.
pub(super) fn before_and_after(sets: &[ReadingSet]) -> (Option<&ReadingSet>, Option<&ReadingSet>) {
    let before = sets.iter().find(|set| set.circumstances.stage == ReadingStage::Received);
    (before.or_else(|| sets.first()), newest(sets, ReadingStage::Final))
}

/// The mean of one place, in words; "–" where it was not read.
pub(super) fn mean_words(set: Option<&ReadingSet>, kind: ReadingKind, string: i64, unit: LengthUnit) -> String {
    let Some(mean) = set.and_then(|set| set.mean(kind, string)) else {
        return "–".to_owned();
    };
    if kind == ReadingKind::Cents12 {
        return format!("{mean:+.1} cents");
    }
    Micrometres::from_mm(mean).map_or_else(|| "–".to_owned(), |mean| length_words(mean, unit))
}

/// The kinds read string by string that either set holds.
pub(super) fn kinds_per_string(before: Option<&ReadingSet>, after: Option<&ReadingSet>) -> Vec<ReadingKind> {
    let holds = |kind: ReadingKind| {
        [before, after].into_iter().flatten().any(|set| set.readings.iter().any(|reading| reading.kind == kind))
    };
    ReadingKind::ALL.iter().copied().filter(|kind| kind.is_per_string() && holds(*kind)).collect()
}

/// Whether what shows at the bridge is what its screws, wheels or posts can still go down: only a bar in a slot shows.
pub(super) fn is_travel(kind: ReadingKind, instrument: &InstrumentEntry) -> bool {
    let turns =
        matches!(bridge_of(instrument), Some(BridgeKind::ScrewSaddles | BridgeKind::TwoPost | BridgeKind::Sprung));
    turns && matches!(kind, ReadingKind::SaddleTreble | ReadingKind::SaddleBass)
}

/// What a reading is called on an instrument.
pub(super) fn kind_words(kind: ReadingKind, instrument: &InstrumentEntry) -> &'static str {
    match kind {
        ReadingKind::SaddleTreble if is_travel(kind, instrument) => "travel left, treble",
        ReadingKind::SaddleBass if is_travel(kind, instrument) => "travel left, bass",
        kind => kind.spoken(),
    }
}

/// What is read once for the instrument, before and after.
pub(super) fn once(
    instrument: &InstrumentEntry,
    before: Option<&ReadingSet>,
    after: Option<&ReadingSet>,
    unit: LengthUnit,
) -> Vec<BeforeAfter> {
    let kinds = ReadingKind::ALL.iter().copied().filter(|kind| !kind.is_per_string());
    let rows = kinds.map(|kind| BeforeAfter {
        what: kind_words(kind, instrument).to_owned(),
        before: mean_words(before, kind, 0, unit),
        after: mean_words(after, kind, 0, unit),
    });
    let mut rows: Vec<BeforeAfter> = rows.filter(|row| row.before != "–" || row.after != "–").collect();
    let air = |set: Option<&ReadingSet>| {
        let (temperature, humidity) = set?.air()?;
        Some(format!("{temperature:.0} °C, {humidity:.0} %"))
    };
    if air(before).is_some() || air(after).is_some() {
        let shown = |set| air(set).unwrap_or_else(|| "–".to_owned());
        rows.push(BeforeAfter { what: "air".to_owned(), before: shown(before), after: shown(after) });
    }
    rows
}

/// A set in one line, for whoever only wants to know how it stood: relief, and the height over the 12th fret at the
/// outer strings.
pub(super) fn short_words(set: &ReadingSet, strings: usize, unit: LengthUnit) -> String {
    let last = i64::try_from(strings).unwrap_or(1).max(1);
    let mean = |kind, string| mean_words(Some(set), kind, string, unit);
    format!(
        "{}: relief {}, over the 12th fret {} treble, {} bass",
        set.circumstances.stage,
        mean(ReadingKind::Relief, 0),
        mean(ReadingKind::Height12, 1),
        mean(ReadingKind::Height12, last)
    )
}

/// The open height over the 1st, mm: as read, else from the gap of the string stopped at the 3rd, or from a zero fret.
pub(super) fn first_fret(entry: &InstrumentEntry, set: &ReadingSet, number: i64) -> Option<f64> {
    set.mean(ReadingKind::Height1, number)
        .or_else(|| first_fret_from_gap(entry, set, number))
        .or_else(|| first_fret_from_zero_fret(entry, set, number))
}

/// A zero fret stands as high as the others: the string rises from its crown to the height over the 12th.
fn first_fret_from_zero_fret(entry: &InstrumentEntry, set: &ReadingSet, number: i64) -> Option<f64> {
    let action = set.mean(ReadingKind::Height12, number).filter(|_| entry.nut == Some(Nut::ZeroFret))?;
    let frame = frame(entry, set)?;
    let rise = (action + frame.top_mm(12)) / frame.position_mm(12);
    Some(rise * frame.position_mm(1) - frame.top_mm(1))
}

fn frame(entry: &InstrumentEntry, set: &ReadingSet) -> Option<Frame> {
    let board = Board {
        body_fret: usize::try_from(entry.body_fret).ok(),
        relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
        ..Board::default()
    };
    Some(Frame::new(entry.scale.mm(), usize::try_from(entry.frets).ok()?, &board))
}

/// Where only the stopped gap was read, the open height over the 1st follows from the frame.
fn first_fret_from_gap(entry: &InstrumentEntry, set: &ReadingSet, number: i64) -> Option<f64> {
    let gap = set.mean(ReadingKind::Gap1Stopped3, number)?;
    let action = set.mean(ReadingKind::Height12, number)?;
    let frame = frame(entry, set)?;
    let nut = frame.nut_from_gap_mm(gap);
    let rise = (action + frame.top_mm(12) - nut) / frame.position_mm(12);
    Some(nut + rise * frame.position_mm(1) - frame.top_mm(1))
}
