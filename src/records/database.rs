//! The data folder: one SQLite file, one writer, a pool of readers, a lock against a second server.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::Read;
use std::ops::{Deref, DerefMut};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;
use std::time::Duration;

use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Sqlite, SqliteConnection, SqlitePool, Transaction};

use super::link::LinkSecret;
use super::photo_folder::PhotoFolder;
use super::whole_file::create_private;
use super::write_watch::{WriteNews, WriteWatch, Written};

static MIGRATIONS: Migrator = sqlx::migrate!("./migrations");

/// The file of the books in a data folder and in a backup.
pub(super) const BOOKS: &str = "thumbplane.db";
/// Marks the file as ours ("Thmb"), so that a wrong file is refused by name.
const APPLICATION_ID: i64 = 0x5468_6d62;
/// Older SQLite can lose committed rows when a checkpoint and a commit overlap (fixed in 3.51.3).
const OLDEST_SAFE_SQLITE: (u32, u32, u32) = (3, 51, 3);
const READERS: u32 = 4;
/// How the file of a copy begins.
const COPY: &str = "copy-";
const WAIT_FOR_CONNECTION: Duration = Duration::from_secs(10);

/// Why a data folder could not be opened, in words for the person at the console.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The folder cannot be made or written.
    #[error("cannot use the data folder {0}: {1}. Choose a folder you may write to with --data.")]
    Folder(PathBuf, std::io::Error),
    /// Another server holds the folder.
    #[error("another Thumbplane is using {0}. Stop it first, or choose another folder with --data.")]
    InUse(PathBuf),
    /// The file is some other program's.
    #[error("{0} is not a Thumbplane file. Choose another folder with --data.")]
    NotOurs(PathBuf),
    /// The file was written by a newer Thumbplane, or a migration failed.
    #[error("the shop's file could not be brought up to date, and was left as it was: {0}")]
    Migration(#[from] sqlx::migrate::MigrateError),
    /// SQLite itself is one that may lose data.
    #[error("this build carries SQLite {0}, which can lose data; use a build with 3.51.3 or newer.")]
    UnsafeSqlite(String),
    /// The file could not be opened.
    #[error("the shop's file could not be opened: {0}")]
    File(#[from] sqlx::Error),
}

/// The shop's books, open.
#[derive(Debug, Clone)]
pub struct Db {
    folder: PathBuf,
    writer: SqlitePool,
    readers: SqlitePool,
    link_secret: LinkSecret,
    photos: PhotoFolder,
    settings_written: Arc<WriteWatch>,
    news: Arc<WriteNews>,
    /// Held for as long as the books are open; the system lets go of it even after a crash.
    _lock: Arc<File>,
}

impl Db {
    /// Opens (or makes) the data folder and brings its file up to date.
    ///
    /// # Errors
    /// In words for the console; the file is left as it was.
    pub async fn open(folder: &Path) -> Result<Self, OpenError> {
        let in_folder = |cause| OpenError::Folder(folder.to_owned(), cause);
        make_private(folder).map_err(in_folder)?;
        let lock =
            OpenOptions::new().create(true).truncate(false).write(true).open(folder.join("lock")).map_err(in_folder)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(OpenError::InUse(folder.to_owned())),
            Err(TryLockError::Error(cause)) => return Err(in_folder(cause)),
        }
        let link_secret = LinkSecret::in_folder(folder).map_err(in_folder)?;
        remove_copies(folder).map_err(in_folder)?;

        let file = folder.join(BOOKS);
        // nothing of another program's file is changed, not even how it keeps its log
        if !is_ours_or_empty(&file).await? {
            return Err(OpenError::NotOurs(file));
        }
        if !file.exists() {
            // the log beside it takes after it: nobody else of the machine may read either
            create_private(&file).map_err(in_folder)?;
        }
        let options = SqliteConnectOptions::new()
            .filename(&file)
            .foreign_keys(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            // what is deleted is overwritten: whoever asked to be forgotten is in no free page of the file
            .pragma("secure_delete", "ON")
            .busy_timeout(Duration::from_secs(5));
        let settings_written = Arc::<WriteWatch>::default();
        let news = Arc::<WriteNews>::default();
        let writer = writer_pool(&settings_written, &news).connect_with(options.clone()).await?;
        refuse_unsafe_sqlite(&writer).await?;
        claim(&writer).await?;
        MIGRATIONS.run(&writer).await?;
        forget_statistics(&writer).await?;
        let readers = SqlitePoolOptions::new()
            .max_connections(READERS)
            .acquire_timeout(WAIT_FOR_CONNECTION)
            // the file is here: there is no line that could have broken
            .test_before_acquire(false)
            .connect_with(options.read_only(true))
            .await?;
        let photos = PhotoFolder::in_folder(folder);
        Ok(Self {
            folder: folder.to_owned(),
            writer,
            readers,
            link_secret,
            photos,
            settings_written,
            news,
            _lock: Arc::new(lock),
        })
    }

    /// The reading side.
    pub fn read(&self) -> &SqlitePool {
        &self.readers
    }

    /// Begins a write. The second writer waits for the first; nothing is written before `commit`.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub async fn write(&self) -> super::Result<WriteTx> {
        // IMMEDIATE: a deferred transaction that reads first fails at once when another one wrote.
        let begun = match self.writer.begin_with("BEGIN IMMEDIATE").await {
            // Where SQLite itself took a transaction back, on a full disk, the driver still counts it as open and
            // would begin no other on that connection. A new connection counts from nought.
            Err(sqlx::Error::InvalidSavePointStatement) => {
                self.writer.acquire().await?.close().await?;
                self.writer.begin_with("BEGIN IMMEDIATE").await
            }
            begun => begun,
        };
        let transaction = begun?;
        // there is one writer: whatever wrote before has ended
        self.settings_written.ended();
        self.news.ended();
        let (settings_written, news) = (Arc::clone(&self.settings_written), Arc::clone(&self.news));
        Ok(WriteTx { transaction, settings_written, news })
    }

    /// Changes with every write to the settings; `None` while they are being written. See [`super::settings::Cache`].
    pub(super) fn settings_version(&self) -> Option<u64> {
        self.settings_written.version()
    }

    /// Tells that the queue, or who is signed in, was written.
    pub fn written(&self) -> tokio::sync::watch::Receiver<Written> {
        self.news.listen()
    }

    /// A copy of the shop's file as it stands, to try something on. It lies beside it and is thrown away afterwards, at
    /// the next start where the program ended in between. Nobody waits while it is made.
    ///
    /// # Errors
    /// When there is no room for it.
    pub(super) async fn copy(&self) -> super::Result<Copy> {
        let file = CopyFile(self.folder.join(format!("{COPY}{}.db", uuid::Uuid::now_v7().simple())));
        let path = file.0.to_string_lossy().into_owned();
        sqlx::query("VACUUM INTO ?").bind(path).execute(&self.readers).await?;
        let options = SqliteConnectOptions::new()
            .filename(&file.0)
            .foreign_keys(true)
            // it is thrown away when the power goes
            .journal_mode(SqliteJournalMode::Memory)
            .synchronous(SqliteSynchronous::Off);
        let pool = SqlitePoolOptions::new().max_connections(1).connect_with(options).await?;
        let db = Self {
            writer: pool.clone(),
            readers: pool,
            settings_written: Arc::default(),
            news: Arc::default(),
            ..self.clone()
        };
        Ok(Copy { db, _file: file })
    }

    /// The secret behind the customers' private links.
    pub fn link_secret(&self) -> &LinkSecret {
        &self.link_secret
    }

    /// The data folder.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Where the pictures of photographs lie.
    pub fn photos(&self) -> &PhotoFolder {
        &self.photos
    }

    /// Finishes what runs and folds the log into the file.
    pub async fn close(&self) {
        self.readers.close().await;
        self.writer.close().await;
    }
}

