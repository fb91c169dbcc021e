//! Jobs told apart: by family, service, person or season, each beside all the others.

use std::collections::BTreeMap;

use crate::drawing::curves::{Axis, Curve, CurveChart, MOST, curves};
use crate::forecast::turnaround::TurnaroundOutput;
use crate::forecast::turnaround::comparison::{By, Comparison, compare};
use crate::records::family::Family;
use crate::records::stays::{Stay, StaysBy};
use crate::web::page::RequestContext;
use crate::web::words::figures;

use super::super::charts::ChartView;
use super::sample::{Sample, Until, between, days_words};

/// Chances are drawn alike each time the page is opened.
const SEED: u64 = 1;
/// A difference that chance alone shows less often than this is called one. Common practice, no source.
const BEYOND_CHANCE: f64 = 0.05;
/// The chart ends where all but this share are done: a single straggler would press the rest together.
const DRAWN_SHARE: f64 = 0.97;

/// The groups, the largest first.
#[derive(Debug, Default)]
pub(super) struct Groups {
    groups: Vec<Group>,
}

/// One of them, worked out once for the table, the chart and its words.
#[derive(Debug)]
struct Group {
    name: String,
    sample: Sample,
    worked: Option<TurnaroundOutput>,
}

/// One group as a row.
pub(super) struct GroupRow {
    /// The number at its curve; empty where it is not drawn.
    pub(super) number: String,
    pub(super) name: String,
    pub(super) jobs: usize,
    pub(super) finished: usize,
    pub(super) median: String,
    pub(super) limits: String,
    pub(super) p80: String,
    pub(super) p90: String,
    /// Beside all the others; empty where there is nothing to compare.
    pub(super) beside: String,
    pub(super) is_beyond_chance: bool,
    /// How that was found.
    pub(super) how: String,
}

impl Groups {
    /// By the name that stands in each stay.
    pub(super) fn by_name(stays: &[Stay], by: StaysBy, until: Until, context: &RequestContext) -> Self {
        let name = |stay: &Stay| match (by, stay.group.parse::<Family>()) {
            (StaysBy::Family, Ok(family)) => family.spoken().to_owned(),
            (StaysBy::Person, _) if stay.group.is_empty() => "nobody yet".to_owned(),
            (StaysBy::Service, _) if stay.group.is_empty() => "no work agreed yet".to_owned(),
            _ => stay.group.clone(),
        };
        Self::of(stays, name, until, context)
    }

    /// By the season of check-in, named by its months: winter is not in December everywhere.
    pub(super) fn by_season(stays: &[Stay], until: Until, context: &RequestContext) -> Self {
        let name = |stay: &Stay| {
            let months = match u8::from(context.app.clock.local_date(stay.checked_in_at).month()) {
                3..=5 => "March to May",
                6..=8 => "June to August",
                9..=11 => "September to November",
                _ => "December to February",
            };
            months.to_owned()
        };
        Self::of(stays, name, until, context)
    }

    fn of(stays: &[Stay], name: impl Fn(&Stay) -> String, until: Until, context: &RequestContext) -> Self {
        let mut named: BTreeMap<String, Sample> = BTreeMap::new();
        for stay in stays {
            named.entry(name(stay)).or_default().push(until.followed(stay, context));
        }
        let worked_out = |(name, sample): (String, Sample)| Group { name, worked: sample.worked_out(), sample };
        let mut groups: Vec<Group> = named.into_iter().map(worked_out).collect();
        groups.sort_by_key(|group| std::cmp::Reverse(group.sample.jobs()));
        Self { groups }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.groups.is_empty()
    }

    /// Groups for which there is no pattern left.
    pub(super) fn not_drawn(&self) -> usize {
        self.groups.len().saturating_sub(MOST)
    }

    /// Every group with its days, and beside all the others.
    pub(super) fn rows(&self) -> Vec<GroupRow> {
        // two groups are one comparison, seen from both sides
        let comparisons = if self.groups.len() == 2 { 1 } else { self.groups.len() };
        let comparisons = u32::try_from(comparisons).unwrap_or(u32::MAX);
        let row = |(place, Group { name, sample, worked }): (usize, &Group)| {
            let days = |days: Option<f64>| days.map_or_else(|| "–".to_owned(), |days| days.to_string());
            let compared = self.beside_others(place);
            let (beside, is_beyond_chance, how) =
                compared.map_or_else(Default::default, |compared| beside_words(&compared, comparisons));
            GroupRow {
                number: if place < MOST { (place + 1).to_string() } else { String::new() },
                name: name.clone(),
                jobs: sample.jobs(),
                finished: sample.finished(),
                median: days(worked.as_ref().and_then(|worked| worked.median_days)),
                limits: worked
                    .as_ref()
                    .map(|worked| between(worked.median_least_days, worked.median_most_days))
                    .unwrap_or_default(),
                p80: days(worked.as_ref().and_then(|worked| worked.p80_days)),
                p90: days(worked.as_ref().and_then(|worked| worked.p90_days)),
                beside,
                is_beyond_chance,
                how,
            }
        };
        self.groups.iter().enumerate().map(row).collect()
    }

