//! Everything the shop holds about one customer, as JSON: for them, when they ask for it.

use serde_json::{Value, json};

use super::super::event::{self, AuditContext};
use super::super::{CustomerId, InstrumentId, JobId, Result, WriteTx};
use super::super::{
    care, condition, customer, instrument, job, labour, note, observation, part, payment, photo, quote, reading,
    signature, work,
};

/// Everything the shop holds about one customer: for them, when they ask for it. Each table as it is kept.
pub async fn about_customer(tx: &mut WriteTx, by: &AuditContext, id: CustomerId) -> Result<Value> {
    let person = customer::find(&mut **tx, id).await?;
    let mut instruments = Vec::new();
    for known in instrument::of_customer(&mut **tx, id).await? {
        instruments.push(about_instrument(tx, known.id).await?);
    }
    let mut jobs = Vec::new();
    for job in job::of_customer(&mut **tx, id).await? {
        jobs.push(about_job(tx, job).await?);
    }
    let mut merged = Vec::new();
    for record in customer::merged_in(&mut **tx, id).await? {
        merged.push(customer::find(&mut **tx, record).await?);
    }
    let formerly = instrument::formerly_of(&mut **tx, id).await?;
    event::write::<()>(tx, by, "data given to the customer", "customer", id.0, None, None).await?;
    Ok(json!({
        "customer": person,
        "records_merged_into_it": merged,
        "instruments": instruments,
        "instruments_formerly_theirs": formerly,
        "jobs": jobs,
        "units": "lengths in micrometres, money in minor units, moments in microseconds since 1970 UTC",
    }))
}

async fn about_instrument(tx: &mut WriteTx, id: InstrumentId) -> Result<Value> {
    let instrument = instrument::find(tx, id).await?;
    let care = care::of_instrument(&mut **tx, id).await?;
    Ok(json!({ "instrument": instrument, "care": care }))
}

async fn about_job(tx: &mut WriteTx, id: JobId) -> Result<Value> {
    let job = job::find(&mut **tx, id).await?;
    let marks = condition::of_job(&mut **tx, id).await?;
    let readings = reading::of_job(tx, id).await?;
    let observations = observation::of_job(&mut **tx, id).await?;
    let work = work::of_job(&mut **tx, id).await?;
    let mut quotes = Vec::new();
    for quote in quote::of_job(&mut **tx, id).await? {
        let lines = quote::lines(&mut **tx, quote.id).await?;
        quotes.push(json!({ "quote": quote, "lines": lines }));
    }
    let payments = payment::of_job(&mut **tx, id).await?;
    let notes = note::all_of_job(&mut **tx, id).await?;
    let signatures = signature::all_of_job(&mut **tx, id)
        .await?
        .into_iter()
        .map(|(purpose, drawn_at, strokes)| json!({ "signed_for": purpose, "drawn_at": drawn_at, "strokes": strokes }));
    let photographs = photo::of_job(&mut **tx, id).await?.into_iter().map(|photo| {
        json!({
            "id": photo.id, "caption": photo.caption, "mark": photo.mark, "width": photo.width, "height": photo.height,
            "on_the_private_page": photo.for_customer, "set_aside": photo.set_aside, "taken_by": photo.who,
            "added_at": photo.added_at,
        })
    });
    let labour = labour::of_job(&mut **tx, id).await?;
    let parts = part::of_job(&mut **tx, id).await?;
    Ok(json!({
        "job": job, "condition": marks, "readings": readings, "observations": observations, "work": work,
        "quotes": quotes, "payments": payments, "notes": notes, "signatures": signatures.collect::<Vec<_>>(),
        "photographs": photographs.collect::<Vec<_>>(), "labour": labour, "parts": parts,
    }))
}
