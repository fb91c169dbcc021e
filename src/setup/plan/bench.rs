//! What lies on the bench: how the instrument is built, its readings with their uncertainty, and what is wished.

use std::fmt::Arguments;

use super::check::{self, check};
use super::doubts::{self, Doubt, Quantity};
use super::families::PlanFamily;
use super::input::{BridgeKind, NutKind, PlanInput, PlanTool, StringReadings};
use super::observation::{ObservationKey, PlanObservation};
use super::targets::{HouseTargets, Targets};
use crate::problem::Problems;
use crate::setup::board::BoardRadius;
use crate::setup::cut::{CutInput, CutPlace, CutString};
use crate::setup::frame::{Board, Frame};
use crate::setup::reading::{ReadingInput, Repeatability, Reported, reading, supported};

/// Smallest step of a tuner's display, cents.
pub(super) const CENTS_STEP: f64 = 0.1;
/// How far single readings of a tuner scatter, cents. Common practice, no source.
const CENTS_REPEATABILITY: Repeatability = Repeatability { standard_deviation_mm: 0.5, degrees_of_freedom: 5.0 };
/// How far single readings of a tool scatter of which nothing is known, mm. Common practice, no source.
const USUAL_REPEATABILITY: Repeatability = Repeatability { standard_deviation_mm: 0.03, degrees_of_freedom: 5.0 };
/// From here on Student's t is the normal; nearly equal repeats reach beyond any bound.
const LARGE_FREEDOM: f64 = 1e9;

/// The scatter of the tool: as the shop knows it, else as usual.
pub(super) fn repeatability(tool: &PlanTool) -> Repeatability {
    match tool.repeatability_mm.zip(tool.repeatability_degrees_of_freedom) {
        Some((standard_deviation_mm, degrees_of_freedom)) => {
            Repeatability { standard_deviation_mm, degrees_of_freedom }
        }
        None => USUAL_REPEATABILITY,
    }
}

/// What `reading` is asked of repeats of a length.
pub(super) fn length_asked(values: &[f64], tool: &PlanTool) -> ReadingInput {
    ReadingInput::usual(values.to_vec(), tool.resolution_mm, tool.limit_mm).with_repeatability(repeatability(tool))
}

/// What `reading` is asked of repeats on a tuner.
pub(super) fn cents_asked(values: &[f64]) -> ReadingInput {
    ReadingInput::usual(values.to_vec(), CENTS_STEP, 0.0).with_repeatability(CENTS_REPEATABILITY)
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
pub(super) const ENOUGH_REPEATS: usize = 3;

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
    /// Set-back of the saddle today.
    pub(super) setback: Option<Read>,
}

/// Everything a look at the bench can use.
#[derive(Debug)]
pub(super) struct Bench<'a> {
    pub(super) input: &'a PlanInput,
    pub(super) house: &'a HouseTargets,
    pub(super) targets: Targets,
    /// `None` where neither the instrument nor its family says it.
    pub(super) bridge: Option<BridgeKind>,
    pub(super) nut: NutKind,
    pub(super) strings: Vec<StringRead>,
    pub(super) relief: Option<Read>,
    /// Treble and bass.
    pub(super) showing: Option<(Read, Read)>,
    /// Readings that are asked for again before anything uses them.
    pub(super) doubts: Vec<Doubt>,
    frames: Vec<Frame>,
    positions: Vec<f64>,
}

impl<'a> Bench<'a> {
    pub(super) fn read(input: &'a PlanInput, house: &'a HouseTargets) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        check(&mut problems, input);
        let found = house.of(input.instrument.family, input.style);
        let targets = found.map(|targets| input.targets.map_or(targets, |given| targets.with(&given)));
        if let Some(targets) = &targets {
            targets.check(&mut problems, "/targets");
        }
        problems.check()?;
        let Some(targets) = targets else {
            problems.note("/instrument/family", "has no targets in this house");
            return Err(problems);
        };

        let mut reader = Reader { tool: &input.tool, problems };
        let readings = &input.readings;
        let relief = reader.length(format_args!("/readings/relief_mm"), &readings.relief_mm);
        let showing = &readings.saddle_showing_mm;
        let treble = reader.length(format_args!("/readings/saddle_showing_mm/treble"), &showing.treble);
        let bass = reader.length(format_args!("/readings/saddle_showing_mm/bass"), &showing.bass);
        let scales: Vec<f64> = check::scales(&input.instrument).collect();
        let empty = StringReadings::default();
        let of = |place: usize| readings.strings.get(place).unwrap_or(&empty);
        let strings = scales.iter().enumerate().map(|(place, scale)| reader.string(place, of(place), *scale)).collect();
        reader.problems.check()?;

