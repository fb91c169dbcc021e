//! What lies on the bench: how the instrument is built, its readings with their uncertainty, and what is wished.

use super::built::{BridgeKind, NutKind};
use super::check::{self, check};
use super::families::PlanFamily;
use super::input::{PlanInput, StringReadings};
use super::misread::{self, Doubt, Quantity};
use super::observation::{ObservationKey, PlanObservation};
use super::read::{Read, Reader, StringRead};
use super::short_run::ShortRun;
use super::targets::{HouseTargets, Targets};
use super::wishes;
use crate::problem::Problems;
use crate::setup::board::BoardRadius;
use crate::setup::cut::{CutInput, CutPlace, CutString};
use crate::setup::frame::{Board, Frame};

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
        let runs: Vec<ShortRun> = (0..bench.strings.len()).map(|place| bench.short_run(place)).collect();
        bench.doubts = misread::of(input, &bench.strings, &bench.positions, &runs);
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

    /// Which frets are meant of strings that begin on the way; nothing where all begin at the nut.
    pub(super) fn said_own_frets(&self, strings: &[usize]) -> String {
        let short = strings.iter().find_map(|number| {
            let frame = self.frames.get(number - 1).filter(|frame| frame.start() > 0)?;
            Some((*number, frame))
        });
        short.map_or_else(String::new, |(number, frame)| {
            let (first, third) = (frame.own(1), frame.own(3));
            format!(" (of string {number} these are its own: over fret {first}, stopped at fret {third})")
        })
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

    /// What comes before a string in its spread of targets, and of how many: for the working.
    pub(super) fn spread(&self, place: usize) -> (usize, usize) {
        wishes::spread(&self.input.instrument, place)
    }

    fn between(&self, place: usize, treble: f64, bass: f64) -> f64 {
        wishes::between(treble, bass, wishes::share(&self.input.instrument, place))
    }

    /// Wished height over fret 12, mm: of a short string what the bridge leaves it that carries its neighbours.
    pub(super) fn action_target(&self, place: usize) -> f64 {
        let whole = self.between(place, self.targets.action_12_treble_mm, self.targets.action_12_bass_mm);
        self.short_run(place).own_mm(whole)
    }

    /// How a string runs beside one that begins at the nut.
    pub(super) fn short_run(&self, place: usize) -> ShortRun {
        let setback_mm = self.setback_mm(place);
        let frame = self.frame(place);
        ShortRun::of(frame.scale_mm(), setback_mm, frame.start(), self.targets.gap_mm)
    }

    /// Wished open height over the own first fret where the height at the 12th is not yet as wished, mm: what that
    /// height adds there is the bridge's, and no slot is filed for it. `None` where the height was not read.
    pub(super) fn first_target_here(&self, place: usize) -> Option<f64> {
        let over = self.action(place)?.value - self.action_target(place);
        Some(self.first_target(place) + over * self.first_share(place))
    }

    /// How much of a change at the 12th by the bridge is felt over the own first fret.
    pub(super) fn first_share(&self, place: usize) -> f64 {
        let frame = self.frame(place);
        let setback_mm = self.setback_mm(place);
        frame.felt_from_saddle(frame.own(1), setback_mm) / frame.felt_from_saddle(12, setback_mm)
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

    /// Whether a reading of a string (from 0) is to be taken again.
    pub(super) fn doubts(&self, quantity: Quantity, place: usize) -> bool {
        self.doubts.iter().any(|doubt| doubt.quantity == quantity && doubt.string == Some(place + 1))
    }

    pub(super) fn doubts_relief(&self) -> bool {
        self.doubts.iter().any(|doubt| doubt.quantity == Quantity::Relief)
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
