//! `plan`: what is wrong, what to do first, exactly how much, and where to stop.
//!
//! The order of work at the bench: removed material does not come back, and a reading taken before a
//! step is stale for the steps after it. Air and wood, structure and simple causes come before any cut.

mod after_work;
mod bench;
mod families;
mod finishing;
mod fretwork;
mod intonation;
mod nut;
mod own_rods;
mod relief;
mod saddle;
mod simple_causes;
mod structure;
mod symptoms;
mod targets;
mod types;
mod walk;
mod wood;
mod working;

pub use after_work::{AfterWork, ComparedPlace, compare_after_step, compare_after_work};
pub use families::{PlanFamily, PlanStyle};
pub use intonation::intonation_question;
pub use own_rods::RodPair;
pub use targets::{HouseTargets, Targets, TargetsGiven};
pub use types::{
    Cause, Finding, Forecast, ObservationKey, PlanAir, PlanInput, PlanInstrument, PlanObservation, PlanOutput, PlanRod,
    PlanString, PlanTool, Range, Readings, SaddleShowing, Severity, Step, StepState, StringReadings,
};
pub use working::{explain, workings};

use crate::problem::Problems;
use bench::Bench;
use walk::Walk;

/// Plans a setup from readings and observations. `house` are the shop's targets, used where the input has none.
///
/// # Errors
/// When a number is out of range; missing readings are a finding, not an error.
pub fn plan(input: &PlanInput, house: &HouseTargets) -> Result<PlanOutput, Problems> {
    let bench = Bench::read(input, house)?;
    let mut walk = Walk::default();
    wood::look(&bench, &mut walk);
    structure::look(&bench, &mut walk);
    simple_causes::look(&bench, &mut walk);
    symptoms::sharp_everywhere(&bench, &mut walk);
    relief::look(&bench, &mut walk);
    nut::look(&bench, &mut walk)?;
    saddle::look(&bench, &mut walk)?;
    fretwork::look(&bench, &mut walk);
    intonation::look(&bench, &mut walk);
    symptoms::weigh(&bench, &mut walk);
    finishing::look(&bench, &mut walk);
    Ok(walk.settle())
}
