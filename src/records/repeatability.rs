//! How far the tools of one set scatter, from all other sets: what the plan pools with the set's own repeats.

use std::collections::BTreeMap;

use super::reading::scatter::{ToolScatter, as_number};
use super::reading::{ReadingKind, ReadingSet};
use crate::setup::reading::Repeatability;

/// Repeats of one place within this count as scatter, micrometres. The statements here say the same.
const APART_UM: i64 = 300;
/// Heights, read over a fret or a bridge with the tool of the set.
const KINDS: [ReadingKind; 6] = [
    ReadingKind::Height12,
    ReadingKind::Height1,
    ReadingKind::Gap1Stopped3,
    ReadingKind::Relief,
    ReadingKind::SaddleTreble,
    ReadingKind::SaddleBass,
];

/// The scatter of what a set was read with, from all other sets: its own repeats are pooled with it by the plan. Of
/// several tools the one that scatters most; `None` where one of them is not known well enough. `is_kept` says whether
/// the set itself is among those that were learnt from.
pub fn of_set(scatters: &[ToolScatter], set: &ReadingSet, is_kept: bool) -> Option<Repeatability> {
    let mut own: BTreeMap<&str, ToolScatter> = BTreeMap::new();
    let mut places: BTreeMap<(ReadingKind, i64), (&str, bool, Vec<i64>)> = BTreeMap::new();
    own.entry(&set.circumstances.tool).or_insert_with(|| nothing(&set.circumstances.tool));
    for reading in &set.readings {
        let tool = reading.carried.as_ref().map_or(set.circumstances.tool.as_str(), |from| &from.tool);
        own.entry(tool).or_insert_with(|| nothing(tool));
        if KINDS.contains(&reading.kind) {
            let was_learnt = is_kept || reading.carried.is_some();
            let place = places.entry((reading.kind, reading.string_number));
            place.or_insert_with(|| (tool, was_learnt, Vec::new())).2.push(reading.value);
        }
    }
    for (tool, _, values) in places.into_values().filter(|(_, was_learnt, _)| *was_learnt) {
        if let (Some(found), Some((squares, degrees_of_freedom))) = (own.get_mut(tool), scatter(&values)) {
            found.squares += squares;
            found.degrees_of_freedom += degrees_of_freedom;
        }
    }
    let others = own.into_values().map(|own| {
        let known = scatters.iter().find(|known| known.tool == own.tool)?;
        let rest = ToolScatter {
            squares: known.squares - own.squares,
            degrees_of_freedom: known.degrees_of_freedom - own.degrees_of_freedom,
            ..own
        };
        rest.repeatability()
    });
    let others: Option<Vec<Repeatability>> = others.collect();
    others?.into_iter().max_by(|one, other| one.standard_deviation_mm.total_cmp(&other.standard_deviation_mm))
}

fn nothing(tool: &str) -> ToolScatter {
    ToolScatter { tool: tool.to_owned(), squares: 0.0, degrees_of_freedom: 0 }
}

/// Squared distances from their mean and degrees of freedom of the repeats of one place; `None` where they tell nothing.
fn scatter(values: &[i64]) -> Option<(f64, i64)> {
    let apart = values.iter().max()? - values.iter().min()?;
    let freedom = i64::try_from(values.len()).ok()? - 1;
    if freedom < 1 || apart > APART_UM {
        return None;
    }
    let mean = as_number(values.iter().sum()) / as_number(freedom + 1);
    Some((values.iter().map(|value| (as_number(*value) - mean).powi(2)).sum(), freedom))
}
