//! The bench calendar: who has how many minutes at the bench on which day, and why not more.
//!
//! Days are civil days of the shop: a day on which the clocks change has the minutes that its weekday has. The
//! minutes are those that can be worked on jobs; the time for the counter and the telephone is not among them.

mod content_line;
mod faults;
pub mod holidays;
mod recurrence;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use time::{Date, Duration, Weekday};

use crate::problem::Problems;

/// People of one shop, at most.
const MOST_PEOPLE: usize = 100;
/// Stretches of closed days, and absences of one person, at most.
const MOST_STRETCHES: usize = 5_000;
/// Days of one stretch, at most.
const LONGEST_STRETCH_DAYS: i64 = 3_660;
const MINUTES_A_DAY: u32 = 24 * 60;

/// The hours of a shop's people.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct BenchCalendar {
    /// Each person's own hours.
    pub people: Vec<PersonHours>,
    /// Days on which nobody works. Where stretches overlap, the first in the list is the reason given.
    pub closed: Vec<ClosedDays>,
}

/// One person's hours.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct PersonHours {
    /// Bench minutes of each weekday, Monday first.
    pub week_minutes: [u32; 7],
    /// First day; `None` has always been here.
    #[serde(with = "super::day::maybe")]
    pub first_day: Option<Date>,
    /// Last day; `None` stays.
    #[serde(with = "super::day::maybe")]
    pub last_day: Option<Date>,
    /// Days on which the week's minutes do not hold.
    pub absences: Vec<Absence>,
}

/// Days of one person that are not as usual.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Absence {
    /// First day of it.
    #[serde(with = "super::day")]
    pub first_day: Date,
    /// Last day of it.
    #[serde(with = "super::day")]
    pub last_day: Date,
    /// Minutes that are worked all the same, at most: 0 for whole days away.
    pub minutes_left: u32,
}

/// Days on which the shop is closed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClosedDays {
    /// First day of it.
    #[serde(with = "super::day")]
    pub first_day: Date,
    /// Last day of it.
    #[serde(with = "super::day")]
    pub last_day: Date,
    /// By whose wish.
    pub why: Closed,
    /// What it is called, such as "New Year's Day" or "stocktaking".
    pub name: String,
}

/// Why nobody works.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Closed {
    /// A public holiday.
    Holiday,
    /// The shop's own wish.
    Closure,
}

/// A person's minutes of one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DayMinutes {
    /// At the bench.
    pub minutes: u32,
    /// Why they are not the week's; `None` where they are.
    pub because: Option<Because>,
}

/// Why a day is not as the week says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Because {
    /// The shop is closed.
    Closed(Closed, String),
    /// The person is away, or away for a part of the day.
    Absent,
    /// Not here yet, or not here any more.
    NotEmployed,
}

/// Why a calendar gives no hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum NoHours {
    /// Nobody is in it.
    NoPeople,
    /// Nobody has hours on any weekday.
    EmptyWeeks,
    /// There are weeks with hours, but from this day on nobody works: all have left, or all is closed.
    NobodyFrom(#[serde(with = "super::day")] Date),
}

impl BenchCalendar {
    /// What is wrong with what was entered, each fault by its place.
    ///
    /// # Errors
    /// When a day has more minutes than a day, or a stretch ends before it begins.
    pub fn check(&self) -> Result<(), Problems> {
        let mut problems = Problems::default();
        problems.count("/people", self.people.len(), 0, MOST_PEOPLE);
        problems.count("/closed", self.closed.len(), 0, MOST_STRETCHES);
        for (place, closed) in self.closed.iter().enumerate() {
            check_stretch(&mut problems, format_args!("/closed/{place}/last_day"), closed.first_day, closed.last_day);
        }
        for (person, hours) in self.people.iter().enumerate() {
            for (weekday, minutes) in hours.week_minutes.iter().enumerate() {
                let at = format_args!("/people/{person}/week_minutes/{weekday}");
                problems.require(*minutes <= MINUTES_A_DAY, at, "must not be more than a day has: 1440 minutes");
            }
            problems.count(format_args!("/people/{person}/absences"), hours.absences.len(), 0, MOST_STRETCHES);
            for (place, absence) in hours.absences.iter().enumerate() {
                let at = format!("/people/{person}/absences/{place}/last_day");
                check_stretch(&mut problems, at, absence.first_day, absence.last_day);
            }
            let in_order = hours.first_day.zip(hours.last_day).is_none_or(|(first, last)| first <= last);
            problems.require(in_order, format_args!("/people/{person}/last_day"), "must not be before the first day");
        }
        problems.check()
    }

