//! `/bench/jobs/{id}`: the reading grid, the plan beside it, the work and its proof.

use askama::Template;

use super::bench_job::{BenchJob, Current};
use super::grid::{self, Cell, GridRow, Look};
use super::labour::{LineTime, line_time};
use super::past_stop::stop_before;
use super::plan::{Next, PlanPart, move_on};
use super::proof::{Comparison, ProofView};
use crate::drawing::Svg;
use crate::quantity::LengthUnit;
use crate::records::bench::{TakenPart, page_context};
use crate::records::caution::{About, Place};
use crate::records::draft::{Entry, Habit, HabitUnit, Travel};
use crate::records::job::Job;
use crate::records::note::Note;
use crate::records::observation::Observation;
use crate::records::plan::family_and_style;
use crate::records::reading::{CARRIED_HOURS, ReadingStage};
use crate::records::stage::{Stage, WaitingFor};
use crate::records::tool::tools;
use crate::records::work::WorkLine;
use crate::records::{JobId, PartMovementId, proposal};
use crate::setup::plan::ObservationKey;
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::finished_view::FinishedView;
use crate::web::form::{Choice, FormData, Id};
use crate::web::page::{Layout, RequestContext, page, page_with};
use crate::web::photo::PhotoView;
use crate::web::plan_view::titles;
use crate::web::readings_view::string_names;
use crate::web::words::{Promise, StageView};

#[derive(Template)]
#[template(path = "bench/job.html")]
pub(super) struct BenchJobPage {
    layout: Layout,
    form: FormData,
    job: Job,
    stage: StageView,
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
    /// What the air was when it was read last, temperature and humidity; empty where it is not carried over.
    air_was: (String, String),
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
    /// Steps of the plan that are done, newest first.
    finished: Vec<FinishedView>,
    proposals: Vec<ProposalRow>,
    side: Option<Svg>,
    clearance: Option<Svg>,
    observations: Vec<Observation>,
    photos: Vec<PhotoView>,
    cautions: Vec<CautionView>,
    notes: Vec<NoteRow>,
    /// What can be taken from the drawers.
    parts: Vec<Choice>,
    part_lines: Vec<Choice>,
    taken: Vec<TakenRow>,
    lines: Vec<LineRow>,
    proof: Option<ProofView>,
    comparison: Option<Comparison>,
    move_on: Option<(&'static str, &'static str)>,
    is_open: bool,
    is_at_final_check: bool,
    strings: Vec<Choice>,
    tools: Vec<Choice>,
}

impl BenchJobPage {
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
    /// Its result, as it is typed.
    form: FormData,
    /// What is asked for when it is done: "turn of the rod, turns"; else what it is the result of.
    asks_words: String,
    /// The plan stops before it, and nobody has decided yet to go on: the stop's key, and what is asked once it was
    /// pressed.
    stop: Option<(String, Option<String>)>,
}

impl LineRow {
    /// It was pressed, and the plan's stop before it told.
    fn is_asked(&self) -> bool {
        self.stop.as_ref().is_some_and(|(_, asked)| asked.is_some())
    }
}

/// A note to the next pair of hands, as this page and the card show it.
pub(super) struct NoteRow {
    pub(super) words: String,
    /// "Ivo, Wed 14 Oct 2026 10:00"
    pub(super) by: String,
}

impl NoteRow {
    pub(super) fn of(note: Note, context: &RequestContext) -> Self {
        Self { by: format!("{}, {}", note.who, context.moment(note.at)), words: note.words }
    }
}

/// A part that was taken for the job, as it is shown.
struct TakenRow {
    id: PartMovementId,
    /// "2 sets: Bronze strings, light"
    words: String,
    /// "for Lower and fit the saddle; Ivo, Wed 14 Oct 2026 10:00"
    by: String,
}

