//! `/desk/jobs/{id}/ticket`: the claim ticket: the customer's half, and the tag for the instrument.

use askama::Template;

use crate::drawing::Svg;
use crate::drawing::bars::code128;
use crate::drawing::qr::{Recovery, qr};
use crate::quantity::{Money, with_weekday};
use crate::records::JobId;
use crate::records::balance;
use crate::records::caution::{About, Place};
use crate::records::condition::{self, ConditionMark};
use crate::records::customer::{self, Customer};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::paper::PaperKind;
use crate::records::signature::{self, SignedFor};
use crate::records::work::{self, LineState};
use crate::web::caution_view::CautionView;
use crate::web::condition_view::faces_with_marks;
use crate::web::form::{Id, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::words::{BalanceView, Shop};
use crate::web::{Error, Result};

/// Width of the thinnest bar: four dots of a printer's 300 to the inch, a whole number, above the quarter millimetre
/// that scanners ask for.
const BAR_MM: f64 = 25.4 * 4.0 / 300.0;
/// Width of one QR module; 0.4 mm is the least for paper.
const MODULE_MM: f64 = 0.7;

#[derive(Template)]
#[template(path = "desk/ticket.html")]
struct TicketPage {
    layout: Layout,
    shop: Shop,
    printing: Printing,
    customer: Customer,
    tickets: Vec<Ticket>,
    /// Others of the same visit to the counter, where only one ticket is shown.
    others: usize,
    is_whole_visit: bool,
    terms: String,
    cautions: Vec<CautionView>,
}

struct Ticket {
    job: Job,
    instrument: Instrument,
    checked_in: String,
    promised: String,
    marks: Vec<ConditionMark>,
    faces: Vec<Svg>,
    initials: Option<String>,
    /// The customer's page, where the shop has an address that people elsewhere can open; with its QR.
    link: Option<(String, Svg)>,
    bars: Svg,
    /// What was paid so far, where anything was.
    paid: Option<String>,
    /// After the work: what was done, and what is owed.
    done: Vec<String>,
    owed: String,
    /// Each ticket is a first print or a copy by itself.
    copy: Option<String>,
}

/// The other jobs that one customer left on the same day.
pub(super) async fn same_visit(
    context: &RequestContext,
    executor: impl sqlx::SqliteExecutor<'_>,
    job: &Job,
) -> Result<Vec<JobId>> {
    let day = context.app.clock.local_date(job.checked_in_at);
    let others = job::of_same_days(executor, job).await?.into_iter();
    let others = others.filter(|other| context.app.clock.local_date(other.checked_in_at) == day);
    Ok(others.map(|other| other.id).collect())
}

/// `GET /desk/jobs/{id}/ticket`; with `visit=whole` the tickets of everything left that day.
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>, query: Query) -> Result {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let others = same_visit(&context, reading, &job).await?;
    let is_whole_visit = query.is("visit", "whole");
    let customer = customer::find(reading, job.customer_id).await?;
    let mut tickets = vec![ticket(&context, job).await?];
    if is_whole_visit {
        for other in &others {
            tickets.push(ticket(&context, job::find(reading, *other).await?).await?);
        }
    }
    page(&TicketPage {
        cautions: context.cautions(Place::Ticket, &About::default(), &[]),
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        printing: Printing::of(&context, PaperKind::ClaimTicket, id.0).await?,
        customer,
        tickets,
        others: others.len(),
        is_whole_visit,
        terms: context.settings.claim_terms.clone(),
    })
}

async fn ticket(context: &RequestContext, job: Job) -> Result<Ticket> {
    let reading = context.app.db.read();
    let link = match context.public_address() {
        None => None,
        Some(origin) => {
            let link = format!("{origin}/s/{}", context.app.db.link_secret().token(job.id, job.link_number));
            let drawn = qr(&link, Recovery::Medium, MODULE_MM).map_err(Error::internal)?;
            Some((link, drawn))
        }
    };
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let marks = condition::of_job(reading, job.id).await?;
    let initials = signature::newest(reading, job.id, SignedFor::Condition).await?;
    let money = BalanceView::of(context, &balance::load(reading, &job).await?);
    let lines = work::of_job(reading, job.id).await?.into_iter();
    let done = lines.filter(|line| job.stage.keeps_promise() && line.state == LineState::Done);
    Ok(Ticket {
        paid: (money.paid != context.money(Money(0))).then(|| money.paid.clone()),
        owed: money.for_customer(),
        done: done.map(|line| line.words).collect(),
        checked_in: context.moment(job.checked_in_at),
        promised: job.promised_on.map_or_else(|| "to be agreed".to_owned(), with_weekday),
        faces: faces_with_marks(instrument.entry.family, &marks),
        // marks made after the initials were not seen by who drew them
        initials: initials.filter(|initials| initials.is_current).map(|initials| initials.strokes),
        marks,
        copy: Printing::of(context, PaperKind::ClaimTicket, job.id.0).await?.copy,
        bars: code128(&job.number, BAR_MM).map_err(Error::internal)?,
        link,
        instrument,
        job,
    })
}
