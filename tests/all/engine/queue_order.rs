//! The order of the bench: published rules of scheduling, and what a shop wants of them.

use proptest::prelude::*;
use thumbplane::forecast::calendar::{BenchCalendar, NoHours, PersonHours};
use thumbplane::forecast::queue::{
    Moved, OpenJob, Queue, QueueInput, Reason, Waits, WeekLoad, fewest_late, load, queue,
};
use thumbplane::forecast::schedule::Claim;
use time::{Date, Duration, macros::date};

use super::close;

/// A Monday.
const TODAY: Date = date!(2026 - 06 - 01);

fn day(ahead: i64) -> Date {
    TODAY + Duration::days(ahead)
}

/// A bench of one hour a day, Sundays too: its days are hours.
fn one_hour_a_day(people: usize) -> BenchCalendar {
    let hours = PersonHours { week_minutes: [60; 7], ..Default::default() };
    BenchCalendar { people: vec![hours; people], closed: Vec::new() }
}

/// A job of so many hours; `due` is the hour by which it is promised.
fn job(hours: f64, due: i64) -> OpenJob {
    OpenJob {
        checked_in_on: day(-10),
        promised_on: Some(day(due - 1)),
        minutes: Some(hours * 60.0),
        in_hand: false,
        claim: Claim::default(),
        waits: None,
        moved: None,
    }
}

/// On a bench of one hour a day, with jobs up to so many hours called quick.
fn bench(quick_hours: f64, jobs: Vec<OpenJob>) -> QueueInput {
    QueueInput {
        today: TODAY,
        calendar: one_hour_a_day(1),
        left_today: Vec::new(),
        usual_days: 21,
        quick_minutes: quick_hours * 60.0,
        jobs,
    }
}

#[track_caller]
fn ordered(input: &QueueInput) -> Queue {
    queue(input).unwrap_or_else(|faults| panic!("{faults}"))
}

fn jobs_of(queue: &Queue) -> Vec<usize> {
    queue.places.iter().map(|place| place.job).collect()
}

fn reason_of(queue: &Queue, job: usize) -> Reason {
    queue.places.iter().find(|place| place.job == job).expect("a place").reason
}

fn lateness(queue: &Queue) -> Vec<i64> {
    let mut by_job: Vec<(usize, i64)> =
        queue.places.iter().filter_map(|place| Some((place.job, place.days_late?))).collect();
    by_job.sort_unstable();
    by_job.into_iter().map(|(_, late)| late).collect()
}

/// Eight jobs, A to H: hours and due hour.
const EIGHT: [(f64, i64); 8] = [(6.0, 8), (4.0, 9), (5.0, 15), (2.0, 16), (7.0, 20), (3.0, 21), (4.0, 26), (1.0, 27)];

fn eight() -> Vec<OpenJob> {
    EIGHT.iter().map(|(hours, due)| job(*hours, *due)).collect()
}

/// Jackson (1955): earliest due first, with its lateness by hand and by a second program: six late, by six
/// hours at worst; Moore and Hodgson (1968) need break but one, A's.
#[test]
fn the_earliest_promise_comes_first_and_one_call_saves_five() {
    let found = ordered(&bench(0.0, eight()));
    assert_eq!(jobs_of(&found), [0, 1, 2, 3, 4, 5, 6, 7]);
    let late = lateness(&found);
    assert_eq!(late.iter().filter(|late| **late > 0).count(), 6);
    assert_eq!(late.iter().max(), Some(&6));
    assert_eq!(found.telephone_first, [0]);
    assert_eq!(reason_of(&found, 2), Reason::Promise { days_left: 14 });
    // without A all others are in time
    let rest = ordered(&bench(0.0, eight()[1..].to_vec()));
    assert!(lateness(&rest).iter().all(|late| *late <= 0), "{rest:?}");
    assert!(rest.telephone_first.is_empty());
}