    /// A person's minutes of a day, and why they are not the week's.
    pub fn day(&self, person: usize, day: Date) -> DayMinutes {
        self.closed_by_day().minutes(self, person, day)
    }

    /// Everybody's minutes of the seven days from a Monday on, or from whichever day is given.
    pub fn week(&self, monday: Date) -> Vec<Vec<DayMinutes>> {
        let closed = self.closed_by_day();
        let days: Vec<Date> = (0..7).map_while(|ahead| monday.checked_add(Duration::days(ahead))).collect();
        let of = |person: usize| days.iter().map(|day| closed.minutes(self, person, *day)).collect();
        (0..self.people.len()).map(of).collect()
    }

    /// Everybody's minutes of each of the `days` days from `start` on.
    pub fn minutes_from(&self, start: Date, days: usize) -> Vec<Vec<u32>> {
        let closed = self.closed_by_day();
        let of = |person: usize| {
            let days = (0_i64..).take(days).map_while(|ahead| start.checked_add(Duration::days(ahead)));
            days.map(|day| closed.minutes(self, person, day).minutes).collect()
        };
        (0..self.people.len()).map(of).collect()
    }

    /// Why there are no hours within `days` days from `start` on; `None` where there are some.
    pub fn why_no_hours(&self, start: Date, days: usize) -> Option<NoHours> {
        let has_a_week = |hours: &PersonHours| hours.week_minutes.iter().any(|minutes| *minutes > 0);
        if self.people.is_empty() {
            Some(NoHours::NoPeople)
        } else if !self.people.iter().any(has_a_week) {
            Some(NoHours::EmptyWeeks)
        } else {
            let nobody = self.minutes_from(start, days).iter().flatten().all(|minutes| *minutes == 0);
            nobody.then_some(NoHours::NobodyFrom(start))
        }
    }

    fn closed_by_day(&self) -> ClosedByDay<'_> {
        let mut by_day = BTreeMap::new();
        for closed in self.closed.iter().rev() {
            let days = (0..LONGEST_STRETCH_DAYS).map_while(|ahead| closed.first_day.checked_add(Duration::days(ahead)));
            by_day.extend(days.take_while(|day| *day <= closed.last_day).map(|day| (day, closed)));
        }
        ClosedByDay(by_day)
    }
}

fn check_stretch(problems: &mut Problems, at: impl std::fmt::Display, first_day: Date, last_day: Date) {
    let days = (last_day - first_day).whole_days();
    let words = if days < 0 { "must not be before the first day" } else { "must be within ten years of the first day" };
    problems.require((0..LONGEST_STRETCH_DAYS).contains(&days), at, words);
}

struct ClosedByDay<'a>(BTreeMap<Date, &'a ClosedDays>);

impl ClosedByDay<'_> {
    fn minutes(&self, calendar: &BenchCalendar, person: usize, day: Date) -> DayMinutes {
        let none = |because: Because| DayMinutes { minutes: 0, because: Some(because) };
        let Some(hours) = calendar.people.get(person) else {
            return none(Because::NotEmployed);
        };
        if hours.first_day.is_some_and(|first| day < first) || hours.last_day.is_some_and(|last| day > last) {
            return none(Because::NotEmployed);
        }
        let minutes = hours.on(day.weekday());
        if minutes == 0 {
            return DayMinutes { minutes, because: None };
        }
        if let Some(closed) = self.0.get(&day) {
            return none(Because::Closed(closed.why, closed.name.clone()));
        }
        let absences = hours.absences.iter().filter(|absence| (absence.first_day..=absence.last_day).contains(&day));
        let left = absences.map(|absence| absence.minutes_left).min();
        match left {
            Some(left) if left < minutes => DayMinutes { minutes: left, because: Some(Because::Absent) },
            _ => DayMinutes { minutes, because: None },
        }
    }
}

impl PersonHours {
    fn on(&self, weekday: Weekday) -> u32 {
        self.week_minutes.get(usize::from(weekday.number_days_from_monday())).copied().unwrap_or(0)
    }
}
