//! Bringing a backup back: every sum is checked before the folder gets its name, and what was brought back is counted.

use std::fs::File;
use std::path::{Path, PathBuf};

use super::{Backup, BackupError, Progress, Unfinished, describe, each_photograph, require_sound};
use crate::records::database::{BOOKS, open_to_read};
use crate::records::link::SECRET_FILE;
use crate::records::photo_folder::PhotoFolder;
use crate::records::whole_file::create_private;

/// What was brought back, read from the new folder.
#[derive(Debug)]
pub struct Restored {
    /// Customers, instruments, jobs and photographs.
    pub customers: i64,
    /// Instruments.
    pub instruments: i64,
    /// Jobs.
    pub jobs: i64,
    /// Photographs with their small versions.
    pub photographs: u64,
    /// The number of the job checked in last.
    pub last_job: Option<String>,
}

/// Brings a backup back into a folder that does not exist yet or is empty.
///
/// # Errors
/// In words; then the folder is as it was.
pub async fn restore(backup: &Backup, data: &Path, progress: impl Fn(Progress)) -> Result<Restored, BackupError> {
    let at = |path: &Path| {
        let path = path.to_owned();
        move |cause| BackupError::Folder(path, cause)
    };
    if is_something(data).map_err(at(data))? {
        return Err(BackupError::NotEmpty(data.to_owned()));
    }
    if let Some(fault) = backup.sums_that_differ()?.first() {
        return Err(BackupError::NotWhole(format!("{fault}. Nothing was brought back; choose an older backup.")));
    }
    let begun = Unfinished(beside(data));
    if begun.0.exists() {
        std::fs::remove_dir_all(&begun.0).map_err(at(&begun.0))?;
    }
    std::fs::create_dir_all(&begun.0).map_err(at(&begun.0))?;
    progress(Progress::Books);
    let books = begun.0.join(BOOKS);
    for name in [BOOKS, SECRET_FILE] {
        let path = begun.0.join(name);
        let mut source = File::open(backup.folder.join(name)).map_err(at(&backup.folder))?;
        let mut copy = create_private(&path).map_err(at(&path))?;
        std::io::copy(&mut source, &mut copy).and_then(|_| copy.sync_all()).map_err(at(&path))?;
    }
    progress(Progress::ReadingBack);
    let copy = open_to_read(&books, true).await?;
    require_sound(&copy, &books).await?;
    let found = describe(&copy, backup.manifest.made_at).await?;
    if found.rows != backup.manifest.rows {
        let words = format!("{} does not hold the rows its manifest counts", backup.folder.display());
        return Err(BackupError::NotWhole(words));
    }
    let (from, into) = (backup.photographs(), PhotoFolder::in_folder(&begun.0));
    let work = move |sha256: &[u8]| from.copy_into(&into, sha256);
    let (photographs, faults) = each_photograph(&copy, work, &progress).await?;
    copy.close().await;
    // what could not be copied then cannot be missed now
    if faults.len() > backup.manifest.faults.len() {
        let first = faults.first().map(String::as_str).unwrap_or_default();
        return Err(BackupError::NotWhole(format!("{first}. Nothing was brought back; choose an older backup.")));
    }
    if data.exists() {
        std::fs::remove_dir(data).map_err(at(data))?;
    }
    std::fs::rename(&begun.0, data).map_err(at(data))?;
    if let Some(parent) = data.parent().filter(|parent| !parent.as_os_str().is_empty()) {
        File::open(parent).and_then(|parent| parent.sync_all()).map_err(at(parent))?;
    }
    let count = |table: &str| found.rows.get(table).copied().unwrap_or(0);
    Ok(Restored {
        customers: count("customer"),
        instruments: count("instrument"),
        jobs: count("job"),
        photographs,
        last_job: found.last_job,
    })
}

fn is_something(data: &Path) -> std::io::Result<bool> {
    match std::fs::read_dir(data) {
        Ok(mut entries) => Ok(entries.next().is_some()),
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => Ok(false),
        Err(cause) => Err(cause),
    }
}

/// Where it is put together: beside the folder, so that giving it its name is one step.
fn beside(data: &Path) -> PathBuf {
    let mut name = data.file_name().unwrap_or_default().to_owned();
    name.push(".restoring");
    data.with_file_name(name)
}
