//! What is drawn of a set of readings: the side view and the clearance map.

use super::bench_job::{BenchJob, Planned};
use crate::drawing::Svg;
use crate::drawing::clearance_map::clearance_map;
use crate::drawing::side_view::{SideString, SideView, side_view};
use crate::records::plan::family_and_style;
use crate::records::reading::{ReadingKind, ReadingSet};
use crate::setup::clearance::{ClearanceInput, StringHeights, clearance};
use crate::web::readings_view::{first_fret, string_names};

impl BenchJob {
    /// Thinnest and thickest string over the frets, with target and forecast.
    pub(super) fn side_view(&self, set: &ReadingSet, planned: &Planned) -> Option<Svg> {
        let entry = &self.instrument.entry;
        let last = i64::try_from(entry.strings.len()).ok()?;
        let mut view = SideView {
            scale_mm: entry.scale.mm(),
            frets: usize::try_from(entry.frets).ok()?,
            body_fret: usize::try_from(entry.body_fret).ok()?,
            relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
            strings: Vec::new(),
            targets_12_mm: Vec::new(),
            forecast_12_mm: Vec::new(),
        };
        let (family, style) = family_and_style(entry, self.job.style);
        let targets = self.house.of(family, style)?;
        let expected = planned
            .output
            .steps
            .iter()
            .find_map(|step| step.forecast.as_ref().filter(|forecast| forecast.quantity == "action_12_mm"));
        for (number, name, target) in
            [(1, "treble", targets.action_12_treble_mm), (last, "bass", targets.action_12_bass_mm)]
        {
            let (Some(first), Some(action)) = (first_fret(entry, set, number), set.mean(ReadingKind::Height12, number))
            else {
                continue;
            };
            let place = usize::try_from(number - 1).ok()?;
            view.strings.push(SideString { name: name.to_owned(), first_fret_mm: first, action_12_mm: action });
            view.targets_12_mm.push(Some(target));
            view.forecast_12_mm.push(
                expected
                    .and_then(|expected| expected.strings.get(place).copied().flatten())
                    .map(|range| (range.least, range.most)),
            );
        }
        (!view.strings.is_empty()).then(|| side_view(&view))
    }

    pub(super) fn clearance_map(&self, set: &ReadingSet) -> Option<Svg> {
        let found = clearance(&self.clearance_asked(set)?).ok()?;
        Some(clearance_map(&found, &string_names(&self.instrument.entry)))
    }

    /// What `clearance` is asked of one set; `None` where a height or relief is missing.
    pub(super) fn clearance_asked(&self, set: &ReadingSet) -> Option<ClearanceInput> {
        let entry = &self.instrument.entry;
        let heights: Option<Vec<StringHeights>> = (1_i64..)
            .zip(&entry.strings)
            .map(|(number, _)| {
                let first_fret_mm = first_fret(entry, set, number)?;
                Some(StringHeights { first_fret_mm, action_12_mm: set.mean(ReadingKind::Height12, number)? })
            })
            .collect();
        Some(ClearanceInput {
            scale_mm: entry.scale.mm(),
            frets: usize::try_from(entry.frets).ok()?,
            body_fret: usize::try_from(entry.body_fret).ok()?,
            relief_mm: set.mean(ReadingKind::Relief, 0)?,
            fall_away_mm: 0.0,
            high_frets_mm: std::collections::BTreeMap::new(),
            strings: heights?,
            pluck: None,
        })
    }
}
