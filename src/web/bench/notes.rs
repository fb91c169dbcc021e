//! `POST /bench/jobs/{id}/notes`: a note to the next pair of hands.

use axum::http::StatusCode;

use super::job::{Bench, bench_page};
use crate::records::{Door, JobId, note};
use crate::web::Result;
use crate::web::form::{Id, TEXT, Typed};
use crate::web::page::{Visit, page_with, see};

/// A note as the bench page and the card show it.
pub(super) struct NoteRow {
    pub(super) words: String,
    /// "Ivo, Wed 14 Oct 2026 10:00"
    pub(super) by: String,
}

/// The notes of a job, newest first.
pub(super) async fn rows(visit: &Visit, id: JobId) -> Result<Vec<NoteRow>> {
    let notes = note::of_job(visit.app.db.read(), id).await?;
    let rows = notes
        .into_iter()
        .map(|note| NoteRow { by: format!("{}, {}", note.who, visit.moment(note.at)), words: note.words });
    Ok(rows.collect())
}

/// `POST /bench/jobs/{id}/notes`
pub(in crate::web) async fn write(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let words = form.required_area("hands", "what the next pair of hands should know", TEXT);
    if form.refused() {
        let bench = Bench::read(&visit, id).await?;
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
    }
    let key = form.required_key()?.to_owned();
    let mut write = visit.app.db.write().await?;
    note::write(&mut write, &visit.by(Door::Bench), id, &key, &words).await?;
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}"), "The note is written.")
}
