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

/// Links from the figures of one part of a plan to their workings.
pub(super) struct WorkingLinks<'a> {
    page: &'a str,
    under: String,
}

impl<'a> WorkingLinks<'a> {
    /// Of the part at the pointer `under`; `page` is "" on paper, where nothing leads anywhere.
    pub(super) fn new(page: &'a str, under: String) -> Self {
        Self { page, under }
    }

    /// To the working of one figure, by its pointer within the part; "" on paper.
    pub(super) fn at(&self, pointer: &str) -> String {
        if self.page.is_empty() {
            return String::new();
        }
        format!("{}#{}", self.page, anchor(&format!("{}{pointer}", self.under)))
    }
}

/// The name of a pointer's place on the page of workings.
pub(super) fn anchor(pointer: &str) -> String {
    pointer.trim_start_matches('/').replace('/', "-")
}

fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}
