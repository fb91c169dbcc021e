//! `/bench/jobs/{id}/plan`: the plan as it stands beside the grid: what to do next, in figures that can be read from a
//! metre away, and how far the last step moved things. A page with scripts fetches it by itself as values arrive.

use askama::Template;

use super::bench_job::{BenchJob, Current, Planned};
use super::grid;
use crate::records::reading::{ReadingKind, ReadingSet, ReadingStage};
use crate::records::stage::Stage;
use crate::records::work::WorkLine;
use crate::records::{JobId, moves};
use crate::setup::plan::{ComparedPlace, PlanOutput, Step, StepState, compare_after_step};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::in_hand::{InHand, in_hand};
use crate::web::page::{RequestContext, page};
use crate::web::plan_view::{PlanView, StepView, reading_words, title, titles};
use crate::web::readings_view::string_names;

/// The plan by itself.
#[derive(Template)]
#[template(path = "bench/plan.html")]
struct PlanPage {
    plan: PlanPart,
}

/// `GET /bench/jobs/{id}/plan`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let bench = BenchJob::load(&context, id).await?;
    let current = bench.current(&bench.fresh_form());
    page(&PlanPage { plan: PlanPart::of(&bench, current.as_ref(), &context) })
}

/// The plan beside the grid.
pub(super) struct PlanPart {
    pub(super) job: JobId,
    /// The newest set and the newest value that the plan follows from.
    pub(super) after: String,
    pub(super) seen: i64,
    /// The keys of the steps that *done, measure again* says are done.
    pub(super) in_hand: String,
    pub(super) view: Option<PlanView>,
    /// The steps, each with its large figures where it is in hand.
    pub(super) steps: Vec<(StepView, Option<InHand>)>,
    /// The one thing to do next, for the large button.
    pub(super) next: Next,
    /// Which readings it follows from.
    pub(super) source: String,
    /// In one sentence, for those who listen.
    pub(super) spoken: String,
    /// What *done, measure again* leads to; empty where nothing in hand changes a reading.
    pub(super) then_read: String,
    /// What was done before these readings, and how far each place moved.
    pub(super) moved_by: String,
    pub(super) moved: Vec<Moved>,
    pub(super) moved_as_expected: bool,
    /// What may have gone otherwise.
    pub(super) surprises: Vec<String>,
    pub(super) is_open: bool,
}

/// What is done next: measured, done, taken down, worked on, proved, moved on.
pub(super) enum Next {
    /// A place is read: where its cell is.
    Measure(String),
    /// A step in hand is done and changes readings.
    Done,
    /// What was typed is taken down as a set.
    TakeSet,
    /// A line of work: its words.
    Work(String),
    /// The final check's list.
    Prove,
    /// A press moves the job: to which stage, in words, by which version.
    Move(&'static str, &'static str, i64),
    Nothing,
}

impl Next {
    fn of(bench: &BenchJob, in_hand: &str) -> Self {
        let move_on = move_on(bench.job.stage, &bench.lines);
        let by_press = |(to, words)| Self::Move(to, words, bench.job.version);
        let is_under_way = bench.draft.as_ref().is_some_and(|draft| !draft.cells.is_empty());
        if !bench.job.stage.is_open() {
            return Self::Nothing;
        }
        if !in_hand.is_empty() {
            return Self::Done;
        }
        if let Some(field) = bench.first_to_read() {
            return Self::Measure(field);
        }
        if is_under_way {
            return Self::TakeSet;
        }
        match bench.job.stage {
            Stage::FinalCheck => return Self::Prove,
            Stage::OnTheBench => {
                if let Some(line) = bench.lines.iter().find(|line| line.may_start()) {
                    return Self::Work(line.words.clone());
                }
            }
            _ => {}
        }
        move_on.map_or(Self::Nothing, by_press)
    }
}

