//! The closed loop: plan, do what may be done now, read again, until nothing is left. It ends, for every bridge; it
//! never takes a saddle below its least; and it takes too much no more often than its stated risk, with one, two and
//! three readings, however far the tool scatters, once that is known.

use serde_json::{Value, json};
use thumbplane::calc::USUAL_TARGETS;
use thumbplane::setup::frame::{Board, Frame};
use thumbplane::setup::plan::{HouseTargets, PlanInput, PlanOutput, Step, StepState, plan};

use super::{Chance, clopper_pearson};

/// Of every bridge; all five together are two thousand.
const INSTRUMENTS: u64 = 400;
/// Scatter of single readings, mm.
const SCATTERS: [f64; 3] = [0.02, 0.03, 0.05];
/// From so many degrees of freedom on the shop's own figure of a tool counts.
const KNOWN_BY: u32 = 10;
/// How well a file keeps to the line, mm, and the risk of a first pass: the house's.
const FILE_SCATTER_MM: f64 = 0.03;
const RISK: f64 = 0.025;
/// More rounds than any bench would stand.
const MOST_ROUNDS: usize = 40;

/// An instrument whose truth nobody at the bench knows.
struct Instrument {
    input: PlanInput,
    scale_mm: f64,
    body_fret: usize,
    positions_mm: Vec<f64>,
    nut_mm: Vec<f64>,
    bridge_mm: Vec<f64>,
    relief_mm: f64,
    showing_mm: [f64; 2],
    least_showing_mm: f64,
    targets_12_mm: Vec<f64>,
    gap_target_mm: f64,
    scatter_mm: f64,
    /// How often each place is read to begin with.
    usual_repeats: usize,
    repeats: usize,
}

/// Cuts made, and those that took more than there was to take.
#[derive(Debug, Default)]
struct Tally {
    cuts: u64,
    too_much: u64,
}

impl Instrument {
    fn frame(&self) -> Frame {
        let board = Board { body_fret: Some(self.body_fret), relief_mm: self.relief_mm, ..Board::default() };
        Frame::new(self.scale_mm, 22, &board)
    }

    fn action_mm(&self, frame: &Frame, place: usize) -> f64 {
        let (nut, bridge) = (self.nut_mm[place], self.bridge_mm[place]);
        nut + (bridge - nut) * frame.position_mm(12) / self.scale_mm - frame.top_mm(12)
    }

    /// What may come off at the bridge under a string, and at the nut, in truth.
    fn to_take_mm(&self, place: usize, at_bridge: bool) -> f64 {
        let frame = self.frame();
        if at_bridge {
            (self.action_mm(&frame, place) - self.targets_12_mm[place]) * self.scale_mm / frame.position_mm(12)
        } else {
            self.nut_mm[place] - frame.nut_from_gap_mm(self.gap_target_mm)
        }
    }

    fn read(&mut self, chance: &mut Chance) {
        let frame = self.frame();
        let scatter = self.scatter_mm;
        let repeats = self.repeats;
        let mut several = |truth: f64, least: f64| -> Vec<f64> {
            (0..repeats).map(|_| ((truth + chance.normal(scatter)).max(least) * 100.0).round() / 100.0).collect()
        };
        self.input.readings.relief_mm = several(self.relief_mm, -1.0);
        self.input.readings.saddle_showing_mm.treble = several(self.showing_mm[0], 0.0);
        self.input.readings.saddle_showing_mm.bass = several(self.showing_mm[1], 0.0);
        for place in 0..self.nut_mm.len() {
            let (action, gap) =
                (self.action_mm(&frame, place), frame.gap_at_1_stopped_at_3_mm(self.nut_mm[place]).max(0.0));
            let read = &mut self.input.readings.strings[place];
            read.action_12_mm = several(action, 0.0);
            // a string that lies on its fret is seen to lie there
            read.gap_at_1_stopped_at_3_mm = if gap <= 0.0 { vec![0.0; repeats] } else { several(gap, 0.01) };
        }
    }

