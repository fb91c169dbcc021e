//! Queue theory as a second opinion on `promise` and on how percentiles are told. It is no feature:
//! a shop is not a textbook queue. Formulas: Erlang B, then C, and what follows from them.

use serde_json::{Value, json};
use thumbplane::forecast::calendar::{BenchCalendar, PersonHours};
use thumbplane::forecast::schedule::{Capacity, Claim, Walk};

use super::{Chance, answer, close, close_percent, number};
use crate::support::paired;

/// Jobs come at random (Poisson), take exponential hours, and `benches` work side by side.
#[derive(Clone, Copy)]
struct Queue {
    /// Jobs that come in a unit of time.
    coming: f64,
    /// Jobs that one bench does in it.
    doing: f64,
    benches: u32,
}

impl Queue {
    fn new(coming: f64, doing: f64, benches: u32) -> Self {
        Self { coming, doing, benches }
    }

    fn load(self) -> f64 {
        self.coming / self.doing
    }

    /// Chance that a job must wait (Erlang C); `None` where the queue grows without end.
    fn must_wait(self) -> Option<f64> {
        let (load, benches) = (self.load(), f64::from(self.benches));
        let blocked =
            (1..=self.benches).fold(1.0, |blocked, bench| load * blocked / (f64::from(bench) + load * blocked));
        (load < benches).then(|| blocked / (1.0 - load / benches * (1.0 - blocked)))
    }

    fn spare(self) -> f64 {
        f64::from(self.benches) * self.doing - self.coming
    }

    fn mean_wait(self) -> f64 {
        self.must_wait().map_or(f64::INFINITY, |share| share / self.spare())
    }

    fn mean_turnaround(self) -> f64 {
        self.mean_wait() + 1.0 / self.doing
    }

    fn mean_waiting(self) -> f64 {
        self.coming * self.mean_wait()
    }

    fn mean_open(self) -> f64 {
        self.coming * self.mean_turnaround()
    }

    /// Chance that nobody is there.
    fn idle(self) -> f64 {
        let (load, benches) = (self.load(), f64::from(self.benches));
        let mut term = 1.0;
        let mut sum = 0.0;
        for jobs in 0..self.benches {
            sum += term;
            term *= load / f64::from(jobs + 1);
        }
        1.0 / (sum + term * benches / (benches - load))
    }

    fn wait_longer_than(self, time: f64) -> f64 {
        self.must_wait().map_or(1.0, |share| share * (-self.spare() * time).exp())
    }

    fn turnaround_longer_than(self, time: f64) -> f64 {
        let (share, spare, doing) = (self.must_wait().unwrap_or(1.0), self.spare(), self.doing);
        let own = (-doing * time).exp();
        if (spare - doing).abs() < 1e-9 {
            return own * (1.0 + share * doing * time);
        }
        (1.0 - share) * own + share * (spare * own - doing * (-spare * time).exp()) / (spare - doing)
    }
}

/// The time that all but a share of `1 - p` stay below, by bisection.
fn percentile(p: f64, longer_than: impl Fn(f64) -> f64) -> f64 {
    let (mut least, mut most) = (0.0, 1e4);
    for _ in 0..80 {
        let middle = f64::midpoint(least, most);
        if longer_than(middle) > 1.0 - p { least = middle } else { most = middle }
    }
    least
}

/// R. Bronson, Operations Research (1982), problems 23.3 and 24.6, published; and an eye clinic of three
/// doctors whose inputs are published and whose results are the closed form.
#[test]
fn published_queues_come_out_as_printed() {
    let counter = Queue::new(24.0, 30.0, 1);
    close(counter.mean_open(), 4.0, 1e-9);
    close(counter.mean_turnaround(), 1.0 / 6.0, 1e-9);
    close(counter.idle(), 0.2, 1e-9);

    let yearly = Queue::new(300.0, 365.0 / 2.0, 3);
    close(yearly.mean_waiting(), 0.352, 0.001);
    close(yearly.mean_open(), 1.996, 0.001);
    close(yearly.mean_wait(), 0.001_175, 0.000_002);
    close(yearly.mean_turnaround(), 0.006_654, 0.000_003);
    close(yearly.idle(), 0.177_54, 0.0001);

    let clinic = Queue::new(6.0, 3.0, 3);
    close(clinic.mean_waiting(), 8.0 / 9.0, 1e-9);
    close(clinic.idle(), 1.0 / 9.0, 1e-9);
    close(clinic.mean_turnaround() * 60.0, 28.89, 0.005);
}

