//! Who must be told what, whatever way they like to be reached, and what was said of it. One list: the day view, the
//! owner's evening and the messages of the house all ask [`to_tell`].
//!
//! A matter stands on the list for as long as it is so (the quote has no answer, the instrument is ready). Each time
//! somebody calls, writes or leaves word it is written down, and the matter is not due again before the shop's own days.

mod settings;

use serde::Serialize;
use time::{Date, Duration};
use uuid::Uuid;

use super::column::{as_json, words};
use super::customer::ReachBy;
use super::event::{self, AuditContext};
use super::family::{Family, instrument_title};
use super::fold::canonical;
use super::stage::{Stage, WaitingFor, is_late};
use super::{CustomerId, Error, InstrumentId, JobId, QuoteId, Result, WriteTx, care, promise, quote};
use crate::quantity::{Instant, Money};

pub use settings::{TellingSettings, save_settings, settings};

words! {
    /// What a customer is to be told; the most pressing first.
    Matter {
        /// They asked something about a quote.
        Question = "question" => "they asked something",
        /// The day they know is another now.
        Promise = "promise" => "the promise was moved",
        /// The day they know is past.
        Late = "late" => "it is later than promised",
        /// The job waits for what they say.
        Answer = "answer" => "we wait for an answer",
        /// It can be collected.
        Ready = "ready" => "it is ready",
        /// A quote waits for an answer.
        Quote = "quote" => "the quote is ready",
        /// It went home and is not paid.
        Money = "money" => "money is owed",
        /// Yearly care.
        Care = "care" => "care is due",
    }
}

words! {
    /// How somebody was told.
    How {
        /// A call.
        Telephone = "telephone" => "by telephone",
        /// An e-mail.
        Email = "email" => "by e-mail",
        /// A letter.
        Letter = "letter" => "by letter",
        /// They stood there.
        Counter = "counter" => "at the counter",
    }
}

words! {
    /// What came of it.
    Outcome {
        /// They know.
        Told = "told" => "told",
        /// Somebody or something will tell them: a voice, a paper, a message.
        LeftWord = "left-word" => "word left",
        /// Nobody there.
        NoAnswer = "no-answer" => "no answer",
        /// Somebody else's number.
        WrongNumber = "wrong-number" => "wrong number",
    }
}

impl From<ReachBy> for How {
    fn from(likes: ReachBy) -> Self {
        match likes {
            ReachBy::Telephone => Self::Telephone,
            ReachBy::Email => Self::Email,
            ReachBy::Letter => Self::Letter,
        }
    }
}

/// A matter of one job, or of one instrument whose care is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Subject {
    /// What.
    pub matter: Matter,
    /// The job's key, or for care the instrument's.
    pub of: Uuid,
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{}", self.matter.key(), self.of)
    }
}

impl std::str::FromStr for Subject {
    type Err = ();
    fn from_str(text: &str) -> std::result::Result<Self, ()> {
        let (matter, of) = text.split_once('.').ok_or(())?;
        Ok(Self { matter: matter.parse()?, of: of.parse().map_err(|_| ())? })
    }
}

/// Who is to be told.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Person {
    pub id: CustomerId,
    pub name: String,
    pub telephone: String,
    pub telephone_e164: Option<String>,
    pub email: String,
    pub reach_by: ReachBy,
    pub version: i64,
}

/// What was said last.
#[derive(Debug, Clone)]
pub struct Last {
    /// What came of it.
    pub outcome: Outcome,
    /// How.
    pub how: How,
    /// When.
    pub at: Instant,
    /// Who; `None` where the house sent a message.
    pub who: Option<String>,
    /// The number was wrong, and the customer's record is still the same.
    pub is_wrong_number: bool,
}

