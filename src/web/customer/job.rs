//! `/s/{token}`: where the job stands and when it is promised, what was found, what was quoted and can be answered here,
//! what is paid, and after the work how it left. Opening it changes nothing. The link ends some days after the instrument
//! left.

use askama::Template;

use super::link::{Opened, bare, opened};
use super::quote_view::{QuoteView, present};
use crate::drawing::Svg;
use crate::quantity::with_weekday;
use crate::records::condition::{self, ConditionMark};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::plan::{family_and_style, latest_findings};
use crate::records::reading::{self, ReadingKind, ReadingSet};
use crate::records::stage::Stage;
use crate::records::work::{self, LineState};
use crate::records::{JobId, balance, care, photo, promise, telling};
use crate::web::Result;
use crate::web::condition_view::faces_with_marks;
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::photo::PhotoView;
use crate::web::readings_view::{BeforeAfter, before_and_after, kinds_per_string, mean_words, once, string_names};
use crate::web::side_drawing::drawn;
use crate::web::words::{BalanceView, Shop, StageView, length_unit};

#[derive(Template)]
#[template(path = "customer/job.html")]
pub(super) struct CustomerJobPage {
    layout: Layout,
    form: FormData,
    token: String,
    shop: Shop,
    /// The telephone, to be tapped.
    dial: Option<String>,
    opening_hours: String,
    number: String,
    stage: StageView,
    words: &'static str,
    instrument: String,
    promised: Option<Promised>,
    complaint: String,
    findings: Vec<String>,
    side: Option<Svg>,
    is_measured_after: bool,
    quote: Option<QuoteView>,
    money: Option<BalanceView>,
    done: Vec<String>,
    proof: Option<Proof>,
    care: Vec<(String, String)>,
    advice: String,
    marks: Vec<ConditionMark>,
    faces: Vec<Svg>,
    photos: Vec<PhotoView>,
}

/// The day, and how it came about.
struct Promised {
    day: String,
    /// How many of a hundred such days are kept, at least.
    kept_of_hundred: i64,
    /// The day that was promised before.
    before: Option<String>,
}

/// Before and after, in numbers.
struct Proof {
    columns: Vec<&'static str>,
    rows: Vec<(String, Vec<(String, String)>)>,
    once: Vec<BeforeAfter>,
}

/// `GET /s/{token}`
pub(in crate::web) async fn show(context: RequestContext, Id(token): Id<String>) -> Result {
    match opened(&context, &token).await? {
        Opened::Job(id) => page(&job_page(&context, bare(&context, &token), &token, id, FormData::new()).await?),
        Opened::Ended(ended) => Ok(*ended),
    }
}

/// The page of a job, with what was typed into its answer.
pub(super) async fn job_page(
    context: &RequestContext,
    layout: Layout,
    token: &str,
    id: JobId,
    form: FormData,
) -> Result<CustomerJobPage> {
    let reading_side = context.app.db.read();
    let job = job::find(reading_side, id).await?;
    let (instrument, sets) = {
        let mut connection = reading_side.acquire().await.map_err(crate::records::Error::from)?;
        (instrument::find(&mut connection, job.instrument_id).await?, reading::of_job(&mut connection, id).await?)
    };
    let photos = photo::of_job(reading_side, id).await?;
    let marks = condition::of_job(reading_side, id).await?;
    let is_after_work = matches!(job.stage, Stage::Ready | Stage::Collected);
    let (before, after) = before_and_after(&sets);
    let after = after.filter(|_| is_after_work);
    let present = present(context, id).await?;
    let balance = balance::load(reading_side, &job).await?;
    let has_money = balance.agreed.0 != 0 || balance.paid.0 != 0;
    let done = work::of_job(reading_side, id).await?.into_iter().filter(|line| line.state == LineState::Done);
    let care = care::of_instrument(reading_side, job.instrument_id).await?.into_iter().filter(|line| !line.paused);
    let care = care.map(|line| (line.kind.spoken().to_owned(), with_weekday(line.next_due_on)));
    Ok(CustomerJobPage {
        token: token.to_owned(),
        shop: Shop::of(&context.settings),
        dial: dial(&context.settings.telephone, &context.settings.country),
        opening_hours: telling::settings(reading_side).await?.opening_hours,
        stage: StageView::of(job.stage, job.waiting_for),
        words: plain_words(job.stage),
        instrument: instrument.entry.title(),
        promised: promised(context, &job).await?,
        findings: if is_after_work { Vec::new() } else { latest_findings(reading_side, id).await? },
        side: side(context, &job, &instrument, before, after),
        is_measured_after: after.is_some(),
        quote: present.map(|present| present.view(context, &form)).transpose()?,
        money: has_money.then(|| BalanceView::of(context, &balance)),
        done: if is_after_work { done.map(|line| line.words).collect() } else { Vec::new() },
        proof: after.and_then(|after| proof(context, &instrument, before, after)),
        care: if is_after_work { care.collect() } else { Vec::new() },
        advice: if is_after_work { context.settings.care_advice.clone() } else { String::new() },
        faces: faces_with_marks(instrument.entry.family, &marks),
        marks,
        photos: PhotoView::row(photos.iter().filter(|photo| photo.for_customer), &format!("/s/{token}/photos")),
        number: job.number,
        complaint: job.complaint,
        layout,
        form,
    })
}

