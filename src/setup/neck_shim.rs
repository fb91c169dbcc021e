//! A shim under a bolted neck: how thick it is for what the strings are to come down or up at the saddle.
//!
//! The heel pivots on the edge of its pocket opposite the shim. With the pocket's edges F (front) and R (rear) and
//! the saddle at x_S: θ = Δ/(x_S − F) where the rear is shimmed (the neck tilts back and the strings come down),
//! θ = Δ/(x_S − R) where the front is. A taper over the whole pocket is t = θ·(R − F) thick at its thick end and
//! nothing at the other; a strip of width w against the edge is t = θ·(R − F − w). Similar triangles.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;
use crate::setup::limits::SCALE_MM;

/// From the pocket's front edge to its rear, where nobody measured it, mm. Common practice, no source.
pub const USUAL_POCKET_MM: f64 = 76.0;

/// The pocket's edges along the string.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NeckPocket {
    /// The edge towards the nut, mm from the nut's front edge.
    pub front: f64,
    /// The edge towards the saddle, mm from the nut's front edge.
    pub rear: f64,
}

/// Which edge of the pocket a shim lies against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShimAt {
    /// The neck tilts back and the strings come down.
    Rear,
    /// The neck tilts forward and the strings come up.
    Front,
}

impl NeckPocket {
    /// Angle of the neck, radians, and the thickness of a shim, mm, for `saddle_change_mm` at a saddle `saddle_at_mm`
    /// from the nut. A strip is `strip_mm` wide; 0 is a taper over the whole pocket.
    pub fn shim(self, at: ShimAt, saddle_change_mm: f64, saddle_at_mm: f64, strip_mm: f64) -> (f64, f64) {
        let angle = saddle_change_mm / (saddle_at_mm - self.pivot_mm(at));
        (angle, angle * (self.rear - self.front - strip_mm))
    }

    /// The edge on which the heel pivots, mm from the nut.
    pub(super) fn pivot_mm(self, at: ShimAt) -> f64 {
        match at {
            ShimAt::Rear => self.front,
            ShimAt::Front => self.rear,
        }
    }

    pub(super) fn check(self, problems: &mut Problems, at: &str, saddle_at_mm: f64) {
        problems.within(format_args!("{at}/front"), self.front, 0.0, SCALE_MM.1);
        problems.within(format_args!("{at}/rear"), self.rear, 0.0, SCALE_MM.1);
        problems.require(
            self.front < self.rear && self.rear < saddle_at_mm,
            at,
            "must have its front edge before its rear, and both before the saddle",
        );
    }
}