/// One line of the list.
#[derive(Debug, Clone)]
pub struct ToTell {
    /// What, of which job or instrument.
    pub subject: Subject,
    /// The job's number; empty for care.
    pub number: String,
    /// The instrument.
    pub instrument: String,
    /// Whom.
    pub person: Person,
    /// The day promised, or on which care is due.
    pub day: Option<Date>,
    /// The day they know, where it was moved.
    pub from_day: Option<Date>,
    /// What the quote comes to, or what is owed.
    pub amount: Option<Money>,
    /// The quote that waits.
    pub quote: Option<QuoteId>,
    /// What the job waits for, or what is due.
    pub words: String,
    /// Since when it is so.
    pub since: Date,
    /// The day on which they are to be told, or told again.
    pub due_on: Date,
    /// What was said last of it.
    pub last: Option<Last>,
}

impl ToTell {
    /// Whether somebody is to be told by this day.
    pub fn is_due(&self, today: Date) -> bool {
        self.due_on <= today
    }

    /// The job, where it is about one.
    pub fn job(&self) -> Option<JobId> {
        (self.subject.matter != Matter::Care).then_some(JobId(self.subject.of))
    }
}

/// Care is told this many days before it is due: time to make room on the bench. Our own choice.
const CARE_AHEAD_DAYS: i64 = 14;
/// What was told so long before care falls due was about the time before.
const CARE_OCCASION_DAYS: i64 = 45;
/// Lines of care looked at, at most.
const MOST_CARE: i64 = 200;

/// A job as the list needs it.
struct Row {
    id: JobId,
    number: String,
    customer_id: CustomerId,
    instrument_id: InstrumentId,
    family: Family,
    maker: String,
    model: String,
    stage: Stage,
    stage_since: Instant,
    waiting_for: Option<WaitingFor>,
    waiting_reason: String,
    waiting_since: Option<Instant>,
    promised_on: Option<Date>,
    owed: Money,
}

/// The jobs that a condition picks, with what they owe.
macro_rules! rows {
    ($from:literal) => {
        sqlx::query_as!(
            Row,
            r#"SELECT job.id AS "id: JobId", job.number, job.customer_id AS "customer_id: CustomerId",
                      job.instrument_id AS "instrument_id: InstrumentId", instrument.family AS "family: Family",
                      instrument.maker, instrument.model, job.stage AS "stage: Stage",
                      job.stage_since AS "stage_since: Instant", job.waiting_for AS "waiting_for: WaitingFor",
                      coalesce(job.waiting_reason, '') AS "waiting_reason!: String",
                      (SELECT begun_at FROM job_wait WHERE job_wait.job_id = job.id AND ended_at IS NULL)
                          AS "waiting_since?: Instant",
                      job.promised_on AS "promised_on: Date", coalesce(job_account.owed, 0) AS "owed!: Money" "#
                + $from
        )
    };
}

/// A line before it is known who it is about and what was said of it.
struct Matters {
    line: ToTell,
    customer: CustomerId,
    since: Instant,
}

/// Everything that customers are to be told, the most pressing first: what is due by `today`, and what was told lately and
/// is due again on a later day. `day_of` is the shop's calendar.
pub async fn to_tell(
    connection: &mut sqlx::SqliteConnection,
    today: Date,
    day_of: impl Fn(Instant) -> Date,
) -> Result<Vec<ToTell>> {
    let again = settings(&mut *connection).await?;
    let open = rows!(
        "FROM job JOIN instrument ON instrument.id = job.instrument_id
         LEFT JOIN job_account ON job_account.job_id = job.id
         WHERE job.is_open = 1 ORDER BY job.promised_on, job.number"
    );
    let open = open.fetch_all(&mut *connection).await?;
    let gone = rows!(
        "FROM job_account CROSS JOIN job ON job.id = job_account.job_id
         CROSS JOIN instrument ON instrument.id = job.instrument_id
         WHERE job_account.owed > 0"
    );
    let gone: Vec<Row> =
        gone.fetch_all(&mut *connection).await?.into_iter().filter(|row| !row.stage.is_open()).collect();
    let moved = promise::to_tell(&mut *connection).await?;
    let quotes = quote::unanswered(&mut *connection).await?;
    let questions = questions(&mut *connection).await?;
    let mut found = Vec::new();
    for row in &open {
        if let Some(asked) = questions.iter().find(|asked| asked.job_id == row.id) {
            let mut question = line(row, Matter::Question, asked.at, &day_of);
            question.line.words.clone_from(&asked.words);
            found.push(question);
        }
        let moved = moved.iter().find(|moved| moved.job_id == row.id);
        let quote = quotes.iter().rev().find(|quote| quote.job_id == row.id);
        found.extend(of_open(row, moved, quote, today, &day_of));
    }
    for row in &gone {
        let mut owed = line(row, Matter::Money, row.stage_since, &day_of);
        owed.line.amount = Some(row.owed);
        owed.line.due_on = owed.line.since + Duration::days(again.after_told);
        found.push(owed);
    }
    let in_the_house: Vec<InstrumentId> = open.iter().map(|row| row.instrument_id).collect();
    let said = said(&mut *connection, &found).await?;
    let mut lines: Vec<Matters> = found.into_iter().map(|found| said_of(found, &said, &again, &day_of)).collect();
    lines.retain(|found| found.line.due_on != Date::MAX);
    lines.extend(due_care(&mut *connection, &in_the_house, &again, today, &day_of).await?);
    let mut lines = with_people(connection, lines).await?;
    lines.sort_by_key(|line| (line.subject.matter, line.since));
    Ok(lines)
}

