//! How each number of a plan came about: from the reading's mean and its uncertainty to the exact amount,
//! the guard and the first pass; each finding's figures; each end of a forecast.

mod across;
mod findings;
mod forecasts;
mod places;
mod steps;
mod told;

use self::forecasts::Ranges;
use self::places::Place;
use self::told::{SIMILAR, Told};
use super::bench::Bench;
use super::bridge;
use super::built::BridgeKind;
use super::input::PlanInput;
use super::judged::Judged;
use super::nut;
use super::output::{PlanOutput, Step};
use super::plan;
use super::targets::HouseTargets;
use crate::setup::cut::working::Before;
use crate::setup::cut::{self, CutInput, CutOutput, worked_out};
use crate::working::{Working, Workings};

/// The workings of a plan's numbers, as they come out today. A page that shows a kept plan asks
/// [`Workings::of_number`] for each figure: one that comes out otherwise today, because the house's
/// targets or the engine changed since, has no working.
///
/// Makes the plan once more, and a few hundred lines of text: a millisecond at most.
pub fn workings(input: &PlanInput, house: &HouseTargets) -> Workings {
    let mut workings = Workings::of_all();
    if let Ok(output) = plan(input, house) {
        explain(input, &output, house, &mut workings);
    }
    workings
}

/// The working of every number of a plan but copies (targets, humidity, frets seen).
pub fn explain(input: &PlanInput, output: &PlanOutput, house: &HouseTargets, workings: &mut Workings) {
    let Ok(bench) = Bench::read(input, house) else {
        return;
    };
    let judged = Judged::of(&bench);
    let nut_input = nut::cut_input(&bench, &judged.nut);
    let nut_amounts = judged.nut.has_work().then(|| worked_out(&nut_input));
    let told =
        Told { bench: &bench, output, judged: &judged, nut_input: &nut_input, nut_amounts: nut_amounts.as_ref() };
    for (place, finding) in output.findings.iter().enumerate() {
        let at = format!("/findings/{place}/numbers");
        workings.within(&at, |workings| told.finding(finding, workings));
    }
    for (place, step) in output.steps.iter().enumerate() {
        workings.within(&format!("/steps/{place}"), |workings| told.step(step, workings));
    }
}

