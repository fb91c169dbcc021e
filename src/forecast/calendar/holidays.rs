//! Holidays out of a calendar file (RFC 5545), as authorities and calendar programs hand them out.
//!
//! What closes the shop is a whole-day event, single or yearly. Other events are left out and named, so that
//! nobody believes a day closed that is not; a file that is damaged is refused with its line. Whether an event
//! is said to take up time (`TRANSP`) does not matter: calendars of holidays mark theirs as free.
//!
//! Written here, because what is needed of the format is small, and the libraries for it bring a second date
//! library and a second data base of time zones, read times that no holiday has, and do not tell the line.

use std::collections::BTreeSet;

use time::{Date, Duration};

use super::content_line::{ContentLine, lines};
use super::faults::{MOST_EVENTS, MOST_HOLIDAYS};
use super::recurrence::{YearlyRule, date};

pub use super::faults::{Refused, Unusable};

/// Components within one another, at most.
const DEEPEST: usize = 10;
/// Days of one event, at most.
const LONGEST_DAYS: i64 = 366;
/// Letters of a name, at most.
const LONGEST_NAME: usize = 120;

/// What a file says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Holidays {
    /// In order of their days; each once.
    pub holidays: Vec<Holiday>,
    /// Events that do not close the shop, in order of the file.
    pub left_out: Vec<LeftOut>,
}

/// One holiday.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Holiday {
    /// Its first day.
    pub first_day: Date,
    /// Its last day; mostly the same.
    pub last_day: Date,
    /// Its name; may be empty.
    pub name: String,
}

/// An event that was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// The line of the file on which it begins.
    pub line: usize,
    /// Its name; may be empty.
    pub name: String,
    /// Why.
    pub why: Unusable,
}

/// Reads the holidays that touch the days from `from` to `until`.
///
/// # Errors
/// When the file is damaged, or no calendar of holidays.
pub fn read(file: &[u8], from: Date, until: Date) -> Result<Holidays, Refused> {
    let lines = lines(file)?;
    let events = events(&lines)?;
    let mut found: BTreeSet<Holiday> = BTreeSet::new();
    let mut left_out = Vec::new();
    let replaced: BTreeSet<(&str, Date)> =
        events.iter().filter_map(|event| Some((event.uid()?, event.replaces_day()?))).collect();
    for event in &events {
        match event.stretches(from, until) {
            Ok(stretches) => found.extend(stretches.into_iter().filter(|stretch| {
                let is_replaced = event.uid().is_some_and(|uid| replaced.contains(&(uid, stretch.first_day)));
                event.replaces_day().is_some() || !is_replaced
            })),
            Err(why) => left_out.push(LeftOut { line: event.line, name: event.name(), why }),
        }
        if found.len() > MOST_HOLIDAYS {
            return Err(Refused::TooManyHolidays);
        }
    }
    Ok(Holidays { holidays: found.into_iter().collect(), left_out })
}

/// The lines of one event, without those of what stands within it.
struct Event<'a> {
    line: usize,
    lines: Vec<&'a ContentLine>,
}

fn events(lines: &[ContentLine]) -> Result<Vec<Event<'_>>, Refused> {
    let mut events: Vec<Event<'_>> = Vec::new();
    let mut within: Vec<String> = Vec::new();
    let mut has_calendar = false;
    for line in lines {
        let value = line.value.trim_end().to_ascii_uppercase();
        match (line.name.as_str(), within.as_slice()) {
            ("BEGIN", []) if value != "VCALENDAR" => return Err(Refused::OutsideACalendar(line.number)),
            ("BEGIN", _) if within.len() >= DEEPEST => return Err(Refused::TooDeep(line.number)),
            ("BEGIN", [_]) if value == "VEVENT" => {
                events.push(Event { line: line.number, lines: Vec::new() });
                within.push(value);
            }
            ("BEGIN", _) => {
                has_calendar = true;
                within.push(value);
            }
            (_, []) => {
                return Err(if has_calendar { Refused::OutsideACalendar(line.number) } else { Refused::NoCalendar });
            }
            ("END", [.., begun]) if *begun != value => return Err(Refused::WrongEnd(line.number)),
            ("END", _) => drop(within.pop()),
            ("VERSION", [_]) if value != "2.0" => return Err(Refused::OlderVersion(line.number)),
            (_, [_, component]) if component == "VEVENT" => {
                events.last_mut().into_iter().for_each(|event| event.lines.push(line));
            }
            _ => {}
        }
        if events.len() > MOST_EVENTS {
            return Err(Refused::TooManyEvents);
        }
    }
    match (has_calendar, within.is_empty()) {
        (false, _) => Err(Refused::NoCalendar),
        (true, false) => Err(Refused::Unfinished),
        (true, true) => Ok(events),
    }
}

