//! What turning the rod did to the 12th-fret height in this shop: its own before-and-after pairs, beside the two
//! models. They are shown, and no amount is cut by them; where they contradict both models they widen what is
//! expected.
//!
//! However few the pairs and however well they agree, the effect is known no better than the readings of a pair
//! allow: one pair alone has a width too.

use super::bench::Bench;
use super::input::RodPair;
use super::output::{Range, range};
use super::read::repeatability;
use crate::setup::reading::{Repeatability, coverage_factor, supported};
use crate::working::Working;

/// A rod that moved relief by less says nothing: the gauge's error is all one sees, mm. Chosen here.
const LEAST_CHANGE_MM: f64 = 0.03;
/// Share of cases that an expanded uncertainty covers.
const COVERAGE: f64 = 0.95;

impl RodPair {
    fn relief_mm(&self) -> f64 {
        self.relief_after_mm - self.relief_before_mm
    }

    fn action_mm(&self) -> f64 {
        self.action_12_after_mm - self.action_12_before_mm
    }
}

/// What the shop's own rods say of the models.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    Agrees,
    /// They lie wholly outside of what both models allow.
    Contradicts,
}

/// What a millimetre of relief was at the 12th.
#[derive(Debug, Clone)]
pub(super) struct OwnEffect {
    pub(super) at_12: f64,
    pub(super) expanded: f64,
    pub(super) verdict: Verdict,
    pairs: Vec<RodPair>,
    /// What the pairs' scatter about the slope leaves; `None` of one pair.
    by_scatter: Option<ByScatter>,
    by_readings: ByReadings,
}

/// Student's t at n − 1 degrees of freedom, and what follows from it.
#[derive(Debug, Clone, Copy)]
struct ByScatter {
    factor: f64,
    expanded: f64,
}

/// What the readings of the pairs leave of it: two readings before and two after.
#[derive(Debug, Clone, Copy)]
struct ByReadings {
    tool: Repeatability,
    factor: f64,
    expanded: f64,
}

impl OwnEffect {
    /// Least squares through the origin: no change of relief is no change of height. `None` without a pair.
    pub(super) fn of(bench: &Bench<'_>) -> Option<Self> {
        let pairs: Vec<RodPair> =
            bench.input.rod_pairs.iter().copied().filter(|pair| pair.relief_mm().abs() >= LEAST_CHANGE_MM).collect();
        if pairs.is_empty() {
            return None;
        }
        let squares: f64 = pairs.iter().map(|pair| pair.relief_mm().powi(2)).sum();
        let at_12 = pairs.iter().map(|pair| pair.relief_mm() * pair.action_mm()).sum::<f64>() / squares;
        let left: f64 = pairs.iter().map(|pair| (pair.action_mm() - at_12 * pair.relief_mm()).powi(2)).sum();
        let by_scatter = (pairs.len() > 1).then(|| {
            let freedom = f64::from(u32::try_from(pairs.len()).unwrap_or(u32::MAX)) - 1.0;
            let factor = coverage_factor(COVERAGE, Some(freedom));
            ByScatter { factor, expanded: factor * (left / freedom / squares).sqrt() }
        });
        let tool = repeatability(&bench.input.tool);
        let factor = coverage_factor(COVERAGE, Some(tool.degrees_of_freedom));
        let expanded = factor * tool.standard_deviation_mm * (2.0 * (1.0 + at_12 * at_12) / squares).sqrt();
        let by_readings = ByReadings { tool, factor, expanded };
        let expanded = by_scatter.map_or(0.0, |scatter| scatter.expanded).max(by_readings.expanded);
        let models = bench.frame(0).relief_at_12();
        let (least, most) = (models.tied.min(models.bent), models.tied.max(models.bent));
        let verdict =
            if at_12 + expanded < least || at_12 - expanded > most { Verdict::Contradicts } else { Verdict::Agrees };
        Some(Self { at_12, expanded, verdict, pairs, by_scatter, by_readings })
    }

    /// What they lead to expect of a change of relief, mm.
    pub(super) fn felt(&self, change_mm: f64) -> Range {
        range((self.at_12 - self.expanded) * change_mm, (self.at_12 + self.expanded) * change_mm, 0.0)
    }

    /// Said beside the models' range.
    pub(super) fn words(&self, change_mm: f64) -> String {
        let Range { least, most } = self.felt(change_mm);
        let told = format!(
            "moved the 12th by {} mm for each mm of relief: between {least:.2} and {most:.2} mm here.",
            supported(self.at_12, self.expanded)
        );
        let told = match self.pairs.len() {
            1 => format!("One rod of this shop, the only one yet, {told}"),
            count => format!("This shop's own {count} rods {told}"),
        };
        match self.verdict {
            Verdict::Agrees => told,
            Verdict::Contradicts => {
                format!("{told} That contradicts both models: expect either, and look whether something else moved.")
            }
        }
    }

    pub(super) fn workings(&self) -> Vec<Working> {
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
        let mut chain = vec![each(told).gives(self.at_12, "", SOURCE)];
        if let Some(scatter) = self.by_scatter {
            let unsure = Working::new(
                "",
                "what the scatter of the pairs leaves of it",
                "U_s = t·√(Σ((hᵢ − g·dᵢ)²)/(n − 1)/Σ(dᵢ²))",
            )
            .put("t", "Student's t at n − 1 degrees of freedom", scatter.factor, "");
            let count = f64::from(u32::try_from(self.pairs.len()).unwrap_or(u32::MAX));
            chain.push(each(unsure).put("g", "that slope", self.at_12, "").put("n", "pairs", count, "").gives(
                scatter.expanded,
                "",
                SOURCE,
            ));
        }
        let ByReadings { tool, factor, expanded } = self.by_readings;
        chain.push(
            Working::new("", "what the readings before and after leave of it", "U_r = t·r·√(2·(1 + g²)/Σ(dᵢ²))")
                .put("t", "Student's t at the tool's degrees of freedom", factor, "")
                .put("r", "repeatability of the tool", tool.standard_deviation_mm, "mm")
                .put("g", "that slope", self.at_12, "")
                .put_each("d", "change of relief, pair", self.pairs.iter().map(RodPair::relief_mm), "mm")
                .gives(expanded, "", "JCGM 100:2008 (GUM) 5.1.2, of two differences of readings"),
        );
        chain.push(
            Working::new("/own_effect_expanded", "expanded uncertainty of that", "U = max(U_s, U_r)")
                .put("U_s", "by the scatter; 0 of one pair", self.by_scatter.map_or(0.0, |by| by.expanded), "")
                .put("U_r", "by the readings", expanded, "")
                .gives(self.expanded, "", "the larger: few pairs may agree by chance"),
        );
        chain
    }
}