/// A copy of the shop's file.
#[derive(Debug)]
pub(super) struct Copy {
    db: Db,
    _file: CopyFile,
}

impl Copy {
    /// The books of the copy.
    pub(super) fn db(&self) -> &Db {
        &self.db
    }

    /// Closes it and throws it away.
    pub(super) async fn throw_away(self) {
        self.db.close().await;
    }
}

/// Deletes the file of a copy once nobody needs it.
#[derive(Debug)]
struct CopyFile(PathBuf);

impl Drop for CopyFile {
    fn drop(&mut self) {
        // what cannot be deleted now is deleted at the next start
        let _ = std::fs::remove_file(&self.0);
    }
}

/// Opens books to read them only. A file that nobody writes is opened without a log beside it.
pub(super) async fn open_to_read(file: &Path, nobody_writes: bool) -> Result<SqlitePool, sqlx::Error> {
    let options = SqliteConnectOptions::new().filename(file).read_only(true).immutable(nobody_writes);
    SqlitePoolOptions::new().max_connections(1).connect_with(options).await
}

/// Deletes copies that a program left behind which ended in between.
fn remove_copies(folder: &Path) -> std::io::Result<()> {
    for file in std::fs::read_dir(folder)? {
        let file = file?;
        if file.file_name().to_string_lossy().starts_with(COPY) {
            std::fs::remove_file(file.path())?;
        }
    }
    Ok(())
}

/// The one write transaction there can be at a time. Only [`Db::write`] makes one, so a function that takes it can
/// be called by nobody else. Nothing is written before [`WriteTx::commit`]; dropped, it is rolled back. Never ask
/// the pool for another while holding it.
#[derive(Debug)]
pub struct WriteTx {
    transaction: Transaction<'static, Sqlite>,
    settings_written: Arc<WriteWatch>,
    news: Arc<WriteNews>,
}

