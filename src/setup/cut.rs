//! `cut`: exactly how much may come off, and how much of it in the first pass.
//!
//! exact = (reading − target)·k with k = L′/x₁₂ at a saddle, 1/(1 − x₁/x₃) for the gap over fret 1
//! stopped at 3, 1/(1 − x₁/L′) for the open height over fret 1 (similar triangles). First pass = exact −
//! t·u one-sided, rounded down to the file's step: guarded acceptance (JCGM 106:2012, ISO 14253-1:2017
//! for the sense), because removed material does not come back.

mod foot;
mod top;
pub(super) mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use self::foot::{Bound, Fit, Limit, best_foot};
use super::board::BoardRadius;
use super::frame::{felt_from_nut, felt_from_saddle, fret_position_mm};
use super::limits::{HEIGHT_MM, MOST_STRINGS, SCALE_MM, SIGNED_MM};
use super::reading::{Contribution, combine, coverage_factor};
use super::spread::quantile;
use crate::problem::Problems;

pub use working::explain;

/// Shims under one nut, at most: beyond, a new nut is quoted. Common practice, no source.
pub const MOST_SHIMS: usize = 2;
/// Share of cases that an expanded uncertainty covers.
const COVERAGE: f64 = 0.95;
/// Below this two amounts are the same, mm: far finer than any file.
const SAME_MM: f64 = 1e-9;

/// Which end is worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CutPlace {
    /// The saddle: felt all the way.
    Saddle,
    /// The nut: stays at the nut.
    Nut,
}

/// What `cut` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutInput {
    /// Saddle or nut.
    pub place: CutPlace,
    /// Nominal scale, mm.
    pub scale_mm: f64,
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub saddle_setback_mm: f64,
    /// Risk of taking too much in the first pass.
    #[serde(default = "usual_risk")]
    pub first_pass_risk: f64,
    /// The file's step, mm.
    #[serde(default = "usual_step")]
    pub step_mm: f64,
    /// Standard uncertainty of the cut itself, mm.
    #[serde(default = "usual_cut_uncertainty")]
    pub cut_uncertainty_mm: f64,
    /// Thickness of one shim, mm.
    #[serde(default = "usual_shim")]
    pub shim_mm: f64,
    /// The strings, string 1 first.
    pub strings: Vec<CutString>,
    /// Saddle above the bridge, mm; for a saddle.
    #[serde(default)]
    pub showing_mm: Option<Ends>,
    /// Expanded uncertainty of what shows, mm, where it is known; for a saddle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub showing_expanded_mm: Option<Ends>,
    /// What must stay above the bridge, mm; for a saddle.
    #[serde(default)]
    pub least_showing_mm: Option<f64>,
    /// The board's radius; flat when absent. With it the top's shape is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_radius_mm: Option<BoardRadius>,
    /// Between the outer strings at the other end of the string, mm; with a radius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spread_at_other_end_mm: Option<f64>,
}

fn usual_risk() -> f64 {
    0.025
}
fn usual_step() -> f64 {
    0.01
}
fn usual_cut_uncertainty() -> f64 {
    0.03
}
fn usual_shim() -> f64 {
    0.3
}

/// One string. A missing reading is null: nothing comes off there.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutString {
    /// Across the saddle or nut, from string 1, mm; needed for a saddle and with a board's radius.
    #[serde(default)]
    pub position_mm: Option<f64>,
    /// Height over fret 12, mm; for a saddle.
    #[serde(default)]
    pub action_12_mm: Option<f64>,
    /// Gap over fret 1 stopped at 3, mm; for a nut.
    #[serde(default)]
    pub gap_at_1_stopped_at_3_mm: Option<f64>,
    /// Open height over fret 1, mm; for a nut.
    #[serde(default)]
    pub first_fret_mm: Option<f64>,
    /// Wished, of the same kind as the reading, mm.
    pub target_mm: f64,
    /// Standard uncertainty of the reading, mm.
    pub standard_uncertainty_mm: f64,
    /// Of the reading; null is large.
    #[serde(default)]
    pub degrees_of_freedom: Option<f64>,
    /// Where the nut's least is reached, mm: amounts are capped there.
    #[serde(default)]
    pub most_removal_mm: Option<f64>,
}

