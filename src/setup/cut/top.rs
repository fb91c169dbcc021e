//! The top of a nut or saddle over a curved board: its radius, and how far each string stands over the
//! straight line between the outer two.
//!
//! Heights are square to the board: strings of one height h over a board of radius R lie on the radius
//! R + h. So a string of height z at w from the middle stands at √((R + z)² − w²). What is even across the
//! strings (the nut's height in a 12th-fret reading, the frets') falls out of a height over the chord.

pub(super) mod working;

use super::amounts::factor;
use super::{CutInput, CutPlace, StringCut, Top, TopString};
use crate::setup::board::{BoardRadius, over_chord_mm, over_fanned_line_mm};

/// What a top is worked out from.
pub(super) struct Shape {
    /// Under the top, mm.
    pub(super) board_radius_mm: f64,
    /// Mean wished height, mm.
    pub(super) height_mm: f64,
    /// From the middle of the outer strings, mm.
    pub(super) from_middle: Vec<f64>,
    /// Heights over the board as read, mm.
    pub(super) present: Vec<Option<f64>>,
    /// The same once the exact amounts are off.
    pub(super) after: Vec<Option<f64>>,
}

impl Shape {
    /// `None` where the radius or a position is not given.
    pub(super) fn of(input: &CutInput, strings: &[StringCut]) -> Option<Self> {
        let board = input.board_radius_mm?;
        let positions: Option<Vec<f64>> = input.strings.iter().map(|string| string.position_mm).collect();
        let read = |string| height_mm(input, string, Which::Read);
        let present: Vec<Option<f64>> = input.strings.iter().map(read).collect();
        let wished: Vec<f64> =
            input.strings.iter().filter_map(|string| height_mm(input, string, Which::Wished)).collect();
        let count = f64::from(u32::try_from(wished.len()).unwrap_or(u32::MAX)).max(1.0);
        let after = present
            .iter()
            .zip(strings)
            .map(|(present, cut)| present.zip(cut.exact_mm).map(|(present, exact)| present - exact.max(0.0)));
        Some(Self {
            board_radius_mm: board_radius_mm(input, board),
            height_mm: wished.iter().sum::<f64>() / count,
            from_middle: from_middle(&positions?),
            after: after.collect(),
            present,
        })
    }

    /// Half the spread of the outer strings, mm.
    pub(super) fn outer_mm(&self) -> f64 {
        self.from_middle.last().copied().unwrap_or(0.0)
    }

    /// How high each string stands over the middle of the board's circle, mm.
    pub(super) fn standing(&self, heights: &[Option<f64>]) -> Vec<Option<f64>> {
        let one = |(w, height): (&f64, &Option<f64>)| {
            height.map(|height| ((self.board_radius_mm + height).powi(2) - w * w).sqrt())
        };
        self.from_middle.iter().zip(heights).map(one).collect()
    }

    /// Heights over the chord of the outer strings; null where a string, or an outer one, was not read.
    fn over_chord(&self, heights: &[Option<f64>]) -> Vec<Option<f64>> {
        let standing = self.standing(heights);
        let ends = standing.first().copied().flatten().zip(standing.last().copied().flatten());
        let (first, last) = (self.from_middle.first().copied().unwrap_or(0.0), self.outer_mm());
        let over = |(height, w): (&Option<f64>, &f64)| {
            let (first_height, last_height) = ends?;
            Some((*height)? - first_height - (last_height - first_height) * (w - first) / (last - first))
        };
        standing.iter().zip(&self.from_middle).map(over).collect()
    }
}

/// Radius and half the spread at the other end of the strings, mm.
pub(super) fn other_end_mm(input: &CutInput) -> Option<(f64, f64)> {
    let (board, spread) = input.board_radius_mm.zip(input.spread_at_other_end_mm)?;
    let radius = match input.place {
        CutPlace::Saddle => board.nut,
        CutPlace::Nut => board.at_mm(sounding_mm(input)),
    };
    Some((radius, spread / 2.0))
}

/// The top over a board.
pub(super) fn top(input: &CutInput, strings: &[StringCut]) -> Option<Top> {
    let shape = Shape::of(input, strings)?;
    let (radius, outer) = (shape.board_radius_mm, shape.outer_mm());
    let top_radius_mm = radius + shape.height_mm;
    let now = shape.over_chord(&shape.present);
    let then = shape.over_chord(&shape.after);
    let rows = shape.from_middle.iter().zip(now.into_iter().zip(then));
    Some(Top {
        board_radius_mm: radius,
        top_radius_mm,
        strings: rows
            .map(|(from_middle, (present, after_cut))| TopString {
                ideal_over_chord_mm: over_chord_mm(top_radius_mm, *from_middle, outer),
                present_over_chord_mm: present,
                after_cut_over_chord_mm: after_cut,
            })
            .collect(),
        board_over_fanned_line_mm: other_end_mm(input)
            .map(|(other, from_middle)| over_fanned_line_mm((other, radius), (from_middle, outer))),
    })
}

/// The board's radius under the top, mm.
pub(super) fn board_radius_mm(input: &CutInput, board: BoardRadius) -> f64 {
    match input.place {
        CutPlace::Saddle => board.at_mm(sounding_mm(input)),
        CutPlace::Nut => board.nut,
    }
}

pub(super) fn sounding_mm(input: &CutInput) -> f64 {
    input.scale_mm + input.saddle_setback_mm
}

/// Distances from the middle of the outer strings, mm.
fn from_middle(positions: &[f64]) -> Vec<f64> {
    let first = positions.first().copied().unwrap_or(0.0);
    let last = positions.last().copied().unwrap_or(0.0);
    positions.iter().map(|position| position - f64::midpoint(first, last)).collect()
}

#[derive(Clone, Copy)]
enum Which {
    Read,
    Wished,
}

/// Height of the string at the top over the board, mm. From an open height over fret 1 alone the nut's is
/// not known as read: the saddle's share in it differs from string to string.
fn height_mm(input: &CutInput, string: &super::CutString, which: Which) -> Option<f64> {
    // of the reading a millimetre at the top is so much; the open height is taken as it is
    let (reading, factor) = match input.place {
        CutPlace::Saddle => (string.action_12_mm, factor(input, string)),
        CutPlace::Nut if string.first_fret_mm.is_some() => (None, 1.0),
        CutPlace::Nut => (string.gap_at_1_stopped_at_3_mm, factor(input, string)),
    };
    match which {
        Which::Read => reading.map(|reading| reading * factor),
        Which::Wished => Some(string.target_mm * factor),
    }
}
