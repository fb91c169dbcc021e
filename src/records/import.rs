//! Customers and instruments brought in from a file: kept at upload, tried on a copy of the shop's file, then brought
//! in some rows at a time. A row that cannot be read is refused with its reason; the others go in.

mod column;
mod encoding;
mod meaning;
mod row;
mod run;
mod spreadsheet;
mod table;
mod vcard;

use serde::{Deserialize, Serialize};

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::{Error, ImportId, Result, WriteTx};
use crate::quantity::Instant;

pub use column::Column;
pub use meaning::{AGREED_TODAY, Meanings, NOT_AGREED, Word, words_of};
pub use run::{begin, bring_in, rows_done, try_out, unfinished};
pub use spreadsheet::{is_spreadsheet, sheet};
pub use table::{MOST_ROWS, Row, Table};
pub use vcard::cards;

words! {
    /// How far a file has come.
    ImportState {
        /// Its columns are to be named.
        Read = "read" => "read",
        /// Tried without writing.
        Tried = "tried" => "tried",
        /// Brought in.
        Done = "done" => "brought in",
    }
}

/// A file on its way in.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Import {
    pub id: ImportId,
    pub file_name: String,
    pub table: Table,
    pub columns: Vec<Column>,
    pub meanings: Meanings,
    pub outcome: Option<Outcome>,
    pub state: ImportState,
    pub made_at: Instant,
    /// When the file was thrown away: its rows and what became of them are gone, what was brought in stays.
    pub emptied_at: Option<Instant>,
}

/// What a run found, or would do.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outcome {
    /// Rows below the heading.
    pub rows: usize,
    /// Customers made.
    pub customers_added: usize,
    /// Customers that were here already, left as they are.
    pub customers_known: usize,
    /// Instruments made.
    pub instruments_added: usize,
    /// Instruments that were here already.
    pub instruments_known: usize,
    /// Rows that cannot be read: place in the table, and why.
    pub refused: Vec<(usize, String)>,
    /// Rows that go in without some of what they hold: the line of the file, and what is left out.
    #[serde(default)]
    pub left_out: Vec<(u64, String)>,
}

/// Keeps a file. The same form sent twice keeps one.
pub async fn keep(
    tx: &mut WriteTx,
    by: &AuditContext,
    form_key: &str,
    file_name: &str,
    table: &Table,
) -> Result<ImportId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: ImportId" FROM import WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let person = by.person()?;
    let id = ImportId::new();
    let content = as_json(table)?;
    let columns: Vec<Column> = table.headings.iter().map(|heading| Column::guessed(heading)).collect();
    let columns = as_json(&columns)?;
    sqlx::query!(
        "INSERT INTO import (id, file_name, content, columns, state, made_at, staff_id, form_key)
         VALUES (?, ?, ?, ?, 'read', ?, ?, ?)",
        id,
        file_name,
        content,
        columns,
        by.at,
        person,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "file read for import", "import", id.0, None, Some(&(file_name, table.rows.len()))).await?;
    Ok(id)
}

/// One file.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: ImportId) -> Result<Import> {
    let row = sqlx::query!(
        r#"SELECT file_name, content, columns, meanings, outcome, state AS "state: ImportState", made_at AS "made_at: Instant",
                  emptied_at AS "emptied_at: Instant"
           FROM import WHERE id = ?"#,
        id,
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("import"))?;
    Ok(Import {
        id,
        file_name: row.file_name,
        table: serde_json::from_str(&row.content).map_err(Error::unwritable)?,
        columns: serde_json::from_str(&row.columns).map_err(Error::unwritable)?,
        meanings: serde_json::from_str(&row.meanings).map_err(Error::unwritable)?,
        outcome: match row.outcome {
            Some(outcome) => Some(serde_json::from_str(&outcome).map_err(Error::unwritable)?),
            None => None,
        },
        state: row.state,
        made_at: row.made_at,
        emptied_at: row.emptied_at,
    })
}