impl TakenRow {
    fn of(taken: TakenPart, context: &RequestContext) -> Self {
        let line = taken.line.map(|line| format!("for {line}; ")).unwrap_or_default();
        Self {
            id: taken.id,
            words: format!("{} {}: {}", taken.quantity, taken.unit, taken.part),
            by: format!("{line}{}, {}", taken.who, context.moment(taken.at)),
        }
    }
}

fn dispute_row(bench: &BenchJob, context: &RequestContext, entry: &Entry) -> DisputeRow {
    let instrument = &bench.instrument.entry;
    let names = string_names(instrument);
    let label = grid::place_of(&entry.cell, instrument).map(|(kind, string)| {
        let name = usize::try_from(string - 1).ok().and_then(|place| names.get(place));
        grid::label(kind, name.map_or("", String::as_str), &bench.instrument.entry)
    });
    DisputeRow {
        label: label.unwrap_or_else(|| entry.cell.replace('_', " ")),
        field: entry.cell.clone(),
        typed: entry.typed.clone(),
        who: entry.who.clone(),
        at: context.clock_words(entry.at),
    }
}

/// `GET /bench/jobs/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let bench = BenchJob::load(&context, id).await?;
    page(&bench_page(&context, bench, None).await?)
}

/// The page again, whole, with what was typed and what is wrong with it.
pub(super) async fn again(context: &RequestContext, id: JobId, form: FormData) -> Result {
    let bench = BenchJob::load(context, id).await?;
    again_with(context, bench, form).await
}

/// The same of what was read already.
pub(super) async fn again_with(context: &RequestContext, bench: BenchJob, form: FormData) -> Result {
    page_with(form.status(), &bench_page(context, bench, Some(form)).await?)
}

