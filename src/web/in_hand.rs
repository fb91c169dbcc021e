//! The figures of a step in hand, large enough to be read from a metre away.

use super::plan_view::StepView;
use crate::records::reading::{ReadingKind, ReadingSet};
use crate::setup::cut::CutOutput;
use crate::setup::frame::{felt_from_nut, fret_position_mm};
use crate::setup::plan::{PlanInput, Step, length_asked};
use crate::setup::reading::{reading, supported};

/// What a computer's rounding may make of a whole hundredth.
const HAIR: f64 = 1e-6;

/// Large figures. By end the first row is what somebody acts on, by string the first column.
pub(super) struct InHand {
    /// "by-end", "by-string", and "adjusted" where whole words stand in the cells.
    pub(super) shape: &'static str,
    pub(super) heads: Vec<&'static str>,
    pub(super) rows: Vec<(String, Vec<LargeFigure>)>,
}

/// One figure, and how sure it is; "" where that stands elsewhere or is not known.
pub(super) struct LargeFigure {
    pub(super) value: String,
    pub(super) unsure: String,
}

impl LargeFigure {
    fn plain(value: impl Into<String>) -> Self {
        Self { value: value.into(), unsure: String::new() }
    }

    fn none() -> Self {
        Self::plain("–")
    }
}

/// The large figures of a step that may be done now.
pub(super) fn in_hand(
    step: &Step,
    shown: &StepView,
    input: &PlanInput,
    set: &ReadingSet,
    names: &[String],
) -> Option<InHand> {
    // what is turned or moved is said at once, as the plan says it
    if let Some(adjusted) = &shown.adjusted {
        let rows =
            adjusted.rows.iter().map(|row| (row.what.clone(), row.cells.iter().map(LargeFigure::plain).collect()));
        return Some(InHand { shape: "by-string adjusted", heads: adjusted.heads.clone(), rows: rows.collect() });
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
    let stop = |kind, repeats: &[f64], first: f64| {
        set.mean(kind, 0).map_or_else(LargeFigure::none, |showing| stop_at(showing - first, repeats, input))
    };
    let unsure = cut.left_showing_expanded_mm;
    let row = |what: &str, treble: LargeFigure, bass: LargeFigure| (what.to_owned(), vec![treble, bass]);
    let two = |mm: f64| LargeFigure::plain(format!("{mm:.2}"));
    let left_at = |mm: f64, unsure: Option<f64>| {
        let left = supported(mm, unsure.unwrap_or(0.0));
        LargeFigure { value: left.value, unsure: left.expanded }
    };
    Some(InHand {
        shape: "by-end",
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
                left_at(left.treble, unsure.map(|unsure| unsure.treble)),
                left_at(left.bass, unsure.map(|unsure| unsure.bass)),
            ),
        ],
    })
}

/// String by string: a nut's slots, or what is raised.
fn by_string(step: &Step, cut: &CutOutput, input: &PlanInput, set: &ReadingSet, names: &[String]) -> Option<InHand> {
    let scale = input.instrument.scale_mm;
    let (first, third) = (fret_position_mm(scale, 1), fret_position_mm(scale, 3));
    let at_nut = step.key.starts_with("nut");
    let rows: Vec<(String, Vec<LargeFigure>)> = (1_i64..)
        .zip(cut.strings.iter().zip(names))
        .filter_map(|(number, (string, name))| {
            let exact = string.exact_mm?;
            let place = usize::try_from(number).ok()?;
            if let Some(raise) = cut.raise.iter().find(|raise| raise.string == place) {
                let shims = if raise.shims == 1 { "1 shim".to_owned() } else { format!("{} shims", raise.shims) };
                let raise = supported(raise.mm, raise.expanded_mm.unwrap_or(0.0));
                let [value, shims, unsure] =
                    [format!("raise {}", raise.value), shims, raise.expanded].map(LargeFigure::plain);
                return Some((name.clone(), vec![value, shims, LargeFigure::none(), unsure]));
            }
            if exact <= 0.0 {
                return None;
            }
            // what the first pass leaves, read where it was read before: the gap, else the open height
            let readings = input.readings.strings.get(place - 1)?;
            let gap = set.mean(ReadingKind::Gap1Stopped3, number).map(|gap| {
                stop_at(gap - string.first_pass_mm * (1.0 - first / third), &readings.gap_at_1_stopped_at_3_mm, input)
            });
            let open = || {
                let open = set.mean(ReadingKind::Height1, number)?;
                Some(stop_at(open - string.first_pass_mm * felt_from_nut(first, scale), &readings.first_fret_mm, input))
            };
            let stop = at_nut.then(|| gap.or_else(open)).flatten().unwrap_or_else(LargeFigure::none);
            let whole = LargeFigure::plain(format!("{exact:.2}"));
            Some((name.clone(), vec![pass(string.first_pass_mm), stop, whole, sure(exact, string.expanded_mm)]))
        })
        .collect();
    let stop = if at_nut { "stop at, over 1st" } else { "stop at" };
    (!rows.is_empty()).then(|| InHand { shape: "by-string", heads: vec!["first pass", stop, "in all", "±"], rows })
}

/// The expanded uncertainty of an amount, to the decimal it is printed with.
fn sure(amount_mm: f64, expanded_mm: Option<f64>) -> LargeFigure {
    expanded_mm.map_or_else(LargeFigure::none, |expanded| LargeFigure::plain(supported(amount_mm, expanded).expanded))
}

/// A first pass never takes more than was worked out: down to the hundredth. Nothing to cut by yet is said, not
/// shown as 0.00.
fn pass(mm: f64) -> LargeFigure {
    let hundredths = (mm * 100.0 + HAIR).floor();
    LargeFigure::plain(if hundredths > 0.0 { format!("{:.2}", hundredths / 100.0) } else { "read again".to_owned() })
}

/// Where to stop, up to the hundredth, and how sure the readings are that it follows from.
fn stop_at(mm: f64, read_mm: &[f64], input: &PlanInput) -> LargeFigure {
    let stop = (mm * 100.0 - HAIR).ceil() / 100.0;
    let unsure = reading(&length_asked(read_mm, &input.tool))
        .map(|found| supported(stop, found.expanded_mm).expanded)
        .unwrap_or_default();
    LargeFigure { value: format!("{stop:.2}"), unsure }
}
