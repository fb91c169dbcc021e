//! What the visits tell together: how the heights follow the moisture in the wood, and how long the saddle lasts.
//!
//! Heights are told without what the shop took off or put on between visits: each height as received, plus all
//! that earlier visits changed between *as received* and *as it left*. A visit that nobody measured on leaving
//! breaks that chain, and the visits before it say nothing.

use crate::records::JobId;
use crate::records::reading::{ReadingKind, ReadingSet, ReadingStage};
use crate::setup::drift::{DriftAir, DriftInput, DriftOutput, DriftVisit, drift, explain};
use crate::setup::reading::{coverage_factor, reading, supported};
use crate::web::page::RequestContext;
use crate::web::working_view::WorkingView;
use crate::working::Workings;

/// Share of cases that the uncertainty of a slope covers.
const COVERAGE: f64 = 0.95;

/// One sentence, and how it came about.
pub(super) struct Told {
    pub(super) words: String,
    pub(super) workings: Vec<WorkingView>,
}

/// One side of the instrument.
#[derive(Clone, Copy)]
struct Side {
    name: &'static str,
    string_number: i64,
    saddle: ReadingKind,
}

/// What can be told of both sides; nothing where nothing was read. `least_showing_mm` must stay of the saddle; `None`
/// where none is worn down: what screws can still turn is no saddle's years.
pub(super) fn told(
    context: &RequestContext,
    visits: &[(JobId, Vec<ReadingSet>)],
    last_string: i64,
    least_showing_mm: Option<f64>,
) -> Vec<Told> {
    let sides = [
        Side { name: "treble", string_number: 1, saddle: ReadingKind::SaddleTreble },
        Side { name: "bass", string_number: last_string, saddle: ReadingKind::SaddleBass },
    ];
    let of_side = |side: Side| {
        let input = DriftInput {
            visits: without_the_work(visits, side)
                .into_iter()
                .map(|(set, action_12_mm)| DriftVisit {
                    day: Some(context.app.clock.local_date(set.taken_at).to_string()),
                    action_12_mm,
                    air: set.air().map(|(temperature_c, rh_percent)| DriftAir { temperature_c, rh_percent }),
                    saddle_showing_mm: least_showing_mm.and_then(|_| left(visits, set).mean(side.saddle, 0)),
                    saddle_showing_expanded_mm: expanded_mm(left(visits, set), side.saddle),
                    least_showing_mm,
                    ..DriftVisit::default()
                })
                .collect(),
        };
        let output = drift(&input).ok()?;
        Some([height(side, &input, &output), saddle(side, &input, &output)])
    };
    sides.into_iter().filter_map(of_side).flatten().collect()
}

/// The first set of each visit, with its height as it would be without any work of the shop, mm.
fn without_the_work(visits: &[(JobId, Vec<ReadingSet>)], side: Side) -> Vec<(&ReadingSet, Option<f64>)> {
    let height = |set: &ReadingSet| set.mean(ReadingKind::Height12, side.string_number);
    let mut found: Vec<(&ReadingSet, Option<f64>)> = Vec::new();
    let mut taken_off_mm = 0.0;
    for (_, sets) in visits {
        let Some(first) = sets.first() else {
            continue;
        };
        let received = height(first).filter(|_| first.circumstances.stage == ReadingStage::Received);
        found.push((first, received.map(|received| received + taken_off_mm)));
        let final_set = sets.iter().rev().find(|set| set.circumstances.stage == ReadingStage::Final);
        match received.zip(final_set.and_then(height)) {
            Some((received, left)) => taken_off_mm += received - left,
            None if std::ptr::eq(sets, visits.last().map_or(sets, |(_, last)| last)) => {}
            None => {
                taken_off_mm = 0.0;
                for (_, action) in &mut found {
                    *action = None;
                }
            }
        }
    }
    found
}

/// The last set of the visit that a set belongs to: as the instrument left.
fn left<'a>(visits: &'a [(JobId, Vec<ReadingSet>)], first: &'a ReadingSet) -> &'a ReadingSet {
    let sets = visits.iter().find(|(job, _)| *job == first.job_id).map(|(_, sets)| sets.as_slice());
    sets.and_then(<[ReadingSet]>::last).unwrap_or(first)
}

