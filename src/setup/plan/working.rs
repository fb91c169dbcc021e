//! How each number of a plan came about: from the reading's mean and its uncertainty to the exact amount,
//! the guard and the first pass; each finding's figures; each end of a forecast.

mod findings;
mod forecasts;
mod places;

use self::forecasts::Ranges;
use self::places::Place;
use super::bench::Bench;
use super::nut::{self, Stood};
use super::plan;
use super::saddle;
use super::targets::HouseTargets;
use super::types::{PlanInput, PlanOutput, Step};
use crate::setup::cut::working::Before;
use crate::setup::cut::{self, CutInput, CutOutput};
use crate::setup::frame::fret_position_mm;
use crate::working::{Working, Workings};

/// What every height and amount of a plan follows from.
const SIMILAR: &str = "derived here: similar triangles, straight string between nut and saddle";

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
    let apart = nut::apart(&bench);
    let stood = Stood::of(&bench, &apart);
    let nut_input = stood.cut_input(&bench);
    let nut_amounts = stood.has_work().then(|| cut::cut(&nut_input).ok()).flatten();
    let told = Told { bench: &bench, output, stood: &stood, nut_input: &nut_input, nut_amounts: nut_amounts.as_ref() };
    for (place, finding) in output.findings.iter().enumerate() {
        let at = format!("/findings/{place}/numbers");
        workings.within(&at, |workings| told.finding(finding, &apart, workings));
    }
    for (place, step) in output.steps.iter().enumerate() {
        workings.within(&format!("/steps/{place}"), |workings| told.step(step, workings));
    }
}

/// One plan with what it was made from.
struct Told<'a> {
    bench: &'a Bench<'a>,
    output: &'a PlanOutput,
    stood: &'a Stood,
    nut_input: &'a CutInput,
    /// Nothing where the nut stays as it is.
    nut_amounts: Option<&'a CutOutput>,
}

