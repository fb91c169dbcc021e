//! Student's t and the normal distribution, for how far readings may stray.

use crate::working::Working;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// From here on Student's t is the normal.
pub(super) const LARGE_FREEDOM: f64 = 1e6;

/// The quantile t such that a share `p` lies below; `None` degrees of freedom means large (normal).
pub(super) fn quantile(p: f64, degrees_of_freedom: Option<f64>) -> f64 {
    match degrees_of_freedom {
        Some(freedom) if freedom.is_finite() && freedom > 0.0 && freedom < LARGE_FREEDOM => {
            StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(p))
        }
        _ => Normal::standard().inverse_cdf(p),
    }
}

/// How a quantile came about: `share` is the formula of the share below, its symbol and what that means.
pub(super) fn quantile_working(
    of: String,
    what: String,
    symbol: &str,
    (share, share_symbol, meaning): (&str, &str, &str),
    (share_value, degrees_of_freedom): (f64, Option<f64>),
    result: f64,
) -> Working {
    match degrees_of_freedom.filter(|freedom| *freedom < LARGE_FREEDOM) {
        Some(freedom) => Working::new(of, format!("{what}, Student's t"), format!("{symbol} = student({share}, ν)"))
            .put(share_symbol, meaning, share_value, "")
            .put("ν", "degrees of freedom", freedom, "")
            .gives(result, "", "Student's t-distribution; JCGM 100:2008 (GUM) G.3"),
        None => Working::new(of, format!("{what}, of the normal distribution"), format!("{symbol} = normal({share})"))
            .put(share_symbol, meaning, share_value, "")
            .gives(result, "", "normal distribution; JCGM 100:2008 (GUM) G.2"),
    }
}
