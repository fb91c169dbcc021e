//! The strings of a reading set from the side, thinnest and thickest, for papers and for the customer.

use crate::drawing::Svg;
use crate::drawing::side_view::{SideString, SideView, side_view};
use crate::records::instrument::InstrumentEntry;
use crate::records::reading::{ReadingKind, ReadingSet};
use crate::web::readings_view::first_fret;

/// The strings as they stand; with the heights over the 12th fret that the house aims at, treble and bass, where they are
/// given.
pub(super) fn drawn(entry: &InstrumentEntry, set: &ReadingSet, aims_mm: Option<(f64, f64)>) -> Option<Svg> {
    let last = i64::try_from(entry.strings.len()).ok()?;
    let mut view = SideView {
        scale_mm: entry.scale.mm(),
        frets: usize::try_from(entry.frets).ok()?,
        body_fret: usize::try_from(entry.body_fret).ok()?,
        relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
        targets_12_mm: Vec::new(),
        forecast_12_mm: Vec::new(),
        strings: Vec::new(),
    };
    for (number, name, aim) in [(1, "treble", aims_mm.map(|aims| aims.0)), (last, "bass", aims_mm.map(|aims| aims.1))] {
        let (Some(first_fret_mm), Some(action_12_mm)) =
            (first_fret(entry, set, number), set.mean(ReadingKind::Height12, number))
        else {
            continue;
        };
        view.strings.push(SideString { name: name.to_owned(), first_fret_mm, action_12_mm });
        if aims_mm.is_some() {
            view.targets_12_mm.push(aim);
        }
    }
    (!view.strings.is_empty()).then(|| side_view(&view))
}