/// The one forward move the bench can press here: stage key and words.
pub(super) fn move_on(stage: Stage, lines: &[WorkLine]) -> Option<(&'static str, &'static str)> {
    let next = moves::next_at_the_bench(stage, lines)?;
    let words = match next {
        Stage::OnTheBench => "Put on the bench",
        Stage::FinalCheck => "To the final check",
        _ => "Nothing to measure: mark as measured",
    };
    Some((next.key(), words))
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

/// Steps that only read: nothing is done by them.
const ONLY_READ: [&str; 3] = ["reading-missing", "readings-disagree", "readings-too-uncertain"];

/// The steps in hand that change the instrument.
pub(super) fn in_hand_keys(output: &PlanOutput) -> Vec<&str> {
    let now = output.steps.iter().filter(|step| step.state == StepState::Now);
    now.map(|step| step.key.as_str()).filter(|key| !ONLY_READ.contains(key)).collect()
}

impl PlanPart {
    /// The plan that follows from what stands now: the newest set, or the readings under way.
    pub(super) fn of(bench: &BenchJob, current: Option<&Current<'_>>, context: &RequestContext) -> Self {
        let entry = &bench.instrument.entry;
        let names = string_names(entry);
        let set = current.map(|current| current.set.as_ref());
        let source = match set {
            Some(set) if bench.draft.is_some() => {
                let mut places = grid::places(entry);
                places.retain(|(kind, string)| {
                    grid::is_usual(*kind, entry) || set.values(*kind, *string).next().is_some()
                });
                let count = places.iter().filter(|(kind, string)| set.values(*kind, *string).next().is_some()).count();
                format!("From the readings under way: {count} of {} places.", places.len())
            }
            Some(set) => {
                let which = match set.circumstances.stage {
                    ReadingStage::Received => "the set as received",
                    ReadingStage::During => "the set taken during the work",
                    ReadingStage::Final => "the final set",
                };
                format!("From {which}, {}.", context.moment(set.taken_at))
            }
            None => String::new(),
        };
        let mut part = Self {
            job: bench.job.id,
            after: bench.sets.last().map(|set| set.id.to_string()).unwrap_or_default(),
            seen: bench.draft.as_ref().map_or(0, |draft| draft.seen),
            in_hand: String::new(),
            view: None,
            steps: Vec::new(),
            next: Next::Nothing,
            source,
            spoken: String::new(),
            then_read: String::new(),
            moved_by: String::new(),
            moved: Vec::new(),
            moved_as_expected: true,
            surprises: Vec::new(),
            is_open: bench.job.stage.is_open(),
        };
        if let Some((set, planned)) = current.and_then(Current::both) {
            part.tell(set, planned, &names, &format!("/bench/jobs/{}/working", bench.job.id));
        }
        part.next = Next::of(bench, &part.in_hand);
        part.compare(bench, set.filter(|_| bench.draft.is_some()), &names);
        part
    }

    fn tell(&mut self, set: &ReadingSet, Planned { input, output }: &Planned, names: &[String], working: &str) {
        let mut view = PlanView::with_working(output, names, working);
        let now: Vec<&Step> = output.steps.iter().filter(|step| step.state == StepState::Now).collect();
        self.spoken = match now.first() {
            _ if output.stopped => "Stop: nothing is cut.".to_owned(),
            Some(step) => format!("Now: {}.", title(&step.key)),
            None => "Nothing is left to do.".to_owned(),
        };
        let in_hand_keys = in_hand_keys(output);
        if !in_hand_keys.is_empty() && !output.measure_again.is_empty() {
            self.in_hand = in_hand_keys.join(" ");
            let words: Vec<&str> = output.measure_again.iter().map(|key| reading_words(key)).collect();
            self.then_read = words.join(", ");
        }
        let steps = std::mem::take(&mut view.steps);
        self.steps = steps
            .into_iter()
            .zip(&output.steps)
            .map(|(shown, step)| {
                let large = (step.state == StepState::Now).then(|| in_hand(step, &shown, input, set, names)).flatten();
                (shown, large)
            })
            .collect();
        self.view = Some(view);
    }

    /// How far the places moved since the step that was done last.
    fn compare(&mut self, bench: &BenchJob, under_way: Option<&ReadingSet>, names: &[String]) {
        let (before, after, steps) = match (under_way, bench.sets.as_slice()) {
            (Some(after), [.., before]) => (before, after, bench.done_steps()),
            (None, [.., before, after]) => (before, after, bench.done_before_last.as_slice()),
            _ => return,
        };
        if steps.is_empty() {
            return;
        }
        let Ok(found) = compare_after_step(&bench.asked_before(before), &bench.asked(after), &bench.house) else {
            return;
        };
        self.moved_by = titles(steps);
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