impl Told<'_> {
    fn step(&self, step: &Step, workings: &mut Workings) {
        if let Some(cut) = &step.cut {
            workings.within("/cut", |workings| self.cut(step, cut, workings));
        }
        for (place, turn, expanded) in each(step.turn_down_mm.as_ref(), step.turn_down_expanded_mm.as_ref()) {
            // one chain tells both: the uncertainty follows from the same reading
            workings.figure(&format!("/turn_down_mm/{place}"), || self.turn(place, turn, expanded));
        }
        for (place, setback, expanded) in
            each(step.setback_to_add_mm.as_ref(), step.setback_to_add_expanded_mm.as_ref())
        {
            workings.figure(&format!("/setback_to_add_mm/{place}"), || self.setback_of(place, setback, expanded));
        }
        if let Some(forecast) = &step.forecast {
            let ranges = Ranges::of(self);
            for place in
                (0..forecast.strings.len()).filter(|place| forecast.strings.get(*place).is_some_and(Option::is_some))
            {
                let at = format!("/forecast/strings/{place}");
                workings.figure(&at, || ranges.chain(&forecast.quantity, &step.key, place, &at));
            }
        }
    }

    fn cut(&self, step: &Step, cut: &CutOutput, workings: &mut Workings) {
        if step.key.starts_with("nut-") {
            cut::working::explain_after(self.nut_input, cut, workings, &|read| match read {
                Before::String(place) => self.before_nut(place, cut),
                Before::Showing => Vec::new(),
            });
        } else {
            let input = saddle::cut_input(self.bench);
            cut::working::explain_after(&input, cut, workings, &|read| match read {
                Before::String(place) => self.before_saddle(place),
                Before::Showing => {
                    let ends = [true, false].into_iter();
                    ends.flat_map(|treble| places::reading(self.bench, Place::Showing { treble })).collect()
                }
            });
        }
    }

    /// The reading at the nut, its target, and where the nut's least is.
    fn before_nut(&self, place: usize, cut: &CutOutput) -> Vec<Working> {
        let Some(judged) = self.stood.judged.get(place).and_then(Option::as_ref) else {
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

    fn nut_floor(&self, place: usize, is_gap: bool) -> Vec<Working> {
        let (bench, frame) = (self.bench, &self.bench.frame);
        let Some((floor, read)) = nut::nut_floor(bench, place).zip(bench.strings.get(place)) else {
            return Vec::new();
        };
        let action = read.action.map_or(0.0, |action| action.value);
        let (x, top) = (|fret| frame.position_mm(fret), |fret| frame.top_mm(fret));
        let on = format!("string {}", place + 1);
        let mut chain = places::reading(bench, Place::Action(place));
        let nut = if is_gap {
            Working::new("", format!("height at the nut from the gap, {on}"), "z₀ = (G + u₁ − u₃·x₁/x₃)/(1 − x₁/x₃)")
                .put("G", "gap over the 1st stopped at the 3rd", read.gap.map_or(0.0, |gap| gap.value), "mm")
                .put("u₁", "top of fret 1 over the line", top(1), "mm")
                .put("u₃", "top of fret 3 over the line", top(3), "mm")
                .put("x₁", "position of fret 1", x(1), "mm")
                .put("x₃", "position of fret 3", x(3), "mm")
        } else {
            let formula = "z₀ = h₁ + u₁ − ((h₁₂ + u₁₂) − (h₁ + u₁))/(x₁₂ − x₁)·x₁";
            Working::new("", format!("height at the nut from the open heights, {on}"), formula)
                .put("h₁", "height over fret 1", read.first.map_or(0.0, |first| first.value), "mm")
                .put("u₁", "top of fret 1 over the line", top(1), "mm")
                .put("h₁₂", "height over fret 12", action, "mm")
                .put("u₁₂", "top of fret 12 over the line", top(12), "mm")
                .put("x₁₂", "position of fret 12", x(12), "mm")
                .put("x₁", "position of fret 1", x(1), "mm")
        };
        chain.push(nut.gives(floor.nut_mm, "mm", SIMILAR));
        chain.push(
            Working::new("", format!("height at the saddle, {on}"), "z_L = z₀ + (h₁₂ + u₁₂ − z₀)·L/x₁₂")
                .put("z₀", "height at the nut", floor.nut_mm, "mm")
                .put("h₁₂", "height over fret 12", action, "mm")
                .put("u₁₂", "top of fret 12 over the line", top(12), "mm")
                .put("L", "nominal scale", frame.scale_mm(), "mm")
                .put("x₁₂", "position of fret 12", x(12), "mm")
                .gives(floor.saddle_mm, "mm", SIMILAR),
        );
        chain.push(
            Working::new(
                "",
                format!("least height at the nut, {on}: the open string no closer to fret 1 than to fret 2 when stopped at 1"),
                "z_m = (u₁ + (z_L − u₁)·(x₂ − x₁)/(L − x₁) − u₂ + u₁ − z_L·x₁/L)/(1 − x₁/L)",
            )
            .put("u₁", "top of fret 1 over the line", top(1), "mm")
            .put("z_L", "height at the saddle", floor.saddle_mm, "mm")
            .put("x₂", "position of fret 2", x(2), "mm")
            .put("x₁", "position of fret 1", x(1), "mm")
            .put("L", "nominal scale", frame.scale_mm(), "mm")
            .put("u₂", "top of fret 2 over the line", top(2), "mm")
            .gives(floor.least_mm, "mm", SIMILAR),
        );
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

    /// What a millimetre at the 12th is at the saddle.
    fn saddle_factor(&self) -> Working {
        let instrument = &self.bench.input.instrument;
        Working::new("", "what a millimetre at the 12th is at the saddle", "k = (L + ΔS)/x₁₂")
            .put("L", "nominal scale", instrument.scale_mm, "mm")
            .put("ΔS", "set-back of the saddle", instrument.saddle_setback_mm, "mm")
            .put("x₁₂", "position of fret 12", fret_position_mm(instrument.scale_mm, 12), "mm")
            .gives(self.bench.saddle_factor(), "", SIMILAR)
    }

    fn turn(&self, place: usize, turn: f64, expanded: f64) -> Vec<Working> {
        let mut chain = self.before_saddle(place);
        let action = self.bench.strings.get(place).and_then(|string| string.action);
        let (height, unsure) = action.map_or((0.0, 0.0), |action| (action.value, action.expanded));
        let factor = self.bench.saddle_factor();
        let k = |working: Working| working.put("k", "what a millimetre at the 12th is at the saddle", factor, "");
        chain.push(self.saddle_factor());
        let told = Working::new(
            format!("/turn_down_expanded_mm/{place}"),
            format!("expanded uncertainty of the turn, string {}", place + 1),
            "U = U_h·k",
        )
        .put("U_h", "of the height at the 12th", unsure, "mm");
        chain.push(k(told).gives(expanded, "mm", SIMILAR));
        let told = Working::new(
            format!("/turn_down_mm/{place}"),
            format!("turn the saddle of string {} down by; minus is up", place + 1),
            "a = (h − h_t)·k",
        )
        .put("h", "height at the 12th", height, "mm")
        .put("h_t", "target", self.bench.action_target(place), "mm");
        chain.push(k(told).gives(turn, "mm", SIMILAR));
        chain
    }

    fn setback_of(&self, place: usize, setback: f64, expanded: f64) -> Vec<Working> {
        let cents = self.bench.strings.get(place).and_then(|string| string.cents);
        let (value, unsure) = cents.map_or((0.0, 0.0), |cents| (cents.value, cents.expanded));
        let mut chain = places::reading(self.bench, Place::Cents(place));
        chain.push(self.expanded_setback(place, unsure, expanded));
        chain.push(self.setback(format!("/setback_to_add_mm/{place}"), place, value, setback));
        chain
    }
}

/// Place, amount and expanded uncertainty of each string that has one.
fn each<'a>(
    amounts: Option<&'a Vec<Option<f64>>>,
    expanded: Option<&'a Vec<Option<f64>>>,
) -> impl Iterator<Item = (usize, f64, f64)> + 'a {
    let both = amounts.into_iter().flatten().zip(expanded.into_iter().flatten()).enumerate();
    both.filter_map(|(place, (mm, expanded))| Some((place, (*mm)?, (*expanded)?)))
}
