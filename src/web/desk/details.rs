//! `/desk/jobs/{id}/details`: what was written down at the counter, corrected.

use askama::Template;
use axum::http::StatusCode;

use crate::records::job::{self, Job, JobEntry, Style};
use crate::records::staff::{self, Staff};
use crate::records::{Door, JobId, StaffId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE, TEXT};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "desk/details.html")]
struct DetailsPage {
    layout: Layout,
    form: FormData,
    job: Job,
    people: Vec<Staff>,
}

impl DetailsPage {
    fn styles(&self) -> &'static [Style] {
        Style::ALL
    }
    /// Whom somebody else put on the job meanwhile.
    fn their_person(&self) -> Option<&str> {
        let theirs = self.form.theirs("staff")?;
        let person = self.people.iter().find(|person| person.id.to_string() == theirs);
        Some(person.map_or("nobody", |person| person.name.as_str()))
    }
}

fn typed(job: &Job) -> FormData {
    FormData::fresh()
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
    Ok(DetailsPage { layout: context.layout(), form, job, people })
}

/// `GET /desk/jobs/{id}/details`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let job = job::find(context.app.db.read(), id).await?;
    let form = typed(&job);
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
    let (Some(style), false) = (style, form.refused()) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &details_page(&context, present, form).await?);
    };
    let entry = JobEntry { complaint, style, brought_with, rack, promised_on, staff_id };
    let mut tx = context.app.db.write().await?;
    match job::save(&mut tx, &context.audit(Door::Desk), id, form.version()?, &entry).await {
        Ok(()) => {
            tx.commit().await?;
            redirect_with_flash(&context, &format!("/desk/jobs/{id}"), &format!("{} is saved.", present.number))
        }
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(tx);
            let present = job::find(context.app.db.read(), id).await?;
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &details_page(&context, present, form).await?)
        }
        Err(other) => Err(other.into()),
    }
}
