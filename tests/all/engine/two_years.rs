//! A shop of two years, drawn by a seed, that promises every job by the house's own arithmetic and then lives
//! through what happens: are nine of ten kept, and would a plain rule have done as well?
//!
//! The shop knows what a shop knows: the catalogue, the clocked minutes and waits of jobs that are over, the
//! calendar. It does not know by how much each service differs from the catalogue, who falls ill, how often the
//! telephone rings, or what comes in tomorrow.

use thumbplane::forecast::calendar::{Absence, BenchCalendar, Closed, ClosedDays, PersonHours};
use thumbplane::forecast::limits::at_most;
use thumbplane::forecast::minutes::{Clocked, Scatter, TrueMinutes};
use thumbplane::forecast::queue::{OpenJob, QueueInput, Reason, Waits, queue};
use thumbplane::forecast::schedule::Claim;
use thumbplane::forecast::simulation::{PastWaits, QueuedJob, Simulation, Wait, Work, simulate};
use time::{Date, Duration, macros::date};

use super::{Chance, close};

/// A Monday.
const OPENED: Date = date!(2024 - 01 - 01);
/// Days that are lived through before promises are judged: a shop that knows nothing cannot promise.
const FIRST_DAYS: i64 = 120;
/// Two years.
const JUDGED_DAYS: i64 = 731;
const CONFIDENCE: f64 = 0.9;
/// Jobs that come in on a working day, on average.
const JOBS_A_DAY: f64 = 3.55;
/// The catalogue, minutes, and how often each service is wanted.
const CATALOGUE: [(f64, f64); 10] = [
    (75.0, 6.0),
    (20.0, 3.0),
    (35.0, 3.0),
    (90.0, 1.5),
    (30.0, 3.0),
    (60.0, 1.5),
    (180.0, 0.7),
    (25.0, 5.0),
    (20.0, 3.0),
    (150.0, 0.6),
];
/// Past waits: for an answer, and for a part.
const ANSWER: usize = 0;
const PART: usize = 1;

/// A promise as it was made, and when its job was done. Days since the shop opened.
#[derive(Debug, Clone, Copy)]
struct Made {
    made_on: i64,
    promised: i64,
    /// How sure it was: days are whole, so mostly more than asked for.
    share: f64,
    /// The promised day or the one before, drawn so that exactly the share asked for is done by it.
    exact: i64,
    done_on: Option<i64>,
}

struct Job {
    checked_in: i64,
    promised: Option<i64>,
    /// Service, true minutes, minutes given so far.
    lines: Vec<(usize, f64, f64)>,
    /// Kind of wait, the day it began, the day it ends; one after the other.
    waits: Vec<(usize, i64, i64)>,
    person: Option<usize>,
}

impl Job {
    fn is_done(&self) -> bool {
        self.lines.iter().all(|(_, minutes, given)| given >= minutes)
    }

    fn ends_waiting(&self) -> i64 {
        self.waits.last().map_or(self.checked_in, |(.., until)| *until)
    }
}

struct Shop {
    chance: Chance,
    calendar: BenchCalendar,
    /// By how much each service takes longer than its catalogue minutes: nobody knows.
    truth: Vec<f64>,
    clocked: Vec<Clocked>,
    known: Vec<TrueMinutes>,
    waits: Vec<PastWaits>,
    /// Of each past week with work enough: minutes clocked for each of the calendar.
    worked_shares: Vec<f64>,
    open: Vec<(usize, Job)>,
    made: Vec<Option<Made>>,
    went_between: usize,
}

fn date(day: i64) -> Date {
    OPENED + Duration::days(day)
}

fn whole(number: f64) -> i64 {
    format!("{number:.0}").parse().expect("a whole number")
}

impl Shop {
    fn new(seed: u64) -> Self {
        let mut chance = Chance::new(seed);
        let hours = |week_minutes: [u32; 7]| PersonHours { week_minutes, ..Default::default() };
        let mut calendar = BenchCalendar {
            people: vec![hours([330, 330, 330, 330, 300, 0, 0]), hours([270, 0, 270, 270, 0, 180, 0])],
            closed: Vec::new(),
        };
        for year in [2024, 2025, 2026] {
            let mut close = |first: &str, last: &str, why: Closed| {
                let day = |text: &str| thumbplane::quantity::parse_day(&format!("{year}-{text}")).expect("a day");
                calendar.closed.push(ClosedDays {
                    first_day: day(first),
                    last_day: day(last),
                    why,
                    name: String::new(),
                });
            };
            for holiday in ["01-01", "04-18", "05-01", "06-19", "10-03", "11-01", "12-25", "12-26"] {
                close(holiday, holiday, Closed::Holiday);
            }
            close("08-04", "08-15", Closed::Closure);
        }
        for (person, first) in [(0, 140), (1, 230), (0, 420), (1, 560), (0, 700), (1, 790)] {
            let absence = Absence { first_day: date(first), last_day: date(first + 8), minutes_left: 0 };
            calendar.people[person].absences.push(absence);
        }
        let truth = CATALOGUE.iter().map(|_| (0.12 + chance.normal(0.2)).exp()).collect();
        let mut past = |kind: usize| PastWaits { days: (0..12).map(|_| wait_days(&mut chance, kind)).collect() };
        let waits = vec![past(ANSWER), past(PART)];
        let clocked = vec![Clocked::default(); CATALOGUE.len()];
        let mut shop = Self {
            chance,
            calendar,
            truth,
            known: Vec::new(),
            clocked,
            waits,
            worked_shares: vec![0.85],
            open: Vec::new(),
            made: Vec::new(),
            went_between: 0,
        };
        shop.learn();
        shop
    }

