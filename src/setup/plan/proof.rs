//! After the work: do the final readings stand where the plan wanted them?
//!
//! Within the reading's expanded uncertainty and the house's tolerance a place is proved; outside, the
//! likely reasons are named with what to check first.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::bench::{Bench, Read};
use super::targets::HouseTargets;
use super::types::PlanInput;
use crate::problem::Problems;

/// One place, proved or not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Proof {
    /// `relief_mm`, `action_12_mm` or `gap_at_1_stopped_at_3_mm`.
    pub quantity: String,
    /// From 1; null for relief.
    pub string: Option<usize>,
    /// Wished, mm.
    pub target_mm: f64,
    /// Left alone within this of the target, mm.
    pub tolerance_mm: f64,
    /// Read, mm.
    pub value_mm: f64,
    /// Of the reading, mm.
    pub expanded_mm: f64,
    /// What that says.
    pub state: ProofState,
    /// Where it is off: likely reasons, what to check first at the front.
    pub check: Vec<String>,
}

/// What a final reading says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ProofState {
    /// Stands where it was wanted.
    Proved,
    /// Does not.
    Off,
}

/// Proves final readings against the targets they were worked towards.
///
/// # Errors
/// When a number is out of range.
pub fn prove(finals: &PlanInput, house: &HouseTargets) -> Result<Vec<Proof>, Problems> {
    let bench = Bench::read(finals, house)?;
    let targets = &bench.targets;
    let mut proofs = Vec::new();
    if let Some(relief) = bench.relief {
        let middle = f64::midpoint(targets.relief_least_mm, targets.relief_most_mm);
        let tolerance = (targets.relief_most_mm - targets.relief_least_mm) / 2.0;
        proofs.push(proof("relief_mm", None, middle, tolerance, relief));
    }
    for (place, string) in bench.strings.iter().enumerate() {
        if let Some(action) = string.action {
            proofs.push(proof(
                "action_12_mm",
                Some(place + 1),
                bench.action_target(place),
                targets.action_tolerance_mm,
                action,
            ));
        }
        if let Some(gap) = string.gap {
            let middle = f64::midpoint(targets.gap_least_mm, targets.gap_most_mm);
            let tolerance = (targets.gap_most_mm - targets.gap_least_mm) / 2.0;
            proofs.push(proof("gap_at_1_stopped_at_3_mm", Some(place + 1), middle, tolerance, gap));
        }
    }
    Ok(proofs)
}

fn proof(quantity: &str, string: Option<usize>, target_mm: f64, tolerance_mm: f64, read: Read) -> Proof {
    let off = (read.value - target_mm).abs() > tolerance_mm + read.expanded;
    let check: &[&str] = match (off, quantity) {
        (false, _) => &[],
        (true, "relief_mm") => {
            &["read it again, tuned to pitch", "the rod may still be settling: wait a day", "the air changed since"]
        }
        (true, "gap_at_1_stopped_at_3_mm") => {
            &["read it again with the 3rd fret fully pressed", "the string may not sit in its slot", "relief moved"]
        }
        (true, _) => &[
            "the saddle may not be seated or not square",
            "relief moved: read it again",
            "another tuning or other strings",
            "the air changed since",
        ],
    };
    Proof {
        quantity: quantity.to_owned(),
        string,
        target_mm,
        tolerance_mm,
        value_mm: read.value,
        expanded_mm: read.expanded,
        state: if off { ProofState::Off } else { ProofState::Proved },
        check: check.iter().map(|words| (*words).to_owned()).collect(),
    }
}
