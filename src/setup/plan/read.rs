//! What was read, each with its uncertainty: the repeats and the scatter of the tool.

use std::fmt::Arguments;

use super::input::{PlanTool, StringReadings};
use crate::problem::Problems;
use crate::setup::reading::{ReadingInput, Repeatability, Reported, reading, supported};

/// Smallest step of a tuner's display, cents.
const CENTS_STEP: f64 = 0.1;

/// How far single readings of a tuner scatter, cents. Common practice, no source.
const CENTS_REPEATABILITY: Repeatability = Repeatability { standard_deviation_mm: 0.5, degrees_of_freedom: 5.0 };

/// How far single readings of a tool scatter of which nothing is known, mm. Common practice, no source.
const USUAL_REPEATABILITY: Repeatability = Repeatability { standard_deviation_mm: 0.03, degrees_of_freedom: 5.0 };

/// From here on Student's t is the normal; nearly equal repeats reach beyond any bound.
const LARGE_FREEDOM: f64 = 1e9;

/// The scatter of the tool: as the shop knows it, else as usual.
pub(super) fn repeatability(tool: &PlanTool) -> Repeatability {
    match tool.repeatability_mm.zip(tool.repeatability_degrees_of_freedom) {
        Some((standard_deviation_mm, degrees_of_freedom)) => {
            Repeatability { standard_deviation_mm, degrees_of_freedom }
        }
        None => USUAL_REPEATABILITY,
    }
}

/// What `reading` is asked of repeats of a length.
pub fn length_asked(values: &[f64], tool: &PlanTool) -> ReadingInput {
    ReadingInput::usual(values.to_vec(), tool.resolution_mm, tool.limit_mm).with_repeatability(repeatability(tool))
}

/// What `reading` is asked of repeats on a tuner.
pub fn cents_asked(values: &[f64]) -> ReadingInput {
    ReadingInput::usual(values.to_vec(), CENTS_STEP, 0.0).with_repeatability(CENTS_REPEATABILITY)
}

/// One reading with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Read {
    pub(super) value: f64,
    pub(super) uncertainty: f64,
    pub(super) expanded: f64,
    pub(super) freedom: Option<f64>,
    /// How often it was read.
    pub(super) repeats: usize,
}

/// A reading that stays undecided over so many repeats is let stand: more of them would tell no more. Chosen here.
pub(super) const ENOUGH_REPEATS: usize = 3;

impl Read {
    /// Whether reading it again may still decide what it leaves open.
    pub(super) fn may_be_repeated(&self) -> bool {
        self.repeats < ENOUGH_REPEATS
    }

    /// "2.71 ± 0.03", to the decimal that the uncertainty supports.
    pub(super) fn said(&self) -> Reported {
        supported(self.value, self.expanded)
    }
}

/// The readings of one string.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct StringRead {
    pub(super) action: Option<Read>,
    pub(super) first: Option<Read>,
    pub(super) gap: Option<Read>,
    pub(super) cents: Option<Read>,
    /// Set-back of the saddle today.
    pub(super) setback: Option<Read>,
}

/// Reads repeats, and gathers what is wrong with them.
pub(super) struct Reader<'a> {
    pub(super) tool: &'a PlanTool,
    pub(super) problems: Problems,
}

impl Reader<'_> {
    fn of(&mut self, at: Arguments<'_>, asked: &ReadingInput) -> Option<Read> {
        match reading(asked) {
            Ok(found) => Some(Read {
                value: found.mean_mm,
                uncertainty: found.standard_uncertainty_mm,
                expanded: found.expanded_mm,
                freedom: found
                    .degrees_of_freedom
                    .filter(|freedom| *freedom < LARGE_FREEDOM)
                    .map(|freedom| freedom.max(1.0)),
                repeats: asked.values_mm.len(),
            }),
            Err(faults) => {
                for fault in faults.0 {
                    self.problems.note(fault.pointer.replace("/values_mm", &at.to_string()), fault.detail);
                }
                None
            }
        }
    }

    pub(super) fn length(&mut self, at: Arguments<'_>, values: &[f64]) -> Option<Read> {
        if values.is_empty() {
            return None;
        }
        self.of(at, &length_asked(values, self.tool))
    }

    pub(super) fn string(&mut self, place: usize, read: &StringReadings, scale_mm: f64) -> StringRead {
        let mut of = |name: &str, values: &[f64]| self.length(format_args!("/readings/strings/{place}/{name}"), values);
        let action = of("action_12_mm", &read.action_12_mm);
        let first = of("first_fret_mm", &read.first_fret_mm);
        let gap = of("gap_at_1_stopped_at_3_mm", &read.gap_at_1_stopped_at_3_mm);
        let to_saddle = of("from_12_to_saddle_mm", &read.from_12_to_saddle_mm);
        let cents = (!read.cents_at_12.is_empty())
            .then(|| {
                let at = format_args!("/readings/strings/{place}/cents_at_12");
                self.of(at, &cents_asked(&read.cents_at_12))
            })
            .flatten();
        let half = scale_mm / 2.0;
        StringRead {
            action,
            first,
            gap,
            cents,
            setback: to_saddle.map(|read| Read { value: read.value - half, ..read }),
        }
    }
}

pub(super) fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
