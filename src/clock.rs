//! The only clock. Everything else is given the time.

use std::sync::{Arc, Mutex, PoisonError, RwLock};

use time::{Date, OffsetDateTime, PrimitiveDateTime, UtcOffset};
use tz::TimeZoneRef;

use crate::quantity::Instant;

/// The present moment, and what day it is in the shop.
#[derive(Debug, Clone)]
pub struct Clock {
    source: Source,
    zone: Arc<RwLock<TimeZoneRef<'static>>>,
}

#[derive(Debug, Clone)]
enum Source {
    System,
    Fixed(Arc<Mutex<Instant>>),
}

/// A time zone nobody has heard of.
#[derive(Debug, thiserror::Error)]
#[error("there is no time zone called {0}; use a name such as Europe/London")]
pub struct UnknownZone(String);

impl Clock {
    /// The computer's clock, read in a time zone such as "Europe/London".
    ///
    /// # Errors
    /// When there is no such zone.
    pub fn system(zone_name: &str) -> Result<Self, UnknownZone> {
        Ok(Self { source: Source::System, zone: Arc::new(RwLock::new(zone(zone_name)?)) })
    }

    /// A clock that stands at a moment until it is moved: for tests.
    ///
    /// # Errors
    /// When there is no such zone.
    pub fn fixed(at: Instant, zone_name: &str) -> Result<Self, UnknownZone> {
        Ok(Self { source: Source::Fixed(Arc::new(Mutex::new(at))), zone: Arc::new(RwLock::new(zone(zone_name)?)) })
    }

    /// Moves a fixed clock; a system clock goes on as it does.
    pub fn set(&self, at: Instant) {
        if let Source::Fixed(fixed) = &self.source {
            *fixed.lock().unwrap_or_else(PoisonError::into_inner) = at;
        }
    }

    /// Reads the time in another zone from now on.
    ///
    /// # Errors
    /// When there is no such zone.
    pub fn set_zone(&self, zone_name: &str) -> Result<(), UnknownZone> {
        *self.zone.write().unwrap_or_else(PoisonError::into_inner) = zone(zone_name)?;
        Ok(())
    }

    /// The present moment.
    #[expect(clippy::disallowed_methods, reason = "this is the one place that reads the clock")]
    pub fn now(&self) -> Instant {
        match &self.source {
            Source::System => Instant::from_utc(OffsetDateTime::now_utc()),
            Source::Fixed(fixed) => *fixed.lock().unwrap_or_else(PoisonError::into_inner),
        }
    }

    /// The shop's today.
    pub fn today(&self) -> Date {
        self.local_date(self.now())
    }

    /// The day of a moment in the shop.
    pub fn local_date(&self, at: Instant) -> Date {
        self.local_time(at).date()
    }

    /// A moment as the shop's wall clock showed it.
    pub fn local_time(&self, at: Instant) -> PrimitiveDateTime {
        let zone = self.zone.read().unwrap_or_else(PoisonError::into_inner);
        let seconds = zone.find_local_time_type(at.seconds()).map_or(0, tz::LocalTimeType::ut_offset);
        let offset = UtcOffset::from_whole_seconds(seconds).unwrap_or(UtcOffset::UTC);
        let local = at.utc().unwrap_or(OffsetDateTime::UNIX_EPOCH).to_offset(offset);
        PrimitiveDateTime::new(local.date(), local.time())
    }
}

/// Whether a time zone of this name exists.
pub fn is_known_zone(zone_name: &str) -> bool {
    zone(zone_name).is_ok()
}

/// The names of all time zones that are places, and UTC.
pub fn zone_names() -> impl Iterator<Item = &'static str> {
    tzdb::TZ_NAMES.iter().copied().filter(|name| *name == "UTC" || (name.contains('/') && !name.starts_with("Etc/")))
}

fn zone(zone_name: &str) -> Result<TimeZoneRef<'static>, UnknownZone> {
    tzdb::tz_by_name(zone_name).ok_or_else(|| UnknownZone(zone_name.to_owned()))
}
