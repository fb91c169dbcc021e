//! A moment: integer microseconds since 1970 UTC.

use serde::{Deserialize, Serialize};
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// A moment in time, in microseconds since 1970-01-01T00:00:00Z.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Instant(pub i64);

impl Instant {
    /// From a date and time with its offset; what lies outside the calendar's years is cut to its ends.
    pub fn from_utc(moment: OffsetDateTime) -> Self {
        let micros = moment.unix_timestamp_nanos() / 1000;
        Self(i64::try_from(micros).unwrap_or(if micros < 0 { i64::MIN } else { i64::MAX }))
    }

    /// As a date and time in UTC; `None` outside the calendar's years.
    pub fn utc(self) -> Option<OffsetDateTime> {
        OffsetDateTime::from_unix_timestamp_nanos(i128::from(self.0) * 1000).ok()
    }

    /// Whole seconds since 1970.
    pub fn seconds(self) -> i64 {
        self.0.div_euclid(1_000_000)
    }

    /// RFC 3339, in UTC.
    pub fn rfc3339(self) -> String {
        self.utc().and_then(|moment| moment.format(&Rfc3339).ok()).unwrap_or_default()
    }
}
