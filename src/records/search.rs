//! One search over customers, instruments and jobs, as somebody types it: parts of names with or without
//! accents, a telephone in any spelling, a ticket, a serial. The index is kept by triggers beside each record.

use serde::Serialize;
use time::Date;

use super::column::as_json;
use super::family::{Family, instrument_title};
use super::fold::folded;
use super::stage::Stage;
use super::{CustomerId, InstrumentId, JobId, Result};
use crate::quantity::telephone::{digits_for_search, without_extension};

/// Fewer digits than this are no telephone.
const FEWEST_DIGITS: usize = 4;
/// Spellings of a number agree in their last nine digits at most.
const DIGITS_COMPARED: usize = 9;
/// A number this long is one person's; a shorter one is only a part of many.
const WHOLE_NUMBER: usize = 7;

/// What was found, a few of each kind.
#[derive(Debug, Clone, Default, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Found {
    pub customers: Vec<CustomerHit>,
    pub instruments: Vec<InstrumentHit>,
    pub jobs: Vec<JobHit>,
}

impl Found {
    /// Whether nothing was found.
    pub fn is_empty(&self) -> bool {
        self.customers.is_empty() && self.instruments.is_empty() && self.jobs.is_empty()
    }
}

/// What tells one customer of a list from another.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct CustomerHit {
    pub id: CustomerId,
    pub name: String,
    pub telephone: String,
    pub email: String,
    /// Put away.
    pub is_archived: bool,
    /// Instruments of theirs the shop knows.
    pub instruments: i64,
    /// The number of their latest job.
    pub latest_job: Option<String>,
}

/// What tells one instrument from another.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct InstrumentHit {
    pub id: InstrumentId,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub serial: String,
    pub finish: String,
    /// Put away.
    pub is_archived: bool,
    pub customer_id: CustomerId,
    /// Whose it is.
    pub customer: String,
    /// The number under which it is in the house now.
    pub open_job: Option<String>,
}

/// What tells one job from another.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct JobHit {
    pub id: JobId,
    pub number: String,
    pub stage: Stage,
    pub customer: String,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub complaint: String,
    pub promised_on: Option<Date>,
}

impl InstrumentHit {
    /// "Alderbrook OM-2", or the kind where no maker is known.
    pub fn title(&self) -> String {
        instrument_title(self.family, &self.maker, &self.model)
    }
}

impl JobHit {
    /// The instrument's name.
    pub fn title(&self) -> String {
        instrument_title(self.family, &self.maker, &self.model)
    }
}

/// Finds what was typed, at most `most` of each kind: whole words first, what was added last first, what was put away
/// last.
pub async fn find(pool: &sqlx::SqlitePool, typed: &str, most: i64) -> Result<Found> {
    let questions = questions(typed);
    let (customers, instruments, jobs) = tokio::try_join!(
        customers_of(pool, &questions, most),
        instruments_of(pool, &questions, most),
        jobs_of(pool, &questions, most)
    )?;
    Ok(Found { customers, instruments, jobs })
}

