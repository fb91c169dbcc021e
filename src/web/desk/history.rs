//! `/desk/instruments/{id}/history`: an instrument's readings over the years, and what came of the last plan.

mod drift;

use askama::Template;
use sqlx::SqliteConnection;

use crate::drawing::history_chart::{HistoryChart, HistoryPoint, history_chart};
use crate::quantity::{Instant, Micrometres};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::reading::{self, ReadingKind, ReadingSet, ReadingStage};
use crate::records::{InstrumentId, JobId, plan as kept};
use crate::setup::air::moisture_content_percent;
use crate::setup::plan::HouseTargets;
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, Visit, page};
use crate::web::plan_view::{reading_words, title};
use crate::web::readings_view::{before_and_after, mean_words, string_names};
use crate::web::words::length_unit;

/// Visits looked back on: the page costs the same after twenty years.
const MOST_VISITS: i64 = 12;
const MICROSECONDS_PER_DAY: f64 = 86_400_000_000.0;

#[derive(Template)]
#[template(path = "desk/history.html")]
struct HistoryPage {
    layout: Layout,
    id: InstrumentId,
    title: String,
    charts: Vec<Chart>,
    /// What the visits tell together.
    drift: Vec<drift::Told>,
    last: Option<LastPlan>,
}

/// One chart and the same in a table.
struct Chart {
    title: String,
    map: String,
    rows: Vec<(String, String, String)>,
}

/// The last plan and what came of it.
struct LastPlan {
    number: String,
    href: String,
    made: String,
    steps: Vec<(String, String)>,
    proofs: Vec<ProofRow>,
    proved: usize,
}

struct ProofRow {
    what: String,
    first: String,
    last: String,
    wanted: String,
    proved: bool,
}

/// What a chart shows of one reading set.
type Pick = fn(&ReadingSet, i64) -> Option<f64>;

/// The quantities, with unit and decimals. The second argument of each is the number of the last string.
const QUANTITIES: [(&str, &str, usize, Pick); 7] = [
    ("Height at the 12th fret, treble", "mm", 2, |set, _| set.mean(ReadingKind::Height12, 1)),
    ("Height at the 12th fret, bass", "mm", 2, |set, last| set.mean(ReadingKind::Height12, last)),
    ("Relief", "mm", 2, |set, _| set.mean(ReadingKind::Relief, 0)),
    ("Saddle left, treble", "mm", 2, |set, _| set.mean(ReadingKind::SaddleTreble, 0)),
    ("Saddle left, bass", "mm", 2, |set, _| set.mean(ReadingKind::SaddleBass, 0)),
    ("Moisture that the air gives the wood", "%", 1, |set, _| air(set).map(|(t, rh)| moisture_content_percent(t, rh))),
    ("Humidity of the air", "%", 0, |set, _| air(set).map(|(_, rh)| rh)),
];

/// °C and % relative humidity.
fn air(set: &ReadingSet) -> Option<(f64, f64)> {
    let (temperature, humidity) =
        set.circumstances.temperature_millicelsius.zip(set.circumstances.humidity_permille)?;
    Some((Micrometres(temperature).mm(), Micrometres(humidity).mm() * 100.0))
}

/// `GET /desk/instruments/{id}/history`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<InstrumentId>) -> Result {
    let mut reading_side = visit.app.db.read().acquire().await?;
    let instrument = instrument::find(&mut reading_side, id).await?;
    // oldest first
    let mut visits = Vec::new();
    for job in newest_jobs(&mut reading_side, id).await?.into_iter().rev() {
        visits.push((job, reading::of_job(&mut reading_side, job).await?));
    }
    let house = kept::house(&visit.settings.targets).map_err(crate::web::Error::internal)?;
    let (mut last, mut least_showing_mm) = (None, None);
    if let Some((job, sets)) = visits.iter().rev().find(|(_, sets)| !sets.is_empty()) {
        let job = job::find(&mut *reading_side, *job).await?;
        let (family, style) = kept::family_and_style(&instrument.entry, job.style);
        least_showing_mm = house.of(family, style).map(|(targets, _)| targets.least_showing_mm);
        last = last_plan(&mut reading_side, &visit, &instrument, &job, sets, &house).await?;
    }
    let bass = i64::try_from(instrument.entry.strings.len()).unwrap_or(1);
    let charts = QUANTITIES.iter().map(|(title, unit, decimals, pick)| {
        chart(
            &visit,
            &visits,
            HistoryChart {
                title: (*title).to_owned(),
                unit: (*unit).to_owned(),
                decimals: *decimals,
                points: Vec::new(),
            },
            |set| pick(set, bass),
        )
    });
    page(&HistoryPage {
        layout: visit.layout(),
        id,
        title: instrument.entry.title(),
        charts: if visits.iter().all(|(_, sets)| sets.is_empty()) { Vec::new() } else { charts.collect() },
        drift: drift::told(&visit, &visits, bass, least_showing_mm),
        last,
    })
}