/// The two ends of a saddle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ends {
    /// At string 1, mm.
    pub treble: f64,
    /// At the last string, mm.
    pub bass: f64,
}

/// What `cut` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutOutput {
    /// String by string.
    pub strings: Vec<StringCut>,
    /// Straight cut at the saddle's foot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foot: Option<Foot>,
    /// The same from the first-pass amounts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foot_first_pass: Option<Foot>,
    /// Saddle above the bridge after the foot's cut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_showing_mm: Option<Ends>,
    /// Expanded uncertainty (95 %) of that, mm: of the foot's cut and of what shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_showing_expanded_mm: Option<Ends>,
    /// Strings to raise.
    pub raise: Vec<Raise>,
    /// Why not to cut.
    pub stops: Vec<Stop>,
    /// The top over a curved board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub top: Option<Top>,
}

/// The top's shape over a curved board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Top {
    /// Of the board under the top, mm.
    pub board_radius_mm: f64,
    /// On which strings of one height lie: the board's radius and the mean wished height, mm.
    pub top_radius_mm: f64,
    /// String by string.
    pub strings: Vec<TopString>,
    /// How far the board stands, half-way, over the straight line under an outer string, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_over_fanned_line_mm: Option<f64>,
}

/// How far one string stands over the straight line between the outer two.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TopString {
    /// On an arc of the top's radius, mm.
    pub ideal_over_chord_mm: f64,
    /// As read, mm; null where a reading is missing, or only the open height at a nut is known.
    pub present_over_chord_mm: Option<f64>,
    /// Once the exact amounts are off, mm; strings to raise stay as they are.
    pub after_cut_over_chord_mm: Option<f64>,
}

/// One string's amounts; null where its reading is missing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringCut {
    /// Removal at the saddle or nut, mm; minus is raise.
    pub exact_mm: Option<f64>,
    /// Standard uncertainty of the removal, mm.
    pub standard_uncertainty_mm: f64,
    /// Expanded uncertainty of the removal, mm: covers 95 %, Student's t of the reading's degrees of freedom
    /// as given; absent where the reading is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expanded_mm: Option<f64>,
    /// First pass, mm; 0 is: do not cut, measure again.
    pub first_pass_mm: f64,
    /// What remains after the foot's cut, to shape on top, mm; for a saddle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_top_mm: Option<f64>,
}

/// A straight cut, given at its ends.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Foot {
    /// At string 1, mm.
    pub treble_mm: f64,
    /// At the last string, mm.
    pub bass_mm: f64,
    /// Expanded uncertainty (95 %) of the exact cut at the treble end, mm: of the readings it rests on and of
    /// the cutting itself; absent of a first pass, which is chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treble_expanded_mm: Option<f64>,
    /// The same at the bass end, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bass_expanded_mm: Option<f64>,
}

/// One string to raise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Raise {
    /// From 1.
    pub string: usize,
    /// By how much at the saddle or nut, mm.
    pub mm: f64,
    /// Expanded uncertainty (95 %) of that, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expanded_mm: Option<f64>,
    /// Shims of the stated thickness.
    pub shims: usize,
}

/// A reason not to cut.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Stop {
    /// `saddle-spent` or `nut-beyond-shims`.
    pub key: String,
    /// In words.
    pub words: String,
}

/// Amounts to remove at a saddle or a nut. A string without a reading is never cut: its amount is null
/// and the foot's cut stays at 0 there.
///
/// # Errors
/// When a field is missing for the place, or a number is out of range.
pub fn cut(input: &CutInput) -> Result<CutOutput, Problems> {
    check(input)?;
    let strings: Vec<StringCut> = input.strings.iter().map(|string| amounts(input, string)).collect();
    let raise = raises(&strings, input.shim_mm);
    let top = top::top(input, &strings);
    let amounts = match (input.place, input.showing_mm.zip(input.least_showing_mm)) {
        (CutPlace::Saddle, Some((showing, least))) => saddle(input, strings, raise, showing, least),
        _ => nut(strings, raise),
    };
    Ok(CutOutput { top, ..amounts })
}

