//! How numbers came about, as pages show it: the formula, what was put in, and where it is from.

use super::words::figures;
use crate::working::Working;

/// As many as a pocket calculator shows: a stretch is the small difference of two long lengths.
const DIGITS: i32 = 8;

/// One working ready to be shown.
#[derive(Debug, Clone)]
pub(super) struct WorkingView {
    /// In words.
    pub(super) what: String,
    /// In symbols.
    pub(super) formula: String,
    /// Symbol, meaning, value with its unit.
    pub(super) with: Vec<(String, String, String)>,
    /// With its unit.
    pub(super) result: String,
    /// Where the formula is from.
    pub(super) source: String,
}

impl WorkingView {
    pub(super) fn of(working: &Working) -> Self {
        let with = working
            .with
            .iter()
            .map(|put| (put.symbol.clone(), put.meaning.clone(), with_unit(figures(put.value, DIGITS), &put.unit)));
        Self {
            what: working.what.clone(),
            formula: working.formula.clone(),
            with: with.collect(),
            result: with_unit(figures(working.result, DIGITS), &working.unit),
            source: working.source.clone(),
        }
    }
}

fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}
