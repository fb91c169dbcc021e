//! The stretch of time that a page of figures is about: the last so many months, up to today.

use time::Date;

use crate::quantity::{Instant, add_months_clamped};
use crate::records::months::Month;
use crate::web::form::{Choice, FormData};
use crate::web::page::RequestContext;

/// Months that can be asked for.
const MONTHS: [i32; 5] = [3, 6, 12, 24, 36];
/// Asked for where nobody chose.
const USUAL: i32 = 12;

/// The last so many months.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Period {
    months: i32,
    /// Its first day: the first of a month.
    pub(super) first_day: Date,
    today: Date,
}

impl Period {
    /// As it stands in the address; the usual one where it does not, or is none of ours.
    pub(super) fn of(query: &FormData, today: Date) -> Self {
        let asked = query.value("months").parse().ok();
        let months = asked.filter(|asked| MONTHS.contains(asked)).unwrap_or(USUAL);
        let this_month = today.replace_day(1).unwrap_or(today);
        Self { months, first_day: add_months_clamped(this_month, 1 - months), today }
    }

    /// How it stands in the address.
    pub(super) fn key(self) -> String {
        self.months.to_string()
    }

    /// What can be chosen.
    pub(super) fn choices() -> Vec<Choice> {
        MONTHS.iter().map(|months| Choice::new(months, format!("last {months} months"))).collect()
    }

    /// The moment it begins.
    pub(super) fn since(self, context: &RequestContext) -> Instant {
        context.app.clock.start_of(self.first_day)
    }

    /// Its months, the oldest first; the last one is not over.
    pub(super) fn spans(self, context: &RequestContext) -> Vec<Month> {
        let start = |months: i32| context.app.clock.start_of(add_months_clamped(self.first_day, months));
        (0..self.months).map(|month| Month { from: start(month), until: start(month + 1) }).collect()
    }

    /// The first days of its months.
    pub(super) fn first_days(self) -> impl Iterator<Item = Date> {
        (0..self.months).map(move |month| add_months_clamped(self.first_day, month))
    }

    /// Which of its months a day lies in, from 0.
    pub(super) fn place(self, day: Date) -> Option<usize> {
        let months = |day: Date| day.year() * 12 + i32::from(u8::from(day.month()));
        let place = months(day) - months(self.first_day);
        usize::try_from(place).ok().filter(|_| place < self.months && day <= self.today)
    }
}
