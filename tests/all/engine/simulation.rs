//! Days of a whole queue by simulation: exact cases, textbook queues, and what is missing.

use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};
use thumbplane::forecast::calendar::{BenchCalendar, Closed, ClosedDays, NoHours, PersonHours};
use thumbplane::forecast::minutes::TrueMinutes;
use thumbplane::forecast::schedule::Claim;
use thumbplane::forecast::simulation::{
    DayForecast, NoDay, Outlook, PastWaits, QueuedJob, Simulation, Wait, Work, simulate,
};
use time::{Date, Duration, macros::date};

use super::close;

/// A Monday.
const MONDAY: Date = date!(2026 - 06 - 01);

fn day(ahead: i64) -> Date {
    MONDAY + Duration::days(ahead)
}

/// Minutes that are as estimated, with this deviation of jobs and this doubt about all of them, on logs.
fn kind(log_spread: f64, log_error: f64) -> TrueMinutes {
    TrueMinutes { jobs: 20, credibility: 0.9, factor: 1.0, log_error, log_spread }
}

fn hours(a_day: f64, people: usize) -> BenchCalendar {
    let minutes = format!("{}", a_day * 60.0).parse().expect("whole minutes");
    let hours = PersonHours { week_minutes: [minutes, minutes, minutes, minutes, minutes, 0, 0], ..Default::default() };
    BenchCalendar { people: vec![hours; people], closed: Vec::new() }
}

fn work(kind: usize, hours: f64) -> Work {
    Work { kind, estimate_minutes: hours * 60.0, spent_minutes: 0.0 }
}

fn takes(hours: f64) -> QueuedJob {
    QueuedJob { work: vec![work(0, hours)], ..Default::default() }
}

/// Monday to Friday six hours for one; certain hours.
fn shop(jobs: Vec<QueuedJob>) -> Simulation {
    Simulation {
        start: MONDAY,
        calendar: hours(6.0, 1),
        left_today: Vec::new(),
        worked_shares: Vec::new(),
        kinds: vec![kind(0.0, 0.0)],
        waits: vec![PastWaits { days: vec![1, 2, 3, 4, 10] }],
        jobs,
        confidence: 0.9,
        draws: 20_000,
        seed: 3,
    }
}

#[track_caller]
fn looked_ahead(input: &Simulation) -> Outlook {
    simulate(input).unwrap_or_else(|faults| panic!("{faults}"))
}

#[track_caller]
fn last(input: &Simulation) -> DayForecast {
    looked_ahead(input).jobs.pop().expect("a job").unwrap_or_else(|why| panic!("{why:?}"))
}

/// The one certain day of the last job.
#[track_caller]
fn certain(input: &Simulation) -> Date {
    let found = last(&Simulation { draws: 50, ..input.clone() });
    assert_eq!(found.days.len(), 1, "{found:?}");
    assert_eq!((found.median_day, found.promised_share), (found.promised_day, 1.0));
    found.promised_day
}

/// Derived, and the same as the calculation `promise` gives: 7 h from a Friday end on Monday, and so on.
#[test]
fn certain_hours_end_on_the_day_that_reaches_them() {
    let from = |start: Date, hours: f64| Simulation { start, ..shop(vec![takes(hours)]) };
    assert_eq!(certain(&from(date!(2026 - 06 - 05), 7.0)), date!(2026 - 06 - 08));
    assert_eq!(certain(&from(date!(2026 - 06 - 05), 6.0)), date!(2026 - 06 - 05));
    assert_eq!(certain(&from(date!(2026 - 06 - 06), 0.5)), date!(2026 - 06 - 08));
    let mut closed = shop(vec![takes(13.0)]);
    closed.calendar.closed =
        vec![ClosedDays { first_day: day(1), last_day: day(1), why: Closed::Holiday, name: "Weir Day".to_owned() }];
    assert_eq!(certain(&closed), day(3));
    // half of today is over
    let late = Simulation { left_today: vec![Some(180)], ..shop(vec![takes(4.0)]) };
    assert_eq!(certain(&late), day(1));
    // and only three quarters of the calendar's hours are worked
    let interrupted = Simulation { worked_shares: vec![0.75], ..shop(vec![takes(5.0)]) };
    assert_eq!(certain(&interrupted), day(1));
}

