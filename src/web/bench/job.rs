//! `/bench/jobs/{id}`: the reading grid, the plan beside it, the work and its proof.

use askama::Template;

use super::beside::{self, NoteRow, PartsSeen};
use super::grid::{self, Cell, GridRow, Look};
pub(super) use super::known::Bench;
use super::known::{Comparison, titles};
use super::labour::{LineTime, line_time};
use super::plan_part::PlanPart;
use crate::quantity::LengthUnit;
use crate::records::caution::{About, Place};
use crate::records::draft::{self, Entry, Habit, HabitUnit, Travel};
use crate::records::job::Job;
use crate::records::observation::Observation;
use crate::records::plan as kept;
use crate::records::reading::{CARRIED_HOURS, ReadingStage};
use crate::records::stage::{How, Stage, WaitingFor};
use crate::records::tool::{Tool, tools};
use crate::records::work::{LineState, WorkLine};
use crate::records::{JobId, labour, photo, service, staff};
use crate::setup::plan::{AfterWork, Finding, ObservationKey, Severity};
use crate::setup::reading::supported;
use crate::web::Result;
use crate::web::caution_view::CautionSeen;
use crate::web::form::{Id, Typed};
use crate::web::page::{Layout, Visit, page};
use crate::web::photo::PhotoSeen;
pub(super) use crate::web::readings_view::first_fret;
use crate::web::readings_view::string_names;
use crate::web::words::{Promise, StageSeen};

#[derive(Template)]
#[template(path = "bench/job.html")]
pub(super) struct BenchJobPage {
    layout: Layout,
    form: Typed,
    job: Job,
    stage: StageSeen,
    promise: Promise,
    who: Option<String>,
    is_mine: bool,
    title: String,
    unit: &'static str,
    rows: Vec<GridRow>,
    columns: Vec<(&'static str, &'static str)>,
    once_cells: Vec<Cell>,
    /// The entry that stands in each field beside the grid.
    alongside: Vec<(String, String)>,
    disputes: Vec<DisputeRow>,
    late: Vec<DisputeRow>,
    /// The steps that made readings stale, in words; empty where none is.
    stale_by: String,
    earlier: Option<String>,
    habit: Habit,
    me: (String, String),
    reading_stages: &'static [ReadingStage],
    last_taken: Option<String>,
    /// The newest plan kept, by its key.
    newest_plan: String,
    plan: PlanPart,
    proposals: Vec<ProposalRow>,
    side: Option<String>,
    clearance: Option<String>,
    observations: Vec<Observation>,
    photos: Vec<PhotoSeen>,
    cautions: Vec<CautionSeen>,
    notes: Vec<NoteRow>,
    parts: PartsSeen,
    lines: Vec<LineRow>,
    proof: Option<ProofView>,
    comparison: Option<Comparison>,
    move_on: Option<(&'static str, &'static str)>,
    is_open: bool,
    strings: Vec<(usize, String)>,
}

impl BenchJobPage {
    fn tools(&self) -> &'static [Tool] {
        tools()
    }
    fn observation_keys(&self) -> &'static [ObservationKey] {
        ObservationKey::ALL
    }
    fn travels(&self) -> &'static [Travel] {
        Travel::ALL
    }
    fn habit_units(&self) -> &'static [HabitUnit] {
        HabitUnit::ALL
    }
    /// The entry that stands in a field beside the grid.
    fn key_of(&self, name: &str) -> &str {
        self.alongside.iter().find(|(field, _)| field == name).map_or("", |(_, key)| key)
    }
    fn carried_hours(&self) -> i64 {
        CARRIED_HOURS
    }
    fn waits(&self) -> &'static [WaitingFor] {
        WaitingFor::ALL
    }
}

/// A value that is kept and asked about.
struct DisputeRow {
    field: String,
    label: String,
    typed: String,
    who: String,
    at: String,
}

struct ProposalRow {
    key: String,
    finding: String,
    name: String,
    minutes: i64,
    price: String,
    /// Work, or a stop: ticked.
    is_needed: bool,
}

struct LineRow {
    line: WorkLine,
    may_start: bool,
    done: String,
    time: LineTime,
    result_field: String,
}

struct ProofRow {
    what: String,
    value: String,
    expected: String,
    proved: bool,
}

/// The final readings against what the plan led to expect.
struct ProofView {
    proved: bool,
    rows: Vec<ProofRow>,
    findings: Vec<Finding>,
}

