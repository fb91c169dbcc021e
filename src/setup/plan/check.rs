//! What an input of `plan` may hold: each fault at its place, all at once.

use std::fmt::Arguments;

use super::input::{PlanInput, PlanInstrument, PlanString, RodPair};
use super::observation::ObservationKey;
use crate::problem::Problems;
use crate::setup::frame::fret_position_mm;
use crate::setup::limits::{DIAMETER_MM, HEIGHT_MM, LATEST_START, MOST_FRETS, MOST_STRINGS, SCALE_MM, SIGNED_MM};
use crate::setup::reading::check_repeatability;
use crate::setup::tension::{PITCH_FORM, pitch_hz};

/// Only to see whether a note name can be read, Hz.
const USUAL_A4_HZ: f64 = 440.0;
/// Height of one full turn, mm: from the finest screw to the coarsest wheel.
const SCREW_PITCH_MM: (f64, f64) = (0.1, 5.0);
/// Further from half the scale no saddle stands, mm.
const FARTHEST_SETBACK_MM: f64 = 20.0;

/// Pairs of one shop, at most.
const MOST_PAIRS: usize = 100;

pub(super) fn check(problems: &mut Problems, input: &PlanInput) {
    let instrument = &input.instrument;
    problems.within("/instrument/scale_mm", instrument.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.require(
        (1..=MOST_FRETS).contains(&instrument.frets),
        "/instrument/frets",
        format_args!("must be from 1 to {MOST_FRETS}"),
    );
    let most = instrument.frets.max(12);
    problems.require(
        (3..=most).contains(&instrument.body_fret),
        "/instrument/body_fret",
        format_args!("must be from 3 to {most}"),
    );
    let setback = instrument.saddle_setback_mm;
    problems.within("/instrument/saddle_setback_mm", setback, -FARTHEST_SETBACK_MM, FARTHEST_SETBACK_MM);
    problems.count("/instrument/strings", instrument.strings.len(), 1, MOST_STRINGS);
    check_across(problems, instrument);
    check_built(problems, instrument);
    for (place, string) in instrument.strings.iter().enumerate() {
        check_string(problems, &format!("/instrument/strings/{place}"), string);
    }
    let read = input.readings.strings.len();
    problems.require(
        read == 0 || read == instrument.strings.len(),
        "/readings/strings",
        format_args!("must have as many entries as the instrument has strings ({}), or none", instrument.strings.len()),
    );
    let tool = &input.tool;
    problems.within("/tool/resolution_mm", tool.resolution_mm, 0.0, 5.0);
    problems.within("/tool/limit_mm", tool.limit_mm, 0.0, 5.0);
    check_repeatability(problems, "/tool", tool.repeatability_mm, tool.repeatability_degrees_of_freedom);
    if let Some(air) = &input.air {
        problems.within("/air/temperature_c", air.temperature_c, -40.0, 60.0);
        problems.within("/air/rh_percent", air.rh_percent, 0.0, 100.0);
    }
    check_readings(problems, input);
    check_rod_pairs(problems, &input.rod_pairs);
    check_observations(problems, input);
}

/// What lies across the strings: their places, their courses, the board's radius.
fn check_across(problems: &mut Problems, instrument: &PlanInstrument) {
    let given: Vec<f64> = instrument.strings.iter().filter_map(|string| string.position_mm).collect();
    problems.require(
        given.windows(2).all(|pair| pair[1] > pair[0]),
        "/instrument/strings",
        "positions must grow from string 1 to the last",
    );
    let courses: Vec<usize> = instrument.strings.iter().filter_map(|string| string.course).collect();
    if !courses.is_empty() {
        let in_order = courses.first() == Some(&1) && courses.windows(2).all(|pair| pair[1].wrapping_sub(pair[0]) <= 1);
        problems.require(
            in_order && courses.len() == instrument.strings.len(),
            "/instrument/strings",
            "courses must be given of every string or of none, and count up from 1",
        );
    }
    if let Some(board) = instrument.board_radius_mm {
        board.check(problems, "/instrument/board_radius_mm");
        let widest = given.first().zip(given.last()).map_or(0.0, |(first, last)| last - first);
        let longest = instrument.scale_mm.max(instrument.scale_bass_mm.unwrap_or(0.0));
        board.check_spread(problems, "/instrument/board_radius_mm", longest + instrument.saddle_setback_mm, widest);
    }
}

/// Bridge, neck and fan.
fn check_built(problems: &mut Problems, instrument: &PlanInstrument) {
    problems.within_if_given("/instrument/scale_bass_mm", instrument.scale_bass_mm, SCALE_MM.0, SCALE_MM.1);
    problems.require(
        instrument.scale_bass_mm.is_none() || instrument.strings.len() > 1,
        "/instrument/scale_bass_mm",
        "needs two strings at least",
    );
    let pitch = instrument.screw_pitch_mm;
    problems.within_if_given("/instrument/screw_pitch_mm", pitch, SCREW_PITCH_MM.0, SCREW_PITCH_MM.1);
    if let Some(posts) = instrument.post_positions_mm {
        problems.within("/instrument/post_positions_mm/treble", posts.treble, -500.0, 500.0);
        problems.within("/instrument/post_positions_mm/bass", posts.bass, -500.0, 500.0);
        problems.require(
            posts.treble < posts.bass,
            "/instrument/post_positions_mm",
            "must have the treble post before the bass post, in mm across from string 1",
        );
    }
    if let Some(pocket) = instrument.neck_pocket_mm {
        let saddle = instrument.scale_mm + instrument.saddle_setback_mm;
        pocket.check(problems, "/instrument/neck_pocket_mm", saddle);
    }
}

/// Material and mass may stay unknown; what is said must be possible.
fn check_string(problems: &mut Problems, at: &str, string: &PlanString) {
    let readable = string.pitch.as_deref().is_none_or(|pitch| pitch_hz(pitch, USUAL_A4_HZ).is_some());
    problems.require(readable, format_args!("{at}/pitch"), PITCH_FORM);
    for (name, value, least, most) in [
        ("position_mm", string.position_mm, SIGNED_MM.0 * 10.0, SIGNED_MM.1 * 10.0),
        ("diameter_mm", string.diameter_mm, 0.0, DIAMETER_MM.1),
        ("core_diameter_mm", string.core_diameter_mm, 0.0, DIAMETER_MM.1),
        ("linear_density_g_m", string.linear_density_g_m, 0.0, 1000.0),
        ("modulus_gpa", string.modulus_gpa, 0.0, 1000.0),
        ("stretch_ratio", string.stretch_ratio, 0.0, 100_000.0),
    ] {
        problems.within_if_given(format_args!("{at}/{name}"), value, least, most);
    }
    problems.require(
        string.starts_at_fret.is_none_or(|start| start <= LATEST_START),
        format_args!("{at}/starts_at_fret"),
        format_args!("must be from 0 to {LATEST_START}"),
    );
}

fn check_readings(problems: &mut Problems, input: &PlanInput) {
    let mut values = |at: Arguments<'_>, values: &[f64], least: f64, most: f64| {
        for (place, value) in values.iter().enumerate() {
            problems.within(format_args!("{at}/{place}"), *value, least, most);
        }
    };
    let readings = &input.readings;
    values(format_args!("/readings/relief_mm"), &readings.relief_mm, SIGNED_MM.0, SIGNED_MM.1);
    let showing = &readings.saddle_showing_mm;
    values(format_args!("/readings/saddle_showing_mm/treble"), &showing.treble, 0.0, HEIGHT_MM.1);
    values(format_args!("/readings/saddle_showing_mm/bass"), &showing.bass, 0.0, HEIGHT_MM.1);
    for (place, string) in readings.strings.iter().enumerate() {
        let mut of_string = |name: &str, read: &[f64], least: f64, most: f64| {
            values(format_args!("/readings/strings/{place}/{name}"), read, least, most);
        };
        of_string("action_12_mm", &string.action_12_mm, 0.0, HEIGHT_MM.1);
        of_string("first_fret_mm", &string.first_fret_mm, 0.0, HEIGHT_MM.1);
        of_string("gap_at_1_stopped_at_3_mm", &string.gap_at_1_stopped_at_3_mm, 0.0, HEIGHT_MM.1);
        of_string("cents_at_12", &string.cents_at_12, -200.0, 200.0);
    }
    for (place, string) in readings.strings.iter().enumerate() {
        let half = scales(&input.instrument).nth(place).map_or(0.0, half_mm);
        let is_near = |read: &f64| (read - half).abs() <= FARTHEST_SETBACK_MM;
        for (repeat, _) in string.from_12_to_saddle_mm.iter().enumerate().filter(|(_, read)| !is_near(read)) {
            problems.note(
                format_args!("/readings/strings/{place}/from_12_to_saddle_mm/{repeat}"),
                format_args!("must lie within {FARTHEST_SETBACK_MM} mm of half the string's scale"),
            );
        }
    }
}

