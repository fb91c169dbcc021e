//! `/desk/jobs/{id}/sheet`: the work-performed sheet: before and after in numbers, what was done, what comes next.

use askama::Template;

use crate::drawing::Svg;
use crate::quantity::with_weekday;
use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::reading::{self, ReadingKind};
use crate::records::signature::{self, SignedFor};
use crate::records::staff::Role;
use crate::records::work::{self, LineState, WorkLine};
use crate::records::{JobId, care};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::readings_view::{BeforeAfter, before_and_after, kinds_per_string, mean_words, once, string_names};
use crate::web::side_drawing::drawn;
use crate::web::words::{Shop, length_unit};

#[derive(Template)]
#[template(path = "desk/sheet.html")]
struct SheetPage {
    layout: Layout,
    shop: Shop,
    printing: Printing,
    /// The bench prints it too, without the count of copies.
    may_print: bool,
    signed: Option<String>,
    signed_on: Option<String>,
    job: Job,
    customer: Customer,
    instrument: Instrument,
    received: String,
    finished: Option<String>,
    columns: Vec<&'static str>,
    rows: Vec<(String, Vec<(String, String)>)>,
    once: Vec<BeforeAfter>,
    side: Option<Svg>,
    /// What the sheet is, by how far the work has come.
    heading: &'static str,
    done: Vec<DoneLine>,
    /// Agreed to and not done, while the job is open.
    planned: Vec<String>,
    declined: Vec<String>,
    care: Vec<(String, String)>,
    advice: String,
    cautions: Vec<CautionView>,
}

struct DoneLine {
    words: String,
    who: String,
    when: String,
    result: String,
}

/// `GET /desk/jobs/{id}/sheet`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let unit = length_unit(&context.settings);
    let reading_side = context.app.db.read();
    let job = job::find(reading_side, id).await?;
    let (instrument, sets) = {
        let mut connection = reading_side.acquire().await?;
        (instrument::find(&mut connection, job.instrument_id).await?, reading::of_job(&mut connection, id).await?)
    };
    let lines = work::of_job(reading_side, id).await?;
    let (before, after) = before_and_after(&sets);
    let kinds = kinds_per_string(before, after);
    let cells = |number: i64| {
        let both =
            |kind: &ReadingKind| (mean_words(before, *kind, number, unit), mean_words(after, *kind, number, unit));
        kinds.iter().map(both).collect()
    };
    let care = care::of_instrument(reading_side, instrument.id).await?;
    let signed = signature::newest(reading_side, id, SignedFor::Collection).await?;
    let about = About::job(&job, &instrument.entry, &lines);
    page(&SheetPage {
        cautions: context.cautions(Place::Sheet, &about, &[]),
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        printing: Printing::of(&context, PaperKind::Sheet, id.0).await?,
        may_print: context.may_act_as(Role::Desk),
        signed_on: signed.as_ref().map(|signed| context.day_of(signed.drawn_at)),
        signed: signed.map(|signed| signed.strokes),
        customer: customer::find(reading_side, job.customer_id).await?,
        received: context.day_of(job.checked_in_at),
        finished: after.map(|set| context.day_of(set.taken_at)),
        columns: kinds.iter().map(|kind| kind.spoken()).collect(),
        rows: (1_i64..).zip(string_names(&instrument.entry)).map(|(number, name)| (name, cells(number))).collect(),
        once: once(&instrument.entry, before, after, unit),
        side: after.and_then(|set| drawn(&instrument.entry, set, None)),
        heading: heading(&job, &lines),
        planned: lines
            .iter()
            .filter(|line| job.stage.is_open() && line.may_start())
            .map(|line| line.words.clone())
            .collect(),
        done: lines
            .iter()
            .filter(|line| line.state == LineState::Done)
            .map(|line| DoneLine {
                words: line.words.clone(),
                who: line.done_by.clone().unwrap_or_default(),
                when: line.done_at.map(|at| context.day_of(at)).unwrap_or_default(),
                result: line.result.clone(),
            })
            .collect(),
        declined: lines
            .iter()
            .filter(|line| line.state == LineState::Declined)
            .map(|line| line.words.clone())
            .collect(),
        care: care
            .iter()
            .filter(|line| !line.paused)
            .map(|line| (line.kind.spoken().to_owned(), with_weekday(line.next_due_on)))
            .collect(),
        advice: context.settings.care_advice.clone(),
        instrument,
        job,
    })
}

/// Nothing is called performed that was not.
fn heading(job: &Job, lines: &[WorkLine]) -> &'static str {
    let is_any_done = lines.iter().any(|line| line.state == LineState::Done);
    let is_any_open = lines.iter().any(WorkLine::may_start);
    match (job.stage.is_open(), is_any_done, is_any_open) {
        (true, false, _) => "Nothing done yet",
        (true, true, true) => "Work so far",
        (false, false, _) => "Returned without work",
        (_, true, _) => "Work performed",
    }
}
