//! How long jobs take and what day can be promised: pure arithmetic on durations, given a seed.

pub mod promise;
pub mod promise_record;
pub mod turnaround;
mod written;