/// C's part comes at hour 14: while the others go on five are late, by nine at worst, and all is done after 32
/// hours; a bench that waited for it would need 36 (by hand).
#[test]
fn nobody_idles_for_a_part() {
    let mut jobs = eight();
    jobs[2].waits = Some(Waits { since: day(-3), until: Some(day(14)) });
    let found = ordered(&bench(0.0, jobs));
    let late = lateness(&found);
    assert_eq!((late.iter().filter(|late| **late > 0).count(), late.iter().max()), (5, Some(&9)));
    let last = found.places.iter().filter_map(|place| place.done_on).max();
    assert_eq!(last, Some(day(31)));
    // it stands behind what can be begun, and says since when and until when it waits
    assert_eq!(jobs_of(&found).last(), Some(&2));
    assert_eq!(reason_of(&found, 2), Reason::Waits { days: 3, days_left: Some(14) });
    // and has its turn by its promise once the part is there
    assert_eq!(found.order, [0, 1, 2, 3, 4, 5, 6, 7]);
    // an answer that nobody can date keeps nobody from anything, and has no day
    let mut jobs = eight();
    jobs[2].waits = Some(Waits { since: day(-3), until: None });
    let found = ordered(&bench(0.0, jobs));
    let waiting = found.places.last().expect("a place");
    assert_eq!((waiting.job, waiting.done_on, waiting.days_late), (2, None, None));
    assert_eq!(found.places.iter().filter_map(|place| place.done_on).max(), Some(day(26)));
    // a part that has come is no wait
    let mut jobs = eight();
    jobs[2].waits = Some(Waits { since: day(-3), until: Some(TODAY) });
    assert_eq!(reason_of(&ordered(&bench(0.0, jobs)), 2), Reason::Promise { days_left: 14 });
}

/// Two hours of slack before the first promise: a job of one hour goes in front, one of two more does not.
#[test]
fn a_quick_job_goes_between_when_nothing_becomes_late_by_it() {
    let jobs = vec![job(6.0, 8), job(3.0, 15), job(1.0, 40), job(2.0, 41)];
    let found = ordered(&bench(2.0, jobs.clone()));
    assert_eq!(jobs_of(&found), [2, 0, 3, 1]);
    assert_eq!(reason_of(&found, 2), Reason::GoesBetween { minutes: 60.0, jobs: 2 });
    assert_eq!(reason_of(&found, 3), Reason::GoesBetween { minutes: 120.0, jobs: 1 });
    assert!(lateness(&found).iter().all(|late| *late <= 0));
    // nothing goes in front of what somebody has in hand
    let mut begun = jobs.clone();
    begun[0].in_hand = true;
    let found = ordered(&bench(2.0, begun));
    assert_eq!(jobs_of(&found), [0, 2, 3, 1]);
    assert_eq!(reason_of(&found, 0), Reason::InHand);
    // and what is late already is not made later
    let found = ordered(&bench(2.0, vec![job(6.0, 3), job(1.0, 40)]));
    assert_eq!(jobs_of(&found), [0, 1]);
    // on a day with room for both there is nothing to gain
    let mut roomy = bench(2.0, vec![job(2.0, 1), job(1.0, 1)]);
    roomy.calendar.people[0].week_minutes = [480; 7];
    assert_eq!(reason_of(&ordered(&roomy), 1), Reason::Promise { days_left: 0 });
}

/// Lawler (1973): what others wait for is as urgent as the most urgent of them.
#[test]
fn a_small_job_that_unblocks_others_comes_in_time_for_them() {
    // the jig of job 3 is needed for job 1, and job 1 for job 2
    let mut jobs = vec![job(4.0, 12), job(2.0, 9), job(1.0, 30), job(1.0, 60)];
    jobs[1].claim.after = Some(3);
    jobs[2].claim.after = Some(1);
    let found = ordered(&bench(0.0, jobs));
    assert_eq!(jobs_of(&found), [3, 1, 0, 2]);
    assert_eq!(reason_of(&found, 3), Reason::Frees { jobs: 2, days_left: 8 });
    assert_eq!(reason_of(&found, 1), Reason::WaitsForJob(3));
    let done = |job: usize| found.places.iter().find(|place| place.job == job).and_then(|place| place.done_on);
    assert_eq!((done(3), done(1)), (Some(day(0)), Some(day(2))));
    // with two at the bench the second does not begin what waits for the first
    let mut jobs = vec![job(3.0, 60), job(2.0, 9)];
    jobs[1].claim.after = Some(0);
    let found = ordered(&QueueInput { calendar: one_hour_a_day(2), ..bench(0.0, jobs) });
    assert_eq!(found.places[1].done_on, Some(day(4)));
}

#[test]
fn a_job_without_a_promise_is_not_forgotten() {
    let mut jobs = vec![job(1.0, 20), job(1.0, 5), job(1.0, 5)];
    // here for ten days and ten days before the usual three weeks are over; and one that came today
    jobs[1].promised_on = None;
    jobs[2].promised_on = None;
    jobs[2].checked_in_on = TODAY;
    let found = ordered(&bench(0.0, jobs));
    assert_eq!(jobs_of(&found), [1, 0, 2]);
    assert_eq!(reason_of(&found, 1), Reason::Age { days: 10, days_left: 11 });
    assert_eq!(found.places[0].days_late, None);
}