/// From fret 12 to the nominal end of a scale, mm; 0 where the scale itself is a fault.
fn half_mm(scale_mm: f64) -> f64 {
    if (SCALE_MM.0..=SCALE_MM.1).contains(&scale_mm) { scale_mm - fret_position_mm(scale_mm, 12) } else { 0.0 }
}

/// The scale of every string, mm: of a fanned board from string 1 to the last straight across.
pub(super) fn scales(instrument: &PlanInstrument) -> impl Iterator<Item = f64> {
    let positions = positions(instrument);
    let (first, last) = (positions.first().copied().unwrap_or(0.0), positions.last().copied().unwrap_or(0.0));
    let (scale, bass) = (instrument.scale_mm, instrument.scale_bass_mm);
    positions.into_iter().map(move |position| match bass {
        Some(bass) if last > first => scale + (bass - scale) * (position - first) / (last - first),
        _ => scale,
    })
}

/// Positions across the bridge, mm: as measured where every string was, else strings are taken as 10 mm apart and
/// those of one course as 2.5.
pub(super) fn positions(instrument: &PlanInstrument) -> Vec<f64> {
    const USUAL_SPACING_MM: f64 = 10.0;
    const WITHIN_A_COURSE_MM: f64 = 2.5;
    let stated: Option<Vec<f64>> = instrument.strings.iter().map(|string| string.position_mm).collect();
    if let Some(stated) = stated {
        return stated;
    }
    let mut at = 0.0;
    let mut before = None;
    let each = instrument.strings.iter().map(|string| {
        if let Some(before) = before {
            let is_same = string.course.is_some() && string.course == before;
            at += if is_same { WITHIN_A_COURSE_MM } else { USUAL_SPACING_MM };
        }
        before = Some(string.course);
        at
    });
    each.collect()
}