/// The name of a file and how far it has come, without its rows: enough while it is at work.
pub async fn head(executor: impl sqlx::SqliteExecutor<'_>, id: ImportId) -> Result<(String, ImportState)> {
    let head = sqlx::query!(r#"SELECT file_name, state AS "state: ImportState" FROM import WHERE id = ?"#, id)
        .fetch_optional(executor)
        .await?
        .ok_or(Error::NotFound("import"))?;
    Ok((head.file_name, head.state))
}

/// A file in the list of those that came before.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Earlier {
    pub id: ImportId,
    pub file_name: String,
    pub state: ImportState,
    pub made_at: Instant,
    pub emptied_at: Option<Instant>,
}

/// The last files, newest first.
pub async fn latest(executor: impl sqlx::SqliteExecutor<'_>, most: i64) -> Result<Vec<Earlier>> {
    Ok(sqlx::query_as!(
        Earlier,
        r#"SELECT id AS "id: ImportId", file_name, state AS "state: ImportState", made_at AS "made_at: Instant",
                  emptied_at AS "emptied_at: Instant"
           FROM import ORDER BY made_at DESC LIMIT ?"#,
        most,
    )
    .fetch_all(executor)
    .await?)
}

/// Names the columns, and says what their words mean. What was tried with other names counts no more.
///
/// # Errors
/// Refused once brought in, without a name column, or with one named twice.
pub async fn name_columns(tx: &mut WriteTx, id: ImportId, columns: &[Column], meanings: &Meanings) -> Result<()> {
    if !columns.contains(&Column::Name) {
        return Err(Error::refused("Say which column holds the customer's name."));
    }
    for column in Column::ALL {
        let times = columns.iter().filter(|named| *named == column).count();
        if *column != Column::Nothing && times > 1 {
            return Err(Error::refused(format!("“{column}” is named for {times} columns. Choose one.")));
        }
    }
    let columns = as_json(columns)?;
    let meanings = as_json(meanings)?;
    let done = sqlx::query!(
        "UPDATE import SET columns = ?, meanings = ?, outcome = NULL, state = 'read'
         WHERE id = ? AND state <> 'done' AND emptied_at IS NULL
             AND NOT EXISTS (SELECT 1 FROM import_run WHERE import_id = import.id)",
        columns,
        meanings,
        id,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Err(Error::refused(
            "This file is brought in already, or being brought in, or was thrown away. Bring it once more to name its \
             columns anew.",
        ));
    }
    Ok(())
}

/// Days after which a file is thrown away, whatever became of it.
pub const KEPT_DAYS: i64 = 30;
const MICROSECONDS_PER_DAY: i64 = 86_400_000_000;

/// Throws a file away: its rows and what became of them. What was brought in stays. Pressed twice it is gone once.
pub async fn throw_away(tx: &mut WriteTx, by: &AuditContext, id: ImportId) -> Result<()> {
    let nothing = as_json(&Table::default())?;
    let done = sqlx::query!(
        "UPDATE import SET content = ?, columns = '[]', meanings = '{}', outcome = NULL, emptied_at = ? WHERE id = ? AND emptied_at IS NULL",
        nothing,
        by.at,
        id,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return head(&mut **tx, id).await.map(|_| ());
    }
    sqlx::query!("DELETE FROM import_run WHERE import_id = ?", id).execute(&mut **tx).await?;
    event::write::<()>(tx, by, "file of an import thrown away", "import", id.0, None, None).await
}

/// The files whose time has come: brought in and their refused rows saved, or older than [`KEPT_DAYS`].
pub async fn to_throw_away(executor: impl sqlx::SqliteExecutor<'_>, now: Instant) -> Result<Vec<ImportId>> {
    let oldest = Instant(now.0 - KEPT_DAYS * MICROSECONDS_PER_DAY);
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: ImportId" FROM import
           WHERE emptied_at IS NULL AND (made_at < ? OR (state = 'done' AND refused_saved_at IS NOT NULL))"#,
        oldest,
    )
    .fetch_all(executor)
    .await?)
}

/// Writes down that the refused rows were saved elsewhere.
pub async fn refused_saved(tx: &mut WriteTx, by: &AuditContext, id: ImportId) -> Result<()> {
    sqlx::query!("UPDATE import SET refused_saved_at = ? WHERE id = ?", by.at, id).execute(&mut **tx).await?;
    event::write::<()>(tx, by, "refused rows of an import saved", "import", id.0, None, None).await
}
