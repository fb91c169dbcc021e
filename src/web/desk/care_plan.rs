//! `/desk/care/{id}`: one line of yearly care: how often, in which month, paused or not.

use askama::Template;
use time::Month;

use crate::quantity::with_weekday;
use crate::records::care::{self, CareEntry, CarePlan};
use crate::records::{CareId, Door, InstrumentId, instrument};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Id};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "desk/care_plan.html")]
struct CarePlanPage {
    layout: Layout,
    form: FormData,
    plan: CarePlan,
    instrument_id: InstrumentId,
    instrument: String,
    last_done: Option<String>,
    next_due: String,
    months: Vec<Choice>,
    month_hint: &'static str,
}

fn months() -> Vec<Choice> {
    let months = std::iter::successors(Some(Month::January), |month| Some(month.next())).take(12);
    months.map(|month| Choice::new(u8::from(month), month.to_string())).collect()
}

fn form_of(plan: &CarePlan) -> FormData {
    FormData::new()
        .with("version", plan.version.to_string())
        .with("every_months", plan.every_months.to_string())
        .with("suits_month", plan.suits_month.map(|month| month.to_string()).unwrap_or_default())
        .with("paused", if plan.paused { "yes" } else { "" })
}

async fn care_plan_page(context: &RequestContext, id: CareId, form: Option<FormData>) -> Result<CarePlanPage> {
    let reading = context.app.db.read();
    let (instrument_id, plan) = care::find(reading, id).await?;
    Ok(CarePlanPage {
        layout: context.layout(),
        form: form.unwrap_or_else(|| form_of(&plan)),
        instrument: instrument::load(reading, instrument_id).await?.entry.title(),
        instrument_id,
        last_done: plan.last_done_on.map(with_weekday),
        next_due: with_weekday(plan.next_due_on),
        months: months(),
        month_hint: "Moisture before the heating season. With a month it is due then, each year or, with 24 months, every \
                     other.",
        plan,
    })
}

/// `GET /desk/care/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<CareId>) -> Result {
    page(&care_plan_page(&context, id, None).await?)
}

/// `POST /desk/care/{id}`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<CareId>, mut form: FormData) -> Result {
    let (instrument, _) = care::find(context.app.db.read(), id).await?;
    let every_months = form.required_number("every_months", 1..=120, "after how many months it is due again");
    let suits_month = form.number("suits_month", 1..=12);
    let (Some(every_months), false) = (every_months, form.has_errors()) else {
        return page_with(form.status(), &care_plan_page(&context, id, Some(form)).await?);
    };
    let entry = CareEntry { every_months, suits_month, paused: form.is("paused", "yes") };
    let mut tx = context.app.db.write().await?;
    let saved = care::save(&mut tx, &context.audit(Door::Desk), id, form.version()?, entry).await;
    if form.accept_save("every_months", saved)?.is_none() {
        drop(tx);
        let (_, present) = care::find(context.app.db.read(), id).await?;
        form.merge_on_conflict(&form_of(&present));
        return page_with(form.status(), &care_plan_page(&context, id, Some(form)).await?);
    }
    tx.commit().await?;
    let (_, after) = care::find(context.app.db.read(), id).await?;
    let words = match after.paused {
        true => "Saved. It is paused: nobody is reminded.".to_owned(),
        false => format!("Saved. It is due next on {}.", with_weekday(after.next_due_on)),
    };
    redirect_with_flash(&context, &format!("/desk/instruments/{instrument}"), &words)
}
