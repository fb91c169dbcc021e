//! How far a tool scatters in this shop's hands, from every place that was read more than once.
//!
//! Pooled variance, JCGM 100:2008 (GUM) 4.2.4: s² = ΣΣ(x − x̄)²/Σ(n − 1), each place about its own mean, with
//! Σ(n − 1) degrees of freedom. Places may have any number of repeats; a single reading tells nothing.

use super::{as_number, squares};
use crate::problem::Problems;

/// Scatter of single readings, mm.
const REPEATABILITY_MM: (f64, f64) = (0.0, 5.0);
/// Degrees of freedom of that: from one pair of readings to any number of them.
const DEGREES_OF_FREEDOM: (f64, f64) = (1.0, 1e6);

/// How far single readings of one tool scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// Of one reading, mm.
    pub standard_deviation_mm: f64,
    /// How well that is known.
    pub degrees_of_freedom: f64,
}

/// The scatter of a tool from the repeats at many places, mm; `None` where no place was read twice.
pub fn pooled_repeatability<'a>(places: impl IntoIterator<Item = &'a [f64]>) -> Option<Repeatability> {
    let (mut sum, mut degrees_of_freedom) = (0.0, 0.0);
    for values in places.into_iter().filter(|values| values.len() > 1) {
        let count = as_number(values.len());
        sum += squares(values, values.iter().sum::<f64>() / count);
        degrees_of_freedom += count - 1.0;
    }
    let standard_deviation_mm = (sum / degrees_of_freedom).sqrt();
    (degrees_of_freedom > 0.0).then_some(Repeatability { standard_deviation_mm, degrees_of_freedom })
}

/// Both are given, or neither.
pub(in crate::setup) fn check(problems: &mut Problems, under: &str, mm: Option<f64>, degrees_of_freedom: Option<f64>) {
    let (least, most) = REPEATABILITY_MM;
    problems.within_if_given(format_args!("{under}/repeatability_mm"), mm, least, most);
    let (least, most) = DEGREES_OF_FREEDOM;
    let at = format_args!("{under}/repeatability_degrees_of_freedom");
    problems.within_if_given(at, degrees_of_freedom, least, most);
    problems.require(mm.is_none() || degrees_of_freedom.is_some(), at, "is needed with repeatability_mm");
    let at = format_args!("{under}/repeatability_mm");
    problems.require(degrees_of_freedom.is_none() || mm.is_some(), at, "is needed with its degrees of freedom");
}
