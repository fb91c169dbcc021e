//! `/desk/jobs/{id}/photos`: photographs of a job: several at once, each with its mark and a caption.
//!
//! Without scripts an ordinary form carries them; with scripts each goes in pieces (see `photo_upload.rs`).

use askama::Template;
use axum::extract::Multipart;
use axum::extract::multipart::MultipartRejection;

use crate::records::job::{self, Job};
use crate::records::photo::{self, Photo, PhotoEntry};
use crate::records::picture::LARGEST_FILE;
use crate::records::staff::Role;
use crate::records::{ConditionId, Door, JobId, PhotoId};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::upload::Upload;

/// What the form of the page may carry.
const PHOTOGRAPHS: Upload = Upload {
    field: "photos",
    most_files: 12,
    too_many: "At most 12 photographs go in one form.",
    largest_file: LARGEST_FILE,
    broken: "The photographs did not arrive whole, or are more than 96 MB together. Send fewer at once.",
};

#[derive(Template)]
#[template(path = "desk/photos.html")]
struct PhotosPage {
    layout: Layout,
    form: FormData,
    job: Job,
    is_desk: bool,
    is_bench: bool,
    is_open: bool,
    marks: Vec<Choice>,
    rows: Vec<Row>,
}

struct Row {
    photo: Photo,
    by: String,
    caption: String,
    /// As it stands, or as it was refused.
    form: FormData,
}

fn form_of(photo: &Photo) -> FormData {
    FormData::default()
        .with("version", photo.version.to_string())
        .with("caption", photo.caption.as_str())
        .with("mark", photo.condition_mark_id.map(|id| id.to_string()).unwrap_or_default())
        .with("for_customer", if photo.for_customer { "yes" } else { "" })
        .with("set_aside", if photo.set_aside { "yes" } else { "" })
}

/// `refused_row`: the photograph whose change was refused; then `form` is its row's, not the upload's.
async fn photos_page(
    context: &RequestContext,
    id: JobId,
    form: FormData,
    refused_row: Option<PhotoId>,
) -> Result<PhotosPage> {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let marks = photo::marks(reading, id).await?;
    let rows = photo::of_job(reading, id).await?.into_iter().map(|photo| Row {
        by: format!("{}, {}", photo.who, context.moment(photo.added_at)),
        caption: photo.caption.clone(),
        form: if refused_row == Some(photo.id) { form.clone() } else { form_of(&photo) }.of_row(photo.id),
        photo,
    });
    let rows = rows.collect();
    Ok(PhotosPage {
        layout: context.layout(),
        form: if refused_row.is_some() { FormData::new() } else { FormData::new().overlaid_with(form) },
        is_desk: context.may_act_as(Role::Desk),
        is_bench: context.may_act_as(Role::Bench),
        is_open: job.stage.is_open(),
        marks: marks.into_iter().map(|(id, words)| Choice::new(id, words)).collect(),
        rows,
        job,
    })
}

/// `GET /desk/jobs/{id}/photos`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    page(&photos_page(&context, id, FormData::default(), None).await?)
}

/// `POST /desk/jobs/{id}/photos`: an ordinary form with files.
pub(in crate::web) async fn add(
    context: RequestContext,
    Id(id): Id<JobId>,
    parts: std::result::Result<Multipart, MultipartRejection>,
) -> Result {
    photo::require_place(context.app.db.read(), id).await?;
    let (sent, files) = PHOTOGRAPHS.receive(parts).await?;
    let key = sent.required_key()?;
    // with a key of its own: what is sent again are other photographs
    let mut form = ["caption", "mark", "for_customer"]
        .iter()
        .fold(FormData::default(), |form, name| form.with(name, sent.value(name).trim()));
    if files.is_empty() {
        form.add_error("photos", "Choose or take at least one photograph.");
    }
    let mut stored = Vec::new();
    for (place, file) in files.into_iter().enumerate() {
        let name = if file.name.is_empty() { "photograph".to_owned() } else { file.name };
        match context.app.store_picture(move || Ok(file.bytes)).await? {
            Ok(picture) => stored.push((place, picture)),
            Err(why) => form.add_error("photos", format!("{name}: {why}")),
        }
    }
    let entry = PhotoEntry {
        condition_mark_id: form.value("mark").parse().ok(),
        caption: form.value("caption").chars().take(LINE).collect(),
        for_customer: form.is("for_customer", "yes"),
        set_aside: false,
    };
    let by = context.audit(Door::Desk);
    let mut tx = context.app.db.write().await?;
    for (place, picture) in &stored {
        photo::add(&mut tx, &by, id, &format!("{key}-{place}"), picture, &entry).await?;
    }
    tx.commit().await?;
    let words = match stored.len() {
        0 => String::new(),
        1 => "One photograph is kept.".to_owned(),
        count => format!("{count} photographs are kept."),
    };
    if form.has_errors() {
        if !words.is_empty() {
            form.add_error("photos", format!("{words} Send only the others again."));
        }
        return page_with(form.status(), &photos_page(&context, id, form, None).await?);
    }
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/photos"), &words)
}

/// `POST /desk/photos/{id}`: caption, mark, who may see it, set aside.
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<PhotoId>, mut form: FormData) -> Result {
    let present = photo::find(context.app.db.read(), id).await?;
    let job_id = present.job_id;
    let entry = PhotoEntry {
        condition_mark_id: form.id::<ConditionId>("mark"),
        caption: form.line("caption", LINE),
        for_customer: form.is("for_customer", "yes"),
        set_aside: form.is("set_aside", "yes"),
    };
    if form.has_errors() {
        return page_with(form.status(), &photos_page(&context, job_id, form, Some(id)).await?);
    }
    let mut tx = context.app.db.write().await?;
    let saved = photo::save(&mut tx, &context.audit(Door::Desk), id, form.version()?, &entry).await;
    if form.accept_save("mark", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&photo::find(context.app.db.read(), id).await?));
        return page_with(form.status(), &photos_page(&context, job_id, form, Some(id)).await?);
    }
    tx.commit().await?;
    let words = match (entry.set_aside && !present.set_aside, entry.for_customer && !present.for_customer) {
        (true, _) => "Set aside. It is kept, and shown here only.",
        (false, true) => "Saved. The customer sees it on the private page.",
        (false, false) => "Saved.",
    };
    redirect_with_flash(&context, &format!("/desk/jobs/{job_id}/photos"), words)
}
