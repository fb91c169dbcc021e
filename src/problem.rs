//! What is wrong with an input: each fault named by JSON pointer (RFC 6901), with the allowed range in
//! words. Faults are collected, so that a caller sees all of them at once. Places and details are only put
//! into words once there is a fault.

use std::fmt::Display;

use serde::Serialize;

/// One fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// Where, such as `/strings/0/diameter_mm`; "" is the whole input.
    pub pointer: String,
    /// What is wrong and what is allowed.
    pub detail: String,
}

/// All faults of an input; empty is good.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[serde(transparent)]
pub struct Problems(pub Vec<Problem>);

impl Problems {
    /// Notes a fault.
    pub fn note(&mut self, pointer: impl Display, detail: impl Display) {
        self.0.push(Problem { pointer: pointer.to_string(), detail: detail.to_string() });
    }

    /// Notes a fault unless `good`.
    pub fn require(&mut self, good: bool, pointer: impl Display, detail: impl Display) {
        if !good {
            self.note(pointer, detail);
        }
    }

    /// A number must be finite and within `least..=most`.
    pub fn within(&mut self, pointer: impl Display, value: f64, least: f64, most: f64) {
        if !(value >= least && value <= most) {
            let (least, most) = (Limit { value: least, up: true }, Limit { value: most, up: false });
            self.note(pointer, format_args!("must be a number from {least} to {most}"));
        }
    }

    /// The same, for a number that may be absent.
    pub fn within_if_given(&mut self, pointer: impl Display, value: Option<f64>, least: f64, most: f64) {
        if let Some(value) = value {
            self.within(pointer, value, least, most);
        }
    }

    /// A list must have `least..=most` entries.
    pub fn count(&mut self, pointer: impl Display, count: usize, least: usize, most: usize) {
        if !(least..=most).contains(&count) {
            self.note(pointer, format_args!("must have from {least} to {most} entries, not {count}"));
        }
    }

    /// `Ok` when nothing was noted.
    ///
    /// # Errors
    /// All faults noted so far.
    pub fn check(&mut self) -> Result<(), Self> {
        if self.0.is_empty() { Ok(()) } else { Err(std::mem::take(self)) }
    }
}

/// A limit in few figures, rounded to the side on which it still is allowed.
#[derive(Clone, Copy)]
struct Limit {
    value: f64,
    up: bool,
}

impl Display for Limit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        const PLACES: f64 = 1e4;
        let size = self.value.abs();
        if size > 0.0 && !(1e-4..1e7).contains(&size) {
            return write!(f, "{:e}", self.value);
        }
        let scaled = self.value * PLACES;
        // a limit that has no more places stands as it is
        let rounded = if (scaled - scaled.round()).abs() < 1e-6 {
            scaled.round()
        } else if self.up {
            scaled.ceil()
        } else {
            scaled.floor()
        };
        write!(f, "{}", rounded / PLACES + 0.0)
    }
}

impl Display for Problems {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (place, problem) in self.0.iter().enumerate() {
            let gap = if place == 0 { "" } else { "; " };
            write!(f, "{gap}{} {}", problem.pointer, problem.detail)?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}