fn dispute_row(bench: &Bench, visit: &Visit, entry: &Entry) -> DisputeRow {
    let instrument = &bench.instrument.entry;
    let names = string_names(instrument);
    let label = grid::place_of(&entry.cell, instrument).map(|(kind, string)| {
        let name = usize::try_from(string - 1).ok().and_then(|place| names.get(place));
        grid::label(kind, name.map_or("", String::as_str))
    });
    DisputeRow {
        label: label.unwrap_or_else(|| entry.cell.replace('_', " ")),
        field: entry.cell.clone(),
        typed: entry.typed.clone(),
        who: entry.who.clone(),
        at: visit.clock_words(entry.at),
    }
}

/// `GET /bench/jobs/{id}`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    let bench = Bench::read(&visit, id).await?;
    page(&bench_page(&visit, bench, None).await?)
}

pub(super) async fn bench_page(visit: &Visit, bench: Bench, typed: Option<Typed>) -> Result<BenchJobPage> {
    let reading_side = visit.app.db.read();
    let unit = bench.unit;
    let planned = bench.plan();
    let last = bench.sets.last();
    let form = bench.fresh_form().under(typed.unwrap_or_default());
    let lines = &bench.lines;
    let stale = match &planned {
        Some((_, _, output)) if !bench.done_steps().is_empty() => output.measure_again.clone(),
        _ => Vec::new(),
    };
    let current = bench.current_plan();
    let (family, style) = kept::family_and_style(&bench.instrument.entry, bench.job.style);
    let (rows, once_cells) = Look {
        instrument: &bench.instrument.entry,
        form: &form,
        last,
        earlier: bench.earlier.as_ref().map(|(_, readings)| readings.as_slice()),
        targets: bench.house.of(family, style),
        draft: bench.draft.as_ref(),
        stale,
        carried: &bench.carried,
        read_at: &|at| visit.clock_words(at),
        unit,
    }
    .drawn();
    let me = visit.session.as_ref().map(|session| (session.staff.id, session.staff.name.clone()));
    let usual = match unit {
        LengthUnit::Millimetre => HabitUnit::Millimetre,
        LengthUnit::Inch => HabitUnit::Inch,
    };
    let habit = match &me {
        Some((id, _)) => draft::habit(reading_side, *id, usual).await?,
        None => Habit { travel: Travel::ByString, unit: usual },
    };
    let names = string_names(&bench.instrument.entry);
    let services = service::all(reading_side).await?;
    let mut proposals = Vec::new();
    if let Some((_, _, output)) = &planned {
        // a stop is mended before anything else is offered: what it hides may be gone by then
        let offered = |finding: &&Finding| !output.stopped || finding.severity == Severity::Stop;
        for finding in output.findings.iter().filter(offered) {
            let Some(service) = finding
                .service
                .as_ref()
                .and_then(|key| services.iter().find(|service| service.key == *key && service.active))
            else {
                continue;
            };
            let there =
                lines.iter().any(|line| line.service_id == Some(service.id) && line.state != LineState::Declined);
            // what is only watched is offered, never pressed upon anybody
            let is_needed = matches!(finding.severity, Severity::Work | Severity::Stop);
            if let Some(row) = proposals.iter_mut().find(|row: &&mut ProposalRow| row.key == service.key) {
                row.is_needed |= is_needed;
                continue;
            }
            if there {
                continue;
            }
            proposals.push(ProposalRow {
                key: service.key.clone(),
                finding: finding.key.clone(),
                name: service.name.clone(),
                minutes: service.minutes,
                price: visit.money(service.price),
                is_needed,
            });
        }
    }
    let who = match bench.job.staff_id {
        Some(id) => Some(staff::find(reading_side, id).await?.name),
        None => None,
    };
    let about = About::job(reading_side, &bench.job, &bench.instrument.entry).await?;
    let there = current.as_ref().map_or(&[][..], |current| current.output.cautions.as_slice());
    let stretches = labour::of_job(reading_side, bench.job.id).await?;
    Ok(BenchJobPage {
        cautions: visit.cautions(Place::Work, &about, there),
        photos: PhotoSeen::row(&photo::of_job(reading_side, bench.job.id).await?, "/photos"),
        notes: beside::notes(visit, bench.job.id).await?,
        parts: beside::parts(visit, bench.job.id).await?,
        layout: visit.layout(),
        stage: StageSeen::of(bench.job.stage, bench.job.waiting_for),
        promise: Promise::seen(bench.job.stage, bench.job.promised_on, visit.today()),
        is_mine: bench.job.staff_id.is_some() && bench.job.staff_id == me.as_ref().map(|(id, _)| *id),
        who,
        title: bench.instrument.entry.title(),
        unit: match unit {
            LengthUnit::Millimetre => "mm",
            LengthUnit::Inch => "inches",
        },
        rows,
        columns: vec![("12th fret", ""), ("1st fret", "open"), ("over 1st", "stopped at 3rd"), ("12th fret", "cents")],
        once_cells,
        alongside: bench
            .draft
            .iter()
            .flat_map(|draft| draft.cells.values())
            .map(|entry| (entry.cell.clone(), entry.key.clone()))
            .collect(),
        disputes: bench
            .draft
            .iter()
            .flat_map(|draft| draft.disputes.values())
            .map(|entry| dispute_row(&bench, visit, entry))
            .collect(),
        late: bench.late.iter().map(|entry| dispute_row(&bench, visit, entry)).collect(),
        stale_by: titles(bench.done_steps()),
        earlier: bench.earlier.as_ref().map(|(at, _)| visit.day_of(*at)),
        habit,
        me: me.map(|(id, name)| (id.to_string(), name)).unwrap_or_default(),
        reading_stages: ReadingStage::ALL,
        last_taken: last.map(|set| format!("{} {}", set.circumstances.stage, visit.moment(set.taken_at))),
        newest_plan: kept::newest(reading_side, bench.job.id).await?.map(|key| key.to_string()).unwrap_or_default(),
        plan: PlanPart::of(&bench, visit),
        proposals,
        side: current.as_ref().and_then(|current| bench.side_view(&current.set, Some(&current.output))),
        clearance: current.as_ref().and_then(|current| bench.clearance_map(&current.set)),
        observations: bench.observations.clone(),
        proof: kept::after_work(
            &mut *reading_side.acquire().await?,
            &bench.job,
            &bench.instrument.entry,
            &bench.sets,
            &bench.house,
        )
        .await?
        .map(|found| ProofView::of(found, &names)),
        comparison: bench.comparison(visit),
        move_on: move_on(bench.job.stage, lines),
        is_open: bench.job.stage.is_open(),
        strings: (1..).zip(names).collect(),
        lines: lines
            .iter()
            .cloned()
            .map(|line| LineRow {
                time: line_time(visit, &stretches, line.id),
                result_field: format!("result_{}", line.id),
                may_start: line.may_start(),
                done: line
                    .done_at
                    .map(|at| format!("{} {}", line.done_by.clone().unwrap_or_default(), visit.moment(at)))
                    .unwrap_or_default(),
                line,
            })
            .collect(),
        form,
        job: bench.job,
    })
}

