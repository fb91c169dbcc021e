//! Days until a customer is called again, and when the counter is open, as the owner says.

use serde::Serialize;
use uuid::Uuid;

use crate::records::error::ensure_updated;
use crate::records::event::{self, AuditContext};
use crate::records::fold::canonical;
use crate::records::{Error, Result, WriteTx};

/// Days after which a customer is due again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TellingSettings {
    /// After they were told.
    pub after_told: i64,
    /// After word was left.
    pub after_word_left: i64,
    /// After nobody answered.
    pub after_no_answer: i64,
    /// When the counter is open, in the owner's words.
    pub opening_hours: String,
    /// For optimistic locking.
    pub version: i64,
}

/// The days as they stand.
pub async fn settings(executor: impl sqlx::SqliteExecutor<'_>) -> Result<TellingSettings> {
    sqlx::query_as!(
        TellingSettings,
        "SELECT after_told, after_word_left, after_no_answer, opening_hours, version FROM telling_settings WHERE id = 1"
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("shop"))
}

/// Saves changed days. `new.version` is the version that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`].
pub async fn save_settings(tx: &mut WriteTx, by: &AuditContext, new: &TellingSettings) -> Result<()> {
    let before = settings(&mut **tx).await?;
    let opening_hours = canonical(&new.opening_hours);
    let done = sqlx::query!(
        "UPDATE telling_settings SET after_told = ?, after_word_left = ?, after_no_answer = ?, opening_hours = ?, version = version + 1
         WHERE id = 1 AND version = ?",
        new.after_told,
        new.after_word_left,
        new.after_no_answer,
        opening_hours,
        new.version,
    )
    .execute(&mut **tx)
    .await?;
    ensure_updated(&done, "settings")?;
    event::write(tx, by, "days between calls changed", "telling_settings", Uuid::nil(), Some(&before), Some(new)).await
}
