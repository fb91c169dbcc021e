//! The setup engine: the arithmetic of the trade. Numbers in, numbers out.
//!
//! Deliberately absent: a clock, a file, a database, HTML, randomness. Lengths are mm, heights are
//! from a fret's crown up to the lower side of the string, strings run from string 1 (the thinnest of
//! a guitar), fret 0 is the open string, and set-backs are plus away from the frets at both ends.
//!
//! Each part is one function from `<Name>Input` to `<Name>Output`; bad input is answered with every
//! fault named. [`frame`] is written once and asked by all.

pub mod air;
pub mod board;
pub mod clearance;
pub mod cut;
pub mod drift;
pub mod frame;
pub mod frequency;
pub mod frets;
pub mod humidity;
pub mod intonation;
mod limits;
mod nearest_line;
pub mod neck_shim;
pub mod overtones;
pub mod plan;
pub mod reading;
mod spread;
pub mod statics;
pub mod string_change;
pub mod string_spacing;
pub mod tension;

/// Kept with each plan, because a cut was made by it.
pub const ENGINE_VERSION: &str = "6";
