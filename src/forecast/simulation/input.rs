//! What a simulation takes, and what of it cannot be meant.

use serde::{Deserialize, Serialize};
use time::Date;

use crate::forecast::calendar::BenchCalendar;
use crate::forecast::minutes::TrueMinutes;
use crate::forecast::schedule::Claim;
use crate::problem::Problems;

const MOST_JOBS: usize = 1000;
const MOST_LINES: usize = 200;
const MOST_PAST: usize = 5000;
const MOST_DRAWS: u32 = 200_000;
/// Jobs × draws, so that no request keeps a processor busy for long.
const MOST_WORK: usize = 20_000_000;
/// Minutes of one line, at most.
const MOST_MINUTES: f64 = 600_000.0;

/// A queue, and what is known of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Simulation {
    /// Today.
    #[serde(with = "crate::forecast::day")]
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
    Until(#[serde(with = "crate::forecast::day")] Date),
    /// As long as past ones.
    Like {
        /// Which of the past waits.
        past: usize,
        /// Days since it began; `None` where it has still to begin.
        already_days: Option<u32>,
    },
}

impl QueuedJob {
    /// Whether anybody has said what is to be done.
    pub(super) fn has_minutes(&self) -> bool {
        self.work.iter().any(|work| work.estimate_minutes > 0.0)
    }
}

/// What is wrong with what was given, each fault by its place.
pub(super) fn check(input: &Simulation) -> Result<(), Problems> {
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
