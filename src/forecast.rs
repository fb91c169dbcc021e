//! How long jobs take, in which order they are worked, what day can be promised, and whether promises were
//! kept: pure arithmetic on durations and days, given a seed.

pub mod calendar;
mod day;
mod ends;
pub mod limits;
pub mod littles_law;
pub mod minutes;
pub mod promise;
pub mod promise_record;
pub mod promises_kept;
pub mod queue;
pub mod schedule;
pub mod simulation;
pub mod turnaround;
mod whole_number;
