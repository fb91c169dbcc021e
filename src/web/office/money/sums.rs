//! Sums of money and minutes: all of them whole numbers.

use std::collections::BTreeMap;

use crate::quantity::Money;
use crate::records::months::{Done, MonthSums, Worked};
use crate::web::page::RequestContext;

/// What lines without a service are called.
pub(super) const OWN_WORDS: &str = "in own words";

/// Everything of one month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Month {
    pub(super) quoted: Money,
    pub(super) agreed: Money,
    pub(super) done: Money,
    pub(super) taken: Money,
    pub(super) given_back: Money,
    pub(super) owed: Money,
    pub(super) sold_minutes: i64,
    pub(super) worked_minutes: i64,
}

/// What was summed by the books, month by month.
pub(super) fn by_month(sums: &[MonthSums], done: &[Done], worked: &[Worked]) -> Vec<Month> {
    let month = |(place, sums): (i64, &MonthSums)| {
        let done = || done.iter().filter(move |done| done.place == place);
        Month {
            quoted: sums.quoted,
            agreed: sums.agreed,
            done: Money(done().map(|done| done.price.0).sum()),
            taken: sums.taken,
            given_back: sums.given_back,
            owed: sums.owed,
            sold_minutes: done().map(|done| done.minutes).sum(),
            worked_minutes: worked.iter().filter(|worked| worked.place == place).map(|worked| worked.minutes).sum(),
        }
    };
    (0_i64..).zip(sums).map(month).collect()
}

/// All months together.
pub(super) fn total(months: &[Month]) -> Month {
    let money = |of: fn(&Month) -> Money| Money(months.iter().map(|month| of(month).0).sum());
    let minutes = |of: fn(&Month) -> i64| months.iter().map(of).sum();
    Month {
        quoted: money(|month| month.quoted),
        agreed: money(|month| month.agreed),
        done: money(|month| month.done),
        taken: money(|month| month.taken),
        given_back: money(|month| month.given_back),
        owed: money(|month| month.owed),
        sold_minutes: minutes(|month| month.sold_minutes),
        worked_minutes: minutes(|month| month.worked_minutes),
    }
}

/// What one service, or one person, earned.
pub(super) struct EarnedRow {
    pub(super) name: String,
    pub(super) lines: i64,
    pub(super) price: String,
    pub(super) sold: String,
    pub(super) worked: String,
    /// For an hour worked; empty where none was clocked.
    pub(super) an_hour: String,
}

/// Lines, their price, minutes sold and minutes worked.
type Earned = (i64, i64, i64, i64);

/// Lines done and minutes worked under each name, what earned most first.
pub(super) fn earned<'a>(
    done: impl Iterator<Item = (&'a str, &'a Done)>,
    worked: impl Iterator<Item = (&'a str, i64)>,
    context: &RequestContext,
) -> Vec<EarnedRow> {
    let mut named: BTreeMap<&str, Earned> = BTreeMap::new();
    for (name, done) in done {
        let (lines, price, sold, _) = named.entry(name).or_default();
        *lines += done.lines;
        *price += done.price.0;
        *sold += done.minutes;
    }
    for (name, minutes) in worked {
        named.entry(name).or_default().3 += minutes;
    }
    let mut rows: Vec<(&str, Earned)> = named.into_iter().collect();
    rows.sort_by_key(|(_, (_, price, ..))| std::cmp::Reverse(*price));
    let row = |(name, (lines, price, sold, worked)): (&str, Earned)| EarnedRow {
        name: name.to_owned(),
        lines,
        price: context.money(Money(price)),
        sold: hours_words(sold),
        worked: hours_words(worked),
        an_hour: an_hour(Money(price), worked).map(|amount| context.money(amount)).unwrap_or_default(),
    };
    rows.into_iter().map(row).collect()
}

/// What an hour earns, to the nearest minor unit; `None` of no minutes.
fn an_hour(price: Money, minutes: i64) -> Option<Money> {
    (minutes > 0).then(|| Money((price.0 * 120 + minutes) / (2 * minutes)))
}

/// "12:30": hours and minutes, so that they can be added up.
pub(super) fn hours_words(minutes: i64) -> String {
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

#[cfg(test)]
mod tests {
    use super::{an_hour, hours_words};
    use crate::quantity::Money;

    #[test]
    fn an_hour_is_rounded_to_the_nearest_minor_unit() {
        assert_eq!(an_hour(Money(6500), 90), Some(Money(4333)));
        assert_eq!(an_hour(Money(100), 80), Some(Money(75)));
        assert_eq!(an_hour(Money(1), 8), Some(Money(8)), "7.5");
        assert_eq!(an_hour(Money(6500), 0), None);
    }

    #[test]
    fn hours_have_two_digits_of_minutes() {
        assert_eq!(
            (hours_words(65), hours_words(0), hours_words(6000)),
            ("1:05".into(), "0:00".into(), "100:00".into())
        );
    }
}
