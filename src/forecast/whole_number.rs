//! Whole numbers as JSON Schema reads an integer: 20000, and as well 20000.0 and 2e4, which are the same number.

use std::fmt;

use serde::de::{Deserializer, Error, Unexpected, Visitor};

/// 2⁶⁴: every whole number below it fits.
const BEYOND: f64 = 18_446_744_073_709_551_616.0;

struct Whole;

impl Visitor<'_> for Whole {
    type Value = u64;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a whole number from 0 to {}", u64::MAX)
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<u64, E> {
        Ok(number)
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<u64, E> {
        u64::try_from(number).map_err(|_| E::invalid_value(Unexpected::Signed(number), &self))
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number from 0 to below 2⁶⁴")]
    fn visit_f64<E: Error>(self, number: f64) -> Result<u64, E> {
        if number.fract() == 0.0 && (0.0..BEYOND).contains(&number) {
            Ok(number as u64)
        } else {
            Err(E::invalid_value(Unexpected::Float(number), &self))
        }
    }
}

/// A whole number.
pub(super) fn whole_u64<'de, D: Deserializer<'de>>(from: D) -> Result<u64, D::Error> {
    from.deserialize_u64(Whole)
}

/// A whole number that counts.
pub(super) fn whole<'de, D: Deserializer<'de>>(from: D) -> Result<usize, D::Error> {
    Ok(usize::try_from(whole_u64(from)?).unwrap_or(usize::MAX))
}
