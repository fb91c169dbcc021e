//! The bench's door: measure, know why, know how much, prove it.

pub(super) mod calculations;
pub(super) mod card;
pub(super) mod cells;
pub(super) mod final_check;
pub(super) mod fretboard;
pub(super) mod intonation;
pub(super) mod job;
pub(super) mod labour;
pub(super) mod list;
pub(super) mod measure_again;
pub(super) mod notes;
pub(super) mod observations;
pub(super) mod parts;
pub(super) mod plan;
pub(super) mod readings;
pub(super) mod saddle;
pub(super) mod work;
pub(super) mod worker;
pub(super) mod working;

mod bench_job;
mod circumstances;
mod drawings;
mod grid;
mod past_stop;
mod prefill;
mod proof;
