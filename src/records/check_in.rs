//! Checking in: customer, instrument, job and condition marks in one transaction.

use time::Date;

use super::condition::{self, Side};
use super::customer::{self, CustomerEntry};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::instrument::{self, InstrumentEntry};
use super::job::{self, Style};
use super::link::{self, LinkSecret};
use super::{CustomerId, Error, InstrumentId, JobId, Result, WriteTx};

/// Somebody the shop knows, or somebody new.
#[derive(Debug, Clone)]
pub enum Whose {
    /// Known.
    Known(CustomerId),
    /// New.
    New(CustomerEntry),
}

/// An instrument the shop knows, or a new one.
#[derive(Debug, Clone)]
pub enum Which {
    /// Known.
    Known(InstrumentId),
    /// New.
    New(Box<InstrumentEntry>),
}

/// What is written down at the counter.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CheckIn {
    pub customer: Whose,
    pub instrument: Which,
    pub complaint: String,
    pub style: Style,
    pub brought_with: String,
    pub rack: String,
    pub promised_on: Option<Date>,
    pub marks: Vec<(Side, String)>,
}

/// Checks an instrument in: customer, instrument, job and condition marks in one transaction. The
/// same form sent twice makes one job; what was put away is taken out again. `today` is the shop's today; `country`
/// reads the telephone. A record that was merged stands for the one it went into.
///
/// # Errors
/// Refused without a complaint, for somebody who was forgotten, or while the instrument is in the house.
pub async fn check_in(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    country: &str,
    secret: &LinkSecret,
    form_key: &str,
    entry: &CheckIn,
) -> Result<JobId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: JobId" FROM job WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let complaint = canonical(&entry.complaint);
    if complaint.is_empty() {
        return Err(Error::refused("Write down what the customer says is wrong."));
    }
    let customer = match &entry.customer {
        Whose::Known(id) => {
            let known = customer::resolve_merged(tx, *id).await?;
            if known.archived_on.is_some() {
                customer::archive(tx, by, known.id, known.version, None).await?;
            }
            known.id
        }
        Whose::New(new) => customer::add(tx, by, country, form_key, new).await?,
    };
    let instrument = match &entry.instrument {
        Which::Known(id) => {
            let known = instrument::find(tx, *id).await?;
            if known.customer_id != customer {
                instrument::change_hands(tx, by, *id, known.version, customer, today).await?;
            }
            if known.archived_on.is_some() {
                let version = instrument::find(tx, *id).await?.version;
                instrument::archive(tx, by, *id, version, None).await?;
            }
            *id
        }
        Which::New(new) => instrument::add(tx, by, customer, form_key, new).await?,
    };
    let open =
        sqlx::query_scalar!("SELECT number FROM job WHERE instrument_id = ? AND is_open = 1 LIMIT 1", instrument)
            .fetch_optional(&mut **tx)
            .await?;
    if let Some(number) = open {
        return Err(Error::refused(format!(
            "This instrument is in the house already, as {number}. Write the new complaint there, or choose another \
             instrument."
        )));
    }
    let earlier = sqlx::query_scalar!(
        r#"SELECT id AS "id: JobId" FROM job WHERE instrument_id = ? ORDER BY checked_in_at DESC LIMIT 1"#,
        instrument,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let id = JobId::new();
    let year = i64::from(today.year().rem_euclid(100));
    let serial =
        sqlx::query_scalar!(r#"SELECT coalesce(max(serial), 0) + 1 AS "serial!: i64" FROM job WHERE year = ?"#, year,)
            .fetch_one(&mut **tx)
            .await?;
    let number = format!("{year:02}-{serial:04}");
    let link_hash = link::hash(&secret.token(id, 0));
    let link_hash = link_hash.as_slice();
    let (brought_with, rack) = (canonical(&entry.brought_with), canonical(&entry.rack));
    sqlx::query!(
        "INSERT INTO job (id, year, serial, number, customer_id, instrument_id, earlier_job_id, complaint, style, brought_with,
             rack, promised_on, stage, stage_since, checked_in_at, link_hash, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'checked-in', ?, ?, ?, ?)",
        id,
        year,
        serial,
        number,
        customer,
        instrument,
        earlier,
        complaint,
        entry.style,
        brought_with,
        rack,
        entry.promised_on,
        by.at,
        by.at,
        link_hash,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    for (place, (side, note)) in entry.marks.iter().enumerate() {
        condition::add(tx, by, id, &format!("{form_key}-{place}"), *side, None, note).await?;
    }
    let after = job::find(&mut **tx, id).await?;
    event::write(tx, by, "checked in", "job", id.0, None, Some(&after)).await?;
    Ok(id)
}

/// Whether a form was sent before.
pub async fn was_checked_in(executor: impl sqlx::SqliteExecutor<'_>, form_key: &str) -> Result<bool> {
    let jobs = sqlx::query_scalar!("SELECT count(*) FROM job WHERE form_key = ?", form_key).fetch_one(executor).await?;
    Ok(jobs > 0)
}