    fn take(&mut self, place: usize, amount: f64, at_bridge: bool, chance: &mut Chance, tally: &mut Tally) {
        if amount <= 0.0 {
            return;
        }
        let cut = (amount + chance.normal(FILE_SCATTER_MM)).max(0.0);
        tally.cuts += 1;
        tally.too_much += u64::from(cut > self.to_take_mm(place, at_bridge));
        let height = if at_bridge { &mut self.bridge_mm } else { &mut self.nut_mm };
        height[place] -= cut;
        let last = self.nut_mm.len() - 1;
        if at_bridge && place == 0 {
            self.showing_mm[0] -= cut;
        }
        if at_bridge && place == last {
            self.showing_mm[1] -= cut;
        }
    }

    /// Does one step that may be done now; answers whether it changed or settled something.
    fn does(&mut self, step: &Step, chance: &mut Chance, tally: &mut Tally) -> bool {
        let at_bridge = step.key.starts_with("saddle");
        match step.key.as_str() {
            "relief-too-much" | "relief-too-little" => self.relief_mm = self.relief_target(),
            "readings-too-uncertain" | "readings-disagree" => {
                self.repeats = (self.repeats + 1).max(3);
                return true;
            }
            "tuners-dry" | "polish-slots" | "clean" => return false,
            "nut-high" | "nut-low" | "saddle-high" | "saddle-low" => self.moves(step, at_bridge, chance, tally),
            other => panic!("nobody here knows how to do {other}: {}", step.words),
        }
        self.repeats = self.usual_repeats;
        true
    }

    fn relief_target(&self) -> f64 {
        let house = HouseTargets::read(USUAL_TARGETS).expect("the house's targets");
        house.of(self.input.instrument.family, self.input.style).expect("a family").relief_mm
    }

    fn moves(&mut self, step: &Step, at_bridge: bool, chance: &mut Chance, tally: &mut Tally) {
        let count = self.nut_mm.len();
        if let Some(cut) = &step.cut {
            let filled: Vec<(usize, f64)> = cut.raise.iter().map(|raise| (raise.string - 1, raise.mm)).collect();
            let whole = cut.raise.iter().any(|raise| raise.shims > 0) || at_bridge;
            let most = filled.iter().map(|(_, mm)| *mm).fold(0.0, f64::max);
            if most > 0.0 && whole {
                // a shim, or a taller bridge, lifts every string
                let heights = if at_bridge { &mut self.bridge_mm } else { &mut self.nut_mm };
                heights.iter_mut().for_each(|height| *height += most);
                if at_bridge {
                    self.showing_mm = self.showing_mm.map(|showing| showing + most);
                }
            } else {
                filled.iter().for_each(|(place, mm)| self.nut_mm[*place] += mm);
            }
            for place in 0..count {
                self.take(place, cut.strings[place].first_pass_mm, at_bridge, chance, tally);
            }
        } else if let Some(without) = &step.posts_without {
            self.turn_posts(without.treble_mm, without.bass_mm);
        } else if let Some(posts) = &step.posts_down_mm {
            self.turn_posts(posts.treble, posts.bass);
        } else if let Some(raised) = &step.raise_nut_mm {
            let (first, last) = (self.positions_mm[0], self.positions_mm[count - 1]);
            for (place, nut) in self.nut_mm.iter_mut().enumerate() {
                *nut +=
                    raised.treble + (raised.bass - raised.treble) * (self.positions_mm[place] - first) / (last - first);
            }
        } else {
            let pitch = self.input.instrument.screw_pitch_mm;
            let down = step.turn_down_mm.as_ref().expect("amounts to turn");
            for place in 0..count {
                let told = match (&step.turns, pitch) {
                    (Some(turns), Some(pitch)) => turns[place].unwrap_or(0.0) * pitch,
                    _ => down[place].unwrap_or(0.0),
                };
                self.bridge_mm[place] -= told;
            }
        }
    }

    /// Two posts as far apart as they stand.
    fn turn_posts(&mut self, treble: f64, bass: f64) {
        let posts = self.input.instrument.post_positions_mm.expect("posts");
        for (place, bridge) in self.bridge_mm.iter_mut().enumerate() {
            let share = (self.positions_mm[place] - posts.treble) / (posts.bass - posts.treble);
            *bridge -= treble + (bass - treble) * share;
        }
        self.showing_mm = [self.showing_mm[0] - treble, self.showing_mm[1] - bass];
    }
}

