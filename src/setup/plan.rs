//! `plan`: what is wrong, what to do first, exactly how much, and where to stop.
//!
//! The order of work at the bench: removed material does not come back, and a reading taken before a
//! step is stale for the steps after it. Air and wood, structure and simple causes come before any cut, and what
//! cannot be undone waits for what is not known: `walk` decides that, in one place.

mod across;
mod after_work;
mod bench;
mod bridge;
mod built;
mod check;
mod doubts;
mod families;
mod finishing;
mod fretwork;
mod input;
mod intonation;
mod judged;
mod misread;
mod neck;
mod nut;
mod observation;
mod output;
mod own_rods;
mod read;
mod relief;
mod said;
mod settled;
mod short_run;
mod simple_causes;
mod stage;
mod stand;
mod structure;
mod symptoms;
mod targets;
mod todo;
mod walk;
mod wishes;
mod wood;
mod working;

pub use after_work::{AfterWork, ComparedPlace, compare_after_step, compare_after_work};
pub use built::{BridgeKind, NeckJoint, NutKind, PlanRod, PostPositions};
pub use families::{PlanFamily, PlanStyle};
pub use input::RodPair;
pub use input::{PlanAir, PlanInput, PlanInstrument, PlanString, PlanTool, Readings, SaddleShowing, StringReadings};
pub use intonation::intonation_question;
pub use observation::{ObservationKey, PlanObservation};
pub use output::{Cause, Finding, Forecast, PlanOutput, PostsWithout, Range, Severity, Step, StepState};
pub use read::{cents_asked, length_asked};
pub use settled::stop_before;
pub use targets::{HouseTargets, Targets, TargetsGiven};
pub use wishes::{WishedHeights, wished_heights};
pub use working::{explain, workings};

use crate::problem::Problems;
use bench::Bench;
use judged::Judged;
use walk::Walk;

/// Plans a setup from readings and observations. `house` are the shop's targets, used where the input has none.
///
/// # Errors
/// When a number is out of range; missing readings are a finding, not an error.
pub fn plan(input: &PlanInput, house: &HouseTargets) -> Result<PlanOutput, Problems> {
    let bench = Bench::read(input, house)?;
    let judged = Judged::of(&bench);
    let mut walk = Walk::default();
    wood::look(&bench, &mut walk);
    structure::look(&bench, &judged, &mut walk);
    simple_causes::look(&bench, &mut walk);
    doubts::look(&bench, &mut walk);
    relief::look(&bench, &judged, &mut walk);
    fretwork::look(&bench, &mut walk);
    symptoms::weigh(&bench, &judged, &mut walk);
    nut::look(&bench, &judged.nut, &mut walk);
    bridge::look(&bench, &judged, &mut walk);
    intonation::look(&bench, &mut walk);
    finishing::look(&bench, &mut walk);
    Ok(walk.settle(&bench))
}
