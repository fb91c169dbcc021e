//! The days on which the jobs of a queue may be done, by simulation over the bench calendar.
//!
//! Each draw gives every job minutes and every wait an end, and hands the jobs out in bench order to whoever is
//! free ([`super::schedule`]): a job that waits is passed over and the others go on. The promise is the first
//! day by which the stated share of draws was done. Same input and seed, same answer.
//!
//! - Minutes are log-normal about what is known of each service ([`super::minutes::TrueMinutes`]): what is unsure about the
//!   service is drawn once for all its jobs, how jobs scatter is drawn for each. Of a job in hand only what lies
//!   above the minutes already spent on it is possible.
//! - A wait lasts as one of the past did; one that has begun, as one that lasted longer than it does already.
//! - The calendar's minutes count as far as they were worked in a past week, drawn once for all.
//!
//! What it does not know: jobs that are still to come and are put in front, and work that is found only once an
//! instrument lies open.

mod chance;
mod input;
mod minutes;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use serde::{Deserialize, Serialize};
use time::Date;

use super::calendar::NoHours;
use super::ends::Ends;
use super::schedule::{Capacity, Claim, NEVER, Walk};
use crate::problem::Problems;
use chance::pick;
use input::check;
use minutes::JobMinutes;

pub use super::ends::DayShare;
pub use input::{PastWaits, QueuedJob, Simulation, Wait, Work};

/// Days looked ahead: mostly a year is enough, beyond ten years nothing is promised.
const HORIZONS_DAYS: [usize; 2] = [366, 3660];
/// Minutes of a job from which on somebody should ask whether they are meant: two working weeks. Our own choice.
pub const QUESTIONED_MINUTES: f64 = 4800.0;

/// The days of every job of a queue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlook {
    /// In the order of the jobs.
    pub jobs: Vec<Result<DayForecast, NoDay>>,
    /// Jobs whose minutes are so many that somebody should ask whether they are meant.
    pub questioned: Vec<usize>,
}

/// The days of one job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DayForecast {
    /// Days on which it may be done, with their shares.
    pub days: Vec<DayShare>,
    /// Share of draws that was not done within ten years.
    pub later_share: f64,
    /// The day by which half of the draws were done.
    #[serde(with = "super::day")]
    pub median_day: Date,
    /// The day by which the stated share was done.
    #[serde(with = "super::day")]
    pub promised_day: Date,
    /// The share that was done by then.
    pub promised_share: f64,
    /// What it rests on.
    pub rests_on: RestsOn,
}

/// What a forecast rests on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RestsOn {
    /// Jobs before it in the order that take somebody's time.
    pub jobs_ahead: usize,
    /// Their minutes on average.
    pub minutes_ahead: f64,
    /// Its own, on average.
    pub own_minutes: f64,
    /// Jobs clocked of the kind of its work that is known least.
    pub jobs_clocked: usize,
    /// Past waits of the kind of its waits that is known least; `None` where it waits for nothing, or for a day.
    pub waits_known: Option<usize>,
    /// Whether it waits longer already than any before it: it is then taken to wait as long again.
    pub waits_longer_than_any: bool,
    /// Jobs before it of which nobody said what is to be done: they count as nothing.
    pub ahead_without_minutes: usize,
    /// Jobs before it whose minutes are to be questioned.
    pub ahead_questioned: usize,
}

/// Why there is no day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum NoDay {
    /// The calendar gives nobody any hours.
    NoHours(NoHours),
    /// Whoever does it has no hours within a year.
    PersonAway(usize),
    /// Nobody has said what is to be done, or how long it takes.
    NoMinutes,
    /// It waits for something of which no past is known.
    UnknownWait,
    /// It is done after another that has no day.
    AfterOneWithoutDay(usize),
    /// Not within ten years, as often as stated.
    TooFar,
}

impl DayForecast {
    /// How likely it is done by a day.
    pub fn share_by(&self, day: Date) -> f64 {
        self.days.iter().take_while(|share| share.day <= day).map(|share| share.probability).sum()
    }
}

