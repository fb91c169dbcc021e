//! Copies of the whole shop that outlive its computer: the books as they stood at one moment, the secret behind the
//! private links, and every photograph the books name.
//!
//! A backup folder holds one folder a backup, named by its moment (`2026-11-28T021500Z`), and one folder of photographs
//! that all of them share: a photograph's name is the SHA-256 of what it holds and it is never rewritten, so each is
//! copied once. The manifest of a backup is written last, and its folder is given its name last of all: what has a name
//! is whole. Nobody waits while a backup is made: the books are read, not locked.

mod keeping;
mod restore;

use std::collections::BTreeMap;
use std::fs::{File, TryLockError};
use std::io::Read;
use std::path::{Path, PathBuf};

use data_encoding::HEXLOWER;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use sqlx::{AssertSqlSafe, SqliteConnection, SqlitePool};
use time::Date;
use time::macros::format_description;

pub use self::keeping::{Keep, kept};
pub use self::restore::{Restored, restore};
use super::database::{BOOKS, open_to_read};
use super::link::SECRET_FILE;
use super::photo_folder::PhotoFolder;
use super::whole_file::{create_private, write_whole};
use crate::quantity::Instant;

const MANIFEST: &str = "manifest.json";
/// What the names of folders begin with that are not whole yet.
const UNFINISHED: &str = "unfinished-";
/// The form of the manifest; a program that does not know it says so.
const FORM: u32 = 1;
/// Photographs looked up and copied at a time, so that neither list nor pictures fill the memory.
const PHOTOGRAPHS_AT_A_TIME: i64 = 200;

/// Why a backup was not made, could not be read or was not brought back, in words for the person at the console.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// There is no shop to copy.
    #[error("there is no shop in {0}. Name its folder with --data.")]
    NoShop(PathBuf),
    /// There is nothing to bring back.
    #[error("there is no whole backup in {0}. Name the folder that `thumbplane backup --to` wrote to.")]
    NoBackup(PathBuf),
    /// Two at once would count each other's pictures.
    #[error("another backup is being written to {0}. Wait until it is done.")]
    InUse(PathBuf),
    /// What is brought back would overwrite something.
    #[error("{0} is not empty, and nothing in it was touched. Choose a folder that does not exist yet with --data.")]
    NotEmpty(PathBuf),
    /// A manifest of another time.
    #[error(
        "{0} was written in form {1}, which this program does not know. Use the program that wrote it, or a newer."
    )]
    OtherForm(PathBuf, u32),
    /// A copy is not what was written down of it.
    #[error("{0}")]
    NotWhole(String),
    /// A folder cannot be read or written.
    #[error("{0} cannot be used: {1}")]
    Folder(PathBuf, std::io::Error),
    /// SQLite's word.
    #[error("the shop's file could not be copied or read: {0}")]
    File(#[from] sqlx::Error),
    /// A worker ended before its work.
    #[error("the copying was broken off: {0}")]
    BrokenOff(#[from] tokio::task::JoinError),
}

/// What a backup holds, written beside it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// The form of this list.
    form: u32,
    /// The program that wrote it.
    pub program: String,
    /// The newest migration of the books.
    pub schema: i64,
    /// The SQLite that wrote them.
    pub sqlite: String,
    /// The moment the books stood as copied, in microseconds since 1970 and in words.
    pub made_at: Instant,
    made_at_utc: String,
    /// Where the shop's days begin and end, such as "Europe/London"; none before it was set up.
    pub time_zone: Option<String>,
    /// The number of the job checked in last.
    pub last_job: Option<String>,
    /// Rows of each table.
    pub rows: BTreeMap<String, i64>,
    /// Photographs the books name, small versions counted.
    pub photographs: u64,
    /// Photographs that could not be copied, each with what is wrong with it. Empty is good.
    pub faults: Vec<String>,
    /// Each file of this backup.
    files: Vec<FileSum>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct FileSum {
    name: String,
    bytes: u64,
    sha256: String,
}

/// A whole backup.
#[derive(Debug, Clone)]
pub struct Backup {
    /// Its own folder.
    pub folder: PathBuf,
    /// What it holds.
    pub manifest: Manifest,
}

/// How far the copying is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// The books are being copied.
    Books,
    /// The copy is being read back.
    ReadingBack,
    /// So many photographs were looked at.
    Photographs(u64),
}