/// The newest question about a quote of a job.
struct Question {
    job_id: JobId,
    words: String,
    at: Instant,
}

/// What was asked last about the quotes of each open job.
async fn questions(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Question>> {
    // bare columns beside max() come from the row of the maximum
    let rows = sqlx::query!(
        r#"SELECT quote.job_id AS "job_id!: JobId", quote_answer.words AS "words!: String",
                  quote_answer.answered_at AS "at!: Instant",
                  max(quote_answer.id) AS "newest!: i64"
           FROM job CROSS JOIN quote ON quote.job_id = job.id
           CROSS JOIN quote_answer ON quote_answer.quote_id = quote.id
           WHERE job.is_open = 1 AND quote_answer.said = 'asked' GROUP BY quote.job_id"#
    )
    .fetch_all(executor)
    .await?;
    Ok(rows.into_iter().map(|row| Question { job_id: row.job_id, words: row.words, at: row.at }).collect())
}

/// A line of a job that is so since a moment.
fn line(row: &Row, matter: Matter, since: Instant, day_of: impl Fn(Instant) -> Date) -> Matters {
    let day = day_of(since);
    let line = ToTell {
        subject: Subject { matter, of: row.id.0 },
        number: row.number.clone(),
        instrument: instrument_title(row.family, &row.maker, &row.model),
        person: nobody_yet(row.customer_id),
        day: row.promised_on,
        from_day: None,
        amount: None,
        quote: None,
        words: String::new(),
        since: day,
        due_on: day,
        last: None,
    };
    Matters { line, customer: row.customer_id, since }
}

fn nobody_yet(id: CustomerId) -> Person {
    Person {
        id,
        name: String::new(),
        telephone: String::new(),
        telephone_e164: None,
        email: String::new(),
        reach_by: ReachBy::Telephone,
        version: 0,
    }
}

/// What the customer of an open job is to be told.
fn of_open(
    row: &Row,
    moved: Option<&promise::ToTell>,
    quote: Option<&quote::Unanswered>,
    today: Date,
    day_of: impl Fn(Instant) -> Date,
) -> Vec<Matters> {
    let mut found = Vec::new();
    if row.stage == Stage::Ready {
        let mut ready = line(row, Matter::Ready, row.stage_since, &day_of);
        ready.line.amount = (row.owed.0 > 0).then_some(row.owed);
        return vec![ready];
    }
    if let Some(moved) = moved {
        let mut promise = line(row, Matter::Promise, moved.moved_at, &day_of);
        promise.line.day = Some(moved.to_day);
        promise.line.from_day = moved.from_day;
        found.push(promise);
    } else if is_late(row.stage, row.promised_on, today) {
        // since the day after the one promised: what was said before it says nothing of being late
        let mut late = line(row, Matter::Late, row.stage_since, &day_of);
        late.line.since = row.promised_on.and_then(Date::next_day).unwrap_or(today);
        late.line.due_on = late.line.since;
        found.push(late);
    }
    if row.waiting_for == Some(WaitingFor::Customer) {
        let mut answer = line(row, Matter::Answer, row.waiting_since.unwrap_or(row.stage_since), &day_of);
        answer.line.words.clone_from(&row.waiting_reason);
        found.push(answer);
    } else if let (Some(quote), None) = (quote, row.waiting_for) {
        let mut asked = line(row, Matter::Quote, quote.made_at, &day_of);
        asked.line.amount = Some(quote.total);
        asked.line.day = Some(quote.valid_until);
        asked.line.quote = Some(quote.id);
        found.push(asked);
    }
    found
}

/// What was said last of a matter.
struct Said {
    subject: Subject,
    outcome: Outcome,
    how: How,
    at: Instant,
    who: Option<String>,
    customer_version: i64,
}

/// What was said last of each matter of some jobs.
async fn said(connection: &mut sqlx::SqliteConnection, of: &[Matters]) -> Result<Vec<Said>> {
    let jobs: Vec<JobId> = of.iter().filter_map(|found| found.line.job()).collect();
    let jobs = as_json(&jobs)?;
    let rows = sqlx::query!(
        r#"SELECT telling.job_id AS "job_id!: JobId", matter AS "matter: Matter", outcome AS "outcome: Outcome",
                  how AS "how: How", said_at AS "at: Instant", staff.name AS "who?", customer_version
           FROM telling LEFT JOIN staff ON staff.id = telling.staff_id
           WHERE telling.id IN (SELECT max(id) FROM telling WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?))
                                GROUP BY job_id, matter)"#,
        jobs,
    )
    .fetch_all(connection)
    .await?;
    let said = rows.into_iter().map(|row| Said {
        subject: Subject { matter: row.matter, of: row.job_id.0 },
        outcome: row.outcome,
        how: row.how,
        at: row.at,
        who: row.who,
        customer_version: row.customer_version,
    });
    Ok(said.collect())
}

