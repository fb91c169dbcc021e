//! The front desk's door: in within a minute, out with proof.

pub(super) mod care;
pub(super) mod check_in;
pub(super) mod customer;
pub(super) mod details;
pub(super) mod hand_over;
pub(super) mod history;
pub(super) mod instrument;
pub(super) mod job;
pub(super) mod photo_upload;
pub(super) mod photos;
pub(super) mod queue;
pub(super) mod quote;
pub(super) mod search;
pub(super) mod sheet;
pub(super) mod strings;
pub(super) mod ticket;
pub(super) mod work;
