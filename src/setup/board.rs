//! The board across its strings: a cylinder or a cone, and how far it falls away from its middle line.
//!
//! Circle geometry: fall R − √(R² − w²). A compound board is a cone: R(x) = R_nut + (R_end − R_nut)·x/x_end,
//! also beyond its end to the saddle. The strings are taken to lie evenly about the board's middle line.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;

/// Radii of boards, mm: from rounder than any bass to flatter than a file can tell.
const RADIUS_MM: (f64, f64) = (50.0, 100_000.0);

/// A board's radius at its two ends; equal ends are a cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardRadius {
    /// At the nut, mm.
    pub nut: f64,
    /// At the board's end, mm.
    pub end: f64,
    /// Where that end is, mm from the nut.
    pub end_at_mm: f64,
}

impl BoardRadius {
    /// The radius at x, mm from the nut; also beyond the board's end.
    pub fn at_mm(self, x_mm: f64) -> f64 {
        self.nut + (self.end - self.nut) * x_mm / self.end_at_mm
    }

    /// Strings that spread by `widest_mm` must find a board under them from the nut to `far_mm`.
    pub(super) fn check_spread(self, problems: &mut Problems, at: &str, far_mm: f64, widest_mm: f64) {
        problems.require(
            self.nut.min(self.at_mm(far_mm)) > widest_mm / 2.0,
            at,
            "must be more than half of what the strings spread, at the nut and on to the saddle",
        );
    }

    pub(super) fn check(self, problems: &mut Problems, at: &str) {
        problems.within(format_args!("{at}/nut"), self.nut, RADIUS_MM.0, RADIUS_MM.1);
        problems.within(format_args!("{at}/end"), self.end, RADIUS_MM.0, RADIUS_MM.1);
        problems.within(format_args!("{at}/end_at_mm"), self.end_at_mm, 50.0, 3000.0);
    }
}

/// How far an arc lies below its top at a distance from its middle, mm. The distance must not exceed the radius.
pub fn fall_mm(radius_mm: f64, from_middle_mm: f64) -> f64 {
    // R − √(R² − w²), without the cancellation of a large radius
    let squared = from_middle_mm * from_middle_mm;
    squared / (radius_mm + (radius_mm * radius_mm - squared).sqrt())
}

/// How far an arc stands, at a distance from its middle, over the chord of the outer strings, mm.
pub fn over_chord_mm(radius_mm: f64, from_middle_mm: f64, outer_mm: f64) -> f64 {
    fall_mm(radius_mm, outer_mm) - fall_mm(radius_mm, from_middle_mm)
}

/// How far the board stands, half-way, over the straight line under a string that fans out, mm. 0 on a cone
/// whose radius grows as the spacing does; a cylinder stands over it. Radii and distances from the middle
/// line, each at the nut and at the saddle.
pub fn over_fanned_line_mm(radius_mm: (f64, f64), from_middle_mm: (f64, f64)) -> f64 {
    let ends = f64::midpoint(fall_mm(radius_mm.0, from_middle_mm.0), fall_mm(radius_mm.1, from_middle_mm.1));
    let middle = f64::midpoint(from_middle_mm.0, from_middle_mm.1);
    ends - fall_mm(f64::midpoint(radius_mm.0, radius_mm.1), middle)
}
