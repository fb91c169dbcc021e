//! Messages to customers, in the books: written once with the same bytes at every attempt, never two about the same, kept
//! over restarts, tried again with growing pauses, and shown where they did not arrive.

mod settings;

use serde::Serialize;
use uuid::Uuid;

use super::column::words;
use super::event::{self, AuditContext, Door};
use super::telling::{self, Matter};
use super::{Error, JobId, MessageId, Result, WriteTx, job};
use crate::quantity::Instant;

pub use settings::{
    MailSettings, Security, Words, begin_again, mail_settings, save_mail_settings, save_words, stop, words_of,
};

words! {
    /// What a message is for.
    MessageKind {
        /// A quote waits for an answer.
        Quote = "quote" => "quote ready",
        /// It can be collected.
        Ready = "ready" => "ready to collect",
        /// The promise was moved.
        Delayed = "delayed" => "promise moved",
        /// Their answer arrived.
        Answer = "answer" => "answer received",
        /// What was paid.
        Receipt = "receipt" => "receipt",
        /// To the owner, to see whether it works.
        Test = "test" => "test message",
    }
}

words! {
    /// Where a message stands.
    MessageState {
        /// To be sent.
        Waiting = "waiting" => "waits to be sent",
        /// Being sent.
        Sending = "sending" => "is being sent",
        /// The mail server took it.
        Sent = "sent" => "sent",
        /// The mail server refused it for good.
        Refused = "refused" => "refused",
        /// Tried for days.
        GivenUp = "given-up" => "given up",
    }
}

/// Minutes until the next attempt after so many that failed: RFC 5321, 4.5.4.1 asks for at least thirty, and to go on for
/// four or five days.
const PAUSES_MINUTES: [i64; 4] = [30, 60, 120, 240];
/// The pause after those.
const LONGEST_PAUSE_MINUTES: i64 = 360;
/// Attempts until it is given up: 4.8 days of pauses.
pub const MOST_ATTEMPTS: i64 = 23;
/// Days for which the text of a message is kept after it was sent.
const KEPT_DAYS: i64 = 90;
const MINUTE_US: i64 = 60_000_000;
const DAY_US: i64 = 86_400_000_000;

/// The pause after an attempt that failed, the first being 1.
pub fn pause_minutes(attempts: i64) -> i64 {
    let place = usize::try_from(attempts - 1).unwrap_or(0);
    PAUSES_MINUTES.get(place).copied().unwrap_or(LONGEST_PAUSE_MINUTES)
}

/// A message as it is written.
#[derive(Debug)]
pub struct NewMessage {
    /// What it is for.
    pub kind: MessageKind,
    /// About which job.
    pub job: Option<JobId>,
    /// What of the telling list it says.
    pub matter: Option<Matter>,
    /// What it says: a second message about the same is not written.
    pub about: String,
    /// To whom.
    pub to: String,
    /// As it reads in a list of mail.
    pub subject: String,
    /// All of it, as it is sent; it names its own Message-ID.
    pub raw: Vec<u8>,
}

/// Writes a message that is sent as soon as may be. `None` where one about the same was written before.
pub async fn write(tx: &mut WriteTx, by: &AuditContext, new: &NewMessage) -> Result<Option<MessageId>> {
    let id = MessageId::new();
    let done = sqlx::query!(
        "INSERT INTO message (id, kind, job_id, matter, about, to_address, subject, raw, made_at, staff_id, state, next_try_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'waiting', ?) ON CONFLICT (about) DO NOTHING",
        id,
        new.kind,
        new.job,
        new.matter,
        new.about,
        new.to,
        new.subject,
        new.raw,
        by.at,
        by.staff,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(None);
    }
    if let Some(job) = new.job {
        event::write(tx, by, "message written", "job", job.0, None, Some(&new.kind)).await?;
    }
    Ok(Some(id))
}