/// Where a family stands, how its bridge is built, and what a good one reads.
struct Kind {
    family: &'static str,
    bridge: &'static str,
    scale_mm: f64,
    body_fret: usize,
    nut: &'static str,
    built: Value,
}

fn an_instrument(kind: &Kind, number: u64, chance: &mut Chance) -> Instrument {
    let house = HouseTargets::read(USUAL_TARGETS).expect("the house's targets");
    let positions_mm: Vec<f64> = (0..6).map(|place| 10.4 * f64::from(place)).collect();
    let strings: Vec<Value> = positions_mm.iter().map(|position| json!({"position_mm": position})).collect();
    let mut built = json!({"family": kind.family, "scale_mm": kind.scale_mm, "frets": 22, "body_fret": kind.body_fret,
        "truss_rod": "two-way", "bridge": kind.bridge, "nut": kind.nut, "strings": strings});
    for (name, value) in kind.built.as_object().expect("fields") {
        built[name] = value.clone();
    }
    let scatter_mm = SCATTERS[usize::try_from(number % 3).expect("small")];
    let usual_repeats = usize::try_from(number / 3 % 3 + 1).expect("small");
    // the shop worked its figure out from that many repeats, and it is off as such figures are
    let squares: f64 = (0..KNOWN_BY).map(|_| chance.normal(scatter_mm).powi(2)).sum();
    let known = (squares / f64::from(KNOWN_BY)).sqrt();
    let input: PlanInput = serde_json::from_value(json!({
        "instrument": built,
        "style": "medium",
        "air": {"temperature_c": 20, "rh_percent": 48},
        "tool": {"resolution_mm": 0.01, "limit_mm": 0.0, "repeatability_mm": known,
            "repeatability_degrees_of_freedom": KNOWN_BY},
        "readings": {"relief_mm": [0.1], "strings": vec![json!({}); 6]},
    }))
    .expect("an input");
    let targets = house.of(input.instrument.family, input.style).expect("a family");
    let share = |place: usize| place as f64 / 5.0;
    let targets_12_mm: Vec<f64> = (0..6)
        .map(|place| {
            targets.action_12_treble_mm + (targets.action_12_bass_mm - targets.action_12_treble_mm) * share(place)
        })
        .collect();
    let relief_mm = if chance.even() < 0.4 { 0.6 * chance.even() } else { targets.relief_mm };
    let board = Board { body_fret: Some(kind.body_fret), relief_mm, ..Board::default() };
    let frame = Frame::new(kind.scale_mm, 22, &board);
    let good_nut = frame.nut_from_gap_mm(targets.gap_mm);
    let nut_off = if chance.even() < 0.5 { 0.4 * chance.even() } else { 0.0 };
    let nut_mm: Vec<f64> = (0..6).map(|_| good_nut + nut_off * chance.even() + 0.02 * chance.even()).collect();
    let off = 1.6 * chance.even() - 0.5;
    let bridge_mm = (0..6)
        .map(|place| {
            let action = targets_12_mm[place] + off + 0.25 * chance.even();
            nut_mm[place] + (action + frame.top_mm(12) - nut_mm[place]) * kind.scale_mm / frame.position_mm(12)
        })
        .collect();
    Instrument {
        scale_mm: kind.scale_mm,
        body_fret: kind.body_fret,
        positions_mm,
        nut_mm,
        bridge_mm,
        relief_mm,
        showing_mm: [3.0 + 3.0 * chance.even(), 3.5 + 3.0 * chance.even()],
        least_showing_mm: targets.least_showing_mm,
        targets_12_mm,
        gap_target_mm: targets.gap_mm,
        scatter_mm,
        usual_repeats,
        repeats: usual_repeats,
        input,
    }
}

