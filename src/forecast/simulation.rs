//! The days on which the jobs of a queue may be done, by simulation over the bench calendar.
//!
//! Each draw gives every job minutes and every wait an end, and hands the jobs out in bench order to whoever is
//! free ([`super::schedule`]): a job that waits is passed over and the others go on. The promise is the first
//! day by which the stated share of draws was done. Same input and seed, same answer.
//!
//! - Minutes are log-normal about what is known of each service ([`TrueMinutes`]): what is unsure about the
//!   service is drawn once for all its jobs, how jobs scatter is drawn for each. Of a job in hand only what lies
//!   above the minutes already spent on it is possible.
//! - A wait lasts as one of the past did; one that has begun, as one that lasted longer than it does already.
//! - The calendar's minutes count as far as they were worked in a past week, drawn once for all.
//!
//! What it does not know: jobs that are still to come and are put in front, and work that is found only once an
//! instrument lies open.

mod minutes;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::{Deserialize, Serialize};
use time::Date;

use super::calendar::{BenchCalendar, NoHours};
use super::ends::Ends;
use super::minutes::TrueMinutes;
use super::schedule::{Capacity, Claim, NEVER, Walk};
use crate::problem::Problems;
use minutes::JobMinutes;

pub use super::ends::DayShare;

/// Days looked ahead: beyond ten years nothing is promised.
const HORIZON_DAYS: usize = 3660;
const MOST_JOBS: usize = 1000;
const MOST_LINES: usize = 200;
const MOST_PAST: usize = 5000;
const MOST_DRAWS: u32 = 200_000;
/// Jobs × draws, so that no request keeps a processor busy for long.
const MOST_WORK: usize = 20_000_000;
/// Minutes of one line, at most.
const MOST_MINUTES: f64 = 600_000.0;
/// Minutes of a job from which on somebody should ask whether they are meant: two working weeks. Our own choice.
pub const QUESTIONED_MINUTES: f64 = 4800.0;

/// A queue, and what is known of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Simulation {
    /// Today.
    #[serde(with = "super::day")]
    pub start: Date,
    /// Who works when.
    pub calendar: BenchCalendar,
    /// Each person's minutes that are left of today, where that is known.
    pub left_today: Vec<Option<u32>>,
    /// Of each past week the minutes clocked for each minute of the calendar; none counts as all of them.
    pub worked_shares: Vec<f64>,
    /// What is known of the minutes of each kind of work.
    pub kinds: Vec<TrueMinutes>,
    /// Past waits by kind, such as those for a part, and for an answer.
    pub waits: Vec<PastWaits>,
    /// In bench order.
    pub jobs: Vec<QueuedJob>,
    /// Share of draws that must be done by the promised day.
    pub confidence: f64,
    /// How many draws.
    pub draws: u32,
    /// Of the draws.
    pub seed: u64,
}

/// How long waits of one kind lasted.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PastWaits {
    /// Days from the day on which each began to that on which it ended.
    pub days: Vec<u32>,
}

/// One job of the queue.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct QueuedJob {
    /// Who does it, and after which other.
    pub claim: Claim,
    /// What is still to be done. Nothing: nobody has said yet.
    pub work: Vec<Work>,
    /// What it waits for, one after the other.
    pub waits: Vec<Wait>,
}

/// One line of a job.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Work {
    /// Which of the kinds.
    pub kind: usize,
    /// Minutes it was estimated at.
    pub estimate_minutes: f64,
    /// Minutes clocked on it so far.
    pub spent_minutes: f64,
}

/// What a job waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Wait {
    /// A day that is known, such as that of a delivery.
    Until(#[serde(with = "super::day")] Date),
    /// As long as past ones.
    Like {
        /// Which of the past waits.
        past: usize,
        /// Days since it began; `None` where it has still to begin.
        already_days: Option<u32>,
    },
}

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
    /// Whoever does it has no hours.
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
    if let Some(why) = input.calendar.why_no_hours(input.start, HORIZON_DAYS) {
        return Ok(Outlook { jobs: vec![Err(NoDay::NoHours(why)); input.jobs.len()], questioned: Vec::new() });
    }
    let capacity = Capacity::new(&input.calendar, input.start, HORIZON_DAYS, &input.left_today);
    let drawn = Drawn::new(input, &capacity);
    let questioned: Vec<usize> = drawn.questioned().collect();
    let jobs = (0..input.jobs.len()).map(|job| drawn.forecast(job, &questioned)).collect();
    Ok(Outlook { jobs, questioned })
}

