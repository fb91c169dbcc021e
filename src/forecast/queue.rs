//! In which order jobs are worked, and why each stands where it stands.
//!
//! The rule: what is in hand first, then *earliest promise first; a quick job goes between when nothing becomes
//! late by it; whoever must wait is passed over*; and what somebody moved by hand stands where it was put.
//!
//! - Earliest promise first keeps the worst lateness least (Jackson 1955). A job without a promise is taken for
//!   promised after the usual days from its check-in, so that it does not wait for ever.
//! - A job that others wait for counts as promised when the most urgent of them is (Lawler, Management Science
//!   19, 1973): a small job that unblocks others comes in time for them.
//! - A quick job goes as far forward as no promised day is broken that would have been kept, and nothing that is
//!   late is a day later; but not in front of what is in hand, was moved by hand, or is quicker still.
//! - Where not all promises can be kept, the fewest are broken by leaving out what Moore and Hodgson (Management
//!   Science 15, 1968) leave out: those are to be telephoned first.
//!
//! Minutes are those to be expected, not drawn: an order has one reason a place. [`super::simulation`] then says
//! how likely each day is.

mod lateness;
mod load;

use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use super::calendar::{BenchCalendar, NoHours};
use super::schedule::{Capacity, Claim, NEVER};
use crate::problem::Problems;
use lateness::{Plan, Planned};

pub use lateness::fewest_late;
pub use load::{WeekLoad, load};

/// Days looked ahead: two years.
const HORIZON_DAYS: usize = 731;
const MOST_JOBS: usize = 1000;
const MOST_MINUTES: f64 = 600_000.0;

/// What the order is made of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QueueInput {
    /// Today.
    #[serde(with = "super::day")]
    pub today: Date,
    /// Who works when.
    pub calendar: BenchCalendar,
    /// Each person's minutes that are left of today, where that is known.
    pub left_today: Vec<Option<u32>>,
    /// Days from check-in by which a job without a promise is taken to be promised.
    pub usual_days: u32,
    /// Minutes up to which a job is quick.
    pub quick_minutes: f64,
    /// The open jobs, in any order: places that are alike keep it.
    pub jobs: Vec<OpenJob>,
}

/// One open job.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OpenJob {
    /// Day of its check-in.
    #[serde(with = "super::day")]
    pub checked_in_on: Date,
    /// Its promise.
    #[serde(with = "super::day::maybe")]
    pub promised_on: Option<Date>,
    /// Minutes still to be expected; `None` where nobody has said what is to be done.
    pub minutes: Option<f64>,
    /// Whether somebody has begun.
    pub in_hand: bool,
    /// Who does it, and after which other job.
    pub claim: Claim,
    /// What it waits for, if not for another job.
    pub waits: Option<Waits>,
    /// Where somebody put it.
    pub moved: Option<Moved>,
}

/// A job that waits for something from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Waits {
    /// Since.
    #[serde(with = "super::day")]
    pub since: Date,
    /// The day from which it can be begun, where that is known.
    #[serde(with = "super::day::maybe")]
    pub until: Option<Date>,
}

/// A place given by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Moved {
    /// In front of all that is not in hand.
    First,
    /// Directly before another.
    Before(usize),
    /// Directly behind another.
    Behind(usize),
}

/// The order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Queue {
    /// The jobs in the order in which they are taken. What waits stands where its turn is once it can be begun:
    /// this is the order to look ahead by.
    pub order: Vec<usize>,
    /// The same as a bench reads it: what can be begun, then what waits, by the day from which it can be.
    pub places: Vec<Place>,
    /// Jobs whose broken promises spare most others: to be telephoned first, the soonest promise first.
    pub telephone_first: Vec<usize>,
    /// Why nothing is planned: there are no hours.
    pub no_hours: Option<NoHours>,
}