/// The others go on while a job waits for its part, and it is taken in its turn once the part is there.
#[test]
fn whoever_waits_is_passed_over() {
    let mut waiting = takes(3.0);
    waiting.waits = vec![Wait::Until(day(3))];
    let outlook = looked_ahead(&shop(vec![waiting.clone(), takes(6.0), takes(6.0), takes(6.0), takes(6.0)]));
    let days: Vec<Date> = outlook.jobs.iter().map(|job| job.as_ref().expect("a day").promised_day).collect();
    assert_eq!(days, [day(3), day(0), day(1), day(2), day(4)]);
    // a known day and a past that is drawn: the later counts
    waiting.waits.push(Wait::Like { past: 0, already_days: None });
    let found = last(&shop(vec![waiting]));
    let shares: Vec<(Date, f64)> = found.days.iter().map(|share| (share.day, share.probability)).collect();
    // the third day four times in five, except that of the fourth; ten days on is a Thursday
    assert_eq!(shares.iter().map(|(day, _)| *day).collect::<Vec<_>>(), [day(3), day(4), day(10)]);
    for ((_, share), expected) in shares.into_iter().zip([0.6, 0.2, 0.2]) {
        close(share, expected, 0.015);
    }
    assert_eq!(found.rests_on.waits_known, Some(5));
}

/// One that has waited for three days waits as long as those of the past that took longer; one that has waited
/// longer than any is taken to wait as long again, and the forecast says so.
#[test]
fn a_wait_that_has_begun_lasts_longer_than_it_has() {
    let with = |already_days: Option<u32>| {
        let mut job = takes(1.0);
        job.waits = vec![Wait::Like { past: 0, already_days }];
        last(&shop(vec![job]))
    };
    let found = with(Some(3));
    assert_eq!(found.days.iter().map(|share| share.day).collect::<Vec<_>>(), [day(1), day(7)]);
    close(found.days[0].probability, 0.5, 0.018);
    let longest = with(Some(14));
    assert_eq!((longest.promised_day, longest.rests_on.waits_longer_than_any), (day(14), true));
    assert!(!found.rests_on.waits_longer_than_any);
}

/// Log-normal hours of one job: the share done by each day is the normal distribution's (exact).
#[test]
fn hours_are_log_normal_about_what_is_known() {
    let (spread, error) = (0.4_f64, 0.3_f64);
    let input =
        Simulation { kinds: vec![TrueMinutes { factor: 1.5, ..kind(spread, error) }], ..shop(vec![takes(8.0)]) };
    let found = last(&input);
    for ahead in 0..5_i32 {
        let given = f64::from(ahead + 1) * 6.0;
        let exact = Normal::standard().cdf((given / 12.0).ln() / spread.hypot(error));
        close(found.share_by(day(ahead.into())), exact, 5.0 * (exact * (1.0 - exact) / 20_000.0).sqrt() + 0.001);
    }
    close(found.rests_on.own_minutes, 720.0 * ((spread * spread + error * error) / 2.0_f64).exp(), 8.0);
}

/// What is unsure about a service moves all its jobs together: two jobs of it are late together. Two services
/// are late apart (exact: the sum of two log-normals of one doubt is one of twice the size).
#[test]
fn the_doubt_about_a_service_is_shared_by_its_jobs() {
    let doubt = 0.5_f64;
    let input = |kinds: [usize; 2]| Simulation {
        kinds: vec![kind(0.0, doubt); 2],
        ..shop(kinds.map(|kind| QueuedJob { work: vec![work(kind, 6.0)], ..Default::default() }).to_vec())
    };
    let shared = last(&input([0, 0]));
    for ahead in 0..5_i32 {
        let exact = Normal::standard().cdf((f64::from(ahead + 1) * 6.0 / 12.0).ln() / doubt);
        close(shared.share_by(day(ahead.into())), exact, 0.018);
    }
    let apart = last(&input([0, 1]));
    assert!(apart.share_by(day(0)) < shared.share_by(day(0)) - 0.01, "two rarely both are short");
    assert!(apart.share_by(day(4)) > shared.share_by(day(4)) + 0.01, "two rarely both are long");
}

