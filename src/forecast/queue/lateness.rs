//! What becomes late in which order.

use crate::forecast::schedule::{Capacity, Claim, Slot, Walk};

/// A job as the plan sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Planned {
    pub(super) claim: Claim,
    pub(super) minutes: f64,
    /// The moment from which it can be begun, in days ahead.
    pub(super) begins: f64,
    /// The day it is promised for, in days ahead; below 0 is past.
    pub(super) due: Option<i64>,
}

/// The jobs, and everybody's hours.
pub(super) struct Plan<'a> {
    capacity: &'a Capacity,
    jobs: Vec<Planned>,
}

impl<'a> Plan<'a> {
    pub(super) fn new(capacity: &'a Capacity, jobs: Vec<Planned>) -> Self {
        Self { capacity, jobs }
    }

    /// Whether a job takes anybody's time at all, as far as is known.
    pub(super) fn takes_time(&self, job: usize) -> bool {
        self.jobs.get(job).is_some_and(|job| job.begins.is_finite())
    }

    /// When each job is done in an order; by job.
    pub(super) fn slots(&self, order: &[usize]) -> Vec<Slot> {
        let mut place_of = vec![None; self.jobs.len()];
        for (place, job) in order.iter().enumerate() {
            place_of.get_mut(*job).into_iter().for_each(|of| *of = Some(place));
        }
        let in_order = || order.iter().filter_map(|job| self.jobs.get(*job));
        let place = |job: usize| place_of.get(job).copied().flatten();
        let claims: Vec<Claim> =
            in_order().map(|job| Claim { after: job.claim.after.and_then(place), ..job.claim }).collect();
        let minutes: Vec<f64> = in_order().map(|job| job.minutes).collect();
        let begins: Vec<f64> = in_order().map(|job| job.begins).collect();
        let mut walk = Walk::new(self.capacity, &claims);
        let slots = walk.hand_out(&minutes, &begins);
        let of = |job: usize| place(job).and_then(|place| slots.get(place)).copied().unwrap_or(Slot::UNDONE);
        (0..self.jobs.len()).map(of).collect()
    }

    /// The furthest place forward, not before `least`, to which the job at `from` can go without harm, and from
    /// which it is done on an earlier day; `from` where there is none. Places are halved, because what does harm
    /// at one place mostly does it further forward too; the place answered was tried itself.
    pub(super) fn furthest_forward(&self, order: &[usize], from: usize, least: usize) -> usize {
        let Some(job) = order.get(from).copied() else {
            return from;
        };
        let before = self.slots(order);
        let gained =
            |slots: &[Slot]| slots.get(job).zip(before.get(job)).is_some_and(|(now, then)| is_before(now, then));
        let tried = |place: usize| {
            let mut order = order.to_vec();
            order.remove(from);
            order.insert(place, job);
            self.slots(&order)
        };
        let (mut least, mut good, mut slots_of_good) = (least, from, None);
        while least < good {
            let place = usize::midpoint(least, good);
            let slots = tried(place);
            if self.does_no_harm(job, &before, &slots) {
                (good, slots_of_good) = (place, Some(slots));
            } else {
                least = place + 1;
            }
        }
        if slots_of_good.is_some_and(|slots| gained(&slots)) { good } else { from }
    }

    /// Whether no other promise is broken that was kept, and none that was broken by a day more.
    fn does_no_harm(&self, moved: usize, before: &[Slot], after: &[Slot]) -> bool {
        let days = |slots: &[Slot], job: usize| slots.get(job).and_then(|slot| slot.day).map_or(i64::MAX, i64::from);
        self.jobs
            .iter()
            .enumerate()
            .filter(|(job, _)| *job != moved)
            .all(|(job, planned)| planned.due.is_none_or(|due| days(after, job) <= due.max(days(before, job))))
    }

    /// The jobs to telephone first: for each person the fewest that have to be late.
    pub(super) fn telephone_first(&self, slots: &[Slot]) -> Vec<usize> {
        let mut dropped = Vec::new();
        for person in 0..self.capacity.people() {
            let promised = self.jobs.iter().zip(slots).enumerate().filter_map(|(job, (planned, slot))| {
                let due = planned.due.filter(|_| slot.person == Some(person))?;
                Some((job, due, planned.minutes))
            });
            let mut promised: Vec<(usize, i64, f64)> = promised.collect();
            promised.sort_by_key(|(_, due, _)| *due);
            let until = |due: i64| {
                u32::try_from(due).map_or(0.0, |ahead| self.capacity.minutes_until(person, self.capacity.date(ahead)))
            };
            let hours: Vec<(f64, f64)> = promised.iter().map(|(_, due, minutes)| (*minutes, until(*due))).collect();
            dropped.extend(fewest_late(&hours).into_iter().filter_map(|place| promised.get(place)).copied());
        }
        dropped.sort_by_key(|(_, due, _)| *due);
        dropped.into_iter().map(|(job, ..)| job).collect()
    }
}

fn is_before(one: &Slot, other: &Slot) -> bool {
    one.day.is_some_and(|day| other.day.is_none_or(|other| day < other))
}

/// Of jobs on one bench, each with what it takes and when it is due, in order of their dues: the fewest that are
/// late, by their places in rising order (Moore and Hodgson, Management Science 15, 1968). Whenever the next job
/// would be late, the longest so far is left out.
pub fn fewest_late(jobs: &[(f64, f64)]) -> Vec<usize> {
    let (mut kept, mut dropped): (Vec<usize>, Vec<usize>) = (Vec::new(), Vec::new());
    let mut end = 0.0;
    let takes = |place: usize| jobs.get(place).map_or(0.0, |(takes, _)| *takes);
    for (place, (own, due)) in jobs.iter().enumerate() {
        kept.push(place);
        end += own;
        if end > due + 1e-6 {
            let longest = kept.iter().enumerate().max_by(|one, other| takes(*one.1).total_cmp(&takes(*other.1)));
            if let Some(at) = longest.map(|(at, _)| at) {
                let left_out = kept.remove(at);
                end -= takes(left_out);
                dropped.push(left_out);
            }
        }
    }
    dropped.sort_unstable();
    dropped
}
