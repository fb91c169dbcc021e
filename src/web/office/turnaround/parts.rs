//! Where the days go, how it was month by month, and whether the figures agree with each other.

use time::Duration;

use crate::drawing::curves::{Axis, Curve, CurveChart, curves};
use crate::forecast::littles_law::LittlesLaw;
use crate::quantity::{Instant, month_words};
use crate::records::stays::{AtStage, InTheHouse, Stay, Waited};
use crate::web::page::RequestContext;

use super::super::charts::{ChartView, month_axis, places};
use super::super::period::Period;
use super::sample::{Sample, Until, between};

const SECONDS_PER_DAY: f64 = 86_400.0;

/// Days at one stage, or waiting for one thing.
pub(super) struct PartRow {
    pub(super) what: String,
    pub(super) times: i64,
    /// On average, each time.
    pub(super) days: String,
    /// Of all days at stages.
    pub(super) share: String,
}

/// Days of 24 hours, to the second.
fn days(microseconds: i64) -> f64 {
    Duration::microseconds(microseconds).as_seconds_f64() / SECONDS_PER_DAY
}

fn part(what: String, times: i64, microseconds: i64, of: i64) -> PartRow {
    let share = if of > 0 { days(microseconds) / days(of) * 100.0 } else { 0.0 };
    PartRow {
        what,
        times,
        days: format!("{:.1}", days(microseconds) / f64::from(i32::try_from(times).unwrap_or(i32::MAX))),
        share: format!("{share:.0} %"),
    }
}

/// Days at each stage, in the order of the stages.
pub(super) fn stages(at: &[AtStage]) -> Vec<PartRow> {
    let all = at.iter().map(|at| at.microseconds).sum();
    at.iter().map(|at| part(at.stage.spoken().to_owned(), at.times, at.microseconds, all)).collect()
}

/// Days waiting, by what for.
pub(super) fn waits(waited: &[Waited]) -> Vec<PartRow> {
    let all = waited.iter().map(|waited| waited.microseconds).sum();
    let row = |waited: &Waited| part(waited.waiting_for.spoken().to_owned(), waited.times, waited.microseconds, all);
    waited.iter().map(row).collect()
}

/// The jobs that came in one month.
pub(super) struct MonthRow {
    pub(super) month: String,
    pub(super) jobs: usize,
    pub(super) finished: usize,
    pub(super) median: String,
    pub(super) limits: String,
    pub(super) p90: String,
    median_days: Option<f64>,
    p90_days: Option<f64>,
}

/// Month by month of check-in, the oldest first.
pub(super) fn months(stays: &[Stay], period: Period, until: Until, context: &RequestContext) -> Vec<MonthRow> {
    let mut samples = vec![Sample::default(); period.first_days().count()];
    for stay in stays {
        let place = period.place(context.app.clock.local_date(stay.checked_in_at));
        if let Some(sample) = place.and_then(|place| samples.get_mut(place)) {
            sample.push(until.followed(stay, context));
        }
    }
    let row = |(first_day, sample): (time::Date, &Sample)| {
        let worked = sample.worked_out();
        let worked = worked.as_ref();
        let median_days = worked.and_then(|worked| worked.median_days);
        let p90_days = worked.and_then(|worked| worked.p90_days);
        let said = |days: Option<f64>| match (sample.jobs(), days) {
            (0, _) => String::new(),
            (_, None) => "not yet".to_owned(),
            (_, Some(days)) => days.to_string(),
        };
        MonthRow {
            month: month_words(first_day),
            jobs: sample.jobs(),
            finished: sample.finished(),
            median: said(median_days),
            limits: worked.map(|worked| between(worked.median_least_days, worked.median_most_days)).unwrap_or_default(),
            p90: said(p90_days),
            median_days,
            p90_days,
        }
    };
    period.first_days().zip(&samples).map(row).collect()
}

/// The same drawn; nothing of months in which nothing was finished.
pub(super) fn trend(months: &[MonthRow], until: Until) -> Option<ChartView> {
    let most = months.iter().filter_map(|month| month.p90_days.or(month.median_days)).reduce(f64::max)?;
    let curve = |name: &str, days: fn(&MonthRow) -> Option<f64>| Curve {
        name: name.to_owned(),
        points: places().zip(months).map(|(place, month)| (place, days(month))).collect(),
        limits: Vec::new(),
    };
    let said = months.iter().filter_map(|month| Some(format!("{} {}", month.month, month.median_days?)));
    let chart = CurveChart {
        alternative: format!(
            "Days from check-in to {} by month of check-in. Half of the jobs: {}.",
            until.word(),
            said.collect::<Vec<_>>().join(", ")
        ),
        x: month_axis(months.iter().map(|month| month.month.as_str())),
        y: Axis::rising("days", most, |days| days.to_string()),
        steps: false,
        curves: vec![curve("half", |month| month.median_days), curve("90 %", |month| month.p90_days)],
    };
    Some(ChartView { map: curves(&chart) })
}

/// Little's law as a sentence.
pub(super) struct LawView {
    pub(super) mean_open: String,
    pub(super) left_a_week: String,
    pub(super) mean_days: String,
    pub(super) expected: String,
    pub(super) differs_widely: bool,
}

/// Both sides of the law from a moment until now; `None` where nothing left the house.
pub(super) fn law(found: &InTheHouse, from: Instant, now: Instant) -> Option<LawView> {
    let left = i32::try_from(found.left).map_or(f64::INFINITY, f64::from);
    let law = LittlesLaw::of_sums(days(now.0 - from.0), days(found.stayed_within), left, days(found.their_stays))?;
    Some(LawView {
        mean_open: format!("{:.1}", law.mean_open),
        left_a_week: format!("{:.1}", law.closed_a_day * 7.0),
        mean_days: format!("{:.1}", law.mean_days),
        expected: format!("{:.1}", law.expected_open),
        differs_widely: law.differs_widely(),
    })
}
