//! Before and after, and whether the work did what the plan led to expect.

use super::bench_job::BenchJob;
use crate::records::plan as kept;
use crate::records::work::left_alone;
use crate::setup::plan::{AfterWork, Finding, PlanInput};
use crate::setup::reading::supported;
use crate::web::plan_view::reading_words;
use crate::web::readings_view::{BeforeAfter, before_and_after, kinds_per_string, mean_words, once, string_names};

/// Before and after, string by string.
pub(super) struct Comparison {
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<(String, Vec<(String, String)>)>,
    pub(super) once: Vec<BeforeAfter>,
}

/// The final readings against what the plan led to expect.
pub(super) struct ProofView {
    pub(super) proved: bool,
    pub(super) rows: Vec<ProofRow>,
    pub(super) findings: Vec<Finding>,
}

pub(super) struct ProofRow {
    pub(super) what: String,
    pub(super) value: String,
    pub(super) expected: String,
    pub(super) proved: bool,
}

impl Comparison {
    /// `None` before the final readings are taken.
    pub(super) fn of(bench: &BenchJob) -> Option<Self> {
        let (before, after) = before_and_after(&bench.sets);
        after?;
        let kinds = kinds_per_string(before, after);
        let cells = |number: i64| {
            let words = |set, kind| mean_words(set, kind, number, bench.unit);
            kinds.iter().map(|kind| (words(before, *kind), words(after, *kind))).collect()
        };
        Some(Self {
            columns: kinds.iter().map(|kind| kind.spoken()).collect(),
            rows: (1_i64..)
                .zip(string_names(&bench.instrument.entry))
                .map(|(number, name)| (name, cells(number)))
                .collect(),
            once: once(&bench.instrument.entry, before, after, bench.unit),
        })
    }
}

impl ProofView {
    /// `None` before the final readings are taken. `received` is what the engine was last given of the first set.
    pub(super) fn of(bench: &BenchJob, received: Option<PlanInput>) -> Option<Self> {
        let entry = &bench.instrument.entry;
        let names = string_names(entry);
        let left_alone = left_alone(&bench.lines);
        let found = kept::proof(&bench.job, entry, &bench.sets, &bench.house, received, &left_alone, &bench.scatters)?;
        Some(Self::new(found, &names))
    }

    fn new(found: AfterWork, names: &[String]) -> Self {
        let rows = found.places.iter().map(|place| {
            let what = reading_words(&place.quantity);
            let string = place.string.and_then(|string| names.get(string.checked_sub(1)?));
            let unit = if place.quantity == "cents_at_12" { "cents" } else { "mm" };
            ProofRow {
                what: string.map_or_else(|| what.to_owned(), |string| format!("{string}: {what}")),
                value: format!("{} {unit}", supported(place.value_mm, place.expanded_mm)),
                expected: format!("{:.2} to {:.2} {unit}", place.expected_mm.least, place.expected_mm.most),
                proved: place.proved,
            }
        });
        Self { proved: found.proved, rows: rows.collect(), findings: found.findings }
    }
}
