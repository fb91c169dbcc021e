//! `/desk/jobs/{id}/details`: what was written down at the counter, corrected.

use askama::Template;

use crate::records::fold::folded;
use crate::records::job::{self, Job, JobEntry, Style};
use crate::records::staff;
use crate::records::{Door, JobId, StaffId, promise};
use crate::web::form::{Choice, FormData, Id, LINE, TEXT};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::rack_view::{PAST, TakenPlace};
use crate::web::{Result, unsent};

#[derive(Template)]
#[template(path = "desk/details.html")]
struct DetailsPage {
    layout: Layout,
    form: FormData,
    job: Job,
    people: Vec<Choice>,
    /// Another job stands at the place.
    taken: Option<TakenPlace>,
}

impl DetailsPage {
    fn styles(&self) -> &'static [Style] {
        Style::ALL
    }
}

fn form_of(job: &Job) -> FormData {
    FormData::new()
        .with("version", job.version.to_string())
        .with("complaint", job.complaint.as_str())
        .with("style", job.style.key())
        .with("brought_with", job.brought_with.as_str())
        .with("rack", job.rack.as_str())
        .with("promised_on", job.promised_on.map(|day| day.to_string()).unwrap_or_default())
        .with("staff", job.staff_id.map(|id| id.to_string()).unwrap_or_default())
}

async fn details_page(context: &RequestContext, job: Job, form: FormData) -> Result<DetailsPage> {
    let mut people = staff::all(context.app.db.read()).await?;
    // whoever is on the job stays on it until somebody else is chosen
    people.retain(|person| {
        (person.active && person.roles.may_act_as(staff::Role::Bench)) || Some(person.id) == job.staff_id
    });
    let people = people.into_iter().map(|person| {
        let words = if person.active { person.name } else { format!("{} (no longer signs in)", person.name) };
        Choice::new(person.id, words)
    });
    Ok(DetailsPage { layout: context.layout(), form, job, people: people.collect(), taken: None })
}

/// `GET /desk/jobs/{id}/details`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let job = job::find(context.app.db.read(), id).await?;
    let form = unsent::brought_back(&context, &format!("/desk/jobs/{id}/details"), form_of(&job)).await?;
    page(&details_page(&context, job, form).await?)
}

/// `POST /desk/jobs/{id}/details`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let present = job::find(context.app.db.read(), id).await?;
    let complaint = form.required_area("complaint", "what the customer says is wrong, in their words", TEXT);
    let style = form.choice::<Style>("style", "how hard the customer plays");
    let brought_with = form.line("brought_with", LINE);
    let rack = form.line("rack", 40);
    let promised_on = form.day("promised_on");
    let staff_id = form.id::<StaffId>("staff");
    let promise_reason = form.line("promise_reason", LINE);
    if promised_on != present.promised_on && form.error("promised_on").is_none() {
        if promised_on.is_some_and(|day| day < context.today()) {
            form.add_error("promised_on", PAST);
        } else if present.promised_on.is_some() && promised_on.is_none() {
            form.add_error("promised_on", "A promise is moved, not taken away: choose the day that holds.");
        } else if present.promised_on.is_some() && promise_reason.is_empty() {
            form.add_error("promise_reason", "Say why the promise moves: the customer will ask.");
        }
    }
    let rack_moved = folded(&rack) != folded(&present.rack);
    if let Some(place) = form.has("rack_at").then(|| form.line("rack_at", 40)) {
        form.set("rack", place);
    }
    let rack = form.line("rack", 40);
    let taken = match rack_moved && !form.is("same_rack", "yes") {
        true => TakenPlace::find(&context, &rack, Some(id)).await?,
        false => None,
    };
    if taken.is_some() {
        form.add_error("same_rack", "That place is taken. Say whether both go there, or choose another.");
    }
    let (Some(style), false) = (style, form.has_errors()) else {
        let shown = DetailsPage { taken, ..details_page(&context, present, form).await? };
        return page_with(shown.form.status(), &shown);
    };
    let entry = JobEntry { complaint, style, brought_with, rack, promised_on, staff_id };
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let saved = promise::save_details(&mut tx, &by, id, form.version()?, &entry, &promise_reason).await;
    if form.accept_save("complaint", saved)?.is_none() {
        drop(tx);
        let present = job::find(context.app.db.read(), id).await?;
        form.merge_on_conflict(&form_of(&present));
        return page_with(form.status(), &details_page(&context, present, form).await?);
    }
    unsent::sent(&mut tx, &by, &format!("/desk/jobs/{id}/details"), &form).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), &format!("{} is saved.", present.number))
}
