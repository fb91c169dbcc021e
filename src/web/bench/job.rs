//! `/bench/jobs/{id}`: the reading grid, the plan beside it, the work and its proof.

use askama::Template;
use sqlx::SqliteConnection;
use uuid::Uuid;

use super::cells::clock_words;
use super::grid::{self, Cell, GridRow, Look};
use super::labour::{LineTime, line_time};
use super::notes::{self, NoteRow};
use super::parts::{self, PartsSeen};
use super::plan::PlanPart;
use super::readings::read_circumstances;
use crate::drawing::clearance_map::clearance_map;
use crate::drawing::side_view::{SideString, SideView, side_view};
use crate::quantity::{Instant, LengthUnit};
use crate::records::caution::{About, Place};
use crate::records::draft::{self, Draft, Entry, Habit, HabitUnit, Travel};
use crate::records::instrument::{self, Instrument, InstrumentEntry};
use crate::records::job::{self, Job};
use crate::records::observation::{self, Observation};
use crate::records::plan as kept;
use crate::records::reading::{self, Reading, ReadingKind, ReadingSet, ReadingStage};
use crate::records::stage::{How, Stage, WaitingFor};
use crate::records::tool::{Tool, tools};
use crate::records::work::{self, LineState, WorkLine};
use crate::records::{JobId, ReadingSetId, StaffId, labour, photo, service, staff};
use crate::setup::clearance::{ClearanceInput, StringHeights, clearance};
use crate::setup::frame::{Board, Frame};
use crate::setup::plan::{AfterWork, Finding, HouseTargets, ObservationKey, PlanInput, PlanOutput, Severity, plan};
use crate::setup::reading::supported;
use crate::web::caution_view::CautionSeen;
use crate::web::form::{Id, Typed};
use crate::web::page::{Layout, Visit, page};
use crate::web::photo::PhotoSeen;
use crate::web::plan_view::title;
use crate::web::readings_view::{BeforeAfter, before_and_after, kinds_per_string, mean_words, once, string_names};
use crate::web::words::{Promise, StageSeen, length_unit};
use crate::web::{Error, Result};

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
    plan: PlanPart,
    proposals: Vec<ProposalRow>,
    side: Option<String>,
    clearance: Option<String>,
    observations: Vec<ObservationRow>,
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
}

struct ObservationRow {
    seen: Observation,
    words: String,
    place: String,
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

/// Before and after, string by string.
pub(super) struct Comparison {
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<(String, Vec<(String, String)>)>,
    pub(super) once: Vec<BeforeAfter>,
}

/// Everything the bench knows of one job.
pub(super) struct Bench {
    pub(super) job: Job,
    pub(super) instrument: Instrument,
    pub(super) sets: Vec<ReadingSet>,
    /// Readings under way since the newest set.
    pub(super) draft: Option<Draft>,
    /// The steps done between the last two sets.
    pub(super) done_before_last: Vec<String>,
    late: Vec<Entry>,
    earlier: Option<(Instant, Vec<Reading>)>,
    pub(super) observations: Vec<Observation>,
    lines: Vec<WorkLine>,
    pub(super) house: HouseTargets,
    unit: LengthUnit,
}

impl Bench {
    pub(super) async fn read(visit: &Visit, id: JobId) -> Result<Self> {
        let mut connection = visit.app.db.read().acquire().await?;
        Self::read_on(&mut connection, visit, id).await
    }

    /// The same inside a transaction, so that a plan sees what was just written.
    pub(super) async fn read_on(on: &mut SqliteConnection, visit: &Visit, id: JobId) -> Result<Self> {
        let job = job::find(&mut *on, id).await?;
        let sets = reading::of_job(&mut *on, id).await?;
        let newest = sets.last().map(|set| set.id);
        let before_last = match sets.as_slice() {
            [.., before, _] => draft::after(&mut *on, id, Some(before.id)).await?,
            [_] => draft::after(&mut *on, id, None).await?,
            [] => None,
        };
        Ok(Self {
            instrument: instrument::find(&mut *on, job.instrument_id).await?,
            draft: draft::after(&mut *on, id, newest).await?,
            done_before_last: before_last.map(|draft| draft.done_steps).unwrap_or_default(),
            late: draft::late(&mut *on, id, newest).await?,
            earlier: reading::of_earlier_visit(&mut *on, job.instrument_id, id).await?,
            lines: work::of_job(&mut *on, id).await?,
            unit: length_unit(&visit.settings),
            sets,
            observations: observation::of_job(&mut *on, id).await?,
            house: kept::house(&visit.settings.targets).map_err(Error::internal)?,
            job,
        })
    }

