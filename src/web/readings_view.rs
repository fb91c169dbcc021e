//! Readings as pages and papers show them: before and after, string by string.

use crate::quantity::{LengthUnit, Micrometres};
use crate::records::instrument::InstrumentEntry;
use crate::records::reading::{ReadingKind, ReadingSet, ReadingStage};
use crate::web::words::said;

/// "1 E4": a string's number and note.
pub(super) fn string_names(instrument: &InstrumentEntry) -> Vec<String> {
    (1..).zip(&instrument.strings).map(|(number, string)| format!("{number} {}", string.pitch)).collect()
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
    Micrometres::from_mm(mean).map_or_else(|| "–".to_owned(), |mean| said(mean, unit))
}

/// The kinds read string by string that either set holds.
pub(super) fn kinds_per_string(before: Option<&ReadingSet>, after: Option<&ReadingSet>) -> Vec<ReadingKind> {
    let holds = |kind: ReadingKind| {
        [before, after].into_iter().flatten().any(|set| set.readings.iter().any(|reading| reading.kind == kind))
    };
    ReadingKind::ALL.iter().copied().filter(|kind| kind.is_per_string() && holds(*kind)).collect()
}

/// What is read once for the instrument, before and after.
pub(super) fn once(before: Option<&ReadingSet>, after: Option<&ReadingSet>, unit: LengthUnit) -> Vec<BeforeAfter> {
    let kinds = ReadingKind::ALL.iter().copied().filter(|kind| !kind.is_per_string());
    let rows = kinds.map(|kind| BeforeAfter {
        what: kind.spoken().to_owned(),
        before: mean_words(before, kind, 0, unit),
        after: mean_words(after, kind, 0, unit),
    });
    let mut rows: Vec<BeforeAfter> = rows.filter(|row| row.before != "–" || row.after != "–").collect();
    let air = |set: Option<&ReadingSet>| {
        let circumstances = set.map(|set| &set.circumstances)?;
        let (temperature, humidity) = circumstances.temperature_millicelsius.zip(circumstances.humidity_permille)?;
        Some(format!("{:.0} °C, {:.0} %", Micrometres(temperature).mm(), Micrometres(humidity).mm() * 100.0))
    };
    if air(before).is_some() || air(after).is_some() {
        let said = |set| air(set).unwrap_or_else(|| "–".to_owned());
        rows.push(BeforeAfter { what: "air".to_owned(), before: said(before), after: said(after) });
    }
    rows
}

/// A set in one line, for whoever only wants to know how it stood: relief, and the height over the 12th fret at the
/// outer strings.
pub(super) fn short_words(set: &ReadingSet, strings: usize, unit: LengthUnit) -> String {
    let last = i64::try_from(strings).unwrap_or(1).max(1);
    let said = |kind, string| mean_words(Some(set), kind, string, unit);
    format!(
        "{}: relief {}, over the 12th fret {} treble, {} bass",
        set.circumstances.stage,
        said(ReadingKind::Relief, 0),
        said(ReadingKind::Height12, 1),
        said(ReadingKind::Height12, last)
    )
}
