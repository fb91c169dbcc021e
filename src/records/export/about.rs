//! Everything the shop holds about one customer, as JSON: for them, when they ask for it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Value, json};

use super::super::event::{self, AuditContext};
use super::super::{CustomerId, Db, Error, InstrumentId, JobId, QuoteId, Result};
use super::super::{
    care, condition, customer, instrument, job, labour, note, observation, part, payment, photo, quote, reading,
    signature, work,
};

/// Everything the shop holds about one customer: for them, when they ask for it. Each table as it is kept, as it stood
/// at one moment; as many statements for one job as for a hundred. That it was given is written down.
///
/// # Errors
/// When there is no such customer, or it cannot be written down that they were given this.
pub async fn about_customer(db: &Db, by: &AuditContext, id: CustomerId) -> Result<Value> {
    let mut reading_side = db.read().begin().await?;
    let books = &mut *reading_side;
    let person = customer::find(&mut *books, id).await?;
    let merged = customer::merged_in(&mut *books, id).await?;
    let formerly = instrument::formerly_of(&mut *books, id).await?;
    let owned: Vec<InstrumentId> =
        instrument::of_customer(&mut *books, id).await?.into_iter().map(|known| known.id).collect();
    let mut care = by_key(care::of_instruments(&mut *books, &owned).await?);
    let instruments = instrument::find_all(&mut *books, &owned).await?.into_iter().map(|instrument| {
        let care = care.remove(&instrument.id).unwrap_or_default();
        json!({ "instrument": instrument, "care": care })
    });
    let instruments: Vec<Value> = instruments.collect();
    let jobs = about_jobs(books, id).await?;
    reading_side.commit().await?;

    let mut tx = db.write().await?;
    event::write::<()>(&mut tx, by, "data given to the customer", "customer", id.0, None, None).await?;
    tx.commit().await?;
    Ok(json!({
        "customer": person,
        "records_merged_into_it": merged,
        "instruments": instruments,
        "instruments_formerly_theirs": formerly,
        "jobs": jobs,
        "units": "lengths in micrometres, money in minor units, moments in microseconds since 1970 UTC",
    }))
}

async fn about_jobs(books: &mut sqlx::SqliteConnection, id: CustomerId) -> Result<Vec<Value>> {
    let jobs = job::of_customer(&mut *books, id).await?;
    let keys: Vec<JobId> = jobs.iter().map(|job| job.id).collect();
    let mut readings = reading::of_jobs(&mut *books, &keys).await?;
    let quotes = quote::of_jobs(&mut *books, &keys).await?;
    let revisions: Vec<QuoteId> = quotes.iter().map(|quote| quote.id).collect();
    let lines = quote::lines_of(&mut *books, &revisions).await?;
    let mut lines = by_key(lines.into_iter().map(|line| (line.quote_id, line)));
    let quotes = quotes.into_iter().map(|quote| {
        let lines = lines.remove(&quote.id).unwrap_or_default();
        (quote.job_id, json!({ "quote": quote, "lines": lines }))
    });
    let photographs = photo::of_jobs(&mut *books, &keys).await?.into_iter().map(|photo| {
        let told = json!({
            "id": photo.id, "caption": photo.caption, "mark": photo.mark, "width": photo.width, "height": photo.height,
            "on_the_private_page": photo.for_customer, "set_aside": photo.set_aside, "taken_by": photo.who,
            "added_at": photo.added_at,
        });
        (photo.job_id, told)
    });
    let mut quotes = by_key(quotes);
    let mut photographs = by_key(photographs);
    let mut condition = Given::new(condition::of_jobs(&mut *books, &keys).await?)?;
    let mut observations = Given::of(observation::of_jobs(&mut *books, &keys).await?, |row| Some(row.job_id))?;
    let mut work = Given::of(work::of_jobs(&mut *books, &keys).await?, |row| Some(row.job_id))?;
    let mut payments = Given::of(payment::of_jobs(&mut *books, &keys).await?, |row| Some(row.job_id))?;
    let mut notes = Given::of(note::all_of_jobs(&mut *books, &keys).await?, |row| Some(row.job_id))?;
    let mut signatures = Given::of(signature::all_of_jobs(&mut *books, &keys).await?, |row| Some(row.job_id))?;
    let mut labour = Given::of(labour::of_jobs(&mut *books, &keys).await?, |row| Some(row.job_id))?;
    let mut parts = Given::of(part::of_jobs(&mut *books, &keys).await?, |row| row.job_id)?;
    let told = jobs.into_iter().map(|job| {
        let id = job.id;
        json!({
            "job": job, "condition": condition.take(id), "readings": readings.remove(&id).unwrap_or_default(),
            "observations": observations.take(id), "work": work.take(id),
            "quotes": quotes.remove(&id).unwrap_or_default(), "payments": payments.take(id), "notes": notes.take(id),
            "signatures": signatures.take(id), "photographs": photographs.remove(&id).unwrap_or_default(),
            "labour": labour.take(id), "parts": parts.take(id),
        })
    });
    Ok(told.collect())
}

/// What is given of each job, in the order in which it was read.
struct Given(BTreeMap<JobId, Vec<Value>>);

impl Given {
    fn new<T: Serialize>(rows: Vec<(JobId, T)>) -> Result<Self> {
        let rows: Result<Vec<(JobId, Value)>> = rows
            .into_iter()
            .map(|(job, row)| Ok((job, serde_json::to_value(row).map_err(Error::unwritable)?)))
            .collect();
        Ok(Self(by_key(rows?)))
    }

    fn of<T: Serialize>(rows: Vec<T>, job: impl Fn(&T) -> Option<JobId>) -> Result<Self> {
        Self::new(rows.into_iter().filter_map(|row| Some((job(&row)?, row))).collect())
    }

    fn take(&mut self, job: JobId) -> Vec<Value> {
        self.0.remove(&job).unwrap_or_default()
    }
}

fn by_key<K: Ord, T>(rows: impl IntoIterator<Item = (K, T)>) -> BTreeMap<K, Vec<T>> {
    let mut found: BTreeMap<K, Vec<T>> = BTreeMap::new();
    for (key, row) in rows {
        found.entry(key).or_default().push(row);
    }
    found
}
