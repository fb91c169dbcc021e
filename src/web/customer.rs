//! The customer's door: one private page a job, opened by the link on the claim ticket. Opening anything here changes
//! nothing, because programs open every link of a mail; only a pressed button answers.

pub(super) mod answer;
pub(super) mod care;
pub(super) mod job;
mod link;
pub(super) mod photo;
mod quote_view;
