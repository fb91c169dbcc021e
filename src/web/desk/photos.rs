//! `/desk/jobs/{id}/photos`: photographs of a job: several at once, each with its mark and a caption.
//!
//! Without scripts an ordinary form carries them; with scripts each goes in pieces (see `photo_upload.rs`).

use askama::Template;
use axum::extract::Multipart;
use axum::extract::multipart::MultipartRejection;
use axum::http::StatusCode;

use crate::records::job::{self, Job};
use crate::records::photo::{self, Photo, PhotoEntry};
use crate::records::picture::LARGEST_FILE;
use crate::records::staff::Role;
use crate::records::{self, ConditionId, Door, JobId, PhotoId};
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::{Error, Result};

/// Photographs of one form, at most.
const MOST_AT_ONCE: usize = 12;

#[derive(Template)]
#[template(path = "desk/photos.html")]
struct PhotosPage {
    layout: Layout,
    form: FormData,
    job: Job,
    is_desk: bool,
    is_bench: bool,
    is_open: bool,
    marks: Vec<Mark>,
    rows: Vec<Row>,
}

struct Mark {
    key: String,
    words: String,
}

struct Row {
    photo: Photo,
    by: String,
    caption: String,
    /// As it stands, or as it was refused.
    form: FormData,
    caption_field: String,
}

fn typed(photo: &Photo) -> FormData {
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
        form: if refused_row == Some(photo.id) { form.clone() } else { typed(&photo) },
        caption_field: format!("caption_{}", photo.id),
        photo,
    });
    let rows = rows.collect();
    Ok(PhotosPage {
        layout: context.layout(),
        form: if refused_row.is_some() { FormData::fresh() } else { FormData::fresh().under(form) },
        is_desk: context.may_act_as(Role::Desk),
        is_bench: context.may_act_as(Role::Bench),
        is_open: job.stage.is_open(),
        marks: marks.into_iter().map(|(id, words)| Mark { key: id.to_string(), words }).collect(),
        rows,
        job,
    })
}

/// `GET /desk/jobs/{id}/photos`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    page(&photos_page(&context, id, FormData::default(), None).await?)
}

/// What an ordinary form carried.
#[derive(Default)]
struct Carried {
    form_key: String,
    mark: Option<ConditionId>,
    caption: String,
    for_customer: bool,
    /// Name and bytes of each file.
    files: Vec<(String, Vec<u8>)>,
}

/// `POST /desk/jobs/{id}/photos`: an ordinary form with files.
pub(in crate::web) async fn add(
    context: RequestContext,
    Id(id): Id<JobId>,
    parts: std::result::Result<Multipart, MultipartRejection>,
) -> Result {
    job::find(context.app.db.read(), id).await?;
    let parts = parts.map_err(|_| Error::Unreadable("This page takes its own form only."))?;
    let carried = carried(parts).await?;
    let mut form = FormData::default()
        .with("caption", carried.caption.as_str())
        .with("mark", carried.mark.map(|mark| mark.to_string()).unwrap_or_default())
        .with("for_customer", if carried.for_customer { "yes" } else { "" });
    if carried.files.is_empty() {
        form.refuse("photos", "Choose or take at least one photograph.");
    }
    if carried.form_key.is_empty() || carried.form_key.len() > 64 {
        return Err(Error::Unreadable("The form is not whole. Open its page again."));
    }
    let mut stored = Vec::new();
    for (place, (name, file)) in carried.files.into_iter().enumerate() {
        match context.app.store_picture(move || Ok(file)).await? {
            Ok(picture) => stored.push((place, picture)),
            Err(why) => form.refuse("photos", format!("{name}: {why}")),
        }
    }
    let entry = PhotoEntry {
        condition_mark_id: carried.mark,
        caption: carried.caption.chars().take(LINE).collect(),
        for_customer: carried.for_customer,
        set_aside: false,
    };
    let by = context.audit(Door::Desk);
    let mut tx = context.app.db.write().await?;
    for (place, picture) in &stored {
        photo::add(&mut tx, &by, id, &format!("{}-{place}", carried.form_key), picture, &entry).await?;
    }
    tx.commit().await?;
    let words = match stored.len() {
        0 => String::new(),
        1 => "One photograph is kept.".to_owned(),
        count => format!("{count} photographs are kept."),
    };
    if form.refused() {
        if !words.is_empty() {
            form.refuse("photos", format!("{words} Send only the others again."));
        }
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &photos_page(&context, id, form, None).await?);
    }
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/photos"), &words)
}

