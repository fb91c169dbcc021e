//! The queue as the books make it: its order with the reasons, the days its jobs can be expected, and what is missing.
//! What several doors show; the arithmetic is `forecast`'s.

mod basis;
mod forecasts;
mod words;

use time::{Date, Duration};

use super::app::App;
use super::error::{Error, Result};
use crate::forecast::queue::{Moved, OpenJob, Queue, QueueInput, Waits, WeekLoad, load, queue};
use crate::forecast::schedule::Claim;
use crate::forecast::simulation::{QueuedJob, Simulation};
use crate::quantity::Instant;
use crate::records::bench_calendar;
use crate::records::queue::{self as rows, QueueRow};
use crate::records::queue_move::{self, QueuePlace, StandingMove};
use crate::records::settings::Snapshot;
use crate::records::stage::Stage;
use crate::records::{JobId, promise_forecast::MinutesFrom};
use basis::{Basis, Estimate};

pub(super) use basis::{calendar_of, person_place};
pub use forecasts::forecast_newcomers;
pub(super) use forecasts::{as_it_stands, follow_the_check_ins, go_through_the_nights, propose, work_out};
pub(super) use words::{hours, reason};

/// Minutes up to which a job is quick. Common practice, no source.
const QUICK_MINUTES: f64 = 30.0;
/// Days within which a working day is looked for. Our own choice.
const LOOKED_AHEAD_DAYS: i64 = 62;
/// The hour of the evening from which on nothing of the day is counted any more. Our own choice.
const EVENING_HOUR: u8 = 18;

/// An open job that is still to be done.
pub(super) struct Entry {
    /// As lists show it.
    pub(super) row: QueueRow,
    /// Where its minutes come from.
    pub(super) minutes_from: MinutesFrom,
    /// Whether whoever it belongs to is not at the bench.
    pub(super) is_whose_away: bool,
    open: OpenJob,
    queued: QueuedJob,
}

impl Entry {
    /// Minutes still to be expected of it, on average.
    pub(super) fn minutes(&self) -> Option<f64> {
        self.open.minutes
    }

    /// Since when it waits, where it does.
    pub(super) fn waits_since(&self) -> Option<Date> {
        self.open.waits.map(|waits| waits.since)
    }

    /// The place of the job it is not begun before.
    pub(super) fn after(&self) -> Option<usize> {
        self.open.claim.after
    }
}

/// The queue as it stands.
pub(super) struct Outlook {
    /// The shop's today.
    pub(super) today: Date,
    /// Who works when.
    pub(super) calendar: bench_calendar::Calendar,
    /// The jobs still to be done, in no order that means anything: a place of the queue names one of them.
    pub(super) entries: Vec<Entry>,
    /// Their order.
    pub(super) queue: Queue,
    /// The places given by hand that hold.
    pub(super) moves: Vec<StandingMove>,
    /// Weeks with minutes clocked that a forecast counts the calendar by.
    pub(super) weeks_worked: usize,
    input: QueueInput,
    basis: Basis,
}

impl Outlook {
    /// The job of a place.
    pub(super) fn entry(&self, job: usize) -> Option<&Entry> {
        self.entries.get(job)
    }

    /// The move by hand that holds a job where it is.
    pub(super) fn move_of(&self, job: JobId) -> Option<&StandingMove> {
        self.moves.iter().find(|moved| moved.job_id == job)
    }

    /// Whether anybody is to work on a day.
    pub(super) fn works_on(&self, day: Date) -> bool {
        let calendar = &self.input.calendar;
        (0..calendar.people.len()).any(|person| calendar.day(person, day).minutes > 0)
    }

    /// The first day after today on which anybody works, within two months.
    pub(super) fn next_working_day(&self) -> Option<Date> {
        (1..=LOOKED_AHEAD_DAYS)
            .map_while(|ahead| self.today.checked_add(Duration::days(ahead)))
            .find(|day| self.works_on(*day))
    }

    /// What was promised against what can be done, week by week.
    pub(super) fn load(&self, weeks: u32) -> Vec<WeekLoad> {
        load(&self.input, weeks)
    }

    /// The jobs in the order of the bench, by key.
    pub(super) fn order(&self) -> Vec<JobId> {
        self.queue.places.iter().filter_map(|place| Some(self.entries.get(place.job)?.row.id)).collect()
    }

    /// What a simulation takes, its jobs in the order in which they are taken: see [`Queue::order`].
    fn simulation(&self, confidence: i64) -> Simulation {
        // many jobs are drawn less often, and never so seldom that a tenth is a matter of luck
        let jobs = u32::try_from(self.entries.len()).unwrap_or(u32::MAX).max(1);
        let draws = (MOST_DRAWN / jobs).clamp(FEWEST_DRAWS, MOST_DRAWS);
        let place_of = |job: usize| self.queue.order.iter().position(|other| *other == job);
        let in_order = self.queue.order.iter().filter_map(|job| self.entries.get(*job));
        let jobs = in_order.map(|entry| {
            let after = entry.queued.claim.after.and_then(place_of);
            QueuedJob { claim: Claim { after, ..entry.queued.claim }, ..entry.queued.clone() }
        });
        let confidence = f64::from(i32::try_from(confidence).unwrap_or(900)) / 1000.0;
        Simulation {
            start: self.today,
            calendar: self.input.calendar.clone(),
            left_today: self.input.left_today.clone(),
            worked_shares: self.basis.worked_shares.clone(),
            kinds: self.basis.kinds.clone(),
            waits: self.basis.waits.clone(),
            jobs: jobs.collect(),
            confidence,
            draws,
            seed: u64::try_from(self.today.to_julian_day()).unwrap_or(0),
        }
    }
}

