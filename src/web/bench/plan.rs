//! `/bench/jobs/{id}/plan`: what to do next, in figures that can be read from a metre away. A page with
//! scripts fetches it by itself as values arrive.

use askama::Template;
use axum::http::StatusCode;

use super::grid;
use super::job::{Bench, bench_page};
use super::readings::take_down;
use crate::records::draft;
use crate::records::plan as kept;
use crate::records::reading::{ReadingKind, ReadingSet};
use crate::records::{Door, JobId};
use crate::setup::cut::CutOutput;
use crate::setup::frame::{felt_from_nut, fret_position_mm};
use crate::setup::plan::{ComparedPlace, PlanInput, PlanOutput, Step, StepState, compare_after_step};
use crate::setup::reading::supported;
use crate::web::Result;
use crate::web::form::{Id, Typed};
use crate::web::page::{Visit, page, page_with, see};
use crate::web::plan_view::{PlanView, StepView, reading_words, title};
use crate::web::readings_view::string_names;

/// The plan by itself.
#[derive(Template)]
#[template(path = "bench/plan.html")]
struct PlanPage {
    plan: PlanPart,
}

/// The plan beside the grid.
pub(super) struct PlanPart {
    pub(super) job: JobId,
    pub(super) view: Option<PlanView>,
    /// The steps, each with its large figures where it is in hand.
    pub(super) steps: Vec<(StepView, Option<InHand>)>,
    /// Which readings it follows from.
    pub(super) source: String,
    /// In one sentence, for those who listen.
    pub(super) spoken: String,
    /// What *done, measure again* leads to; empty where nothing in hand changes a reading.
    pub(super) then_read: String,
    /// The step that *done, measure again* stands at: the last one in hand.
    pub(super) last_in_hand: usize,
    /// What was done before these readings, and how far each place moved.
    pub(super) moved_by: String,
    pub(super) moved: Vec<Moved>,
    pub(super) moved_as_expected: bool,
    /// What may have gone otherwise.
    pub(super) surprises: Vec<String>,
    pub(super) is_open: bool,
}

/// Large figures. By end the first row is what somebody acts on, by string the first column.
pub(super) struct InHand {
    pub(super) by_end: bool,
    pub(super) heads: Vec<&'static str>,
    pub(super) rows: Vec<(String, Vec<String>)>,
}

/// One place before and after a step.
pub(super) struct Moved {
    pub(super) what: String,
    pub(super) before: String,
    pub(super) now: String,
    pub(super) by: String,
    pub(super) expected: String,
    pub(super) is_expected: bool,
}

/// `GET /bench/jobs/{id}/plan`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    let bench = Bench::read(&visit, id).await?;
    let form = bench.fresh_form();
    page(&PlanPage { plan: PlanPart::of(&bench, &form, &visit) })
}

/// `POST /bench/jobs/{id}/measure-again`: the step in hand is done; what it made stale is read again. Readings
/// still under way become a set first, because the step was done by them.
pub(in crate::web) async fn measure_again(visit: Visit, Id(id): Id<JobId>) -> Result {
    let mut write = visit.app.db.write().await?;
    let mut bench = Bench::read_on(&mut write, &visit, id).await?;
    if let Some(draft) = bench.draft.as_ref().filter(|draft| !draft.cells.is_empty()) {
        let mut form = bench.fresh_form();
        let key = format!("draft:{}", draft.id);
        if take_down(&mut write, &visit, &bench, &mut form, &key).await?.is_none() {
            drop(write);
            return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
        }
        bench = Bench::read_on(&mut write, &visit, id).await?;
    }
    let mut first = String::new();
    if let Some((_, _, output)) = bench.plan() {
        let now = output.steps.iter().filter(|step| step.state == StepState::Now);
        let steps: Vec<&str> = now.map(|step| step.key.as_str()).collect();
        draft::step_done(&mut write, &visit.by(Door::Bench), id, &steps).await?;
        let stale = grid::places(&bench.instrument.entry)
            .into_iter()
            .find(|(kind, _)| output.measure_again.iter().any(|key| key == grid::plan_key(*kind)));
        first = stale.map(|(kind, string)| format!("#field-{}", grid::field(kind, string))).unwrap_or_default();
    }
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}{first}"), "Done. What is struck through is read again.")
}

