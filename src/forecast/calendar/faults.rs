//! Why a calendar file, or an event of it, is not taken, in words for whoever brought it.

use std::fmt;

/// Octets of a file, at most. A hundred years of a country's holidays are a tenth of it.
pub(super) const LARGEST_FILE: usize = 1024 * 1024;
/// Events of one file, at most.
pub(super) const MOST_EVENTS: usize = 2_000;
/// Days that one file closes within the years asked for, at most.
pub(super) const MOST_HOLIDAYS: usize = 5_000;

/// Why an event is left out. Its words follow the event's name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unusable {
    /// Begins or ends at an hour.
    HasATime,
    /// Without a day that can be read.
    NoDay,
    /// Ends before it begins.
    EndsBeforeItBegins,
    /// Lasts more than a year.
    TooLong,
    /// Was called off.
    Cancelled,
    /// Repeats otherwise than yearly.
    NotYearly,
    /// A part of its rule that is not read here.
    RulePart(String),
    /// Changes all its later repeats.
    ChangesLaterOnes,
}

impl fmt::Display for Unusable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HasATime => f.write_str("has a time of day; only whole days close the shop"),
            Self::NoDay => f.write_str("has no day that can be read"),
            Self::EndsBeforeItBegins => f.write_str("ends before it begins"),
            Self::TooLong => f.write_str("lasts more than a year"),
            Self::Cancelled => f.write_str("was cancelled"),
            Self::NotYearly => f.write_str("does not repeat yearly; enter its days by hand"),
            Self::RulePart(part) => {
                write!(f, "repeats by a rule that is not read here (“{part}”); enter its days by hand")
            }
            Self::ChangesLaterOnes => f.write_str("changes all its later repeats; enter its days by hand"),
        }
    }
}

/// Why a file is not read at all. The number is that of the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// More than `LARGEST_FILE` octets.
    TooLarge,
    /// A line longer than any holiday has.
    TooLongLine(usize),
    /// Letters that are not UTF-8.
    NotUtf8(usize),
    /// A control character.
    ControlCharacter(usize),
    /// No `NAME:VALUE`.
    NoContentLine(usize),
    /// Before `BEGIN:VCALENDAR` or after its end.
    OutsideACalendar(usize),
    /// An `END` that ends something else than was begun last.
    WrongEnd(usize),
    /// Too many things within one another.
    TooDeep(usize),
    /// An older format.
    OlderVersion(usize),
    /// It stops before its end.
    Unfinished,
    /// No calendar in it.
    NoCalendar,
    /// More events than a calendar of holidays has.
    TooManyEvents,
    /// More days than are believed.
    TooManyHolidays,
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const WHOLE: &str = "Fetch the file anew and take the whole of it; nothing was changed.";
        match self {
            Self::TooLarge => {
                write!(f, "The file is larger than {} MiB: no calendar of holidays is.", LARGEST_FILE >> 20)
            }
            Self::TooLongLine(line) => write!(f, "Line {line} is longer than any line of a calendar of holidays."),
            Self::NotUtf8(line) => {
                write!(f, "Line {line} is not written in UTF-8, which a calendar file must be. {WHOLE}")
            }
            Self::ControlCharacter(line) => write!(f, "Line {line} has a control character in it. {WHOLE}"),
            Self::NoContentLine(line) => write!(f, "Line {line} is no line of a calendar file. {WHOLE}"),
            Self::OutsideACalendar(line) => write!(f, "Line {line} stands outside a calendar. {WHOLE}"),
            Self::WrongEnd(line) => write!(f, "Line {line} ends something that was not begun. {WHOLE}"),
            Self::TooDeep(line) => write!(f, "Line {line} stands in too many things at once. {WHOLE}"),
            Self::OlderVersion(line) => {
                write!(f, "Line {line}: this is another version of the format than 2.0, which alone is read here.")
            }
            Self::Unfinished => write!(f, "The file stops in the middle. {WHOLE}"),
            Self::NoCalendar => f.write_str("There is no calendar in this file. A calendar file mostly ends in .ics."),
            Self::TooManyEvents => {
                write!(f, "The file has more than {MOST_EVENTS} events: no calendar of holidays has.")
            }
            Self::TooManyHolidays => {
                write!(f, "The file closes the shop more than {MOST_HOLIDAYS} times: no calendar of holidays does.")
            }
        }
    }
}
