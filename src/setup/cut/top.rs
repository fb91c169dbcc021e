//! The top of a nut or saddle over a curved board: its radius, and how far each string stands over the
//! straight line between the outer two.
//!
//! Heights are square to the board: strings of one height h over a board of radius R lie on the radius
//! R + h. So a string of height z at w from the middle stands at √((R + z)² − w²). What is even across the
//! strings (the nut's height in a 12th-fret reading, the frets') falls out of a height over the chord.

use super::{CutInput, CutPlace, StringCut, Top, TopString};
use crate::setup::board::{BoardRadius, over_chord_mm, over_fanned_line_mm};
use crate::setup::frame::{felt_from_saddle, fret_position_mm};

/// The top over a board; `None` where the radius or a position is not given.
pub(super) fn top(input: &CutInput, strings: &[StringCut]) -> Option<Top> {
    let board = input.board_radius_mm?;
    let positions: Option<Vec<f64>> = input.strings.iter().map(|string| string.position_mm).collect();
    let middled = from_middle(&positions?);
    let outer = middled.last().copied()?;
    let radius = board_radius_mm(input, board);

    let present: Vec<Option<f64>> = input.strings.iter().map(|string| height_mm(input, string, Which::Read)).collect();
    let wished: Vec<f64> = input.strings.iter().filter_map(|string| height_mm(input, string, Which::Wished)).collect();
    let height = wished.iter().sum::<f64>() / f64::from(u32::try_from(wished.len()).unwrap_or(u32::MAX)).max(1.0);
    let top_radius_mm = radius + height;
    let after: Vec<Option<f64>> = present
        .iter()
        .zip(strings)
        .map(|(present, cut)| present.zip(cut.exact_mm).map(|(present, exact)| present - exact.max(0.0)))
        .collect();
    let now = over_chord(radius, &middled, &present);
    let then = over_chord(radius, &middled, &after);
    let rows = middled.iter().zip(now.into_iter().zip(then));
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
        board_over_fanned_line_mm: input.spread_at_other_end_mm.map(|spread| {
            let other = match input.place {
                CutPlace::Saddle => board.nut,
                CutPlace::Nut => board.at_mm(sounding_mm(input)),
            };
            over_fanned_line_mm((other, radius), (spread / 2.0, outer))
        }),
    })
}

/// The board's radius under the top, mm.
pub(super) fn board_radius_mm(input: &CutInput, board: BoardRadius) -> f64 {
    match input.place {
        CutPlace::Saddle => board.at_mm(sounding_mm(input)),
        CutPlace::Nut => board.nut,
    }
}

fn sounding_mm(input: &CutInput) -> f64 {
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
    let (reading, felt) = match input.place {
        CutPlace::Saddle => {
            (string.action_12_mm, felt_from_saddle(fret_position_mm(input.scale_mm, 12), sounding_mm(input)))
        }
        CutPlace::Nut if string.first_fret_mm.is_some() => (None, 1.0),
        CutPlace::Nut => {
            let share = fret_position_mm(input.scale_mm, 1) / fret_position_mm(input.scale_mm, 3);
            (string.gap_at_1_stopped_at_3_mm, 1.0 - share)
        }
    };
    match which {
        Which::Read => reading.map(|reading| reading / felt),
        Which::Wished => Some(string.target_mm / felt),
    }
}

/// Heights over the chord of the outer strings; null where a string, or an outer one, was not read.
fn over_chord(radius_mm: f64, from_middle: &[f64], heights: &[Option<f64>]) -> Vec<Option<f64>> {
    let standing: Vec<Option<f64>> = from_middle
        .iter()
        .zip(heights)
        .map(|(w, height)| height.map(|height| ((radius_mm + height).powi(2) - w * w).sqrt()))
        .collect();
    let ends = standing.first().copied().flatten().zip(standing.last().copied().flatten());
    let span = from_middle.last().zip(from_middle.first()).map_or(0.0, |(last, first)| last - first);
    let first = from_middle.first().copied().unwrap_or(0.0);
    standing
        .iter()
        .zip(from_middle)
        .map(|(height, w)| {
            let (first_height, last_height) = ends?;
            Some((*height)? - first_height - (last_height - first_height) * (w - first) / span)
        })
        .collect()
}
