//! Days and whole numbers as JSON writes them, read exactly as the schema says.
//!
//! A day is `YYYY-MM-DD`, ten characters. A whole number is what JSON Schema calls an integer: 20000, and as well
//! 20000.0 and 2e4, which are the same number.

use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserializer, Error, Unexpected, Visitor};
use serde::{Deserialize, Serialize};
use time::Date;
use time::format_description::BorrowedFormatItem;
use time::macros::format_description;

const FORMAT: &[BorrowedFormatItem<'_>] = format_description!("[year]-[month]-[day]");
/// Of `YYYY-MM-DD`: no sign before the year.
const LETTERS: usize = 10;

/// A day on its own, in a list, or where there may be none.
#[derive(Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct Day(#[serde(with = "day")] Date);

impl JsonSchema for Day {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Day".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"type": "string", "format": "date"})
    }
}

/// One day as text.
pub(super) mod day {
    use serde::de::Error as _;
    use serde::{Deserialize, Deserializer, Serializer};
    use time::Date;

    use super::{FORMAT, LETTERS};

    pub(in crate::forecast) fn serialize<S: Serializer>(day: &Date, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&day.format(FORMAT).map_err(serde::ser::Error::custom)?)
    }

    pub(in crate::forecast) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Date, D::Error> {
        let text = String::deserialize(from)?;
        let day = (text.len() == LETTERS).then(|| Date::parse(&text, FORMAT).ok()).flatten();
        day.ok_or_else(|| D::Error::custom("must be a day such as 2026-06-01"))
    }
}

/// A day where there may be none.
pub(super) mod maybe_day {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};
    use time::Date;

    use super::Day;

    pub(in crate::forecast) fn serialize<S: Serializer>(day: &Option<Date>, to: S) -> Result<S::Ok, S::Error> {
        day.map(Day).serialize(to)
    }

    pub(in crate::forecast) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Date>, D::Error> {
        Ok(Option::<Day>::deserialize(from)?.map(|Day(day)| day))
    }
}

/// A list of days.
pub(super) mod days {
    use serde::{Deserialize, Deserializer, Serializer};
    use time::Date;

    use super::Day;

    pub(in crate::forecast) fn serialize<S: Serializer>(days: &[Date], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(days.iter().copied().map(Day))
    }

    pub(in crate::forecast) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Date>, D::Error> {
        Ok(Vec::<Day>::deserialize(from)?.into_iter().map(|Day(day)| day).collect())
    }
}

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
