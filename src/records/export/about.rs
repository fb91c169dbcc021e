//! Everything the shop holds about one customer, as JSON: for them, when they ask for it.

use serde_json::{Value, json};

use super::super::event::{self, By};
use super::super::{CustomerId, InstrumentId, JobId, Result, Writing};
use super::super::{
    care, condition, customer, instrument, job, labour, note, observation, part, payment, photo, quote, reading,
    signature, work,
};

/// Everything the shop holds about one customer: for them, when they ask for it. Each table as it is kept.
pub async fn about_customer(on: Writing<'_>, by: &By, id: CustomerId) -> Result<Value> {
    let person = customer::find(&mut *on, id).await?;
    let mut instruments = Vec::new();
    for known in instrument::of_customer(&mut *on, id).await? {
        instruments.push(about_instrument(&mut *on, known.id).await?);
    }
    let mut jobs = Vec::new();
    for job in job::of_customer(&mut *on, id).await? {
        jobs.push(about_job(&mut *on, job).await?);
    }
    let mut merged = Vec::new();
    for record in customer::merged_in(&mut *on, id).await? {
        merged.push(customer::find(&mut *on, record).await?);
    }
    let formerly = instrument::formerly_of(&mut *on, id).await?;
    event::write::<()>(on, by, "data given to the customer", "customer", id.0, None, None).await?;
    Ok(json!({
        "customer": person,
        "records_merged_into_it": merged,
        "instruments": instruments,
        "instruments_formerly_theirs": formerly,
        "jobs": jobs,
        "units": "lengths in micrometres, money in minor units, moments in microseconds since 1970 UTC",
    }))
}

async fn about_instrument(on: Writing<'_>, id: InstrumentId) -> Result<Value> {
    let instrument = instrument::find(&mut *on, id).await?;
    let care = care::of_instrument(on, id).await?;
    Ok(json!({ "instrument": instrument, "care": care }))
}

async fn about_job(on: Writing<'_>, id: JobId) -> Result<Value> {
    let job = job::find(&mut *on, id).await?;
    let marks = condition::of_job(&mut *on, id).await?;
    let readings = reading::of_job(&mut *on, id).await?;
    let observations = observation::of_job(&mut *on, id).await?;
    let work = work::of_job(&mut *on, id).await?;
    let mut quotes = Vec::new();
    for quote in quote::of_job(&mut *on, id).await? {
        let lines = quote::lines(&mut *on, quote.id).await?;
        quotes.push(json!({ "quote": quote, "lines": lines }));
    }
    let payments = payment::of_job(&mut *on, id).await?;
    let notes = note::all_of_job(&mut *on, id).await?;
    let signatures = signature::all_of_job(&mut *on, id)
        .await?
        .into_iter()
        .map(|(purpose, drawn_at, strokes)| json!({ "signed_for": purpose, "drawn_at": drawn_at, "strokes": strokes }));
    let photographs = photo::of_job(&mut *on, id).await?.into_iter().map(|photo| {
        json!({
            "id": photo.id, "caption": photo.caption, "mark": photo.mark, "width": photo.width, "height": photo.height,
            "on_the_private_page": photo.for_customer, "set_aside": photo.set_aside, "taken_by": photo.who,
            "added_at": photo.added_at,
        })
    });
    let labour = labour::of_job(&mut *on, id).await?;
    let parts = part::of_job(on, id).await?;
    Ok(json!({
        "job": job, "condition": marks, "readings": readings, "observations": observations, "work": work,
        "quotes": quotes, "payments": payments, "notes": notes, "signatures": signatures.collect::<Vec<_>>(),
        "photographs": photographs.collect::<Vec<_>>(), "labour": labour, "parts": parts,
    }))
}