/// One place of the order.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Which of the jobs.
    pub job: usize,
    /// Why it stands here.
    pub reason: Reason,
    /// The day on which it is done, as far as can be expected; `None` where nothing can.
    #[serde(with = "super::day::maybe")]
    pub done_on: Option<Date>,
    /// Who does it then.
    pub person: Option<usize>,
    /// Days after its promise: 1 and more is late, 0 on the day itself. `None` without a promise or a day.
    pub days_late: Option<i64>,
}

/// Why a job stands where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Reason {
    /// Somebody has begun it.
    InHand,
    /// Somebody put it there.
    ByHand,
    /// Its promise is the earliest of those behind it.
    Promise {
        /// Days until then; below 0 is past.
        days_left: i64,
    },
    /// It has no promise, and has been here for some time.
    Age {
        /// Days since its check-in.
        days: i64,
        /// Days until it has been here as long as is usual; below 0 is past.
        days_left: i64,
    },
    /// Others wait for it.
    Frees {
        /// How many.
        jobs: usize,
        /// Days until the earliest promise among them.
        days_left: i64,
    },
    /// It is quick, and nothing becomes late by it.
    GoesBetween {
        /// Its minutes.
        minutes: f64,
        /// Jobs it goes in front of.
        jobs: usize,
    },
    /// It waits for something from outside.
    Waits {
        /// Days since.
        days: i64,
        /// Days until it can be begun, where that is known.
        days_left: Option<i64>,
    },
    /// It waits for another job to be done.
    WaitsForJob(usize),
}

/// Puts the open jobs in order.
///
/// # Errors
/// When a number is out of range, a job named is not there, or jobs wait for one another in a circle.
pub fn queue(input: &QueueInput) -> Result<Queue, Problems> {
    check(input)?;
    let capacity = Capacity::new(&input.calendar, input.today, HORIZON_DAYS, &input.left_today);
    let jobs = Ranked::new(input);
    let mut order = jobs.by_promise();
    jobs.move_by_hand(&mut order);
    let mut plan = Plan::new(&capacity, input.jobs.iter().map(|job| planned(input, &capacity, job)).collect());
    let went_between = jobs.let_quick_ones_between(&mut order, &mut plan);
    let slots = plan.slots(&order);
    // what waits stands behind what can be begun, by the day from which it can
    let mut shown = order.clone();
    shown.sort_by_key(|job| jobs.until(*job));
    let place = |job: usize| {
        let slot = slots.get(job).copied();
        let done_on = slot.and_then(|slot| slot.day).map(|ahead| capacity.date(ahead));
        let promised_on = input.jobs.get(job).and_then(|job| job.promised_on);
        Place {
            job,
            reason: went_between.get(job).copied().flatten().unwrap_or_else(|| jobs.reason(job)),
            done_on,
            person: slot.and_then(|slot| slot.person),
            days_late: done_on.zip(promised_on).map(|(done, promised)| (done - promised).whole_days()),
        }
    };
    Ok(Queue {
        order,
        places: shown.into_iter().map(place).collect(),
        telephone_first: plan.telephone_first(&slots),
        no_hours: input.calendar.why_no_hours(input.today, HORIZON_DAYS),
    })
}

fn planned(input: &QueueInput, capacity: &Capacity, job: &OpenJob) -> Planned {
    let begins = match job.waits {
        // nobody knows when, or what is to be done: it takes nobody's time
        Some(Waits { until: None, .. }) => NEVER,
        Some(Waits { until: Some(day), .. }) => capacity.begin_of(day),
        None => 0.0,
    };
    Planned {
        claim: job.claim,
        minutes: job.minutes.unwrap_or(0.0),
        begins: if job.minutes.is_some() { begins } else { NEVER },
        // a promise that is past is late already, by more for each day
        due: job.promised_on.map(|day| (day - input.today).whole_days()),
    }
}

