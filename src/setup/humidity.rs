//! `humidity`: the air in which wood comes to a moisture content, such as one that was weighed out or read by a meter.
//!
//! The equation of `air` (Wood Handbook FPL-GTR-282, eq. 4-5) turned round by bisection: it rises with the humidity.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::air::{equivalent_rh_percent, is_in_table, moisture_content_percent, working as air_working};
use crate::problem::Problems;
use crate::working::{Working, Workings};

/// What `humidity` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HumidityInput {
    /// °C.
    #[schemars(range(min = -40.0, max = 60.0))]
    pub temperature_c: f64,
    /// Of the wood, % of ovendry mass; no more than the dampest air of this temperature gives it.
    #[schemars(range(min = 0.0, max = 40.0))]
    pub moisture_content_percent: f64,
}

/// What `humidity` answers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HumidityOutput {
    /// Relative humidity in which the wood would stay as it is, %.
    pub rh_percent: f64,
    /// Whether that air lies outside the handbook's table (5 to 95 %, from −1.1 °C).
    pub outside_table: bool,
}

/// The humidity that goes with a moisture content.
///
/// # Errors
/// When a number is out of range, or no air of this temperature gives wood so much moisture.
pub fn humidity(input: &HumidityInput) -> Result<HumidityOutput, Problems> {
    let mut problems = Problems::default();
    problems.within("/temperature_c", input.temperature_c, -40.0, 60.0);
    problems.check()?;
    let most = moisture_content_percent(input.temperature_c, 100.0);
    problems.require(
        (0.0..=most).contains(&input.moisture_content_percent),
        "/moisture_content_percent",
        format_args!("must be from 0 to {most:.1}: no air of this temperature gives wood more"),
    );
    problems.check()?;
    let rh_percent = equivalent_rh_percent(input.temperature_c, input.moisture_content_percent);
    Ok(HumidityOutput { rh_percent, outside_table: !is_in_table(input.temperature_c, rh_percent) })
}

/// The working: the equation that the answer meets.
pub fn explain(input: &HumidityInput, output: &HumidityOutput, workings: &mut Workings) {
    workings.figure("/rh_percent", || {
        let there = moisture_content_percent(input.temperature_c, output.rh_percent);
        let mut chain = air_working::moisture("", input.temperature_c, output.rh_percent, there);
        chain.push(
            Working::new("/rh_percent", "humidity in which the wood stays as it is, found by halving", "M(φ) = M")
                .put("M(φ)", "moisture content in that air", there, "%")
                .put("M", "moisture content of the wood", input.moisture_content_percent, "%")
                .gives(output.rh_percent, "%", "Wood Handbook FPL-GTR-282 (2021), eq. (4-5)"),
        );
        chain
    });
}