/// Finds customers alone, by what they are called and by a ticket of theirs. Who was forgotten is nobody to choose.
pub async fn customers(pool: &sqlx::SqlitePool, typed: &str, most: i64) -> Result<Vec<CustomerHit>> {
    let ticket = typed.trim();
    if ticket.is_empty() {
        return Ok(Vec::new());
    }
    let by_ticket = sqlx::query_scalar!(r#"SELECT customer_id AS "id: CustomerId" FROM job WHERE number = ?"#, ticket)
        .fetch_optional(pool)
        .await?;
    match by_ticket {
        Some(id) => hits(pool, &[id]).await,
        None => customers_of(pool, &questions(typed), most).await,
    }
}

/// What tells customers apart: those that tables and a condition pick, in an order.
macro_rules! customer_hits {
    ($picked_and_ordered:literal, $($put:expr),*) => {
        sqlx::query_as!(
            CustomerHit,
            r#"SELECT customer.id AS "id!: CustomerId", customer.name AS "name!", customer.telephone AS "telephone!",
                      customer.email AS "email!", customer.archived_on IS NOT NULL AS "is_archived!: bool",
                      (SELECT count(*) FROM instrument WHERE instrument.customer_id = customer.id) AS "instruments!: i64",
                      (SELECT job.number FROM job WHERE job.customer_id = customer.id
                       ORDER BY job.checked_in_at DESC LIMIT 1) AS "latest_job?: String"
               FROM "#
                + $picked_and_ordered,
            $($put),*
        )
    };
}

/// These customers, who came first first.
async fn hits(pool: &sqlx::SqlitePool, ids: &[CustomerId]) -> Result<Vec<CustomerHit>> {
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let ids = as_json(ids)?;
    let picked = customer_hits!(
        "customer
         WHERE customer.id IN (SELECT unhex(value, '-') FROM json_each(?)) AND customer.anonymised_on IS NULL
         ORDER BY customer.archived_on IS NOT NULL, customer.created_at",
        ids
    );
    Ok(picked.fetch_all(pool).await?)
}

/// The hits of one kind. A question is asked only where the one before left room on the list, so that none reads more
/// than is shown; what was put away is asked for last.
macro_rules! hits_of {
    ($hit:ty, $ask:ident, $pool:expr, $questions:expr, $most:expr) => {{
        let wanted = usize::try_from($most).unwrap_or(0);
        let mut hits: Vec<$hit> = Vec::new();
        for archived in [false, true] {
            for (place, words) in $questions.0.iter().enumerate() {
                if hits.len() >= wanted || (place == Questions::LAST_RESORT && !hits.is_empty()) {
                    break;
                }
                let found = $ask($pool, words, archived, $most).await?;
                let new: Vec<_> = found.into_iter().filter(|hit| hits.iter().all(|known| known.id != hit.id)).collect();
                hits.extend(new);
            }
        }
        hits.truncate(wanted);
        Ok(hits)
    }};
}

async fn customers_of(pool: &sqlx::SqlitePool, questions: &Questions, most: i64) -> Result<Vec<CustomerHit>> {
    hits_of!(CustomerHit, customers_with, pool, questions, most)
}

async fn customers_with(pool: &sqlx::SqlitePool, words: &str, archived: bool, most: i64) -> Result<Vec<CustomerHit>> {
    let found = customer_hits!(
        "customer_search
         JOIN search_entry ON search_entry.id = customer_search.rowid
         JOIN customer ON customer.id = search_entry.record_id
         WHERE customer_search MATCH ? AND (customer.archived_on IS NOT NULL) = ? AND customer.anonymised_on IS NULL
         ORDER BY customer_search.rowid DESC LIMIT ?",
        words,
        archived,
        most
    );
    Ok(found.fetch_all(pool).await?)
}

async fn instruments_of(pool: &sqlx::SqlitePool, questions: &Questions, most: i64) -> Result<Vec<InstrumentHit>> {
    hits_of!(InstrumentHit, instruments_with, pool, questions, most)
}

async fn instruments_with(
    pool: &sqlx::SqlitePool,
    words: &str,
    archived: bool,
    most: i64,
) -> Result<Vec<InstrumentHit>> {
    Ok(sqlx::query_as!(
        InstrumentHit,
        r#"SELECT instrument.id AS "id!: InstrumentId", instrument.family AS "family!: Family",
                  instrument.maker AS "maker!", instrument.model AS "model!", instrument.serial AS "serial!",
                  instrument.finish AS "finish!", instrument.archived_on IS NOT NULL AS "is_archived!: bool",
                  customer.id AS "customer_id!: CustomerId", customer.name AS "customer!",
                  (SELECT job.number FROM job WHERE job.instrument_id = instrument.id AND job.is_open = 1
                   LIMIT 1) AS "open_job?: String"
           FROM instrument_search
           JOIN search_entry ON search_entry.id = instrument_search.rowid
           JOIN instrument ON instrument.id = search_entry.record_id
           JOIN customer ON customer.id = instrument.customer_id
           WHERE instrument_search MATCH ? AND (instrument.archived_on IS NOT NULL) = ?
           ORDER BY instrument_search.rowid DESC
           LIMIT ?"#,
        words,
        archived,
        most,
    )
    .fetch_all(pool)
    .await?)
}

async fn jobs_of(pool: &sqlx::SqlitePool, questions: &Questions, most: i64) -> Result<Vec<JobHit>> {
    hits_of!(JobHit, jobs_with, pool, questions, most)
}

/// A job is never put away.
async fn jobs_with(pool: &sqlx::SqlitePool, words: &str, archived: bool, most: i64) -> Result<Vec<JobHit>> {
    if archived {
        return Ok(Vec::new());
    }
    Ok(sqlx::query_as!(
        JobHit,
        r#"SELECT job.id AS "id!: JobId", job.number AS "number!", job.stage AS "stage!: Stage",
                  customer.name AS "customer!", instrument.family AS "family!: Family", instrument.maker AS "maker!",
                  instrument.model AS "model!", job.complaint AS "complaint!", job.promised_on AS "promised_on: Date"
           FROM job_search
           JOIN search_entry ON search_entry.id = job_search.rowid
           JOIN job ON job.id = search_entry.record_id
           JOIN customer ON customer.id = job.customer_id
           JOIN instrument ON instrument.id = job.instrument_id
           WHERE job_search MATCH ?
           ORDER BY job_search.rowid DESC
           LIMIT ?"#,
        words,
        most,
    )
    .fetch_all(pool)
    .await?)
}

/// Records that are most likely the same person: the same name however it is typed, the same telephone in any
/// spelling, or the same e-mail, also of a record that was merged. To be shown before a second record is made; families
/// share all three.
pub async fn likely_same(
    pool: &sqlx::SqlitePool,
    name: &str,
    telephone: &str,
    email: &str,
) -> Result<Vec<CustomerHit>> {
    let name = folded(name);
    let email = email.trim();
    let digits = digits_for_search(telephone);
    // a part of a number names nobody: no end of one is that long
    let by_telephone = match digits.len() {
        WHOLE_NUMBER.. => from_the_end(&digits),
        _ => format!("\"r{}\"", "0".repeat(DIGITS_COMPARED + 1)),
    };
    let ids = sqlx::query_scalar!(
        r#"SELECT id AS "id!: CustomerId" FROM customer
           WHERE merged_into IS NULL AND anonymised_on IS NULL AND id IN (
               SELECT coalesce(merged_into, id) FROM customer WHERE name_folded = ?1
               UNION SELECT coalesce(merged_into, id) FROM customer WHERE email <> '' AND email = ?2 COLLATE NOCASE
               UNION SELECT search_entry.record_id FROM customer_search
                     JOIN search_entry ON search_entry.id = customer_search.rowid
                     WHERE customer_search MATCH ?3)
           LIMIT 8"#,
        name,
        email,
        by_telephone,
    )
    .fetch_all(pool)
    .await?;
    hits(pool, &ids).await
}

/// What was typed as full-text questions, the narrowest first; none where there is nothing to ask.
struct Questions(Vec<String>);

impl Questions {
    /// The question that takes every word for the beginning of one is asked only where the others found nothing:
    /// it reads the most.
    const LAST_RESORT: usize = 2;
}

/// Whole words; then the last one as far as it was typed; then each as far as it was typed. Each term is quoted, so
/// nothing typed is read as an operator.
fn questions(typed: &str) -> Questions {
    let folded = folded(typed);
    let terms: Vec<String> = folded
        .split_whitespace()
        .filter(|term| term.chars().any(char::is_alphanumeric))
        .take(8)
        .map(|term| format!("\"{}\"", term.replace('"', " ")))
        .collect();
    if terms.is_empty() {
        return Questions(Vec::new());
    }
    let digits = digits_for_search(typed);
    let is_telephone = without_extension(typed).chars().all(|c| !c.is_alphabetic()) && digits.len() >= FEWEST_DIGITS;
    if is_telephone {
        // parts of a number stand in the order in which they are said; sought apart, half the town has each of them
        let in_order = format!("\"{}\" *", folded.replace('"', " "));
        // dialled from abroad with 00, a number is the same without
        let start = digits.strip_prefix("00").unwrap_or(&digits);
        return Questions(vec![format!("{in_order} OR \"{digits}\" * OR \"{start}\" * OR {}", from_the_end(&digits))]);
    }
    let whole = terms.join(" AND ");
    let begun = format!("{whole} *");
    let all_begun = format!("{} *", terms.join(" * AND "));
    let mut questions = vec![whole, begun];
    if terms.len() > 1 {
        questions.push(all_begun);
    }
    Questions(questions)
}

/// A number from its end, where its spellings agree: a prefix of it backwards.
fn from_the_end(digits: &str) -> String {
    let backwards: String = digits.chars().rev().take(DIGITS_COMPARED).collect();
    format!("\"r{backwards}\" *")
}

#[cfg(test)]
mod tests {
    use super::questions;

    #[test]
    fn what_is_typed_is_never_an_operator() {
        assert!(questions("  ").0.is_empty());
        assert!(questions("-*\"").0.is_empty());
        let asked = [r#""oak" AND "or" AND " x""#, r#""oak" AND "or" AND " x" *"#, r#""oak" * AND "or" * AND " x" *"#];
        assert_eq!(questions("oak OR \"x").0, asked);
        assert_eq!(questions("oak").0, [r#""oak""#, r#""oak" *"#]);
    }

    #[test]
    fn digits_are_looked_for_as_typed_and_from_their_end() {
        let [asked] = questions("0044 1632 960101").0.try_into().unwrap();
        assert!(asked.contains("\"00441632960101\" *") && asked.contains("\"441632960101\" *"), "{asked}");
        assert!(asked.ends_with("OR \"r101069236\" *"), "{asked}");
    }
}