/// A job in hand: only what lies above the hours spent is possible (exact, by the normal distribution), far out
/// in the tail too.
#[test]
fn hours_spent_count() {
    let spread = 0.5_f64;
    for spent in [3.0_f64, 10.0, 60.0, 2000.0] {
        let mut job = takes(6.0);
        job.work[0].spent_minutes = spent * 60.0;
        let found = last(&Simulation { kinds: vec![kind(spread, 0.0)], ..shop(vec![job]) });
        let above = |hours: f64| Normal::standard().sf((hours / 6.0).ln() / spread);
        let tail = above(spent);
        for ahead in [0, 1, 4] {
            let exact = 1.0 - above(spent + 6.0 * (f64::from(ahead) + 1.0)) / tail;
            if spent < 100.0 {
                close(found.share_by(day(ahead.into())), exact, 0.018);
            }
        }
        // however long: it ends some day, and not at once
        assert!(found.promised_day > MONDAY && found.later_share < 0.1, "{spent}: {found:?}");
    }
    // certain minutes that are used up: a moment more
    let mut over = takes(1.0);
    over.work[0].spent_minutes = 90.0;
    assert_eq!(certain(&shop(vec![over])), MONDAY);
}

#[test]
fn several_people_share_the_queue_and_keep_what_is_theirs() {
    let mut jobs: Vec<QueuedJob> = vec![takes(6.0); 4];
    jobs[1].claim.person = Some(1);
    jobs[2].claim.person = Some(1);
    let days = |jobs: Vec<QueuedJob>| -> Vec<Date> {
        let outlook = looked_ahead(&Simulation { calendar: hours(6.0, 2), draws: 10, ..shop(jobs) });
        outlook.jobs.iter().map(|job| job.as_ref().expect("a day").promised_day).collect()
    };
    assert_eq!(days(jobs.clone()), [day(0), day(0), day(1), day(1)]);
    // what is done after another waits for it, even with a second pair of hands free
    jobs[3].claim = Claim { person: Some(0), after: Some(2) };
    assert_eq!(days(jobs), [day(0), day(0), day(1), day(2)]);
}

#[test]
fn the_same_seed_gives_the_same_answer_and_another_seed_another() {
    let input = |seed: u64| Simulation { kinds: vec![kind(0.4, 0.2)], seed, draws: 500, ..shop(vec![takes(9.0); 5]) };
    assert_eq!(looked_ahead(&input(4)), looked_ahead(&input(4)));
    assert_ne!(looked_ahead(&input(4)), looked_ahead(&input(5)));
    // kept as JSON and read again, question and answer are what they were
    let (asked, told) = (input(4), looked_ahead(&input(4)));
    let kept = serde_json::to_string(&(&asked, &told)).expect("JSON");
    let (again, then): (Simulation, Outlook) = serde_json::from_str(&kept).expect("JSON");
    assert_eq!((&again, &then), (&asked, &told));
}

#[test]
fn a_forecast_says_what_it_rests_on() {
    let mut jobs = vec![takes(2.0), QueuedJob::default(), takes(3.0), takes(5.0), takes(1.0)];
    jobs[2].claim.person = Some(1);
    jobs[4].claim.person = Some(0);
    let found = last(&Simulation { calendar: hours(6.0, 2), ..shop(jobs) }).rests_on;
    assert_eq!((found.jobs_ahead, found.ahead_without_minutes, found.jobs_clocked), (2, 1, 20));
    close(found.minutes_ahead, 7.0 * 60.0, 1e-6);
    close(found.own_minutes, 60.0, 1e-6);
    assert_eq!((found.waits_known, found.ahead_questioned), (None, 0));
}

/// Days whose name cannot be told have words; the others have their days all the same.
#[test]
fn what_is_missing_is_said_job_by_job() {
    let mut jobs = vec![takes(500.0), QueuedJob::default(), takes(6.0), takes(6.0), takes(6.0), takes(6.0), takes(6.0)];
    jobs[0].claim.person = Some(1);
    jobs[3].waits = vec![Wait::Like { past: 1, already_days: None }];
    jobs[4].claim = Claim { person: Some(0), after: Some(3) };
    jobs[5].claim.person = Some(2);
    let mut calendar = hours(6.0, 3);
    calendar.people[2].last_day = Some(day(-3));
    let input = Simulation { calendar, waits: vec![PastWaits::default(); 2], draws: 200, ..shop(jobs) };
    let found = looked_ahead(&input);
    // five hundred hours are far away, and somebody should ask whether they are meant
    assert_eq!(found.questioned, [0]);
    assert_eq!(found.jobs[0].as_ref().map(|found| found.promised_day), Ok(day(116 - 1)));
    assert_eq!(found.jobs[1], Err(NoDay::NoMinutes));
    assert_eq!(found.jobs[2].as_ref().map(|found| found.promised_day), Ok(day(0)));
    assert_eq!(found.jobs[3], Err(NoDay::UnknownWait));
    assert_eq!(found.jobs[4], Err(NoDay::AfterOneWithoutDay(3)));
    assert_eq!(found.jobs[5], Err(NoDay::PersonAway(2)));
    assert_eq!(found.jobs[6].as_ref().map(|found| found.promised_day), Ok(day(1)));
    // ten years are no promise
    let endless = looked_ahead(&Simulation { calendar: hours(0.5, 1), draws: 50, ..shop(vec![takes(9000.0)]) });
    assert_eq!(endless.jobs, [Err(NoDay::TooFar)]);
}