/// Derived: Erlang C, waits and turnarounds.
#[test]
#[expect(
    clippy::approx_constant,
    reason = "the p90 of an exponential turnaround of mean 1 is ln 10, as the table prints it"
)]
fn waits_and_turnarounds_follow_from_erlangs_formula() {
    let shares = [
        (1, 0.8, 0.8),
        (2, 1.0, 0.333_33),
        (2, 1.5, 0.642_86),
        (3, 2.0, 0.444_44),
        (4, 3.0, 0.509_43),
        (5, 4.0, 0.554_11),
    ];
    for (benches, load, expected) in shares {
        close(Queue::new(load, 1.0, benches).must_wait().expect("an end"), expected, 0.0001);
    }
    // mean wait and turnaround; wait p90, turnaround p80 and p90
    let rows = [
        (Queue::new(4.0, 5.0, 1), [0.8, 1.0, 2.0794, 1.6094, 2.3026]),
        (Queue::new(1.5, 1.0, 2), [1.285_71, 2.285_71, 3.7215, 3.6485, 5.0723]),
    ];
    for (queue, [wait, turnaround, wait_90, turnaround_80, turnaround_90]) in rows {
        close(queue.mean_wait(), wait, 0.0001);
        close(queue.mean_turnaround(), turnaround, 0.0001);
        close(percentile(0.9, |time| queue.wait_longer_than(time)), wait_90, 0.0001);
        close(percentile(0.8, |time| queue.turnaround_longer_than(time)), turnaround_80, 0.0001);
        close(percentile(0.9, |time| queue.turnaround_longer_than(time)), turnaround_90, 0.0001);
    }
    let four = Queue::new(3.2, 1.0, 4);
    close(four.must_wait().expect("an end"), 0.596_43, 0.0001);
    close(four.mean_wait(), 0.745_54, 0.0001);
    close(percentile(0.9, |time| four.turnaround_longer_than(time)), 3.7760, 0.0002);
    // Allen and Cunneen's rough rule: the wait times half the sum of the squared variations, here 1 and 0.5
    close(Queue::new(1.5, 1.0, 2).mean_wait() * f64::midpoint(1.0, 0.5), 0.964_29, 0.0001);
    // where more comes than is done there is no number
    assert!(Queue::new(2.0, 1.0, 2).must_wait().is_none() && Queue::new(2.0, 1.0, 2).mean_wait().is_infinite());
}

/// Little (Operations Research 9, 1961), published: open jobs are those that come times how long they stay.
#[test]
fn littles_law_holds() {
    close(18.0 / 4.0, 4.5, 0.0);
    for queue in [Queue::new(4.0, 5.0, 1), Queue::new(1.5, 1.0, 2), Queue::new(3.2, 1.0, 4)] {
        // open jobs are those that wait and those on a bench
        close(queue.mean_open(), queue.mean_waiting() + queue.load(), 1e-9);
    }
}

/// Ten closed jobs: linear between ranks (type 7), and nearest rank, which never invents a value. The
/// engine tells the latter.
#[test]
fn percentiles_of_the_shop_are_nearest_rank() {
    let days = [2.0, 3.0, 3.0, 5.0, 6.0, 8.0, 9.0, 12.0, 14.0, 30.0];
    let between_ranks = |p: f64| {
        let rank = 9.0 * p;
        let below = (0..9).rev().find(|below| f64::from(*below) <= rank).expect("a rank");
        let place = usize::try_from(below).expect("small");
        days[place] + (days[place + 1] - days[place]) * (rank - f64::from(below))
    };
    let worked = answer("turnaround", &json!({"durations_days": days, "finished": vec![true; 10]}));
    for (p, field, linear, nearest) in
        [(0.5, "/median_days", 7.0, 6.0), (0.8, "/p80_days", 12.4, 12.0), (0.9, "/p90_days", 15.6, 14.0)]
    {
        close(between_ranks(p), linear, 1e-9);
        close(number(&worked, field), nearest, 0.0);
    }
}

/// A bench that gives one hour a day, so that hours and days are one.
fn one_hour_a_day(jobs: Vec<Value>, draws: u32, seed: u64) -> Value {
    answer(
        "promise",
        &json!({"start": "2026-01-01", "week_hours": [1, 1, 1, 1, 1, 1, 1], "jobs": jobs, "draws": draws, "seed": seed}),
    )
}