    /// The plan from the newest readings and the observations that stand; `None` before the first reading.
    pub(super) fn plan(&self) -> Option<(&ReadingSet, PlanInput, PlanOutput)> {
        let set = self.sets.last()?;
        self.plan_of(set).map(|(input, output)| (set, input, output))
    }

    /// The plan from one set and the observations that stand.
    pub(super) fn plan_of(&self, set: &ReadingSet) -> Option<(PlanInput, PlanOutput)> {
        let input = kept::input(&self.instrument.entry, self.job.style, set, &self.observations);
        match plan(&input, &self.house) {
            Ok(output) => Some((input, output)),
            Err(problems) => {
                tracing::warn!(job = %self.job.id, problems = %problems, "plan.refused");
                None
            }
        }
    }

    /// The steps done since the newest set.
    pub(super) fn done_steps(&self) -> &[String] {
        self.draft.as_ref().map_or(&[], |draft| draft.done_steps.as_slice())
    }

    /// The readings under way as a set, where something was typed or done since the newest one. It has no key
    /// and no place in the books yet. What cannot be read is left out; its cell says so.
    pub(super) fn under_way(&self, form: &Typed) -> Option<ReadingSet> {
        self.draft.as_ref()?;
        let mut form = form.clone().with("sure", "yes");
        let readings = grid::read(&mut form, &self.instrument.entry, self.unit, None);
        Some(ReadingSet {
            id: ReadingSetId(Uuid::nil()),
            job_id: self.job.id,
            taken_at: Instant(0),
            staff_id: StaffId(Uuid::nil()),
            circumstances: read_circumstances(&mut form)?,
            readings,
            version: 0,
        })
    }

    /// The form as it stands for everybody: what the last plan leaves fresh, under what was typed since.
    pub(super) fn fresh_form(&self) -> Typed {
        let lines = &self.lines;
        let all_done =
            !lines.is_empty() && lines.iter().all(|line| matches!(line.state, LineState::Done | LineState::Declined));
        let stage = match self.job.stage {
            Stage::CheckedIn => ReadingStage::Received,
            Stage::FinalCheck | Stage::Ready => ReadingStage::Final,
            Stage::OnTheBench if all_done => ReadingStage::Final,
            _ => ReadingStage::During,
        };
        let last = self.sets.last();
        let tool = last.map_or("ruler-010", |set| set.circumstances.tool.as_str());
        let mut form = Typed::fresh()
            .with("stage", stage.key())
            .with("tool", tool)
            .with("tuned_to", last.map_or("standard", |set| &set.circumstances.tuned_to))
            .with("after", last.map(|set| set.id.to_string()).unwrap_or_default())
            .with("seen", self.draft.as_ref().map_or(0, |draft| draft.seen).to_string());
        if let (Some((last, _, output)), ReadingStage::During) = (self.plan(), stage) {
            form = grid::carry_fresh(form, last, &output);
        }
        let typed = self.draft.iter().flat_map(|draft| draft.cells.values());
        typed.fold(form, |form, entry| form.with(&entry.cell, entry.typed.clone()))
    }

    fn dispute_row(&self, visit: &Visit, entry: &Entry) -> DisputeRow {
        let names = string_names(&self.instrument.entry);
        let label = grid::place_of(&entry.cell, &self.instrument.entry).map(|(kind, string)| {
            let name = usize::try_from(string - 1).ok().and_then(|place| names.get(place));
            grid::label(kind, name.map_or("", String::as_str))
        });
        DisputeRow {
            label: label.unwrap_or_else(|| entry.cell.replace('_', " ")),
            field: entry.cell.clone(),
            typed: entry.typed.clone(),
            who: entry.who.clone(),
            at: clock_words(visit, entry.at),
        }
    }

