//! `string-spacing`: strings of different thickness with equal gaps between them, as a nut is laid out.
//!
//! Equal steps between centres crowd the thick strings. Here the clear space is equal: the distance of the
//! outer centres less all the wood that strings take, shared evenly.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::limits::{DIAMETER_MM, MOST_STRINGS};
use crate::problem::Problems;
use crate::working::{Working, Workings};

/// What `string-spacing` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StringSpacingInput {
    /// Between the centres of the outer strings, mm.
    pub outer_centres_mm: f64,
    /// Of each string in its order across, mm.
    pub diameters_mm: Vec<f64>,
}

/// What `string-spacing` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringSpacingOutput {
    /// Centre of each string from the first's, mm.
    pub positions_mm: Vec<f64>,
    /// Clear space between neighbours, mm.
    pub gap_mm: f64,
}

/// Centres with equal gaps.
///
/// # Errors
/// When a number is out of range, or the strings are thicker together than the space for them.
pub fn string_spacing(input: &StringSpacingInput) -> Result<StringSpacingOutput, Problems> {
    let mut problems = Problems::default();
    problems.within("/outer_centres_mm", input.outer_centres_mm, 1.0, 500.0);
    problems.count("/diameters_mm", input.diameters_mm.len(), 2, MOST_STRINGS);
    for (place, diameter) in input.diameters_mm.iter().enumerate() {
        problems.within(format_args!("/diameters_mm/{place}"), *diameter, DIAMETER_MM.0, DIAMETER_MM.1);
    }
    problems.check()?;
    let steps = steps(input);
    let taken: f64 = steps.iter().sum();
    problems.require(
        input.outer_centres_mm > taken,
        "/outer_centres_mm",
        format_args!("must be more than the strings themselves take: {taken} mm"),
    );
    problems.check()?;
    let gaps = f64::from(u32::try_from(steps.len()).unwrap_or(u32::MAX));
    let gap_mm = (input.outer_centres_mm - taken) / gaps;
    let mut positions_mm = vec![0.0];
    let mut at = 0.0;
    for step in steps {
        at += step + gap_mm;
        positions_mm.push(at);
    }
    Ok(StringSpacingOutput { positions_mm, gap_mm })
}

/// Wood taken between neighbouring centres, mm: half of each string.
fn steps(input: &StringSpacingInput) -> Vec<f64> {
    input.diameters_mm.windows(2).map(|pair| f64::midpoint(pair[0], pair[1])).collect()
}

/// The working of every number.
pub fn explain(input: &StringSpacingInput, output: &StringSpacingOutput, workings: &mut Workings) {
    const SHARED: &str = "equal gaps: derived here";
    let steps = steps(input);
    let gaps = f64::from(u32::try_from(steps.len()).unwrap_or(u32::MAX));
    workings.figure("/gap_mm", || {
        let told = Working::new("/gap_mm", "clear space between neighbours", "g = (W − Σ(sᵢ))/n")
            .put("W", "between the outer centres", input.outer_centres_mm, "mm")
            .put_each("s", "half of each of the two strings at gap", steps.iter().copied(), "mm")
            .put("n", "gaps", gaps, "")
            .gives(output.gap_mm, "mm", SHARED);
        vec![told]
    });
    for (place, position) in output.positions_mm.iter().enumerate().skip(1) {
        let at = format!("/positions_mm/{place}");
        workings.figure(&at, || {
            let before = f64::from(u32::try_from(place).unwrap_or(u32::MAX));
            let told = Working::new(at.as_str(), format!("centre of string {}", place + 1), "p = Σ(sᵢ) + k·g")
                .put_each("s", "half of each of the two strings at gap", steps.iter().copied().take(place), "mm")
                .put("k", "gaps before it", before, "")
                .put("g", "clear space between neighbours", output.gap_mm, "mm")
                .gives(*position, "mm", SHARED);
            vec![told]
        });
    }
}
