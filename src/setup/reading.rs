//! `reading`: what repeated readings say, and how sure they are.
//!
//! JCGM 100:2008 (GUM): type A from the repeats (4.2), type B rectangular from scale step and tool limit
//! (4.3.7), combined (5.1.2), effective degrees of freedom by Welch–Satterthwaite (G.4.1), coverage
//! factor from Student's t at the degrees of freedom cut to a whole number (G.4.1 note 1), expanded
//! uncertainty reported with two digits (7.2.6). Outliers: Grubbs' test (Technometrics 11, 1969), two-sided.
//!
//! Where the tool's own repeatability is known from other readings, the repeats are pooled with it (4.2.4):
//! s² = (ν₀r² + Σ(x − x̄)²)/(ν₀ + n − 1). One reading is then no surer than two.

mod pooled;
pub(super) mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::limits::{HEIGHT_MM, MOST_REPEATS};
use super::spread::quantile;
use crate::problem::Problems;

pub(super) use pooled::check as check_repeatability;
pub use pooled::{Repeatability, pooled_repeatability};
pub use working::explain;

/// Chance of calling a good reading an outlier.
const OUTLIER_RISK: f64 = 0.05;
/// A share of the degrees of freedom that is only the computer's rounding.
pub(super) const FREEDOM_HAIR: f64 = 1e-12;
/// Repeats that differ by less are equal, mm: what is left is the computer's rounding.
const SAME_MM: f64 = 1e-9;

/// What `reading` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingInput {
    /// The repeats, mm. Relief may be negative.
    #[schemars(length(min = 1, max = MOST_REPEATS))]
    pub values_mm: Vec<f64>,
    /// Smallest step of the scale, mm.
    pub resolution_mm: f64,
    /// Half-width within which the tool is right, mm.
    #[serde(default)]
    pub tool_limit_mm: f64,
    /// Share of cases the expanded uncertainty covers.
    #[serde(default = "usual_coverage")]
    #[schemars(range(min = 0.5, max = 0.9999))]
    pub coverage: f64,
    /// How far single readings with this tool scatter: the standard deviation, mm, as other readings showed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability_mm: Option<f64>,
    /// How well that is known; needed with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability_degrees_of_freedom: Option<f64>,
}

impl ReadingInput {
    /// Repeats read with a tool of such a step and limit, mm, at the usual coverage.
    pub fn usual(values_mm: Vec<f64>, resolution_mm: f64, tool_limit_mm: f64) -> Self {
        Self {
            values_mm,
            resolution_mm,
            tool_limit_mm,
            coverage: usual_coverage(),
            repeatability_mm: None,
            repeatability_degrees_of_freedom: None,
        }
    }

    /// The same with what is known of the tool's scatter.
    #[must_use]
    pub fn with_repeatability(self, known: Repeatability) -> Self {
        Self {
            repeatability_mm: Some(known.standard_deviation_mm),
            repeatability_degrees_of_freedom: Some(known.degrees_of_freedom),
            ..self
        }
    }

    fn repeatability(&self) -> Option<Repeatability> {
        let (standard_deviation_mm, degrees_of_freedom) =
            self.repeatability_mm.zip(self.repeatability_degrees_of_freedom)?;
        Some(Repeatability { standard_deviation_mm, degrees_of_freedom })
    }
}

fn usual_coverage() -> f64 {
    0.95
}

/// What `reading` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadingOutput {
    /// Mean, mm.
    pub mean_mm: f64,
    /// Of one reading, mm, pooled with the tool's repeatability where that was given; null for a single one without.
    pub standard_deviation_mm: Option<f64>,
    /// Of the mean, tool included, mm.
    pub standard_uncertainty_mm: f64,
    /// Effective, not cut to a whole number; null is large.
    pub degrees_of_freedom: Option<f64>,
    /// Student's t for the coverage.
    pub coverage_factor: f64,
    /// Expanded uncertainty, mm.
    pub expanded_mm: f64,
    /// Place of a reading that Grubbs' test finds too far off; it is never dropped.
    pub outlier: Option<usize>,
    /// As printed.
    pub reported: Reported,
}

/// Value and expanded uncertainty to the same place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Reported {
    /// The value.
    pub value: String,
    /// The expanded uncertainty, two digits.
    pub expanded: String,
}

impl std::fmt::Display for Reported {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} ± {}", self.value, self.expanded)
    }
}

