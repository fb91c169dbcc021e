//! Forms that carry files (`multipart/form-data`).

use axum::extract::Multipart;
use axum::extract::multipart::MultipartRejection;

use super::error::{Error, Result};
use super::form::FormData;

/// The longest name of a file that is kept, in characters.
const LONGEST_NAME: usize = 200;

/// What a form may carry.
pub(super) struct Upload {
    /// The field of its files.
    pub(super) field: &'static str,
    /// Files in one form, at most.
    pub(super) most_files: usize,
    /// "At most 12 photographs go in one form."
    pub(super) too_many: &'static str,
    /// Bytes of one file, at most. One byte more is kept of a larger one, so that it can be refused by name.
    pub(super) largest_file: usize,
    /// What is said where it does not arrive whole.
    pub(super) broken: &'static str,
}

/// A file as it came.
pub(super) struct UploadedFile {
    /// As it was called where it came from; "" where it has no name.
    pub(super) name: String,
    /// What it holds.
    pub(super) bytes: Vec<u8>,
}

impl Upload {
    /// The fields of a form, and its files. A file of nothing is none: browsers send an empty field as one.
    ///
    /// # Errors
    /// When the form is no form with files, did not arrive whole, or brings too many.
    pub(super) async fn receive(
        &self,
        parts: std::result::Result<Multipart, MultipartRejection>,
    ) -> Result<(FormData, Vec<UploadedFile>)> {
        let mut parts = parts.map_err(|_| Error::Unreadable("This page takes its own form only."))?;
        let broken = |_| Error::Unreadable(self.broken);
        let (mut form, mut files) = (FormData::default(), Vec::new());
        while let Some(mut part) = parts.next_field().await.map_err(broken)? {
            let field = part.name().unwrap_or("").to_owned();
            if field != self.field {
                form.set(&field, part.text().await.map_err(broken)?);
                continue;
            }
            let name = part.file_name().unwrap_or("").chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
            let mut bytes = Vec::new();
            while let Some(piece) = part.chunk().await.map_err(broken)? {
                let room = self.largest_file.saturating_add(1).saturating_sub(bytes.len());
                bytes.extend_from_slice(piece.get(..room.min(piece.len())).unwrap_or(&piece));
            }
            if bytes.is_empty() {
                continue;
            }
            files.push(UploadedFile { name, bytes });
            if files.len() > self.most_files {
                return Err(Error::Refused(self.too_many.to_owned()));
            }
        }
        Ok((form, files))
    }
}