/// Draws of one simulation, and what all its jobs are drawn together, about.
const FEWEST_DRAWS: u32 = 400;
const MOST_DRAWS: u32 = 1000;
const MOST_DRAWN: u32 = 16_000;

/// Reads the queue: as many statements for one job as for forty.
pub(super) async fn read(app: &App, settings: &Snapshot) -> Result<Outlook> {
    read_with(app, settings, None).await
}

/// The same with one job more, which nobody has checked in yet: its place is the last of the entries.
async fn read_with(app: &App, settings: &Snapshot, coming: Option<QueueRow>) -> Result<Outlook> {
    let now = app.clock.now();
    let today = app.clock.today();
    let mut connection = app.db.read().acquire().await.map_err(crate::records::Error::from)?;
    let open = rows::open_jobs(&mut *connection).await?;
    let moves = queue_move::standing(&mut *connection).await?;
    let from = today - Duration::weeks(basis::WEEKS_ASKED);
    let calendar = bench_calendar::calendar(&mut connection, today, from).await?;
    let mut basis = Basis::read(&mut connection, app, &calendar).await?;
    drop(connection);
    // what was moved stands last, in the order in which it was: a later move reckons with the earlier
    let moved = |row: &QueueRow| moves.iter().find(|moved| moved.job_id == row.id).map(|moved| moved.id);
    let mut open: Vec<QueueRow> = open.into_iter().filter(|row| !row.stage.keeps_promise()).collect();
    open.sort_by_key(moved);
    open.extend(coming);
    let keys: Vec<JobId> = open.iter().map(|row| row.id).collect();
    let entries: Vec<Entry> =
        open.into_iter().map(|row| entry(row, &keys, &moves, &calendar, &mut basis, app, today)).collect();
    let bench = calendar_of(&calendar, today);
    let left_today = left_of_today(&bench, today, app.clock.local_time(now).hour());
    let input = QueueInput {
        today,
        left_today,
        calendar: bench,
        usual_days: u32::try_from(settings.promise_days).unwrap_or(0),
        quick_minutes: QUICK_MINUTES,
        jobs: entries.iter().map(|entry| entry.open).collect(),
    };
    let weeks_worked = basis.weeks_worked;
    let (input, queue) = app
        .calculate(move || {
            let found = queue(&input);
            (input, found)
        })
        .await?;
    let queue = queue.map_err(Error::internal)?;
    Ok(Outlook { today, calendar, entries, queue, moves, weeks_worked, input, basis })
}

/// Nothing of today counts after the evening; before, at most what is left until then.
fn left_of_today(calendar: &crate::forecast::calendar::BenchCalendar, today: Date, hour: u8) -> Vec<Option<u32>> {
    let until_evening = u32::from(EVENING_HOUR.saturating_sub(hour)) * 60;
    let left = |person: usize| Some(calendar.day(person, today).minutes.min(until_evening));
    (0..calendar.people.len()).map(left).collect()
}

fn entry(
    row: QueueRow,
    keys: &[JobId],
    moves: &[StandingMove],
    calendar: &bench_calendar::Calendar,
    basis: &mut Basis,
    app: &App,
    today: Date,
) -> Entry {
    let place_of = |job: Option<JobId>| keys.iter().position(|key| Some(*key) == job);
    let standing = moves.iter().find(|moved| moved.job_id == row.id);
    let beside = standing.and_then(|moved| place_of(moved.beside_job_id));
    let (moved, after) = match (standing.map(|moved| moved.place), beside) {
        (Some(QueuePlace::First), _) => (Some(Moved::First), None),
        (Some(QueuePlace::Before), Some(beside)) => (Some(Moved::Before(beside)), None),
        (Some(QueuePlace::Behind), Some(beside)) => (Some(Moved::Behind(beside)), None),
        (Some(QueuePlace::After), Some(before)) => (None, Some(before)),
        // what it stood beside is ready
        _ => (None, None),
    };
    let person = row.staff_id.and_then(|staff| person_place(calendar, staff));
    let claim = Claim { person, after };
    let Estimate { work, waits, expected, from } = basis.estimate(&row, &app.clock, today);
    let waits_since = basis.waits_since(&row).map(|since: Instant| app.clock.local_date(since));
    Entry {
        is_whose_away: row.staff_id.is_some() && person.is_none_or(|person| !has_hours(calendar, person, today)),
        open: OpenJob {
            checked_in_on: app.clock.local_date(row.checked_in_at),
            promised_on: row.promised_on,
            minutes: expected,
            in_hand: matches!(row.stage, Stage::OnTheBench | Stage::FinalCheck),
            claim,
            waits: waits_since.map(|since| Waits { since, until: None }),
            moved,
        },
        queued: QueuedJob { claim, work, waits },
        minutes_from: from,
        row,
    }
}

fn has_hours(calendar: &bench_calendar::Calendar, person: usize, today: Date) -> bool {
    calendar_of(calendar, today).people.get(person).is_some_and(|hours| {
        hours.week_minutes.iter().any(|minutes| *minutes > 0) && hours.last_day.is_none_or(|last| last >= today)
    })
}