impl Told<'_> {
    fn step(&self, step: &Step, workings: &mut Workings) {
        if let Some(cut) = &step.cut {
            workings.within("/cut", |workings| self.cut(step, cut, workings));
        }
        self.adjusted(step, workings);
        if let Some(forecast) = &step.forecast {
            let ranges = Ranges::of(self);
            for place in
                (0..forecast.strings.len()).filter(|place| forecast.strings.get(*place).is_some_and(Option::is_some))
            {
                let at = format!("/forecast/strings/{place}");
                workings.figure(&at, || ranges.chain(&forecast.quantity, place, &at));
            }
        }
    }

    fn cut(&self, step: &Step, cut: &CutOutput, workings: &mut Workings) {
        if step.key.starts_with("nut-") {
            cut::working::explain_after(self.nut_input, cut, workings, &|read| match read {
                Before::String(place) => self.before_nut(place, cut),
                Before::Showing => Vec::new(),
            });
            return;
        }
        match self.bench.bridge {
            Some(BridgeKind::TwoPost | BridgeKind::Sprung) => self.notches(cut, workings),
            Some(BridgeKind::LooseBridge) => self.at_bridge(&bridge::loose_cut_input(self.bench), cut, workings),
            _ => self.at_bridge(&bridge::saddle_cut_input(self.bench), cut, workings),
        }
    }

    fn at_bridge(&self, input: &CutInput, cut: &CutOutput, workings: &mut Workings) {
        cut::working::explain_after(input, cut, workings, &|read| match read {
            Before::String(place) => self.before_saddle(place),
            Before::Showing => {
                let ends = [true, false].into_iter();
                ends.flat_map(|treble| places::reading(self.bench, Place::Showing { treble })).collect()
            }
        });
    }

    /// The reading at the nut, its target, and where the nut's least is.
    fn before_nut(&self, place: usize, cut: &CutOutput) -> Vec<Working> {
        let Some(judged) = self.judged.nut.strings.get(place).and_then(Option::as_ref) else {
            return Vec::new();
        };
        let mut chain = if judged.is_gap {
            places::reading(self.bench, Place::Gap(place))
        } else {
            let mut chain = places::reading(self.bench, Place::FirstFret(place));
            chain.push(places::first_target(self.bench, place, String::new()));
            chain
        };
        if cut.strings.get(place).is_some_and(|string| string.exact_mm.is_some()) {
            chain.extend(self.nut_floor(place, judged.is_gap));
        }
        chain
    }

    /// Height at the nut from the two open heights.
    fn nut_from_heights(&self, place: usize, first: f64, action: f64, result: f64) -> Working {
        let frame = self.bench.frame(place);
        let own = frame.own(1);
        let formula = "z₀ = h₁ + u₁ − ((h₁₂ + u₁₂) − (h₁ + u₁))/(x₁₂ − x₁)·(x₁ − x_s)";
        let told = Working::new("", format!("height at the nut from the open heights, string {}", place + 1), formula)
            .put("h₁", format!("height over fret {own}"), first, "mm")
            .put("u₁", format!("top of fret {own} over the line"), frame.top_mm(own), "mm")
            .put("h₁₂", "height over fret 12", action, "mm")
            .put("u₁₂", "top of fret 12 over the line", frame.top_mm(12), "mm");
        self.own_places(told, place, &["x₁₂", "x₁", "x_s"]).gives(result, "mm", SIMILAR)
    }

    fn nut_floor(&self, place: usize, is_gap: bool) -> Vec<Working> {
        let (bench, frame) = (self.bench, self.bench.frame(place));
        let Some((floor, read)) = nut::floor(bench, place).zip(bench.strings.get(place)) else {
            return Vec::new();
        };
        let action = read.action.map_or(0.0, |action| action.value);
        let (x, top) = (|fret| frame.position_mm(fret), |fret| frame.top_mm(fret));
        let (first, second, third) = (frame.own(1), frame.own(2), frame.own(3));
        let on = format!("string {}", place + 1);
        let mut chain = places::reading(bench, Place::Action(place));
        chain.push(if is_gap {
            let told = Working::new(
                "",
                format!("height at the nut from the gap, {on}"),
                "z₀ = (G + u₁ − u₃·(x₁ − x_s)/(x₃ − x_s))/(1 − (x₁ − x_s)/(x₃ − x_s))",
            )
            .put("G", "gap over the 1st stopped at the 3rd", read.gap.map_or(0.0, |gap| gap.value), "mm")
            .put("u₁", format!("top of fret {first} over the line"), top(first), "mm")
            .put("u₃", format!("top of fret {third} over the line"), top(third), "mm");
            self.own_places(told, place, &["x_s", "x₁", "x₃"]).gives(floor.nut_mm, "mm", SIMILAR)
        } else {
            self.nut_from_heights(place, read.first.map_or(0.0, |first| first.value), action, floor.nut_mm)
        });
        let saddle = Working::new(
            "",
            format!("height at the saddle, {on}"),
            "z_L = z₀ + (h₁₂ + u₁₂ − z₀)·(L − x_s)/(x₁₂ − x_s)",
        )
        .put("z₀", "height at the nut", floor.nut_mm, "mm")
        .put("h₁₂", "height over fret 12", action, "mm")
        .put("u₁₂", "top of fret 12 over the line", top(12), "mm")
        .put("L", "nominal scale", frame.scale_mm(), "mm");
        chain.push(self.own_places(saddle, place, &["x_s", "x₁₂"]).gives(floor.saddle_mm, "mm", SIMILAR));
        let least = Working::new(
            "",
            format!("least height at the nut, {on}: the open string no closer to its first fret than to its second when stopped at the first"),
            "z_m = (u₁ + (z_L − u₁)·(x₂ − x₁)/(L − x₁) − u₂ + u₁ − z_L·(x₁ − x_s)/(L − x_s))/(1 − (x₁ − x_s)/(L − x_s))",
        )
        .put("u₁", format!("top of fret {first} over the line"), top(first), "mm")
        .put("z_L", "height at the saddle", floor.saddle_mm, "mm")
        .put("x₂", format!("position of fret {second}"), x(second), "mm")
        .put("L", "nominal scale", frame.scale_mm(), "mm")
        .put("u₂", format!("top of fret {second} over the line"), top(second), "mm");
        chain.push(self.own_places(least, place, &["x₁", "x_s"]).gives(floor.least_mm, "mm", SIMILAR));
        chain.push(
            Working::new("", format!("where the nut's least is reached, {on}"), "c = max(z₀ − z_m, 0)")
                .put("z₀", "height at the nut", floor.nut_mm, "mm")
                .put("z_m", "least height at the nut", floor.least_mm, "mm")
                .gives(floor.most_removal_mm(), "mm", SIMILAR),
        );
        chain
    }

    fn before_saddle(&self, place: usize) -> Vec<Working> {
        let mut chain = places::reading(self.bench, Place::Action(place));
        chain.push(places::action_target(self.bench, place, String::new()));
        chain
    }

    /// What a millimetre at the 12th is at the bridge.
    fn saddle_factor(&self, place: usize) -> Working {
        let told = Working::new(
            "",
            format!("what a millimetre at the 12th is at the bridge, string {}", place + 1),
            "k = (L + ΔS − x_s)/(x₁₂ − x_s)",
        )
        .put("L", "nominal scale", self.bench.frame(place).scale_mm(), "mm")
        .put("ΔS", "set-back of the saddle", self.bench.setback_mm(place), "mm");
        self.own_places(told, place, &["x_s", "x₁₂"]).gives(self.bench.saddle_factor(place), "", SIMILAR)
    }
}
