//! Who does which job when: jobs in bench order, handed to whoever is free.
//!
//! Each person takes the first job of the order that is theirs or anybody's and can be begun, works it through
//! to its end, and takes the next. Nobody idles while there is something to begin: a job that waits is passed
//! over until it can be begun, and then is taken in its turn.

use serde::{Deserialize, Serialize};
use time::{Date, Duration};

use super::calendar::BenchCalendar;

/// A rounding hair, minutes.
const HAIR: f64 = 1e-6;
/// The moment of what never happens, or not within the days looked at.
pub const NEVER: f64 = f64::INFINITY;

/// Everybody's minutes, day by day from a first day on.
#[derive(Debug, Clone, PartialEq)]
pub struct Capacity {
    start: Date,
    people: Vec<Vec<Day>>,
}

/// A day of one person. Behind the last day looked at stands one without an end, so that a walk needs no other
/// mark to stop at.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Day {
    /// Minutes of all days before it.
    before: f64,
    /// Minutes up to and with it.
    until: f64,
    /// The part of the day that a minute is; 0 on a day without minutes.
    part: f64,
}

const BEYOND: Day = Day { before: 0.0, until: f64::INFINITY, part: 0.0 };

/// What of a job decides when it is done.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claim {
    /// Who does it; `None` is whoever is free.
    pub person: Option<usize>,
    /// The job that must be done before it, by its place in the list.
    pub after: Option<usize>,
}

impl Capacity {
    /// Of a calendar, for so many days from `start` on. Of the first day a part may be over: `left_today` has
    /// each person's minutes that are left of it, where they are known.
    pub fn new(calendar: &BenchCalendar, start: Date, days: usize, left_today: &[Option<u32>]) -> Self {
        let mut people = calendar.minutes_from(start, days);
        for (minutes, left) in people.iter_mut().zip(left_today) {
            if let (Some(today), Some(left)) = (minutes.first_mut(), left) {
                *today = (*today).min(*left);
            }
        }
        Self { start, people: people.iter().map(|minutes| summed(minutes)).collect() }
    }

    /// How many people.
    pub fn people(&self) -> usize {
        self.people.len()
    }

    /// The day that lies so many days ahead.
    pub fn date(&self, ahead: u32) -> Date {
        self.start.checked_add(Duration::days(i64::from(ahead))).unwrap_or(self.start)
    }

    /// The moment at which a day begins; 0 for the past.
    pub fn begin_of(&self, day: Date) -> f64 {
        u32::try_from((day - self.start).whole_days()).map_or(0.0, f64::from)
    }

    /// A person's minutes until the end of a day; none before the first.
    pub fn minutes_until(&self, person: usize, day: Date) -> f64 {
        let (Some(days), Ok(ahead)) = (self.people.get(person), usize::try_from((day - self.start).whole_days()))
        else {
            return 0.0;
        };
        let last = days.len().saturating_sub(2);
        days.get(ahead.min(last)).map_or(0.0, |day| day.until)
    }

    /// Whether a person has any hours.
    pub fn has_hours(&self, person: usize) -> bool {
        self.people.get(person).is_some_and(|days| days.iter().any(|day| day.part > 0.0))
    }
}

fn summed(minutes: &[u32]) -> Vec<Day> {
    let mut before = 0.0;
    let days = minutes.iter().map(|minutes| {
        let minutes = f64::from(*minutes);
        let until = before + minutes;
        let day = Day { before, until, part: if minutes > 0.0 { 1.0 / minutes } else { 0.0 } };
        before = until;
        day
    });
    days.chain([BEYOND]).collect()
}

/// When a job is done, and by whom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    /// Days ahead on which it ends; `None` beyond the days looked at.
    pub day: Option<u32>,
    /// Who does it.
    pub person: Option<usize>,
    /// The moment it ends: days ahead, and the share of that day's minutes.
    pub end: f64,
}

impl Slot {
    /// Of what is never done.
    pub const UNDONE: Self = Self { day: None, person: None, end: NEVER };
}

