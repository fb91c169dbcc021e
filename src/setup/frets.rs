//! `frets`: where the frets lie.

mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::frame::fret_position_mm;
use super::limits::{MOST_FRETS, SCALE_MM};
use crate::problem::Problems;

pub use working::explain;

/// What `frets` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FretsInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// How many frets.
    #[schemars(range(min = 1, max = MOST_FRETS))]
    pub frets: usize,
}

/// What `frets` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FretsOutput {
    /// From the nut's front edge, mm, fret 1 first.
    pub positions_mm: Vec<f64>,
}

/// Fret positions of equal temperament.
///
/// # Errors
/// When the scale or the count is out of range.
pub fn frets(input: &FretsInput) -> Result<FretsOutput, Problems> {
    let mut problems = Problems::default();
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.require((1..=MOST_FRETS).contains(&input.frets), "/frets", format_args!("must be from 1 to {MOST_FRETS}"));
    problems.check()?;
    Ok(FretsOutput { positions_mm: (1..=input.frets).map(|fret| fret_position_mm(input.scale_mm, fret)).collect() })
}