#[test]
fn what_was_moved_by_hand_stands_where_it_was_put() {
    let mut jobs = eight();
    jobs[6].moved = Some(Moved::First);
    jobs[0].moved = Some(Moved::Behind(3));
    jobs[4].moved = Some(Moved::Before(1));
    let found = ordered(&bench(1.0, jobs.clone()));
    assert_eq!(jobs_of(&found), [6, 4, 1, 2, 3, 0, 5, 7]);
    assert_eq!(reason_of(&found, 6), Reason::ByHand);
    // the quick one, H, does not pass it: all behind A are late already
    assert_eq!(reason_of(&found, 7), Reason::Promise { days_left: 26 });
    // what is in hand stays in hand
    jobs[5].in_hand = true;
    assert_eq!(jobs_of(&ordered(&bench(1.0, jobs)))[..2], [5, 6]);
}

#[test]
fn everybody_has_their_own_jobs_and_takes_from_the_rest() {
    let mut jobs = vec![job(4.0, 4), job(2.0, 5), job(2.0, 6), job(1.0, 7)];
    jobs[0].claim.person = Some(1);
    jobs[2].claim.person = Some(1);
    let found = ordered(&QueueInput { calendar: one_hour_a_day(2), ..bench(0.0, jobs) });
    let by: Vec<(usize, Option<usize>, Option<Date>)> =
        found.places.iter().map(|place| (place.job, place.person, place.done_on)).collect();
    assert_eq!(
        by,
        [
            (0, Some(1), Some(day(3))),
            (1, Some(0), Some(day(1))),
            (2, Some(1), Some(day(5))),
            (3, Some(0), Some(day(2)))
        ]
    );
}

#[test]
fn what_is_missing_is_said_and_the_rest_is_worked_out() {
    let mut jobs = vec![job(1.0, 5), job(1.0, 6), job(1.0, 7)];
    jobs[0].minutes = None;
    let found = ordered(&bench(0.0, jobs.clone()));
    assert_eq!(found.places.iter().map(|place| place.done_on).collect::<Vec<_>>(), [None, Some(day(0)), Some(day(1))]);
    // somebody who left has no day to give
    let mut calendar = one_hour_a_day(2);
    calendar.people[1].last_day = Some(day(-1));
    jobs[1].claim.person = Some(1);
    let found = ordered(&QueueInput { calendar, ..bench(0.0, jobs.clone()) });
    assert_eq!(found.no_hours, None);
    assert_eq!(found.places.iter().map(|place| place.done_on).collect::<Vec<_>>(), [None, None, Some(day(0))]);
    // nobody works at all: an order, and no days
    let found = ordered(&QueueInput { calendar: BenchCalendar::default(), ..bench(1.0, vec![job(1.0, 5)]) });
    assert_eq!((found.no_hours, found.places[0].done_on), (Some(NoHours::NoPeople), None));
    assert!(ordered(&bench(1.0, Vec::new())).places.is_empty());
}

#[test]
fn what_cannot_be_is_refused_at_its_place() {
    let mut jobs = vec![job(1.0, 5), job(1.0, 6), job(1.0, 7), job(1.0, 8)];
    jobs[0].claim.after = Some(1);
    jobs[1].claim.after = Some(0);
    jobs[2].claim = Claim { person: Some(3), after: Some(2) };
    jobs[3].moved = Some(Moved::Behind(9));
    jobs[3].minutes = Some(f64::NAN);
    let faults = queue(&bench(0.0, jobs)).expect_err("faults");
    let places: Vec<&str> = faults.0.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(
        places,
        [
            "/jobs/0/claim/after",
            "/jobs/1/claim/after",
            "/jobs/2/claim/person",
            "/jobs/2/claim/after",
            "/jobs/3/minutes",
            "/jobs/3/moved"
        ]
    );
}

/// By hand: 24 hours promised for the first week and the one before against ten that are left of it.
#[test]
fn load_stands_against_capacity_week_by_week() {
    let mut jobs = vec![job(4.0, -2), job(20.0, 5), job(3.0, 10), job(8.0, 40)];
    jobs[2].claim.person = Some(1);
    let hours = |minutes: u32| PersonHours {
        week_minutes: [minutes, minutes, minutes, minutes, minutes, 0, 0],
        ..Default::default()
    };
    let input = QueueInput {
        // on Thursday, an hour of which is over
        today: day(3),
        calendar: BenchCalendar { people: vec![hours(240), hours(120)], closed: Vec::new() },
        left_today: vec![Some(180), None],
        ..bench(0.0, jobs)
    };
    let rows = load(&input, 2);
    let row = |person: Option<usize>, week: usize| -> WeekLoad {
        *rows.iter().filter(|row| row.person == person).nth(week).expect("a row")
    };
    assert_eq!(rows.len(), 6);
    assert_eq!(row(None, 0).monday, TODAY);
    for (row, capacity, promised, short) in [
        (row(None, 0), 7.0 + 4.0, 24.0, 13.0),
        (row(None, 1), 30.0, 3.0, 0.0),
        (row(Some(1), 0), 4.0, 0.0, 0.0),
        (row(Some(1), 1), 10.0, 3.0, 0.0),
    ] {
        close(row.capacity_minutes, capacity * 60.0, 1e-9);
        close(row.promised_minutes, promised * 60.0, 1e-9);
        close(row.short_minutes, short * 60.0, 1e-9);
    }
}

