//! `/bench/jobs/{id}/card`: readings, plan and amounts on paper, with room to write.

use askama::Template;

use super::job::Bench;
use super::notes::{self, NoteRow};
use crate::records::JobId;
use crate::records::caution::{About, Place};
use crate::records::job::Job;
use crate::records::reading::ReadingKind;
use crate::web::Result;
use crate::web::caution_view::CautionSeen;
use crate::web::form::Id;
use crate::web::page::{Layout, Visit, page};
use crate::web::plan_view::PlanView;
use crate::web::readings_view::{BeforeAfter, mean_words, once, string_names};
use crate::web::words::{Promise, Shop, length_unit};

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
    rows: Vec<(String, Vec<String>)>,
    once: Vec<BeforeAfter>,
    plan: Option<PlanView>,
    side: Option<String>,
    notes: Vec<NoteRow>,
    cautions: Vec<CautionSeen>,
}

/// `GET /bench/jobs/{id}/card`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    let bench = Bench::read(&visit, id).await?;
    let unit = length_unit(&visit.settings);
    let last = bench.sets.last();
    let names = string_names(&bench.instrument.entry);
    let kinds = [ReadingKind::Height12, ReadingKind::Height1, ReadingKind::Gap1Stopped3, ReadingKind::Cents12];
    let planned = bench.plan();
    let entry = &bench.instrument.entry;
    let about = About::job(visit.app.db.read(), &bench.job, entry).await?;
    let there = planned.as_ref().map_or(&[][..], |(_, _, output)| output.cautions.as_slice());
    page(&CardPage {
        cautions: visit.cautions(Place::Work, &about, there),
        layout: visit.layout(),
        shop: Shop::of(&visit.settings),
        instrument: entry.title(),
        facts: format!(
            "{}, scale {}, {} frets, body at the {}th, rod {}",
            entry.family,
            entry.scale.in_mm(),
            entry.frets,
            entry.body_fret,
            entry.truss_rod
        ),
        promise: Promise::seen(bench.job.stage, bench.job.promised_on, visit.today()),
        taken: last.map(|set| format!("{}, {}", set.circumstances.stage, visit.moment(set.taken_at))),
        rows: (1_i64..)
            .zip(&names)
            .map(|(number, name)| {
                (name.clone(), kinds.iter().map(|kind| mean_words(last, *kind, number, unit)).collect())
            })
            .collect(),
        once: once(last, None, unit),
        plan: planned.as_ref().map(|(_, _, output)| PlanView::of(output, &names)),
        side: bench.side_view(planned.as_ref().map(|(_, _, output)| output)),
        notes: notes::rows(&visit, id).await?,
        job: bench.job,
    })
}
