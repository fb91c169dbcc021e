//! Why the books did not do what was asked, in words for whoever asked.

/// Why the books did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No such record; the word names its kind ("job", "customer").
    #[error("no such {0}")]
    NotFound(&'static str),
    /// Somebody else saved the same record since it was read.
    #[error("the {0} was changed meanwhile")]
    ChangedMeanwhile(&'static str),
    /// A rule of the shop says no. The words are for the person at the screen.
    #[error("{0}")]
    Refused(String),
    /// The file did not do its part. The cause goes to the log, never to a page.
    #[error("the shop's file could not be read or written")]
    File(#[source] sqlx::Error),
}

impl Error {
    /// A refusal in plain words.
    pub fn refused(words: impl Into<String>) -> Self {
        Self::Refused(words.into())
    }

    /// A value that could not be brought into the form the file keeps.
    pub(super) fn unwritable(cause: impl std::error::Error + Send + Sync + 'static) -> Self {
        Self::File(sqlx::Error::Encode(Box::new(cause)))
    }
}

impl From<sqlx::Error> for Error {
    fn from(cause: sqlx::Error) -> Self {
        // forms offer what is there: a key that names nothing was made up, or what it named went meanwhile
        if cause.as_database_error().is_some_and(sqlx::error::DatabaseError::is_foreign_key_violation) {
            return Self::refused(
                "Something that was chosen is not there any more. Open the page again and choose anew.",
            );
        }
        Self::File(cause)
    }
}

/// What a records function answers.
pub type Result<T> = std::result::Result<T, Error>;

/// An update of the one row that has the version somebody read: where it touched none, somebody else saved the row
/// meanwhile.
pub(super) fn ensure_updated(done: &sqlx::sqlite::SqliteQueryResult, what: &'static str) -> Result<()> {
    if done.rows_affected() == 0 { Err(Error::ChangedMeanwhile(what)) } else { Ok(()) }
}

/// The same before anything is written, where more than the one row follows from what somebody read.
pub(super) fn ensure_version(stands: i64, read: i64, what: &'static str) -> Result<()> {
    if stands == read { Ok(()) } else { Err(Error::ChangedMeanwhile(what)) }
}