    pub(super) fn comparison(&self, visit: &Visit) -> Option<Comparison> {
        let unit = length_unit(&visit.settings);
        let (before, after) = before_and_after(&self.sets);
        after?;
        let kinds = kinds_per_string(before, after);
        let cells = |number: i64| {
            let both =
                |kind: &ReadingKind| (mean_words(before, *kind, number, unit), mean_words(after, *kind, number, unit));
            kinds.iter().map(both).collect()
        };
        Some(Comparison {
            columns: kinds.iter().map(|kind| kind.spoken()).collect(),
            rows: (1_i64..)
                .zip(string_names(&self.instrument.entry))
                .map(|(number, name)| (name, cells(number)))
                .collect(),
            once: once(before, after, unit),
        })
    }

    /// Thinnest and thickest string over the frets, with target and forecast.
    pub(super) fn side_view(&self, output: Option<&PlanOutput>) -> Option<String> {
        let set = self.sets.last()?;
        let entry = &self.instrument.entry;
        let last = i64::try_from(entry.strings.len()).ok()?;
        let mut view = SideView {
            scale_mm: entry.scale.mm(),
            frets: usize::try_from(entry.frets).ok()?,
            body_fret: usize::try_from(entry.body_fret).ok()?,
            relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
            strings: Vec::new(),
            targets_12_mm: Vec::new(),
            forecast_12_mm: Vec::new(),
        };
        let input = kept::input(entry, self.job.style, set, &[]);
        let (targets, _) = self.house.of(input.instrument.family, input.style)?;
        let expected = output.and_then(|output| {
            output
                .steps
                .iter()
                .find_map(|step| step.forecast.as_ref().filter(|forecast| forecast.quantity == "action_12_mm"))
        });
        for (number, name, target) in
            [(1, "treble", targets.action_12_treble_mm), (last, "bass", targets.action_12_bass_mm)]
        {
            let (Some(first), Some(action)) = (first_fret(entry, set, number), set.mean(ReadingKind::Height12, number))
            else {
                continue;
            };
            let place = usize::try_from(number - 1).ok()?;
            view.strings.push(SideString { name: name.to_owned(), first_fret_mm: first, action_12_mm: action });
            view.targets_12_mm.push(Some(target));
            view.forecast_12_mm.push(
                expected
                    .and_then(|expected| expected.strings.get(place).copied().flatten())
                    .map(|range| (range.least, range.most)),
            );
        }
        (!view.strings.is_empty()).then(|| side_view(&view))
    }

