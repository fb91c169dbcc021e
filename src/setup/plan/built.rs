//! How an instrument is built, as far as a plan asks: rod, bridge, neck joint, nut.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Truss rods.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PlanRod {
    /// None.
    None,
    /// Works against string pull only.
    OneWay,
    /// Works both ways.
    TwoWay,
}

/// What holds the strings' heights at the bridge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BridgeKind {
    /// A bar in a slot: lowered by taking off its foot or top.
    FixedSaddle,
    /// Each string its own screws.
    ScrewSaddles,
    /// Wheels or posts under one bridge.
    TwoPost,
    /// Stands on the top or a head, held by the strings.
    LooseBridge,
    /// Pivots against springs.
    Sprung,
}

/// Where two posts stand across.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PostPositions {
    /// On the side of string 1, mm from it; minus is outside.
    pub treble: f64,
    /// On the other side, mm from string 1.
    pub bass: f64,
}

/// How a neck is joined to its body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum NeckJoint {
    /// Glued in: its angle is a specialist's work.
    Glued,
    /// Bolted into a pocket: a shim changes its angle.
    Bolted,
    /// One piece with the body.
    Through,
    /// Held by rods that trim its angle.
    Rods,
}

/// Nuts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum NutKind {
    /// A slot for each string, filed.
    Slotted,
    /// The nut only guides: a fret before it carries the strings.
    ZeroFret,
    /// Holds the strings under clamps, and is raised and lowered as one.
    Clamping,
}
