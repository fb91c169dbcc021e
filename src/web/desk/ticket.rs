//! `/desk/jobs/{id}/ticket`: the claim ticket: the customer's half, and the tag for the instrument.

use askama::Template;

use crate::drawing::bars::code128;
use crate::drawing::qr::{Recovery, qr};
use crate::quantity::with_weekday;
use crate::records::JobId;
use crate::records::condition::{self, ConditionMark};
use crate::records::customer::{self, Customer};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::web::form::Id;
use crate::web::page::{Layout, Visit, page};
use crate::web::words::Shop;
use crate::web::{Error, Result};

/// Width of the thinnest bar: three dots of a 300 dpi printer, above the quarter millimetre scanners ask for.
const BAR_MM: f64 = 0.33;
/// Width of one QR module; 0.4 mm is the least for paper.
const MODULE_MM: f64 = 0.7;

#[derive(Template)]
#[template(path = "desk/ticket.html")]
struct TicketPage {
    layout: Layout,
    shop: Shop,
    job: Job,
    customer: Customer,
    instrument: Instrument,
    checked_in: String,
    promised: String,
    marks: Vec<ConditionMark>,
    link: String,
    qr: String,
    bars: String,
    terms: String,
}

/// `GET /desk/jobs/{id}/ticket`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    let reading = visit.app.db.read();
    let job = job::find(reading, id).await?;
    let link = format!("{}/s/{}", visit.origin, visit.app.db.link_secret().token(id));
    let instrument = instrument::read(reading, job.instrument_id).await?;
    page(&TicketPage {
        layout: visit.layout(),
        shop: Shop::of(&visit.settings),
        customer: customer::find(reading, job.customer_id).await?,
        instrument,
        checked_in: visit.moment(job.checked_in_at),
        promised: job.promised_on.map_or_else(|| "to be agreed".to_owned(), with_weekday),
        marks: condition::of_job(reading, id).await?,
        qr: qr(&link, Recovery::Medium, MODULE_MM).map_err(Error::internal)?,
        bars: code128(&job.number, BAR_MM).map_err(Error::internal)?,
        link,
        terms: visit.settings.claim_terms.clone(),
        job,
    })
}
