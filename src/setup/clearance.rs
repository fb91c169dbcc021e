//! `clearance`: how far each stopped string stands over the frets beyond, and how hard it can be
//! plucked before it touches.
//!
//! Plucked from rest an ideal string fills the parallelogram between its triangle and that triangle
//! turned about the middle (d'Alembert): the greatest excursion towards the frets is Y(s) for a pull
//! towards them, Y(ℓ − s) for a pull away. An upper bound: damping and a stroke mostly along the board
//! make it less.

mod working;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::frame::{Board, Frame};
use super::limits::{HEIGHT_MM, MOST_FRETS, MOST_STRINGS, RELIEF_MM, SCALE_MM, SIGNED_MM};
use crate::problem::Problems;

pub use working::explain;

/// Two clearances closer than this tie, and the lowest fret is named, mm.
const TIE_MM: f64 = 1e-9;

/// What `clearance` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClearanceInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// How many frets.
    pub frets: usize,
    /// Fret at the body joint.
    pub body_fret: usize,
    /// Relief, mm; minus is back-bow.
    #[schemars(range(min = RELIEF_MM.0, max = RELIEF_MM.1))]
    pub relief_mm: f64,
    /// How far the last fret lies below the line, mm.
    #[serde(default)]
    #[schemars(range(min = SIGNED_MM.0, max = SIGNED_MM.1))]
    pub fall_away_mm: f64,
    /// Frets that stand over their neighbours, by number, mm.
    #[serde(default)]
    pub high_frets_mm: BTreeMap<usize, f64>,
    /// The strings' heights.
    #[schemars(length(min = 1, max = MOST_STRINGS))]
    pub strings: Vec<StringHeights>,
    /// How the string is plucked.
    #[serde(default)]
    pub pluck: Option<Pluck>,
}

/// Heights of one open string.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StringHeights {
    /// Over fret 1, mm.
    pub first_fret_mm: f64,
    /// Over fret 12, mm.
    pub action_12_mm: f64,
}

/// A pluck, square to the board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pluck {
    /// Distance from the saddle as a fraction of the scale; it stays when the string is stopped.
    pub at_fraction_from_saddle: f64,
    /// How far the string is pulled, mm.
    pub amplitude_mm: f64,
    /// Which way.
    #[serde(default)]
    pub direction: Direction,
}

/// Which way a pluck pulls.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Not known: the worse counts.
    #[default]
    Either,
    /// Towards the frets.
    Towards,
    /// Away from them.
    Away,
}

/// What `clearance` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClearanceOutput {
    /// String by string.
    pub strings: Vec<StringClearance>,
}

/// One string.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringClearance {
    /// Height at the nut, mm.
    pub nut_mm: f64,
    /// Height at the saddle, mm.
    pub saddle_mm: f64,
    /// Stopped at each fret, the open string (0) first.
    pub stopped: Vec<StoppedClearance>,
}

/// One string stopped at one fret.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StoppedClearance {
    /// Where it is stopped; 0 is open.
    pub fret: usize,
    /// Gap over each fret beyond, mm.
    pub clearance_mm: Vec<f64>,
    /// What the pluck leaves of it, mm; absent without a pluck, null behind the stopping finger.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spare_mm: Option<Option<Vec<f64>>>,
    /// The largest pluck that touches nothing, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub largest_clean_pluck_mm: Option<Option<f64>>,
    /// The fret a larger one touches first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub touches_fret: Option<Option<usize>>,
}

/// Clearance of every string stopped at every fret.
///
/// # Errors
/// When a number is out of range.
pub fn clearance(input: &ClearanceInput) -> Result<ClearanceOutput, Problems> {
    check(input)?;
    let frame = Frame::new(input.scale_mm, input.frets, &board(input));
    let strings = input.strings.iter().map(|heights| {
        let line = frame.string(heights.first_fret_mm, heights.action_12_mm);
        let saddle_mm = line.height_mm(input.scale_mm);
        let stopped = (0..input.frets).map(|fret| {
            let gap = |over: usize| match fret {
                0 => line.height_mm(frame.position_mm(over)) - frame.top_mm(over),
                _ => frame.stopped_gap_mm(fret, over, saddle_mm),
            };
            stopped(&frame, fret, (fret + 1..=input.frets).map(gap).collect(), input.pluck.as_ref())
        });
        StringClearance { nut_mm: line.nut_mm, saddle_mm, stopped: stopped.collect() }
    });
    Ok(ClearanceOutput { strings: strings.collect() })
}