/// Mean and uncertainty of repeated readings.
///
/// # Errors
/// When there is no reading, or a number is out of range.
pub fn reading(input: &ReadingInput) -> Result<ReadingOutput, Problems> {
    let mut problems = Problems::default();
    problems.count("/values_mm", input.values_mm.len(), 1, MOST_REPEATS);
    for (place, value) in input.values_mm.iter().enumerate() {
        problems.within(format_args!("/values_mm/{place}"), *value, -10_000.0, 10_000.0);
    }
    problems.within("/resolution_mm", input.resolution_mm, 0.0, HEIGHT_MM.1);
    problems.within("/tool_limit_mm", input.tool_limit_mm, 0.0, HEIGHT_MM.1);
    problems.within("/coverage", input.coverage, 0.5, 0.9999);
    check_repeatability(&mut problems, "", input.repeatability_mm, input.repeatability_degrees_of_freedom);
    problems.check()?;

    let count = as_number(input.values_mm.len());
    let mean = input.values_mm.iter().sum::<f64>() / count;
    let own = own_deviation(&input.values_mm, mean);
    let type_a = TypeA::of(input, mean, own);
    let combined = combine(&type_a.with_tool(input));
    let coverage_factor = coverage_factor(input.coverage, combined.degrees_of_freedom);
    let expanded = coverage_factor * combined.standard_uncertainty;
    Ok(ReadingOutput {
        mean_mm: mean,
        standard_deviation_mm: type_a.deviation,
        standard_uncertainty_mm: combined.standard_uncertainty,
        degrees_of_freedom: combined.degrees_of_freedom,
        coverage_factor,
        expanded_mm: expanded,
        outlier: own.and_then(|deviation| outlier(&input.values_mm, mean, deviation)),
        reported: reported(mean, expanded),
    })
}

/// Standard deviation of the repeats alone; `None` of a single reading.
fn own_deviation(values: &[f64], mean: f64) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let deviation = (squares(values, mean) / (as_number(values.len()) - 1.0)).sqrt();
    Some(if deviation > SAME_MM { deviation } else { 0.0 })
}

/// Σ(x − x̄)².
fn squares(values: &[f64], mean: f64) -> f64 {
    values.iter().map(|value| (value - mean).powi(2)).sum()
}

/// What the repeats say, pooled with what is known of the tool.
#[derive(Debug, Clone, Copy)]
struct TypeA {
    /// Of one reading; `None` of a single one by a tool nothing is known of.
    deviation: Option<f64>,
    /// How well that is known.
    degrees_of_freedom: f64,
    /// How many.
    count: f64,
}

impl TypeA {
    fn of(input: &ReadingInput, mean: f64, own: Option<f64>) -> Self {
        let count = as_number(input.values_mm.len());
        let Some(known) = input.repeatability() else {
            return Self { deviation: own, degrees_of_freedom: (count - 1.0).max(1.0), count };
        };
        let degrees_of_freedom = known.degrees_of_freedom + count - 1.0;
        let squares = known.degrees_of_freedom * known.standard_deviation_mm.powi(2) + squares(&input.values_mm, mean);
        Self { deviation: Some((squares / degrees_of_freedom).sqrt()), degrees_of_freedom, count }
    }

    /// Of the mean.
    fn uncertainty(&self) -> f64 {
        self.deviation.unwrap_or(0.0) / self.count.sqrt()
    }

    /// What makes a mean unsure: the repeats, the scale's step, the tool's limit.
    fn with_tool(&self, input: &ReadingInput) -> [Contribution; 3] {
        [
            Contribution {
                standard_uncertainty: self.uncertainty(),
                degrees_of_freedom: Some(self.degrees_of_freedom),
            },
            Contribution { standard_uncertainty: input.resolution_mm / 12_f64.sqrt(), degrees_of_freedom: None },
            Contribution { standard_uncertainty: input.tool_limit_mm / 3_f64.sqrt(), degrees_of_freedom: None },
        ]
    }
}

/// One source of uncertainty, in the unit of the result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution {
    /// Its standard uncertainty times its sensitivity.
    pub standard_uncertainty: f64,
    /// How well that is known; `None` is large.
    pub degrees_of_freedom: Option<f64>,
}

