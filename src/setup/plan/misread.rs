//! Readings that are asked for again before anything uses them: one far from its neighbours' line, or one whose own
//! repeats lie apart. Most of these were misread or typed wrongly.
//!
//! How far is far is chosen here: more than a worn slot, a curved board or a string's own notch makes, less than a
//! slip of a scale does.

use super::input::PlanInput;
use super::read::{ENOUGH_REPEATS, Read, StringRead, as_number, repeatability};
use super::short_run::ShortRun;
use super::stage::Stage;

/// Repeats of one place lie so far apart, mm, or so many standard deviations of the tool.
const REPEATS_APART_MM: f64 = 0.3;

const REPEATS_APART_DEVIATIONS: f64 = 6.0;

/// A line through the others leaves a good reading nearer than this share of what is far.
const SURELY_NEAR: f64 = 0.2;

/// What is read of each string.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    Relief,
    Action,
    FirstFret,
    Gap,
    ToSaddle,
}

/// Reads one quantity of a string.
pub(super) type OfString = fn(&StringRead) -> Option<Read>;

/// How each is called, read, and how far from its neighbours it is far, mm.
pub(super) const OF_STRINGS: [(Quantity, OfString, f64); 4] = [
    (Quantity::Action, |string| string.action, 1.0),
    (Quantity::FirstFret, |string| string.first, 0.5),
    (Quantity::Gap, |string| string.gap, 0.5),
    (Quantity::ToSaddle, |string| string.setback, 6.0),
];

impl Quantity {
    pub(super) fn key(self) -> &'static str {
        match self {
            Self::Relief => "relief_mm",
            Self::Action => "action_12_mm",
            Self::FirstFret => "first_fret_mm",
            Self::Gap => "gap_at_1_stopped_at_3_mm",
            Self::ToSaddle => "from_12_to_saddle_mm",
        }
    }

    pub(super) fn said(self) -> &'static str {
        match self {
            Self::Relief => "relief",
            Self::Action => "the height at the 12th",
            Self::FirstFret => "the open height over the 1st",
            Self::Gap => "the gap over the 1st, stopped at the 3rd",
            Self::ToSaddle => "the distance from the 12th to the saddle",
        }
    }

    /// Before which it is settled.
    pub(super) fn stage(self) -> Stage {
        match self {
            Self::Relief => Stage::Relief,
            // slots lean on the heights too
            Self::Action | Self::FirstFret | Self::Gap => Stage::NutReadings,
            Self::ToSaddle => Stage::Intonation,
        }
    }
}

/// One reading that is asked for again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Doubt {
    pub(super) quantity: Quantity,
    /// From 1; `None` for relief.
    pub(super) string: Option<usize>,
    pub(super) why: Why,
}

/// What makes it doubtful.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Why {
    /// Its neighbours' line is at so many mm there.
    FarFromNeighbours { line_mm: f64 },
    /// Its repeats lie so far apart, mm.
    RepeatsApart { apart_mm: f64 },
}

/// All of them; `positions` of the strings across, mm. A short string's height over fret 12 is compared as that of a
/// whole one on the same bridge.
pub(super) fn of(input: &PlanInput, strings: &[StringRead], positions: &[f64], runs: &[ShortRun]) -> Vec<Doubt> {
    let mut found = Vec::new();
    let readings = &input.readings;
    let far_apart = REPEATS_APART_MM.max(REPEATS_APART_DEVIATIONS * repeatability(&input.tool).standard_deviation_mm);
    let mut apart = |quantity: Quantity, string: Option<usize>, values: &[f64]| {
        let apart_mm = spread(values);
        let few = values.len() < 2 * ENOUGH_REPEATS;
        if few && apart_mm > far_apart {
            found.push(Doubt { quantity, string, why: Why::RepeatsApart { apart_mm } });
        }
    };
    apart(Quantity::Relief, None, &readings.relief_mm);
    for (number, string) in (1..).zip(&readings.strings) {
        apart(Quantity::Action, Some(number), &string.action_12_mm);
        apart(Quantity::FirstFret, Some(number), &string.first_fret_mm);
        apart(Quantity::Gap, Some(number), &string.gap_at_1_stopped_at_3_mm);
        apart(Quantity::ToSaddle, Some(number), &string.from_12_to_saddle_mm);
    }
    for (quantity, read, far_mm) in OF_STRINGS {
        let as_whole = |place: usize, mm: f64| match (quantity, runs.get(place)) {
            (Quantity::Action, Some(run)) => run.whole_mm(mm),
            _ => mm,
        };
        let points = points(strings, positions, |place, string| Some(as_whole(place, read(string)?.value)));
        for (place, line_mm) in far(points, far_mm) {
            let line_mm = match (quantity, runs.get(place)) {
                (Quantity::Action, Some(run)) => run.own_mm(line_mm),
                _ => line_mm,
            };
            let string = Some(place + 1);
            let is_known = found.iter().any(|doubt| doubt.quantity == quantity && doubt.string == string);
            let read = strings.get(place).and_then(read);
            if !is_known && read.is_some_and(|read| read.may_be_repeated()) {
                found.push(Doubt { quantity, string, why: Why::FarFromNeighbours { line_mm } });
            }
        }
    }
    found
}