/// The line with what was said last of it, and the day on which it is due again; [`Date::MAX`] where once is enough.
fn said_of(mut found: Matters, said: &[Said], again: &TellingSettings, day_of: impl Fn(Instant) -> Date) -> Matters {
    let is_since = |said: &&Said| match found.line.subject.matter {
        Matter::Late => day_of(said.at) >= found.line.since,
        _ => said.at >= found.since,
    };
    let Some(said) = said.iter().filter(|said| said.subject == found.line.subject).find(is_since) else { return found };
    let days = match said.outcome {
        Outcome::Told | Outcome::LeftWord if is_once(found.line.subject.matter, said.outcome, said.how) => {
            found.line.due_on = Date::MAX;
            return found;
        }
        Outcome::Told => again.after_told,
        Outcome::LeftWord => again.after_word_left,
        Outcome::NoAnswer => again.after_no_answer,
        Outcome::WrongNumber => 0,
    };
    found.line.due_on = day_of(said.at).saturating_add(Duration::days(days));
    found.line.last = Some(Last {
        outcome: said.outcome,
        how: said.how,
        at: said.at,
        who: said.who.clone(),
        // who is asked about is not known yet: the version is compared once they are
        is_wrong_number: said.outcome == Outcome::WrongNumber,
    });
    found.line.person.version = said.customer_version;
    found
}

/// Whether a matter is over once it was told: an answer, a day, that care is due. What was written was told.
fn is_once(matter: Matter, outcome: Outcome, how: How) -> bool {
    let is_of_a_day = matches!(matter, Matter::Question | Matter::Promise | Matter::Care);
    let is_written = outcome == Outcome::LeftWord && matches!(how, How::Email | How::Letter);
    is_of_a_day && (outcome == Outcome::Told || is_written)
}