fn nut(strings: Vec<StringCut>, raise: Vec<Raise>) -> CutOutput {
    let stop = raise.iter().any(|raise| raise.shims > MOST_SHIMS).then(|| Stop {
        key: "nut-beyond-shims".to_owned(),
        words: format!("The nut would need more than {MOST_SHIMS} shims. A new nut is the honest repair."),
    });
    CutOutput {
        strings,
        foot: None,
        foot_first_pass: None,
        left_showing_mm: None,
        left_showing_expanded_mm: None,
        raise,
        stops: stop.into_iter().collect(),
        top: None,
    }
}

fn saddle(
    input: &CutInput,
    mut strings: Vec<StringCut>,
    raise: Vec<Raise>,
    showing: Ends,
    least_showing_mm: f64,
) -> CutOutput {
    let feet = Feet::of(input, &strings, showing, least_showing_mm);
    let Feet { positions, exact, full, first_pass } = &feet;
    for ((string, amount), position) in strings.iter_mut().zip(exact).zip(positions) {
        string.on_top_mm = Some((amount - full.line.at(*position)).max(0.0));
    }

    let (first, last) = feet.ends_mm();
    let chosen = Foot {
        treble_mm: first_pass.line.at(first),
        bass_mm: first_pass.line.at(last),
        treble_expanded_mm: None,
        bass_expanded_mm: None,
    };
    let (treble, bass) = (feet.end(input, first), feet.end(input, last));
    let foot = Foot {
        treble_mm: treble.mm,
        bass_mm: bass.mm,
        treble_expanded_mm: Some(treble.expanded_mm()),
        bass_expanded_mm: Some(bass.expanded_mm()),
    };
    let unsure = input.showing_expanded_mm.unwrap_or(Ends { treble: 0.0, bass: 0.0 });
    let stop = is_spent(positions, exact, showing, least_showing_mm).then(|| Stop {
        key: "saddle-spent".to_owned(),
        words: format!(
            "The cut would leave less than {least_showing_mm} mm of saddle above the bridge. Lowering further is \
             not a setup: offer the larger work."
        ),
    });
    CutOutput {
        strings,
        foot: Some(foot),
        foot_first_pass: Some(chosen),
        left_showing_mm: Some(Ends { treble: showing.treble - foot.treble_mm, bass: showing.bass - foot.bass_mm }),
        left_showing_expanded_mm: Some(Ends {
            treble: treble.expanded_mm().hypot(unsure.treble),
            bass: bass.expanded_mm().hypot(unsure.bass),
        }),
        raise,
        stops: stop.into_iter().collect(),
        top: None,
    }
}

/// The foot's two cuts, with what they rest on.
struct Feet {
    positions: Vec<f64>,
    exact: Vec<f64>,
    full: Fit,
    first_pass: Fit,
}

impl Feet {
    fn of(input: &CutInput, strings: &[StringCut], showing: Ends, least_showing_mm: f64) -> Self {
        let positions: Vec<f64> = input.strings.iter().map(|string| string.position_mm.unwrap_or(0.0)).collect();
        let exact: Vec<f64> = strings.iter().map(|string| string.exact_mm.unwrap_or(0.0).max(0.0)).collect();
        let first_pass: Vec<f64> = strings.iter().map(|string| string.first_pass_mm).collect();
        let can_lose = |showing_mm: f64| (showing_mm - least_showing_mm).max(0.0);
        let ends_can_lose = (can_lose(showing.treble), can_lose(showing.bass));
        Self {
            full: best_foot(&positions, &exact, ends_can_lose),
            first_pass: best_foot(&positions, &first_pass, ends_can_lose),
            positions,
            exact,
        }
    }

