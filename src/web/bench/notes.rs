//! `POST /bench/jobs/{id}/notes`: a note to the next pair of hands.

use axum::http::StatusCode;

use super::job::bench_page;
use super::known::Bench;
use crate::records::{Door, JobId, note};
use crate::web::Result;
use crate::web::form::{Id, TEXT, Typed};
use crate::web::page::{Visit, page_with, see};

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
