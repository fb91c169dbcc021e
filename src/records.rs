//! The shop's books: every record, in SQLite, behind functions that are each one thing the shop does.
//!
//! Invariants: every write to a table stands in that record's file; a write takes the open
//! transaction ([`WriteTx`]) and [`AuditContext`] (who, through which door, when) and leaves an event in the
//! same transaction; nothing here knows HTTP or HTML; nothing here asks the clock.

mod check;
mod column;
mod database;
mod error;
mod link;
mod person;
mod seed_data;
mod whole_file;
mod write_watch;

pub mod account;
pub mod anonymise;
pub mod api_token;
pub mod audit;
pub mod backup;
pub mod balance;
pub mod bench;
pub mod bench_calendar;
pub mod care;
pub mod caution;
pub mod check_in;
pub mod clocked;
pub mod condition;
pub mod customer;
pub mod draft;
pub mod event;
pub mod export;
pub mod family;
pub mod final_check;
pub mod first_hour;
pub mod fold;
pub mod import;
pub mod instrument;
pub mod job;
pub mod kept;
pub mod labour;
pub mod likeness;
pub mod merge;
pub mod message;
pub mod months;
pub mod moves;
pub mod note;
pub mod observation;
pub mod open_work;
pub mod paper;
pub mod part;
pub mod password;
pub mod payment;
pub mod photo;
pub mod photo_folder;
pub mod picture;
pub mod plan;
pub mod promise;
pub mod promise_forecast;
pub mod proposal;
pub mod put_right;
pub mod queue;
pub mod queue_move;
pub mod quote;
pub mod rack;
pub mod reading;
pub mod repeatability;
pub mod search;
pub mod service;
pub mod session;
pub mod settings;
pub mod signature;
pub mod staff;
pub mod stage;
pub mod stays;
pub mod string_set;
pub mod telling;
pub mod tool;
pub mod uncollected;
pub mod unsent_form;
pub mod work;

pub use check::{CheckReport, check_beside, check_seed_data};
pub use column::{
    AbsenceId, ApiTokenId, CareId, ChangeOfHandsId, CheckItemId, ClosedDaysId, ConditionId, CustomerId, DraftId,
    ImportId, InstrumentId, JobId, LabourId, MessageId, NoteId, ObservationId, PartId, PartMovementId, PaymentId,
    PhotoId, PlanId, QuoteId, ReadingSetId, ServiceId, SignatureId, StaffId, StringSetId, WorkLineId,
};
pub use database::{Db, OpenError, WriteTx};
pub use error::{Error, Result};
pub use event::{AuditContext, Door};
pub use link::LinkSecret;
pub use seed_data::UnusableSeedData;
pub use write_watch::Written;
