//! The families of instruments and the styles of playing that targets are kept for.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::built::BridgeKind;

/// Families.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum PlanFamily {
    SteelString,
    Classical,
    Electric,
    Bass,
    Ukulele,
    Mandolin,
    Banjo,
    Other,
}

impl PlanFamily {
    /// What its bridge usually is; `None` where only a look tells. Common practice, no source.
    pub fn usual_bridge(self) -> Option<BridgeKind> {
        match self {
            Self::SteelString | Self::Classical | Self::Ukulele => Some(BridgeKind::FixedSaddle),
            Self::Electric | Self::Bass => Some(BridgeKind::ScrewSaddles),
            Self::Mandolin => Some(BridgeKind::TwoPost),
            Self::Banjo => Some(BridgeKind::LooseBridge),
            Self::Other => None,
        }
    }

    /// Whether a wooden top carries the bridge, so that the air moves the strings: nothing is taken off before it
    /// was read. An unknown instrument is taken to have one.
    pub(super) fn has_wooden_top(self) -> bool {
        !matches!(self, Self::Electric | Self::Bass | Self::Banjo)
    }

    /// Whether a braced top carries the strings.
    pub(super) fn has_braces(self) -> bool {
        !self.is_solid() && self != Self::Banjo
    }

    /// Whether its body is a solid plank: no braces, and no bridge glued to a top.
    pub(super) fn is_solid(self) -> bool {
        matches!(self, Self::Electric | Self::Bass)
    }
}

/// Playing styles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum PlanStyle {
    Light,
    Medium,
    Strong,
}
