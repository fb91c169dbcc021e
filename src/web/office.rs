//! The office's door: what the owner decides.

pub(super) mod audit;
pub(super) mod calendar;
mod charts;
pub(super) mod closings;
pub(super) mod export;
pub(super) mod final_check;
pub(super) mod first_hour;
pub(super) mod home;
pub(super) mod import;
pub(super) mod minutes;
pub(super) mod money;
pub(super) mod papers;
pub(super) mod part;
pub(super) mod parts;
mod period;
pub(super) mod promises;
pub(super) mod queue;
pub(super) mod service_minutes;
pub(super) mod services;
pub(super) mod settings;
pub(super) mod staff;
pub(super) mod string_set;
pub(super) mod string_sets;
pub(super) mod targets;
pub(super) mod to_order;
pub(super) mod tokens;
pub(super) mod turnaround;
