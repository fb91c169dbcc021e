//! The families of instruments and the styles of playing that targets are kept for.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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

/// Playing styles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum PlanStyle {
    Light,
    Medium,
    Strong,
}
