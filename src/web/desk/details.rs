//! `/desk/jobs/{id}/details`: what was written down at the counter, corrected.

use askama::Template;

use crate::records::job::{self, Job, JobEntry, Style};
use crate::records::staff;
use crate::records::{Door, JobId, StaffId};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Id, LINE, TEXT};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "desk/details.html")]
struct DetailsPage {
    layout: Layout,
    form: FormData,
    job: Job,
    people: Vec<Choice>,
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
    Ok(DetailsPage { layout: context.layout(), form, job, people: people.collect() })
}

/// `GET /desk/jobs/{id}/details`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let job = job::find(context.app.db.read(), id).await?;
    let form = form_of(&job);
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
    let (Some(style), false) = (style, form.has_errors()) else {
        return page_with(form.status(), &details_page(&context, present, form).await?);
    };
    let entry = JobEntry { complaint, style, brought_with, rack, promised_on, staff_id };
    let mut tx = context.app.db.write().await?;
    let saved = job::save(&mut tx, &context.audit(Door::Desk), id, form.version()?, &entry).await;
    if form.accept_save("complaint", saved)?.is_none() {
        drop(tx);
        let present = job::find(context.app.db.read(), id).await?;
        form.merge_on_conflict(&form_of(&present));
        return page_with(form.status(), &details_page(&context, present, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), &format!("{} is saved.", present.number))
}
