//! `/bench/jobs/{id}/observations`: what the eye and ear find, and what was put right.

use axum::http::StatusCode;

use super::job::bench_page;
use super::known::Bench;
use super::readings::keep_plan;
use crate::records::{Door, JobId, ObservationId, observation};
use crate::setup::plan::ObservationKey;
use crate::web::Result;
use crate::web::form::{Id, LINE, Typed};
use crate::web::page::{Visit, page_with, see};

/// `POST /bench/jobs/{id}/observations`
pub(in crate::web) async fn note(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let bench = Bench::read(&visit, id).await?;
    let entry = &bench.instrument.entry;
    let strings = i64::try_from(entry.strings.len()).unwrap_or(1).max(1);
    let key = form.choice::<ObservationKey>("key", "what you see or hear");
    let string = form.number("string", 1..=strings);
    let fret = form.number("fret", 0..=entry.frets);
    let words = form.line("seen_note", LINE);
    if matches!(key, Some(ObservationKey::Buzz | ObservationKey::Choke))
        && fret.is_none()
        && form.error("fret").is_none()
    {
        form.refuse("fret", "Say at which fret; 0 is the open string.");
    }
    let (Some(key), false) = (key, form.refused()) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
    };
    let form_key = form.required_key()?.to_owned();
    let mut write = visit.app.db.write().await?;
    let by = visit.by(Door::Bench);
    if let Err(error) = observation::note(&mut write, &by, id, &form_key, key.key(), (string, fret), &words).await {
        drop(write);
        let status = form.note("seen_note", error)?;
        return page_with(status, &bench_page(&visit, bench, Some(form)).await?);
    }
    keep_plan(&mut write, &visit, id).await?;
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}#plan"), &format!("Noted: {}.", key.spoken()))
}

/// `POST /bench/jobs/{id}/observations/{observation}/clear`
pub(in crate::web) async fn clear(visit: Visit, Id((id, seen)): Id<(JobId, ObservationId)>) -> Result {
    let mut write = visit.app.db.write().await?;
    observation::clear(&mut write, &visit.by(Door::Bench), id, seen).await?;
    keep_plan(&mut write, &visit, id).await?;
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}#plan"), "Put right. It is kept on record and no longer counts.")
}
