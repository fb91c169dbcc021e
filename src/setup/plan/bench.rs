//! What lies on the bench: readings with their uncertainty, the targets of this family and style, the frame.

use std::fmt::Arguments;

use super::own_rods;
use super::targets::{HouseTargets, Targets};
use super::types::{ObservationKey, PlanInput, PlanObservation, PlanString};
use crate::problem::Problems;
use crate::setup::board::BoardRadius;
use crate::setup::frame::{Board, Frame, fret_position_mm};
use crate::setup::limits::{DIAMETER_MM, HEIGHT_MM, MOST_FRETS, MOST_STRINGS, SCALE_MM, SIGNED_MM};
use crate::setup::reading::{ReadingInput, Reported, reading, supported};
use crate::setup::tension::{PITCH_FORM, pitch_hz};

/// Smallest step of a tuner's display, cents.
pub(super) const CENTS_STEP: f64 = 0.1;
/// From here on Student's t is the normal; nearly equal repeats reach beyond any bound.
const LARGE_FREEDOM: f64 = 1e9;
/// Only to see whether a note name can be read, Hz.
const USUAL_A4_HZ: f64 = 440.0;

/// What `reading` is asked of some repeats.
pub(super) fn asked(values: &[f64], resolution_mm: f64, tool_limit_mm: f64) -> ReadingInput {
    ReadingInput::usual(values.to_vec(), resolution_mm, tool_limit_mm)
}

/// One reading with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Read {
    pub(super) value: f64,
    pub(super) uncertainty: f64,
    pub(super) expanded: f64,
    pub(super) freedom: Option<f64>,
    /// How often it was read.
    pub(super) repeats: usize,
}

/// A reading that stays undecided over so many repeats is let stand: more of them would tell no more. Chosen here.
const ENOUGH_REPEATS: usize = 3;

impl Read {
    /// Whether reading it again may still decide what it leaves open.
    pub(super) fn may_be_repeated(&self) -> bool {
        self.repeats < ENOUGH_REPEATS
    }

    /// "2.71 ± 0.03", to the decimal that the uncertainty supports.
    pub(super) fn said(&self) -> Reported {
        supported(self.value, self.expanded)
    }
}

/// The readings of one string.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct StringRead {
    pub(super) action: Option<Read>,
    pub(super) first: Option<Read>,
    pub(super) gap: Option<Read>,
    pub(super) cents: Option<Read>,
}

/// Everything a look at the bench can use.
#[derive(Debug)]
pub(super) struct Bench<'a> {
    pub(super) input: &'a PlanInput,
    pub(super) house: &'a HouseTargets,
    pub(super) targets: Targets,
    /// Nothing is cut at this bridge: it has screws or wheels.
    pub(super) saddle_turns: bool,
    pub(super) frame: Frame,
    pub(super) strings: Vec<StringRead>,
    pub(super) relief: Option<Read>,
    /// Treble and bass.
    pub(super) showing: Option<(Read, Read)>,
}

impl<'a> Bench<'a> {
    pub(super) fn read(input: &'a PlanInput, house: &'a HouseTargets) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        check(&mut problems, input);
        let found = house.of(input.instrument.family, input.style);
        let targets =
            found.map(|(targets, turns)| (input.targets.map_or(targets, |given| targets.with(&given)), turns));
        if let Some((targets, _)) = &targets {
            targets.check(&mut problems, "/targets");
        }
        problems.check()?;
        let Some((targets, saddle_turns)) = targets else {
            problems.note("/instrument/family", "has no targets in this house");
            return Err(problems);
        };

