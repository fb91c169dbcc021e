//! `/desk/customers/{id}`: one customer: instruments, visits, money, care due, and what can be done with the record.

use askama::Template;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Redirect};

use super::instrument::older_visits;
use crate::drawing::Svg;
use crate::quantity::telephone::to_e164;
use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::instrument::{self, FormerlyOwned, InstrumentSummary};
use crate::records::staff::Role;
use crate::records::{CustomerId, Door, JobId, anonymise, care, export, job, owing, payment, photo};
use crate::web::caution_view::CautionView;
use crate::web::form::{FormData, Id, Query};
use crate::web::owing_view::OwingRow;
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::{StageView, StageViews, dial, instrument_title};
use crate::web::{Error, Result};

/// Visits shown at once: the page costs the same after twenty years.
const MOST_VISITS: i64 = 20;

#[derive(Template)]
#[template(path = "desk/customer.html")]
struct CustomerPage {
    layout: Layout,
    form: FormData,
    customer: Customer,
    numbers: Vec<Number>,
    reminders: Option<String>,
    instruments: Vec<InstrumentSummary>,
    formerly: Vec<FormerlyOwned>,
    visits: Vec<VisitRow>,
    strips: Svg,
    payments: Vec<PaymentRow>,
    open_accounts: Vec<OwingRow>,
    care: Vec<CareRow>,
    is_owner: bool,
    cautions: Vec<CautionView>,
    older: Option<String>,
    is_older: bool,
}

/// A number to be called.
struct Number {
    label: String,
    number: String,
    dial: Option<String>,
}

fn numbers(context: &RequestContext, customer: &Customer) -> Vec<Number> {
    let first = (customer.telephone_label.clone(), customer.telephone.clone());
    let more = customer.more_telephones.iter().map(|more| (more.label.clone(), more.number.clone()));
    let all = std::iter::once(first).chain(more).filter(|(_, number)| !number.is_empty());
    all.map(|(label, number)| {
        let found = to_e164(&number, &context.settings.country);
        Number { dial: dial(found.as_ref().map(|found| found.number.as_str())), label, number }
    })
    .collect()
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
    stage: StageView,
    instrument: String,
    complaint: String,
    day: String,
}

async fn customer_page(context: &RequestContext, customer: Customer, form: FormData) -> Result<CustomerPage> {
    let reading = context.app.db.read();
    let before: Option<JobId> = form.value("older").parse().ok();
    let mut visits = job::visits(reading, job::Visits::Of(customer.id), before, MOST_VISITS + 1).await?;
    let older = older_visits(&mut visits, MOST_VISITS, &format!("/desk/customers/{}", customer.id));
    let payments = payment::of_customer(reading, customer.id).await?;
    let care = care::of_customer(reading, customer.id).await?;
    let mut stages = StageViews::default();
    let visits: Vec<VisitRow> = visits
        .into_iter()
        .map(|row| VisitRow {
            href: format!("/desk/jobs/{}", row.id),
            number: row.number,
            stage: stages.of(row.stage, None),
            instrument: instrument_title(row.family, &row.maker, &row.model),
            complaint: row.complaint,
            day: context.day_of(row.checked_in_at),
        })
        .collect();
    Ok(CustomerPage {
        cautions: context.cautions(Place::Customer, &About::default(), &[]),
        formerly: instrument::formerly_of(reading, customer.id).await?,
        payments: payments
            .into_iter()
            .map(|row| PaymentRow {
                href: format!("/desk/jobs/{}/hand-over", row.job_id),
                number: row.number,
                day: context.day_of(row.taken_at),
                what: format!("{}, {}", row.kind, row.method),
                amount: context.money(row.amount),
            })
            .collect(),
        open_accounts: owing::open(reading, Some(customer.id))
            .await?
            .iter()
            .map(|account| OwingRow::of(context, account))
            .collect(),
        care: care
            .into_iter()
            .map(|row| CareRow {
                href: format!("/desk/instruments/{}", row.instrument_id),
                instrument: instrument_title(row.family, &row.maker, &row.model),
                plan_href: format!("/desk/care/{}", row.id),
                what: row.kind.spoken(),
                due: crate::quantity::with_weekday(row.next_due_on),
                is_overdue: row.next_due_on < context.today() && !row.paused,
                is_paused: row.paused,
            })
            .collect(),
        is_owner: context.may_act_as(Role::Owner),
        older,
        is_older: before.is_some(),
        layout: context.layout(),
        form,
        numbers: numbers(context, &customer),
        reminders: customer.reminders_agreed_on.map(crate::quantity::with_weekday),
        instruments: instrument::of_customer(reading, customer.id).await?,
        visits,
        strips: stages.drawn(),
        customer,
    })
}

/// `GET /desk/customers/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<CustomerId>, query: Query) -> Result {
    let customer = customer::find(context.app.db.read(), id).await?;
    if let Some(into) = customer.merged_into {
        return Ok(Redirect::to(&format!("/desk/customers/{into}")).into_response());
    }
    let form = FormData::new().with("version", customer.version.to_string()).with("older", query.value("older"));
    page(&customer_page(&context, customer, form).await?)
}

/// `POST /desk/customers/{id}/archive`
pub(in crate::web) async fn archive(context: RequestContext, Id(id): Id<CustomerId>, form: FormData) -> Result {
    let day = (!form.is("archived", "no")).then(|| context.today());
    let mut tx = context.app.db.write().await?;
    customer::archive(&mut tx, &context.audit(Door::Desk), id, form.version()?, day).await?;
    tx.commit().await?;
    let words = if day.is_some() { "Archived: found last, and nothing is lost." } else { "Taken out of the archive." };
    redirect_with_flash(&context, &format!("/desk/customers/{id}"), words)
}

/// `POST /desk/customers/{id}/export`: everything about one customer, for them.
pub(in crate::web) async fn export(context: RequestContext, Id(id): Id<CustomerId>) -> Result {
    let all = export::about_customer(&context.app.db, &context.audit(Door::Desk), id).await?;
    let text = serde_json::to_string_pretty(&all).map_err(Error::internal)?;
    let name =
        HeaderValue::from_str(&format!("attachment; filename=\"customer-{id}.json\"")).map_err(Error::internal)?;
    let kind = HeaderValue::from_static("application/json; charset=utf-8");
    Ok(([(header::CONTENT_TYPE, kind), (header::CONTENT_DISPOSITION, name)], text).into_response())
}

/// `POST /desk/customers/{id}/anonymise`: the owner forgets a person who asks for it.
pub(in crate::web) async fn anonymise(context: RequestContext, Id(id): Id<CustomerId>, mut form: FormData) -> Result {
    let present = customer::find(context.app.db.read(), id).await?;
    if !form.is("sure", "yes") {
        form.add_error("sure", "Tick that you mean it: the name cannot be brought back.");
        let form = FormData::new().with("version", present.version.to_string()).overlaid_with(form);
        return page_with(form.status(), &customer_page(&context, present, form).await?);
    }
    let mut tx = context.app.db.write().await?;
    anonymise::anonymise(&mut tx, &context.audit(Door::Office), id, form.version()?, context.today()).await?;
    tx.commit().await?;
    photo::remove_forgotten(&context.app.db).await?;
    redirect_with_flash(
        &context,
        &format!("/desk/customers/{id}"),
        "The person is forgotten. Jobs and money stay without a name.",
    )
}
