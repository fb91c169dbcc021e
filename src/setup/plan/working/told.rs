//! One plan with what it was made from.

use crate::setup::cut::{CutInput, CutOutput};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::judged::Judged;
use crate::setup::plan::output::PlanOutput;

/// What every height and amount of a plan follows from.
pub(super) const SIMILAR: &str = "derived here: similar triangles, straight string between nut and saddle";

/// One plan with what it was made from.
pub(super) struct Told<'a> {
    pub(super) bench: &'a Bench<'a>,
    pub(super) output: &'a PlanOutput,
    pub(super) judged: &'a Judged,
    pub(super) nut_input: &'a CutInput,
    /// Nothing where the nut stays as it is.
    pub(super) nut_amounts: Option<&'a CutOutput>,
}
