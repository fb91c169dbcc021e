//! `/desk/customers/{id}`: one customer: instruments, visits, money, care due, and what can be done with the record.

use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect};

use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer, CustomerEntry, ReachBy};
use crate::records::instrument::{self, FormerlyOwned, InstrumentHit};
use crate::records::staff::Role;
use crate::records::{CustomerId, Door, care, export, forget, job, payment};
use crate::web::caution_view::CautionSeen;
use crate::web::form::{Id, LINE, TEXT, Typed, looks_like_email};
use crate::web::page::{Layout, Visit, page, page_with, see};
use crate::web::words::{StageSeen, dial, instrument_title};
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "desk/customer.html")]
struct CustomerPage {
    layout: Layout,
    form: Typed,
    customer: Customer,
    dial: Option<String>,
    reminders: Option<String>,
    instruments: Vec<InstrumentHit>,
    formerly: Vec<FormerlyOwned>,
    visits: Vec<VisitRow>,
    payments: Vec<PaymentRow>,
    care: Vec<CareRow>,
    is_owner: bool,
    cautions: Vec<CautionSeen>,
}

struct PaymentRow {
    href: String,
    number: String,
    day: String,
    what: String,
    amount: String,
}

struct CareRow {
    href: String,
    instrument: String,
    plan_href: String,
    what: &'static str,
    due: String,
    is_overdue: bool,
    is_paused: bool,
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
    let payments = payment::of_customer(reading, customer.id).await?;
    let care = care::of_customer(reading, customer.id).await?;
    Ok(CustomerPage {
        cautions: visit.cautions(Place::Customer, &About::default(), &[]),
        formerly: instrument::formerly_of(reading, customer.id).await?,
        payments: payments
            .into_iter()
            .map(|row| PaymentRow {
                href: format!("/desk/jobs/{}/hand-over", row.job_id),
                number: row.number,
                day: visit.day_of(row.taken_at),
                what: format!("{}, {}", row.kind, row.method),
                amount: visit.money(row.amount),
            })
            .collect(),
        care: care
            .into_iter()
            .map(|row| CareRow {
                href: format!("/desk/instruments/{}", row.instrument_id),
                instrument: instrument_title(row.family, &row.maker, &row.model),
                plan_href: format!("/desk/care/{}", row.id),
                what: row.kind.spoken(),
                due: crate::quantity::with_weekday(row.next_due_on),
                is_overdue: row.next_due_on < visit.today() && !row.paused,
                is_paused: row.paused,
            })
            .collect(),
        is_owner: visit.may_act_as(Role::Owner),
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
    if let Some(into) = customer.merged_into {
        return Ok(Redirect::to(&format!("/desk/customers/{into}")).into_response());
    }
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
            let present = customer::find(visit.app.db.read(), id).await?;
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &customer_page(&visit, present, form).await?)
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /desk/customers/{id}/archive`
pub(in crate::web) async fn archive(visit: Visit, Id(id): Id<CustomerId>, form: Typed) -> Result {
    let day = (!form.is("archived", "no")).then(|| visit.today());
    let mut write = visit.app.db.write().await?;
    customer::archive(&mut write, &visit.by(Door::Desk), id, form.version()?, day).await?;
    write.commit().await?;
    let words = if day.is_some() { "Archived: found last, and nothing is lost." } else { "Taken out of the archive." };
    see(&visit, &format!("/desk/customers/{id}"), words)
}

/// `POST /desk/customers/{id}/export`: everything about one customer, for them.
pub(in crate::web) async fn export(visit: Visit, Id(id): Id<CustomerId>) -> Result {
    let mut write = visit.app.db.write().await?;
    let all = export::about_customer(&mut write, &visit.by(Door::Desk), id).await?;
    write.commit().await?;
    let text = serde_json::to_string_pretty(&all).map_err(Error::internal)?;
    let name =
        HeaderValue::from_str(&format!("attachment; filename=\"customer-{id}.json\"")).map_err(Error::internal)?;
    let kind = HeaderValue::from_static("application/json; charset=utf-8");
    Ok(([(header::CONTENT_TYPE, kind), (header::CONTENT_DISPOSITION, name)], text).into_response())
}

/// `POST /desk/customers/{id}/anonymise`: the owner forgets a person who asks for it.
pub(in crate::web) async fn anonymise(visit: Visit, Id(id): Id<CustomerId>, mut form: Typed) -> Result {
    let present = customer::find(visit.app.db.read(), id).await?;
    if !form.is("sure", "yes") {
        form.refuse("sure", "Tick that you mean it: the name cannot be brought back.");
        let shown = typed(&present).under(form);
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &customer_page(&visit, present, shown).await?);
    }
    let mut write = visit.app.db.write().await?;
    forget::anonymise(&mut write, &visit.by(Door::Office), id, form.version()?, visit.today()).await?;
    write.commit().await?;
    see(&visit, &format!("/desk/customers/{id}"), "The person is forgotten. Jobs and money stay without a name.")
}
