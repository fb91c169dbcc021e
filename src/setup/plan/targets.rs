//! The house's target values: data of the trade, which an owner edits as text. Common practice, no source.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::families::{PlanFamily, PlanStyle};
use crate::problem::Problems;

macro_rules! targets {
    ($($(#[$doc:meta])* $name:ident: $kind:ty),+ $(,)?) => {
        /// Target values for one family and playing style.
        #[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct Targets { $($(#[$doc])* pub $name: $kind),+ }

        /// Wishes of one job; what is absent is the house's.
        #[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields, default)]
        pub struct TargetsGiven {
            $($(#[$doc])* #[serde(skip_serializing_if = "Option::is_none")] pub $name: Option<$kind>),+
        }

        impl Targets {
            /// These, with a job's wishes over them.
            pub fn with(self, given: &TargetsGiven) -> Self {
                Self { $($name: given.$name.unwrap_or(self.$name)),+ }
            }
        }
    };
}

targets! {
    /// Height over fret 12 at string 1, mm.
    action_12_treble_mm: f64,
    /// Height over fret 12 at the last string, mm.
    action_12_bass_mm: f64,
    /// Within this of the target a height is left alone, mm.
    action_tolerance_mm: f64,
    /// Relief, least, mm.
    relief_least_mm: f64,
    /// Relief, wished, mm.
    relief_mm: f64,
    /// Relief, most, mm.
    relief_most_mm: f64,
    /// Gap over fret 1 stopped at 3, least, mm.
    gap_least_mm: f64,
    /// Gap over fret 1 stopped at 3, wished, mm.
    gap_mm: f64,
    /// Gap over fret 1 stopped at 3, most, mm.
    gap_most_mm: f64,
    /// Open height over fret 1 at string 1, mm.
    first_fret_treble_mm: f64,
    /// Open height over fret 1 at the last string, mm.
    first_fret_bass_mm: f64,
    /// Within this of the target an open height is left alone, mm.
    first_fret_tolerance_mm: f64,
    /// Saddle that must stay above the bridge, mm.
    least_showing_mm: f64,
    /// Error at the 12th that is left alone, cents.
    cents_tolerance: f64,
}

/// Everything the house decides for the engine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HouseTargets {
    /// Moisture limits.
    pub air: AirTargets,
    /// Bench habits.
    pub bench: BenchTargets,
    /// Family → its targets by style.
    pub families: BTreeMap<PlanFamily, FamilyTargets>,
}

/// Relative humidity, %.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AirTargets {
    /// Wished.
    pub target_rh_percent: f64,
    /// Within these nothing is said.
    pub good_rh_percent: [f64; 2],
    /// Within these it is watched; outside, the instrument recovers first.
    pub watch_rh_percent: [f64; 2],
}

/// Bench habits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BenchTargets {
    /// Risk of taking too much in a first pass.
    pub first_pass_risk: f64,
    /// The file's step, mm.
    pub step_mm: f64,
    /// Standard uncertainty of a cut, mm.
    pub cut_uncertainty_mm: f64,
    /// One shim, mm.
    pub shim_mm: f64,
}

/// One family.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FamilyTargets {
    /// Stood in texts from before an instrument said what its bridge is; it is no longer asked.
    #[serde(default, skip_serializing)]
    pub saddle_turns: Option<bool>,
    /// Soft playing.
    pub light: Targets,
    /// Most people.
    pub medium: Targets,
    /// A hard pick.
    pub strong: Targets,
}

impl HouseTargets {
    /// Reads the owner's text (TOML) and checks every value.
    ///
    /// # Errors
    /// Words that name the line or the value.
    pub fn read(text: &str) -> Result<Self, String> {
        let house: Self = toml::from_str(text).map_err(|cause| cause.to_string())?;
        house.check().map_err(|problems| problems.to_string())?;
        Ok(house)
    }

    /// The targets of a family and style.
    pub fn of(&self, family: PlanFamily, style: PlanStyle) -> Option<Targets> {
        let family = self.families.get(&family).or_else(|| self.families.get(&PlanFamily::Other))?;
        Some(match style {
            PlanStyle::Light => family.light,
            PlanStyle::Medium => family.medium,
            PlanStyle::Strong => family.strong,
        })
    }

    fn check(&self) -> Result<(), Problems> {
        let mut problems = Problems::default();
        let [good_least, good_most] = self.air.good_rh_percent;
        let [watch_least, watch_most] = self.air.watch_rh_percent;
        let rising = watch_least >= 0.0
            && watch_least <= good_least
            && good_least < good_most
            && good_most <= watch_most
            && watch_most <= 100.0;
        problems.require(rising, "air", "limits must lie in one another, from 0 to 100 %");
        if rising {
            problems.within("air.target_rh_percent", self.air.target_rh_percent, good_least, good_most);
        }
        problems.within("bench.first_pass_risk", self.bench.first_pass_risk, 0.0001, 0.5);
        problems.within("bench.step_mm", self.bench.step_mm, 0.001, 1.0);
        problems.within("bench.cut_uncertainty_mm", self.bench.cut_uncertainty_mm, 0.0, 1.0);
        problems.within("bench.shim_mm", self.bench.shim_mm, 0.01, 5.0);
        problems.require(
            self.families.contains_key(&PlanFamily::Other),
            "families.other",
            "is needed for what has no family",
        );
        for (family, targets) in &self.families {
            for (style, targets) in
                [("light", &targets.light), ("medium", &targets.medium), ("strong", &targets.strong)]
            {
                targets.check(&mut problems, &format!("families.{family:?}.{style}"));
            }
        }
        problems.check()
    }
}

impl Targets {
    pub(super) fn check(&self, problems: &mut Problems, at: &str) {
        problems.within(format_args!("{at}/action_12_treble_mm"), self.action_12_treble_mm, 0.2, 20.0);
        problems.within(format_args!("{at}/action_12_bass_mm"), self.action_12_bass_mm, 0.2, 20.0);
        problems.within(format_args!("{at}/action_tolerance_mm"), self.action_tolerance_mm, 0.0, 2.0);
        let reliefs = [self.relief_least_mm, self.relief_mm, self.relief_most_mm];
        problems.require(
            ordered(&reliefs, -1.0, 3.0),
            format_args!("{at}/relief_mm"),
            "least, wished and most must rise, from -1 to 3 mm",
        );
        let gaps = [self.gap_least_mm, self.gap_mm, self.gap_most_mm];
        problems.require(
            ordered(&gaps, 0.0, 3.0),
            format_args!("{at}/gap_mm"),
            "least, wished and most must rise, from 0 to 3 mm",
        );
        problems.within(format_args!("{at}/first_fret_treble_mm"), self.first_fret_treble_mm, 0.0, 5.0);
        problems.within(format_args!("{at}/first_fret_bass_mm"), self.first_fret_bass_mm, 0.0, 5.0);
        problems.within(format_args!("{at}/first_fret_tolerance_mm"), self.first_fret_tolerance_mm, 0.0, 2.0);
        problems.within(format_args!("{at}/least_showing_mm"), self.least_showing_mm, 0.0, 20.0);
        problems.within(format_args!("{at}/cents_tolerance"), self.cents_tolerance, 0.0, 50.0);
    }
}

fn ordered(values: &[f64], least: f64, most: f64) -> bool {
    values.windows(2).all(|pair| pair[0] <= pair[1]) && values.iter().all(|value| (least..=most).contains(value))
}
