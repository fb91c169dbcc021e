//! Whether everything is there before and while the shop works: the data of the trade that guards people and
//! instruments, and the shop's file, with nothing missing, nothing dangling, and every photograph what it was.

use std::path::Path;

use sqlx::SqlitePool;

use super::database::{BOOKS, open_to_read};
use super::photo_folder::PhotoFolder;
use super::seed_data::UnusableSeedData;
use super::{Db, Result, caution, family, photo, string_set, tool};

/// Reads the cautions, families, tools and string sets that are compiled in. Each start asks before anything else.
///
/// # Errors
/// In one line for the console: nobody works without what guards them.
pub fn check_seed_data() -> std::result::Result<(), UnusableSeedData> {
    caution::check()?;
    family::check()?;
    tool::check()?;
    string_set::check()
}

/// What a check of the file found.
#[derive(Debug)]
pub struct CheckReport {
    /// One line a fault; empty is good.
    pub faults: Vec<String>,
    /// Customers in the file.
    pub customers: i64,
    /// Instruments in the file.
    pub instruments: i64,
    /// Jobs in the file.
    pub jobs: i64,
}

impl Db {
    /// Runs SQLite's integrity and foreign-key checks, and reads every photograph.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub async fn check(&self) -> Result<CheckReport> {
        // on a connection of its own: one that has searched before may hold an older shape of the full-text index in its
        // cache, and SQLite's check then calls the index damaged
        check_beside(self.folder()).await
    }
}

/// The same on a data folder that may be open in a server beside: nothing is written, nothing is brought up to date.
///
/// # Errors
/// When the file cannot be read at all, or is of an older program.
pub async fn check_beside(folder: &Path) -> Result<CheckReport> {
    let pool = open_to_read(&folder.join(BOOKS), false).await?;
    let report = check(&pool, &PhotoFolder::in_folder(folder)).await;
    pool.close().await;
    report
}

async fn check(pool: &SqlitePool, photos: &PhotoFolder) -> Result<CheckReport> {
    let integrity: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(pool).await?;
    let dangling: Vec<(String, Option<i64>, String, i64)> =
        sqlx::query_as("PRAGMA foreign_key_check").fetch_all(pool).await?;
    let mut faults: Vec<String> = integrity.into_iter().filter(|line| line != "ok").collect();
    faults.extend(dangling.into_iter().map(|(table, row, parent, _)| {
        let row = row.map_or_else(String::new, |row| format!(" (row {row})"));
        format!("a row of {table}{row} names a missing row of {parent}")
    }));
    faults.extend(photo::check(pool, photos).await?);
    let jobs = sqlx::query_scalar!("SELECT count(*) FROM job").fetch_one(pool).await?;
    let instruments = sqlx::query_scalar!("SELECT count(*) FROM instrument").fetch_one(pool).await?;
    let customers = sqlx::query_scalar!("SELECT count(*) FROM customer").fetch_one(pool).await?;
    Ok(CheckReport { faults, customers, instruments, jobs })
}
