//! Checking in: customer, instrument, job and condition marks in one transaction.

use time::Date;

use super::condition::{self, Side};
use super::customer::{self, CustomerEntry};
use super::event::{self, AuditContext, NewEvent};
use super::fold::canonical;
use super::instrument::{self, InstrumentEntry};
use super::job::{self, Job, Style};
use super::link::{self, LinkSecret};
use super::stage::Stage;
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

/// What came of a check-in.
#[derive(Debug, Clone)]
pub struct CheckedIn {
    /// The job.
    pub job: Job,
    /// Made by this form just now; `false` where the form was sent before.
    pub is_new: bool,
}

/// Checks an instrument in: customer, instrument, job and condition marks in one transaction. The same form sent twice
/// makes one job; what was put away is taken out again. `today` is the shop's today; `country` reads the telephone. A
/// record that was merged stands for the one it went into.
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
) -> Result<CheckedIn> {
    let year = i64::from(today.year().rem_euclid(100));
    let known_instrument = match &entry.instrument {
        Which::Known(id) => Some(*id),
        Which::New(_) => None,
    };
    // all that is asked before the first row is written: the form, the next number, the instrument's own jobs
    let asked = sqlx::query!(
        r#"SELECT (SELECT id FROM job WHERE form_key = ?1) AS "sent_before?: JobId",
                  (SELECT coalesce(max(serial), 0) + 1 FROM job WHERE year = ?2) AS "serial!: i64",
                  (SELECT number FROM job WHERE instrument_id = ?3 AND is_open = 1 LIMIT 1) AS "open?: String",
                  (SELECT id FROM job WHERE instrument_id = ?3 ORDER BY checked_in_at DESC LIMIT 1) AS "earlier?: JobId""#,
        form_key,
        year,
        known_instrument,
    )
    .fetch_one(&mut **tx)
    .await?;
    let complaint = canonical(&entry.complaint);
    if let Some(id) = asked.sent_before {
        let job = job::find(&mut **tx, id).await?;
        // pressed twice; where something else was typed meanwhile, the first must not be taken for the second
        return if job.complaint == complaint && known_instrument.is_none_or(|known| known == job.instrument_id) {
            Ok(CheckedIn { job, is_new: false })
        } else {
            Err(Error::refused(format!(
                "This form checked {} in already, with other words. Begin another check-in for another instrument, or \
                 change {} on its own page.",
                job.number, job.number
            )))
        };
    }
    if complaint.is_empty() {
        return Err(Error::refused("Write down what the customer says is wrong."));
    }
    let mut events = Vec::new();
    let customer_id = match &entry.customer {
        Whose::Known(id) => {
            let known = customer::resolve_merged(tx, *id).await?;
            if known.archived_on.is_some() {
                customer::archive(tx, by, known.id, known.version, None).await?;
            }
            known.id
        }
        Whose::New(new) => {
            let (id, added) = customer::insert(tx, by, country, form_key, new).await?;
            events.push(added);
            id
        }
    };
    let instrument_id = match &entry.instrument {
        Which::Known(id) => {
            // deeds stand in the order in which they were done
            event::write_all(tx, by, &std::mem::take(&mut events)).await?;
            let known = instrument::find(tx, *id).await?;
            if known.customer_id != customer_id {
                instrument::change_hands(tx, by, *id, known.version, customer_id, today).await?;
            }
            if known.archived_on.is_some() {
                let version = instrument::find(tx, *id).await?.version;
                instrument::archive(tx, by, *id, version, None).await?;
            }
            *id
        }
        Which::New(new) => {
            let (id, added) = instrument::insert(tx, by, customer_id, form_key, new).await?;
            events.push(added);
            id
        }
    };
    if let Some(number) = asked.open {
        return Err(Error::refused(format!(
            "This instrument is in the house already, as {number}. Write the new complaint there, or choose another \
             instrument."
        )));
    }
    let job = Job {
        id: JobId::new(),
        number: format!("{year:02}-{:04}", asked.serial),
        customer_id,
        instrument_id,
        earlier_job_id: asked.earlier,
        complaint,
        style: entry.style,
        brought_with: canonical(&entry.brought_with),
        rack: canonical(&entry.rack),
        staff_id: None,
        promised_on: entry.promised_on,
        stage: Stage::CheckedIn,
        stage_since: by.at,
        waiting_for: None,
        waiting_reason: None,
        work_reopened_at: None,
        checked_in_at: by.at,
        link_number: 0,
        version: 1,
    };
    let link_hash = link::hash(&secret.token(job.id, job.link_number));
    let link_hash = link_hash.as_slice();
    sqlx::query!(
        "INSERT INTO job (id, year, serial, number, customer_id, instrument_id, earlier_job_id, complaint, style, brought_with,
             rack, promised_on, stage, stage_since, checked_in_at, link_number, link_hash, form_key, version)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        job.id,
        year,
        asked.serial,
        job.number,
        job.customer_id,
        job.instrument_id,
        job.earlier_job_id,
        job.complaint,
        job.style,
        job.brought_with,
        job.rack,
        job.promised_on,
        job.stage,
        job.stage_since,
        job.checked_in_at,
        job.link_number,
        link_hash,
        form_key,
        job.version,
    )
    .execute(&mut **tx)
    .await?;
    events.extend(condition::insert_first(tx, by, job.id, form_key, &entry.marks).await?);
    events.push(NewEvent::made("checked in", "job", job.id.0, &job)?);
    event::write_all(tx, by, &events).await?;
    Ok(CheckedIn { job, is_new: true })
}

/// Whether a form was sent before.
pub async fn was_checked_in(executor: impl sqlx::SqliteExecutor<'_>, form_key: &str) -> Result<bool> {
    let jobs = sqlx::query_scalar!("SELECT count(*) FROM job WHERE form_key = ?", form_key).fetch_one(executor).await?;
    Ok(jobs > 0)
}