/// From the least to the most of some repeats.
fn spread(values: &[f64]) -> f64 {
    let ends = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), value| (least.min(*value), most.max(*value)));
    if values.len() < 2 { 0.0 } else { ends.1 - ends.0 }
}

/// Each place that was read, where it lies across, and what it reads.
fn points(
    strings: &[StringRead],
    positions: &[f64],
    value: impl Fn(usize, &StringRead) -> Option<f64>,
) -> Vec<(usize, f64, f64)> {
    let all = strings.iter().zip(positions).enumerate();
    all.filter_map(|(place, (string, at))| Some((place, *at, value(place, string)?))).collect()
}

/// Places that stand far off the line of the others, with where that line is there.
fn far(points: Vec<(usize, f64, f64)>, far_mm: f64) -> Vec<(usize, f64)> {
    let all: Vec<(f64, f64)> = points.iter().map(|(_, at, value)| (*at, *value)).collect();
    let near = |line: Neighbours, share: f64| all.iter().all(|(at, value)| line.off(*at, *value) <= share * far_mm);
    if points.len() < 3 || near(Neighbours::of(&all), SURELY_NEAR) {
        return Vec::new();
    }
    // the line that most of them agree on, whatever a few say
    let agreed = if all.len() == 3 { level_of_three(&all) } else { agreed_line(&all) };
    let stands_far = |at: f64, value: f64| agreed.off(at, value) > far_mm;
    let (off, good): (Vec<_>, Vec<_>) = points.into_iter().partition(|(_, at, value)| stands_far(*at, *value));
    let good: Vec<(f64, f64)> = good.into_iter().map(|(_, at, value)| (at, value)).collect();
    if off.is_empty() || good.len() <= off.len() || good.len() < 2 {
        return Vec::new();
    }
    let line = Neighbours::of(&good);
    off.into_iter().map(|(place, at, _)| (place, line.at(at))).collect()
}

/// Where the others' line is: least squares through their middle; of two, their mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Neighbours {
    pub(super) middle: (f64, f64),
    pub(super) slope: f64,
}

impl Neighbours {
    pub(super) fn of(points: &[(f64, f64)]) -> Self {
        let count = as_number(points.len()).max(1.0);
        let middle = (
            points.iter().map(|(at, _)| at).sum::<f64>() / count,
            points.iter().map(|(_, value)| value).sum::<f64>() / count,
        );
        let (products, squares) = points.iter().fold((0.0, 0.0), |(products, squares), (at, value)| {
            (products + (at - middle.0) * (value - middle.1), squares + (at - middle.0).powi(2))
        });
        let slope = if points.len() < 3 || squares <= 0.0 { 0.0 } else { products / squares };
        Self { middle, slope }
    }

    pub(super) fn at(self, at: f64) -> f64 {
        self.middle.1 + self.slope * (at - self.middle.0)
    }

    fn off(self, at: f64, value: f64) -> f64 {
        (value - self.at(at)).abs()
    }
}

/// Of three strings no line tells which one is off: the middle value does.
fn level_of_three(points: &[(f64, f64)]) -> Neighbours {
    let mut values: Vec<f64> = points.iter().map(|(_, value)| *value).collect();
    values.sort_by(f64::total_cmp);
    Neighbours { middle: (0.0, values.get(1).copied().unwrap_or(0.0)), slope: 0.0 }
}

/// The line through two of them that leaves half of all the nearest (least median of squares, Rousseeuw 1984; from
/// memory); of equals the one that leaves all of them nearer, whichever side it is seen from.
fn agreed_line(points: &[(f64, f64)]) -> Neighbours {
    /// Below this two lengths are the same, mm: what is left is the computer's rounding.
    const SAME_MM: f64 = 1e-9;
    let half = points.len() / 2 + 1;
    let mut best = (f64::INFINITY, f64::INFINITY, Neighbours { middle: (0.0, 0.0), slope: 0.0 });
    for (place, one) in points.iter().enumerate() {
        for other in points.iter().skip(place + 1) {
            let line = Neighbours { middle: *one, slope: (other.1 - one.1) / (other.0 - one.0) };
            let mut off: Vec<f64> = points.iter().map(|(at, value)| line.off(*at, *value)).collect();
            off.sort_by(f64::total_cmp);
            let worst_of_half = off.get(half - 1).copied().unwrap_or(f64::INFINITY);
            let in_all: f64 = off.iter().sum();
            let is_same = (worst_of_half - best.0).abs() <= SAME_MM;
            if worst_of_half < best.0 - SAME_MM || (is_same && in_all < best.1 - SAME_MM) {
                best = (worst_of_half, in_all, line);
            }
        }
    }
    best.2
}