fn check(input: &QueueInput) -> Result<(), Problems> {
    let mut problems = input.calendar.check().err().unwrap_or_default();
    for problem in &mut problems.0 {
        problem.pointer.insert_str(0, "/calendar");
    }
    problems.require((1900..=2200).contains(&input.today.year()), "/today", "must be a day between 1900 and 2200");
    problems.within("/quick_minutes", input.quick_minutes, 0.0, MOST_MINUTES);
    problems.count("/jobs", input.jobs.len(), 0, MOST_JOBS);
    let other = |place: usize, named: Option<usize>| named.is_none_or(|job| job < input.jobs.len() && job != place);
    for (place, job) in input.jobs.iter().enumerate() {
        let at = format!("/jobs/{place}");
        problems.within_if_given(format_args!("{at}/minutes"), job.minutes, 0.0, MOST_MINUTES);
        let person = job.claim.person.is_none_or(|person| person < input.calendar.people.len());
        problems.require(person, format_args!("{at}/claim/person"), "must be one of the calendar's people");
        let after = other(place, job.claim.after);
        problems.require(after, format_args!("{at}/claim/after"), "must be another of the jobs");
        let beside = match job.moved {
            Some(Moved::Before(job) | Moved::Behind(job)) => Some(job),
            Some(Moved::First) | None => None,
        };
        problems.require(other(place, beside), format_args!("{at}/moved"), "must name another of the jobs");
        if after {
            let at = format_args!("{at}/claim/after");
            problems.require(!waits_in_a_circle(input, place), at, "must not wait for a job that waits for it");
        }
    }
    problems.check()
}

fn waits_in_a_circle(input: &QueueInput, place: usize) -> bool {
    let before = |job: usize| input.jobs.get(job).and_then(|job| job.claim.after);
    let mut chain = std::iter::successors(before(place), |job| before(*job)).take(input.jobs.len());
    chain.any(|job| job == place)
}

/// The jobs with the day each counts as promised for.
struct Ranked<'a> {
    input: &'a QueueInput,
    due: Vec<Date>,
    /// Of each job, how many wait for it.
    frees: Vec<usize>,
}

impl<'a> Ranked<'a> {
    fn new(input: &'a QueueInput) -> Self {
        let own: Vec<Date> = input.jobs.iter().map(|job| own_due(input, job)).collect();
        let (mut due, mut frees) = (own.clone(), vec![0; own.len()]);
        for (job, own) in input.jobs.iter().zip(&own) {
            // up the chain of those it waits for; circles were refused
            let before = |place: usize| input.jobs.get(place).and_then(|job| job.claim.after);
            for place in std::iter::successors(job.claim.after, |place| before(*place)) {
                due.get_mut(place).into_iter().for_each(|due| *due = (*due).min(*own));
                frees.get_mut(place).into_iter().for_each(|count| *count += 1);
            }
        }
        Self { input, due, frees }
    }

    fn job(&self, job: usize) -> Option<&OpenJob> {
        self.input.jobs.get(job)
    }

    fn days_left(&self, day: Date) -> i64 {
        (day - self.input.today).whole_days()
    }