    /// What the clocked minutes say by now.
    fn learn(&mut self) {
        let logs: Vec<Vec<f64>> = self.clocked.iter().map(Clocked::logs).collect();
        let scatter = Scatter::of(&logs);
        self.known = logs.iter().map(|logs| scatter.true_minutes(logs)).collect();
    }

    fn comes_in(&mut self, today: i64) -> Job {
        let all: f64 = CATALOGUE.iter().map(|(_, weight)| weight).sum();
        let lines = 1 + usize::from(self.chance.even() < 0.5) + usize::from(self.chance.even() < 0.15);
        let lines = (0..lines).map(|_| {
            let mut left = self.chance.even() * all;
            let service = CATALOGUE.iter().position(|(_, weight)| {
                left -= weight;
                left <= 0.0
            });
            let service = service.unwrap_or(0);
            (service, CATALOGUE[service].0 * self.truth[service] * self.chance.normal(0.35).exp(), 0.0)
        });
        let lines = lines.collect();
        let mut waits: Vec<(usize, i64, i64)> = Vec::new();
        for (kind, share) in [(ANSWER, 0.5), (PART, 0.2)] {
            if self.chance.even() < share {
                let from = waits.last().map_or(today, |(.., until)| *until);
                waits.push((kind, from, from + i64::from(wait_days(&mut self.chance, kind))));
            }
        }
        Job { checked_in: today, promised: None, lines, waits, person: None }
    }

    /// Minutes still to be expected of a job: what its lines take on average, less what is given.
    fn expected(&self, job: &Job) -> f64 {
        let of = |(service, _, given): &(usize, f64, f64)| {
            (self.known[*service].mean_minutes(CATALOGUE[*service].0) - given).max(if *given > 0.0 {
                10.0
            } else {
                0.0
            })
        };
        job.lines.iter().filter(|(_, minutes, given)| given < minutes).map(of).sum()
    }

    /// The order of the bench, by place among the open jobs.
    fn order(&mut self, today: i64) -> Vec<usize> {
        // what has no promise yet stands behind all that is promised
        let last = self.open.iter().filter_map(|(_, job)| job.promised).max().unwrap_or(today);
        let jobs = self.open.iter().map(|(_, job)| OpenJob {
            checked_in_on: date(job.checked_in),
            promised_on: Some(date(job.promised.unwrap_or(last))),
            minutes: Some(self.expected(job)),
            in_hand: job.person.is_some(),
            claim: Claim { person: job.person, after: None },
            waits: (job.ends_waiting() > today).then(|| Waits { since: date(job.checked_in), until: None }),
            moved: None,
        });
        let input = QueueInput {
            today: date(today),
            calendar: self.calendar.clone(),
            left_today: Vec::new(),
            usual_days: 21,
            quick_minutes: 30.0,
            jobs: jobs.collect(),
        };
        let found = queue(&input).expect("an order");
        self.went_between +=
            found.places.iter().filter(|place| matches!(place.reason, Reason::GoesBetween { .. })).count();
        found.order
    }

