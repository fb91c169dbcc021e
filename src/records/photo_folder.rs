//! The folder of the pictures: files beside the books, named by the hash of what they hold.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};

use super::picture::Picture;
use super::whole_file::write_whole;

/// Where the pictures lie.
#[derive(Debug, Clone)]
pub struct PhotoFolder(PathBuf);

/// A picture that lies in the folder, not yet in the books.
#[derive(Debug, Clone)]
pub struct Stored {
    pub(super) sha256: [u8; 32],
    pub(super) small_sha256: [u8; 32],
    pub(super) width: i64,
    pub(super) height: i64,
    pub(super) bytes: i64,
}

impl PhotoFolder {
    pub(super) fn in_folder(folder: &Path) -> Self {
        Self(folder.join("photos"))
    }

    /// Where pieces of pictures lie while they arrive.
    pub fn arriving(&self) -> PathBuf {
        self.0.join("arriving")
    }

    fn path(&self, sha256: &[u8]) -> PathBuf {
        let name = HEXLOWER.encode(sha256);
        self.0.join(name.get(..2).unwrap_or("00")).join(format!("{name}.jpg"))
    }

    /// Writes a picture so that it is whole or not there, whatever happens to the power. What lies there
    /// already under its hash is the same picture.
    ///
    /// # Errors
    /// When the folder cannot be written.
    pub fn store(&self, picture: &Picture) -> std::io::Result<Stored> {
        Ok(Stored {
            sha256: self.write(&picture.jpeg)?,
            small_sha256: self.write(&picture.small_jpeg)?,
            width: i64::from(picture.width),
            height: i64::from(picture.height),
            bytes: i64::try_from(picture.jpeg.len()).unwrap_or(i64::MAX),
        })
    }

    fn write(&self, bytes: &[u8]) -> std::io::Result<[u8; 32]> {
        let sha256: [u8; 32] = Sha256::digest(bytes).into();
        let path = self.path(&sha256);
        if path.exists() {
            return Ok(sha256);
        }
        std::fs::create_dir_all(path.parent().unwrap_or(&self.0))?;
        write_whole(&path, bytes)?;
        Ok(sha256)
    }

    pub(super) fn remove(&self, sha256: &[u8]) -> std::io::Result<()> {
        match std::fs::remove_file(self.path(sha256)) {
            Err(cause) if cause.kind() != std::io::ErrorKind::NotFound => Err(cause),
            _ => Ok(()),
        }
    }

    /// Reads the picture of a hash.
    ///
    /// # Errors
    /// When it is not there.
    pub fn read(&self, sha256: &[u8]) -> std::io::Result<Vec<u8>> {
        std::fs::read(self.path(sha256))
    }

    /// What is wrong with the picture of a hash: "is missing: …", "was altered: …".
    pub(super) fn fault(&self, sha256: &[u8]) -> Option<String> {
        let path = self.path(sha256);
        let fault = match std::fs::read(&path) {
            Err(_) => "is missing",
            Ok(bytes) if Sha256::digest(&bytes).as_slice() != sha256 => "was altered",
            Ok(_) => return None,
        };
        Some(format!("{fault}: {}", path.display()))
    }

    /// Copies the picture of a hash into another folder, unless it lies there. Says what is wrong with it, if anything
    /// is: "is missing: …", "was altered: …", "could not be copied: …".
    pub(super) fn copy_into(&self, other: &Self, sha256: &[u8]) -> Option<String> {
        let there = other.path(sha256);
        if there.exists() {
            return None;
        }
        let Ok(bytes) = self.read(sha256) else {
            return self.fault(sha256);
        };
        if Sha256::digest(&bytes).as_slice() != sha256 {
            return self.fault(sha256);
        }
        let cause = other.write(&bytes).err()?;
        Some(format!("could not be copied: {}: {cause}", there.display()))
    }

    /// Deletes every picture whose hash is not among these.
    pub(super) fn keep_only(&self, named: &HashSet<Vec<u8>>) -> std::io::Result<()> {
        if !self.0.exists() {
            return Ok(());
        }
        for folder in std::fs::read_dir(&self.0)? {
            let folder = folder?;
            if !folder.file_type()?.is_dir() {
                continue;
            }
            for file in std::fs::read_dir(folder.path())? {
                let path = file?.path();
                let name = path.file_stem().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
                let sha256 = HEXLOWER.decode(name.as_bytes()).ok();
                if sha256.is_some_and(|sha256| sha256.len() == 32 && !named.contains(&sha256)) {
                    std::fs::remove_file(path)?;
                }
            }
        }
        Ok(())
    }
}
