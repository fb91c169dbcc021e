//! Work on a line that comes after a stop of the plan: said and asked once, never forbidden. The person decides, and that
//! is kept.

use super::bench_job::{BenchJob, Current};
use crate::records::WorkLineId;
use crate::records::work::WorkLine;
use crate::setup::plan::{self, Finding, PlanOutput};
use crate::web::form::FormData;

/// The stop that the plan has before a line's work, where nobody has decided yet to go past it.
pub(super) fn stop_before<'a>(plan: &'a PlanOutput, line: &WorkLine) -> Option<&'a Finding> {
    let stop = plan::stop_before(plan, line.service_key.as_deref()?)?;
    (line.may_start() && !line.is_past(&stop.key)).then_some(stop)
}

/// Asks once before work that comes after a stop of the plan; the person decides. Answers the stop that they go past, or
/// puts the question at the line into the form.
pub(super) fn ask_before_a_stop(bench: &BenchJob, id: WorkLineId, form: &mut FormData) -> Option<String> {
    let current = bench.current(&bench.fresh_form());
    let (_, planned) = current.as_ref().and_then(Current::both)?;
    let line = bench.lines.iter().find(|line| line.id == id)?;
    let stop = stop_before(&planned.output, line)?;
    if form.value("past") == stop.key {
        return Some(stop.key.clone());
    }
    let words = format!(
        "The plan stops before this: {} “{}” comes after that. It is yours to decide: press again to go on all the \
         same. It is then written down, and not asked again.",
        stop.words, line.words
    );
    form.add_error(&format!("past_{id}"), words);
    None
}