/// Expanded uncertainty of what one set reads of a place, mm.
fn expanded_mm(set: &ReadingSet, kind: ReadingKind) -> Option<f64> {
    let asked = set.reading_input(kind, 0);
    reading(&asked).ok().map(|read| read.expanded_mm)
}

/// Whether a slope says nothing: it could as well go the other way.
fn is_swallowed(slope: f64, expanded: f64) -> bool {
    expanded >= slope.abs()
}

/// Why no number stands there.
fn nothing_yet(what: &str, visits: usize, expanded: f64, unit: &str) -> String {
    let digits = if expanded < 1.0 { 2 } else { 0 };
    format!("{what}: nothing can be said yet ({visits} visits, ± {expanded:.digits$} {unit}).")
}

fn height(side: Side, input: &DriftInput, output: &DriftOutput) -> Told {
    let found = &output.action_by_moisture;
    let at_12 = format!("Height at the 12th fret, {}", side.name);
    let words = match (found.slope_mm_per_percent, found.standard_error_mm_per_percent, &found.reason) {
        (Some(slope), Some(error), _) => {
            let freedom = f64::from(u32::try_from(found.visits).unwrap_or(u32::MAX)) - 2.0;
            let expanded = coverage_factor(COVERAGE, Some(freedom)) * error;
            if is_swallowed(slope, expanded) {
                let words =
                    nothing_yet(&format!("{at_12}, against moisture"), found.visits, expanded, "mm with each per cent");
                return Told { words, workings: workings(input, output, "/action_by_moisture") };
            }
            let rate = supported(slope, expanded);
            format!(
                "{at_12}: {}{rate} mm with each per cent of moisture in the wood ({} visits, {:.0} points of humidity apart).",
                if slope > 0.0 { "+" } else { "" },
                found.visits,
                found.spread_rh_points,
            )
        }
        (_, _, Some(reason)) => format!("{at_12}, against moisture: {reason}"),
        _ => format!("{at_12}, against moisture: the visits' air is all alike."),
    };
    Told { words, workings: workings(input, output, "/action_by_moisture") }
}

fn saddle(side: Side, input: &DriftInput, output: &DriftOutput) -> Told {
    let found = &output.saddle;
    let what = format!("Saddle, {}", side.name);
    let words = match (found.spent_mm_a_year, found.years_of_lowering_left, &found.reason) {
        (Some(spent), Some(years), _) => {
            let expanded = found.spent_expanded_mm_a_year.unwrap_or(0.0);
            if is_swallowed(spent, expanded) {
                let read = input.visits.iter().filter(|visit| visit.saddle_showing_mm.is_some()).count();
                let words = nothing_yet(&what, read, expanded, "mm a year");
                return Told { words, workings: workings(input, output, "/saddle") };
            }
            let spent = supported(spent, expanded);
            format!("{what}: {spent} mm are spent each year; at that rate about {years:.0} years of lowering are left.")
        }
        (_, _, Some(reason)) => format!("{what}: {reason}"),
        _ => format!("{what}: nothing is told yet."),
    };
    Told { words, workings: workings(input, output, "/saddle") }
}

fn workings(input: &DriftInput, output: &DriftOutput, under: &str) -> Vec<WorkingView> {
    let mut all = Workings::of_all();
    explain(input, output, &mut all);
    all.into_list().iter().filter(|working| working.of.starts_with(under)).map(WorkingView::of).collect()
}

#[cfg(test)]
mod tests {
    use super::{is_swallowed, nothing_yet};

    #[test]
    fn a_slope_that_its_uncertainty_swallows_is_no_number() {
        assert!(is_swallowed(0.4, 3.0) && is_swallowed(-0.4, 0.4));
        assert!(!is_swallowed(-0.4, 0.1) && !is_swallowed(0.4, 0.39));
        let said = nothing_yet("Height", 3, 3.0, "mm with each per cent");
        assert_eq!(said, "Height: nothing can be said yet (3 visits, ± 3 mm with each per cent).");
    }
}
