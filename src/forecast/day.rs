//! Days as text, `YYYY-MM-DD`, where JSON is written and read: ten characters, exactly as the schema says.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};
use time::Date;
use time::format_description::BorrowedFormatItem;
use time::macros::format_description;

const FORMAT: &[BorrowedFormatItem<'_>] = format_description!("[year]-[month]-[day]");
/// Of `YYYY-MM-DD`: no sign before the year.
const LETTERS: usize = 10;

pub(super) fn serialize<S: Serializer>(day: &Date, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&day.format(FORMAT).map_err(serde::ser::Error::custom)?)
}

pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Date, D::Error> {
    let text = String::deserialize(from)?;
    let day = (text.len() == LETTERS).then(|| Date::parse(&text, FORMAT).ok()).flatten();
    day.ok_or_else(|| D::Error::custom("must be a day such as 2026-06-01"))
}

/// A day on its own, in a list, or where there may be none.
#[derive(Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct Day(#[serde(with = "crate::forecast::day")] Date);

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

/// A day where there may be none.
pub(super) mod maybe {
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
pub(super) mod list {
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