/// Days after the start, the first being 0.
fn days_ahead(day: &Value) -> f64 {
    let day = thumbplane::quantity::parse_day(day.as_str().expect("a day")).expect("a day");
    let ahead = (day - time::macros::date!(2026 - 01 - 01)).whole_days();
    f64::from(i32::try_from(ahead).expect("within years"))
}

/// Exponential hours have no memory and find a share (1 − ρ)ρⁿ of moments with n jobs before them: mixed
/// so, the days that `promise` gives are the exponential turnaround of a single bench. With 4000 draws at
/// each n the mixed share has a standard deviation below 0.0047; five of them are allowed.
#[test]
fn promises_of_exponential_jobs_mix_to_the_turnaround_of_one_bench() {
    const MEAN_HOURS: f64 = 30.0;
    let (load, most_before) = (0.5_f64, 12);
    let hours: Vec<f64> = (0..500).map(|place| -MEAN_HOURS * (1.0 - (f64::from(place) + 0.5) / 500.0).ln()).collect();
    let job = json!({"hours": hours});
    let queue = Queue::new(load / MEAN_HOURS, 1.0 / MEAN_HOURS, 1);
    let times = [10.0, 40.0, 60.0, 100.0, 150.0];
    let mut done_by = [0.0; 5];
    for before in 0..=most_before {
        let share = (1.0 - load) * load.powi(before);
        let jobs = vec![job.clone(); usize::try_from(before).expect("few") + 1];
        let worked = one_hour_a_day(jobs, 4000, 17 + u64::try_from(before).expect("few"));
        for entry in worked["days"].as_array().expect("days") {
            let end_of_day = days_ahead(&entry["day"]) + 1.0;
            for (time, done) in paired(&times, &mut done_by) {
                *done += if end_of_day <= *time { share * number(entry, "/probability") } else { 0.0 };
            }
        }
    }
    for (time, done) in paired(&times, done_by) {
        close(done, 1.0 - queue.turnaround_longer_than(*time), 0.0235);
    }
}

/// A bench through some four hundred years: each job that comes is promised with certain hours behind the
/// jobs that are still open, and is done on that very day. Mean wait and turnaround are those of the
/// textbook queue within four standard errors, which 40 batches of the run itself give; and the open jobs
/// that each check-in finds are as many as Little's law says.
#[test]
fn a_simulated_bench_waits_as_the_textbook_queue_does() {
    const MEAN_HOURS: f64 = 20.0;
    const JOBS: u32 = 3200;
    let queue = Queue::new(0.4 / MEAN_HOURS, 1.0 / MEAN_HOURS, 1);
    let mut chance = Chance::new(5);
    let (mut now, mut open): (f64, Vec<f64>) = (0.0, Vec::new());
    let (mut waits, mut turnarounds, mut found) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..JOBS {
        let until = chance.exponential(MEAN_HOURS / 0.4);
        now += until;
        let mut bench = until;
        while let Some(first) = open.first_mut() {
            let worked = first.min(bench);
            *first -= worked;
            bench -= worked;
            if *first > 0.0 {
                break;
            }
            open.remove(0);
        }
        found.push(f64::from(u32::try_from(open.len()).expect("few")));
        let own = chance.exponential(MEAN_HOURS);
        open.push(own);
        let jobs = open.iter().map(|hours| json!({"hours": [hours]})).collect();
        let ended = days_ahead(&one_hour_a_day(jobs, 1, 1)["promised_day"]) + 1.0;
        let hours: f64 = open.iter().sum();
        assert!(ended >= hours - 1e-6 && ended < hours + 1.0 + 1e-6, "{hours} hours end within day {ended}");
        // done half-way through its day, on average
        turnarounds.push(ended - 0.5);
        waits.push(ended - 0.5 - own);
    }
    assert!(now > 100_000.0);
    for (measured, expected) in
        [(&waits, queue.mean_wait()), (&turnarounds, queue.mean_turnaround()), (&found, queue.mean_open())]
    {
        let (mean, error) = batches(measured);
        close(mean, expected, 4.0 * error);
        assert!(error < expected * 0.1, "a run that long says something: {mean} ± {error}");
    }
    close_percent(queue.mean_turnaround(), MEAN_HOURS / 0.6, 1e-9);
}

/// Mean of a run and its standard error from 40 batches, since neighbours are alike.
fn batches(run: &[f64]) -> (f64, f64) {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let means: Vec<f64> = run.chunks(run.len() / 40).map(mean).collect();
    let all = mean(&means);
    let spread = means.iter().map(|batch| (batch - all).powi(2)).sum::<f64>() / (means.len() as f64 - 1.0);
    (all, (spread / means.len() as f64).sqrt())
}

