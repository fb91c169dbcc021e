//! What `string-change` takes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::setup::clearance::StringHeights;
use crate::setup::plan::PlanFamily;
use crate::setup::statics::{BreakAngle, FRICTION_PLAIN, FRICTION_WOUND};
use crate::setup::tension::{Material, standard_pitch};

/// What `string-change` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StringChangeInput {
    /// Nominal scale, mm.
    pub scale_mm: f64,
    /// How many frets.
    #[serde(default = "usual_frets")]
    pub frets: usize,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    pub a4_hz: f64,
    /// What the instrument is, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub family: Option<PlanFamily>,
    /// The strings on it, string 1 first.
    pub now: Vec<ChangeString>,
    /// Those to come, as many, in the same order.
    pub next: Vec<ChangeString>,
    /// Heights of each string, where read: set-backs need them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heights: Option<Vec<StringHeights>>,
    /// Relief as it is, mm.
    #[serde(default)]
    pub relief_mm: f64,
    /// Fret at the body joint; needed with relief, and for an amount of relief to come.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body_fret: Option<usize>,
    /// What earlier changes of pull did to this neck.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub relief_pairs: Vec<ReliefPair>,
    /// How the strings come down on both sides of the saddle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub break_angle: Option<BreakAngle>,
    /// Strings over the top at the bridge, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_over_top_mm: Option<f64>,
}

fn usual_frets() -> usize {
    20
}

/// One string of a set.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeString {
    /// "E2", "F#3", "Bb1".
    pub pitch: String,
    /// Of the string, or of its core.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<Material>,
    /// Outer diameter, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
    /// Whether it is wound; it is when it has a core or a wrap.
    #[serde(default)]
    pub wound: bool,
    /// Core of a wound string, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub core_diameter_mm: Option<f64>,
    /// Wire of the wrap, mm; half of what the core leaves when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrap_diameter_mm: Option<f64>,
    /// What is wrapped round; bronze when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrap_metal: Option<WrapMetal>,
    /// Stated or weighed, g/m; wins over everything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub linear_density_g_m: Option<f64>,
    /// Of this string, where it is not the instrument's, mm: a banjo's fifth, fanned frets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_mm: Option<f64>,
}

/// What a string is wound with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WrapMetal {
    /// 8800 kg/m³ (from memory).
    Bronze,
    /// Plated or stainless, 7850 kg/m³.
    Steel,
}

impl WrapMetal {
    pub(super) fn density_kg_m3(self) -> f64 {
        match self {
            Self::Bronze => 8800.0,
            Self::Steel => 7850.0,
        }
    }
}

impl ChangeString {
    /// The wrap's wire, mm: as stated, or half of what the core leaves.
    pub(super) fn wrap_mm(&self) -> Option<f64> {
        let of_outer = self.diameter_mm.zip(self.core_diameter_mm).map(|(outer, core)| (outer - core) / 2.0);
        self.wrap_diameter_mm.or(of_outer)
    }

    pub(super) fn wrap_kg_m3(&self) -> f64 {
        self.wrap_metal.unwrap_or(WrapMetal::Bronze).density_kg_m3()
    }

    pub(super) fn friction(&self) -> f64 {
        if self.is_wound() { FRICTION_WOUND } else { FRICTION_PLAIN }
    }

    pub(super) fn is_wound(&self) -> bool {
        self.wound || self.core_diameter_mm.is_some() || self.wrap_diameter_mm.is_some() || self.wrap_metal.is_some()
    }
}

/// The relief before and after one change of pull on this instrument.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReliefPair {
    /// All strings before, N.
    pub pull_before_n: f64,
    /// All strings after, N.
    pub pull_after_n: f64,
    /// mm.
    pub relief_before_mm: f64,
    /// The rod untouched, mm.
    pub relief_after_mm: f64,
}
