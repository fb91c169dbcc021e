//! One search over customers, instruments and jobs, as somebody types it: parts of names with or without
//! accents, a telephone in any spelling, a ticket, a serial. The index is kept by triggers beside each record.

use serde::Serialize;
use time::Date;

use super::column::as_json;
use super::family::{Family, instrument_title};
use super::fold::folded;
use super::likeness;
use super::stage::Stage;
use super::{CustomerId, InstrumentId, JobId, Result};
use crate::quantity::telephone::{DIGITS_COMPARED, digits_for_search, without_extension};

/// Fewer digits than this are no telephone.
const FEWEST_DIGITS: usize = 4;
/// A number this long is one person's; a shorter one is only a part of many.
const WHOLE_NUMBER: usize = 7;
/// In a shorter word a letter more or less makes another word.
const SHORTEST_SLIP: usize = 5;
/// Names gone through for one that is a slip away.
const MOST_NEAR: i64 = 200;
/// Words of a question that can be a name and an instrument together.
const MOST_SPLIT: usize = 5;
/// Letters by which names are gathered that may be alike.
const GATHERED_BY: usize = 4;
/// Records shown as likely the same.
const MOST_ALIKE: usize = 8;

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
    let (customers, mut instruments, mut jobs, standing) = tokio::try_join!(
        customers_or_slips(pool, typed, &questions, most),
        instruments_of(pool, &questions, most),
        jobs_of(pool, &questions, most),
        jobs_at_place(pool, typed, most)
    )?;
    if instruments.is_empty() {
        instruments = instruments_with_owner(pool, typed, most).await?;
    }
    jobs.retain(|job| standing.iter().all(|there| there.id != job.id));
    jobs.splice(0..0, standing);
    jobs.truncate(usize::try_from(most).unwrap_or(0));
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
        None => customers_or_slips(pool, typed, &questions(typed), most).await,
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
            for Question { words, is_last_resort } in &$questions.0 {
                if hits.len() >= wanted || (*is_last_resort && !hits.is_empty()) {
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

/// Customers as they are looked for; where nobody is found, those whose name has a word that is one slip of the hand
/// away from the last one that was typed.
async fn customers_or_slips(
    pool: &sqlx::SqlitePool,
    typed: &str,
    questions: &Questions,
    most: i64,
) -> Result<Vec<CustomerHit>> {
    let hits = customers_of(pool, questions, most).await?;
    let words = likeness::plain_words(typed);
    let longest = words.iter().max_by_key(|word| word.chars().count());
    let Some(longest) = longest.filter(|word| hits.is_empty() && word.chars().count() >= SHORTEST_SLIP) else {
        return Ok(hits);
    };
    let characters: Vec<char> = longest.chars().collect();
    // a slip stands behind the first letters, or within them: then the rest of another word must lead there
    let starts: Vec<String> = [0, 1]
        .iter()
        .map(|skipped| characters.iter().take(3 - skipped).collect::<String>())
        .chain(words.iter().filter(|word| *word != longest && word.chars().count() >= 3).cloned())
        .map(|start| format!("\"{start}\" *"))
        .collect();
    let near = customers_with(pool, &starts.join(" OR "), false, MOST_NEAR).await?;
    let near = near.into_iter().filter(|hit| {
        let known = likeness::plain_words(&hit.name);
        words.iter().all(|word| known.iter().any(|known| likeness::is_begun_or_one_slip(word, known)))
    });
    Ok(near.take(usize::try_from(most).unwrap_or(0)).collect())
}

/// What stands at a place on the rack, however it is typed.
async fn jobs_at_place(pool: &sqlx::SqlitePool, typed: &str, most: i64) -> Result<Vec<JobHit>> {
    let place: String = folded(typed).chars().filter(|c| !c.is_whitespace()).collect();
    if place.is_empty() {
        return Ok(Vec::new());
    }
    Ok(sqlx::query_as!(
        JobHit,
        r#"SELECT job.id AS "id!: JobId", job.number AS "number!", job.stage AS "stage!: Stage",
                  customer.name AS "customer!", instrument.family AS "family!: Family", instrument.maker AS "maker!",
                  instrument.model AS "model!", job.complaint AS "complaint!", job.promised_on AS "promised_on: Date"
           FROM job INDEXED BY job_open
           JOIN customer ON customer.id = job.customer_id
           JOIN instrument ON instrument.id = job.instrument_id
           WHERE job.is_open = 1 AND replace(lower(job.rack), ' ', '') = ?
           LIMIT ?"#,
        place,
        most,
    )
    .fetch_all(pool)
    .await?)
}

/// Instruments by what is said of them together with whose they are: "ruben corvane", "corvane om ruben".
async fn instruments_with_owner(pool: &sqlx::SqlitePool, typed: &str, most: i64) -> Result<Vec<InstrumentHit>> {
    let terms = terms(typed);
    let mut hits: Vec<InstrumentHit> = Vec::new();
    for split in 1..terms.len().min(MOST_SPLIT) {
        let (front, back) = terms.split_at(split);
        for (owner, what) in [(front, back), (back, front)] {
            if hits.is_empty() {
                let asked = |words: &[String]| format!("{} *", words.join(" * AND "));
                hits = instruments_of_owner(pool, &asked(owner), &asked(what), most).await?;
            }
        }
    }
    Ok(hits)
}

async fn instruments_of_owner(
    pool: &sqlx::SqlitePool,
    owner: &str,
    what: &str,
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
           FROM (SELECT search_entry.record_id FROM customer_search
                 JOIN search_entry ON search_entry.id = customer_search.rowid
                 WHERE customer_search MATCH ?1 ORDER BY customer_search.rowid DESC LIMIT 200) AS owner
           JOIN customer ON customer.id = owner.record_id
           JOIN instrument ON instrument.customer_id = customer.id
           WHERE instrument.id IN (SELECT search_entry.record_id FROM instrument_search
                                   JOIN search_entry ON search_entry.id = instrument_search.rowid
                                   WHERE instrument_search MATCH ?2)
           ORDER BY instrument.archived_on IS NOT NULL, instrument.created_at DESC LIMIT ?3"#,
        owner,
        what,
        most,
    )
    .fetch_all(pool)
    .await?)
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

/// Records that are most likely the same person: a name that is alike ([`likeness`]), the same telephone in any
/// spelling, or the same e-mail, also of a record that was merged. To be shown before a second record is made; families
/// share all three.
pub async fn likely_same(
    pool: &sqlx::SqlitePool,
    name: &str,
    telephone: &str,
    email: &str,
) -> Result<Vec<CustomerHit>> {
    let typed_name = name;
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
    let mut ids = ids;
    for alike in alike(pool, typed_name).await? {
        if !ids.contains(&alike) {
            ids.push(alike);
        }
    }
    ids.truncate(MOST_ALIKE);
    hits(pool, &ids).await
}

/// Whose name is alike. Those are looked at whose words all begin as these do, or who share one word and the other's
/// initial; then the newest of those who share a beginning at all. Never everybody of a common name: ranking them took as
/// long as there were customers.
async fn alike(pool: &sqlx::SqlitePool, name: &str) -> Result<Vec<CustomerId>> {
    let words = likeness::plain_words(name);
    let start = |word: &String, letters: usize| format!("\"{}\" *", word.chars().take(letters).collect::<String>());
    let starts: Vec<String> =
        words.iter().filter(|word| word.chars().count() >= 2).map(|word| start(word, GATHERED_BY)).collect();
    if starts.is_empty() {
        return Ok(Vec::new());
    }
    let shares_one = |(shared, word): (usize, &String)| {
        let others = words.iter().enumerate().filter(|(place, _)| *place != shared).map(|(_, other)| start(other, 1));
        let asked: Vec<String> = std::iter::once(format!("\"{word}\"")).chain(others).collect();
        format!("({})", asked.join(" AND "))
    };
    let close: Vec<String> = std::iter::once(format!("({})", starts.join(" AND ")))
        .chain(words.iter().enumerate().map(shares_one))
        .collect();
    let (close, starts) = (close.join(" OR "), starts.join(" OR "));
    let gathered = sqlx::query!(
        r#"SELECT coalesce(customer.merged_into, customer.id) AS "id!: CustomerId", customer.name AS "name!",
                  customer.nickname AS "nickname!"
           FROM (SELECT * FROM (SELECT rowid AS id FROM customer_search WHERE customer_search MATCH ?1
                                ORDER BY rowid DESC LIMIT 300)
                 UNION
                 SELECT * FROM (SELECT rowid AS id FROM customer_search WHERE customer_search MATCH ?2
                                ORDER BY rowid DESC LIMIT 300)) AS near
           JOIN search_entry ON search_entry.id = near.id
           JOIN customer ON customer.id = search_entry.record_id OR customer.merged_into = search_entry.record_id
           WHERE customer.anonymised_on IS NULL"#,
        close,
        starts,
    )
    .fetch_all(pool)
    .await?;
    let is_alike = |known: &str| likeness::is_alike(name, known);
    let alike = gathered.into_iter().filter(|known| is_alike(&known.name) || is_alike(&known.nickname));
    Ok(alike.map(|known| known.id).collect())
}

/// What was typed as full-text questions, the narrowest first; none where there is nothing to ask.
struct Questions(Vec<Question>);

struct Question {
    words: String,
    /// Asked only where the others found nothing: it reads more, or finds what was less likely meant.
    is_last_resort: bool,
}

/// The words that were typed, quoted, so that nothing typed is read as an operator.
fn terms(typed: &str) -> Vec<String> {
    let folded = folded(typed);
    let words = folded.split_whitespace().filter(|term| term.chars().any(char::is_alphanumeric)).take(8);
    words.map(|term| format!("\"{}\"", term.replace('"', " "))).collect()
}

/// Whole words; then the last one as far as it was typed. Where that finds nothing: in the one spelling that names
/// have in the index ("mueller"), as one word ("tw 4471", "mc allister"), and each word as far as it was typed.
fn questions(typed: &str) -> Questions {
    let terms = terms(typed);
    if terms.is_empty() {
        return Questions(Vec::new());
    }
    let asked = |words: String| Question { words, is_last_resort: false };
    let digits = digits_for_search(typed);
    let is_telephone = without_extension(typed).chars().all(|c| !c.is_alphabetic()) && digits.len() >= FEWEST_DIGITS;
    if is_telephone {
        // parts of a number stand in the order in which they are said; sought apart, half the town has each of them
        let in_order = format!("\"{}\" *", folded(typed).replace('"', " "));
        // dialled from abroad with 00, a number is the same without
        let start = digits.strip_prefix("00").unwrap_or(&digits);
        let words = format!("{in_order} OR \"{digits}\" * OR \"{start}\" * OR {}", from_the_end(&digits));
        return Questions(vec![asked(words)]);
    }
    let whole = terms.join(" AND ");
    let mut questions = vec![asked(whole.clone()), asked(format!("{whole} *"))];
    let plain = likeness::plain_words(typed);
    let in_one_spelling = plain.iter().take(8).map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(" AND ");
    let as_one = plain.concat();
    let mut last_resorts = Vec::new();
    if !plain.is_empty() && in_one_spelling != whole {
        last_resorts.push(format!("{in_one_spelling} *"));
    }
    let typed_as_one: String = folded(typed).chars().filter(|c| c.is_alphanumeric()).collect();
    for one in [as_one, typed_as_one] {
        let words = format!("\"{one}\" *");
        if (plain.len() > 1 || format!("\"{one}\"") != whole)
            && one.chars().count() >= FEWEST_DIGITS
            && !last_resorts.contains(&words)
        {
            last_resorts.push(words);
        }
    }
    if terms.len() > 1 {
        last_resorts.push(format!("{} *", terms.join(" * AND ")));
    }
    questions.extend(last_resorts.into_iter().map(|words| Question { words, is_last_resort: true }));
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

    fn asked(typed: &str) -> Vec<String> {
        questions(typed).0.into_iter().map(|question| question.words).collect()
    }

    #[test]
    fn what_is_typed_is_never_an_operator() {
        assert!(asked("  ").is_empty());
        assert!(asked("-*\"").is_empty());
        let all = [
            r#""oak" AND "or" AND " x""#,
            r#""oak" AND "or" AND " x" *"#,
            r#""oak" AND "or" AND "x" *"#,
            r#""oakorx" *"#,
            r#""oak" * AND "or" * AND " x" *"#,
        ];
        assert_eq!(asked("oak OR \"x"), all);
        assert_eq!(asked("oak"), [r#""oak""#, r#""oak" *"#]);
    }

    #[test]
    fn digits_are_looked_for_as_typed_and_from_their_end() {
        let [asked] = asked("0044 1632 960101").try_into().unwrap();
        assert!(asked.contains("\"00441632960101\" *") && asked.contains("\"441632960101\" *"), "{asked}");
        assert!(asked.ends_with("OR \"r101069236\" *"), "{asked}");
    }
}