    fn ends_mm(&self) -> (f64, f64) {
        (self.positions.first().copied().unwrap_or(0.0), self.positions.last().copied().unwrap_or(0.0))
    }

    /// The cut at one end. Its uncertainty follows from the readings of the strings it rests on, and from
    /// the cutting itself where anything is cut (GUM 5.1.2, G.4.1).
    fn end(&self, input: &CutInput, position: f64) -> FootEnd {
        let shares = self.full.shares_at(position);
        let of = |limit: Option<Limit>, share: f64| {
            let Some(Limit { bound: Bound::String(place), amount, .. }) = limit else {
                return Contribution { standard_uncertainty: 0.0, degrees_of_freedom: None };
            };
            let string = input.strings.get(place).filter(|_| amount > 0.0);
            Contribution {
                standard_uncertainty: string
                    .map_or(0.0, |string| share * string.standard_uncertainty_mm * factor(input, string)),
                degrees_of_freedom: string.and_then(|string| string.degrees_of_freedom),
            }
        };
        let (first, last) = self.ends_mm();
        let is_cut = self.full.line.at(first) > SAME_MM || self.full.line.at(last) > SAME_MM;
        let cutting = if is_cut { input.cut_uncertainty_mm } else { 0.0 };
        let one = of(Some(self.full.rests_on), shares.0);
        let other = of(self.full.and_on, shares.1);
        let by_cutting = Contribution { standard_uncertainty: cutting, degrees_of_freedom: None };
        FootEnd {
            mm: self.full.line.at(position),
            one,
            other,
            by_cutting,
            combined: combine(&[one, other, by_cutting]),
        }
    }
}

/// The foot's cut at one end, and what makes it unsure.
struct FootEnd {
    mm: f64,
    one: Contribution,
    other: Contribution,
    by_cutting: Contribution,
    combined: Contribution,
}

impl FootEnd {
    fn coverage_factor(&self) -> f64 {
        coverage_factor(COVERAGE, self.combined.degrees_of_freedom)
    }

    fn expanded_mm(&self) -> f64 {
        self.coverage_factor() * self.combined.standard_uncertainty
    }
}

/// Whether some string's whole amount, foot and top together, leaves too little saddle under it. What
/// shows under a string lies on the straight line between the two ends; under a single string, at worst,
/// the lower end.
fn is_spent(positions: &[f64], amounts: &[f64], showing: Ends, least_showing_mm: f64) -> bool {
    let (Some(first), Some(last)) = (positions.first(), positions.last()) else {
        return false;
    };
    let span = last - first;
    let showing_at = |position: f64| {
        if span > SAME_MM {
            showing.treble + (showing.bass - showing.treble) * (position - first) / span
        } else {
            showing.treble.min(showing.bass)
        }
    };
    positions
        .iter()
        .zip(amounts)
        .any(|(position, amount)| *amount > SAME_MM && showing_at(*position) - amount < least_showing_mm - SAME_MM)
}

