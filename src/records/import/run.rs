//! Bringing a file in, some rows at a time: nobody waits for the books longer than a few rows take, and after a crash
//! it goes on where it was. A try is the same, on a copy of the shop's file.

use std::sync::atomic::{AtomicUsize, Ordering};

use sqlx::SqliteConnection;
use time::Date;

use super::super::column::as_json;
use super::super::customer::{self, CustomerEntry};
use super::super::event::{self, AuditContext, Door};
use super::super::fold::folded;
use super::super::instrument::{self, InstrumentEntry};
use super::super::{CustomerId, Db, Error, ImportId, Result, StaffId, WriteTx};
use super::{Import, ImportState, Outcome, row};
use crate::quantity::Instant;
use crate::quantity::telephone::digits_for_search;

/// Rows brought in under one lock.
const ROWS_AT_ONCE: usize = 20;

/// How far a file that is being brought in has come.
#[derive(Debug, Clone)]
struct Run {
    begun_at: Instant,
    begun_by: StaffId,
    rows_done: i64,
    customers_added: i64,
    customers_known: i64,
    instruments_added: i64,
    instruments_known: i64,
}

/// Marks a file as being brought in, in the name of whoever pressed. What was begun before goes on where it was.
///
/// # Errors
/// Refused once it was brought in or thrown away.
pub async fn begin(tx: &mut WriteTx, by: &AuditContext, import: ImportId) -> Result<()> {
    let person = by.person()?;
    let stands = sqlx::query!(
        r#"SELECT state AS "state: ImportState", emptied_at AS "emptied_at: Instant" FROM import WHERE id = ?"#,
        import,
    )
    .fetch_optional(&mut **tx)
    .await?
    .ok_or(Error::NotFound("import"))?;
    if stands.state == ImportState::Done {
        return Err(Error::refused("This file is brought in already. Bring what is new as a file of its own."));
    }
    if stands.emptied_at.is_some() {
        return Err(Error::refused("This file was thrown away. Bring it once more."));
    }
    sqlx::query!(
        "INSERT INTO import_run (import_id, begun_at, begun_by) VALUES (?, ?, ?) ON CONFLICT (import_id) DO NOTHING",
        import,
        by.at,
        person,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// The files that were being brought in when the program ended.
pub async fn unfinished(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<ImportId>> {
    Ok(sqlx::query_scalar!(r#"SELECT import_id AS "import_id: ImportId" FROM import_run ORDER BY begun_at"#)
        .fetch_all(executor)
        .await?)
}

/// How many rows of a file are in the books or refused, where it was begun and is not done.
pub async fn rows_done(executor: impl sqlx::SqliteExecutor<'_>, import: ImportId) -> Result<Option<usize>> {
    let rows = sqlx::query_scalar!("SELECT rows_done FROM import_run WHERE import_id = ?", import)
        .fetch_optional(executor)
        .await?;
    Ok(rows.and_then(|rows| usize::try_from(rows).ok()))
}

/// Says what would happen, on a copy of the shop's file that is thrown away; only what was found is kept. `progress`
/// counts the rows.
///
/// # Errors
/// When the copy cannot be made; a row's own faults are in the outcome.
pub async fn try_out(
    db: &Db,
    by: &AuditContext,
    country: &str,
    day_of: impl Fn(Instant) -> Date,
    import: &Import,
    progress: &AtomicUsize,
) -> Result<()> {
    let copy = db.copy().await?;
    let mut tx = copy.db().write().await?;
    begin(&mut tx, by, import.id).await?;
    tx.commit().await?;
    let outcome = go_through(copy.db(), country, day_of, import, progress).await;
    copy.throw_away().await;
    let outcome = as_json(&outcome?)?;
    let mut tx = db.write().await?;
    sqlx::query!("UPDATE import SET outcome = ?, state = 'tried' WHERE id = ? AND state <> 'done'", outcome, import.id)
        .execute(&mut *tx)
        .await?;
    tx.commit().await
}

/// Brings a file in that [`begin`] has marked, or goes on with it, and keeps only its refused rows. `progress` counts
/// the rows.
///
/// # Errors
/// When the books cannot be written: what is in them stays, and the file goes on from there the next time.
pub async fn bring_in(
    db: &Db,
    country: &str,
    day_of: impl Fn(Instant) -> Date,
    import: &Import,
    progress: &AtomicUsize,
) -> Result<()> {
    let outcome = go_through(db, country, day_of, import, progress).await?;
    let kept = as_json(&import.table.only(outcome.refused.iter().map(|(place, _)| *place)))?;
    let refused: Vec<(usize, String)> =
        outcome.refused.iter().enumerate().map(|(place, (_, reason))| (place, reason.clone())).collect();
    let stored = as_json(&Outcome { refused, ..outcome.clone() })?;
    let mut tx = db.write().await?;
    let run = run_of(&mut tx, import.id).await?;
    let by = AuditContext { staff: Some(run.begun_by), door: Door::Office, at: run.begun_at };
    // where nothing was refused there is nothing to wait for
    let saved = outcome.refused.is_empty().then_some(by.at);
    sqlx::query!(
        "UPDATE import SET outcome = ?, content = ?, state = 'done', refused_saved_at = ? WHERE id = ?",
        stored,
        kept,
        saved,
        import.id,
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!("DELETE FROM import_run WHERE import_id = ?", import.id).execute(&mut *tx).await?;
    let told = (outcome.customers_added, outcome.instruments_added, outcome.refused.len());
    event::write(&mut tx, &by, "file brought in", "import", import.id.0, None, Some(&told)).await?;
    tx.commit().await
}

/// One row as it was made out, or why it cannot be.
type Parsed = std::result::Result<row::Read, String>;

async fn go_through(
    db: &Db,
    country: &str,
    day_of: impl Fn(Instant) -> Date,
    import: &Import,
    progress: &AtomicUsize,
) -> Result<Outcome> {
    let mut run = run_of(&mut *db.read().acquire().await?, import.id).await?;
    // rows are made out as on the day on which it began, however often it goes on
    let today = day_of(run.begun_at);
    let parsed: Vec<Parsed> = import
        .table
        .rows
        .iter()
        .map(|row| row::parse(&import.table, row, &import.columns, &import.meanings, today))
        .collect();
    loop {
        let done = count(run.rows_done);
        progress.store(done, Ordering::Relaxed);
        let next: Vec<(usize, &Parsed)> = parsed.iter().enumerate().skip(done).take(ROWS_AT_ONCE).collect();
        if next.is_empty() {
            break;
        }
        run = some_rows(db, country, import.id, &next).await?;
    }
    let left_out = import.table.rows.iter().zip(&parsed).filter_map(|(row, parsed)| {
        let left_out = &parsed.as_ref().ok()?.left_out;
        (!left_out.is_empty()).then(|| (row.line, left_out.join(" ")))
    });
    let left_out = left_out.collect();
    let refused = parsed.into_iter().enumerate().filter_map(|(place, row)| Some((place, row.err()?)));
    Ok(Outcome {
        rows: import.table.rows.len(),
        customers_added: count(run.customers_added),
        customers_known: count(run.customers_known),
        instruments_added: count(run.instruments_added),
        instruments_known: count(run.instruments_known),
        refused: refused.collect(),
        left_out,
    })
}

/// Brings some rows in, and writes down in the same transaction that they are done: no row goes in twice.
async fn some_rows(db: &Db, country: &str, import: ImportId, rows: &[(usize, &Parsed)]) -> Result<Run> {
    let mut tx = db.write().await?;
    let mut run = run_of(&mut tx, import).await?;
    let by = AuditContext { staff: Some(run.begun_by), door: Door::Office, at: run.begun_at };
    let mut events = Vec::new();
    for (place, row) in rows {
        if *place < count(run.rows_done) {
            continue;
        }
        run.rows_done += 1;
        let Ok(row::Read { person, instrument: brought, .. }) = row else { continue };
        let key = format!("{import}-{place}");
        let customer = match known(&mut tx, person).await? {
            Some(id) => {
                run.customers_known += 1;
                id
            }
            None => {
                run.customers_added += 1;
                let (id, added) = customer::insert(&mut tx, &by, country, &key, person).await?;
                events.push(added);
                id
            }
        };
        match brought {
            None => {}
            Some(entry) if has_instrument(&mut tx, customer, entry).await? => run.instruments_known += 1,
            Some(entry) => {
                run.instruments_added += 1;
                events.push(instrument::insert(&mut tx, &by, customer, &key, entry).await?.1);
            }
        }
    }
    event::write_all(&mut tx, &by, &events).await?;
    sqlx::query!(
        "UPDATE import_run SET rows_done = ?, customers_added = ?, customers_known = ?, instruments_added = ?,
             instruments_known = ?
         WHERE import_id = ?",
        run.rows_done,
        run.customers_added,
        run.customers_known,
        run.instruments_added,
        run.instruments_known,
        import,
    )
    .execute(&mut *tx)
    .await?;
    tx.commit().await?;
    Ok(run)
}

fn count(rows: i64) -> usize {
    usize::try_from(rows).unwrap_or(0)
}

async fn run_of(connection: &mut SqliteConnection, import: ImportId) -> Result<Run> {
    sqlx::query_as!(
        Run,
        r#"SELECT begun_at AS "begun_at: Instant", begun_by AS "begun_by: StaffId", rows_done, customers_added,
                  customers_known, instruments_added, instruments_known
           FROM import_run WHERE import_id = ?"#,
        import,
    )
    .fetch_optional(&mut *connection)
    .await?
    .ok_or_else(|| Error::refused("This file was thrown away while it was brought in. What is in the books stays."))
}

/// The customer a row means, if the shop has them: the same name, and the same telephone or e-mail where the row
/// gives one.
async fn known(connection: &mut SqliteConnection, person: &CustomerEntry) -> Result<Option<CustomerId>> {
    let name = folded(&person.name);
    let rows = sqlx::query!(
        r#"SELECT coalesce(merged_into, id) AS "id!: CustomerId", telephone_digits, email FROM customer
           WHERE name_folded = ? AND anonymised_on IS NULL ORDER BY created_at"#,
        name,
    )
    .fetch_all(&mut *connection)
    .await?;
    let digits = digits_for_search(&person.telephone);
    let tail = |digits: &str| digits.chars().rev().take(9).collect::<String>();
    let same = rows.into_iter().find(|row| {
        let by_telephone = !digits.is_empty() && tail(&digits) == tail(&row.telephone_digits);
        let by_email = !person.email.is_empty() && person.email.eq_ignore_ascii_case(&row.email);
        by_telephone || by_email || (digits.is_empty() && person.email.is_empty())
    });
    Ok(same.map(|row| row.id))
}

async fn has_instrument(
    connection: &mut SqliteConnection,
    customer: CustomerId,
    entry: &InstrumentEntry,
) -> Result<bool> {
    let same = sqlx::query_scalar!(
        "SELECT count(*) FROM instrument WHERE customer_id = ?1 AND family = ?2 AND maker = ?3 AND model = ?4 AND serial = ?5",
        customer,
        entry.family,
        entry.maker,
        entry.model,
        entry.serial,
    )
    .fetch_one(&mut *connection)
    .await?;
    Ok(same > 0)
}
