//! The front desk's door: in within a minute, out with proof.

pub(super) mod care;
pub(super) mod care_letter;
pub(super) mod care_plan;
pub(super) mod check_in;
pub(super) mod condition;
pub(super) mod customer;
pub(super) mod day;
pub(super) mod details;
pub(super) mod hand_over;
pub(super) mod history;
pub(super) mod instrument;
pub(super) mod job;
pub(super) mod labels;
pub(super) mod merge;
pub(super) mod papers;
pub(super) mod photo_upload;
pub(super) mod photos;
pub(super) mod queue;
pub(super) mod quote;
pub(super) mod receipt;
pub(super) mod search;
pub(super) mod sheet;
pub(super) mod strings;
pub(super) mod ticket;
pub(super) mod uncollected;
pub(super) mod work;
