//! `/office/minutes`: what each service really takes here, by the labour clock, and which estimates of the price list
//! should say something else.

use askama::Template;

use crate::forecast::minutes::{Clocked, Scatter, Suggestion, TrueMinutes, outliers};
use crate::records::clocked::{self, NEWEST, ServiceMinutes};
use crate::records::service::{self, Service};
use crate::web::Result;
use crate::web::page::{Layout, RequestContext, page};

#[derive(Template)]
#[template(path = "office/minutes.html")]
struct MinutesPage {
    layout: Layout,
    rows: Vec<Row>,
    /// Services nobody has clocked yet.
    unclocked: Vec<String>,
    how: How,
    newest: i64,
    suggested: usize,
}

/// The numbers behind every row.
pub(super) struct How {
    pub(super) within: String,
    pub(super) between: String,
    pub(super) k: String,
    pub(super) house: String,
    /// They are this house's own.
    pub(super) is_own: bool,
}

struct Row {
    href: String,
    name: String,
    listed: i64,
    jobs: usize,
    without_time: usize,
    unusual: usize,
    /// Of the jobs alone, in the middle.
    middle: String,
    weight: String,
    usual: String,
    range: String,
    suggestion: SuggestionView,
}

/// What is suggested, and how sure it is.
pub(super) struct SuggestionView {
    /// New minutes, where other ones are suggested.
    pub(super) minutes: Option<i64>,
    pub(super) words: String,
}

/// What is known of one service.
pub(super) struct Known {
    pub(super) service: Service,
    /// ln(clocked / listed) of each line that has both.
    pub(super) logs: Vec<f64>,
    pub(super) without_time: usize,
    pub(super) truth: TrueMinutes,
    pub(super) scatter: Scatter,
}

impl Known {
    /// What the price list should say.
    pub(super) fn suggestion(&self) -> Suggestion {
        self.truth.suggestion(minutes_as_number(self.service.minutes))
    }

    pub(super) fn suggestion_view(&self) -> SuggestionView {
        let sure = |probability: f64| format!("{:.0} % sure", (probability * 100.0).min(99.0).floor());
        let (minutes, words) = match self.suggestion() {
            Suggestion::TooFew { jobs } => {
                (None, format!("too few jobs yet: {jobs} of {}", crate::forecast::minutes::FEWEST_TO_SUGGEST))
            }
            Suggestion::Keep => (None, "keep it".to_owned()),
            Suggestion::Longer { minutes, probability } => {
                (whole(minutes), format!("takes over a tenth longer, {}", sure(probability)))
            }
            Suggestion::Shorter { minutes, probability } => {
                (whole(minutes), format!("takes over a tenth less, {}", sure(probability)))
            }
        };
        SuggestionView { minutes, words }
    }

    /// Half of the jobs take less; "–" where the price list has no minutes.
    pub(super) fn usual_words(&self) -> String {
        minutes_words(self.truth.usual_minutes(minutes_as_number(self.service.minutes)))
    }

    /// Between which minutes eight of ten jobs lie: the tenth and the ninetieth percentile of a log-normal job.
    fn range_words(&self) -> String {
        // the normal distribution's ninetieth percentile
        const NINETIETH: f64 = 1.281_551_565_544_6;
        let usual = self.truth.usual_minutes(minutes_as_number(self.service.minutes));
        let spread = self.truth.log_spread.hypot(self.truth.log_error);
        let end = |side: f64| minutes_words(usual * (side * NINETIETH * spread).exp());
        format!("{}–{}", end(-1.0), end(1.0))
    }
}

pub(super) fn minutes_as_number(minutes: i64) -> f64 {
    f64::from(i32::try_from(minutes).unwrap_or(i32::MAX))
}

/// Minutes that are whole, as the price list has them.
fn whole(minutes: f64) -> Option<i64> {
    format!("{minutes:.0}").parse().ok()
}

/// "85"; "–" of nothing.
pub(super) fn minutes_words(minutes: f64) -> String {
    if minutes > 0.0 { format!("{minutes:.0}") } else { "–".to_owned() }
}

/// Pairs of listed and clocked minutes as logs, and how many lines have no time.
fn logs_of(service: &Service, lines: &[(i64, Option<i64>)]) -> (Vec<f64>, usize) {
    let listed = minutes_as_number(service.minutes);
    let clocked = || lines.iter().map(|(_, clocked)| clocked.unwrap_or(0));
    let jobs = clocked().map(|clocked| (listed, minutes_as_number(clocked))).collect();
    (Clocked { jobs }.logs(), clocked().filter(|clocked| *clocked == 0).count())
}

/// What is known of every service, and of the house.
pub(super) async fn known(context: &RequestContext) -> Result<(Vec<Known>, Scatter)> {
    let services = service::all(context.app.db.read()).await?;
    let clocked = clocked::of_services(context.app.db.read()).await?;
    let of = |service: &Service| clocked.iter().find(|found: &&ServiceMinutes| found.service_id == service.id);
    let read: Vec<(Service, Vec<f64>, usize)> = services
        .into_iter()
        .map(|service| {
            let (logs, without_time) =
                of(&service).map_or_else(Default::default, |found| logs_of(&service, &found.lines));
            (service, logs, without_time)
        })
        .collect();
    let all: Vec<Vec<f64>> = read.iter().map(|(_, logs, _)| logs.clone()).collect();
    let scatter = Scatter::of(&all);
    let known = read.into_iter().map(|(service, logs, without_time)| Known {
        truth: scatter.true_minutes(&logs),
        service,
        logs,
        without_time,
        scatter,
    });
    Ok((known.collect(), scatter))
}

impl How {
    pub(super) fn of(scatter: &Scatter) -> Self {
        let k = if scatter.between > 0.0 {
            format!("{:.2}", scatter.within / scatter.between)
        } else {
            "beyond all bounds: services do not differ from their estimates more than chance lets them".to_owned()
        };
        Self {
            within: format!("{:.3}", scatter.within),
            between: format!("{:.3}", scatter.between),
            k,
            house: format!("{:+.3}", scatter.house).replace('-', "−"),
            is_own: scatter.own,
        }
    }
}

/// `GET /office/minutes`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let (known, scatter) = known(&context).await?;
    let (clocked, unclocked): (Vec<Known>, Vec<Known>) =
        known.into_iter().partition(|known| !known.logs.is_empty() || known.without_time > 0);
    let rows: Vec<Row> = clocked.iter().map(row).collect();
    page(&MinutesPage {
        layout: context.layout(),
        suggested: rows.iter().filter(|row| row.suggestion.minutes.is_some()).count(),
        rows,
        unclocked: unclocked.into_iter().filter(|known| known.service.active).map(|known| known.service.name).collect(),
        how: How::of(&scatter),
        newest: NEWEST,
    })
}

fn row(known: &Known) -> Row {
    let count = f64::from(u32::try_from(known.logs.len()).unwrap_or(u32::MAX));
    let middle = (known.logs.iter().sum::<f64>() / count).exp() * minutes_as_number(known.service.minutes);
    Row {
        href: format!("/office/minutes/{}", known.service.id),
        name: known.service.name.clone(),
        listed: known.service.minutes,
        jobs: known.logs.len(),
        without_time: known.without_time,
        unusual: outliers(&known.logs).len(),
        middle: if known.logs.is_empty() { "–".to_owned() } else { minutes_words(middle) },
        weight: format!("{:.0} %", known.truth.credibility * 100.0),
        usual: known.usual_words(),
        range: known.range_words(),
        suggestion: known.suggestion_view(),
    }
}
