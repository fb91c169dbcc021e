//! What somebody typed into a form and has not sent.
//!
//! It is kept in the shop's file and not in the browser: a tablet may die, a session may end, and whoever signs in
//! next at the same counter must not find it. Each person has their own; nothing is kept longer than a week.

use super::event::AuditContext;
use super::{CustomerId, Result, StaffId, WriteTx};
use crate::quantity::Instant;

/// Days that something typed waits to be sent.
const KEPT_DAYS: i64 = 7;
const MICROSECONDS_PER_DAY: i64 = 86_400_000_000;

/// What was typed into one form.
#[derive(Debug, Clone)]
pub struct UnsentForm {
    /// Where the form goes to.
    pub form: String,
    /// As a browser sends it.
    pub fields: String,
    /// When it was last kept.
    pub saved_at: Instant,
}

fn oldest(now: Instant) -> Instant {
    Instant(now.0.saturating_sub(KEPT_DAYS * MICROSECONDS_PER_DAY))
}

/// Keeps what was typed so far. A draft of a form that was sent meanwhile comes too late and is dropped; so is what
/// anybody left lying for a week.
///
/// # Errors
/// Refused when nobody is signed in.
pub async fn keep(tx: &mut WriteTx, by: &AuditContext, form: &str, form_key: &str, fields: &str) -> Result<()> {
    let staff = by.person()?;
    let oldest = oldest(by.at);
    sqlx::query!("DELETE FROM unsent_form WHERE saved_at < ?", oldest).execute(&mut **tx).await?;
    sqlx::query!(
        "INSERT INTO unsent_form (staff_id, form, form_key, fields, is_sent, saved_at) VALUES (?, ?, ?, ?, 0, ?)
         ON CONFLICT (staff_id, form) DO UPDATE SET
             form_key = excluded.form_key, fields = excluded.fields, is_sent = 0, saved_at = excluded.saved_at
         WHERE is_sent = 0 OR form_key <> excluded.form_key",
        staff,
        form,
        form_key,
        fields,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// What one person has not sent yet, newest first.
pub async fn of_person(
    executor: impl sqlx::SqliteExecutor<'_>,
    staff: StaffId,
    now: Instant,
) -> Result<Vec<UnsentForm>> {
    let oldest = oldest(now);
    Ok(sqlx::query_as!(
        UnsentForm,
        r#"SELECT form, fields, saved_at AS "saved_at: Instant" FROM unsent_form
           WHERE staff_id = ? AND is_sent = 0 AND saved_at >= ? ORDER BY saved_at DESC LIMIT 50"#,
        staff,
        oldest,
    )
    .fetch_all(executor)
    .await?)
}

/// The form was sent: its words are no draft any more, under whichever address they were kept.
pub async fn sent(tx: &mut WriteTx, by: &AuditContext, form: &str, form_key: &str) -> Result<()> {
    sqlx::query!(
        "UPDATE unsent_form SET fields = '', is_sent = 1, form_key = ?1, saved_at = ?2
         WHERE staff_id = ?3 AND (form = ?4 OR form_key = ?1)",
        form_key,
        by.at,
        by.staff,
        form,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Whoever typed it does not want it any more.
pub async fn throw_away(tx: &mut WriteTx, by: &AuditContext, form: &str) -> Result<()> {
    sqlx::query!("DELETE FROM unsent_form WHERE staff_id = ? AND form = ?", by.staff, form).execute(&mut **tx).await?;
    Ok(())
}

/// Drops what anybody typed about a customer who asked to be forgotten, or about a job of theirs.
pub(super) async fn forget(tx: &mut WriteTx, customer: CustomerId) -> Result<()> {
    let of_customer = format!("%customer={customer}%");
    sqlx::query!(
        "DELETE FROM unsent_form WHERE form LIKE ?1 OR fields LIKE ?1 OR EXISTS (
             SELECT 1 FROM job WHERE job.customer_id = ?2
             AND instr(replace(unsent_form.form, '-', ''), lower(hex(job.id))) > 0)",
        of_customer,
        customer,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}