fn check(input: &Simulation) -> Result<(), Problems> {
    let mut problems = input.calendar.check().err().unwrap_or_default();
    for problem in &mut problems.0 {
        problem.pointer.insert_str(0, "/calendar");
    }
    problems.require((1900..=2200).contains(&input.start.year()), "/start", "must be a day between 1900 and 2200");
    problems.count("/worked_shares", input.worked_shares.len(), 0, MOST_PAST);
    for (place, share) in input.worked_shares.iter().enumerate() {
        problems.within(format_args!("/worked_shares/{place}"), *share, 0.01, 10.0);
    }
    for (place, kind) in input.kinds.iter().enumerate() {
        problems.within(format_args!("/kinds/{place}/factor"), kind.factor, 1e-3, 1e3);
        problems.within(format_args!("/kinds/{place}/log_error"), kind.log_error, 0.0, 5.0);
        problems.within(format_args!("/kinds/{place}/log_spread"), kind.log_spread, 0.0, 5.0);
    }
    for (place, past) in input.waits.iter().enumerate() {
        problems.count(format_args!("/waits/{place}/days"), past.days.len(), 0, MOST_PAST);
    }
    problems.count("/jobs", input.jobs.len(), 0, MOST_JOBS);
    problems.within("/confidence", input.confidence, 0.01, 0.999);
    problems.require((1..=MOST_DRAWS).contains(&input.draws), "/draws", format_args!("must be from 1 to {MOST_DRAWS}"));
    let work = usize::try_from(input.draws).unwrap_or(usize::MAX).saturating_mul(input.jobs.len());
    let too_much = format_args!("times the number of jobs must not exceed {MOST_WORK}");
    problems.require(work <= MOST_WORK, "/draws", too_much);
    for (place, job) in input.jobs.iter().enumerate() {
        check_job(&mut problems, input, place, job);
    }
    problems.check()
}

fn check_job(problems: &mut Problems, input: &Simulation, place: usize, job: &QueuedJob) {
    let at = format!("/jobs/{place}");
    let person = job.claim.person.is_none_or(|person| person < input.calendar.people.len());
    problems.require(person, format_args!("{at}/claim/person"), "must be one of the calendar's people");
    let after = job.claim.after.is_none_or(|before| before < input.jobs.len() && before != place);
    problems.require(after, format_args!("{at}/claim/after"), "must be another of the jobs");
    problems.count(format_args!("{at}/work"), job.work.len(), 0, MOST_LINES);
    for (line, work) in job.work.iter().enumerate() {
        problems.require(
            work.kind < input.kinds.len(),
            format_args!("{at}/work/{line}/kind"),
            "must be one of the kinds",
        );
        problems.within(format_args!("{at}/work/{line}/estimate_minutes"), work.estimate_minutes, 0.0, MOST_MINUTES);
        problems.within(format_args!("{at}/work/{line}/spent_minutes"), work.spent_minutes, 0.0, MOST_MINUTES);
    }
    problems.count(format_args!("{at}/waits"), job.waits.len(), 0, MOST_LINES);
    for (line, wait) in job.waits.iter().enumerate() {
        let known = !matches!(wait, Wait::Like { past, .. } if *past >= input.waits.len());
        problems.require(known, format_args!("{at}/waits/{line}"), "must be like one of the past waits");
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

    fn questioned(&self) -> impl Iterator<Item = usize> {
        let many = |(job, minutes): (usize, &f64)| (*minutes > QUESTIONED_MINUTES).then_some(job);
        self.minutes.iter().enumerate().filter_map(many)
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
                let by_then: f64 = days.iter().map(|share| share.probability).sum();
                Ok(DayForecast {
                    later_share: (1.0 - by_then).max(0.0),
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

impl QueuedJob {
    fn has_minutes(&self) -> bool {
        self.work.iter().any(|work| work.estimate_minutes > 0.0)
    }
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

/// One of a list, each as likely.
fn pick<'a, T>(of: &'a [T], chance: &mut ChaCha8Rng) -> Option<&'a T> {
    let count = u64::try_from(of.len()).unwrap_or(0);
    of.get(usize::try_from((u64::from(chance.next_u32()) * count) >> 32).unwrap_or(0))
}