/// Copies the shop of `data` to `to` and reads the copy back. `now` is the moment it is named by. The shop may be open.
///
/// # Errors
/// In words; what was there before is as it was, and what was begun is thrown away.
pub async fn make(data: &Path, to: &Path, now: Instant, progress: impl Fn(Progress)) -> Result<Backup, BackupError> {
    if !data.join(BOOKS).exists() {
        return Err(BackupError::NoShop(data.to_owned()));
    }
    let at = |path: &Path| {
        let path = path.to_owned();
        move |cause| BackupError::Folder(path, cause)
    };
    std::fs::create_dir_all(to).map_err(at(to))?;
    let _lock = lock(to)?;
    for begun in folders(to, |name| name.starts_with(UNFINISHED)).map_err(at(to))? {
        std::fs::remove_dir_all(&begun).map_err(at(&begun))?;
    }
    let name = free_name(to, now);
    let unfinished = Unfinished(to.join(format!("{UNFINISHED}{name}")));
    std::fs::create_dir(&unfinished.0).map_err(at(&unfinished.0))?;

    progress(Progress::Books);
    let books = unfinished.0.join(BOOKS);
    // made empty beforehand, so that nobody else of the machine may read it
    create_private(&books).map_err(at(&books))?;
    let source = open_to_read(&data.join(BOOKS), false).await?;
    sqlx::query("VACUUM INTO ?").bind(books.to_string_lossy().into_owned()).execute(&source).await?;
    source.close().await;
    let secret = std::fs::read(data.join(SECRET_FILE)).map_err(at(data))?;
    write_whole(&unfinished.0.join(SECRET_FILE), &secret).map_err(at(&unfinished.0))?;

    progress(Progress::ReadingBack);
    let copy = open_to_read(&books, true).await?;
    require_sound(&copy, &books).await?;
    let mut manifest = describe(&copy, now).await?;
    for file in [BOOKS, SECRET_FILE] {
        let path = unfinished.0.join(file);
        File::open(&path).and_then(|file| file.sync_all()).map_err(at(&path))?;
        manifest.files.push(sum(&path, file).map_err(at(&path))?);
    }
    let (from, into) = (PhotoFolder::in_folder(data), PhotoFolder::in_folder(to));
    let work = move |sha256: &[u8]| from.copy_into(&into, sha256);
    (manifest.photographs, manifest.faults) = each_photograph(&copy, work, &progress).await?;
    copy.close().await;

    let written = serde_json::to_vec_pretty(&manifest).map_err(|cause| BackupError::NotWhole(cause.to_string()))?;
    write_whole(&unfinished.0.join(MANIFEST), &written).map_err(at(&unfinished.0))?;
    let folder = to.join(name);
    std::fs::rename(&unfinished.0, &folder).map_err(at(&folder))?;
    File::open(to).and_then(|to| to.sync_all()).map_err(at(to))?;
    Ok(Backup { folder, manifest })
}

/// The whole backups of a folder, oldest first. What is not whole or not ours is passed over.
///
/// # Errors
/// When the folder cannot be read, or holds a form of another time.
pub fn all(folder: &Path) -> Result<Vec<Backup>, BackupError> {
    let listed = folders(folder, |name| !name.starts_with(UNFINISHED));
    let listed = listed.map_err(|cause| BackupError::Folder(folder.to_owned(), cause))?;
    let mut found = Vec::new();
    for folder in listed {
        if folder.join(MANIFEST).exists() {
            found.push(open(&folder)?);
        }
    }
    found.sort_by_key(|backup| backup.manifest.made_at);
    Ok(found)
}

/// One backup by its own folder, or the newest of a folder of backups.
///
/// # Errors
/// When there is none.
pub fn find(folder: &Path) -> Result<Backup, BackupError> {
    if folder.join(MANIFEST).exists() {
        return open(folder);
    }
    all(folder)?.pop().ok_or_else(|| BackupError::NoBackup(folder.to_owned()))
}

fn open(folder: &Path) -> Result<Backup, BackupError> {
    let path = folder.join(MANIFEST);
    let text = std::fs::read(&path).map_err(|cause| BackupError::Folder(path.clone(), cause))?;
    let unreadable = |cause| BackupError::NotWhole(format!("{} cannot be read: {cause}", path.display()));
    // the form first: a list of another form may lack what this one has
    let form: Form = serde_json::from_slice(&text).map_err(unreadable)?;
    if form.form != FORM {
        return Err(BackupError::OtherForm(folder.to_owned(), form.form));
    }
    let manifest = serde_json::from_slice(&text).map_err(unreadable)?;
    Ok(Backup { folder: folder.to_owned(), manifest })
}

#[derive(Deserialize)]
struct Form {
    form: u32,
}

