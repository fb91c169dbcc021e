//! What a string does to the bridge it passes over: plain statics of a bent, tight string.
//!
//! Angles are below the horizontal, before and behind the saddle. Friction by the capstan equation
//! (Euler–Eytelwein); coefficients on strings: Groves and Kemp, Archives of Acoustics (2019), abstract.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;

/// Greatest friction found between a plain string and its bearing (Groves and Kemp).
pub const FRICTION_PLAIN: f64 = 0.17;
/// The same of a wound string.
pub const FRICTION_WOUND: f64 = 0.26;

/// How a string comes down on both sides of a saddle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BreakAngle {
    /// Towards the nut, degrees below the horizontal.
    pub front_degrees: f64,
    /// Towards pins, tie or tail, degrees below the horizontal.
    pub back_degrees: f64,
}

impl BreakAngle {
    /// Both together, degrees.
    pub fn whole_degrees(self) -> f64 {
        self.front_degrees + self.back_degrees
    }

    /// Pressed down on the saddle by a tension, N.
    pub fn down_n(self, tension_n: f64) -> f64 {
        tension_n * (self.front_degrees.to_radians().sin() + self.back_degrees.to_radians().sin())
    }

    /// Pushed along: plus leans the saddle towards the nut, N.
    pub fn towards_nut_n(self, tension_n: f64) -> f64 {
        tension_n * (self.front_degrees.to_radians().cos() - self.back_degrees.to_radians().cos())
    }

    /// Along the bisector, without friction, N.
    pub fn resultant_n(self, tension_n: f64) -> f64 {
        2.0 * tension_n * (self.whole_degrees() / 2.0).to_radians().sin()
    }

    /// The least the far side can pull while friction keeps the string from slipping, N.
    pub fn least_beyond_n(self, tension_n: f64, friction: f64) -> f64 {
        tension_n * (-friction * self.whole_degrees().to_radians()).exp()
    }

    pub(super) fn check(self, problems: &mut Problems, at: &str) {
        problems.within(format_args!("{at}/front_degrees"), self.front_degrees, -10.0, 60.0);
        problems.within(format_args!("{at}/back_degrees"), self.back_degrees, 0.0, 90.0);
        problems.require(
            self.whole_degrees() > 0.0,
            format_args!("{at}/back_degrees"),
            "must bend the string down in all",
        );
    }
}

/// An angle from its fall and run, degrees.
pub fn angle_degrees(fall_mm: f64, run_mm: f64) -> f64 {
    fall_mm.atan2(run_mm).to_degrees()
}

/// What a pull does that many mm over the top: a turning moment on a tied or pinned bridge, N·m.
pub fn turning_moment_nm(tension_n: f64, height_over_top_mm: f64) -> f64 {
    tension_n * height_over_top_mm / 1000.0
}
