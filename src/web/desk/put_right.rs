//! `/desk/jobs/{id}/put-right`: the job was written down for the wrong customer or the wrong instrument.

use askama::Template;

use crate::records::customer::{self, Customer};
use crate::records::family::{Family, instrument_title};
use crate::records::instrument::{self, InstrumentEntry};
use crate::records::job::{self, Job};
use crate::records::put_right::{self, Meant, PutRight};
use crate::records::search::{self, CustomerHit};
use crate::records::{CustomerId, Door, InstrumentId, JobId};
use crate::web::form::{Choice, FormData, Id, LINE, Query};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::{Result, unsent};

/// Hits to choose from.
const MOST: i64 = 12;

#[derive(Template)]
#[template(path = "desk/put_right.html")]
struct PutRightPage {
    layout: Layout,
    form: FormData,
    job: Job,
    /// Whose it is written down as, and with what.
    written: (Customer, String),
    /// Whose it is meant to be.
    customer: Customer,
    choices: Vec<Choice>,
    found: String,
    hits: Vec<CustomerHit>,
}

impl PutRightPage {
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
}

async fn put_right_page(context: &RequestContext, id: JobId, form: FormData) -> Result<PutRightPage> {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let written = customer::find(reading, job.customer_id).await?;
    let with = instrument::load(reading, job.instrument_id).await?.entry.title();
    let customer = match form.value("customer").parse::<CustomerId>() {
        Ok(chosen) => {
            let mut connection = reading.acquire().await.map_err(crate::records::Error::from)?;
            customer::resolve_merged(&mut connection, chosen).await?
        }
        Err(_) => written.clone(),
    };
    let theirs = instrument::of_customer(reading, customer.id).await?;
    let mut choices = vec![Choice::new("along", format!("{with}, as it is written down"))];
    let others = theirs.into_iter().filter(|known| known.id != job.instrument_id && known.archived_on.is_none());
    choices.extend(others.map(|known| {
        let title = instrument_title(known.family, &known.maker, &known.model);
        let serial = if known.serial.is_empty() { String::new() } else { format!(" · {}", known.serial) };
        let house = known.open_job.map(|number| format!(" (in the house, as {number})")).unwrap_or_default();
        Choice::new(known.id, format!("{title}{serial}{house}"))
    }));
    choices.push(Choice::new("new", "One that we do not know yet"));
    let found = form.value("find").to_owned();
    let hits = search::customers(reading, &found, MOST).await?;
    Ok(PutRightPage { layout: context.layout(), form, written: (written, with), customer, choices, found, hits, job })
}

/// `GET /desk/jobs/{id}/put-right`; `find` looks for the right customer, `customer` chooses them.
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>, query: Query) -> Result {
    let job = job::find(context.app.db.read(), id).await?;
    let found: String = query.value("find").chars().take(100).collect();
    let opened = FormData::new()
        .with("version", job.version.to_string())
        .with("customer", query.value("customer"))
        .with("instrument", "along")
        .with("find", found);
    page(&put_right_page(&context, id, opened).await?)
}

/// `POST /desk/jobs/{id}/put-right`
pub(in crate::web) async fn put_right(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = format!("put right {id} {}", form.value("version"));
    let customer = form.required_id::<CustomerId>("customer", "Choose whose it is.");
    let reason = form.required_line("reason", "what went wrong, so that the next person knows", LINE);
    let instrument = match form.value("instrument") {
        "along" => Some(Meant::Along),
        "new" => read_instrument(&mut form).map(|entry| Meant::New(Box::new(entry))),
        _ => form.required_id::<InstrumentId>("instrument", "Choose which instrument it is.").map(Meant::Known),
    };
    let (Some(customer), Some(instrument), false) = (customer, instrument, form.has_errors()) else {
        return page_with(form.status(), &put_right_page(&context, id, form).await?);
    };
    let right = PutRight { customer, instrument, reason };
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let secret = context.app.db.link_secret();
    let done = put_right::put_right(&mut tx, &by, context.today(), secret, id, form.version()?, &key, &right).await;
    if form.accept("instrument", done)?.is_none() {
        drop(tx);
        return page_with(form.status(), &put_right_page(&context, id, form).await?);
    }
    unsent::sent(&mut tx, &by, &format!("/desk/jobs/{id}/put-right"), &form).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{id}/ticket"),
        "It is put right. Papers printed before are wrong: print the ticket again and take the old one back.",
    )
}

fn read_instrument(form: &mut FormData) -> Option<InstrumentEntry> {
    let family = form.choice::<Family>("family", "what kind of instrument it is");
    let (maker, model, serial) = (form.line("maker", LINE), form.line("model", LINE), form.line("serial", LINE));
    Some(InstrumentEntry { maker, model, serial, ..InstrumentEntry::usual(family?) })
}
