//! What the order and the forecasts rest on: the calendar, the minutes of each kind of work, past waits, and how much of
//! the calendar is worked.

use sqlx::SqliteConnection;
use time::{Date, Duration};

use crate::clock::Clock;
use crate::forecast::calendar::{Absence, BenchCalendar, Closed, ClosedDays, PersonHours};
use crate::forecast::minutes::{Clocked, Scatter, TrueMinutes};
use crate::forecast::simulation::{PastWaits, Wait, Work};
use crate::quantity::Instant;
use crate::records::bench_calendar::{Calendar, ClosedWhy};
use crate::records::family::Family;
use crate::records::open_work::{self, OpenLine};
use crate::records::promise_forecast::MinutesFrom;
use crate::records::queue::QueueRow;
use crate::records::stage::{Stage, WaitingFor};
use crate::records::{JobId, ServiceId, StaffId, clocked, service};
use crate::web::Result;
use crate::web::app::App;

/// Past weeks that are looked at for how much of the calendar is worked.
pub(super) const WEEKS_ASKED: i64 = 12;
/// Weeks from which on the house's own shares count.
const FEWEST_WEEKS: usize = 4;
/// Weeks with less than this of the calendar clocked were not clocked as a rule. Our own choice.
const CLOCKED_AT_LEAST: f64 = 0.3;
/// Of the calendar's minutes, what is worked on jobs where nothing is known. Common practice, no source.
const WORKED_SHARE: f64 = 0.85;
/// Minutes of the last look at an instrument whose work is done. Common practice, no source.
const FINAL_CHECK_MINUTES: f64 = 10.0;
/// Minutes that a line begun still takes at least. Common practice, no source.
const STILL_MINUTES: f64 = 10.0;
/// Past jobs of a family from which on they say what one takes.
const FEWEST_OF_FAMILY: usize = 5;
/// How jobs scatter of which nothing is known, on logs: half as long to twice as long. Our own choice.
const UNKNOWN_SPREAD: f64 = 0.6;
/// The kinds of waits, by their place: for an answer stands where the customer is waited for.
const KINDS: [WaitingFor; 3] = [WaitingFor::Part, WaitingFor::Customer, WaitingFor::Wood];
const ANSWER: usize = 1;

/// What is known beside the jobs themselves.
pub(super) struct Basis {
    pub(super) kinds: Vec<TrueMinutes>,
    pub(super) waits: Vec<PastWaits>,
    pub(super) worked_shares: Vec<f64>,
    pub(super) weeks_worked: usize,
    /// The kinds of services, by their place among the kinds; the first kind is that of all others.
    services: Vec<ServiceId>,
    lines: Vec<OpenLine>,
    under_way: Vec<(JobId, Instant)>,
    past_jobs: Vec<(Family, i64)>,
    /// The price list's middle.
    usual_minutes: Option<f64>,
}

/// What one job takes.
pub(super) struct Estimate {
    pub(super) work: Vec<Work>,
    pub(super) waits: Vec<Wait>,
    /// Minutes on average; `None` where nothing says any.
    pub(super) expected: Option<f64>,
    pub(super) from: MinutesFrom,
}

impl Basis {
    pub(super) async fn read(connection: &mut SqliteConnection, app: &App, calendar: &Calendar) -> Result<Self> {
        let now = app.clock.now();
        let lines = open_work::lines(&mut *connection, now).await?;
        let under_way = open_work::waits_under_way(&mut *connection).await?;
        let past_waits = open_work::past_waits(&mut *connection).await?;
        let answers = open_work::past_answers(&mut *connection).await?;
        let past_jobs = open_work::past_jobs(&mut *connection).await?;
        let services = service::all(&mut *connection).await?;
        let clocked = clocked::of_services(&mut *connection).await?;
        let weeks = past_weeks(&app.clock);
        let stretches: Vec<(Instant, Instant)> = weeks.iter().map(|(_, from, to)| (*from, *to)).collect();
        let minutes = open_work::clocked_between(&mut *connection, &stretches).await?;
        let days = |(from, to): &(Instant, Instant)| {
            let days = (app.clock.local_date(*to) - app.clock.local_date(*from)).whole_days();
            u32::try_from(days.max(0)).unwrap_or(0)
        };
        let waits = KINDS.map(|kind| {
            let own = past_waits.iter().filter(|(of, _)| *of == kind).flat_map(|(_, waits)| waits);
            let answers = answers.iter().filter(|_| kind == WaitingFor::Customer);
            PastWaits { days: own.chain(answers).map(days).collect() }
        });
        let logs: Vec<(ServiceId, Vec<f64>)> = clocked
            .into_iter()
            .map(|service| {
                let jobs = service.lines.into_iter().filter_map(|(estimate, clocked)| {
                    Some((f64::from(i32::try_from(estimate).ok()?), f64::from(i32::try_from(clocked?).ok()?)))
                });
                (service.service_id, Clocked { jobs: jobs.collect() }.logs())
            })
            .collect();
        let all: Vec<Vec<f64>> = logs.iter().map(|(_, logs)| logs.clone()).collect();
        let scatter = Scatter::of(&all);
        let kinds = std::iter::once(scatter.true_minutes(&[]));
        let kinds = kinds.chain(logs.iter().map(|(_, logs)| scatter.true_minutes(logs))).collect();
        let (worked_shares, weeks_worked) = worked_shares(calendar, &weeks, &minutes, app.clock.today());
        let mut usual: Vec<i64> = services
            .iter()
            .filter(|service| service.active && service.minutes > 0)
            .map(|service| service.minutes)
            .collect();
        usual.sort_unstable();
        Ok(Self {
            kinds,
            waits: waits.to_vec(),
            worked_shares,
            weeks_worked,
            services: logs.into_iter().map(|(service, _)| service).collect(),
            lines,
            under_way,
            past_jobs,
            usual_minutes: usual.get(usual.len() / 2).map(|minutes| as_number(*minutes)),
        })
    }