fn check(input: &CutInput) -> Result<(), Problems> {
    let mut problems = Problems::default();
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.within("/saddle_setback_mm", input.saddle_setback_mm, SIGNED_MM.0, SIGNED_MM.1);
    problems.require(
        input.scale_mm + input.saddle_setback_mm > input.scale_mm / 2.0,
        "/saddle_setback_mm",
        "must leave the string longer than to its 12th fret",
    );
    problems.within("/first_pass_risk", input.first_pass_risk, 0.0001, 0.5);
    problems.within("/step_mm", input.step_mm, 0.001, 1.0);
    problems.within("/cut_uncertainty_mm", input.cut_uncertainty_mm, 0.0, 1.0);
    problems.within("/shim_mm", input.shim_mm, 0.01, 5.0);
    problems.count("/strings", input.strings.len(), 1, MOST_STRINGS);
    for (place, string) in input.strings.iter().enumerate() {
        check_string(&mut problems, input.place, &format!("/strings/{place}"), string);
    }
    if input.place == CutPlace::Saddle {
        match input.showing_mm {
            None => problems.note("/showing_mm", "is needed for a saddle: {\"treble\", \"bass\"} in mm"),
            Some(showing) => {
                problems.within("/showing_mm/treble", showing.treble, HEIGHT_MM.0, HEIGHT_MM.1);
                problems.within("/showing_mm/bass", showing.bass, HEIGHT_MM.0, HEIGHT_MM.1);
            }
        }
        match input.least_showing_mm {
            None => problems.note("/least_showing_mm", "is needed for a saddle, in mm"),
            Some(least) => problems.within("/least_showing_mm", least, HEIGHT_MM.0, HEIGHT_MM.1),
        }
        if let Some(unsure) = input.showing_expanded_mm {
            problems.within("/showing_expanded_mm/treble", unsure.treble, 0.0, 10_000.0);
            problems.within("/showing_expanded_mm/bass", unsure.bass, 0.0, 10_000.0);
        }
    } else {
        problems.require(input.showing_mm.is_none(), "/showing_mm", "is for a saddle only");
        problems.require(input.showing_expanded_mm.is_none(), "/showing_expanded_mm", "is for a saddle only");
        problems.require(input.least_showing_mm.is_none(), "/least_showing_mm", "is for a saddle only");
    }
    let positions: Vec<f64> = input.strings.iter().filter_map(|string| string.position_mm).collect();
    if input.place == CutPlace::Saddle || input.board_radius_mm.is_some() {
        let rising = positions.windows(2).all(|pair| pair[1] > pair[0]);
        problems.require(rising, "/strings", "positions must grow from string 1 to the last");
    }
    check_board(&mut problems, input, &positions);
    problems.check()
}

fn check_board(problems: &mut Problems, input: &CutInput, positions: &[f64]) {
    problems.within_if_given("/spread_at_other_end_mm", input.spread_at_other_end_mm, 1.0, 500.0);
    let Some(board) = input.board_radius_mm else {
        let has_spread = input.spread_at_other_end_mm.is_some();
        problems.require(!has_spread, "/board_radius_mm", "is needed with spread_at_other_end_mm");
        return;
    };
    board.check(problems, "/board_radius_mm");
    problems.require(input.strings.len() > 1, "/strings", "must be two at least to have a line between the outer ones");
    for (place, string) in input.strings.iter().enumerate().filter(|_| input.place == CutPlace::Nut) {
        problems.require(
            string.position_mm.is_some(),
            format_args!("/strings/{place}/position_mm"),
            "is needed with the board's radius, in mm from string 1",
        );
    }
    let span = positions.first().zip(positions.last()).map_or(0.0, |(first, last)| last - first);
    let widest = span.max(input.spread_at_other_end_mm.unwrap_or(0.0));
    board.check_spread(problems, "/board_radius_mm", input.scale_mm + input.saddle_setback_mm, widest);
}

fn check_string(problems: &mut Problems, place: CutPlace, at: &str, string: &CutString) {
    let lengths = [
        ("target_mm", Some(string.target_mm)),
        ("action_12_mm", string.action_12_mm),
        ("gap_at_1_stopped_at_3_mm", string.gap_at_1_stopped_at_3_mm),
        ("first_fret_mm", string.first_fret_mm),
        ("most_removal_mm", string.most_removal_mm),
    ];
    let of_the_other_place = match place {
        CutPlace::Saddle => &lengths[2..],
        CutPlace::Nut => &lengths[1..2],
    };
    for (name, length) in lengths {
        problems.within_if_given(format_args!("{at}/{name}"), length, HEIGHT_MM.0, HEIGHT_MM.1);
    }
    for (name, _) in of_the_other_place.iter().filter(|(_, length)| length.is_some()) {
        let place = if place == CutPlace::Saddle { "nut" } else { "saddle" };
        problems.note(format_args!("{at}/{name}"), format_args!("is for a {place} only"));
    }
    let uncertainty = string.standard_uncertainty_mm;
    problems.within(format_args!("{at}/standard_uncertainty_mm"), uncertainty, 0.0, 10.0);
    problems.within_if_given(format_args!("{at}/degrees_of_freedom"), string.degrees_of_freedom, 1.0, 1e12);
    problems.within_if_given(format_args!("{at}/position_mm"), string.position_mm, -500.0, 500.0);
    problems.require(
        place == CutPlace::Nut || string.position_mm.is_some(),
        format_args!("{at}/position_mm"),
        "is needed for a saddle, in mm from string 1",
    );
    problems.require(
        string.gap_at_1_stopped_at_3_mm.is_none() || string.first_fret_mm.is_none(),
        format_args!("{at}/first_fret_mm"),
        "give either this or gap_at_1_stopped_at_3_mm: the target is of one kind",
    );
}