/// Works on one instrument until nothing is left, or it is beyond a setup.
fn set_up(instrument: &mut Instrument, house: &HouseTargets, chance: &mut Chance, tally: &mut Tally) {
    let mut history: Vec<String> = Vec::new();
    for _ in 0..MOST_ROUNDS {
        instrument.read(chance);
        let told: PlanOutput = plan(&instrument.input, house).expect("a plan");
        if told.stopped {
            return;
        }
        let now: Vec<&Step> = told.steps.iter().filter(|step| step.state == StepState::Now).collect();
        let cuts_saddle = now.iter().any(|step| step.key == "saddle-high" && step.cut.is_some());
        let mut goes_on = false;
        for step in &now {
            goes_on |= instrument.does(step, chance, tally);
        }
        if cuts_saddle && instrument.input.instrument.bridge == Some(thumbplane::setup::plan::BridgeKind::FixedSaddle) {
            // the readings and the file may each be off by as much as they may, and no more is taken than that
            let unsure = 4.0 * instrument.scatter_mm.hypot(FILE_SCATTER_MM);
            let least = instrument.least_showing_mm - unsure;
            let shows = instrument.showing_mm;
            assert!(shows.iter().all(|showing| *showing >= least), "{shows:?} after {history:?}");
        }
        history.extend(now.iter().map(|step| step.key.clone()));
        if !goes_on {
            return;
        }
    }
    panic!("no end: {history:?}");
}

#[track_caller]
fn of_a_bridge(kind: &Kind, seed: u64, must_cut: bool) {
    let house = HouseTargets::read(USUAL_TARGETS).expect("the house's targets");
    let mut chance = Chance::new(seed);
    let mut tallies: Vec<Tally> = (0..9).map(|_| Tally::default()).collect();
    for number in 0..INSTRUMENTS {
        let mut instrument = an_instrument(kind, number, &mut chance);
        let tally = &mut tallies[usize::try_from(number % 9).expect("small")];
        set_up(&mut instrument, &house, &mut chance, tally);
    }
    let (cuts, too_much): (u64, u64) =
        tallies.iter().fold((0, 0), |(cuts, too_much), tally| (cuts + tally.cuts, too_much + tally.too_much));
    assert!(!must_cut || cuts > 500, "only {cuts} cuts");
    for (number, tally) in tallies.iter().enumerate().filter(|(_, tally)| tally.cuts > 0) {
        let (least, _) = clopper_pearson(tally.too_much, tally.cuts, 0.998);
        let (scatter, readings) = (SCATTERS[number % 3], number / 3 + 1);
        assert!(least <= RISK, "{tally:?} at {scatter} mm and {readings} readings, with {}", kind.bridge);
    }
    let (least, _) = clopper_pearson(too_much, cuts.max(1), 0.99);
    assert!(least <= RISK, "{too_much} of {cuts} with {}", kind.bridge);
}

#[test]
fn a_fixed_saddle_is_brought_down_and_never_below_its_least() {
    let kind = Kind {
        family: "steel-string",
        bridge: "fixed-saddle",
        scale_mm: 645.0,
        body_fret: 14,
        nut: "slotted",
        built: json!({}),
    };
    of_a_bridge(&kind, 11, true);
}

#[test]
fn screws_are_turned_by_eighths_until_the_strings_stand_right() {
    let kind = Kind {
        family: "electric",
        bridge: "screw-saddles",
        scale_mm: 648.0,
        body_fret: 16,
        nut: "slotted",
        built: json!({"screw_pitch_mm": 0.5, "neck_joint": "bolted"}),
    };
    of_a_bridge(&kind, 12, true);
}

#[test]
fn two_posts_bring_a_bridge_nearest_and_leave_the_rest_to_the_notches() {
    let kind = Kind {
        family: "electric",
        bridge: "two-post",
        scale_mm: 628.0,
        body_fret: 16,
        nut: "slotted",
        built: json!({"post_positions_mm": {"treble": -11, "bass": 63}, "neck_joint": "glued"}),
    };
    of_a_bridge(&kind, 13, true);
}

#[test]
fn a_loose_bridge_is_taken_down_or_exchanged() {
    let kind = Kind {
        family: "steel-string",
        bridge: "loose-bridge",
        scale_mm: 648.0,
        body_fret: 14,
        nut: "slotted",
        built: json!({}),
    };
    of_a_bridge(&kind, 14, true);
}

#[test]
fn a_sprung_bridge_with_a_clamping_nut_is_set_without_a_file() {
    let kind = Kind {
        family: "electric",
        bridge: "sprung",
        scale_mm: 648.0,
        body_fret: 16,
        nut: "clamping",
        built: json!({"post_positions_mm": {"treble": -11, "bass": 63}, "neck_joint": "bolted"}),
    };
    of_a_bridge(&kind, 15, false);
}