    /// Promises the job that came in last.
    fn promise(&mut self, today: i64) {
        let order = self.order(today);
        let newest = self.open.len() - 1;
        let queued = |place: &usize| {
            let (_, job) = &self.open[*place];
            let lines = job.lines.iter().filter(|(_, minutes, given)| given < minutes);
            QueuedJob {
                claim: Claim { person: job.person, after: None },
                work: lines
                    .map(|(service, _, given)| Work {
                        kind: *service,
                        estimate_minutes: CATALOGUE[*service].0,
                        spent_minutes: *given,
                    })
                    .collect(),
                waits: job
                    .waits
                    .iter()
                    .filter(|(.., until)| *until > today || job.checked_in == today)
                    .map(|(kind, from, _)| Wait::Like {
                        past: *kind,
                        already_days: u32::try_from(today - from).ok().filter(|_| *from < today),
                    })
                    .collect(),
            }
        };
        let input = Simulation {
            start: date(today),
            calendar: self.calendar.clone(),
            left_today: Vec::new(),
            worked_shares: self.worked_shares.clone(),
            kinds: self.known.clone(),
            waits: self.waits.clone(),
            jobs: order.iter().map(queued).collect(),
            confidence: CONFIDENCE,
            draws: 100,
            seed: u64::try_from(today).expect("a day") * 1000 + u64::try_from(newest).expect("few"),
        };
        let outlook = simulate(&input).expect("an outlook");
        let place = order.iter().position(|place| *place == newest).expect("its place");
        let found = outlook.jobs[place].as_ref().expect("a day");
        let (number, job) = &mut self.open[newest];
        job.promised = Some((found.promised_day - OPENED).whole_days());
        let promised = (found.promised_day - OPENED).whole_days();
        let (before, share) = (found.share_by(date(promised - 1)), found.promised_share);
        let is_earlier = self.chance.even() < (share - CONFIDENCE) / (share - before);
        let exact = promised - i64::from(is_earlier);
        self.made[*number] = Some(Made { made_on: today, promised, share, exact, done_on: None });
    }

    /// A day at the benches. Answers, for each person, the minutes given and those of the calendar, and whether
    /// there was always something to do.
    fn work(&mut self, today: i64) -> (f64, f64, bool) {
        let order = self.order(today);
        let (mut all_given, mut all_planned, mut busy) = (0.0, 0.0, true);
        for person in 0..self.calendar.people.len() {
            let planned = f64::from(self.calendar.day(person, date(today)).minutes);
            // one day in a hundred somebody is ill; on the others the telephone rings more or less
            let worked = if self.chance.even() < 0.01 { 0.0 } else { 0.74 + 0.26 * self.chance.even() };
            let mut left = planned * worked;
            all_planned += planned;
            all_given += left;
            for place in &order {
                let (_, job) = &mut self.open[*place];
                let mine = job.person.is_none_or(|whose| whose == person);
                if left <= 0.0 || !mine || job.ends_waiting() > today || job.is_done() {
                    continue;
                }
                job.person = Some(person);
                for (_, minutes, given) in &mut job.lines {
                    let now = (*minutes - *given).clamp(0.0, left);
                    *given += now;
                    left -= now;
                }
            }
            busy &= left <= 0.0;
        }
        (all_given, all_planned, busy)
    }

    /// Hands out what is done, and writes down what was learned.
    fn evening(&mut self, today: i64) {
        for (_, job) in &self.open {
            for (kind, from, until) in &job.waits {
                if *until == today {
                    self.waits[*kind].days.push(u32::try_from(until - from).expect("days"));
                }
            }
        }
        let (done, open): (Vec<_>, Vec<_>) =
            std::mem::take(&mut self.open).into_iter().partition(|(_, job)| job.is_done());
        self.open = open;
        for (number, job) in done {
            for (service, minutes, _) in job.lines {
                self.clocked[service].jobs.push((CATALOGUE[service].0, minutes));
            }
            self.made[number].as_mut().expect("a promise").done_on = Some(today);
        }
    }

    /// Lives through all days; answers the promises of the two years.
    fn lived_through(mut self) -> (Vec<Made>, Self) {
        let last = FIRST_DAYS + JUDGED_DAYS + 120;
        let (mut given, mut planned, mut busy) = (0.0, 0.0, true);
        for today in 0..last {
            let opens =
                (0..self.calendar.people.len()).any(|person| self.calendar.day(person, date(today)).minutes > 0);
            let coming = if opens && today < FIRST_DAYS + JUDGED_DAYS { self.chance.poisson(JOBS_A_DAY) } else { 0 };
            for _ in 0..coming {
                let job = self.comes_in(today);
                self.open.push((self.made.len(), job));
                self.made.push(None);
                self.promise(today);
            }
            if opens {
                let (today_given, today_planned, today_busy) = self.work(today);
                given += today_given;
                planned += today_planned;
                busy &= today_busy;
            }
            self.evening(today);
            if today % 7 == 6 {
                self.learn();
                // a week in which somebody had nothing to do says nothing of how much can be done
                if busy && planned > 0.0 {
                    self.worked_shares.push(given / planned);
                }
                (given, planned, busy) = (0.0, 0.0, true);
            }
        }
        let judged = FIRST_DAYS..FIRST_DAYS + JUDGED_DAYS;
        let made = self.made.iter().flatten().filter(|made| judged.contains(&made.made_on)).copied().collect();
        (made, self)
    }
}