/// Every order of a few things.
fn orders(of: usize) -> Vec<Vec<usize>> {
    if of == 0 {
        return vec![Vec::new()];
    }
    let with = |shorter: Vec<usize>| {
        (0..of).map(move |place| {
            let mut order = shorter.clone();
            order.insert(place, of - 1);
            order
        })
    };
    orders(of - 1).into_iter().flat_map(with).collect()
}

fn worst_and_late(jobs: &[(f64, i64)], order: &[usize]) -> (i64, usize) {
    let mut end = 0.0;
    let late: Vec<i64> = order
        .iter()
        .map(|job| {
            end += jobs[*job].0;
            format!("{end}").parse::<i64>().expect("whole hours") - jobs[*job].1
        })
        .collect();
    (late.iter().copied().max().unwrap_or(i64::MIN), late.iter().filter(|late| **late > 0).count())
}

fn any_jobs(most: usize) -> impl Strategy<Value = Vec<(f64, i64)>> {
    prop::collection::vec((1..8_i32, 1..30_i64), 1..most)
        .prop_map(|jobs| jobs.into_iter().map(|(hours, due)| (f64::from(hours), due)).collect())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Of all orders none has a smaller worst lateness, and none breaks fewer promises than are telephoned.
    #[test]
    fn no_order_does_better(jobs in any_jobs(7)) {
        let found = ordered(&bench(0.0, jobs.iter().map(|(hours, due)| job(*hours, *due)).collect()));
        let all: Vec<(i64, usize)> = orders(jobs.len()).iter().map(|order| worst_and_late(&jobs, order)).collect();
        prop_assert_eq!(lateness(&found).into_iter().max(), all.iter().map(|(worst, _)| *worst).min());
        prop_assert_eq!(Some(found.telephone_first.len()), all.iter().map(|(_, late)| *late).min());
        let by_due = |mut jobs: Vec<(f64, i64)>| { jobs.sort_by_key(|(_, due)| *due); jobs };
        let in_hours: Vec<(f64, f64)> = by_due(jobs).iter().map(|(hours, due)| (*hours, f64::from(i32::try_from(*due).unwrap()))).collect();
        prop_assert_eq!(fewest_late(&in_hours).len(), found.telephone_first.len());
    }

    /// Quick jobs go between without harm; each job has one place; what is in hand stands in front.
    #[test]
    fn going_between_harms_no_promise(
        jobs in any_jobs(14), people in 1..4_usize, quick in 1.0..4.0_f64, begun in 0..3_usize,
        waiting in prop::collection::vec(prop::option::of(1..20_i64), 14), whose in prop::collection::vec(0..6_usize, 14),
        after in prop::collection::vec(0..40_usize, 14),
    ) {
        let mut jobs: Vec<OpenJob> = jobs.iter().map(|(hours, due)| job(*hours, *due)).collect();
        for (place, job) in jobs.iter_mut().enumerate() {
            job.in_hand = place < begun;
            job.claim.person = (whose[place] < people).then_some(whose[place]);
            job.waits = waiting[place].filter(|_| place % 3 == 0).map(|until| Waits { since: day(-1), until: Some(day(until)) });
            job.claim.after = (after[place] < place).then_some(after[place]);
        }
        let with = |quick: f64| ordered(&QueueInput { calendar: one_hour_a_day(people), ..bench(quick, jobs.clone()) });
        let (strict, between) = (with(0.0), with(quick));
        for (before, now) in lateness(&strict).iter().zip(lateness(&between)) {
            prop_assert!(now <= (*before).max(0), "{} days late, {} before", now, before);
        }
        let mut all = jobs_of(&between);
        all.sort_unstable();
        prop_assert_eq!(all, (0..jobs.len()).collect::<Vec<_>>());
        for place in &between.places {
            if let Reason::GoesBetween { minutes, .. } = place.reason {
                prop_assert!(minutes <= quick * 60.0);
            }
        }
    }
}
