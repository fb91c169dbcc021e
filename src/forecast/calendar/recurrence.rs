//! Rules of yearly recurrence (RFC 5545, 3.3.10) over whole days: enough for holidays, which come by their
//! date or by the n-th weekday of a month or year. Whatever else a rule says is told, not guessed at.

use time::{Date, Duration, Month, Weekday};

use super::faults::Unusable;

/// Repeats of a rule that counts them, at most.
const MOST_REPEATS: usize = 10_000;

/// A rule with `FREQ=YEARLY`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct YearlyRule {
    interval: i32,
    count: Option<usize>,
    until: Option<Date>,
    months: Vec<u8>,
    /// From the month's end where negative.
    month_days: Vec<i32>,
    weekdays: Vec<NthWeekday>,
}

/// A weekday, each of a month or year or the n-th, from its end where negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct NthWeekday {
    nth: Option<i32>,
    weekday: Weekday,
}

impl YearlyRule {
    /// Reads `FREQ=YEARLY;BYMONTH=11;BYDAY=4TH` and the like.
    pub(super) fn parse(rule: &str) -> Result<Self, Unusable> {
        let mut read = Self {
            interval: 1,
            count: None,
            until: None,
            months: Vec::new(),
            month_days: Vec::new(),
            weekdays: Vec::new(),
        };
        let mut is_yearly = false;
        for part in rule.split(';').filter(|part| !part.is_empty()) {
            let rule_part = || Unusable::RulePart(part.chars().take(40).collect());
            let (name, value) = part.split_once('=').ok_or_else(rule_part)?;
            let value = value.to_ascii_uppercase();
            match name.to_ascii_uppercase().as_str() {
                "FREQ" if value == "YEARLY" => is_yearly = true,
                "FREQ" => return Err(Unusable::NotYearly),
                "INTERVAL" => read.interval = number(&value, 1, 1000).ok_or_else(rule_part)?,
                "COUNT" => {
                    let count = value.parse().ok().filter(|count| (1..=MOST_REPEATS).contains(count));
                    read.count = Some(count.ok_or_else(rule_part)?);
                }
                // a date, or a moment of which the date counts
                "UNTIL" => read.until = Some(date(value.get(..8).unwrap_or_default()).ok_or_else(rule_part)?),
                "BYMONTH" => {
                    let month = |text: &str| number(text, 1, 12).and_then(|month| u8::try_from(month).ok());
                    read.months = list(&value, month).ok_or_else(rule_part)?;
                }
                "BYMONTHDAY" => read.month_days = list(&value, |day| nth(day, 31)).ok_or_else(rule_part)?,
                "BYDAY" => read.weekdays = list(&value, NthWeekday::parse).ok_or_else(rule_part)?,
                // it matters for rules by week number, which are not read
                "WKST" => {}
                _ => return Err(rule_part()),
            }
        }
        if is_yearly { Ok(read) } else { Err(Unusable::NotYearly) }
    }

    /// The days of the rule from `from` to `until`, for an event that first was on `start`.
    pub(super) fn days(&self, start: Date, from: Date, until: Date) -> Vec<Date> {
        let last = self.until.map_or(until, |end| end.min(until));
        // what is counted is counted from the start; otherwise the years before are passed over
        let passed_over = if self.count.is_some() { 0 } else { (from.year() - start.year()).max(0) / self.interval };
        let first_year = start.year() + passed_over * self.interval;
        let step = usize::try_from(self.interval).unwrap_or(1);
        let years = (first_year..=last.year()).step_by(step);
        let all = years.flat_map(|year| self.days_of_year(year, start)).filter(|day| *day >= start);
        let counted = all.take(self.count.unwrap_or(usize::MAX)).take_while(|day| *day <= last);
        counted.filter(|day| *day >= from).collect()
    }

    fn days_of_year(&self, year: i32, start: Date) -> Vec<Date> {
        let new_year = Date::from_calendar_date(year, Month::January, 1).ok();
        let days = (0..366).map_while(move |ahead| new_year?.checked_add(Duration::days(ahead)));
        days.take_while(|day| day.year() == year).filter(|day| self.is_on(*day, start)).collect()
    }

    fn is_on(&self, day: Date, start: Date) -> bool {
        let by_date = self.month_days.is_empty() && self.weekdays.is_empty();
        let month = u8::from(day.month());
        let month_fits = if self.months.is_empty() && by_date {
            day.month() == start.month()
        } else {
            self.months.is_empty() || self.months.contains(&month)
        };
        let length = i32::from(day.month().length(day.year()));
        let of_month = i32::from(day.day());
        let day_fits = if by_date {
            day.day() == start.day()
        } else {
            let from_end = of_month - length - 1;
            self.month_days.is_empty() || self.month_days.iter().any(|nth| *nth == of_month || *nth == from_end)
        };
        // an n-th weekday is counted within the month where the rule names months, otherwise within the year
        let (place, all) = if self.months.is_empty() {
            (i32::from(day.ordinal()), i32::from(time::util::days_in_year(day.year())))
        } else {
            (of_month, length)
        };
        let weekday_fits = self.weekdays.is_empty() || self.weekdays.iter().any(|nth| nth.is_on(day, place, all));
        month_fits && day_fits && weekday_fits
    }
}

impl NthWeekday {
    fn parse(text: &str) -> Option<Self> {
        let (ordinal, weekday) = text.split_at_checked(text.len().checked_sub(2)?)?;
        let weekday = match weekday {
            "MO" => Weekday::Monday,
            "TU" => Weekday::Tuesday,
            "WE" => Weekday::Wednesday,
            "TH" => Weekday::Thursday,
            "FR" => Weekday::Friday,
            "SA" => Weekday::Saturday,
            "SU" => Weekday::Sunday,
            _ => return None,
        };
        let nth = if ordinal.is_empty() { None } else { Some(nth(ordinal, 53)?) };
        Some(Self { nth, weekday })
    }

    /// Whether a day is it, the day being the `place`-th of `all` days of the month or year.
    fn is_on(self, day: Date, place: i32, all: i32) -> bool {
        let is_nth = self.nth.is_none_or(|nth| nth == (place - 1) / 7 + 1 || nth == -((all - place) / 7 + 1));
        day.weekday() == self.weekday && is_nth
    }
}

/// `20261225`.
pub(super) fn date(text: &str) -> Option<Date> {
    let is_date = text.len() == 8 && text.bytes().all(|octet| octet.is_ascii_digit());
    let part = |from: usize, to: usize| text.get(from..to)?.parse::<u16>().ok();
    let (year, month, day) = (part(0, 4)?, part(4, 6)?, part(6, 8)?);
    let month = Month::try_from(u8::try_from(month).ok()?).ok()?;
    let day = Date::from_calendar_date(i32::from(year), month, u8::try_from(day).ok()?).ok()?;
    (is_date && (1900..=2200).contains(&day.year())).then_some(day)
}

fn number(text: &str, least: i32, most: i32) -> Option<i32> {
    text.parse().ok().filter(|number| (least..=most).contains(number))
}

/// A number that counts from the front or, negative, from the end; never 0.
fn nth(text: &str, most: i32) -> Option<i32> {
    number(text, -most, most).filter(|nth| *nth != 0)
}

/// A list with commas; `None` where an entry is none.
fn list<T>(text: &str, entry: impl Fn(&str) -> Option<T>) -> Option<Vec<T>> {
    text.split(',').map(entry).collect()
}