/// The reading a string is cut by.
fn value(input: &CutInput, string: &CutString) -> Option<f64> {
    match input.place {
        CutPlace::Saddle => string.action_12_mm,
        CutPlace::Nut => string.first_fret_mm.or(string.gap_at_1_stopped_at_3_mm),
    }
}

/// What a millimetre of the reading is at the saddle or nut.
fn factor(input: &CutInput, string: &CutString) -> f64 {
    let sounding = input.scale_mm + input.saddle_setback_mm;
    let position = |fret: usize| fret_position_mm(input.scale_mm, fret);
    match input.place {
        CutPlace::Saddle => 1.0 / felt_from_saddle(position(12), sounding),
        CutPlace::Nut if string.first_fret_mm.is_some() => 1.0 / felt_from_nut(position(1), sounding),
        CutPlace::Nut => 1.0 / (1.0 - position(1) / position(3)),
    }
}

/// Student's t that the amount overshoots by no more often than the stated risk.
fn guard_factor(input: &CutInput, string: &CutString) -> f64 {
    quantile(1.0 - input.first_pass_risk, string.degrees_of_freedom)
}

/// Student's t that covers the amount on both sides.
fn expanded_factor(string: &CutString) -> f64 {
    quantile(f64::midpoint(1.0, COVERAGE), string.degrees_of_freedom)
}

fn amounts(input: &CutInput, string: &CutString) -> StringCut {
    let (value, factor) = (value(input, string), factor(input, string));
    let uncertainty = (string.standard_uncertainty_mm * factor).hypot(input.cut_uncertainty_mm);
    let cap = string.most_removal_mm.unwrap_or(f64::INFINITY);
    let exact = value.map(|value| ((value - string.target_mm) * factor).min(cap));
    let guard = guard_factor(input, string) * uncertainty;
    let first_pass = exact.map_or(0.0, |exact| rounded_down(exact - guard, input.step_mm));
    let on_top_mm = (input.place == CutPlace::Saddle).then_some(0.0);
    StringCut {
        exact_mm: exact,
        standard_uncertainty_mm: uncertainty,
        expanded_mm: exact.map(|_| expanded_factor(string) * uncertainty),
        first_pass_mm: first_pass,
        on_top_mm,
    }
}

/// Down to the step, never below 0. An amount a hair under a step counts as the step.
pub(super) fn rounded_down(amount_mm: f64, step_mm: f64) -> f64 {
    if amount_mm <= 0.0 { 0.0 } else { (amount_mm / step_mm + SAME_MM).floor() * step_mm }
}

fn raises(strings: &[StringCut], shim_mm: f64) -> Vec<Raise> {
    let low = (1..)
        .zip(strings)
        .filter_map(|(string, cut)| Some((string, -cut.exact_mm.filter(|exact| *exact < -SAME_MM)?, cut.expanded_mm)));
    low.map(|(string, mm, expanded_mm)| Raise { string, mm, expanded_mm, shims: shims(mm, shim_mm) }).collect()
}

/// How many shims reach an amount.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a few ten thousand at most by the checked ranges"
)]
fn shims(amount_mm: f64, shim_mm: f64) -> usize {
    (amount_mm / shim_mm - SAME_MM).ceil().max(1.0) as usize
}