/// The shop's own number as a telephone dials it.
fn dial(telephone: &str, country: &str) -> Option<String> {
    let found = crate::quantity::telephone::to_e164(telephone, country)?;
    crate::web::words::dial(Some(&found.number))
}

async fn promised(context: &RequestContext, job: &Job) -> Result<Option<Promised>> {
    let Some(day) = job.promised_on.filter(|_| !job.stage.keeps_promise()) else { return Ok(None) };
    let moves = promise::moves(context.app.db.read(), job.id).await?;
    Ok(Some(Promised {
        day: with_weekday(day),
        kept_of_hundred: context.settings.promise_confidence / 10,
        before: moves.last().and_then(|moved| moved.from_day).map(with_weekday),
    }))
}

/// The strings from the side: as they leave, else as they came with the height that the house aims at.
fn side(
    context: &RequestContext,
    job: &Job,
    instrument: &Instrument,
    before: Option<&ReadingSet>,
    after: Option<&ReadingSet>,
) -> Option<Svg> {
    if let Some(after) = after {
        return drawn(&instrument.entry, after, None);
    }
    let (family, style) = family_and_style(&instrument.entry, job.style);
    let house = context.settings.house().ok();
    let aims = house.as_ref().and_then(|house| house.of(family, style));
    drawn(&instrument.entry, before?, aims.map(|aims| (aims.action_12_treble_mm, aims.action_12_bass_mm)))
}

fn proof(
    context: &RequestContext,
    instrument: &Instrument,
    before: Option<&ReadingSet>,
    after: &ReadingSet,
) -> Option<Proof> {
    let unit = length_unit(&context.settings);
    let kinds = kinds_per_string(before, Some(after));
    let cells = |number: i64| {
        let both = |kind: &ReadingKind| {
            (mean_words(before, *kind, number, unit), mean_words(Some(after), *kind, number, unit))
        };
        kinds.iter().map(both).collect()
    };
    (!kinds.is_empty()).then(|| Proof {
        columns: kinds.iter().map(|kind| kind.spoken()).collect(),
        rows: (1_i64..).zip(string_names(&instrument.entry)).map(|(number, name)| (name, cells(number))).collect(),
        once: once(&instrument.entry, before, Some(after), unit),
    })
}

fn plain_words(stage: Stage) -> &'static str {
    match stage {
        Stage::CheckedIn => "Your instrument is with us and waits to be measured.",
        Stage::Measured => "We have measured it and are working out what it needs.",
        Stage::Quoted => "We have made a quote and wait for your answer: you can give it below.",
        Stage::Agreed => "Thank you. It waits for its turn on the bench.",
        Stage::OnTheBench => "It is being worked on.",
        Stage::FinalCheck => "The work is done; we are checking it.",
        Stage::Ready => "It is ready. Bring your claim ticket.",
        Stage::Collected => "You have collected it. We hope it plays well.",
        Stage::ClosedUnrepaired => "You have it back as it came.",
    }
}
