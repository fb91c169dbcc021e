//! What turning the rod did to the 12th-fret height in this shop: its own before-and-after pairs, beside the two
//! models. They are shown, and no amount is cut by them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::problem::Problems;
use crate::setup::limits::{HEIGHT_MM, SIGNED_MM};
use crate::setup::reading::{coverage_factor, supported};
use crate::working::Working;

/// Pairs of one shop, at most.
const MOST_PAIRS: usize = 100;
/// Pairs from which something is told. Chosen here.
const LEAST_PAIRS: usize = 3;
/// A rod that moved relief by less says nothing: the gauge's error is all one sees, mm. Chosen here.
const LEAST_CHANGE_MM: f64 = 0.03;
/// Share of cases that an expanded uncertainty covers.
const COVERAGE: f64 = 0.95;

/// Relief and 12th-fret height before and after a rod was turned and nothing else was touched; the heights are
/// means over the strings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RodPair {
    /// mm.
    pub relief_before_mm: f64,
    /// mm.
    pub relief_after_mm: f64,
    /// mm.
    pub action_12_before_mm: f64,
    /// mm.
    pub action_12_after_mm: f64,
}

impl RodPair {
    fn relief_mm(&self) -> f64 {
        self.relief_after_mm - self.relief_before_mm
    }

    fn action_mm(&self) -> f64 {
        self.action_12_after_mm - self.action_12_before_mm
    }
}

pub(super) fn check(problems: &mut Problems, pairs: &[RodPair]) {
    problems.count("/rod_pairs", pairs.len(), 0, MOST_PAIRS);
    for (place, pair) in pairs.iter().enumerate() {
        for (name, value, (least, most)) in [
            ("relief_before_mm", pair.relief_before_mm, SIGNED_MM),
            ("relief_after_mm", pair.relief_after_mm, SIGNED_MM),
            ("action_12_before_mm", pair.action_12_before_mm, HEIGHT_MM),
            ("action_12_after_mm", pair.action_12_after_mm, HEIGHT_MM),
        ] {
            problems.within(format_args!("/rod_pairs/{place}/{name}"), value, least, most);
        }
    }
}

/// What a millimetre of relief was at the 12th.
#[derive(Debug, Clone)]
pub(super) struct OwnEffect {
    pub(super) at_12: f64,
    pub(super) expanded: f64,
    pairs: Vec<RodPair>,
    factor: f64,
}

impl OwnEffect {
    /// Least squares through the origin: no change of relief is no change of height. `None` from too few pairs.
    pub(super) fn of(pairs: &[RodPair]) -> Option<Self> {
        let pairs: Vec<RodPair> =
            pairs.iter().copied().filter(|pair| pair.relief_mm().abs() >= LEAST_CHANGE_MM).collect();
        if pairs.len() < LEAST_PAIRS {
            return None;
        }
        let squares: f64 = pairs.iter().map(|pair| pair.relief_mm().powi(2)).sum();
        let at_12 = pairs.iter().map(|pair| pair.relief_mm() * pair.action_mm()).sum::<f64>() / squares;
        let freedom = f64::from(u32::try_from(pairs.len()).ok()?) - 1.0;
        let left: f64 = pairs.iter().map(|pair| (pair.action_mm() - at_12 * pair.relief_mm()).powi(2)).sum();
        let factor = coverage_factor(COVERAGE, Some(freedom));
        Some(Self { at_12, expanded: factor * (left / freedom / squares).sqrt(), pairs, factor })
    }

    /// Said beside the models' range.
    pub(super) fn words(&self, change_mm: f64) -> String {
        format!(
            "This shop's own {} rods moved the 12th by {} mm for each mm of relief: some {:.2} mm here.",
            self.pairs.len(),
            supported(self.at_12, self.expanded),
            self.at_12 * change_mm
        )
    }

    pub(super) fn workings(&self) -> [Working; 2] {
        const SOURCE: &str = "least squares through the origin; any text on regression";
        let each = |working: Working| {
            working.put_each("d", "change of relief, pair", self.pairs.iter().map(RodPair::relief_mm), "mm").put_each(
                "h",
                "change of the height at the 12th, pair",
                self.pairs.iter().map(RodPair::action_mm),
                "mm",
            )
        };
        let told = Working::new(
            "/own_effect_at_12",
            "what a millimetre of relief was at the 12th in this shop",
            "g = Σ(dᵢ·hᵢ)/Σ(dᵢ²)",
        );
        let unsure = Working::new(
            "/own_effect_expanded",
            "expanded uncertainty of that",
            "U = t·√(Σ((hᵢ − g·dᵢ)²)/(n − 1)/Σ(dᵢ²))",
        )
        .put("t", "Student's t at n − 1 degrees of freedom", self.factor, "");
        let count = f64::from(u32::try_from(self.pairs.len()).unwrap_or(u32::MAX));
        [
            each(told).gives(self.at_12, "", SOURCE),
            each(unsure).put("g", "that slope", self.at_12, "").put("n", "pairs", count, "").gives(
                self.expanded,
                "",
                SOURCE,
            ),
        ]
    }
}