    fn clearance_map(&self) -> Option<String> {
        let set = self.sets.last()?;
        let entry = &self.instrument.entry;
        let heights: Option<Vec<StringHeights>> = (1_i64..)
            .zip(&entry.strings)
            .map(|(number, _)| {
                let first_fret_mm = first_fret(entry, set, number)?;
                Some(StringHeights { first_fret_mm, action_12_mm: set.mean(ReadingKind::Height12, number)? })
            })
            .collect();
        let found = clearance(&ClearanceInput {
            scale_mm: entry.scale.mm(),
            frets: usize::try_from(entry.frets).ok()?,
            body_fret: usize::try_from(entry.body_fret).ok()?,
            relief_mm: set.mean(ReadingKind::Relief, 0)?,
            fall_away_mm: 0.0,
            high_frets_mm: std::collections::BTreeMap::new(),
            strings: heights?,
            pluck: None,
        });
        found.ok().map(|found| clearance_map(&found, &string_names(entry)))
    }
}

/// The open height over the 1st, mm: as read, else from the gap of the string stopped at the 3rd.
pub(super) fn first_fret(entry: &InstrumentEntry, set: &ReadingSet, number: i64) -> Option<f64> {
    set.mean(ReadingKind::Height1, number).or_else(|| first_fret_from_gap(entry, set, number))
}

/// Where only the stopped gap was read, the open height over the 1st follows from the frame.
fn first_fret_from_gap(entry: &InstrumentEntry, set: &ReadingSet, number: i64) -> Option<f64> {
    let gap = set.mean(ReadingKind::Gap1Stopped3, number)?;
    let action = set.mean(ReadingKind::Height12, number)?;
    let board = Board {
        body_fret: usize::try_from(entry.body_fret).ok(),
        relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
        ..Board::default()
    };
    let frame = Frame::new(entry.scale.mm(), usize::try_from(entry.frets).ok()?, &board);
    let nut = frame.nut_from_gap_mm(gap);
    let rise = (action + frame.top_mm(12) - nut) / frame.position_mm(12);
    Some(nut + rise * frame.position_mm(1) - frame.top_mm(1))
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
    let stale_by: Vec<&str> = bench.done_steps().iter().map(|step| title(step)).collect();
    let (family, style) = kept::family_and_style(&bench.instrument.entry, bench.job.style);
    let look = Look {
        instrument: &bench.instrument.entry,
        form: &form,
        last,
        earlier: bench.earlier.as_ref().map(|(_, readings)| readings.as_slice()),
        targets: bench.house.of(family, style).map(|(targets, _)| targets),
        draft: bench.draft.as_ref(),
        stale,
        unit,
    };
    let (rows, once_cells) = (look.rows(), look.once());
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
            if there || proposals.iter().any(|row: &ProposalRow| row.key == service.key) {
                continue;
            }
            proposals.push(ProposalRow {
                key: service.key.clone(),
                finding: finding.key.clone(),
                name: service.name.clone(),
                minutes: service.minutes,
                price: visit.money(service.price),
            });
        }
    }
    let who = match bench.job.staff_id {
        Some(id) => Some(staff::find(reading_side, id).await?.name),
        None => None,
    };
    let about = About::job(reading_side, &bench.job, &bench.instrument.entry).await?;
    let there = planned.as_ref().map_or(&[][..], |(_, _, output)| output.cautions.as_slice());
    let stretches = labour::of_job(reading_side, bench.job.id).await?;
    Ok(BenchJobPage {
        cautions: visit.cautions(Place::Work, &about, there),
        photos: PhotoSeen::row(&photo::of_job(reading_side, bench.job.id).await?, "/photos"),
        notes: notes::rows(visit, bench.job.id).await?,
        parts: parts::seen(visit, bench.job.id).await?,
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
            .map(|entry| bench.dispute_row(visit, entry))
            .collect(),
        late: bench.late.iter().map(|entry| bench.dispute_row(visit, entry)).collect(),
        stale_by: stale_by.join(", "),
        earlier: bench.earlier.as_ref().map(|(at, _)| visit.day_of(*at)),
        habit,
        me: me.map(|(id, name)| (id.to_string(), name)).unwrap_or_default(),
        reading_stages: ReadingStage::ALL,
        last_taken: last.map(|set| format!("{} {}", set.circumstances.stage, visit.moment(set.taken_at))),
        plan: PlanPart::of(&bench, &form, visit),
        proposals,
        side: bench.side_view(planned.as_ref().map(|(_, _, output)| output)),
        clearance: bench.clearance_map(),
        observations: bench.observations.iter().map(observation_row).collect(),
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

fn observation_row(seen: &Observation) -> ObservationRow {
    let words = seen.key.parse::<ObservationKey>().map_or_else(|()| seen.key.clone(), |key| key.spoken().to_owned());
    let place = match (seen.string_number, seen.fret) {
        (Some(string), Some(0)) => format!("string {string}, open"),
        (Some(string), Some(fret)) => format!("string {string}, fret {fret}"),
        (Some(string), None) => format!("string {string}"),
        (None, Some(0)) => "open".to_owned(),
        (None, Some(fret)) => format!("fret {fret}"),
        (None, None) => String::new(),
    };
    ObservationRow { seen: seen.clone(), words, place }
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
