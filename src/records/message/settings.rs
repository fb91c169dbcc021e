//! How the shop's own mail server is reached, and the owner's words for each kind of message.

use serde::Serialize;
use uuid::Uuid;

use super::MessageKind;
use crate::records::column::words;
use crate::records::error::ensure_updated;
use crate::records::event::{self, AuditContext};
use crate::records::fold::canonical;
use crate::records::{Error, Result, WriteTx};

words! {
    /// How the way to the mail server is kept private.
    Security {
        /// From the first byte (RFC 8314 prefers it).
        Tls = "tls" => "TLS from the first byte (usually port 465)",
        /// Before anything is said.
        StartTls = "starttls" => "STARTTLS, or nothing is sent (usually port 587)",
        /// Readable on the way.
        None = "none" => "none: whoever shares the network can read messages and password",
    }
}

/// How the mail server is reached. The password is not written into events and shown on no page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, explained in the migration")]
pub struct MailSettings {
    pub is_on: bool,
    pub by_itself: bool,
    pub host: String,
    pub port: i64,
    pub security: Security,
    pub user_name: String,
    #[serde(skip)]
    pub password: String,
    pub from_address: String,
    pub authority: String,
    pub stopped_why: String,
    pub version: i64,
}

/// The settings as they stand.
pub async fn mail_settings(executor: impl sqlx::SqliteExecutor<'_>) -> Result<MailSettings> {
    sqlx::query_as!(
        MailSettings,
        r#"SELECT is_on AS "is_on: bool", by_itself AS "by_itself: bool", host, port, security AS "security: Security",
                  user_name, password, from_address, authority, stopped_why, version
           FROM mail_settings WHERE id = 1"#
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("shop"))
}

/// Saves changed settings; sending begins anew. `new.version` is the version that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`].
pub async fn save_mail_settings(tx: &mut WriteTx, by: &AuditContext, new: &MailSettings) -> Result<()> {
    let before = mail_settings(&mut **tx).await?;
    let done = sqlx::query!(
        "UPDATE mail_settings SET is_on = ?, by_itself = ?, host = ?, port = ?, security = ?, user_name = ?, password = ?,
             from_address = ?, authority = ?, stopped_why = '', version = version + 1
         WHERE id = 1 AND version = ?",
        new.is_on,
        new.by_itself,
        new.host,
        new.port,
        new.security,
        new.user_name,
        new.password,
        new.from_address,
        new.authority,
        new.version,
    )
    .execute(&mut **tx)
    .await?;
    ensure_updated(&done, "settings")?;
    event::write(tx, by, "mail settings changed", "mail_settings", Uuid::nil(), Some(&before), Some(new)).await
}

/// Nothing more is sent until somebody has looked: the server takes no password of ours, or its word cannot be trusted.
pub async fn stop(tx: &mut WriteTx, why: &str) -> Result<()> {
    sqlx::query!("UPDATE mail_settings SET stopped_why = ? WHERE id = 1", why).execute(&mut **tx).await?;
    Ok(())
}

/// Somebody looked: it is tried again.
pub async fn begin_again(tx: &mut WriteTx) -> Result<()> {
    stop(tx, "").await
}

/// The owner's words for one kind of message, with blanks such as `{name}` that are filled in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Words {
    pub subject: String,
    pub words: String,
    pub version: i64,
}

/// The words for a kind of message.
pub async fn words_of(executor: impl sqlx::SqliteExecutor<'_>, kind: MessageKind) -> Result<Words> {
    sqlx::query_as!(Words, "SELECT subject, words, version FROM message_words WHERE kind = ?", kind)
        .fetch_optional(executor)
        .await?
        .ok_or(Error::NotFound("kind of message"))
}

/// Saves changed words. `new.version` is the version that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`].
pub async fn save_words(tx: &mut WriteTx, by: &AuditContext, kind: MessageKind, new: &Words) -> Result<()> {
    let before = words_of(&mut **tx, kind).await?;
    let (subject, words) = (canonical(&new.subject), canonical(&new.words));
    let done = sqlx::query!(
        "UPDATE message_words SET subject = ?, words = ?, version = version + 1 WHERE kind = ? AND version = ?",
        subject,
        words,
        kind,
        new.version,
    )
    .execute(&mut **tx)
    .await?;
    ensure_updated(&done, "message")?;
    event::write(tx, by, "words of a message changed", "message_words", Uuid::nil(), Some(&before), Some(new)).await
}
