//! `/bench/jobs/{id}/observations`: what the eye and ear find, and what was put right.

use axum::http::StatusCode;

use super::job::bench_page;
use super::known::BenchJob;
use super::readings::keep_plan;
use crate::records::{Door, JobId, ObservationId, observation};
use crate::setup::plan::ObservationKey;
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{RequestContext, page_with, redirect_with_flash};

/// `POST /bench/jobs/{id}/observations`
pub(in crate::web) async fn note(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let bench = BenchJob::load(&context, id).await?;
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
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&context, bench, Some(form)).await?);
    };
    let form_key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Bench);
    if let Err(error) = observation::note(&mut tx, &by, id, &form_key, key.key(), (string, fret), &words).await {
        drop(tx);
        let status = form.note("seen_note", error)?;
        return page_with(status, &bench_page(&context, bench, Some(form)).await?);
    }
    tx.commit().await?;
    keep_plan(&context, id).await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#plan"), &format!("Noted: {}.", key.spoken()))
}

/// `POST /bench/jobs/{id}/observations/{observation}/clear`
pub(in crate::web) async fn clear(context: RequestContext, Id((id, seen)): Id<(JobId, ObservationId)>) -> Result {
    let mut tx = context.app.db.write().await?;
    observation::clear(&mut tx, &context.audit(Door::Bench), id, seen).await?;
    tx.commit().await?;
    keep_plan(&context, id).await?;
    redirect_with_flash(
        &context,
        &format!("/bench/jobs/{id}#plan"),
        "Put right. It is kept on record and no longer counts.",
    )
}