/// Care that is due soon, an instrument once: of whoever agreed to be reminded, and of no instrument that is here.
async fn due_care(
    connection: &mut sqlx::SqliteConnection,
    in_the_house: &[InstrumentId],
    again: &TellingSettings,
    today: Date,
    day_of: impl Fn(Instant) -> Date,
) -> Result<Vec<Matters>> {
    let until = today.saturating_add(Duration::days(CARE_AHEAD_DAYS));
    let mut due = care::due_until(&mut *connection, until, None, MOST_CARE).await?;
    due.retain(|due| due.reminders_agreed_on.is_some() && !in_the_house.contains(&due.instrument_id));
    let instruments: Vec<InstrumentId> = due.iter().map(|due| due.instrument_id).collect();
    let instruments = as_json(&instruments)?;
    let rows = sqlx::query!(
        r#"SELECT telling.instrument_id AS "instrument_id!: InstrumentId", outcome AS "outcome: Outcome", how AS "how: How",
                  said_at AS "at: Instant", staff.name AS "who?", customer_version
           FROM telling LEFT JOIN staff ON staff.id = telling.staff_id
           WHERE telling.id IN (SELECT max(id) FROM telling
                                WHERE instrument_id IN (SELECT unhex(value, '-') FROM json_each(?)) GROUP BY instrument_id)"#,
        instruments,
    )
    .fetch_all(connection)
    .await?;
    let said: Vec<Said> = rows
        .into_iter()
        .map(|row| Said {
            subject: Subject { matter: Matter::Care, of: row.instrument_id.0 },
            outcome: row.outcome,
            how: row.how,
            at: row.at,
            who: row.who,
            customer_version: row.customer_version,
        })
        .collect();
    let mut found: Vec<Matters> = Vec::new();
    for due in due {
        let subject = Subject { matter: Matter::Care, of: due.instrument_id.0 };
        let occasion = due.next_due_on.saturating_sub(Duration::days(CARE_OCCASION_DAYS));
        let told = said.iter().find(|said| said.subject == subject && day_of(said.at) >= occasion);
        if told.is_some_and(|told| is_once(Matter::Care, told.outcome, told.how)) {
            continue;
        }
        if let Some(other) = found.iter_mut().find(|found| found.line.subject == subject) {
            other.line.words = format!("{}, {}", other.line.words, due.kind);
            continue;
        }
        let since = due.next_due_on.saturating_sub(Duration::days(CARE_AHEAD_DAYS));
        let line = ToTell {
            subject,
            number: String::new(),
            instrument: instrument_title(due.family, &due.maker, &due.model),
            person: nobody_yet(due.customer_id),
            day: Some(due.next_due_on),
            from_day: None,
            amount: None,
            quote: None,
            words: due.kind.spoken().to_owned(),
            since,
            due_on: since,
            last: None,
        };
        let care = Matters { line, customer: due.customer_id, since: Instant(i64::MIN) };
        found.push(match told {
            Some(told) => said_of(care, std::slice::from_ref(told), again, &day_of),
            None => care,
        });
    }
    Ok(found)
}

/// The lines with who they are about. Nobody who asked to be forgotten is told anything.
async fn with_people(connection: &mut sqlx::SqliteConnection, lines: Vec<Matters>) -> Result<Vec<ToTell>> {
    let customers: Vec<CustomerId> = lines.iter().map(|found| found.customer).collect();
    let customers = as_json(&customers)?;
    let people = sqlx::query_as!(
        Person,
        r#"SELECT id AS "id: CustomerId", name, telephone, telephone_e164, email, reach_by AS "reach_by: ReachBy", version
           FROM customer WHERE id IN (SELECT unhex(value, '-') FROM json_each(?)) AND anonymised_on IS NULL"#,
        customers,
    )
    .fetch_all(connection)
    .await?;
    let known = lines.into_iter().filter_map(|mut found| {
        let person = people.iter().find(|person| person.id == found.customer)?;
        let at_the_time = found.line.person.version;
        if let Some(last) = &mut found.line.last {
            last.is_wrong_number &= at_the_time == person.version;
        }
        found.line.person = person.clone();
        Some(found.line)
    });
    Ok(known.collect())
}

/// What somebody says of a call, a letter or a message.
#[derive(Debug, Clone, Copy)]
pub struct Telling<'a> {
    /// How.
    pub how: How,
    /// What came of it.
    pub outcome: Outcome,
    /// In their own words.
    pub note: &'a str,
}

#[derive(Serialize)]
struct SaidOf<'a> {
    matter: Matter,
    how: How,
    outcome: Outcome,
    #[serde(skip_serializing_if = "str::is_empty")]
    note: &'a str,
}

