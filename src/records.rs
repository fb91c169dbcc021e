//! The shop's books: every record, in SQLite, behind functions that are each one thing the shop does.
//!
//! Invariants: every write to a table stands in that record's file; a write takes the open
//! transaction ([`WriteTx`]) and [`AuditContext`] (who, through which door, when) and leaves an event in the
//! same transaction; nothing here knows HTTP or HTML; nothing here asks the clock.

mod column;
mod database;
mod link;
mod person;
mod write_watch;

pub mod anonymise;
pub mod api_token;
pub mod care;
pub mod caution;
pub mod condition;
pub mod customer;
pub mod draft;
pub mod event;
pub mod export;
pub mod family;
pub mod final_check;
pub mod fold;
pub mod import;
pub mod instrument;
pub mod job;
pub mod labour;
pub mod merge;
pub mod note;
pub mod observation;
pub mod paper;
pub mod part;
pub mod password;
pub mod payment;
pub mod photo;
pub mod picture;
pub mod plan;
pub mod queue;
pub mod quote;
pub mod reading;
pub mod search;
pub mod service;
pub mod session;
pub mod settings;
pub mod signature;
pub mod staff;
pub mod stage;
pub mod string_set;
pub mod tool;
pub mod work;

pub use column::{
    ApiTokenId, CareId, ChangeOfHandsId, CheckItemId, ConditionId, CustomerId, DraftId, ImportId, InstrumentId, JobId,
    LabourId, NoteId, ObservationId, PartId, PartMovementId, PaymentId, PhotoId, PlanId, QuoteId, ReadingSetId,
    ServiceId, SignatureId, StaffId, StringSetId, WorkLineId,
};
pub use database::{CheckReport, Db, OpenError, WriteTx};
pub use event::{AuditContext, Door};
pub use link::LinkSecret;

/// An update of the one row that has the version somebody read: where it touched none, somebody else saved the row
/// meanwhile.
fn ensure_updated(done: &sqlx::sqlite::SqliteQueryResult, what: &'static str) -> Result<()> {
    if done.rows_affected() == 0 { Err(Error::ChangedMeanwhile(what)) } else { Ok(()) }
}

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
    fn unwritable(cause: impl std::error::Error + Send + Sync + 'static) -> Self {
        Self::File(sqlx::Error::Encode(Box::new(cause)))
    }
}

impl From<sqlx::Error> for Error {
    fn from(cause: sqlx::Error) -> Self {
        Self::File(cause)
    }
}

/// What a records function answers.
pub type Result<T> = std::result::Result<T, Error>;
