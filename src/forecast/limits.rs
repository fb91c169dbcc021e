//! How sure a share is: so many of so many, with 95 % limits.
//!
//! Wilson's limits (J. Am. Stat. Assoc. 22, 1927) keep their 95 % on average and stay narrow: they are what a
//! figure is shown with. Clopper and Pearson's (Biometrika 26, 1934) keep at least 95 % whatever the truth is:
//! a verdict is spoken by them. Both treat the cases as independent of each other.

use serde::{Deserialize, Serialize};
use statrs::function::beta::beta_reg;

/// In each tail of an interval.
pub const TAIL: f64 = 0.025;
/// The normal quantile that leaves [`TAIL`] above it.
pub const NORMAL_QUANTILE: f64 = 1.959_963_984_540_054;

/// So many of so many.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// How many.
    pub count: u64,
    /// Of how many.
    pub of: u64,
    /// The one through the other.
    pub share: f64,
    /// Wilson's 95 % limits: least and most.
    pub limits: [f64; 2],
}

impl Share {
    /// `None` of none: there is no share then.
    pub fn new(count: u64, of: u64) -> Option<Self> {
        let share = as_number(count) / as_number(of);
        (of > 0 && count <= of).then(|| Self { count, of, share, limits: wilson(count, of) })
    }

    /// Whether a stated share is ruled out by these cases, at 5 %, exactly: it lies outside Clopper and
    /// Pearson's limits.
    pub fn rules_out(&self, stated: f64) -> bool {
        let [least, most] = clopper_pearson(self.count, self.of);
        stated < least || stated > most
    }
}

/// Wilson's 95 % limits of `count` of `of`, least and most; `of` must not be 0.
pub fn wilson(count: u64, of: u64) -> [f64; 2] {
    let (k, n, z) = (as_number(count), as_number(of), NORMAL_QUANTILE);
    let half = z * (k * (n - k) / n + z * z / 4.0).sqrt();
    let end = |side: f64| (k + z * z / 2.0 + side * half) / (n + z * z);
    // where none or all count, the limit is that end itself, not a rounding hair beside it
    [if count == 0 { 0.0 } else { end(-1.0) }, if count == of { 1.0 } else { end(1.0) }]
}

/// Clopper and Pearson's exact 95 % limits of `count` of `of`, least and most.
pub fn clopper_pearson(count: u64, of: u64) -> [f64; 2] {
    let (k, n) = (as_number(count), as_number(of));
    let least = if count > 0 { beta_quantile(TAIL, k, n - k + 1.0) } else { 0.0 };
    let most = if count < of { beta_quantile(1.0 - TAIL, k + 1.0, n - k) } else { 1.0 };
    [least, most]
}

/// How likely `of` cases are to show that a stated share does not hold, if the share is `truly` another: the
/// power of the verdict of [`Share::rules_out`].
pub fn power(of: u64, stated: f64, truly: f64) -> f64 {
    // ruled out from below by so few, and from above by so many
    let too_few = |count: u64| at_most(count, of, stated) < TAIL;
    let too_many = |count: u64| 1.0 - at_most(count, of, stated) < TAIL;
    let few = first(of + 1, |count| !too_few(count));
    let many = first(of + 1, too_many);
    let below = if few > 0 { at_most(few - 1, of, truly) } else { 0.0 };
    below + 1.0 - at_most(many, of, truly)
}

/// The first of `0..end` that holds, where all after it hold too; `end` where none does.
pub(super) fn first(end: u64, holds: impl Fn(u64) -> bool) -> u64 {
    let (mut from, mut until) = (0, end);
    while from < until {
        let middle = u64::midpoint(from, until);
        if holds(middle) { until = middle } else { from = middle + 1 }
    }
    from
}

/// Chance of at most `count` of `of`, each with a share of `p`: the binomial distribution.
pub fn at_most(count: u64, of: u64, p: f64) -> f64 {
    if count >= of { 1.0 } else { beta_reg(as_number(of - count), as_number(count + 1), 1.0 - p) }
}

/// Where the beta distribution reaches `p`, by bisection: it rises.
fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let (mut least, mut most) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = f64::midpoint(least, most);
        if beta_reg(a, b, middle) < p { least = middle } else { most = middle }
    }
    f64::midpoint(least, most)
}

fn as_number(count: u64) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