/// Days of a wait: an answer mostly comes within the week, a part within three.
fn wait_days(chance: &mut Chance, kind: usize) -> u32 {
    let days = if kind == ANSWER { 2.0 * chance.normal(0.9).exp() } else { 8.0 * chance.normal(0.5).exp() };
    u32::try_from(whole(days)).expect("days")
}

impl Chance {
    /// Poisson distributed (Knuth's product of even numbers).
    fn poisson(&mut self, mean: f64) -> u32 {
        let (limit, mut product, mut count) = ((-mean).exp(), self.even(), 0);
        while product > limit {
            product *= self.even();
            count += 1;
        }
        count
    }
}

/// Days that count as the last month, and the jobs done in it from which on it says something.
const MONTH_DAYS: i64 = 30;
const FEWEST_OF_MONTH: usize = 5;

/// Pinball loss, days (Gneiting and Raftery, J. Am. Stat. Assoc. 102, 2007, from memory): too early costs the stated
/// share a day, too late the rest.
fn pinball(said: f64, lasted: f64) -> f64 {
    if lasted >= said { (lasted - said) * CONFIDENCE } else { (said - lasted) * (1.0 - CONFIDENCE) }
}

/// Mean losses on the same jobs: of the promises, of "always two weeks", of last month's median, and of last month's
/// jobs at the stated share: the fairest of the plain rules.
fn losses(made: &[Made]) -> [f64; 4] {
    let days = |days: i64| f64::from(i32::try_from(days).expect("days"));
    let mut sums = [0.0; 4];
    let mut compared = 0.0;
    for promise in made {
        let month = promise.made_on - MONTH_DAYS..promise.made_on;
        let done = made.iter().filter(|other| other.done_on.is_some_and(|done| month.contains(&done)));
        let mut took: Vec<i64> = done.map(|other| other.done_on.expect("done") - other.made_on).collect();
        took.sort_unstable();
        if took.len() < FEWEST_OF_MONTH {
            continue;
        }
        let rank = |share: f64| {
            took[usize::try_from(whole(share * days(i64::try_from(took.len()).expect("few")) - 0.5).max(0))
                .expect("a place")]
        };
        let said = [promise.promised - promise.made_on, 14, rank(0.5), rank(CONFIDENCE)];
        let lasted = days(promise.done_on.expect("all are done") - promise.made_on);
        for (sum, said) in sums.iter_mut().zip(said) {
            *sum += pinball(days(said), lasted);
        }
        compared += 1.0;
    }
    assert!(compared > 1900.0, "{compared}");
    sums.map(|sum| sum / compared)
}

/// Of 2,000 promises at 90 %, 87–93 % are kept, and they beat both plain rules on the same jobs.
///
/// A day is whole: the first day by which nine of ten draws were done mostly holds more of them, and says so. Whether
/// what it says is true is asked twice: of the promises as they were made, which are kept as often as they say; and of
/// the day that holds exactly 90 %, which is that one or the day before, drawn by how much each holds (randomised as
/// counts are, Czado, Gneiting and Held, Biometrics 65, 2009, from memory).
///
/// Power of that band, were the promises independent (binomial, by scipy): it lets a shop that truly keeps 90 % pass
/// almost always, 88 % with 0.920, 87 % with 0.517, 85 % with 0.006.
#[test]
fn nine_of_ten_promises_are_kept_and_no_plain_rule_does_as_well() {
    let (made, shop) = Shop::new(2026).lived_through();
    let made = &made[..2000];
    assert!(shop.open.is_empty() && shop.went_between > 0);
    let kept = |day: &dyn Fn(&Made) -> i64| {
        made.iter().filter(|made| made.done_on.is_some_and(|done| done <= day(made))).count()
    };
    let exactly = kept(&|made| made.exact);
    assert!((1740..=1860).contains(&exactly), "{exactly} of 2000");
    let (as_made, said) = (kept(&|made| made.promised), made.iter().map(|made| made.share).sum::<f64>());
    let apart = f64::from(u32::try_from(as_made).expect("at most 2000")) - said;
    // three standard deviations of so many independent promises, and a little: jobs of a week share their queue
    assert!(said > 1800.0 && apart.abs() < 40.0, "{as_made} kept where {said} were said");
    let [ours, two_weeks, months_median, months_share] = losses(made);
    assert!(ours < two_weeks && ours < months_median, "{ours}: {two_weeks}, {months_median}");
    assert!(ours < months_share, "{ours}: {months_share}");
    for (truly, passes) in [(0.9, 0.999_99), (0.88, 0.9196), (0.87, 0.5165), (0.85, 0.0060)] {
        close(at_most(1860, 2000, truly) - at_most(1739, 2000, truly), passes, 1e-4);
    }
}
