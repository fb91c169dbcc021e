//! `/desk/jobs/{id}/condition`: the state an instrument came in, marked on outlines by a tap or from a list, and the
//! customer's initials under it.
//!
//! The outlines are pictures that send where they were tapped: that works without scripts.

use askama::Template;
use axum::http::header;
use axum::response::IntoResponse;

use crate::drawing::Svg;
use crate::drawing::outline::{HEIGHT, WIDTH};
use crate::records::condition::{self, ConditionMark, Place, Side};
use crate::records::family::Family;
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::paper::{self, PaperKind};
use crate::records::signature::{self, SignedFor};
use crate::records::{ConditionId, Door, JobId};
use crate::web::condition_view::{USUAL_MARKS, drawn};
use crate::web::form::{FormData, Id, LINE, Query};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "desk/condition.html")]
struct ConditionPage {
    layout: Layout,
    form: FormData,
    job: Job,
    instrument: String,
    faces: Vec<Face>,
    marks: Vec<ConditionMark>,
    /// The face being marked, drawn with the place.
    pending: Option<(Side, Svg)>,
    is_open: bool,
    /// No ticket was printed since the state was last changed or initialled.
    is_ticket_due: bool,
    initials: Option<Initials>,
}

struct Face {
    side: Side,
    /// The picture; its address changes with the marks.
    picture: String,
}

struct Initials {
    strokes: String,
    at: String,
    /// Marks were added or taken back since.
    is_stale: bool,
}

impl ConditionPage {
    fn sides(&self) -> &'static [Side] {
        Side::ALL
    }
    fn usual_marks(&self) -> &'static [&'static str] {
        USUAL_MARKS
    }
    fn width(&self) -> u32 {
        WIDTH
    }
    fn height(&self) -> u32 {
        HEIGHT
    }
}

async fn condition_page(context: &RequestContext, id: JobId, form: FormData) -> Result<ConditionPage> {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let marks = condition::of_job(reading, id).await?;
    let family = instrument.entry.family;
    let side = form.value("side").parse::<Side>().ok();
    let pending = side.zip(place(&form)).map(|(side, place)| (side, drawn(family, side, &marks, Some(place))));
    let initials = signature::newest(reading, id, SignedFor::Condition).await?;
    let printed = paper::prints(reading, PaperKind::ClaimTicket, id.0).await?;
    let replaced = paper::replaced(reading, PaperKind::ClaimTicket, id.0).await?.map(|replaced| replaced.at);
    let newest = format!("{}-{}", marks.last().map_or(0, |mark| mark.number), marks.len());
    Ok(ConditionPage {
        layout: context.layout(),
        form,
        instrument: instrument.entry.title(),
        faces: Side::ALL
            .iter()
            .map(|side| Face {
                side: *side,
                picture: format!("/desk/jobs/{id}/condition/{}.svg?marks={newest}", side.key()),
            })
            .collect(),
        initials: initials.map(|initials| Initials {
            at: context.moment(initials.drawn_at),
            is_stale: !initials.is_current,
            strokes: initials.strokes,
        }),
        marks,
        pending,
        is_open: job.stage.is_open(),
        is_ticket_due: printed.first().is_none_or(|last| replaced.is_some_and(|at| at >= *last)),
        job,
    })
}

/// The place a picture sends: pixels from its top left, or thousandths once it was read.
fn place(form: &FormData) -> Option<Place> {
    let number = |name: &str| form.value(name).parse::<i64>().ok();
    if let (Some(x_permille), Some(y_permille)) = (number("x_permille"), number("y_permille")) {
        return Some(Place { x_permille, y_permille });
    }
    let (x, y) = (number("at.x")?, number("at.y")?);
    let permille = |pixel: i64, whole: u32| (pixel.clamp(0, i64::from(whole)) * 1000) / i64::from(whole);
    Some(Place { x_permille: permille(x, WIDTH), y_permille: permille(y, HEIGHT) })
}

/// `GET /desk/jobs/{id}/condition`; a tapped outline asks again with `side`, `at.x` and `at.y`. Nothing is kept yet.
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>, query: Query) -> Result {
    let mut form = FormData::new();
    if let (Ok(side), Some(place)) = (query.value("side").parse::<Side>(), place(&query)) {
        form = form
            .with("side", side.key())
            .with("x_permille", place.x_permille.to_string())
            .with("y_permille", place.y_permille.to_string());
    }
    page(&condition_page(&context, id, form).await?)
}

/// `POST /desk/jobs/{id}/condition`
pub(in crate::web) async fn mark(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let side = form.choice::<Side>("side", "where the mark is");
    let what = form.line("what", LINE);
    let note = form.line("note", LINE);
    let words = [what, note].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", ");
    form.require("note", (!words.is_empty()).then_some(()), "Say what the mark is: press a word, or type it.");
    let (Some(side), false) = (side, form.has_errors()) else {
        return page_with(form.status(), &condition_page(&context, id, form).await?);
    };
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let added = condition::add(&mut tx, &by, id, &key, side, place(&form), &words).await;
    if form.accept("note", added)?.is_none() {
        drop(tx);
        return page_with(form.status(), &condition_page(&context, id, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{id}/condition"),
        &format!("On the {side}: {words}. It is written down."),
    )
}

/// `POST /desk/condition/{id}/take-back`: a mark that was a slip.
pub(in crate::web) async fn take_back(context: RequestContext, Id(id): Id<ConditionId>) -> Result {
    let mut tx = context.app.db.write().await?;
    let job = condition::take_back(&mut tx, &context.audit(Door::Desk), id).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{job}/condition"),
        "Taken back. That it stood there stays on record.",
    )
}

/// `POST /desk/jobs/{id}/signature`
pub(in crate::web) async fn sign(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let purpose: SignedFor =
        form.value("purpose").parse().map_err(|()| Error::Unreadable("The form is not whole. Open its page again."))?;
    let key = form.required_key()?;
    let mut tx = context.app.db.write().await?;
    signature::keep(&mut tx, &context.audit(Door::Desk), id, key, purpose, form.value("strokes")).await?;
    tx.commit().await?;
    let page = match purpose {
        SignedFor::Condition => format!("/desk/jobs/{id}/condition"),
        SignedFor::Collection => format!("/desk/jobs/{id}/hand-over"),
    };
    redirect_with_flash(&context, &page, &format!("Signed for {purpose}."))
}

/// `GET /desk/jobs/{id}/condition/{side}.svg`
pub(in crate::web) async fn picture(context: RequestContext, Id((id, file)): Id<(JobId, String)>) -> Result {
    let side: Side = file.strip_suffix(".svg").and_then(|side| side.parse().ok()).ok_or(Error::NotFound("picture"))?;
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let family: Family = instrument::load(reading, job.instrument_id).await?.entry.family;
    let marks = condition::of_job(reading, id).await?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], drawn(family, side, &marks, None).to_string()).into_response())
}