async fn carried(mut parts: Multipart) -> Result<Carried> {
    let broken = |_| {
        Error::Unreadable("The photographs did not arrive whole, or are more than 96 MB together. Send fewer at once.")
    };
    let mut carried = Carried::default();
    while let Some(part) = parts.next_field().await.map_err(broken)? {
        let name = part.name().unwrap_or("").to_owned();
        if name != "photos" {
            let text = part.text().await.map_err(broken)?;
            match name.as_str() {
                "form_key" => carried.form_key = text,
                "mark" => carried.mark = text.parse().ok(),
                "caption" => text.trim().clone_into(&mut carried.caption),
                "for_customer" => carried.for_customer = text == "yes",
                _ => {}
            }
            continue;
        }
        let file_name: String = part.file_name().unwrap_or("photograph").chars().take(80).collect();
        let mut bytes = Vec::new();
        let mut part = part;
        while let Some(piece) = part.chunk().await.map_err(broken)? {
            // one byte over is enough to refuse it by name
            let room = (LARGEST_FILE + 1).saturating_sub(bytes.len());
            bytes.extend_from_slice(piece.get(..room.min(piece.len())).unwrap_or(&piece));
        }
        // an empty file field is sent as one nameless file of nothing
        if bytes.is_empty() {
            continue;
        }
        carried.files.push((file_name, bytes));
        if carried.files.len() > MOST_AT_ONCE {
            return Err(Error::Refused(format!("At most {MOST_AT_ONCE} photographs go in one form.")));
        }
    }
    Ok(carried)
}

/// `POST /desk/photos/{id}`: caption, mark, who may see it, set aside.
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<PhotoId>, mut form: FormData) -> Result {
    let present = photo::find(context.app.db.read(), id).await?;
    let job_id = present.job_id;
    // the row's own name for its field, so that its message stands there and not at the upload
    let field = format!("caption_{id}");
    let caption = form.value("caption").to_owned();
    form = form.with(&field, caption);
    let entry = PhotoEntry {
        condition_mark_id: form.id::<ConditionId>("mark"),
        caption: form.line(&field, LINE),
        for_customer: form.is("for_customer", "yes"),
        set_aside: form.is("set_aside", "yes"),
    };
    if form.refused() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &photos_page(&context, job_id, form, Some(id)).await?);
    }
    let mut tx = context.app.db.write().await?;
    match photo::save(&mut tx, &context.audit(Door::Desk), id, form.version()?, &entry).await {
        Ok(()) => tx.commit().await?,
        Err(records::Error::ChangedMeanwhile(_)) => {
            drop(tx);
            let theirs = photo::find(context.app.db.read(), id).await?;
            form.conflict(&typed(&theirs), theirs.version);
            return page_with(StatusCode::CONFLICT, &photos_page(&context, job_id, form, Some(id)).await?);
        }
        Err(other) => return Err(other.into()),
    }
    let words = match (entry.set_aside && !present.set_aside, entry.for_customer && !present.for_customer) {
        (true, _) => "Set aside. It is kept, and shown here only.",
        (false, true) => "Saved. The customer sees it on the private page.",
        (false, false) => "Saved.",
    };
    redirect_with_flash(&context, &format!("/desk/jobs/{job_id}/photos"), words)
}