#[test]
fn a_calendar_without_hours_promises_nothing() {
    let none = |calendar: BenchCalendar| looked_ahead(&Simulation { calendar, ..shop(vec![takes(1.0); 2]) }).jobs;
    assert_eq!(none(BenchCalendar::default()), vec![Err(NoDay::NoHours(NoHours::NoPeople)); 2]);
    assert_eq!(none(hours(0.0, 2)), vec![Err(NoDay::NoHours(NoHours::EmptyWeeks)); 2]);
    let mut left = hours(6.0, 1);
    left.people[0].last_day = Some(day(-1));
    assert_eq!(none(left), vec![Err(NoDay::NoHours(NoHours::NobodyFrom(MONDAY))); 2]);
    assert!(looked_ahead(&shop(Vec::new())).jobs.is_empty());
}

#[test]
fn what_cannot_be_is_refused_at_its_place() {
    let mut jobs = vec![takes(1.0), takes(1.0)];
    jobs[0].claim = Claim { person: Some(1), after: Some(0) };
    jobs[1].work = vec![Work { kind: 7, estimate_minutes: f64::NAN, spent_minutes: -1.0 }];
    jobs[1].waits = vec![Wait::Like { past: 3, already_days: None }];
    let mut input = Simulation { worked_shares: vec![0.0], confidence: 1.0, draws: 0, ..shop(jobs) };
    input.calendar.people[0].week_minutes[0] = 5000;
    let faults = simulate(&input).expect_err("faults");
    let places: Vec<&str> = faults.0.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(
        places,
        [
            "/calendar/people/0/week_minutes/0",
            "/worked_shares/0",
            "/confidence",
            "/draws",
            "/jobs/0/claim/person",
            "/jobs/0/claim/after",
            "/jobs/1/work/0/kind",
            "/jobs/1/work/0/estimate_minutes",
            "/jobs/1/work/0/spent_minutes",
            "/jobs/1/waits/0",
        ]
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Whatever the queue: shares are shares, nothing is done on a closed day or before it can begin, and one
    /// pair of hands more makes nobody's certain day later where all may do all.
    #[test]
    fn any_queue_has_days_that_can_be(
        sizes in prop::collection::vec(0.2..20.0_f64, 1..12), begins in prop::collection::vec(0..12_i64, 12),
        spread in 0.0..0.8_f64, a_day in 1..9_u32, seed in any::<u64>(),
    ) {
        let jobs: Vec<QueuedJob> = sizes.iter().zip(&begins).map(|(hours, begin)| QueuedJob {
            waits: vec![Wait::Until(day(*begin))], ..takes(*hours)
        }).collect();
        let input = Simulation {
            calendar: hours(f64::from(a_day), 1), kinds: vec![kind(spread, 0.1)], draws: 60, seed, ..shop(jobs)
        };
        for (job, begin) in looked_ahead(&input).jobs.iter().zip(&begins) {
            let found = job.as_ref().expect("a day");
            let all: f64 = found.days.iter().map(|share| share.probability).sum();
            close(all + found.later_share, 1.0, 1e-9);
            prop_assert!(found.median_day <= found.promised_day && found.promised_share >= 0.9 - 1e-9);
            for share in &found.days {
                prop_assert!(share.day >= day(*begin) && input.calendar.day(0, share.day).minutes > 0);
            }
        }
        let certain = |people: usize| {
            let input = Simulation { calendar: hours(f64::from(a_day), people), kinds: vec![kind(0.0, 0.0)], draws: 1, ..input.clone() };
            looked_ahead(&input).jobs.into_iter().map(|job| job.expect("a day").promised_day).max()
        };
        prop_assert!(certain(sizes.len()) <= certain(1));
    }
}
