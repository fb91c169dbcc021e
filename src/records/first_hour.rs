//! What the owner of a new shop goes through once: five steps, each of which stands as it is until it is changed.

use uuid::Uuid;

use super::column::words;
use super::event::{self, AuditContext};
use super::{Result, WriteTx};

words! {
    /// A step of the first hour.
    Step {
        /// Name, address, where it is, what it prints on.
        Shop = "shop" => "The shop and its papers",
        /// Currency and tax.
        Money = "money" => "Money and tax",
        /// Who works here.
        People = "people" => "People",
        /// When the bench works.
        Hours = "hours" => "Hours",
        /// What a finished setup measures.
        Targets = "targets" => "Target values",
    }
}

/// The steps that are done.
pub async fn done(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Step>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT step AS "step: Step" FROM first_hour
           WHERE step IN ('shop', 'money', 'people', 'hours', 'targets')"#
    )
    .fetch_all(executor)
    .await?)
}

/// A step is done. Pressed twice it is done once.
pub async fn step_done(tx: &mut WriteTx, by: &AuditContext, step: Step) -> Result<()> {
    let written = sqlx::query!(
        "INSERT INTO first_hour (step, done_at, staff_id) VALUES (?, ?, ?) ON CONFLICT (step) DO NOTHING",
        step,
        by.at,
        by.staff,
    )
    .execute(&mut **tx)
    .await?;
    if written.rows_affected() == 0 {
        return Ok(());
    }
    event::write(tx, by, "step of the first hour done", "first_hour", Uuid::nil(), None, Some(&step)).await
}
