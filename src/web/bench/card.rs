//! `/bench/jobs/{id}/card`: readings, plan and amounts on paper, with room to write.

use askama::Template;

use super::bench_job::{BenchJob, Current};
use super::grid;
use super::job::NoteRow;
use crate::drawing::Svg;
use crate::records::caution::{About, Place};
use crate::records::job::Job;
use crate::records::{JobId, note};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::finished_view::FinishedView;
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::plan_view::PlanView;
use crate::web::readings_view::{BeforeAfter, mean_words, once, string_names};
use crate::web::words::{Promise, Shop};

#[derive(Template)]
#[template(path = "bench/card.html")]
struct CardPage {
    layout: Layout,
    shop: Shop,
    job: Job,
    instrument: String,
    facts: String,
    promise: Promise,
    taken: Option<String>,
    /// What was read string by string, and how.
    columns: Vec<(&'static str, &'static str)>,
    rows: Vec<(String, Vec<String>)>,
    once: Vec<BeforeAfter>,
    plan: Option<PlanView>,
    /// Steps were done since: what is read again first.
    again: String,
    side: Option<Svg>,
    /// Steps of the plan that are done, newest first.
    finished: Vec<FinishedView>,
    notes: Vec<NoteRow>,
    cautions: Vec<CautionView>,
}

/// `GET /bench/jobs/{id}/card`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let bench = BenchJob::load(&context, id).await?;
    let current = bench.current(&bench.fresh_form());
    let last = current.as_ref().map(|current| current.set.as_ref());
    let both = current.as_ref().and_then(Current::both);
    let names = string_names(&bench.instrument.entry);
    let entry = &bench.instrument.entry;
    let kinds = grid::columns(entry, last);
    let about = About::job(&bench.job, entry, &bench.lines);
    let there = both.map_or(&[][..], |(_, planned)| planned.output.cautions.as_slice());
    let notes = note::of_job(context.app.db.read(), id).await?;
    page(&CardPage {
        cautions: context.cautions(Place::Work, &about, there),
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        instrument: entry.title(),
        facts: format!(
            "{}, scale {}, {} frets, body at the {}th, rod {}",
            entry.family,
            entry.scale.in_mm(),
            entry.frets,
            entry.body_fret,
            entry.truss_rod
        ),
        promise: Promise::as_of(bench.job.stage, bench.job.promised_on, context.today()),
        taken: last.map(|set| bench.taken_words(&context, set)),
        again: bench.again_words(),
        columns: kinds.iter().map(|kind| grid::heading(*kind)).collect(),
        rows: (1_i64..)
            .zip(&names)
            .map(|(number, name)| {
                (name.clone(), kinds.iter().map(|kind| mean_words(last, *kind, number, bench.unit)).collect())
            })
            .collect(),
        once: once(&bench.instrument.entry, last, None, bench.unit),
        plan: both.map(|(_, planned)| PlanView::of(&planned.output, &names)),
        side: both.and_then(|(set, planned)| bench.side_view(set, planned)),
        finished: bench.finished(&context, &FormData::default()),
        notes: notes.into_iter().map(|note| NoteRow::of(note, &context)).collect(),
        job: bench.job.clone(),
    })
}