impl ProofView {
    fn of(found: AfterWork, names: &[String]) -> Self {
        let rows = found.places.iter().map(|place| {
            let what = crate::web::plan_view::reading_words(&place.quantity);
            let string = place.string.and_then(|string| names.get(string.checked_sub(1)?));
            let unit = if place.quantity == "cents_at_12" { "cents" } else { "mm" };
            ProofRow {
                what: string.map_or_else(|| what.to_owned(), |string| format!("{string}: {what}")),
                value: format!("{} {unit}", supported(place.value_mm, place.expanded_mm)),
                expected: format!("{:.2} to {:.2} {unit}", place.expected_mm.least, place.expected_mm.most),
                proved: place.proved,
            }
        });
        Self { proved: found.proved, rows: rows.collect(), findings: found.findings }
    }
}

/// The one forward move the bench can press here: stage key and words.
fn move_on(stage: Stage, lines: &[WorkLine]) -> Option<(&'static str, &'static str)> {
    let next = stage.pressable().find(|allowed| allowed.how == How::Pressed)?.to;
    let words = match next {
        Stage::OnTheBench => "Put on the bench",
        Stage::FinalCheck => "To the final check",
        Stage::Measured => "Nothing to measure: mark as measured",
        _ => return None,
    };
    let open = lines.iter().any(|line| line.state == LineState::Agreed);
    // work that was agreed and is not done keeps the job on the bench
    (!(next == Stage::FinalCheck && open)).then_some((next.key(), words))
}