/// Whether a message about something was written.
pub async fn is_written(executor: impl sqlx::SqliteExecutor<'_>, about: &str) -> Result<bool> {
    Ok(sqlx::query_scalar!(r#"SELECT EXISTS (SELECT 1 FROM message WHERE about = ?) AS "is!: bool""#, about)
        .fetch_one(executor)
        .await?)
}

/// A message in hand.
#[derive(Debug)]
pub struct InHand {
    /// Which.
    pub id: MessageId,
    /// To whom.
    pub to: String,
    /// All of it.
    pub raw: Vec<u8>,
}

/// Takes the next message in hand that is due: from here on it counts as begun, whatever happens.
pub async fn take_next(tx: &mut WriteTx, now: Instant) -> Result<Option<InHand>> {
    let next = sqlx::query!(
        r#"SELECT id AS "id: MessageId", to_address, raw FROM message
           WHERE state = 'waiting' AND next_try_at <= ? ORDER BY next_try_at LIMIT 1"#,
        now,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let Some(next) = next else { return Ok(None) };
    sqlx::query!("UPDATE message SET state = 'sending', attempts = attempts + 1 WHERE id = ?", next.id)
        .execute(&mut **tx)
        .await?;
    Ok(Some(InHand { id: next.id, to: next.to_address, raw: next.raw }))
}

/// What came of an attempt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Attempt {
    /// The server took it.
    Sent,
    /// Not now.
    Later(String),
    /// Never.
    Refused(String),
    /// The server fell silent after all of it had gone: it may have arrived.
    Unsure(String),
    /// Nothing can be sent before somebody looks at the settings; the attempt does not count.
    Stop(String),
}

/// Writes down what came of an attempt. What is sent is told to the customer, and in the job's history.
pub async fn attempted(tx: &mut WriteTx, now: Instant, id: MessageId, attempt: &Attempt) -> Result<()> {
    let row = sqlx::query!(
        r#"SELECT attempts, is_unsure AS "is_unsure: bool", job_id AS "job_id: JobId", matter AS "matter: Matter",
                  kind AS "kind: MessageKind", staff_id AS "staff_id: super::StaffId"
           FROM message WHERE id = ?"#,
        id,
    )
    .fetch_optional(&mut **tx)
    .await?
    .ok_or(Error::NotFound("message"))?;
    let again_at = Instant(now.0 + pause_minutes(row.attempts) * MINUTE_US);
    let (state, why, is_unsure, next_at, attempts) = match attempt {
        Attempt::Sent => (MessageState::Sent, "", row.is_unsure, now, row.attempts),
        Attempt::Refused(why) => (MessageState::Refused, why.as_str(), row.is_unsure, now, row.attempts),
        Attempt::Stop(why) => (MessageState::Waiting, why.as_str(), row.is_unsure, now, row.attempts - 1),
        Attempt::Unsure(why) if row.is_unsure => (MessageState::GivenUp, why.as_str(), true, now, row.attempts),
        Attempt::Unsure(why) => (MessageState::Waiting, why.as_str(), true, again_at, row.attempts),
        Attempt::Later(why) if row.attempts >= MOST_ATTEMPTS => {
            (MessageState::GivenUp, why.as_str(), row.is_unsure, now, row.attempts)
        }
        Attempt::Later(why) => (MessageState::Waiting, why.as_str(), row.is_unsure, again_at, row.attempts),
    };
    let sent_at = (state == MessageState::Sent).then_some(now);
    sqlx::query!(
        "UPDATE message SET state = ?, why = ?, is_unsure = ?, next_try_at = ?, attempts = ?, sent_at = ? WHERE id = ?",
        state,
        why,
        is_unsure,
        next_at,
        attempts,
        sent_at,
        id,
    )
    .execute(&mut **tx)
    .await?;
    let by = AuditContext { staff: row.staff_id, door: Door::House, at: now };
    let Some(job) = row.job_id else { return Ok(()) };
    match state {
        MessageState::Sent => {
            if let Some(matter) = row.matter {
                telling::message_sent(tx, &by, matter, job, &format!("message {id}")).await?;
            }
            event::write(tx, &by, "message sent", "job", job.0, None, Some(&row.kind)).await
        }
        MessageState::Refused | MessageState::GivenUp => {
            event::write(tx, &by, "message did not arrive", "job", job.0, None, Some(&(row.kind, why))).await
        }
        MessageState::Waiting | MessageState::Sending => Ok(()),
    }
}

/// Messages that were in hand when the program ended may have arrived: each is tried once more, at once.
pub async fn found_in_hand(tx: &mut WriteTx, now: Instant) -> Result<()> {
    let ids = sqlx::query_scalar!(r#"SELECT id AS "id: MessageId" FROM message WHERE state = 'sending'"#)
        .fetch_all(&mut **tx)
        .await?;
    for id in ids {
        let why = "The program ended while it was being sent; it may have arrived.".to_owned();
        attempted(tx, now, id, &Attempt::Unsure(why)).await?;
        sqlx::query!("UPDATE message SET next_try_at = ? WHERE id = ? AND state = 'waiting'", now, id)
            .execute(&mut **tx)
            .await?;
    }
    Ok(())
}

/// A message in a list.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Message {
    pub id: MessageId,
    pub kind: MessageKind,
    pub job_id: Option<JobId>,
    pub number: String,
    pub to_address: String,
    pub subject: String,
    pub made_at: Instant,
    pub state: MessageState,
    pub attempts: i64,
    pub next_try_at: Instant,
    pub why: String,
    pub sent_at: Option<Instant>,
}

impl Message {
    /// Whether it did not arrive and nothing more is tried.
    pub fn is_failed(&self) -> bool {
        matches!(self.state, MessageState::Refused | MessageState::GivenUp)
    }
}

/// The messages that a condition picks.
macro_rules! messages {
    ($picked:literal $(, $put:expr)*) => {
        sqlx::query_as!(
            Message,
            r#"SELECT message.id AS "id: MessageId", kind AS "kind: MessageKind", job_id AS "job_id: JobId",
                      coalesce((SELECT number FROM job WHERE job.id = message.job_id), '') AS "number!: String",
                      to_address, subject, made_at AS "made_at: Instant", state AS "state: MessageState", attempts,
                      next_try_at AS "next_try_at: Instant", why, sent_at AS "sent_at: Instant"
               FROM message WHERE "#
                + $picked
            $(, $put)*
        )
    };
}

/// What did not arrive, newest first, at most a hundred.
pub async fn failed(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Message>> {
    let failed = messages!("state IN ('refused', 'given-up') ORDER BY made_at DESC LIMIT 100");
    Ok(failed.fetch_all(executor).await?)
}

/// The newest messages that wait or were sent, at most a hundred.
pub async fn newest(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Message>> {
    let newest = messages!("made_at >= 0 ORDER BY made_at DESC LIMIT 100");
    Ok(newest.fetch_all(executor).await?)
}

/// Sends a message again that did not arrive, or at once one that waits for its next attempt.
///
/// # Errors
/// Refused where it was sent, or its text is not kept any more.
pub async fn send_again(tx: &mut WriteTx, by: &AuditContext, id: MessageId) -> Result<()> {
    let found = messages!("message.id = ?", id).fetch_optional(&mut **tx).await?;
    let found = found.ok_or(Error::NotFound("message"))?;
    match found.state {
        MessageState::Sending => return Ok(()),
        MessageState::Sent => return Err(Error::refused("This message was sent already.")),
        MessageState::Waiting | MessageState::Refused | MessageState::GivenUp => {}
    }
    let done = sqlx::query!(
        "UPDATE message SET state = 'waiting', attempts = 0, is_unsure = 0, next_try_at = ?, why = ''
         WHERE id = ? AND length(raw) > 0",
        by.at,
        id,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Err(Error::refused("The text of this message is not kept any more. Write a new one."));
    }
    let Some(job) = found.job_id else { return Ok(()) };
    event::write(tx, by, "message sent again", "job", job.0, None, Some(&found.kind)).await
}

/// Throws the texts of messages away that were sent long ago.
pub async fn forget_texts(tx: &mut WriteTx, now: Instant) -> Result<()> {
    let before = Instant(now.0 - KEPT_DAYS * DAY_US);
    sqlx::query!(
        "UPDATE message SET raw = x'' WHERE made_at <= ? AND made_at > ? - 30 * 86400000000 AND state = 'sent'",
        before,
        before,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Takes whom a message went to and all it said out: the job's customer asked to be forgotten. What waits is not sent.
pub(super) async fn anonymise(tx: &mut WriteTx, id: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE message SET to_address = '', subject = '', raw = x'', why = '',
             state = iif(state IN ('waiting', 'sending'), 'given-up', state) WHERE job_id = ?",
        id,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// The address of a job's customer, where there is one and they were not forgotten.
pub async fn address_of(executor: impl sqlx::SqliteExecutor<'_> + Copy, id: JobId) -> Result<Option<(String, String)>> {
    let job = job::find(executor, id).await?;
    let customer = super::customer::find(executor, job.customer_id).await?;
    let is_there = !customer.email.is_empty() && customer.anonymised_on.is_none();
    Ok(is_there.then_some((customer.name, customer.email)))
}

/// Keeps the record's key as the one thing a log says of it.
impl MessageId {
    /// The left part of its Message-ID.
    pub fn simple(self) -> String {
        Uuid::simple(self.0).to_string()
    }
}
