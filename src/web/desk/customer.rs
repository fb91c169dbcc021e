//! `/desk/customers/{id}`: one customer, their instruments and visits.

use askama::Template;
use axum::http::StatusCode;

use crate::records::customer::{self, Customer, CustomerEntry, ReachBy};
use crate::records::instrument::{self, InstrumentHit};
use crate::records::job;
use crate::records::{CustomerId, Door};
use crate::web::Result;
use crate::web::form::{Id, LINE, TEXT, Typed, looks_like_email};
use crate::web::page::{Layout, Visit, page, page_with, see};
use crate::web::words::{StageSeen, dial, instrument_title};

#[derive(Template)]
#[template(path = "desk/customer.html")]
struct CustomerPage {
    layout: Layout,
    form: Typed,
    customer: Customer,
    dial: Option<String>,
    reminders: Option<String>,
    instruments: Vec<InstrumentHit>,
    visits: Vec<VisitRow>,
}

struct VisitRow {
    href: String,
    number: String,
    stage: StageSeen,
    instrument: String,
    complaint: String,
    day: String,
}

impl CustomerPage {
    fn ways_to_reach(&self) -> &'static [ReachBy] {
        ReachBy::ALL
    }
}

fn typed(customer: &Customer) -> Typed {
    Typed::fresh()
        .with("version", customer.version.to_string())
        .with("name", customer.name.as_str())
        .with("telephone", customer.telephone.as_str())
        .with("email", customer.email.as_str())
        .with("address", customer.address.as_str())
        .with("reach_by", customer.reach_by.key())
        .with("reminders", if customer.reminders_agreed_on.is_some() { "yes" } else { "" })
        .with("note", customer.note.as_str())
}

async fn customer_page(visit: &Visit, customer: Customer, form: Typed) -> Result<CustomerPage> {
    let reading = visit.app.db.read();
    let visits = job::visits(reading, Some(customer.id), None).await?;
    Ok(CustomerPage {
        layout: visit.layout(),
        form,
        dial: dial(customer.telephone_e164.as_deref()),
        reminders: customer.reminders_agreed_on.map(crate::quantity::with_weekday),
        instruments: instrument::of_customer(reading, customer.id).await?,
        visits: visits
            .into_iter()
            .map(|row| VisitRow {
                href: format!("/desk/jobs/{}", row.id),
                number: row.number,
                stage: StageSeen::of(row.stage, None),
                instrument: instrument_title(row.family, &row.maker, &row.model),
                complaint: row.complaint,
                day: visit.day_of(row.checked_in_at),
            })
            .collect(),
        customer,
    })
}

/// `GET /desk/customers/{id}`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<CustomerId>) -> Result {
    let customer = customer::find(visit.app.db.read(), id).await?;
    let form = typed(&customer);
    page(&customer_page(&visit, customer, form).await?)
}

/// `POST /desk/customers/{id}`
pub(in crate::web) async fn save(visit: Visit, Id(id): Id<CustomerId>, mut form: Typed) -> Result {
    let present = customer::find(visit.app.db.read(), id).await?;
    let name = form.required("name", "the customer's name", LINE);
    let telephone = form.line("telephone", 60);
    let email = form.line("email", 254);
    if !email.is_empty() && !looks_like_email(&email) {
        form.refuse("email", "An e-mail address has one @ with something on both sides, and no blanks.");
    }
    let address = form.area("address", 500);
    let reach_by = form.choice::<ReachBy>("reach_by", "how the customer likes to be reached");
    let note = form.area("note", TEXT);
    // the day of the yes is kept as it was given
    let reminders_agreed_on =
        form.is("reminders", "yes").then(|| present.reminders_agreed_on.unwrap_or_else(|| visit.today()));
    let (Some(reach_by), false) = (reach_by, form.refused()) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &customer_page(&visit, present, form).await?);
    };
    let entry = CustomerEntry { name, telephone, email, address, reach_by, reminders_agreed_on, note };
    let mut write = visit.app.db.write().await?;
    let by = visit.by(Door::Desk);
    match customer::save(&mut write, &by, &visit.settings.country, id, form.version()?, &entry).await {
        Ok(()) => {
            write.commit().await?;
            see(&visit, &format!("/desk/customers/{id}"), &format!("{} is saved.", entry.name))
        }
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(write);
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &customer_page(&visit, present, form).await?)
        }
        Err(other) => Err(other.into()),
    }
}