    /// One group against all the others together; `None` where nothing ended on one of the sides.
    fn beside_others(&self, place: usize) -> Option<Comparison> {
        let own = &self.groups.get(place)?.sample;
        let mut others = Sample::default();
        let beside = self.groups.iter().enumerate().filter(|(other, _)| *other != place);
        for sample in beside.map(|(_, group)| &group.sample) {
            others.input.durations_days.extend(&sample.input.durations_days);
            others.input.finished.extend(&sample.input.finished);
        }
        if own.finished() == 0 || others.finished() == 0 {
            return None;
        }
        compare(&own.input, &others.input, SEED).ok()
    }

    /// The curves of the groups, or that of all jobs with its limits.
    pub(super) fn chart(&self, all: &Sample, worked: &TurnaroundOutput, until: Until) -> ChartView {
        let reached = worked.curve.iter().find(|step| step.share_open <= 1.0 - DRAWN_SHARE).map(|step| step.days);
        let x = Axis::rising("days from check-in", reached.unwrap_or_else(|| all.longest()), |days| days.to_string());
        let drawn: Vec<(Curve, Option<&TurnaroundOutput>)> = if self.groups.len() > 1 {
            let drawn = self.groups.iter().take(MOST).map(|group| (group, group.worked.as_ref()));
            drawn.map(|(group, worked)| (curve(&group.name, &group.sample, worked, x.most, false), worked)).collect()
        } else {
            vec![(curve("all jobs", all, Some(worked), x.most, true), Some(worked))]
        };
        let said = drawn.iter().map(|(curve, worked)| {
            let median = worked.and_then(|worked| worked.median_days);
            let median = median
                .map_or_else(|| "not half of them yet".to_owned(), |days| format!("half within {}", days_words(days)));
            format!("{}: {median}", curve.name)
        });
        let alternative = format!(
            "Share of jobs {} by days from check-in, with what is still open counted as still open. {}.",
            until.word(),
            said.collect::<Vec<_>>().join("; ")
        );
        let drawn = drawn.into_iter().map(|(curve, _)| curve).collect();
        let y = Axis {
            words: String::new(),
            ticks: [0.0, 0.25, 0.5, 0.8, 0.9, 1.0].map(|share| (share, format!("{:.0} %", share * 100.0))).to_vec(),
            most: 1.0,
        };
        ChartView { map: curves(&CurveChart { alternative, x, y, steps: true, curves: drawn }) }
    }
}

/// The share that is done, day by day, up to the end of the chart.
fn curve(name: &str, sample: &Sample, worked: Option<&TurnaroundOutput>, end: f64, with_limits: bool) -> Curve {
    let steps = || worked.iter().flat_map(|worked| &worked.curve).take_while(|step| step.days <= end);
    let mut points = vec![(0.0, Some(0.0))];
    points.extend(steps().map(|step| (step.days, Some(1.0 - step.share_open))));
    let last = points.last().and_then(|(_, share)| *share);
    points.push((sample.longest().min(end), last));
    let limits = steps().filter_map(|step| step.limits.map(|[least, most]| (step.days, 1.0 - most, 1.0 - least)));
    Curve { name: name.to_owned(), points, limits: if with_limits { limits.collect() } else { Vec::new() } }
}

/// "2.3 days longer", whether chance alone shows less, and how that was found.
fn beside_words(compared: &Comparison, comparisons: u32) -> (String, bool, String) {
    let difference = compared.difference;
    let words = match difference.days {
        days if days.abs() < 0.05 => "as long".to_owned(),
        days if days > 0.0 => format!("{days:.1} days longer"),
        days => format!("{:.1} days shorter", -days),
    };
    let p = compared.p_among(comparisons);
    let by = match compared.by {
        By::ChiSquare => format!("log-rank χ² {:.2}, 1 degree of freedom", compared.chi_square),
        By::AllWays(ways) => format!("log-rank, of all {ways} ways to deal these jobs out"),
        By::DrawnWays(ways) => format!("log-rank, of {ways} drawn ways to deal these jobs out"),
    };
    let allowed = if comparisons > 1 { format!(", allowing for {comparisons} comparisons") } else { String::new() };
    let [least, most] = difference.limits_days;
    let how = format!(
        "{by}; p {}{allowed}. Mean days within {}: {:.1} less {:.1}, truly {} to {} with 95 %",
        figures(p, 2),
        days_words(difference.first.until_days),
        difference.first.days,
        difference.second.days,
        signed(least),
        signed(most),
    );
    (words, p < BEYOND_CHANCE, how)
}

fn signed(days: f64) -> String {
    format!("{days:+.1}").replace('-', "−")
}