impl Backup {
    /// Reads all of it back: every sum, the books' own checks, each photograph. One line a fault; empty is good.
    ///
    /// # Errors
    /// When it cannot be read at all.
    pub async fn faults(&self, progress: impl Fn(Progress)) -> Result<Vec<String>, BackupError> {
        progress(Progress::ReadingBack);
        let mut faults = self.sums_that_differ()?;
        if !faults.is_empty() {
            return Ok(faults);
        }
        let books = self.folder.join(BOOKS);
        let copy = open_to_read(&books, true).await?;
        require_sound(&copy, &books).await?;
        if describe(&copy, self.manifest.made_at).await?.rows != self.manifest.rows {
            faults.push(format!("{} does not hold the rows its manifest counts", books.display()));
        }
        let photographs = self.photographs();
        let work = move |sha256: &[u8]| photographs.fault(sha256);
        let (_, altered) = each_photograph(&copy, work, &progress).await?;
        copy.close().await;
        faults.extend(altered);
        Ok(faults)
    }

    /// The folder of photographs it shares with those beside it.
    fn photographs(&self) -> PhotoFolder {
        PhotoFolder::in_folder(self.folder.parent().unwrap_or(&self.folder))
    }

    fn sums_that_differ(&self) -> Result<Vec<String>, BackupError> {
        let mut faults = Vec::new();
        for written in &self.manifest.files {
            let path = self.folder.join(&written.name);
            match sum(&path, &written.name) {
                Ok(found) if found == *written => {}
                Ok(_) => faults.push(format!("{} is not what was written: it was altered", path.display())),
                Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => {
                    faults.push(format!("{} is missing", path.display()));
                }
                Err(cause) => return Err(BackupError::Folder(path, cause)),
            }
        }
        Ok(faults)
    }
}

/// Throws away the backups that the rule does not keep, and photographs that only they named. Asked after a new one was
/// read back, never before. `day` says which day a moment was in the shop. Returns how many went.
///
/// # Errors
/// When the folder cannot be read or written; what could not be thrown away is tried again the next time.
pub async fn throw_away_old(to: &Path, keep: Keep, day: impl Fn(Instant) -> Date) -> Result<usize, BackupError> {
    let _lock = lock(to)?;
    let there = all(to)?;
    let days: Vec<Date> = there.iter().map(|backup| day(backup.manifest.made_at)).collect();
    let stays = kept(&days, keep);
    let mut gone = 0;
    for (backup, _) in there.iter().zip(&stays).filter(|(_, stays)| !**stays) {
        std::fs::remove_dir_all(&backup.folder).map_err(|cause| BackupError::Folder(backup.folder.clone(), cause))?;
        gone += 1;
    }
    if gone > 0 {
        throw_away_unnamed(to).await?;
    }
    Ok(gone)
}

/// Deletes photographs that no backup names any more: among them those of people who asked to be forgotten.
async fn throw_away_unnamed(to: &Path) -> Result<(), BackupError> {
    let mut named = std::collections::HashSet::new();
    for backup in all(to)? {
        let copy = open_to_read(&backup.folder.join(BOOKS), true).await?;
        let mut after = 0;
        while let Some((last, sums)) = some_photographs(&copy, after).await? {
            named.extend(sums);
            after = last;
        }
        copy.close().await;
    }
    let photographs = PhotoFolder::in_folder(to);
    let work = move || photographs.keep_only(&named);
    tokio::task::spawn_blocking(work).await?.map_err(|cause| BackupError::Folder(to.to_owned(), cause))
}

/// Goes through the photographs the books name, away from those who answer requests. Returns how many there were, and
/// what was found wrong.
async fn each_photograph(
    books: &SqlitePool,
    work: impl Fn(&[u8]) -> Option<String> + Send + Sync + 'static,
    progress: &impl Fn(Progress),
) -> Result<(u64, Vec<String>), BackupError> {
    let work = std::sync::Arc::new(work);
    let (mut seen, mut faults, mut after) = (0, Vec::new(), 0);
    while let Some((last, sums)) = some_photographs(books, after).await? {
        after = last;
        seen += u64::try_from(sums.len()).unwrap_or(0);
        let work = std::sync::Arc::clone(&work);
        let look = move || -> Vec<String> { sums.iter().filter_map(|sha256| work(sha256)).collect() };
        let found = tokio::task::spawn_blocking(look).await?;
        faults.extend(found.into_iter().map(|fault| format!("a photograph {fault}")));
        progress(Progress::Photographs(seen));
    }
    Ok((seen, faults))
}

/// The next photographs after a row, with their small versions; `None` at the end.
async fn some_photographs(books: &SqlitePool, after: i64) -> Result<Option<(i64, Vec<Vec<u8>>)>, sqlx::Error> {
    // read from a file of any age, so by no checked statement
    let rows: Vec<(i64, Vec<u8>, Vec<u8>)> = sqlx::query_as(
        "SELECT rowid, sha256, small_sha256 FROM photo WHERE rowid > ? AND forgotten = 0 ORDER BY rowid LIMIT ?",
    )
    .bind(after)
    .bind(PHOTOGRAPHS_AT_A_TIME)
    .fetch_all(books)
    .await?;
    let Some(last) = rows.last().map(|(row, _, _)| *row) else {
        return Ok(None);
    };
    Ok(Some((last, rows.into_iter().flat_map(|(_, large, small)| [large, small]).collect())))
}

