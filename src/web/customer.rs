//! The customer's door: one private page a job, opened by the link on the claim ticket.

pub(super) mod job;
pub(super) mod photo;