/// Looks ahead.
///
/// # Errors
/// When a number is out of range or a place in a list is not there. What is merely missing is told job by job.
pub fn simulate(input: &Simulation) -> Result<Outlook, Problems> {
    check(input)?;
    let [year, ten_years] = HORIZONS_DAYS;
    let outlook = Drawn::new(input, &Capacity::new(&input.calendar, input.start, year, &input.left_today)).outlook();
    if !outlook.reaches_beyond() {
        return Ok(outlook);
    }
    if let Some(why) = input.calendar.why_no_hours(input.start, ten_years) {
        return Ok(Outlook { jobs: vec![Err(NoDay::NoHours(why)); input.jobs.len()], questioned: Vec::new() });
    }
    Ok(Drawn::new(input, &Capacity::new(&input.calendar, input.start, ten_years, &input.left_today)).outlook())
}

impl Outlook {
    /// Whether some draw of some job had no day yet, or nobody hours.
    fn reaches_beyond(&self) -> bool {
        self.jobs.iter().any(|job| match job {
            Ok(found) => found.later_share > 0.0,
            Err(NoDay::TooFar | NoDay::AfterOneWithoutDay(_)) => true,
            Err(_) => false,
        })
    }
}

/// What came out of all draws.
struct Drawn<'a> {
    input: &'a Simulation,
    capacity: &'a Capacity,
    waits: Vec<JobWaits>,
    /// Draws that ended on each day, by job.
    ended: Vec<Vec<u32>>,
    /// Minutes on average, by job.
    minutes: Vec<f64>,
}

impl<'a> Drawn<'a> {
    fn new(input: &'a Simulation, capacity: &'a Capacity) -> Self {
        let count = input.jobs.len();
        let claims: Vec<Claim> = input.jobs.iter().map(|job| job.claim).collect();
        let waits: Vec<JobWaits> = input.jobs.iter().map(|job| JobWaits::new(job, input, capacity)).collect();
        let mut chance = ChaCha8Rng::seed_from_u64(input.seed);
        let mut jobs = JobMinutes::new(input);
        let mut walk = Walk::new(capacity, &claims);
        let (mut minutes, mut begins) = (vec![0.0; count], vec![0.0; count]);
        let (mut ended, mut summed) = (vec![Vec::new(); count], vec![0.0; count]);
        for _ in 0..input.draws {
            jobs.draw(&mut chance, &mut minutes);
            for ((begin, waits), job) in begins.iter_mut().zip(&waits).zip(&input.jobs) {
                // nothing to do takes nobody's time, and is never done
                *begin = if job.has_minutes() { waits.draw(&mut chance) } else { NEVER };
            }
            let slots = walk.hand_out(&minutes, &begins);
            for ((slot, ended), (sum, minutes)) in slots.iter().zip(&mut ended).zip(summed.iter_mut().zip(&minutes)) {
                *sum += minutes;
                count_day(ended, slot.day);
            }
        }
        let draws = f64::from(input.draws);
        Self { input, capacity, waits, ended, minutes: summed.into_iter().map(|sum| sum / draws).collect() }
    }

    fn outlook(&self) -> Outlook {
        let many = |(job, minutes): (usize, &f64)| (*minutes > QUESTIONED_MINUTES).then_some(job);
        let questioned: Vec<usize> = self.minutes.iter().enumerate().filter_map(many).collect();
        let jobs = (0..self.input.jobs.len()).map(|job| self.forecast(job, &questioned)).collect();
        Outlook { jobs, questioned }
    }

    fn forecast(&self, job: usize, questioned: &[usize]) -> Result<DayForecast, NoDay> {
        let (Some(queued), Some(ended), Some(waits)) =
            (self.input.jobs.get(job), self.ended.get(job), self.waits.get(job))
        else {
            return Err(NoDay::NoMinutes);
        };
        if let Some(person) = queued.claim.person.filter(|person| !self.capacity.has_hours(*person)) {
            return Err(NoDay::PersonAway(person));
        }
        if !queued.has_minutes() {
            return Err(NoDay::NoMinutes);
        }
        if waits.is_unknown() {
            return Err(NoDay::UnknownWait);
        }
        let counts: Vec<(u32, u32)> =
            (0..).zip(ended).filter(|(_, count)| **count > 0).map(|(day, count)| (day, *count)).collect();
        let ends = Ends { counts, draws: self.input.draws };
        let reached = ends.reaching(0.5).zip(ends.reaching(self.input.confidence));
        let date = |ahead: u32| self.capacity.date(ahead);
        match (reached, queued.claim.after) {
            (Some(((median, _), (promised, promised_share))), _) => {
                let days = ends.shares(date);
                let by_then: u32 = ends.counts.iter().map(|(_, count)| count).sum();
                Ok(DayForecast {
                    later_share: 1.0 - f64::from(by_then) / f64::from(self.input.draws),
                    days,
                    median_day: date(median),
                    promised_day: date(promised),
                    promised_share,
                    rests_on: self.rests_on(job, queued, waits, questioned),
                })
            }
            (None, Some(before)) if ends.counts.is_empty() => Err(NoDay::AfterOneWithoutDay(before)),
            (None, _) => Err(NoDay::TooFar),
        }
    }