    /// Since when a job waits for something from outside.
    pub(super) fn waits_since(&self, row: &QueueRow) -> Option<Instant> {
        let under_way = self.under_way.iter().find(|(job, _)| *job == row.id).map(|(_, since)| *since);
        match row.waiting_for {
            Some(_) => Some(under_way.unwrap_or(row.stage_since)),
            None => (row.stage == Stage::Quoted).then_some(row.stage_since),
        }
    }

    /// What a job takes, and what it waits for.
    pub(super) fn estimate(&mut self, row: &QueueRow, clock: &Clock, today: Date) -> Estimate {
        let waits = self.waits_of(row, clock, today);
        let lines: Vec<OpenLine> = self.lines.iter().filter(|line| line.job_id == row.id).copied().collect();
        if !lines.is_empty() {
            let work: Vec<Work> = lines.iter().map(|line| self.work(line)).collect();
            let known = work.iter().all(|work| self.kinds.get(work.kind).is_some_and(|kind| kind.jobs > 0));
            let from = if known { MinutesFrom::Clocked } else { MinutesFrom::Estimate };
            let expected: f64 = work.iter().map(|work| self.expected(work)).sum();
            let expected = (expected > 0.0).then_some(expected);
            return Estimate { work, waits, expected, from };
        }
        let (work, from) = match row.stage {
            Stage::OnTheBench | Stage::FinalCheck => {
                let last_look = Work { kind: 0, estimate_minutes: FINAL_CHECK_MINUTES, spent_minutes: 0.0 };
                (Some(last_look), MinutesFrom::Estimate)
            }
            _ => self.usual(row.family),
        };
        let work: Vec<Work> = work.into_iter().collect();
        let expected = work.first().map(|work| self.expected(work));
        Estimate { work, waits, expected, from }
    }

    /// What a job of a family takes of which nobody has said yet what is to be done.
    fn usual(&mut self, family: Family) -> (Option<Work>, MinutesFrom) {
        let mut past: Vec<f64> =
            self.past_jobs.iter().filter(|(of, _)| *of == family).map(|(_, minutes)| as_number(*minutes)).collect();
        past.sort_by(f64::total_cmp);
        let count = as_number(i64::try_from(past.len()).unwrap_or(0));
        let (middle, known, from) = match past.get(past.len() / 2) {
            Some(middle) if past.len() >= FEWEST_OF_FAMILY => {
                let logs = past.iter().map(|minutes| (minutes / middle).ln());
                let spread = (logs.map(|log| log * log).sum::<f64>() / (count - 1.0)).sqrt();
                let known = TrueMinutes {
                    jobs: past.len(),
                    credibility: 1.0,
                    factor: 1.0,
                    log_error: spread / count.sqrt(),
                    log_spread: spread,
                };
                (*middle, known, MinutesFrom::Family)
            }
            _ => {
                let Some(usual) = self.usual_minutes else { return (None, MinutesFrom::Nothing) };
                let known =
                    TrueMinutes { jobs: 0, credibility: 0.0, factor: 1.0, log_error: 0.0, log_spread: UNKNOWN_SPREAD };
                (usual, known, MinutesFrom::PriceList)
            }
        };
        let kind = self.kinds.iter().position(|kind| *kind == known).unwrap_or_else(|| {
            self.kinds.push(known);
            self.kinds.len() - 1
        });
        (Some(Work { kind, estimate_minutes: middle, spent_minutes: 0.0 }), from)
    }

    fn work(&self, line: &OpenLine) -> Work {
        let service = self.services.iter().position(|service| Some(*service) == line.service_id);
        Work {
            kind: service.map_or(0, |place| place + 1),
            estimate_minutes: as_number(line.minutes),
            spent_minutes: as_number(line.spent),
        }
    }