async fn bench_page(context: &RequestContext, bench: BenchJob, typed: Option<FormData>) -> Result<BenchJobPage> {
    let me = context.session.as_ref().map(|session| &session.staff);
    let mut connection = context.app.db.read().acquire().await?;
    let beside = page_context(&mut connection, bench.job.id, me.map(|me| me.id)).await?;
    drop(connection);
    let entry = &bench.instrument.entry;
    let (unit, lines, last) = (bench.unit, &bench.lines, bench.sets.last());
    let fresh = bench.fresh_form();
    let current = bench.current(&fresh);
    let both = current.as_ref().and_then(Current::both);
    let form = fresh.overlaid_with(typed.unwrap_or_default());
    let (family, style) = family_and_style(entry, bench.job.style);
    let look = Look {
        instrument: entry,
        form: &form,
        last,
        earlier: bench.earlier_visit.as_ref().map(|set| set.readings.as_slice()),
        targets: bench.house.of(family, style),
        draft: bench.draft.as_ref(),
        to_saddle: bench.asks_to_saddle(),
        stale: bench.stale(),
        carried: &bench.carried,
        read_at: &|at| context.clock_words(at),
        unit,
    };
    let columns = look.columns().into_iter().map(grid::heading).collect();
    let (rows, once_cells) = look.drawn();
    let usual = match unit {
        LengthUnit::Millimetre => HabitUnit::Millimetre,
        LengthUnit::Inch => HabitUnit::Inch,
    };
    let about = About::job(&bench.job, entry, lines);
    let there = both.map_or(&[][..], |(_, planned)| planned.output.cautions.as_slice());
    let drafted = || bench.draft.iter();
    Ok(BenchJobPage {
        cautions: context.cautions(Place::Work, &about, there),
        photos: PhotoView::row(&beside.photos, "/photos"),
        notes: beside.notes.into_iter().map(|note| NoteRow::of(note, context)).collect(),
        parts: beside
            .parts
            .iter()
            .map(|part| Choice::new(part.id, format!("{} ({})", part.name, part.on_hand_words())))
            .collect(),
        part_lines: lines.iter().map(|line| Choice::new(line.id, line.words.as_str())).collect(),
        taken: beside.taken.into_iter().map(|taken| TakenRow::of(taken, context)).collect(),
        layout: context.layout(),
        stage: StageView::of(bench.job.stage, bench.job.waiting_for),
        promise: Promise::as_of(bench.job.stage, bench.job.promised_on, context.today()),
        is_mine: bench.job.staff_id.is_some() && bench.job.staff_id == me.map(|me| me.id),
        who: beside.technician,
        title: entry.title(),
        unit: match unit {
            LengthUnit::Millimetre => "mm",
            LengthUnit::Inch => "inches",
        },
        rows,
        columns,
        once_cells,
        alongside: drafted()
            .flat_map(|draft| draft.cells.values())
            .map(|entry| (entry.cell.clone(), entry.key.clone()))
            .collect(),
        air_was: bench.air_read_last().map_or_else(Default::default, |(celsius, humidity)| {
            (format!("was {celsius:.1}; empty: the same"), format!("was {humidity:.0}; empty: the same"))
        }),
        disputes: drafted()
            .flat_map(|draft| draft.disputes.values())
            .map(|entry| dispute_row(&bench, context, entry))
            .collect(),
        late: bench.late.iter().map(|entry| dispute_row(&bench, context, entry)).collect(),
        stale_by: titles(bench.done_steps()),
        earlier: bench.earlier_visit.as_ref().map(|set| context.day_of(set.taken_at)),
        habit: beside.habit.unwrap_or(Habit { travel: Travel::ByString, unit: usual }),
        me: me.map(|me| (me.id.to_string(), me.name.clone())).unwrap_or_default(),
        reading_stages: ReadingStage::ALL,
        last_taken: last.map(|set| format!("{} {}", set.circumstances.stage, context.moment(set.taken_at))),
        newest_plan: bench.newest_plan.map(|key| key.to_string()).unwrap_or_default(),
        plan: PlanPart::of(&bench, current.as_ref(), context),
        finished: bench.finished(context, &form),
        proposals: match &bench.planned {
            Some(planned) => proposal::of_plan(&planned.output, &beside.services, lines)
                .into_iter()
                .map(|proposed| ProposalRow {
                    key: proposed.service.key.clone(),
                    finding: proposed.finding.to_owned(),
                    name: proposed.service.name.clone(),
                    minutes: proposed.service.minutes,
                    price: context.money(proposed.service.price),
                    is_needed: proposed.is_needed,
                })
                .collect(),
            None => Vec::new(),
        },
        side: both.and_then(|(set, planned)| bench.side_view(set, planned)),
        clearance: both.and_then(|(set, _)| bench.clearance_map(set)),
        observations: bench.observations.clone(),
        proof: ProofView::of(&bench, beside.received),
        comparison: Comparison::of(&bench),
        move_on: move_on(bench.job.stage, lines),
        is_open: bench.job.stage.is_open(),
        is_at_final_check: bench.job.stage == Stage::FinalCheck,
        strings: (1..).zip(string_names(entry)).map(|(number, name)| Choice::new(number, name)).collect(),
        tools: tools().iter().map(|tool| Choice::new(&tool.key, tool.name.as_str())).collect(),
        lines: lines
            .iter()
            .cloned()
            .map(|line| LineRow {
                time: line_time(context, &beside.labour, line.id),
                form: form.row(line.id, &["result"]),
                stop: both
                    .and_then(|(_, planned)| stop_before(&planned.output, &line))
                    .map(|stop| (stop.key.clone(), form.error(&format!("past_{}", line.id)).map(str::to_owned))),
                asks_words: match line.asks() {
                    true => format!("{}, {}", line.asks_for, line.asks_unit),
                    false => format!("Result of {}", line.words),
                },
                may_start: line.may_start(),
                done: line
                    .done_at
                    .map(|at| format!("{} {}", line.done_by.clone().unwrap_or_default(), context.moment(at)))
                    .unwrap_or_default(),
                line,
            })
            .collect(),
        form,
        job: bench.job.clone(),
    })
}