/// Writes down what came of telling a customer some of what stands on the list. The same form sent twice writes it once.
/// A moved promise that they know is told.
///
/// # Errors
/// Refused where nothing of it stands on the list any more.
pub async fn tell(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    day_of: impl Fn(Instant) -> Date,
    form_key: &str,
    subjects: &[Subject],
    said: Telling<'_>,
) -> Result<()> {
    let mut lines = None;
    for subject in subjects {
        let key = format!("{form_key} {subject}");
        let is_done =
            sqlx::query_scalar!(r#"SELECT EXISTS (SELECT 1 FROM telling WHERE form_key = ?) AS "done!: bool""#, key);
        if is_done.fetch_one(&mut **tx).await? {
            continue;
        }
        if lines.is_none() {
            lines = Some(to_tell(tx, today, &day_of).await?);
        }
        let line = lines.iter().flatten().find(|line| line.subject == *subject).ok_or_else(|| {
            Error::refused(
                "This stands on the list no more: somebody told them, or it is not so any longer. Look again.",
            )
        })?;
        write(tx, by, &key, line, said).await?;
    }
    Ok(())
}

/// Writes down what came of one line.
pub(super) async fn write(
    tx: &mut WriteTx,
    by: &AuditContext,
    key: &str,
    line: &ToTell,
    said: Telling<'_>,
) -> Result<()> {
    let note = canonical(said.note);
    let matter = line.subject.matter;
    let job = line.job();
    let instrument = job.is_none().then_some(InstrumentId(line.subject.of));
    sqlx::query!(
        "INSERT INTO telling (matter, job_id, instrument_id, how, outcome, said_at, staff_id, note, customer_version, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        matter,
        job,
        instrument,
        said.how,
        said.outcome,
        by.at,
        by.staff,
        note,
        line.person.version,
        key,
    )
    .execute(&mut **tx)
    .await?;
    let deed = match said.outcome {
        Outcome::Told => "customer told",
        Outcome::LeftWord => "word left for the customer",
        Outcome::NoAnswer => "called, no answer",
        Outcome::WrongNumber => "called, wrong number",
    };
    let record = if job.is_some() { "job" } else { "instrument" };
    let after = SaidOf { matter, how: said.how, outcome: said.outcome, note: &note };
    event::write(tx, by, deed, record, line.subject.of, None, Some(&after)).await?;
    let is_promise_told = matter == Matter::Promise && is_once(matter, said.outcome, said.how) && by.staff.is_some();
    if let (Some(job), true) = (job, is_promise_told) {
        promise::told(tx, by, job).await?;
    }
    Ok(())
}

/// A message of the house, or one that somebody had sent, went out: word is left.
pub(super) async fn message_sent(
    tx: &mut WriteTx,
    by: &AuditContext,
    matter: Matter,
    job: JobId,
    key: &str,
) -> Result<()> {
    sqlx::query!(
        "INSERT INTO telling (matter, job_id, how, outcome, said_at, staff_id, customer_version, form_key)
         SELECT ?, job.id, 'email', 'left-word', ?, ?, customer.version, ?
         FROM job JOIN customer ON customer.id = job.customer_id WHERE job.id = ?",
        matter,
        by.at,
        by.staff,
        key,
        job,
    )
    .execute(&mut **tx)
    .await?;
    if matter == Matter::Promise && by.staff.is_some() {
        promise::told(tx, by, job).await?;
    }
    Ok(())
}

/// Takes the notes of what was said out: the person asked to be forgotten.
pub(super) async fn anonymise_job(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE telling SET note = '' WHERE job_id = ? AND note <> ''", job).execute(&mut **tx).await?;
    Ok(())
}

/// The same of what was said of the care of their instruments.
pub(super) async fn anonymise_care(tx: &mut WriteTx, customer: CustomerId) -> Result<()> {
    sqlx::query!(
        "UPDATE telling SET note = '' WHERE instrument_id IN (SELECT id FROM instrument WHERE customer_id = ?) AND note <> ''",
        customer,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
