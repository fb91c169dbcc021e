//! The four doors and what they share.
//!
//! A door never calls another door. What two doors need is a record, a drawing, or a piece of this
//! module. The URL names the file: `/desk/check-in` is `desk/check_in.rs`.

pub mod access;
pub mod adjusted_view;
pub mod api;
pub mod app;
pub mod assets;
pub mod error;
pub mod form;
pub mod outbox;
pub mod page;
pub mod plan_view;
pub mod router;
pub mod serve;

mod account;
mod caution_view;
mod changes;
mod closing_view;
mod condition_view;
mod cross_site;
mod deeds;
mod failure;
mod finished_view;
mod headers;
mod health;
mod home;
mod in_hand;
mod office_tabs;
mod outlook;
mod owing_view;
mod paper;
mod photo;
mod progress;
mod rack_view;
mod readings_view;
mod side_drawing;
mod sign_in;
mod string_grid;
mod sums_view;
mod telling_view;
mod throttle;
mod unsent;
mod upload;
mod uploads;
mod words;
mod working_view;

mod bench;
mod customer;
mod desk;
mod office;

pub use app::{App, Serving};
pub use error::{Error, Result};
pub use office::import::go_on_with_imports;
pub use outlook::forecast_newcomers;
