//! `/office/promises`: whether promises were kept as often as was said, whether plain rules would have done as well,
//! what came back, and how near estimates were.

use askama::Template;

use crate::drawing::limits::{LimitsRow, limits};
use crate::forecast::limits::Share;
use crate::forecast::promises_kept::{
    Band, EstimateRecord, Made, Outcome, PLAIN_DAYS, Scores, against_plain_rules, by_band, estimates,
};
use crate::quantity::with_weekday;
use crate::records::clocked::{self, NEWEST, ServiceMinutes};
use crate::records::kept::{self, CameBack, Foretold};
use crate::records::service;
use crate::web::form::{Choice, FormData, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::{Error, Result};

use super::charts::ChartView;
use super::minutes::minutes_as_number;
use super::period::Period;

#[derive(Template)]
#[template(path = "office/promises.html")]
struct PromisesPage {
    layout: Layout,
    form: FormData,
    periods: Vec<Choice>,
    first_day: String,
    made: usize,
    not_due: usize,
    bands: Vec<BandRow>,
    chart: Option<ChartView>,
    scores: Option<ScoresView>,
    plain_days: i64,
    told: Option<ShareView>,
    services: Vec<BackRow>,
    people: Vec<BackRow>,
    estimates: Vec<EstimateRow>,
    newest: i64,
}

/// So many of so many.
struct ShareView {
    count: u64,
    of: u64,
    share: String,
    limits: String,
}

impl ShareView {
    fn of(share: &Share) -> Self {
        let [least, most] = share.limits;
        Self {
            count: share.count,
            of: share.of,
            share: percent(share.share),
            limits: format!("{}–{}", percent(least), percent(most)),
        }
    }
}

struct BandRow {
    said: String,
    stated: String,
    kept: ShareView,
    does_not_hold: bool,
    days: String,
    width: String,
}

struct ScoresView {
    compared: usize,
    left_out: usize,
    ours: String,
    two_weeks: String,
    median: String,
    share: String,
    /// "better than both", in words.
    verdict: &'static str,
    is_good: bool,
}

struct BackRow {
    name: String,
    share: ShareView,
}

struct EstimateRow {
    name: String,
    lines: usize,
    factor: String,
    limits: String,
    near: ShareView,
}

/// "92 %", "0.4 %".
fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent > 0.0 && percent < 1.0 { format!("{percent:.1} %") } else { format!("{percent:.0} %") }
}

fn made(foretold: &Foretold, context: &RequestContext) -> Made {
    Made {
        made_on: foretold.made_on.0,
        confidence: f64::from(foretold.confidence) / 1000.0,
        promised_share: f64::from(foretold.share) / 1000.0,
        median_day: foretold.median_day.0,
        promised_day: foretold.day.0,
        done_on: foretold.ready_at.map(|at| context.app.clock.local_date(at)),
    }
}

/// How often the day was kept that the customer was told.
fn told(foretold: &[Foretold], context: &RequestContext) -> Option<Share> {
    let told = foretold.iter().filter_map(|foretold| {
        let told = Made { promised_day: foretold.told_day?.0, ..made(foretold, context) };
        Some(told.outcome(context.today()))
    });
    let due: Vec<Outcome> = told.filter(|outcome| *outcome != Outcome::NotDue).collect();
    share_of(due.iter().filter(|outcome| **outcome == Outcome::Kept).count(), due.len())
}

fn share_of(count: usize, of: usize) -> Option<Share> {
    Share::new(u64::try_from(count).ok()?, u64::try_from(of).ok()?)
}

