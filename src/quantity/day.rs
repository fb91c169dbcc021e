//! Civil days: local calendar dates without a time.

use time::{Date, Month};

const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// "Thu 26 Nov 2026".
pub fn with_weekday(day: Date) -> String {
    let weekday = WEEKDAYS[usize::from(day.weekday().number_days_from_monday())];
    let month = MONTHS[usize::from(u8::from(day.month()) - 1)];
    format!("{weekday} {} {month} {}", day.day(), day.year())
}

/// "Nov 2026": the month that a day lies in.
pub fn month_words(day: Date) -> String {
    format!("{} {}", MONTHS[usize::from(u8::from(day.month()) - 1)], day.year())
}

/// Reads a day: `2026-11-26`, or with the day first `26.11.2026`; with slashes only where day and
/// month cannot be confused.
///
/// # Errors
/// Words that say how to mend what was typed.
pub fn parse_day(typed: &str) -> Result<Date, String> {
    let not_a_day = || "Type the day as year-month-day, such as 2026-11-26.".to_owned();
    let text = typed.trim();
    let part = |text: &str| text.trim().parse::<i32>().map_err(|_| not_a_day());
    let parts: Vec<&str> = text.split(['-', '.', '/']).collect();
    let [first, second, third] = parts.as_slice() else {
        return Err(not_a_day());
    };
    let (year, month, day) = if first.len() == 4 {
        (part(first)?, part(second)?, part(third)?)
    } else if third.len() == 4 && text.contains('.') {
        (part(third)?, part(second)?, part(first)?)
    } else if third.len() == 4 && text.contains('/') {
        match (part(first)?, part(second)?) {
            (day @ 13..=31, month) => (part(third)?, month, day),
            (month, day @ 13..=31) => (part(third)?, month, day),
            (same, other) if same == other => (part(third)?, same, same),
            _ => return Err(format!("“{text}” can be read in two ways. {}", not_a_day())),
        }
    } else {
        return Err(not_a_day());
    };
    let month = u8::try_from(month).ok().and_then(|month| Month::try_from(month).ok());
    let day = u8::try_from(day).ok();
    let found = month.zip(day).and_then(|(month, day)| Date::from_calendar_date(year, month, day).ok());
    found
        .filter(|day| (1900..=2200).contains(&day.year()))
        .ok_or_else(|| format!("There is no such day. {}", not_a_day()))
}

/// Months after an anchor, cut to the month's last day (29 February + 12 months is 28 February).
/// Always reckon from the stored anchor: chained steps drift.
pub fn add_months_clamped(anchor: Date, months: i32) -> Date {
    let counted = anchor.year() * 12 + i32::from(u8::from(anchor.month())) - 1 + months;
    let (year, month_index) = (counted.div_euclid(12), counted.rem_euclid(12));
    let month =
        u8::try_from(month_index + 1).ok().and_then(|month| Month::try_from(month).ok()).unwrap_or(Month::January);
    let last = month.length(year);
    Date::from_calendar_date(year, month, anchor.day().min(last)).unwrap_or(anchor)
}

/// The first yearly anniversary of an anchor that lies after a day.
pub fn next_anniversary(anchor: Date, after: Date) -> Date {
    let mut years = (after.year() - anchor.year()).max(0);
    loop {
        let candidate = add_months_clamped(anchor, years * 12);
        if candidate > after {
            return candidate;
        }
        years += 1;
    }
}
