//! Load against capacity, week by week: whether what was promised can be done in time.

use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use super::QueueInput;
use crate::forecast::schedule::Capacity;

/// One person's week, or the whole house's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WeekLoad {
    /// Its Monday.
    #[serde(with = "crate::forecast::day")]
    pub monday: Date,
    /// Whose; `None` is the house, with what nobody has taken yet.
    pub person: Option<usize>,
    /// Minutes at the bench that are left of it.
    pub capacity_minutes: f64,
    /// Minutes to be expected of the jobs promised for it; what is overdue counts in the first.
    pub promised_minutes: f64,
    /// Minutes by which all that was promised until its end exceeds all that can be given until then; 0 where it
    /// can be done.
    pub short_minutes: f64,
}

/// The weeks from today's on: the house first, then each person.
pub fn load(input: &QueueInput, weeks: u32) -> Vec<WeekLoad> {
    let days = usize::try_from(weeks).unwrap_or(0) * 7;
    let capacity = Capacity::new(&input.calendar, input.today, days, &input.left_today);
    let monday = input.today - Duration::days(i64::from(input.today.weekday().number_days_from_monday()));
    let everybody: Vec<usize> = (0..input.calendar.people.len()).collect();
    let whose = std::iter::once(None).chain(everybody.iter().copied().map(Some));
    let rows = whose.flat_map(|person| {
        let people = person.map_or(everybody.clone(), |person| vec![person]);
        let given = |until: Date| people.iter().map(|person| capacity.minutes_until(*person, until)).sum::<f64>();
        let promised = |until: Date| {
            let counts = input.jobs.iter().filter(|job| person.is_none() || job.claim.person == person);
            let due = counts.filter(|job| job.promised_on.is_some_and(|day| day <= until));
            due.filter_map(|job| job.minutes).sum::<f64>()
        };
        let (mut given_before, mut promised_before) = (0.0, 0.0);
        let week = |number: i64| {
            let monday = monday.checked_add(Duration::weeks(number))?;
            let sunday = monday.checked_add(Duration::days(6))?;
            let (given, promised) = (given(sunday), promised(sunday));
            let week = WeekLoad {
                monday,
                person,
                capacity_minutes: given - given_before,
                promised_minutes: promised - promised_before,
                short_minutes: f64::max(promised - given, 0.0),
            };
            (given_before, promised_before) = (given, promised);
            Some(week)
        };
        (0..i64::from(weeks)).map_while(week).collect::<Vec<_>>()
    });
    rows.collect()
}
