//! `/bench/jobs/{id}/observations`: what the eye and ear find, and what was put right.

use super::job::again;
use super::readings::keep_plan;
use crate::records::plan::is_on_its_string;
use crate::records::{Door, JobId, ObservationId, draft, instrument, job, observation};
use crate::setup::plan::ObservationKey;
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{RequestContext, redirect_with_flash};

/// `POST /bench/jobs/{id}/observations`
pub(in crate::web) async fn note(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let instrument = job::find(context.app.db.read(), id).await?.instrument_id;
    let entry = instrument::load(context.app.db.read(), instrument).await?.entry;
    let strings = i64::try_from(entry.strings.len()).unwrap_or(1).max(1);
    let key = form.choice::<ObservationKey>("key", "what you see or hear");
    let string = form.number("string", 1..=strings);
    let fret = form.number("fret", 0..=entry.frets);
    if form.error("fret").is_none() && !is_on_its_string(&entry, string, fret) {
        form.add_error("fret", "This string begins further up: say its open note (0) or a fret beyond its beginning.");
    }
    let words = form.line("seen_note", LINE);
    if matches!(key, Some(ObservationKey::Buzz | ObservationKey::Choke)) {
        form.require("fret", fret, "Say at which fret; 0 is the open string.");
    }
    let (Some(key), false) = (key, form.has_errors()) else {
        return again(&context, id, form).await;
    };
    let form_key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Bench);
    let noted = observation::note(&mut tx, &by, id, &form_key, key.key(), (string, fret), &words).await;
    if form.accept("seen_note", noted)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    keep_plan(&context, id).await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#plan"), &format!("Noted: {}.", key.spoken()))
}

/// `POST /bench/jobs/{id}/observations/{observation}/clear`
pub(in crate::web) async fn clear(
    context: RequestContext,
    Id((id, observation)): Id<(JobId, ObservationId)>,
) -> Result {
    let mut tx = context.app.db.write().await?;
    let is_read_again = draft::put_right(&mut tx, &context.audit(Door::Bench), id, observation).await?;
    tx.commit().await?;
    keep_plan(&context, id).await?;
    let words = if is_read_again {
        "Put right. What was read while it stood is struck through and read again."
    } else {
        "Put right. It is kept on record and no longer counts."
    };
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#plan"), words)
}
