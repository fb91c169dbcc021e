//! Student's t and the normal distribution, for how far readings may stray.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// The quantile t such that a share `p` lies below; `None` degrees of freedom means large (normal).
pub(super) fn quantile(p: f64, degrees_of_freedom: Option<f64>) -> f64 {
    match degrees_of_freedom {
        Some(freedom) if freedom.is_finite() && freedom > 0.0 && freedom < 1e6 => {
            StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(p))
        }
        _ => Normal::standard().inverse_cdf(p),
    }
}