/// Jobs of a run that are looked at, the first hundred not among them: the benches begin empty.
const RUN: usize = 900;
const WARM_UP: usize = 100;

/// Runs of benches side by side, a job's unit of work being a day: the waits of each run.
fn runs(count: u64, benches: usize, between: f64, mut takes: impl FnMut(&mut Chance) -> f64) -> Vec<Vec<f64>> {
    const MINUTES_A_DAY: u32 = 1000;
    let hours = PersonHours { week_minutes: [MINUTES_A_DAY; 7], ..Default::default() };
    let calendar = BenchCalendar { people: vec![hours; benches], closed: Vec::new() };
    let capacity = Capacity::new(&calendar, time::macros::date!(2026 - 01 - 01), 3000, &[]);
    let claims = vec![Claim::default(); RUN];
    let run = |seed: u64| {
        let mut chance = Chance::new(900 + seed);
        let mut now = 0.0;
        let (begins, days): (Vec<f64>, Vec<f64>) = (0..RUN)
            .map(|_| {
                now += chance.exponential(between);
                (now, takes(&mut chance))
            })
            .unzip();
        let minutes: Vec<f64> = days.iter().map(|days| days * f64::from(MINUTES_A_DAY)).collect();
        let mut walk = Walk::new(&capacity, &claims);
        let slots = walk.hand_out(&minutes, &begins);
        let waits = slots.iter().zip(&begins).zip(&days).map(|((slot, begin), days)| slot.end - begin - days);
        waits.skip(WARM_UP).collect()
    };
    (0..count).map(run).collect()
}

/// The mean over all runs and its standard error from them: jobs of one run share their queue.
fn over_runs(runs: &[Vec<f64>], of: impl Fn(f64) -> f64) -> (f64, f64) {
    let means: Vec<f64> =
        runs.iter().map(|run| run.iter().map(|wait| of(*wait)).sum::<f64>() / run.len() as f64).collect();
    let all = means.iter().sum::<f64>() / means.len() as f64;
    let spread = means.iter().map(|mean| (mean - all).powi(2)).sum::<f64>() / (means.len() as f64 - 1.0);
    (all, (spread / means.len() as f64).sqrt())
}

/// Erlang C, several at the bench: how many jobs wait, and for how long, within four standard errors.
#[test]
fn several_at_the_bench_keep_jobs_waiting_as_erlang_says() {
    for (benches, load) in [(2, 1.2), (3, 2.1)] {
        let queue = Queue::new(load, 1.0, u32::try_from(benches).expect("few"));
        let runs = runs(24, benches, 1.0 / load, |chance| chance.exponential(1.0));
        for (found, expected) in [
            (over_runs(&runs, |wait| wait), queue.mean_wait()),
            (over_runs(&runs, |wait| f64::from(u8::from(wait > 1e-6))), queue.must_wait().expect("an end")),
            (over_runs(&runs, |wait| f64::from(u8::from(wait > 1.0))), queue.wait_longer_than(1.0)),
        ] {
            let (mean, error) = found;
            close(mean, expected, 4.0 * error);
            assert!(error < 0.15 * expected, "runs that long say something: {mean} ± {error}");
        }
    }
}

/// M/D/1, jobs of one length: the mean wait by Pollaczek and Khinchine, ρ/(2μ(1 − ρ)), and the distribution of
/// waits by Erlang's series, computed by a second program.
#[test]
fn jobs_of_one_length_wait_as_the_textbook_says() {
    close(0.8 / (2.0 * 5.0 * 0.2), 0.4, 1e-12);
    close(0.9 / (2.0 * 0.1), 4.5, 1e-12);
    let load = 0.8;
    let runs = runs(40, 1, 1.0 / load, |_| 1.0);
    let (mean, error) = over_runs(&runs, |wait| wait);
    close(mean, load / (2.0 * (1.0 - load)), 4.0 * error);
    assert!(error < 0.3, "{error}");
    for (days, share) in [(1e-6, 0.2), (1.0, 0.445_11), (2.0, 0.634_52), (5.0, 0.899_50)] {
        let (found, error) = over_runs(&runs, |wait| f64::from(u8::from(wait <= days)));
        close(found, share, 4.0 * error);
        assert!(error < 0.03, "{error}");
    }
}
