//! Files that are whole or not there, whatever happens to the power or the disk.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;

/// Writes a new file under a passing name, and gives it its own once it lies on the disk. Others of the machine may
/// not read it.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let unfinished = folder.join(format!("{}.unfinished", uuid::Uuid::new_v4().simple()));
    let written = write_synced(&unfinished, bytes).and_then(|()| std::fs::rename(&unfinished, path));
    if written.is_err() {
        // on a full disk a piece that stayed would take the room that is missing
        let _ = std::fs::remove_file(&unfinished);
    }
    written?;
    File::open(folder)?.sync_all()
}

fn write_synced(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = create_private(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// A new file that only its owner may read.
pub(super) fn create_private(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

#[cfg(test)]
mod tests {
    use super::write_whole;

    #[test]
    fn what_could_not_be_written_leaves_no_piece_behind() {
        let folder = tempfile::TempDir::new().unwrap();
        // a folder stands where the file should be: it cannot be given its name
        let taken = folder.path().join("taken");
        std::fs::create_dir_all(taken.join("within")).unwrap();
        assert!(write_whole(&taken, b"picture").is_err());
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(left, ["taken"]);
        write_whole(&folder.path().join("free"), b"picture").unwrap();
        assert_eq!(std::fs::read(folder.path().join("free")).unwrap(), b"picture");
    }
}