/// SQLite's own checks of a file.
async fn require_sound(books: &SqlitePool, path: &Path) -> Result<(), BackupError> {
    let whole: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(books).await?;
    let dangling: Vec<(String, Option<i64>, String, i64)> =
        sqlx::query_as("PRAGMA foreign_key_check").fetch_all(books).await?;
    if whole == ["ok"] && dangling.is_empty() {
        return Ok(());
    }
    let first = whole.first().filter(|line| *line != "ok").cloned();
    let first = first.or_else(|| dangling.first().map(|(table, ..)| format!("a row of {table} names a missing row")));
    Err(BackupError::NotWhole(format!(
        "the books are not whole ({}): run `thumbplane check`; {} was not kept",
        first.unwrap_or_default(),
        path.display()
    )))
}

async fn describe(books: &SqlitePool, made_at: Instant) -> Result<Manifest, BackupError> {
    let mut connection = books.acquire().await?;
    let schema = sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations").fetch_one(&mut *connection).await?;
    let sqlite = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(&mut *connection).await?;
    let last_job: Option<String> =
        sqlx::query_scalar("SELECT number FROM job ORDER BY checked_in_at DESC, rowid DESC LIMIT 1")
            .fetch_optional(&mut *connection)
            .await?;
    let time_zone = sqlx::query_scalar("SELECT time_zone FROM settings").fetch_optional(&mut *connection).await?;
    Ok(Manifest {
        form: FORM,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        schema,
        sqlite,
        made_at,
        made_at_utc: made_at.rfc3339(),
        time_zone,
        last_job,
        rows: rows(&mut connection).await?,
        photographs: 0,
        faults: Vec::new(),
        files: Vec::new(),
    })
}

/// How many rows each table holds; what full text keeps for itself is not counted.
async fn rows(connection: &mut SqliteConnection) -> Result<BTreeMap<String, i64>, sqlx::Error> {
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%'",
    )
    .fetch_all(&mut *connection)
    .await?;
    let mut rows = BTreeMap::new();
    for table in tables {
        // a name from the schema itself
        let count = format!("SELECT count(*) FROM \"{}\"", table.replace('"', "\"\""));
        let count = sqlx::query_scalar(AssertSqlSafe(count)).fetch_one(&mut *connection).await?;
        rows.insert(table, count);
    }
    Ok(rows)
}

fn sum(path: &Path, name: &str) -> std::io::Result<FileSum> {
    let mut file = File::open(path)?;
    let mut sha256 = Sha256::new();
    let mut bytes = 0;
    let mut piece = vec![0; 1 << 16];
    loop {
        let read = file.read(&mut piece)?;
        if read == 0 {
            break;
        }
        bytes += u64::try_from(read).unwrap_or(0);
        sha256.update(&piece[..read]);
    }
    Ok(FileSum { name: name.to_owned(), bytes, sha256: HEXLOWER.encode(&sha256.finalize()) })
}

/// The name of a moment; a second backup within one second gets a number.
fn free_name(to: &Path, now: Instant) -> String {
    let form = format_description!("[year]-[month]-[day]T[hour][minute][second]Z");
    let name = now.utc().and_then(|moment| moment.format(&form).ok()).unwrap_or_else(|| now.0.to_string());
    let numbered = (2..).map(|number| format!("{name}-{number}"));
    std::iter::once(name.clone()).chain(numbered).find(|name| !to.join(name).exists()).unwrap_or(name)
}

/// The folders within a folder whose names fit.
fn folders(folder: &Path, fits: impl Fn(&str) -> bool) -> std::io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() && fits(&entry.file_name().to_string_lossy()) {
            found.push(entry.path());
        }
    }
    found.sort();
    Ok(found)
}

/// Held while a backup folder is written; the system lets go of it even after a crash.
fn lock(to: &Path) -> Result<File, BackupError> {
    let path = to.join("lock");
    let at = |cause| BackupError::Folder(path.clone(), cause);
    let lock = File::options().create(true).truncate(false).write(true).open(&path).map_err(at)?;
    match lock.try_lock() {
        Ok(()) => Ok(lock),
        Err(TryLockError::WouldBlock) => Err(BackupError::InUse(to.to_owned())),
        Err(TryLockError::Error(cause)) => Err(BackupError::Folder(path, cause)),
    }
}

/// A folder that is thrown away unless it was given its name.
struct Unfinished(PathBuf);

impl Drop for Unfinished {
    fn drop(&mut self) {
        // what cannot be thrown away now is thrown away before the next backup
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
