//! `/desk/instruments/{id}/history`: an instrument's readings over the years, and what came of the last plan.

mod drift;

use askama::Template;
use sqlx::SqliteConnection;

use crate::drawing::Svg;
use crate::drawing::history_chart::{HistoryChart, HistoryPoint, history_chart};
use crate::quantity::{Instant, LengthUnit};
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::reading::{self, ReadingKind, ReadingSet, ReadingStage};
use crate::records::{InstrumentId, JobId, draft, plan as kept};
use crate::setup::air::{AirInput, air, explain as explain_air, moisture_content_percent};
use crate::setup::plan::{HouseTargets, Range};
use crate::setup::reading::{explain as explain_reading, reading as reading_of};
use crate::web::Result;
use crate::web::finished_view::{FinishedView, finished};
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::plan_view::{reading_words, title};
use crate::web::readings_view::{before_and_after, is_travel, mean_words, string_names};
use crate::web::words::{MM_PER_INCH, length_unit, reckoned};
use crate::web::working_view::WorkingView;
use crate::working::Workings;

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
    unit: String,
    map: Svg,
    rows: Vec<(String, String, String)>,
    /// How the newest value came about.
    workings: Vec<WorkingView>,
}

/// The last plan and what came of it.
struct LastPlan {
    number: String,
    href: String,
    made: String,
    steps: Vec<(String, String)>,
    /// What was done by it, newest first.
    finished: Vec<FinishedView>,
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
#[derive(Clone, Copy)]
enum Shown {
    /// The mean of one place's repeats.
    Read(ReadingKind, Place),
    /// What the air gives the wood.
    Moisture,
    Humidity,
}

/// Where it was read.
#[derive(Clone, Copy)]
enum Place {
    Once,
    FirstString,
    LastString,
}

/// The quantities, with unit and decimals; lengths follow the shop's unit.
const QUANTITIES: [(&str, &str, usize, Shown); 7] = [
    ("Height at the 12th fret, treble", "mm", 2, Shown::Read(ReadingKind::Height12, Place::FirstString)),
    ("Height at the 12th fret, bass", "mm", 2, Shown::Read(ReadingKind::Height12, Place::LastString)),
    ("Relief", "mm", 2, Shown::Read(ReadingKind::Relief, Place::Once)),
    ("Saddle left, treble", "mm", 2, Shown::Read(ReadingKind::SaddleTreble, Place::Once)),
    ("Saddle left, bass", "mm", 2, Shown::Read(ReadingKind::SaddleBass, Place::Once)),
    ("Moisture that the air gives the wood", "%", 1, Shown::Moisture),
    ("Humidity of the air", "%", 0, Shown::Humidity),
];

impl Shown {
    fn value(self, set: &ReadingSet, last_string: i64) -> Option<f64> {
        match self {
            Self::Read(kind, place) => set.mean(kind, place.number(last_string)),
            Self::Moisture => set.air().map(|(t, rh)| moisture_content_percent(t, rh)),
            Self::Humidity => set.air().map(|(_, rh)| rh),
        }
    }

    /// How the value of one set came about; empty for what was read off a gauge.
    fn workings(self, set: &ReadingSet, last_string: i64) -> Vec<WorkingView> {
        let mut workings = Workings::of_all();
        let told = match self {
            Self::Read(kind, place) => {
                let asked = set.reading_input(kind, place.number(last_string));
                let Ok(found) = reading_of(&asked) else { return Vec::new() };
                explain_reading(&asked, &found, &mut workings);
                workings.of("/mean_mm")
            }
            Self::Moisture => {
                let Some((temperature_c, rh_percent)) = set.air() else { return Vec::new() };
                let asked = AirInput { temperature_c, rh_percent, ..AirInput::default() };
                let Ok(found) = air(&asked) else { return Vec::new() };
                explain_air(&asked, &found, &mut workings);
                workings.of("/moisture_content_percent")
            }
            Self::Humidity => Vec::new(),
        };
        told.into_iter().map(WorkingView::of).collect()
    }
}

impl Place {
    fn number(self, last_string: i64) -> i64 {
        match self {
            Self::Once => 0,
            Self::FirstString => 1,
            Self::LastString => last_string,
        }
    }
}

/// `GET /desk/instruments/{id}/history`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<InstrumentId>) -> Result {
    let mut reading_side = context.app.db.read().acquire().await?;
    let instrument = instrument::find(&mut reading_side, id).await?;
    // oldest first
    let jobs = newest_jobs(&mut reading_side, id).await?;
    let mut sets = reading::of_jobs(&mut reading_side, &jobs).await?;
    let visits = jobs.into_iter().rev().map(|job| (job, sets.remove(&job).unwrap_or_default()));
    let visits: Vec<(JobId, Vec<ReadingSet>)> = visits.collect();
    let house = context.settings.house()?;
    let (mut last, mut least_showing_mm) = (None, None);
    if let Some((job, sets)) = visits.iter().rev().find(|(_, sets)| !sets.is_empty()) {
        let job = job::find(&mut *reading_side, *job).await?;
        let (family, style) = kept::family_and_style(&instrument.entry, job.style);
        least_showing_mm = house.of(family, style).map(|targets| targets.least_showing_mm);
        last = last_plan(&mut reading_side, &context, &instrument, &job, sets, &house).await?;
    }
    let bass = i64::try_from(instrument.entry.strings.len()).unwrap_or(1);
    let has_saddle = !is_travel(ReadingKind::SaddleTreble, &instrument.entry);
    let in_inches = length_unit(&context.settings) == LengthUnit::Inch;
    let charts = QUANTITIES.iter().map(|(title, unit, decimals, shown)| {
        let (unit, decimals, per_unit) =
            if in_inches && *unit == "mm" { ("in", 3, MM_PER_INCH) } else { (*unit, *decimals, 1.0) };
        let newest = visits.iter().rev().flat_map(|(_, sets)| sets.iter().rev());
        let newest = newest.into_iter().find(|set| shown.value(set, bass).is_some());
        let chart = chart(
            &context,
            &visits,
            HistoryChart { title: (*title).to_owned(), unit: unit.to_owned(), decimals, points: Vec::new() },
            |set| shown.value(set, bass).map(|value| value / per_unit),
        );
        Chart { workings: newest.map(|set| shown.workings(set, bass)).unwrap_or_default(), ..chart }
    });
    page(&HistoryPage {
        layout: context.layout(),
        id,
        title: instrument.entry.title(),
        charts: if visits.iter().all(|(_, sets)| sets.is_empty()) { Vec::new() } else { charts.collect() },
        drift: drift::told(&context, &visits, bass, least_showing_mm.filter(|_| has_saddle)),
        last,
    })
}