    fn rests_on(&self, job: usize, queued: &QueuedJob, waits: &JobWaits, questioned: &[usize]) -> RestsOn {
        // another person's jobs are not in its way
        let in_the_way = |other: &QueuedJob| {
            let (own, other) = (queued.claim.person, other.claim.person);
            own.zip(other).is_none_or(|(own, other)| own == other)
        };
        let ahead = || self.input.jobs.iter().enumerate().take(job).filter(|(_, other)| in_the_way(other));
        let begins = |place: usize| self.waits.get(place).is_some_and(|waits| !waits.is_unknown());
        let worked = || ahead().filter(|(place, other)| other.has_minutes() && begins(*place));
        let minutes = |place: usize| self.minutes.get(place).copied().unwrap_or(0.0);
        let clocked = queued.work.iter().filter_map(|work| self.input.kinds.get(work.kind));
        RestsOn {
            jobs_ahead: worked().count(),
            minutes_ahead: worked().map(|(place, _)| minutes(place)).sum(),
            own_minutes: minutes(job),
            jobs_clocked: clocked.map(|kind| kind.jobs).min().unwrap_or(0),
            waits_known: waits.past.iter().map(|wait| wait.known).min(),
            waits_longer_than_any: waits.past.iter().any(|wait| wait.is_longest),
            ahead_without_minutes: ahead().filter(|(_, other)| !other.has_minutes()).count(),
            ahead_questioned: worked().filter(|(place, _)| questioned.contains(place)).count(),
        }
    }
}

fn count_day(ended: &mut Vec<u32>, day: Option<u32>) {
    let Some(day) = day.and_then(|day| usize::try_from(day).ok()) else {
        return;
    };
    if ended.len() <= day {
        ended.resize(day + 1, 0);
    }
    ended.get_mut(day).into_iter().for_each(|count| *count += 1);
}

/// What a job waits for, ready to be drawn.
struct JobWaits {
    /// The moment at which the latest day that is known begins.
    known: f64,
    past: Vec<DrawnWait>,
}

struct DrawnWait {
    /// Days that may be left.
    days_left: Vec<u32>,
    /// Past waits it rests on.
    known: usize,
    is_longest: bool,
}

impl JobWaits {
    fn new(job: &QueuedJob, input: &Simulation, capacity: &Capacity) -> Self {
        let (mut known, mut past): (f64, _) = (0.0, Vec::new());
        for wait in &job.waits {
            match *wait {
                Wait::Until(day) => known = known.max(capacity.begin_of(day)),
                Wait::Like { past: kind, already_days } => {
                    let all = input.waits.get(kind).map_or(&[][..], |past| &past.days);
                    past.push(DrawnWait::new(all, already_days));
                }
            }
        }
        Self { known, past }
    }

    fn is_unknown(&self) -> bool {
        self.past.iter().any(|wait| wait.days_left.is_empty())
    }

    /// The moment at which it can be begun.
    fn draw(&self, chance: &mut ChaCha8Rng) -> f64 {
        let past = self.past.iter().map(|wait| pick(&wait.days_left, chance).map_or(NEVER, |days| f64::from(*days)));
        self.known.max(past.sum())
    }
}

impl DrawnWait {
    fn new(past: &[u32], already_days: Option<u32>) -> Self {
        let Some(already) = already_days else {
            return Self { days_left: past.to_vec(), known: past.len(), is_longest: false };
        };
        let mut days_left: Vec<u32> =
            past.iter().filter_map(|days| days.checked_sub(already)).filter(|left| *left > 0).collect();
        let is_longest = days_left.is_empty() && !past.is_empty();
        if is_longest {
            days_left.push(already.max(1));
        }
        Self { days_left, known: past.len(), is_longest }
    }
}