/// The walk through the order; kept between draws, so that nothing is made anew for each.
///
/// Sets of jobs are bits, the first job of the order the lowest: who is free finds the next job by counting
/// zeros. The moments at which somebody is free never run back, so what can be begun stays so until it is.
#[derive(Debug)]
pub struct Walk<'a> {
    capacity: &'a Capacity,
    claims: &'a [Claim],
    /// The jobs that each person may do.
    may_do: Vec<Vec<u64>>,
    /// The jobs that can be begun.
    ready: Vec<u64>,
    /// Those that cannot yet, with the moment from which they can.
    waiting: Vec<(f64, usize)>,
    people: Vec<At>,
    slots: Vec<Slot>,
    /// Whether any job is done after another: mostly none.
    has_after: bool,
}

/// Where a person stands.
#[derive(Debug, Clone, Copy)]
struct At {
    /// Minutes given so far.
    given: f64,
    day: usize,
    /// Days ahead, and the share of the day's minutes that is over; [`NEVER`] when all days are.
    moment: f64,
    /// Whether there was nothing to wait for: a job done by another may bring some.
    at_rest: bool,
}

impl<'a> Walk<'a> {
    /// For jobs in bench order with these claims.
    pub fn new(capacity: &'a Capacity, claims: &'a [Claim]) -> Self {
        let words = claims.len().div_ceil(64);
        let may_do = |person: usize| {
            let mut set = vec![0; words];
            for (job, claim) in claims.iter().enumerate() {
                if claim.person.is_none_or(|whose| whose == person) {
                    put(&mut set, job);
                }
            }
            set
        };
        Self {
            capacity,
            claims,
            may_do: (0..capacity.people()).map(may_do).collect(),
            ready: vec![0; words],
            waiting: Vec::with_capacity(claims.len()),
            people: Vec::with_capacity(capacity.people()),
            slots: vec![Slot::UNDONE; claims.len()],
            has_after: claims.iter().any(|claim| claim.after.is_some()),
        }
    }

    /// Hands the jobs out. `minutes` is what each takes, `begins` the moment before which it cannot be begun, in
    /// days ahead. Answers when each is done.
    pub fn hand_out(&mut self, minutes: &[f64], begins: &[f64]) -> &[Slot] {
        self.slots.fill(Slot::UNDONE);
        self.ready.fill(0);
        self.waiting.clear();
        for (job, (begin, claim)) in begins.iter().zip(self.claims).enumerate() {
            match claim.after {
                None if *begin <= 0.0 => put(&mut self.ready, job),
                None => self.waiting.push((*begin, job)),
                // it is told when it can be begun by the job before it
                Some(_) => {}
            }
        }
        self.people.clear();
        self.people.extend(self.capacity.people.iter().map(|days| standing(days, 0.0, 0)));
        let mut next_ready = self.soonest(None);
        while let Some((person, moment)) = self.first_free() {
            if next_ready <= moment {
                self.make_ready(moment);
                next_ready = self.soonest(None);
            }
            match self.first_ready(person) {
                Some(job) => {
                    self.work(person, job, minutes.get(job).copied().unwrap_or(0.0));
                    if self.has_after {
                        self.release_after(job, begins);
                        next_ready = self.soonest(None);
                    }
                }
                None => self.wait(person),
            }
        }
        &self.slots
    }

    /// Whoever is free first, and when.
    fn first_free(&self) -> Option<(usize, f64)> {
        let mut first = (0, NEVER);
        for (person, at) in self.people.iter().enumerate() {
            if at.moment < first.1 {
                first = (person, at.moment);
            }
        }
        (first.1 < NEVER).then_some(first)
    }

    /// The first job of the order that a person may do and that can be begun.
    fn first_ready(&self, person: usize) -> Option<usize> {
        let may_do = self.may_do.get(person)?;
        let words = self.ready.iter().zip(may_do).map(|(ready, may)| ready & may).enumerate();
        let (word, found) = words.into_iter().find(|(_, both)| *both != 0)?;
        Some(word * 64 + usize::try_from(found.trailing_zeros()).ok()?)
    }

