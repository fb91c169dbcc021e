//! The hours of a shop's people, day by day.

use thumbplane::forecast::calendar::{
    Absence, Because, BenchCalendar, Closed, ClosedDays, DayMinutes, NoHours, PersonHours,
};
use time::{Date, macros::date};

/// Six hours from Monday to Friday, and three on Saturdays for the second.
fn two_at_the_bench() -> BenchCalendar {
    let hours =
        |saturday: u32| PersonHours { week_minutes: [360, 360, 360, 360, 360, saturday, 0], ..Default::default() };
    BenchCalendar { people: vec![hours(0), hours(180)], closed: Vec::new() }
}

fn closed(first_day: Date, last_day: Date, why: Closed, name: &str) -> ClosedDays {
    ClosedDays { first_day, last_day, why, name: name.to_owned() }
}

fn minutes(calendar: &BenchCalendar, person: usize, day: Date) -> u32 {
    calendar.day(person, day).minutes
}

#[test]
fn a_day_has_the_hours_of_its_weekday_less_what_is_away() {
    let mut calendar = two_at_the_bench();
    calendar.closed.push(closed(date!(2026 - 12 - 25), date!(2026 - 12 - 26), Closed::Holiday, "Weir Days"));
    calendar.people[1].absences = vec![
        Absence { first_day: date!(2026 - 12 - 21), last_day: date!(2026 - 12 - 23), minutes_left: 0 },
        Absence { first_day: date!(2026 - 12 - 23), last_day: date!(2026 - 12 - 24), minutes_left: 120 },
    ];
    calendar.check().expect("a good calendar");
    // Monday, Wednesday with two absences (the shorter day holds), Thursday half a day, Friday a holiday
    assert_eq!(minutes(&calendar, 0, date!(2026 - 12 - 21)), 360);
    assert_eq!(minutes(&calendar, 1, date!(2026 - 12 - 21)), 0);
    assert_eq!(minutes(&calendar, 1, date!(2026 - 12 - 23)), 0);
    assert_eq!(calendar.day(1, date!(2026 - 12 - 24)), DayMinutes { minutes: 120, because: Some(Because::Absent) });
    let holiday = Because::Closed(Closed::Holiday, "Weir Days".to_owned());
    assert_eq!(calendar.day(0, date!(2026 - 12 - 25)), DayMinutes { minutes: 0, because: Some(holiday) });
    // a Saturday is no holiday for who never works then
    assert_eq!(calendar.day(0, date!(2026 - 12 - 26)), DayMinutes { minutes: 0, because: None });
    assert!(calendar.day(1, date!(2026 - 12 - 26)).because.is_some());
    // an absence that leaves more than the day has changes nothing
    calendar.people[0].absences =
        vec![Absence { first_day: date!(2026 - 12 - 21), last_day: date!(2026 - 12 - 21), minutes_left: 400 }];
    assert_eq!(calendar.day(0, date!(2026 - 12 - 21)), DayMinutes { minutes: 360, because: None });
}

#[test]
fn who_left_has_no_hours_and_who_comes_has_none_yet() {
    let mut calendar = two_at_the_bench();
    calendar.people[0].last_day = Some(date!(2026 - 06 - 30));
    calendar.people[1].first_day = Some(date!(2026 - 07 - 01));
    assert_eq!(minutes(&calendar, 0, date!(2026 - 06 - 30)), 360);
    assert_eq!(calendar.day(0, date!(2026 - 07 - 01)).because, Some(Because::NotEmployed));
    assert_eq!(calendar.day(1, date!(2026 - 06 - 30)).because, Some(Because::NotEmployed));
    assert_eq!(minutes(&calendar, 1, date!(2026 - 07 - 01)), 360);
    // nobody of that number
    assert_eq!(calendar.day(7, date!(2026 - 07 - 01)).because, Some(Because::NotEmployed));
}

/// Days are civil days: on the days on which clocks change, in either half of the year, nothing happens.
#[test]
fn a_clock_change_takes_no_hour_from_the_bench() {
    let calendar = two_at_the_bench();
    let week = calendar.week(date!(2026 - 10 - 19));
    let ordinary = calendar.week(date!(2026 - 06 - 01));
    assert_eq!(week, ordinary);
    assert_eq!(calendar.week(date!(2026 - 03 - 23)), ordinary);
    let hours: Vec<u32> = week[1].iter().map(|day| day.minutes).collect();
    assert_eq!(hours, [360, 360, 360, 360, 360, 180, 0]);
    assert_eq!(calendar.minutes_from(date!(2026 - 10 - 23), 4), [vec![360, 0, 0, 360], vec![360, 180, 0, 360]]);
}

#[test]
fn a_calendar_without_hours_says_which_kind_of_none_it_has() {
    let monday = date!(2026 - 06 - 01);
    assert_eq!(BenchCalendar::default().why_no_hours(monday, 30), Some(NoHours::NoPeople));
    let idle = BenchCalendar { people: vec![PersonHours::default()], closed: Vec::new() };
    assert_eq!(idle.why_no_hours(monday, 30), Some(NoHours::EmptyWeeks));
    let mut all_left = two_at_the_bench();
    all_left.people.iter_mut().for_each(|hours| hours.last_day = Some(date!(2026 - 05 - 29)));
    assert_eq!(all_left.why_no_hours(monday, 30), Some(NoHours::NobodyFrom(monday)));
    let mut shut = two_at_the_bench();
    shut.closed.push(closed(monday, date!(2030 - 01 - 01), Closed::Closure, "the flood"));
    assert_eq!(shut.why_no_hours(monday, 30), Some(NoHours::NobodyFrom(monday)));
    assert_eq!(two_at_the_bench().why_no_hours(monday, 30), None);
}

#[test]
fn what_cannot_be_is_refused_at_its_place() {
    let mut calendar = two_at_the_bench();
    calendar.people[0].week_minutes[2] = 1441;
    calendar.people[1].first_day = Some(date!(2026 - 07 - 01));
    calendar.people[1].last_day = Some(date!(2026 - 06 - 01));
    calendar.people[1].absences =
        vec![Absence { first_day: date!(2026 - 06 - 02), last_day: date!(2026 - 06 - 01), minutes_left: 0 }];
    calendar.closed.push(closed(date!(2026 - 01 - 01), date!(2046 - 01 - 01), Closed::Closure, "for good"));
    let faults = calendar.check().expect_err("four faults");
    let places: Vec<&str> = faults.0.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(
        places,
        ["/closed/0/last_day", "/people/0/week_minutes/2", "/people/1/absences/0/last_day", "/people/1/last_day"]
    );
}
