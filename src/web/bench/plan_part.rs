//! The plan as it stands beside the grid: what is in hand in large figures, and how far the last step moved things.

use super::grid;
use super::known::{BenchJob, Current, titles};
use crate::records::JobId;
use crate::records::plan as kept;
use crate::records::reading::{ReadingKind, ReadingSet};
use crate::setup::cut::CutOutput;
use crate::setup::frame::{felt_from_nut, fret_position_mm};
use crate::setup::plan::{ComparedPlace, PlanInput, PlanOutput, Step, StepState, compare_after_step};
use crate::setup::reading::{ReadingInput, reading, supported};
use crate::web::page::RequestContext;
use crate::web::plan_view::{Amount, PlanView, StepView, reading_words, title};
use crate::web::readings_view::string_names;

/// What a computer's rounding may make of a whole hundredth.
const HAIR: f64 = 1e-6;

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

/// Steps that only read: nothing is done by them.
const ONLY_READ: [&str; 3] = ["reading-missing", "readings-disagree", "readings-too-uncertain"];

/// The steps in hand that change the instrument.
pub(super) fn in_hand_keys(output: &PlanOutput) -> Vec<&str> {
    let now = output.steps.iter().filter(|step| step.state == StepState::Now);
    now.map(|step| step.key.as_str()).filter(|key| !ONLY_READ.contains(key)).collect()
}

impl PlanPart {
    /// The plan that follows from what stands now: the newest set, or the readings under way.
    pub(super) fn of(bench: &BenchJob, context: &RequestContext) -> Self {
        let entry = &bench.instrument.entry;
        let names = string_names(entry);
        let set = bench.current_set();
        let source = match &set {
            Some(set) if bench.draft.is_some() => {
                let places = grid::places(entry);
                let read = places.iter().filter(|(kind, string)| set.values(*kind, *string).next().is_some()).count();
                format!("From the readings under way: {read} of {} places.", places.len())
            }
            Some(set) => format!("From the set {}.", bench.taken_words(context, set)),
            None => String::new(),
        };
        let mut part = Self {
            job: bench.job.id,
            after: bench.sets.last().map(|set| set.id.to_string()).unwrap_or_default(),
            seen: bench.draft.as_ref().map_or(0, |draft| draft.seen),
            in_hand: String::new(),
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
        if let Some(current) = bench.current_plan() {
            part.tell(&current, &names, &format!("/bench/jobs/{}/working", bench.job.id));
        }
        part.compare(bench, set.as_ref().filter(|_| bench.draft.is_some()), &names);
        part
    }

    fn tell(&mut self, current: &Current, names: &[String], working: &str) {
        let Current { set, input, output } = current;
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
            let last = output.steps.iter().rposition(|step| step.state == StepState::Now);
            self.last_in_hand = last.unwrap_or(usize::MAX);
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
        let input = |set| kept::input(&bench.instrument.entry, bench.job.style, set, &bench.observations);
        let Ok(found) = compare_after_step(&input(before), &input(after), &bench.house) else {
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

/// The large figures of a step that may be done now.
fn in_hand(step: &Step, shown: &StepView, input: &PlanInput, set: &ReadingSet, names: &[String]) -> Option<InHand> {
    // what is turned or moved is said at once, as the plan says it
    let moved = match (&step.turn_down_mm, &step.setback_to_add_mm) {
        (Some(_), _) => Some("turn"),
        (None, Some(_)) => Some("set back"),
        (None, None) => None,
    };
    if let Some(head) = moved {
        let said = |amount: &Amount| format!("{} ± {}", amount.first_pass, amount.uncertainty);
        let rows = shown.amounts.iter().map(|amount| (amount.string.clone(), vec![said(amount)])).collect();
        return Some(InHand { by_end: false, heads: vec![head], rows });
    }
    let cut = step.cut.as_ref()?;
    at_foot(cut, input, set).or_else(|| by_string(step, cut, input, set, names))
}

/// A straight cut at a saddle's foot: stop when the bar shows what is named here.
fn at_foot(cut: &CutOutput, input: &PlanInput, set: &ReadingSet) -> Option<InHand> {
    let (foot, first, left) = (cut.foot?, cut.foot_first_pass?, cut.left_showing_mm?);
    if foot.treble_mm <= 0.0 && foot.bass_mm <= 0.0 {
        return None;
    }
    let showing = &input.readings.saddle_showing_mm;
    let stop = |kind, read: &[f64], first: f64| {
        set.mean(kind, 0).map_or_else(|| "–".to_owned(), |showing| stop_at(showing - first, read, input))
    };
    let unsure = cut.left_showing_expanded_mm;
    let row = |what: &str, treble: String, bass: String| (what.to_owned(), vec![treble, bass]);
    let two = |mm: f64| format!("{mm:.2}");
    Some(InHand {
        by_end: true,
        heads: vec!["treble", "bass"],
        rows: vec![
            row("first pass", pass(first.treble_mm), pass(first.bass_mm)),
            row(
                "stop at, showing",
                stop(ReadingKind::SaddleTreble, &showing.treble, first.treble_mm),
                stop(ReadingKind::SaddleBass, &showing.bass, first.bass_mm),
            ),
            row("in all", two(foot.treble_mm), two(foot.bass_mm)),
            row("sure to ±", sure(foot.treble_mm, foot.treble_expanded_mm), sure(foot.bass_mm, foot.bass_expanded_mm)),
            row(
                "will be left",
                supported(left.treble, unsure.map_or(0.0, |unsure| unsure.treble)).to_string(),
                supported(left.bass, unsure.map_or(0.0, |unsure| unsure.bass)).to_string(),
            ),
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
                let raise = supported(raise.mm, raise.expanded_mm.unwrap_or(0.0));
                let figures = vec![format!("raise {}", raise.value), shims, "–".to_owned(), raise.expanded];
                return Some((name.clone(), figures));
            }
            if exact <= 0.0 {
                return None;
            }
            // what the first pass leaves, read where it was read before: the gap, else the open height
            let read = input.readings.strings.get(place - 1)?;
            let gap = set.mean(ReadingKind::Gap1Stopped3, number).map(|gap| {
                stop_at(gap - string.first_pass_mm * (1.0 - first / third), &read.gap_at_1_stopped_at_3_mm, input)
            });
            let open = || {
                let open = set.mean(ReadingKind::Height1, number)?;
                Some(stop_at(open - string.first_pass_mm * felt_from_nut(first, scale), &read.first_fret_mm, input))
            };
            let stop = at_nut.then(|| gap.or_else(open)).flatten().unwrap_or_else(|| "–".to_owned());
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

/// A first pass never takes more than was worked out: down to the hundredth. Nothing to cut by yet is said, not
/// shown as 0.00.
fn pass(mm: f64) -> String {
    let hundredths = (mm * 100.0 + HAIR).floor();
    if hundredths > 0.0 { format!("{:.2}", hundredths / 100.0) } else { "read again".to_owned() }
}

/// Where to stop, up to the hundredth, and how sure the readings are that it follows from.
fn stop_at(mm: f64, read_mm: &[f64], input: &PlanInput) -> String {
    let stop = (mm * 100.0 - HAIR).ceil() / 100.0;
    let asked = ReadingInput::usual(read_mm.to_vec(), input.tool.resolution_mm, input.tool.limit_mm);
    match reading(&asked) {
        Ok(found) => format!("{stop:.2} ± {}", supported(stop, found.expanded_mm).expanded),
        Err(_) => format!("{stop:.2}"),
    }
}