        let tool = input.tool;
        let mut of = |at: Arguments<'_>, values: &[f64], resolution_mm: f64, tool_limit_mm: f64| {
            if values.is_empty() {
                return None;
            }
            match reading(&asked(values, resolution_mm, tool_limit_mm)) {
                Ok(found) => Some(Read {
                    value: found.mean_mm,
                    uncertainty: found.standard_uncertainty_mm,
                    expanded: found.expanded_mm,
                    freedom: found
                        .degrees_of_freedom
                        .filter(|freedom| *freedom < LARGE_FREEDOM)
                        .map(|freedom| freedom.max(1.0)),
                    repeats: values.len(),
                }),
                Err(faults) => {
                    for fault in faults.0 {
                        problems.note(fault.pointer.replace("/values_mm", &at.to_string()), fault.detail);
                    }
                    None
                }
            }
        };
        let mut length = |at: Arguments<'_>, values: &[f64]| of(at, values, tool.resolution_mm, tool.limit_mm);
        let relief = length(format_args!("/readings/relief_mm"), &input.readings.relief_mm);
        let treble =
            length(format_args!("/readings/saddle_showing_mm/treble"), &input.readings.saddle_showing_mm.treble);
        let bass = length(format_args!("/readings/saddle_showing_mm/bass"), &input.readings.saddle_showing_mm.bass);
        let mut strings = Vec::with_capacity(input.instrument.strings.len());
        for place in 0..input.instrument.strings.len() {
            let Some(string) = input.readings.strings.get(place) else {
                strings.push(StringRead::default());
                continue;
            };
            let mut of_string =
                |name: &str, values: &[f64]| length(format_args!("/readings/strings/{place}/{name}"), values);
            strings.push(StringRead {
                action: of_string("action_12_mm", &string.action_12_mm),
                first: of_string("first_fret_mm", &string.first_fret_mm),
                gap: of_string("gap_at_1_stopped_at_3_mm", &string.gap_at_1_stopped_at_3_mm),
                cents: None,
            });
        }
        for (place, string) in strings.iter_mut().enumerate() {
            let cents =
                input.readings.strings.get(place).map(|string| string.cents_at_12.as_slice()).unwrap_or_default();
            string.cents = of(format_args!("/readings/strings/{place}/cents_at_12"), cents, CENTS_STEP, 0.0);
        }
        problems.check()?;
        let board = Board {
            body_fret: Some(input.instrument.body_fret),
            relief_mm: relief.map_or(0.0, |relief| relief.value),
            ..Board::default()
        };
        Ok(Self {
            input,
            house,
            targets,
            saddle_turns,
            frame: Frame::new(input.instrument.scale_mm, input.instrument.frets, &board),
            strings,
            relief,
            showing: treble.zip(bass),
        })
    }

    /// Observations of one kind.
    pub(super) fn seen(&self, key: ObservationKey) -> impl Iterator<Item = &PlanObservation> {
        self.input.observations.iter().filter(move |seen| seen.key == key)
    }

    /// Whether something was seen.
    pub(super) fn has(&self, key: ObservationKey) -> bool {
        self.seen(key).next().is_some()
    }

    /// The strings an observation names, from 1, each once.
    pub(super) fn strings_seen(&self, key: ObservationKey) -> Vec<usize> {
        let mut strings: Vec<usize> = self.seen(key).filter_map(|seen| seen.string).collect();
        strings.sort_unstable();
        strings.dedup();
        strings
    }

    /// From string 1 (0) to the last (1).
    pub(super) fn share(&self, place: usize) -> f64 {
        let gaps = self.strings.len().saturating_sub(1);
        if gaps == 0 { 0.0 } else { as_number(place) / as_number(gaps) }
    }

    fn between(&self, place: usize, treble: f64, bass: f64) -> f64 {
        treble + (bass - treble) * self.share(place)
    }

    /// Wished height over fret 12, mm.
    pub(super) fn action_target(&self, place: usize) -> f64 {
        self.between(place, self.targets.action_12_treble_mm, self.targets.action_12_bass_mm)
    }

    /// Wished open height over fret 1, mm.
    pub(super) fn first_target(&self, place: usize) -> f64 {
        self.between(place, self.targets.first_fret_treble_mm, self.targets.first_fret_bass_mm)
    }

    /// Position across the saddle, mm: as stated, else strings are taken as 10 mm apart.
    pub(super) fn position_mm(&self, place: usize) -> f64 {
        const USUAL_SPACING_MM: f64 = 10.0;
        let stated: Option<Vec<f64>> = self.input.instrument.strings.iter().map(|string| string.position_mm).collect();
        match stated.as_deref().and_then(|stated| stated.get(place)) {
            Some(position) => *position,
            None => as_number(place) * USUAL_SPACING_MM,
        }
    }

    /// The board's radius, where the strings were measured across it: a shape over a spacing that nobody
    /// measured would be filed and wrong.
    pub(super) fn board_radius_mm(&self) -> Option<BoardRadius> {
        let instrument = &self.input.instrument;
        let measured =
            instrument.strings.len() > 1 && instrument.strings.iter().all(|string| string.position_mm.is_some());
        instrument.board_radius_mm.filter(|_| measured)
    }

    /// Sounding length to the saddle, mm.
    pub(super) fn sounding_mm(&self) -> f64 {
        self.input.instrument.scale_mm + self.input.instrument.saddle_setback_mm
    }

    /// How much a saddle's change is multiplied from the 12th fret back to the saddle.
    pub(super) fn saddle_factor(&self) -> f64 {
        self.sounding_mm() / fret_position_mm(self.input.instrument.scale_mm, 12)
    }
}

