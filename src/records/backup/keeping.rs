//! Which backups are kept: the newest of each of the last days, weeks and months that have any. Days without a backup
//! (the computer was off) use up nothing.

use std::collections::BTreeSet;

use time::Date;

/// How many days, weeks and months keep their newest backup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Keep {
    /// Days.
    pub days: usize,
    /// Weeks, Monday to Sunday (ISO 8601).
    pub weeks: usize,
    /// Months.
    pub months: usize,
}

impl Default for Keep {
    fn default() -> Self {
        Self { days: 7, weeks: 4, months: 12 }
    }
}

/// Which of the backups, given by their days from old to new, are kept. The newest always is.
pub fn kept(days: &[Date], keep: Keep) -> Vec<bool> {
    let mut kept = vec![false; days.len()];
    newest_of_each(days, &mut kept, keep.days.max(1), |day| (day.year(), i32::from(day.ordinal())));
    newest_of_each(days, &mut kept, keep.weeks, |day| {
        let (year, week, _) = day.to_iso_week_date();
        (year, i32::from(week))
    });
    newest_of_each(days, &mut kept, keep.months, |day| (day.year(), i32::from(u8::from(day.month()))));
    kept
}

fn newest_of_each(days: &[Date], kept: &mut [bool], most: usize, span: impl Fn(Date) -> (i32, i32)) {
    let mut spans = BTreeSet::new();
    for (day, kept) in days.iter().zip(kept).rev() {
        if spans.len() == most {
            break;
        }
        *kept |= spans.insert(span(*day));
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;
    use time::{Date, Duration};

    use super::{Keep, kept};

    fn days_kept(days: &[Date]) -> Vec<String> {
        let kept = kept(days, Keep::default());
        let kept = days.iter().zip(kept).filter(|(_, kept)| *kept);
        kept.map(|(day, _)| format!("{:02}-{:02}", u8::from(day.month()), day.day())).collect()
    }

    fn first_quarter() -> Vec<Date> {
        (0..90).map(|day| date!(2026 - 01 - 01) + Duration::days(day)).collect()
    }

    // worked out by hand on a calendar of 2026: 1 January is a Thursday, 29 March a Sunday
    #[test]
    fn a_backup_a_day_leaves_seven_days_four_weeks_and_each_months_last() {
        let days = first_quarter();
        assert_eq!(days.last(), Some(&date!(2026 - 03 - 31)));
        let expected =
            ["01-31", "02-28", "03-15", "03-22", "03-25", "03-26", "03-27", "03-28", "03-29", "03-30", "03-31"];
        assert_eq!(days_kept(&days), expected);
    }

    #[test]
    fn days_on_which_it_failed_use_up_nothing() {
        let mut days = first_quarter();
        days.retain(|day| ![date!(2026 - 03 - 15), date!(2026 - 03 - 29)].contains(day));
        let expected =
            ["01-31", "02-28", "03-14", "03-22", "03-24", "03-25", "03-26", "03-27", "03-28", "03-30", "03-31"];
        assert_eq!(days_kept(&days), expected);
    }

    #[test]
    fn of_two_on_one_day_the_newer_is_kept_and_the_newest_of_all_whatever_the_rule() {
        let day = date!(2026 - 03 - 31);
        assert_eq!(kept(&[day, day], Keep::default()), [false, true]);
        assert_eq!(kept(&[day, day], Keep { days: 0, weeks: 0, months: 0 }), [false, true]);
        assert!(kept(&[], Keep::default()).is_empty());
    }

    // ISO 8601: 1 January 2027 is a Friday of the week that began in December
    #[test]
    fn a_week_over_the_turn_of_the_year_is_one_week() {
        let days = [date!(2026 - 12 - 28), date!(2027 - 01 - 01)];
        assert_eq!(kept(&days, Keep { days: 1, weeks: 2, months: 0 }), [false, true]);
    }
}
