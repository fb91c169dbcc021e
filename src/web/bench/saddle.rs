//! `/bench/jobs/{id}/saddle`: the planned cut of the saddle on paper, at its true size and enlarged.

use askama::Template;

use super::bench_job::{BenchJob, Current, Planned};
use crate::drawing::Svg;
use crate::drawing::saddle_shape::{SaddleShape, saddle_at_size, saddle_enlarged};
use crate::quantity::Micrometres;
use crate::records::JobId;
use crate::records::job::Job;
use crate::records::reading::{ReadingKind, ReadingSet};
use crate::setup::cut::{CutOutput, TopString};
use crate::setup::plan::Step;
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::plan_view::{PlanView, StepView};
use crate::web::readings_view::string_names;
use crate::web::words::Shop;

/// Strings are drawn this far apart where nobody measured them across.
const USUAL_SPACING_MM: f64 = 10.0;

#[derive(Template)]
#[template(path = "bench/saddle.html")]
struct SaddlePage {
    layout: Layout,
    shop: Shop,
    job: Job,
    instrument: String,
    taken: Option<String>,
    drawn: Option<Drawn>,
    /// Why there is nothing to draw.
    stopped: bool,
    /// Steps were done since: what is read again first.
    again: String,
}

struct Drawn {
    at_size: Svg,
    enlarged: Svg,
    step: StepView,
    positions_measured: bool,
}

/// `GET /bench/jobs/{id}/saddle`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let bench = BenchJob::load(&context, id).await?;
    let names = string_names(&bench.instrument.entry);
    let current = bench.current(&bench.fresh_form());
    let both = current.as_ref().and_then(Current::both);
    let drawn = both.and_then(|(set, Planned { output, .. })| {
        let is_cut = |step: &Step| step.cut.as_ref().is_some_and(|cut| cut.foot_first_pass.is_some());
        let place = output.steps.iter().position(is_cut)?;
        let shape = shape(&bench, set, output.steps.get(place)?.cut.as_ref()?, &names)?;
        let step = PlanView::of(output, &names).steps.into_iter().nth(place)?;
        Some(Drawn {
            at_size: saddle_at_size(&shape),
            enlarged: saddle_enlarged(&shape),
            step,
            positions_measured: bench.instrument.entry.strings.iter().all(|string| string.position.is_some()),
        })
    });
    page(&SaddlePage {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        instrument: bench.instrument.entry.title(),
        taken: current.as_ref().map(|current| bench.taken_words(&context, &current.set)),
        again: bench.again_words(),
        stopped: both.is_some_and(|(_, planned)| planned.output.stopped),
        drawn,
        job: bench.job.clone(),
    })
}

fn shape(bench: &BenchJob, set: &ReadingSet, cut: &CutOutput, names: &[String]) -> Option<SaddleShape> {
    let (first, whole) = (cut.foot_first_pass?, cut.foot?);
    let measured: Option<Vec<f64>> =
        bench.instrument.entry.strings.iter().map(|string| string.position.map(Micrometres::mm)).collect();
    let positions_mm = measured
        .unwrap_or_else(|| (0_u32..).map(|place| f64::from(place) * USUAL_SPACING_MM).take(names.len()).collect());
    Some(SaddleShape {
        positions_mm,
        names: names.to_vec(),
        showing_mm: (set.mean(ReadingKind::SaddleTreble, 0)?, set.mean(ReadingKind::SaddleBass, 0)?),
        first_pass_mm: (first.treble_mm, first.bass_mm),
        whole_mm: (whole.treble_mm, whole.bass_mm),
        on_top_mm: cut.strings.iter().map(|string| string.on_top_mm.unwrap_or(0.0)).collect(),
        over_chord_mm: cut.top.iter().flat_map(|top| &top.strings).map(present_over_chord_mm).collect(),
    })
}

/// As read; on the radius where a reading is missing.
fn present_over_chord_mm(string: &TopString) -> f64 {
    string.present_over_chord_mm.unwrap_or(string.ideal_over_chord_mm)
}