/// Combines independent contributions: root sum of squares (GUM 5.1.2), degrees of freedom by
/// Welch–Satterthwaite (GUM G.4.1), not cut to a whole number; `None` is large.
pub fn combine(contributions: &[Contribution]) -> Contribution {
    let squares: f64 = contributions.iter().map(|part| part.standard_uncertainty.powi(2)).sum();
    let weighed: f64 = contributions
        .iter()
        .filter_map(|part| part.degrees_of_freedom.map(|freedom| part.standard_uncertainty.powi(4) / freedom))
        .sum();
    let degrees_of_freedom = (weighed > 0.0).then(|| squares * squares / weighed);
    Contribution {
        standard_uncertainty: squares.sqrt(),
        // nearly equal readings leave degrees of freedom without end
        degrees_of_freedom: degrees_of_freedom.filter(|freedom| freedom.is_finite()),
    }
}

/// Student's t that covers the stated share on both sides, at the degrees of freedom cut to a whole
/// number; the normal quantile where they are `None`.
pub fn coverage_factor(coverage: f64, degrees_of_freedom: Option<f64>) -> f64 {
    quantile(f64::midpoint(1.0, coverage), degrees_of_freedom.map(whole_freedom))
}

/// Cut to a whole number, with a hair, so that 4 computed as 3.999… stays 4.
pub(super) fn whole_freedom(degrees_of_freedom: f64) -> f64 {
    (degrees_of_freedom * (1.0 + FREEDOM_HAIR)).floor().max(1.0)
}

/// A value and its expanded uncertainty as a certificate prints them: two digits, the same place (GUM 7.2.6).
/// Without any uncertainty the value is printed to a thousandth.
pub fn reported(value: f64, expanded: f64) -> Reported {
    to_digits(value, expanded, |_| 2.0)
}

/// A value and its expanded uncertainty to the decimal that the uncertainty supports, as pages and words
/// print what somebody acts on: one digit of the uncertainty, two where it begins with 1 (J. R. Taylor,
/// *An Introduction to Error Analysis*, rules 2.5 and 2.9; from memory).
pub fn supported(value: f64, expanded: f64) -> Reported {
    to_digits(value, expanded, |leading| if leading < 1.95 { 2.0 } else { 1.0 })
}

/// `digits` of the uncertainty, by its leading figure from 1 to 10.
fn to_digits(value: f64, expanded: f64, digits: impl Fn(f64) -> f64) -> Reported {
    if !(expanded > 0.0 && expanded.is_finite()) {
        return Reported { value: format!("{:.3}", (value * 1000.0).round() / 1000.0 + 0.0), expanded: "0".to_owned() };
    }
    let power = expanded.log10().floor();
    let digits = digits(expanded / 10_f64.powf(power));
    let mut places = digits - 1.0 - power;
    // 0.0996 is 0.10 in two digits, not 0.100
    if digits > 1.0 && (expanded * 10_f64.powf(places)).round() >= 10_f64.powf(digits) {
        places -= 1.0;
    }
    let scale = 10_f64.powf(places);
    let shown = (0..=12_usize).find(|whole| as_number(*whole) >= places).unwrap_or(12);
    // adding 0 turns a rounded −0 into 0
    let rounded = |number: f64| (number * scale).round() / scale + 0.0;
    Reported { value: format!("{:.shown$}", rounded(value)), expanded: format!("{:.shown$}", rounded(expanded)) }
}

/// The largest distance from the mean, in standard deviations, that Grubbs' two-sided test lets pass
/// at a risk of 5 %; `None` below three readings.
pub fn grubbs_limit(readings: usize) -> Option<f64> {
    if readings < 3 {
        return None;
    }
    let count = as_number(readings);
    let t = grubbs_t(count);
    Some((count - 1.0) / count.sqrt() * (t * t / (count - 2.0 + t * t)).sqrt())
}

fn grubbs_t(count: f64) -> f64 {
    quantile(1.0 - OUTLIER_RISK / (2.0 * count), Some(count - 2.0))
}

fn outlier(values: &[f64], mean: f64, deviation: f64) -> Option<usize> {
    let limit = grubbs_limit(values.len())?;
    let distances = values.iter().map(|value| (value - mean).abs()).enumerate();
    let (place, farthest) = distances.max_by(|(_, one), (_, other)| one.total_cmp(other))?;
    (deviation > 0.0 && farthest / deviation > limit).then_some(place)
}

fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