async fn newest_jobs(connection: &mut SqliteConnection, id: InstrumentId) -> Result<Vec<JobId>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT id AS "id: JobId" FROM job WHERE instrument_id = ? ORDER BY checked_in_at DESC LIMIT ?"#,
        id,
        MOST_VISITS,
    )
    .fetch_all(&mut *connection)
    .await?)
}

fn chart(
    context: &RequestContext,
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
            let day = short_day(context, set.taken_at);
            rows.push((
                day.clone(),
                if is_final { "as it left" } else { "as received" }.to_owned(),
                format!("{value:.*} {}", chart.decimals, chart.unit),
            ));
            chart.points.push(HistoryPoint { day: days(set.taken_at), said: day, value, is_final, visit: place });
        }
    }
    Chart {
        title: chart.title.clone(),
        unit: chart.unit.clone(),
        map: history_chart(&chart),
        rows,
        workings: Vec::new(),
    }
}

fn days(at: Instant) -> f64 {
    // seconds since 1970 stay far below what a float holds exactly
    #[expect(clippy::cast_precision_loss, reason = "microseconds of this century stay below 2^53")]
    let microseconds = at.0 as f64;
    microseconds / MICROSECONDS_PER_DAY
}

/// "14 Oct 2026".
fn short_day(context: &RequestContext, at: Instant) -> String {
    let with_weekday = context.day_of(at);
    with_weekday.split_once(' ').map_or(with_weekday.clone(), |(_, day)| day.to_owned())
}

async fn last_plan(
    connection: &mut SqliteConnection,
    context: &RequestContext,
    instrument: &Instrument,
    job: &Job,
    sets: &[ReadingSet],
    house: &HouseTargets,
) -> Result<Option<LastPlan>> {
    // the plan that the work began with, not the one after the last step
    let Some(plan) = kept::of_job(&mut *connection, job.id).await?.into_iter().next_back() else {
        return Ok(None);
    };
    let unit = length_unit(&context.settings);
    let (before, after) = before_and_after(sets);
    let names = string_names(&instrument.entry);
    let drafts = draft::of_job(&mut *connection, job.id).await?;
    let found = kept::after_work(&mut *connection, job, &instrument.entry, sets, house).await?;
    let places = found.as_ref().map_or(&[][..], |found| &found.places);
    let rows: Vec<ProofRow> = places
        .iter()
        .filter_map(|place| {
            let kind = ReadingKind::of_quantity(&place.quantity)?;
            let number = place.string.and_then(|string| i64::try_from(string).ok()).unwrap_or(0);
            let name = place.string.and_then(|string| names.get(string.checked_sub(1)?));
            let what = reading_words(&place.quantity);
            Some(ProofRow {
                what: name.map_or_else(|| what.to_owned(), |name| format!("{name}: {what}")),
                first: mean_words(before, kind, number, unit),
                last: mean_words(after, kind, number, unit),
                wanted: expected_words(place.expected_mm, kind, unit),
                proved: place.proved,
            })
        })
        .collect();
    let door = if context.may_act_as(crate::records::staff::Role::Desk) { "desk" } else { "bench" };
    Ok(Some(LastPlan {
        number: job.number.clone(),
        href: format!("/{door}/jobs/{}", job.id),
        made: context.day_of(plan.made_at),
        steps: plan.output.steps.iter().map(|step| (title(&step.key).to_owned(), step.words.clone())).collect(),
        finished: finished(&drafts, sets, &instrument.entry, (context, unit, &FormData::default())),
        proved: rows.iter().filter(|row| row.proved).count(),
        proofs: rows,
    }))
}

fn expected_words(expected: Range, kind: ReadingKind, unit: LengthUnit) -> String {
    if kind == ReadingKind::Cents12 {
        return format!("{:.1} to {:.1} cents", expected.least, expected.most);
    }
    format!("{} to {}", reckoned(expected.least, 2, unit), reckoned(expected.most, 2, unit))
}