async fn newest_jobs(on: &mut SqliteConnection, id: InstrumentId) -> Result<Vec<JobId>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: JobId" FROM job WHERE instrument_id = ? ORDER BY checked_in_at DESC LIMIT ?"#,
        id,
        MOST_VISITS,
    )
    .fetch_all(on)
    .await?)
}

fn chart(
    visit: &Visit,
    visits: &[(JobId, Vec<ReadingSet>)],
    mut chart: HistoryChart,
    pick: impl Fn(&ReadingSet) -> Option<f64>,
) -> Chart {
    let mut rows = Vec::new();
    for (place, (_, sets)) in visits.iter().enumerate() {
        let of_stage = |stage: ReadingStage| sets.iter().filter(move |set| set.circumstances.stage == stage);
        let received = of_stage(ReadingStage::Received).find_map(|set| Some((set, pick(set)?)));
        let left = of_stage(ReadingStage::Final).rev().find_map(|set| Some((set, pick(set)?)));
        for (found, is_final) in [(received, false), (left, true)] {
            let Some((set, value)) = found else {
                continue;
            };
            let said = short_day(visit, set.taken_at);
            rows.push((
                said.clone(),
                if is_final { "as it left" } else { "as received" }.to_owned(),
                format!("{value:.*} {}", chart.decimals, chart.unit),
            ));
            chart.points.push(HistoryPoint { day: days(set.taken_at), said, value, is_final, visit: place });
        }
    }
    Chart { title: chart.title.clone(), map: history_chart(&chart), rows }
}

fn days(at: Instant) -> f64 {
    // seconds since 1970 stay far below what a float holds exactly
    #[expect(clippy::cast_precision_loss, reason = "microseconds of this century stay below 2^53")]
    let microseconds = at.0 as f64;
    microseconds / MICROSECONDS_PER_DAY
}

/// "14 Oct 2026".
fn short_day(visit: &Visit, at: Instant) -> String {
    let said = visit.day_of(at);
    said.split_once(' ').map_or(said.clone(), |(_, day)| day.to_owned())
}

async fn last_plan(
    on: &mut SqliteConnection,
    visit: &Visit,
    instrument: &Instrument,
    job: &Job,
    sets: &[ReadingSet],
    house: &HouseTargets,
) -> Result<Option<LastPlan>> {
    // the plan that the work began with, not the one after the last step
    let Some(plan) = kept::of_job(&mut *on, job.id).await?.into_iter().next_back() else {
        return Ok(None);
    };
    let unit = length_unit(&visit.settings);
    let (before, after) = before_and_after(sets);
    let names = string_names(&instrument.entry);
    let found = kept::after_work(&mut *on, job, &instrument.entry, sets, house).await?;
    let places = found.as_ref().map_or(&[][..], |found| &found.places);
    let rows: Vec<ProofRow> = places
        .iter()
        .filter_map(|place| {
            let kind = ReadingKind::of_quantity(&place.quantity)?;
            let number = place.string.and_then(|string| i64::try_from(string).ok()).unwrap_or(0);
            let name = place.string.and_then(|string| names.get(string.checked_sub(1)?));
            let what = reading_words(&place.quantity);
            let unit_word = if kind == ReadingKind::Cents12 { "cents" } else { "mm" };
            Some(ProofRow {
                what: name.map_or_else(|| what.to_owned(), |name| format!("{name}: {what}")),
                first: mean_words(before, kind, number, unit),
                last: mean_words(after, kind, number, unit),
                wanted: format!("{:.2} to {:.2} {unit_word}", place.expected_mm.least, place.expected_mm.most),
                proved: place.proved,
            })
        })
        .collect();
    let door = if visit.may_act_as(crate::records::staff::Role::Desk) { "desk" } else { "bench" };
    Ok(Some(LastPlan {
        number: job.number.clone(),
        href: format!("/{door}/jobs/{}", job.id),
        made: visit.day_of(plan.made_at),
        steps: plan.output.steps.iter().map(|step| (title(&step.key).to_owned(), step.words.clone())).collect(),
        proved: rows.iter().filter(|row| row.proved).count(),
        proofs: rows,
    }))
}