impl PlanPart {
    /// The plan that follows from what stands now: the newest set, or the readings under way.
    pub(super) fn of(bench: &Bench, form: &Typed, visit: &Visit) -> Self {
        let entry = &bench.instrument.entry;
        let names = string_names(entry);
        let under_way = bench.under_way(form);
        let set = under_way.as_ref().or(bench.sets.last());
        let planned = set.and_then(|set| bench.plan_of(set));
        let source = match (&under_way, set) {
            (Some(set), _) => {
                let places = grid::places(entry);
                let read = places.iter().filter(|(kind, string)| set.values(*kind, *string).next().is_some()).count();
                format!("From the readings under way: {read} of {} places.", places.len())
            }
            (None, Some(set)) => {
                format!("From the set {}, {}.", set.circumstances.stage, visit.moment(set.taken_at))
            }
            (None, None) => String::new(),
        };
        let mut part = Self {
            job: bench.job.id,
            view: None,
            steps: Vec::new(),
            source,
            spoken: String::new(),
            then_read: String::new(),
            last_in_hand: usize::MAX,
            moved_by: String::new(),
            moved: Vec::new(),
            moved_as_expected: true,
            surprises: Vec::new(),
            is_open: bench.job.stage.is_open(),
        };
        if let (Some((input, output)), Some(set)) = (planned, set) {
            // workings stand for the kept plan only
            let working =
                if under_way.is_some() { String::new() } else { format!("/bench/jobs/{}/working", bench.job.id) };
            part.tell(&input, &output, set, (&names, &working));
        }
        part.compare(bench, under_way.as_ref(), &names);
        part
    }

    fn tell(&mut self, input: &PlanInput, output: &PlanOutput, set: &ReadingSet, (names, working): (&[String], &str)) {
        let mut view = PlanView::with_working(output, names, working);
        let now: Vec<&Step> = output.steps.iter().filter(|step| step.state == StepState::Now).collect();
        self.spoken = match now.first() {
            _ if output.stopped => "Stop: nothing is cut.".to_owned(),
            Some(step) => format!("Now: {}.", title(&step.key)),
            None => "Nothing is left to do.".to_owned(),
        };
        let changes = now.iter().any(|step| !matches!(step.key.as_str(), "reading-missing" | "readings-disagree"));
        if changes && !output.measure_again.is_empty() {
            let words: Vec<&str> = output.measure_again.iter().map(|key| reading_words(key)).collect();
            self.then_read = words.join(", ");
            let last = output.steps.iter().rposition(|step| step.state == StepState::Now);
            self.last_in_hand = last.unwrap_or(usize::MAX);
        }
        let steps = std::mem::take(&mut view.steps);
        self.steps = steps
            .into_iter()
            .zip(&output.steps)
            .map(|(shown, step)| {
                let large = (step.state == StepState::Now).then(|| in_hand(step, input, set, names)).flatten();
                (shown, large)
            })
            .collect();
        self.view = Some(view);
    }

    /// How far the places moved since the step that was done last.
    fn compare(&mut self, bench: &Bench, under_way: Option<&ReadingSet>, names: &[String]) {
        let (before, after, steps) = match (under_way, bench.sets.as_slice()) {
            (Some(after), [.., before]) => (before, after, bench.done_steps()),
            (None, [.., before, after]) => (before, after, bench.done_before_last.as_slice()),
            _ => return,
        };
        if steps.is_empty() {
            return;
        }
        let input = |set| kept::input(&bench.instrument.entry, bench.job.style, set, &bench.observations);
        let Ok(found) = compare_after_step(&input(before), &input(after), &bench.house) else {
            return;
        };
        let titles: Vec<&str> = steps.iter().map(|step| title(step)).collect();
        self.moved_by = titles.join(", ");
        self.moved = found.places.iter().map(|place| moved(place, before, names)).collect();
        self.moved_as_expected = found.proved;
        self.surprises = found
            .findings
            .iter()
            .flat_map(|finding| finding.causes.first())
            .map(|cause| format!("{} {}", cause.reason, cause.check))
            .collect();
    }
}

fn moved(place: &ComparedPlace, before: &ReadingSet, names: &[String]) -> Moved {
    let kind = ReadingKind::of_quantity(&place.quantity).unwrap_or(ReadingKind::Height12);
    let number = place.string.and_then(|string| i64::try_from(string).ok()).unwrap_or(0);
    let was = before.mean(kind, number);
    let short = match kind {
        ReadingKind::Relief => "relief",
        ReadingKind::Height12 => "12th",
        _ => "over 1st",
    };
    let name = place.string.and_then(|string| names.get(string - 1));
    Moved {
        what: name.map_or_else(|| short.to_owned(), |name| format!("{name}, {short}")),
        before: was.map_or_else(|| "–".to_owned(), |was| format!("{was:.2}")),
        now: format!("{:.2}", place.value_mm),
        by: was.map_or_else(|| "–".to_owned(), |was| signed(place.value_mm - was)),
        expected: format!("{:.2} to {:.2}", place.expected_mm.least, place.expected_mm.most),
        is_expected: place.proved,
    }
}