impl WriteTx {
    /// Makes what was written stand.
    ///
    /// # Errors
    /// When the file cannot be written; then nothing stands.
    pub async fn commit(self) -> super::Result<()> {
        let done = self.transaction.commit().await;
        self.settings_written.ended();
        self.news.ended();
        Ok(done?)
    }

    /// Takes back what was written.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub async fn rollback(self) -> super::Result<()> {
        let done = self.transaction.rollback().await;
        self.settings_written.ended();
        self.news.ended();
        Ok(done?)
    }
}

impl Deref for WriteTx {
    type Target = SqliteConnection;
    fn deref(&self) -> &SqliteConnection {
        &self.transaction
    }
}

impl DerefMut for WriteTx {
    fn deref_mut(&mut self) -> &mut SqliteConnection {
        &mut self.transaction
    }
}

/// One connection. Whatever statement changes the settings is noticed, so that nobody goes on with what they were.
fn writer_pool(settings_written: &Arc<WriteWatch>, news: &Arc<WriteNews>) -> SqlitePoolOptions {
    let (watch, news) = (Arc::clone(settings_written), Arc::clone(news));
    SqlitePoolOptions::new()
        .max_connections(1)
        .acquire_timeout(WAIT_FOR_CONNECTION)
        .test_before_acquire(false)
        .after_connect(move |connection, _| {
            let (watch, news) = (Arc::clone(&watch), Arc::clone(&news));
            Box::pin(async move {
                connection.lock_handle().await?.set_update_hook(move |change| {
                    if change.table == "settings" {
                        watch.changed();
                    }
                    news.changed(change.table);
                });
                Ok(())
            })
        })
}

async fn refuse_unsafe_sqlite(pool: &SqlitePool) -> Result<(), OpenError> {
    let version: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(pool).await?;
    let mut parts = version.split('.').map(|part| u32::from_str(part).unwrap_or(0));
    let found = (parts.next().unwrap_or(0), parts.next().unwrap_or(0), parts.next().unwrap_or(0));
    if found < OLDEST_SAFE_SQLITE {
        return Err(OpenError::UnsafeSqlite(version));
    }
    Ok(())
}

/// A new folder that only its owner may look into; one that is there stays as it is.
fn make_private(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

/// Whether a file is not there, empty, or ours. How it begins is read before SQLite may touch it (sqlite.org, fileformat2,
/// 1.3).
async fn is_ours_or_empty(file: &Path) -> Result<bool, OpenError> {
    let mut head = Vec::new();
    match File::open(file) {
        Ok(opened) => {
            opened.take(16).read_to_end(&mut head).map_err(|cause| OpenError::Folder(file.to_owned(), cause))?
        }
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(true),
        Err(cause) => return Err(OpenError::Folder(file.to_owned(), cause)),
    };
    if head.is_empty() {
        return Ok(true);
    }
    if head != b"SQLite format 3\0" {
        return Ok(false);
    }
    let pool = open_to_read(file, false).await?;
    let is_ours = is_marked(&pool).await;
    pool.close().await;
    Ok(is_ours?.unwrap_or(true))
}

/// Whether a file bears our mark; `None` where it holds nothing yet.
async fn is_marked(pool: &SqlitePool) -> Result<Option<bool>, sqlx::Error> {
    let mark: i64 = sqlx::query_scalar("PRAGMA application_id").fetch_one(pool).await?;
    let tables: i64 = sqlx::query_scalar("SELECT count(*) FROM sqlite_schema").fetch_one(pool).await?;
    Ok(if mark == 0 && tables == 0 { None } else { Some(mark == APPLICATION_ID) })
}

/// Marks an empty file as ours. One that was made and not yet marked when the power went is still empty.
async fn claim(pool: &SqlitePool) -> Result<(), sqlx::Error> {
    if is_marked(pool).await?.is_none() {
        sqlx::query("PRAGMA application_id = 1416129890").execute(pool).await?;
    }
    Ok(())
}

/// How SQLite goes about a statement follows from the indexes alone, so that the way a test has looked at is the way in
/// every shop: what was once counted in a young shop would mislead a grown one.
async fn forget_statistics(pool: &SqlitePool) -> Result<(), OpenError> {
    let counted: i64 =
        sqlx::query_scalar("SELECT count(*) FROM sqlite_schema WHERE name = 'sqlite_stat1'").fetch_one(pool).await?;
    if counted > 0 {
        sqlx::raw_sql("DELETE FROM sqlite_stat1; ANALYZE sqlite_schema;").execute(pool).await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::APPLICATION_ID;

    #[test]
    fn the_mark_in_the_pragma_is_the_mark_we_look_for() {
        assert_eq!(APPLICATION_ID, 1_416_129_890);
    }
}