    fn make_ready(&mut self, moment: f64) {
        let ready = &mut self.ready;
        self.waiting.retain(|(begin, job)| {
            if *begin <= moment {
                put(ready, *job);
            }
            *begin > moment
        });
    }

    /// The soonest moment at which a waiting job can be begun, by anybody or by one person.
    fn soonest(&self, person: Option<usize>) -> f64 {
        let may = |job: usize| person.is_none_or(|person| self.may_do.get(person).is_some_and(|set| holds(set, job)));
        self.waiting.iter().filter(|(_, job)| may(*job)).fold(NEVER, |soonest, (begin, _)| soonest.min(*begin))
    }

    /// The jobs that are done after one can be begun once it ends.
    fn release_after(&mut self, done: usize, begins: &[f64]) {
        let end = self.slots.get(done).map_or(NEVER, |slot| slot.end);
        let released = self.claims.iter().zip(begins).enumerate().filter(|(_, (claim, _))| claim.after == Some(done));
        self.waiting.extend(released.map(|(job, (_, begin))| (end.max(*begin), job)));
        for person in 0..self.people.len() {
            if self.people.get(person).is_some_and(|at| at.at_rest) {
                self.wait(person);
            }
        }
    }

    fn work(&mut self, person: usize, job: usize, minutes: f64) {
        take(&mut self.ready, job);
        let (Some(at), Some(slot), Some(days)) =
            (self.people.get_mut(person), self.slots.get_mut(job), self.capacity.people.get(person))
        else {
            return;
        };
        let given = at.given + minutes;
        let mut day = at.day;
        while days.get(day).is_some_and(|day| day.until < given - HAIR) {
            day += 1;
        }
        *at = standing(days, given, day);
        *slot = match u32::try_from(day) {
            // what ends with the day ends on it, though the next begins on the following
            Ok(ahead) if day + 1 < days.len() => {
                Slot { day: Some(ahead), person: Some(person), end: at.moment.min(f64::from(ahead) + 1.0) }
            }
            _ => Slot { person: Some(person), ..Slot::UNDONE },
        };
    }

    /// Does nothing until something can be begun; for good, where nothing ever can.
    fn wait(&mut self, person: usize) {
        let until = self.soonest(Some(person));
        if let (Some(at), Some(days)) = (self.people.get_mut(person), self.capacity.people.get(person)) {
            *at = At { at_rest: until == NEVER, ..standing_at(days, until) };
        }
    }
}

/// Where somebody stands who gave so many minutes and is on `day` or later: on the first day with minutes left.
fn standing(days: &[Day], given: f64, mut day: usize) -> At {
    while days.get(day).is_some_and(|day| day.until <= given + HAIR) {
        day += 1;
    }
    let moment = match days.get(day) {
        Some(of) if day + 1 < days.len() => as_number(day) + (given - of.before).max(0.0) * of.part,
        _ => NEVER,
    };
    At { given, day, moment, at_rest: false }
}

/// Where somebody stands who did nothing until a moment.
fn standing_at(days: &[Day], moment: f64) -> At {
    let last = days.len().saturating_sub(1);
    let day = if moment < as_number(last) { whole(moment) } else { last };
    let Some(of) = days.get(day).filter(|_| day < last) else {
        return At { given: 0.0, day, moment: NEVER, at_rest: false };
    };
    let at = standing(days, of.before + (of.until - of.before) * moment.fract(), day);
    // never before the moment itself, or the wait would begin anew
    At { moment: at.moment.max(moment), ..at }
}

fn put(set: &mut [u64], job: usize) {
    set.get_mut(job / 64).into_iter().for_each(|word| *word |= 1 << (job % 64));
}

fn take(set: &mut [u64], job: usize) {
    set.get_mut(job / 64).into_iter().for_each(|word| *word &= !(1 << (job % 64)));
}

fn holds(set: &[u64], job: usize) -> bool {
    set.get(job / 64).is_some_and(|word| word & (1 << (job % 64)) != 0)
}

fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a moment within the days looked at")]
fn whole(moment: f64) -> usize {
    moment as usize
}