/// `GET /office/promises`
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let period = Period::of(&query, context.today());
    let since = period.since(&context);
    let mut connection = context.app.db.read().acquire().await.map_err(Error::internal)?;
    let foretold = kept::foretold_since(&mut *connection, period.first_day).await?;
    let services = kept::came_back_by_service(&mut *connection, since).await?;
    let people = kept::came_back_by_person(&mut *connection, since).await?;
    let minutes = clocked::of_services(&mut *connection).await?;
    let catalogue = service::all(&mut *connection).await?;
    drop(connection);

    let made: Vec<Made> = foretold.iter().map(|foretold| made(foretold, &context)).collect();
    let bands = by_band(&made, context.today());
    let estimate = |service: &service::Service| {
        let own = minutes.iter().find(|own| own.service_id == service.id)?;
        estimate_row(&service.name, own)
    };
    page(&PromisesPage {
        layout: context.layout(),
        form: FormData::default().with("months", period.key()),
        periods: Period::choices(),
        first_day: with_weekday(period.first_day),
        made: made.len(),
        not_due: made.iter().filter(|made| made.outcome(context.today()) == Outcome::NotDue).count(),
        chart: (!bands.is_empty()).then(|| chart(&bands)),
        bands: bands.iter().map(band_row).collect(),
        scores: against_plain_rules(&made, context.today()).map(|scores| scores_view(&scores)),
        plain_days: PLAIN_DAYS,
        told: told(&foretold, &context).map(|share| ShareView::of(&share)),
        services: services.iter().filter_map(back_row).collect(),
        people: people.iter().filter_map(back_row).collect(),
        estimates: catalogue.iter().filter_map(estimate).collect(),
        newest: NEWEST,
    })
}

fn band_words(band: &Band) -> String {
    format!("{} to {}", percent(band.from), percent(band.below))
}

fn band_row(band: &Band) -> BandRow {
    BandRow {
        said: band_words(band),
        stated: percent(band.stated),
        kept: ShareView::of(&band.kept),
        does_not_hold: band.is_ruled_out,
        days: format!("{:.1}", band.mean_days),
        width: format!("{:.1}", band.mean_width_days),
    }
}

fn chart(bands: &[Band]) -> ChartView {
    let row = |band: &Band| LimitsRow {
        name: band_words(band),
        value: band.kept.share,
        limits: band.kept.limits,
        stated: Some(band.stated),
    };
    let rows: Vec<LimitsRow> = bands.iter().map(row).collect();
    ChartView { map: limits("Share of promises kept, by how sure they were said to be", &rows) }
}

fn scores_view(scores: &Scores) -> ScoresView {
    let beats = |other: f64| scores.ours < other;
    let (verdict, is_good) = match (beats(scores.two_weeks), beats(scores.last_months_median)) {
        (true, true) => ("Better than both plain rules.", true),
        (true, false) => ("Better than two weeks, not better than last month’s median.", false),
        (false, true) => ("Better than last month’s median, not better than two weeks.", false),
        (false, false) => ("No better than a plain rule: promise by the rule with the smallest loss.", false),
    };
    ScoresView {
        compared: scores.compared,
        left_out: scores.left_out,
        ours: format!("{:.2}", scores.ours),
        two_weeks: format!("{:.2}", scores.two_weeks),
        median: format!("{:.2}", scores.last_months_median),
        share: format!("{:.2}", scores.last_months_share),
        verdict,
        is_good,
    }
}

fn back_row(back: &CameBack) -> Option<BackRow> {
    let share = Share::new(u64::try_from(back.came_back).ok()?, u64::try_from(back.jobs).ok()?)?;
    Some(BackRow { name: back.name.clone(), share: ShareView::of(&share) })
}

fn estimate_row(name: &str, own: &ServiceMinutes) -> Option<EstimateRow> {
    let pairs: Vec<(f64, f64)> = own
        .lines
        .iter()
        .filter_map(|(estimate, clocked)| Some((minutes_as_number(*estimate), minutes_as_number((*clocked)?))))
        .collect();
    let EstimateRecord { jobs, factor, limits, near } = estimates(&pairs)?;
    Some(EstimateRow {
        name: name.to_owned(),
        lines: jobs,
        factor: format!("{factor:.2}"),
        limits: limits.map(|[least, most]| format!("{least:.2}–{most:.2}")).unwrap_or_default(),
        near: ShareView::of(&near),
    })
}