impl<'a> Event<'a> {
    fn property(&self, name: &str) -> Option<&'a ContentLine> {
        self.lines.iter().find(|line| line.name == name).copied()
    }

    fn name(&self) -> String {
        let text = self.property("SUMMARY").map(ContentLine::text).unwrap_or_default();
        text.chars().take(LONGEST_NAME).collect()
    }

    fn uid(&self) -> Option<&'a str> {
        self.property("UID").map(|line| line.value.as_str())
    }

    /// The day of the series that this event stands in place of.
    fn replaces_day(&self) -> Option<Date> {
        date(&self.property("RECURRENCE-ID")?.value)
    }

    /// The stretches of days that touch the window.
    fn stretches(&self, from: Date, until: Date) -> Result<Vec<Holiday>, Unusable> {
        if self.property("STATUS").is_some_and(|line| line.value.eq_ignore_ascii_case("CANCELLED")) {
            return Err(Unusable::Cancelled);
        }
        if self.property("RECURRENCE-ID").is_some_and(|line| !line.parameter("RANGE").is_empty()) {
            return Err(Unusable::ChangesLaterOnes);
        }
        let start = whole_day(self.property("DTSTART").ok_or(Unusable::NoDay)?)?;
        let more_days = self.more_days(start)?;
        let reaches_from = from.checked_sub(Duration::days(more_days)).unwrap_or(from);
        let mut days: BTreeSet<Date> = BTreeSet::new();
        let mut has_rule = false;
        for rule in self.lines.iter().filter(|line| line.name == "RRULE") {
            days.extend(YearlyRule::parse(&rule.value)?.days(start, reaches_from, until));
            has_rule = true;
        }
        if !has_rule {
            days.insert(start);
        }
        days.extend(self.listed_days("RDATE")?);
        for day in self.listed_days("EXDATE")? {
            days.remove(&day);
        }
        let touching = days.into_iter().filter(|day| (reaches_from..=until).contains(day));
        let name = self.name();
        Ok(touching
            .map(|first_day| Holiday {
                first_day,
                last_day: first_day.checked_add(Duration::days(more_days)).unwrap_or(first_day),
                name: name.clone(),
            })
            .collect())
    }

    /// Days after the first: `DTEND` is the day after the last (3.6.1). Many programs write the first day
    /// there and mean one day.
    fn more_days(&self, start: Date) -> Result<i64, Unusable> {
        let days = match (self.property("DTEND"), self.property("DURATION")) {
            (Some(end), _) => (whole_day(end)? - start).whole_days(),
            (None, Some(duration)) => days_of_duration(&duration.value).ok_or(Unusable::HasATime)?,
            (None, None) => 1,
        };
        match days {
            ..0 => Err(Unusable::EndsBeforeItBegins),
            0 => Ok(0),
            1..=LONGEST_DAYS => Ok(days - 1),
            _ => Err(Unusable::TooLong),
        }
    }

    fn listed_days(&self, name: &str) -> Result<Vec<Date>, Unusable> {
        let lines = self.lines.iter().filter(|line| line.name == name);
        lines.flat_map(|line| line.value.split(',').map(|day| date(day.trim()).ok_or(Unusable::HasATime))).collect()
    }
}

/// The day of a property that holds a day and no time.
fn whole_day(line: &ContentLine) -> Result<Date, Unusable> {
    let value = line.value.trim();
    if value.contains('T') || line.parameter("VALUE") == "DATE-TIME" {
        return Err(Unusable::HasATime);
    }
    date(value).ok_or(Unusable::NoDay)
}

/// `P1D` or `P2W`.
fn days_of_duration(text: &str) -> Option<i64> {
    let text = text.trim().trim_start_matches('+').strip_prefix('P')?;
    let weeks = text.strip_suffix('W').and_then(|weeks| weeks.parse::<i64>().ok()?.checked_mul(7));
    weeks.or_else(|| text.strip_suffix('D')?.parse().ok()).filter(|days| *days > 0)
}