fn check(problems: &mut Problems, input: &PlanInput) {
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
    problems.within("/instrument/saddle_setback_mm", instrument.saddle_setback_mm, -20.0, 20.0);
    problems.count("/instrument/strings", instrument.strings.len(), 1, MOST_STRINGS);
    let given: Vec<f64> = instrument.strings.iter().filter_map(|string| string.position_mm).collect();
    problems.require(
        given.windows(2).all(|pair| pair[1] > pair[0]),
        "/instrument/strings",
        "positions must grow from string 1 to the last",
    );
    if let Some(board) = instrument.board_radius_mm {
        board.check(problems, "/instrument/board_radius_mm");
        let widest = given.first().zip(given.last()).map_or(0.0, |(first, last)| last - first);
        let far = instrument.scale_mm + instrument.saddle_setback_mm;
        board.check_spread(problems, "/instrument/board_radius_mm", far, widest);
    }
    for (place, string) in instrument.strings.iter().enumerate() {
        check_string(problems, &format!("/instrument/strings/{place}"), string);
    }
    let read = input.readings.strings.len();
    problems.require(
        read == 0 || read == instrument.strings.len(),
        "/readings/strings",
        format_args!("must have as many entries as the instrument has strings ({}), or none", instrument.strings.len()),
    );
    problems.within("/tool/resolution_mm", input.tool.resolution_mm, 0.0, 5.0);
    problems.within("/tool/limit_mm", input.tool.limit_mm, 0.0, 5.0);
    if let Some(air) = &input.air {
        problems.within("/air/temperature_c", air.temperature_c, -40.0, 60.0);
        problems.within("/air/rh_percent", air.rh_percent, 0.0, 100.0);
    }
    check_heights(problems, input);
    own_rods::check(problems, &input.rod_pairs);
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
        if let Some(fret) = seen.fret {
            problems.require(
                fret <= instrument.frets,
                format_args!("{at}/fret"),
                format_args!("must be from 0 to {}", instrument.frets),
            );
        }
        if matches!(seen.key, ObservationKey::Buzz | ObservationKey::Choke) {
            problems.require(seen.fret.is_some(), format_args!("{at}/fret"), "is needed: 0 is the open string");
        }
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
}

fn check_heights(problems: &mut Problems, input: &PlanInput) {
    let mut heights = |at: Arguments<'_>, values: &[f64], least: f64, most: f64| {
        for (place, value) in values.iter().enumerate() {
            problems.within(format_args!("{at}/{place}"), *value, least, most);
        }
    };
    heights(format_args!("/readings/relief_mm"), &input.readings.relief_mm, SIGNED_MM.0, SIGNED_MM.1);
    heights(
        format_args!("/readings/saddle_showing_mm/treble"),
        &input.readings.saddle_showing_mm.treble,
        0.0,
        HEIGHT_MM.1,
    );
    heights(format_args!("/readings/saddle_showing_mm/bass"), &input.readings.saddle_showing_mm.bass, 0.0, HEIGHT_MM.1);
    for (place, string) in input.readings.strings.iter().enumerate() {
        let mut of_string = |name: &str, values: &[f64], least: f64, most: f64| {
            heights(format_args!("/readings/strings/{place}/{name}"), values, least, most);
        };
        of_string("action_12_mm", &string.action_12_mm, 0.0, HEIGHT_MM.1);
        of_string("first_fret_mm", &string.first_fret_mm, 0.0, HEIGHT_MM.1);
        of_string("gap_at_1_stopped_at_3_mm", &string.gap_at_1_stopped_at_3_mm, 0.0, HEIGHT_MM.1);
        of_string("cents_at_12", &string.cents_at_12, -200.0, 200.0);
    }
}

pub(super) fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