fn check_observations(problems: &mut Problems, input: &PlanInput) {
    let instrument = &input.instrument;
    problems.count("/observations", input.observations.len(), 0, 500);
    for (place, seen) in input.observations.iter().enumerate() {
        let at = format!("/observations/{place}");
        if let Some(string) = seen.string {
            let strings = instrument.strings.len();
            problems.require(
                (1..=strings).contains(&string),
                format_args!("{at}/string"),
                format_args!("must be from 1 to {strings}"),
            );
        }
        let on = seen.string.and_then(|string| instrument.strings.get(string.checked_sub(1)?));
        let start = on.and_then(|string| string.starts_at_fret).unwrap_or(0);
        if let Some(fret) = seen.fret {
            let at = format_args!("{at}/fret");
            let is_on_board = fret <= instrument.frets;
            problems.require(is_on_board, at, format_args!("must be from 0 to {}", instrument.frets));
            problems.require(
                fret == 0 || fret > start,
                at,
                format_args!("must be 0 or beyond fret {start}, where the string begins"),
            );
        }
        if matches!(seen.key, ObservationKey::Buzz | ObservationKey::Choke) {
            problems.require(seen.fret.is_some(), format_args!("{at}/fret"), "is needed: 0 is the open string");
        }
    }
}

fn check_rod_pairs(problems: &mut Problems, pairs: &[RodPair]) {
    problems.count("/rod_pairs", pairs.len(), 0, MOST_PAIRS);
    for (place, pair) in pairs.iter().enumerate() {
        for (name, value, (least, most)) in [
            ("relief_before_mm", pair.relief_before_mm, SIGNED_MM),
            ("relief_after_mm", pair.relief_after_mm, SIGNED_MM),
            ("action_12_before_mm", pair.action_12_before_mm, HEIGHT_MM),
            ("action_12_after_mm", pair.action_12_after_mm, HEIGHT_MM),
        ] {
            problems.within(format_args!("/rod_pairs/{place}/{name}"), value, least, most);
        }
    }
}
