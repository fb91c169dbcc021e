//! Student's t and the normal distribution, for how far readings may stray.

use std::cell::RefCell;
use std::collections::HashMap;

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use crate::working::Working;

/// From here on the expansion about the normal is exact to ten digits.
const MANY: f64 = 500.0;
/// Quantiles that a thread keeps at most.
const MOST_KEPT: usize = 1000;
/// From here on Student's t is the normal.
pub(super) const LARGE_FREEDOM: f64 = 1e6;

/// The quantile t such that a share `p` lies below; `None` degrees of freedom means large (normal).
pub(super) fn quantile(p: f64, degrees_of_freedom: Option<f64>) -> f64 {
    match degrees_of_freedom {
        Some(freedom) if freedom > 0.0 && freedom < MANY => kept(p, freedom),
        Some(freedom) if (MANY..LARGE_FREEDOM).contains(&freedom) => {
            near_normal(Normal::standard().inverse_cdf(p), freedom)
        }
        _ => Normal::standard().inverse_cdf(p),
    }
}

/// Student's quantile from the thread's store. The library searches for each one, and every string of a bench
/// asks for the same few.
fn kept(p: f64, freedom: f64) -> f64 {
    thread_local! {
        static FOUND: RefCell<HashMap<(u64, u64), f64>> = RefCell::default();
    }
    FOUND.with_borrow_mut(|found| {
        if found.len() >= MOST_KEPT {
            found.clear();
        }
        *found
            .entry((p.to_bits(), freedom.to_bits()))
            .or_insert_with(|| StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(p)))
    })
}

/// Student's quantile from the normal one, z, at many degrees of freedom: Abramowitz and Stegun, Handbook of
/// Mathematical Functions, 26.7.5. What it leaves out is of the order of ν⁻⁵; the library's own search loses
/// four digits at a hundred thousand degrees of freedom.
fn near_normal(z: f64, freedom: f64) -> f64 {
    let q = z * z;
    let g1 = z * (q + 1.0) / 4.0;
    let g2 = z * ((5.0 * q + 16.0) * q + 3.0) / 96.0;
    let g3 = z * (((3.0 * q + 19.0) * q + 17.0) * q - 15.0) / 384.0;
    let g4 = z * ((((79.0 * q + 776.0) * q + 1482.0) * q - 1920.0) * q - 945.0) / 92_160.0;
    z + (g1 + (g2 + (g3 + g4 / freedom) / freedom) / freedom) / freedom
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
