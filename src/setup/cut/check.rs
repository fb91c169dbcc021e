//! What an input of `cut` may hold: each fault at its place.

use super::{CutInput, CutOutput, CutPlace, CutString, Ends};
use crate::problem::Problems;
use crate::setup::frame::fret_position_mm;
use crate::setup::limits::{HEIGHT_MM, LATEST_START, MOST_STRINGS, SCALE_MM, SIGNED_MM};

pub(super) fn check(input: &CutInput) -> Result<(), Problems> {
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
        let at = format!("/strings/{place}");
        check_string(&mut problems, input.place, &at, string);
        check_run(&mut problems, &at, input, string);
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

/// A string of its own must reach beyond its 12th fret too.
fn check_run(problems: &mut Problems, at: &str, input: &CutInput, string: &CutString) {
    problems.within_if_given(format_args!("{at}/scale_mm"), string.scale_mm, SCALE_MM.0, SCALE_MM.1);
    let setback = string.saddle_setback_mm;
    problems.within_if_given(format_args!("{at}/saddle_setback_mm"), setback, SIGNED_MM.0, SIGNED_MM.1);
    let start = string.starts_at_fret.unwrap_or(0);
    problems.require(
        start <= LATEST_START,
        format_args!("{at}/starts_at_fret"),
        format_args!("must be from 0 to {LATEST_START}"),
    );
    let scale = string.scale_mm.unwrap_or(input.scale_mm);
    let sounding = scale + setback.unwrap_or(input.saddle_setback_mm);
    let is_own = string.scale_mm.is_some() || setback.is_some();
    problems.require(
        !is_own || sounding > fret_position_mm(scale, 12),
        format_args!("{at}/saddle_setback_mm"),
        "must leave the string longer than to its 12th fret",
    );
}

/// No saddle reaches further into its slot than that, mm. Common practice, no source.
const DEEPEST_SLOT_MM: f64 = 10.0;

/// More than the whole saddle is no cut: a reading or a target was mistyped.
pub(super) fn stays_in_the_material(input: &CutInput, worked: &CutOutput) -> Result<(), Problems> {
    let mut problems = Problems::default();
    if let Some(left) = worked.left_showing_mm.filter(|left| left.treble.min(left.bass) < -DEEPEST_SLOT_MM) {
        let showing = input.showing_mm.unwrap_or(Ends { treble: 0.0, bass: 0.0 });
        let (end, shows, off) = if left.treble <= left.bass {
            ("treble", showing.treble, showing.treble - left.treble)
        } else {
            ("bass", showing.bass, showing.bass - left.bass)
        };
        problems.note(
            format_args!("/showing_mm/{end}"),
            format_args!("is {shows:.2} mm and {off:.1} mm would come off: beyond the material; look at heights and targets again"),
        );
    }
    problems.check()
}