fn signed(mm: f64) -> String {
    let hundredths = (mm * 100.0).round() / 100.0;
    if hundredths == 0.0 { "0.00".to_owned() } else { format!("{hundredths:+.2}").replace('-', "−") }
}

/// The large figures of a step that may be done now.
fn in_hand(step: &Step, input: &PlanInput, set: &ReadingSet, names: &[String]) -> Option<InHand> {
    if let Some(turns) = &step.turn_down_mm {
        let rows = turns.iter().zip(names).filter_map(|(turn, name)| {
            let turn = (*turn)?;
            let way = if turn >= 0.0 { "down" } else { "up" };
            Some((name.clone(), vec![format!("{way} {:.2}", turn.abs())]))
        });
        return Some(InHand { by_end: false, heads: vec!["turn"], rows: rows.collect() });
    }
    let cut = step.cut.as_ref()?;
    at_foot(cut, set).or_else(|| by_string(step, cut, input, set, names))
}

/// A straight cut at a saddle's foot: stop when the bar shows what is named here.
fn at_foot(cut: &CutOutput, set: &ReadingSet) -> Option<InHand> {
    let (foot, first, left) = (cut.foot?, cut.foot_first_pass?, cut.left_showing_mm?);
    if foot.treble_mm <= 0.0 && foot.bass_mm <= 0.0 {
        return None;
    }
    let stop = |kind, first: f64| {
        set.mean(kind, 0).map_or_else(|| "–".to_owned(), |showing| format!("{:.2}", showing - first))
    };
    let row = |what: &str, treble: String, bass: String| (what.to_owned(), vec![treble, bass]);
    let two = |mm: f64| format!("{mm:.2}");
    Some(InHand {
        by_end: true,
        heads: vec!["treble", "bass"],
        rows: vec![
            row("first pass", pass(first.treble_mm), pass(first.bass_mm)),
            row(
                "stop at, showing",
                stop(ReadingKind::SaddleTreble, first.treble_mm),
                stop(ReadingKind::SaddleBass, first.bass_mm),
            ),
            row("in all", two(foot.treble_mm), two(foot.bass_mm)),
            row("sure to ±", sure(foot.treble_mm, foot.treble_expanded_mm), sure(foot.bass_mm, foot.bass_expanded_mm)),
            row("will be left", two(left.treble), two(left.bass)),
        ],
    })
}

/// String by string: a nut's slots, or what is raised.
fn by_string(step: &Step, cut: &CutOutput, input: &PlanInput, set: &ReadingSet, names: &[String]) -> Option<InHand> {
    let scale = input.instrument.scale_mm;
    let (first, third) = (fret_position_mm(scale, 1), fret_position_mm(scale, 3));
    let at_nut = step.key.starts_with("nut");
    let rows: Vec<(String, Vec<String>)> = (1_i64..)
        .zip(cut.strings.iter().zip(names))
        .filter_map(|(number, (string, name))| {
            let exact = string.exact_mm?;
            let place = usize::try_from(number).ok()?;
            if let Some(raise) = cut.raise.iter().find(|raise| raise.string == place) {
                let shims = if raise.shims == 1 { "1 shim".to_owned() } else { format!("{} shims", raise.shims) };
                return Some((name.clone(), vec![format!("raise {:.2}", raise.mm), shims, String::new()]));
            }
            if exact <= 0.0 {
                return None;
            }
            // what the first pass leaves, read where it was read before: the gap, else the open height
            let gap = set
                .mean(ReadingKind::Gap1Stopped3, number)
                .map(|gap| gap - string.first_pass_mm * (1.0 - first / third));
            let open = set
                .mean(ReadingKind::Height1, number)
                .map(|open| open - string.first_pass_mm * felt_from_nut(first, scale));
            let stop = gap.or(open).filter(|_| at_nut).map_or_else(|| "–".to_owned(), |stop| format!("{stop:.2}"));
            Some((
                name.clone(),
                vec![pass(string.first_pass_mm), stop, format!("{exact:.2}"), sure(exact, string.expanded_mm)],
            ))
        })
        .collect();
    let stop = if at_nut { "stop at, over 1st" } else { "stop at" };
    (!rows.is_empty()).then(|| InHand { by_end: false, heads: vec!["first pass", stop, "in all", "±"], rows })
}

/// The expanded uncertainty of an amount, to the decimal it is printed with.
fn sure(amount_mm: f64, expanded_mm: Option<f64>) -> String {
    expanded_mm.map_or_else(|| "–".to_owned(), |expanded| supported(amount_mm, expanded).expanded)
}

/// Nothing to cut by yet is said, not shown as 0.00.
fn pass(mm: f64) -> String {
    if mm > 0.0 { format!("{mm:.2}") } else { "read again".to_owned() }
}