fn board(input: &ClearanceInput) -> Board<'_> {
    Board {
        body_fret: Some(input.body_fret),
        relief_mm: input.relief_mm,
        fall_away_mm: input.fall_away_mm,
        high_frets_mm: Some(&input.high_frets_mm),
    }
}

fn check(input: &ClearanceInput) -> Result<(), Problems> {
    let mut problems = Problems::default();
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.require((1..=MOST_FRETS).contains(&input.frets), "/frets", format_args!("must be from 1 to {MOST_FRETS}"));
    let body_most = input.frets.max(12);
    problems.require(
        (2..=body_most).contains(&input.body_fret),
        "/body_fret",
        format_args!("must be from 2 to {body_most}"),
    );
    problems.within("/relief_mm", input.relief_mm, RELIEF_MM.0, RELIEF_MM.1);
    problems.within("/fall_away_mm", input.fall_away_mm, SIGNED_MM.0, SIGNED_MM.1);
    for (fret, height) in &input.high_frets_mm {
        let at = format!("/high_frets_mm/{fret}");
        problems.require(
            (1..=input.frets).contains(fret),
            at.clone(),
            format_args!("must name a fret from 1 to {}", input.frets),
        );
        problems.within(at, *height, SIGNED_MM.0, SIGNED_MM.1);
    }
    problems.count("/strings", input.strings.len(), 1, MOST_STRINGS);
    for (place, string) in input.strings.iter().enumerate() {
        problems.within(format_args!("/strings/{place}/first_fret_mm"), string.first_fret_mm, HEIGHT_MM.0, HEIGHT_MM.1);
        problems.within(format_args!("/strings/{place}/action_12_mm"), string.action_12_mm, HEIGHT_MM.0, HEIGHT_MM.1);
    }
    if let Some(pluck) = &input.pluck {
        problems.within("/pluck/at_fraction_from_saddle", pluck.at_fraction_from_saddle, 0.001, 0.999);
        problems.within("/pluck/amplitude_mm", pluck.amplitude_mm, 0.0, HEIGHT_MM.1);
    }
    problems.check()
}

fn stopped(frame: &Frame, fret: usize, clearance_mm: Vec<f64>, pluck: Option<&Pluck>) -> StoppedClearance {
    let Some(pluck) = pluck else {
        return StoppedClearance {
            fret,
            clearance_mm,
            spare_mm: None,
            largest_clean_pluck_mm: None,
            touches_fret: None,
        };
    };
    let scale = frame.scale_mm();
    let sounding = scale - frame.position_mm(fret);
    let from_saddle = pluck.at_fraction_from_saddle * scale;
    if from_saddle >= sounding {
        let behind = (Some(None), Some(None), Some(None));
        let (spare_mm, largest_clean_pluck_mm, touches_fret) = behind;
        return StoppedClearance { fret, clearance_mm, spare_mm, largest_clean_pluck_mm, touches_fret };
    }
    let mut spare = Vec::with_capacity(clearance_mm.len());
    let mut largest: Option<(f64, usize)> = None;
    for (over, gap) in (fret + 1..).zip(&clearance_mm) {
        let excursion = excursion_of_one(scale - frame.position_mm(over), sounding, from_saddle, pluck.direction);
        spare.push(gap - pluck.amplitude_mm * excursion);
        let clean = gap / excursion;
        if largest.is_none_or(|(least, _)| clean < least - TIE_MM) {
            largest = Some((clean, over));
        }
    }
    StoppedClearance {
        fret,
        spare_mm: Some(Some(spare)),
        largest_clean_pluck_mm: Some(largest.map(|(clean, _)| clean.max(0.0))),
        touches_fret: Some(largest.map(|(_, over)| over)),
        clearance_mm,
    }
}

/// Greatest excursion towards the frets at `s` from the saddle, for a pluck of 1 at `d` on a length `sounding`.
fn excursion_of_one(s: f64, sounding: f64, d: f64, direction: Direction) -> f64 {
    let triangle = |s: f64| {
        if s <= d { s / d } else { (sounding - s) / (sounding - d) }
    };
    match direction {
        Direction::Towards => triangle(s),
        Direction::Away => triangle(sounding - s),
        Direction::Either => triangle(s).max(triangle(sounding - s)),
    }
}