        let instrument = &input.instrument;
        let mut bench = Self {
            input,
            house,
            targets,
            bridge: instrument.bridge.or(instrument.family.usual_bridge()),
            nut: instrument.nut.unwrap_or(NutKind::Slotted),
            strings,
            relief,
            showing: treble.zip(bass),
            doubts: Vec::new(),
            frames: frames(input, relief, &scales),
            positions: check::positions(instrument),
        };
        bench.doubts = doubts::of(&bench);
        Ok(bench)
    }

    pub(super) fn family(&self) -> PlanFamily {
        self.input.instrument.family
    }

    /// Whether a wooden top carries the bridge, so that the air moves the strings. A bar or a bridge that stands by
    /// itself is on a top whatever the family; a banjo's is on a head.
    pub(super) fn has_wooden_top(&self) -> bool {
        let stands_on_a_top = matches!(self.bridge, Some(BridgeKind::FixedSaddle | BridgeKind::LooseBridge));
        self.family().has_wooden_top() || (stands_on_a_top && self.family() != PlanFamily::Banjo)
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

    /// Numbers of all strings, from 1.
    pub(super) fn numbers(&self) -> std::ops::RangeInclusive<usize> {
        1..=self.strings.len()
    }

    /// Whether the tool's scatter was measured in this shop.
    pub(super) fn knows_its_tool(&self) -> bool {
        self.input.tool.repeatability_mm.is_some()
    }

    /// The risk of taking too much where single strings are chosen by the same reading that they are cut by: one that
    /// is high by chance is chosen, and cut by that chance. A fifth of the house's risk for a first pass; chosen here,
    /// so that of all cuts in the end no more than the house's risk take too much.
    pub(super) fn risk_of_the_chosen(&self) -> f64 {
        self.house.bench.first_pass_risk / 5.0
    }

    /// A single reading by a tool whose scatter nobody measured: no amount is taken off on it.
    pub(super) fn is_too_lonely(&self, read: &Read) -> bool {
        read.repeats < 2 && !self.knows_its_tool()
    }

    /// From string 1 (0) to the last (1); strings of one course stand at one share.
    fn share(&self, place: usize) -> f64 {
        let strings = &self.input.instrument.strings;
        let course = |place: usize| strings.get(place).and_then(|string| string.course);
        let (at, gaps) = match course(place).zip(course(strings.len().saturating_sub(1))) {
            Some((course, last)) => (course.saturating_sub(1), last.saturating_sub(1)),
            None => (place, strings.len().saturating_sub(1)),
        };
        if gaps == 0 { 0.0 } else { as_number(at) / as_number(gaps) }
    }

    /// What comes before a string in its spread of targets, and of how many: for the working.
    pub(super) fn spread(&self, place: usize) -> (usize, usize) {
        let strings = &self.input.instrument.strings;
        let course = |place: usize| strings.get(place).and_then(|string| string.course);
        match course(place).zip(course(strings.len().saturating_sub(1))) {
            Some((course, last)) => (course.saturating_sub(1), last),
            None => (place, strings.len()),
        }
    }

    fn between(&self, place: usize, treble: f64, bass: f64) -> f64 {
        treble + (bass - treble) * self.share(place)
    }

    /// Wished height over fret 12, mm.
    pub(super) fn action_target(&self, place: usize) -> f64 {
        self.between(place, self.targets.action_12_treble_mm, self.targets.action_12_bass_mm)
    }

    /// Wished open height over the own first fret, mm.
    pub(super) fn first_target(&self, place: usize) -> f64 {
        self.between(place, self.targets.first_fret_treble_mm, self.targets.first_fret_bass_mm)
    }

    /// Position across the bridge, mm: as stated, else as usual.
    pub(super) fn position_mm(&self, place: usize) -> f64 {
        self.positions.get(place).copied().unwrap_or(0.0)
    }

    /// The board's radius, where the strings were measured across it: a shape over a spacing that nobody
    /// measured would be filed and wrong.
    pub(super) fn board_radius_mm(&self) -> Option<BoardRadius> {
        let instrument = &self.input.instrument;
        let measured =
            instrument.strings.len() > 1 && instrument.strings.iter().all(|string| string.position_mm.is_some());
        instrument.board_radius_mm.filter(|_| measured)
    }

    /// The board under one string.
    pub(super) fn frame(&self, place: usize) -> &Frame {
        // as many frames as strings, and one string at least, by the check
        &self.frames[place.min(self.frames.len() - 1)]
    }

    /// Set-back of the saddle under one string, mm: as read, else as stated.
    pub(super) fn setback_mm(&self, place: usize) -> f64 {
        let read = self.strings.get(place).and_then(|string| string.setback);
        read.map_or(self.input.instrument.saddle_setback_mm, |read| read.value)
    }

    /// Where the saddle stands under one string, mm from the nut's front edge.
    pub(super) fn saddle_at_mm(&self, place: usize) -> f64 {
        self.frame(place).scale_mm() + self.setback_mm(place)
    }

    /// Height at the 12th of one string; none where it is asked for again before anything uses it.
    pub(super) fn action(&self, place: usize) -> Option<Read> {
        let read = self.strings.get(place).and_then(|string| string.action);
        read.filter(|_| !self.doubts(Quantity::Action, place))
    }

    /// How much a change at the 12th is multiplied back to the bridge.
    pub(super) fn saddle_factor(&self, place: usize) -> f64 {
        1.0 / self.frame(place).felt_from_saddle(12, self.setback_mm(place))
    }

    /// How much a change of a reading at the nut is multiplied there.
    pub(super) fn nut_factor(&self, place: usize, is_gap: bool) -> f64 {
        let frame = self.frame(place);
        if is_gap {
            1.0 / (1.0 - frame.first_on_the_way_to_third())
        } else {
            1.0 / frame.felt_from_nut(frame.own(1), self.setback_mm(place))
        }
    }

    /// What `cut` is asked at one end, without its strings.
    pub(super) fn cut_input(&self, place: CutPlace) -> CutInput {
        let habits = &self.house.bench;
        CutInput {
            place,
            scale_mm: self.input.instrument.scale_mm,
            saddle_setback_mm: self.input.instrument.saddle_setback_mm,
            first_pass_risk: habits.first_pass_risk,
            step_mm: habits.step_mm,
            cut_uncertainty_mm: habits.cut_uncertainty_mm,
            shim_mm: habits.shim_mm,
            strings: Vec::new(),
            showing_mm: None,
            showing_expanded_mm: None,
            least_showing_mm: None,
            board_radius_mm: None,
            spread_at_other_end_mm: None,
        }
    }

    /// How a string runs, where it runs otherwise than the whole.
    pub(super) fn run_of(&self, place: usize) -> CutString {
        let (frame, instrument) = (self.frame(place), &self.input.instrument);
        let own = |mm: f64, whole: f64| (mm != whole).then_some(mm);
        CutString {
            scale_mm: own(frame.scale_mm(), instrument.scale_mm),
            saddle_setback_mm: own(self.setback_mm(place), instrument.saddle_setback_mm),
            starts_at_fret: (frame.start() > 0).then(|| frame.start()),
            ..CutString::default()
        }
    }

    /// Whether a reading is asked for of this instrument.
    pub(super) fn asks(&self, reading: &str) -> bool {
        match reading {
            "gap_at_1_stopped_at_3_mm" | "first_fret_mm" => self.nut != NutKind::ZeroFret,
            "saddle_showing_mm" => self.bridge == Some(BridgeKind::FixedSaddle) || self.showing.is_some(),
            "from_12_to_saddle_mm" => self.strings.iter().any(|string| string.setback.is_some()),
            _ => true,
        }
    }
}