    fn expected(&self, work: &Work) -> f64 {
        let whole = self.kinds.get(work.kind).map_or(0.0, |kind| kind.mean_minutes(work.estimate_minutes));
        if work.spent_minutes > 0.0 { (whole - work.spent_minutes).max(STILL_MINUTES) } else { whole }
    }

    fn waits_of(&self, row: &QueueRow, clock: &Clock, today: Date) -> Vec<Wait> {
        let already = |since: Instant| u32::try_from((today - clock.local_date(since)).whole_days().max(0)).ok();
        let kind_of = |waiting: WaitingFor| KINDS.iter().position(|kind| *kind == waiting).unwrap_or(ANSWER);
        let since = self.waits_since(row).unwrap_or(row.stage_since);
        let under_way = match (row.waiting_for, row.stage) {
            (Some(waiting), _) => Some(Wait::Like { past: kind_of(waiting), already_days: already(since) }),
            (None, Stage::Quoted) => Some(Wait::Like { past: ANSWER, already_days: already(since) }),
            _ => None,
        };
        // an answer is still to be asked for, where the shop knows how long one takes
        let is_to_ask = matches!(row.stage, Stage::CheckedIn | Stage::Measured)
            && self.waits.get(ANSWER).is_some_and(|past| !past.days.is_empty());
        let to_ask = is_to_ask.then_some(Wait::Like { past: ANSWER, already_days: None });
        under_way.into_iter().chain(to_ask).collect()
    }
}

/// The Mondays of the past weeks, with the moments from which to which each lasted.
fn past_weeks(clock: &Clock) -> Vec<(Date, Instant, Instant)> {
    let today = clock.today();
    let monday = today - Duration::days(i64::from(today.weekday().number_days_from_monday()));
    let week = |back: i64| {
        let first = monday - Duration::weeks(back);
        (first, clock.start_of(first), clock.start_of(first + Duration::weeks(1)))
    };
    (1..=WEEKS_ASKED).map(week).collect()
}

/// Of each past week the minutes clocked for each of the calendar, and how many such weeks there are.
fn worked_shares(
    calendar: &Calendar,
    weeks: &[(Date, Instant, Instant)],
    clocked: &[i64],
    today: Date,
) -> (Vec<f64>, usize) {
    let bench = calendar_of(calendar, today);
    let shares = weeks.iter().zip(clocked).filter_map(|((monday, ..), clocked)| {
        let planned: u32 = bench.week(*monday).iter().flatten().map(|day| day.minutes).sum();
        let share = as_number(*clocked) / f64::from(planned);
        (planned > 0 && share >= CLOCKED_AT_LEAST).then_some(share.min(2.0))
    });
    let shares: Vec<f64> = shares.collect();
    let weeks = shares.len();
    if weeks >= FEWEST_WEEKS { (shares, weeks) } else { (vec![WORKED_SHARE], 0) }
}

/// The calendar as the arithmetic takes it; whoever may no longer sign in works no more.
pub(in crate::web) fn calendar_of(calendar: &Calendar, today: Date) -> BenchCalendar {
    let person = |person: &crate::records::bench_calendar::Person| {
        let absences = calendar.absences.iter().filter(|absence| absence.staff_id == person.staff_id);
        let hours = person.hours.as_ref();
        let gone = (!person.is_active).then_some(today - Duration::days(1));
        let last_day = hours.and_then(|hours| hours.last_day).into_iter().chain(gone).min();
        PersonHours {
            week_minutes: hours.map(|hours| hours.week_minutes).unwrap_or_default(),
            first_day: hours
                .and_then(|hours| hours.first_day)
                .filter(|first| last_day.is_none_or(|last| *first <= last)),
            last_day,
            absences: absences
                .map(|absence| Absence {
                    first_day: absence.first_day,
                    last_day: absence.last_day,
                    minutes_left: absence.minutes_left,
                })
                .collect(),
        }
    };
    let closed = calendar.closed.iter().map(|closed| ClosedDays {
        first_day: closed.first_day,
        last_day: closed.last_day,
        why: match closed.why {
            ClosedWhy::Holiday => Closed::Holiday,
            ClosedWhy::Closure => Closed::Closure,
        },
        name: closed.name.clone(),
    });
    BenchCalendar { people: calendar.people.iter().map(person).collect(), closed: closed.collect() }
}

/// A person's place among those of the calendar.
pub(in crate::web) fn person_place(calendar: &Calendar, staff: StaffId) -> Option<usize> {
    calendar.people.iter().position(|person| person.staff_id == staff)
}

fn as_number(count: i64) -> f64 {
    i32::try_from(count).map_or(f64::from(i32::MAX), f64::from)
}