    /// In hand first, then by promise; of the same day what frees others, then what has been here longest.
    fn by_promise(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.input.jobs.len()).collect();
        order.sort_by_key(|place| {
            let (job, due) = (self.job(*place), self.due.get(*place).copied());
            let frees = self.frees.get(*place).copied().unwrap_or(0);
            (!self.is_in_hand(*place), due, std::cmp::Reverse(frees), job.map(|job| job.checked_in_on))
        });
        order
    }

    fn is_in_hand(&self, job: usize) -> bool {
        self.job(job).is_some_and(|job| job.in_hand)
    }

    fn is_moved(&self, job: usize) -> bool {
        self.job(job).is_some_and(|job| job.moved.is_some())
    }

    /// Puts each job that was moved where it was put, in order of the list.
    fn move_by_hand(&self, order: &mut Vec<usize>) {
        for (job, moved) in self.input.jobs.iter().enumerate().filter_map(|(job, of)| Some((job, of.moved?))) {
            order.retain(|other| *other != job);
            let beside = |other: usize| order.iter().position(|job| *job == other);
            let place = match moved {
                Moved::First => order.iter().position(|other| !self.is_in_hand(*other)),
                Moved::Before(other) => beside(other),
                Moved::Behind(other) => beside(other).map(|place| place + 1),
            };
            order.insert(place.unwrap_or(order.len()), job);
        }
    }

    /// Lets each quick job go forward, the shortest first. Answers why, by job, where one went.
    fn let_quick_ones_between(&self, order: &mut Vec<usize>, plan: &mut Plan) -> Vec<Option<Reason>> {
        let mut reasons = vec![None; self.input.jobs.len()];
        let mut quick: Vec<(usize, f64)> =
            order.iter().filter_map(|job| Some((*job, self.quick_minutes(*job)?))).collect();
        quick.sort_by(|one, other| one.1.total_cmp(&other.1));
        for (job, minutes) in quick {
            let Some(from) = order.iter().position(|other| *other == job) else {
                continue;
            };
            let went = |other: usize| reasons.get(other).is_some_and(Option::is_some);
            let stays = |other: &usize| self.is_in_hand(*other) || self.is_moved(*other) || went(*other);
            let least = order.iter().take(from).rposition(stays).map_or(0, |place| place + 1);
            let went_to = plan.furthest_forward(order, from, least);
            if went_to < from {
                let passed = order.iter().take(from).skip(went_to).filter(|other| plan.takes_time(**other)).count();
                order.remove(from);
                order.insert(went_to, job);
                reasons
                    .get_mut(job)
                    .into_iter()
                    .for_each(|reason| *reason = Some(Reason::GoesBetween { minutes, jobs: passed }));
            }
        }
        reasons
    }

    /// The minutes of a job that is quick, can be begun, and stands where the rule put it.
    fn quick_minutes(&self, job: usize) -> Option<f64> {
        let of = self.job(job).filter(|of| !of.in_hand && of.moved.is_none() && of.waits.is_none())?;
        of.minutes.filter(|minutes| of.claim.after.is_none() && *minutes <= self.input.quick_minutes)
    }

    /// Where a job stands that waits: behind what can be begun, by its day.
    fn until(&self, job: usize) -> (u8, Option<Date>) {
        match self.job(job) {
            Some(OpenJob { in_hand: true, waits: None, .. }) | None => (0, None),
            Some(OpenJob { waits: Some(Waits { until: Some(day), .. }), .. }) if *day > self.input.today => {
                (1, Some(*day))
            }
            Some(OpenJob { waits: Some(Waits { until: None, .. }), .. }) => (2, None),
            Some(_) => (0, None),
        }
    }

    fn reason(&self, place: usize) -> Reason {
        let (Some(job), Some(due)) = (self.job(place), self.due.get(place)) else {
            return Reason::ByHand;
        };
        let own = own_due(self.input, job);
        let days_here = (self.input.today - job.checked_in_on).whole_days();
        let frees = self.frees.get(place).copied().unwrap_or(0);
        match (job.waits, job.claim.after) {
            (Some(waits), _) if waits.until.is_none_or(|day| day > self.input.today) => Reason::Waits {
                days: (self.input.today - waits.since).whole_days(),
                days_left: waits.until.map(|day| self.days_left(day)),
            },
            _ if job.in_hand => Reason::InHand,
            _ if job.moved.is_some() => Reason::ByHand,
            (_, Some(before)) => Reason::WaitsForJob(before),
            _ if frees > 0 && *due < own => Reason::Frees { jobs: frees, days_left: self.days_left(*due) },
            _ if job.promised_on.is_some() => Reason::Promise { days_left: self.days_left(own) },
            _ => Reason::Age { days: days_here, days_left: self.days_left(own) },
        }
    }
}

/// The day that a job counts as promised for by itself.
fn own_due(input: &QueueInput, job: &OpenJob) -> Date {
    let usual = job.checked_in_on.checked_add(Duration::days(i64::from(input.usual_days)));
    job.promised_on.or(usual).unwrap_or(job.checked_in_on)
}