/// Reads repeats, and gathers what is wrong with them.
struct Reader<'a> {
    tool: &'a PlanTool,
    problems: Problems,
}

impl Reader<'_> {
    fn of(&mut self, at: Arguments<'_>, asked: &ReadingInput) -> Option<Read> {
        match reading(asked) {
            Ok(found) => Some(Read {
                value: found.mean_mm,
                uncertainty: found.standard_uncertainty_mm,
                expanded: found.expanded_mm,
                freedom: found
                    .degrees_of_freedom
                    .filter(|freedom| *freedom < LARGE_FREEDOM)
                    .map(|freedom| freedom.max(1.0)),
                repeats: asked.values_mm.len(),
            }),
            Err(faults) => {
                for fault in faults.0 {
                    self.problems.note(fault.pointer.replace("/values_mm", &at.to_string()), fault.detail);
                }
                None
            }
        }
    }

    fn length(&mut self, at: Arguments<'_>, values: &[f64]) -> Option<Read> {
        if values.is_empty() {
            return None;
        }
        self.of(at, &length_asked(values, self.tool))
    }

    fn string(&mut self, place: usize, read: &StringReadings, scale_mm: f64) -> StringRead {
        let mut of = |name: &str, values: &[f64]| self.length(format_args!("/readings/strings/{place}/{name}"), values);
        let action = of("action_12_mm", &read.action_12_mm);
        let first = of("first_fret_mm", &read.first_fret_mm);
        let gap = of("gap_at_1_stopped_at_3_mm", &read.gap_at_1_stopped_at_3_mm);
        let to_saddle = of("from_12_to_saddle_mm", &read.from_12_to_saddle_mm);
        let cents = (!read.cents_at_12.is_empty())
            .then(|| {
                let at = format_args!("/readings/strings/{place}/cents_at_12");
                self.of(at, &cents_asked(&read.cents_at_12))
            })
            .flatten();
        let half = scale_mm / 2.0;
        StringRead {
            action,
            first,
            gap,
            cents,
            setback: to_saddle.map(|read| Read { value: read.value - half, ..read }),
        }
    }
}

/// One board for each string; those that run alike are worked out once.
fn frames(input: &PlanInput, relief: Option<Read>, scales: &[f64]) -> Vec<Frame> {
    let instrument = &input.instrument;
    let board = Board {
        body_fret: Some(instrument.body_fret),
        relief_mm: relief.map_or(0.0, |relief| relief.value),
        ..Board::default()
    };
    let mut frames: Vec<Frame> = Vec::with_capacity(scales.len());
    for (place, scale) in scales.iter().enumerate() {
        let start = instrument.strings.get(place).and_then(|string| string.starts_at_fret).unwrap_or(0);
        let frame = match frames.last() {
            Some(before) if before.scale_mm() == *scale => before.clone(),
            _ => Frame::new(*scale, instrument.frets, &board),
        };
        frames.push(frame.beginning_at(start));
    }
    frames
}

pub(super) fn as_number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
