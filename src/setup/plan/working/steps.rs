//! How the amounts of what can be undone came about: screws and posts turned, a nut or a bridge that goes as one, a
//! shim under the neck, break points set back.

use super::across::Line;
use super::places::{self, Place};
use super::told::{SIMILAR, Told};
use crate::setup::cut::working::{Before, explain_after, sensitivities};
use crate::setup::cut::{CutOutput, Ends};
use crate::setup::neck_shim::ShimAt;
use crate::setup::plan::across::Across;
use crate::setup::plan::bridge::{self, PostsFit};
use crate::setup::plan::intonation::{self, move_for_cents_mm};
use crate::setup::plan::neck;
use crate::setup::plan::nut::{AtNut, clamped_fit};
use crate::setup::plan::output::Step;
use crate::setup::plan::read::as_number;
use crate::working::{Working, Workings};

/// Eighths of a turn, halves up.
const EIGHTHS: &str = "to the eighth, halves up; common practice, no source";

impl Told<'_> {
    pub(super) fn adjusted(&self, step: &Step, workings: &mut Workings) {
        match (&step.turn_down_mm, step.posts_miss_mm) {
            (Some(_), Some(_)) => self.posts(step, workings),
            (Some(_), None) => self.turned(step, workings),
            (None, _) => {}
        }
        if let Some(raised) = step.raise_nut_mm {
            workings.figure("/raise_nut_mm", || self.nut_as_one(raised));
        }
        if let Some(shim) = step.shim_mm {
            workings.figure("/shim_mm", || self.shim(shim));
        }
        for (place, _) in some(step.setback_now_mm.as_ref()) {
            let of = format!("/setback_now_mm/{place}");
            workings.figure(&of, || places::setback_now(self.bench, place, of.clone()));
        }
        for (place, setback, expanded) in
            each(step.setback_to_add_mm.as_ref(), step.setback_to_add_expanded_mm.as_ref())
        {
            workings.figure(&format!("/setback_to_add_mm/{place}"), || self.setback_of(place, setback, expanded));
        }
        if step.move_bridge_mm.is_some() {
            workings.figure("/move_bridge_mm", || self.moved());
        }
    }

    fn turned(&self, step: &Step, workings: &mut Workings) {
        for (place, turn, expanded) in each(step.turn_down_mm.as_ref(), step.turn_down_expanded_mm.as_ref()) {
            // one chain tells both: the uncertainty follows from the same reading
            workings.figure(&format!("/turn_down_mm/{place}"), || self.turn(place, turn, expanded));
        }
        for (place, turns) in some(step.turns.as_ref()) {
            let down = step.turn_down_mm.as_ref().and_then(|down| down.get(place).copied().flatten()).unwrap_or(0.0);
            let of = format!("/turns/{place}");
            workings.figure(&of, || vec![self.turns(of.clone(), down, turns)]);
        }
        if let Some(left) = step.travel_left_mm {
            let last = self.bench.strings.len().saturating_sub(1);
            workings.figure("/travel_left_mm", || {
                let mut chain = self.shown();
                for (name, place, left) in [("treble", 0, left.treble), ("bass", last, left.bass)] {
                    let travel = bridge::travel(self.bench, self.bench.position_mm(place)).unwrap_or(0.0);
                    let down = bridge::turned(self.bench, place).map_or(0.0, |turned| turned.down_mm);
                    chain.push(travel_left(name, travel, down, left));
                }
                chain
            });
        }
    }

    fn shown(&self) -> Vec<Working> {
        [true, false].into_iter().flat_map(|treble| places::reading(self.bench, Place::Showing { treble })).collect()
    }

    fn turns(&self, of: String, down_mm: f64, turns: f64) -> Working {
        Working::new(of, "turns of the screw; minus is up", "n = ⌊a/s·8 + 1/2⌋/8")
            .put("a", "down by", down_mm, "mm")
            .put("s", "height of one full turn", self.bench.input.instrument.screw_pitch_mm.unwrap_or(1.0), "mm")
            .gives(turns, "", EIGHTHS)
    }

    fn turn(&self, place: usize, turn: f64, expanded: f64) -> Vec<Working> {
        let mut chain = self.before_saddle(place);
        let action = self.bench.strings.get(place).and_then(|string| string.action);
        let (height, unsure) = action.map_or((0.0, 0.0), |action| (action.value, action.expanded));
        let factor = self.bench.saddle_factor(place);
        let k = |working: Working| working.put("k", "what a millimetre at the 12th is at the bridge", factor, "");
        chain.push(self.saddle_factor(place));
        let told = Working::new(
            format!("/turn_down_expanded_mm/{place}"),
            format!("expanded uncertainty of the turn, string {}", place + 1),
            "U = U_h·k",
        )
        .put("U_h", "of the height at the 12th", unsure, "mm");
        chain.push(k(told).gives(expanded, "mm", SIMILAR));
        let travel = bridge::turned(self.bench, place).and_then(|turned| turned.travel_mm);
        let formula = if travel.is_some() { "a = min((h − h_t)·k, v)" } else { "a = (h − h_t)·k" };
        let told = Working::new(
            format!("/turn_down_mm/{place}"),
            format!("turn the saddle of string {} down by; minus is up", place + 1),
            formula,
        )
        .put("h", "height at the 12th", height, "mm")
        .put("h_t", "target", self.bench.action_target(place), "mm");
        let told = match travel {
            Some(travel) => told.put("v", "how far it can go", travel, "mm"),
            None => told,
        };
        chain.push(k(told).gives(turn, "mm", SIMILAR));
        chain
    }

    /// What one string wishes at the bridge, on the way.
    fn wish(&self, place: usize, wished: f64) -> Vec<Working> {
        let mut chain = self.before_saddle(place);
        chain.push(self.saddle_factor(place));
        let height = self.bench.strings.get(place).and_then(|string| string.action).map_or(0.0, |read| read.value);
        chain.push(
            Working::new("", format!("wished down at the bridge, string {}", place + 1), "w = (h − h_t)·k")
                .put("h", "height at the 12th", height, "mm")
                .put("h_t", "target", self.bench.action_target(place), "mm")
                .put("k", "what a millimetre at the 12th is at the bridge", self.bench.saddle_factor(place), "")
                .gives(wished, "mm", SIMILAR),
        );
        chain
    }

    fn wishes(&self, line: &Line<'_>) -> Vec<Working> {
        let wished = |place: usize| {
            let string = line.across.strings.iter().find(|string| string.place == place);
            string.map_or(0.0, |string| string.wish.mm)
        };
        let mut chain: Vec<Working> =
            line.rests_on().into_iter().flat_map(|place| self.wish(place, wished(place))).collect();
        if line.across.limits.is_some() {
            chain.extend(self.shown());
        }
        chain.extend(line.chain());
        chain
    }

    fn posts(&self, step: &Step, workings: &mut Workings) {
        let Some(fit) = bridge::posts_fit(self.bench) else { return };
        let whole = Line { across: &fit.across, line: &fit.line, wish: "down at the bridge" };
        let (across, line) = fit.set();
        let set = Line { across, line, wish: "down at the bridge" };
        workings.figure("", || {
            let mut chain = self.wishes(&whole);
            let posts = step.posts_down_mm.zip(step.posts_down_expanded_mm);
            if posts.is_some() {
                chain.extend(at_ends(&whole, fit.at, "/posts_down_mm", "/posts_down_expanded_mm", "of the post"));
            }
            chain.push(whole.miss(
                "/posts_miss_mm".to_owned(),
                "how far the bridge then is from what the worst string asks".to_owned(),
            ));
            chain.extend(self.ends_in_turns("/posts_turns", step.posts_down_mm, step.posts_turns));
            chain
        });
        if let (Some((place, ..)), Some(without)) = (&fit.without, step.posts_without) {
            workings.figure("/posts_without", || {
                let mut chain = self.wishes(&set);
                for (name, at) in [("treble", fit.at.0), ("bass", fit.at.1)] {
                    let of = format!("/posts_without/{name}_mm");
                    chain.push(set.at(of, format!("the {name} post down, one string left out"), at));
                }
                let what = "how far the bridge then is from what the worst of the others asks".to_owned();
                chain.push(set.miss("/posts_without/miss_mm".to_owned(), what));
                chain.extend(self.notch(&fit, *place, "/posts_without/notch_mm".to_owned()));
                let ends = Ends { treble: without.treble_mm, bass: without.bass_mm };
                chain.extend(self.ends_in_turns("/posts_without/turns", Some(ends), without.turns));
                chain
            });
        }
        workings.figure("", || self.under_strings(step, &set));
        if let Some(left) = step.travel_left_mm {
            workings.figure("/travel_left_mm", || {
                let most = across.limits.map_or((0.0, 0.0), |limits| limits.most);
                vec![
                    travel_left("treble", most.0, set.line.line.at(fit.at.0), left.treble),
                    travel_left("bass", most.1, set.line.line.at(fit.at.1), left.bass),
                ]
            });
        }
    }

    /// How far the bridge goes down under each string, and how sure that is.
    fn under_strings(&self, step: &Step, set: &Line<'_>) -> Vec<Working> {
        let mut chain =
            if set.across.strings.len() == self.bench.strings.len() { Vec::new() } else { self.wishes(set) };
        for (place, _, _) in each(step.turn_down_mm.as_ref(), step.turn_down_expanded_mm.as_ref()) {
            let position = self.bench.position_mm(place);
            let what = format!("the bridge goes down under string {}; minus is up", place + 1);
            chain.push(set.at(format!("/turn_down_mm/{place}"), what, position));
            let [parts, _] = set.across.unsure((position, position));
            let told = (format!("/turn_down_expanded_mm/{place}"), format!("that under string {}", place + 1));
            chain.extend(sensitivities(told, &parts, None));
        }
        chain
    }

    fn ends_in_turns(&self, at: &str, down: Option<Ends>, turns: Option<Ends>) -> Vec<Working> {
        let Some((down, turns)) = down.zip(turns) else {
            return Vec::new();
        };
        vec![
            self.turns(format!("{at}/treble"), down.treble, turns.treble),
            self.turns(format!("{at}/bass"), down.bass, turns.bass),
        ]
    }

    /// What a string's own notch is off once the posts are set.
    fn notch(&self, fit: &PostsFit, place: usize, of: String) -> Vec<Working> {
        let (_, line) = fit.set();
        let wished =
            fit.across.strings.iter().find(|string| string.place == place).map_or(0.0, |string| string.wish.mm);
        let stands = line.line.at(self.bench.position_mm(place));
        let mut chain = self.wish(place, wished);
        chain.push(
            Working::new(of, format!("left to the notch of string {}; minus is to be raised", place + 1), "n = w − y")
                .put("w", "wished down at the bridge", wished, "mm")
                .put("y", "the posts bring it down there by", stands, "mm")
                .gives(wished - stands, "mm", "a difference"),
        );
        chain
    }

    /// A notch's cut: from the height at the 12th as it will stand once the posts are set.
    pub(super) fn notches(&self, cut: &CutOutput, workings: &mut Workings) {
        let Some(fit) = bridge::posts_fit(self.bench) else { return };
        let deepened: Vec<usize> =
            (1..).zip(&cut.strings).filter(|(_, string)| string.exact_mm.is_some()).map(|(number, _)| number).collect();
        let input = bridge::notches_cut_input(self.bench, &fit, &deepened);
        let (across, line) = fit.set();
        let set = Line { across, line, wish: "down at the bridge" };
        explain_after(&input, cut, workings, &|read| {
            let Before::String(place) = read else { return Vec::new() };
            let Some(height) = input.strings.get(place).and_then(|string| string.action_12_mm) else {
                return Vec::new();
            };
            let mut chain = self.before_saddle(place);
            chain.push(self.saddle_factor(place));
            chain.extend(self.wishes(&set));
            let position = self.bench.position_mm(place);
            chain.push(set.at(String::new(), format!("the posts bring string {} down by", place + 1), position));
            let read = self.bench.strings.get(place).and_then(|string| string.action).map_or(0.0, |read| read.value);
            chain.push(
                Working::new(
                    "",
                    format!("height at the 12th once the posts are set, string {}", place + 1),
                    "h′ = max(h − y/k, 0)",
                )
                .put("h", "height at the 12th", read, "mm")
                .put("y", "the posts bring it down by", line.line.at(position), "mm")
                .put("k", "what a millimetre at the 12th is at the bridge", self.bench.saddle_factor(place), "")
                .gives(height, "mm", SIMILAR),
            );
            chain
        });
    }

    fn nut_as_one(&self, raised: Ends) -> Vec<Working> {
        let Some(fit) = clamped_fit(self.bench, &self.judged.nut) else {
            return Vec::new();
        };
        let _ = raised;
        let line = Line { across: &fit.across, line: &fit.line, wish: "up at the nut" };
        let mut chain = Vec::new();
        for place in line.rests_on() {
            let Some(judged) = self.judged.nut.strings.get(place).and_then(Option::as_ref) else { continue };
            chain.extend(self.wish_at_nut(place, judged));
        }
        chain.extend(line.chain());
        chain.extend(at_ends(&line, fit.across.outer(), "/raise_nut_mm", "/raise_nut_expanded_mm", "of the nut"));
        chain
    }

    fn wish_at_nut(&self, place: usize, judged: &AtNut) -> Vec<Working> {
        let bench = self.bench;
        let k = bench.nut_factor(place, judged.is_gap);
        let mut chain = if judged.is_gap {
            places::reading(bench, Place::Gap(place))
        } else {
            let mut chain = places::reading(bench, Place::FirstFret(place));
            chain.push(places::first_target(bench, place, String::new()));
            chain
        };
        let what = format!("what a millimetre of the reading is at the nut, string {}", place + 1);
        chain.push(if judged.is_gap {
            let told = Working::new("", what, "k = 1/(1 − (x₁ − x_s)/(x₃ − x_s))");
            self.own_places(told, place, &["x_s", "x₁", "x₃"]).gives(k, "", SIMILAR)
        } else {
            let told = Working::new("", what, "k = 1/(1 − (x₁ − x_s)/(L + ΔS − x_s))")
                .put("L", "nominal scale", bench.frame(place).scale_mm(), "mm")
                .put("ΔS", "set-back of the saddle", bench.setback_mm(place), "mm");
            self.own_places(told, place, &["x_s", "x₁"]).gives(k, "", SIMILAR)
        });
        chain.push(
            Working::new("", format!("wished up at the nut, string {}", place + 1), "w = (h_t − h)·k")
                .put("h_t", "target", judged.target, "mm")
                .put("h", "reading", judged.read.value, "mm")
                .put("k", "what a millimetre of the reading is at the nut", k, "")
                .gives((judged.target - judged.read.value) * k, "mm", SIMILAR),
        );
        chain
    }

    fn shim(&self, thickness: f64) -> Vec<Working> {
        let Some(shim) = neck::shim(self.bench) else {
            return Vec::new();
        };
        let wishes: Vec<(usize, f64)> = neck::wishes(self.bench);
        let mut chain: Vec<Working> = wishes.iter().flat_map(|(place, wished)| self.wish(*place, *wished)).collect();
        chain.push(
            Working::new("", "down at the bridge, the same under every string; minus is up", "Δ = Σ(wᵢ)/n")
                .put_each("w", "wished down at the bridge, string read", wishes.iter().map(|(_, wish)| *wish), "mm")
                .put("n", "strings read", as_number(wishes.len()), "")
                .gives(shim.change_mm, "mm", "a mean"),
        );
        let (pivot, edge) = match shim.at {
            ShimAt::Rear => ("front", shim.pocket.front),
            ShimAt::Front => ("rear", shim.pocket.rear),
        };
        chain.push(
            Working::new("", "angle of the neck, radians", "θ = |Δ|/(x_S − x_p)")
                .put("Δ", "down at the bridge", shim.change_mm, "mm")
                .put("x_S", "where the saddle stands", shim.saddle_at_mm, "mm")
                .put("x_p", format!("the heel pivots on the pocket's {pivot} edge"), edge, "mm")
                .gives(shim.angle, "", SIMILAR),
        );
        chain.push(
            Working::new("/shim_mm", "a taper over the whole pocket, at its thick end", "t = θ·(R − F)")
                .put("θ", "angle of the neck", shim.angle, "")
                .put("R", "rear edge of the pocket", shim.pocket.rear, "mm")
                .put("F", "front edge of the pocket", shim.pocket.front, "mm")
                .gives(thickness, "mm", SIMILAR),
        );
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

    /// A bridge that moves whole.
    fn moved(&self) -> Vec<Working> {
        let Some(moved) = intonation::moved(self.bench) else {
            return Vec::new();
        };
        let line = Line { across: &moved.across, line: &moved.line, wish: "away from the frets" };
        let mut chain: Vec<Working> = line.rests_on().into_iter().flat_map(|place| self.move_of(place)).collect();
        chain.extend(line.chain());
        let outer = moved.across.outer();
        chain.extend(at_ends(&line, outer, "/move_bridge_mm", "/move_bridge_expanded_mm", "of the bridge"));
        let what = "how far the bridge then is from where the worst string wishes it".to_owned();
        chain.push(line.miss("/move_bridge_miss_mm".to_owned(), what));
        chain
    }

    /// What one string's cents ask of the bridge.
    fn move_of(&self, place: usize) -> Vec<Working> {
        let cents = self.bench.strings.get(place).and_then(|string| string.cents).map_or(0.0, |cents| cents.value);
        let (open, stopped) = intonation::lengths_mm(self.bench, place);
        let ratio = open / stopped * (-cents / 1200.0).exp2();
        let on = format!("string {}", place + 1);
        let mut chain = places::reading(self.bench, Place::Cents(place));
        chain.extend(places::setback_now(self.bench, place, String::new()));
        chain.push(
            Working::new(
                "",
                format!("ratio of the two lengths that would be in tune, {on}"),
                "q = l_o/l_s·2^(−c/1200)",
            )
            .put("l_o", "sounding length today, open", open, "mm")
            .put("l_s", "sounding length today, stopped at the 12th", stopped, "mm")
            .put("c", "error at the 12th", cents, "cents")
            .gives(ratio, "", "twelve-tone equal temperament; any acoustics text"),
        );
        chain.push(
            Working::new("", format!("wished away from the frets, {on}"), "w = (l_o − q·l_s)/(q − 1)")
                .put("l_o", "sounding length today, open", open, "mm")
                .put("q", "ratio that would be in tune", ratio, "")
                .put("l_s", "sounding length today, stopped at the 12th", stopped, "mm")
                .gives(move_for_cents_mm(open, stopped, cents), "mm", "derived here: both lengths grow by the move"),
        );
        chain
    }
}

/// A line at the two ends where it is set, with how sure that is.
fn at_ends(line: &Line<'_>, at: (f64, f64), under: &str, expanded: &str, what: &str) -> Vec<Working> {
    let across: &Across = line.across;
    let parts = across.unsure(at);
    let mut chain = Vec::new();
    for ((name, at), parts) in [("treble", at.0), ("bass", at.1)].into_iter().zip(&parts) {
        chain.push(line.at(format!("{under}/{name}"), format!("how far the {name} end {what} goes"), at));
        let told = (format!("{expanded}/{name}"), format!("the {name} end {what}"));
        chain.extend(sensitivities(told, parts, None));
    }
    chain
}

fn travel_left(name: &str, travel: f64, down: f64, left: f64) -> Working {
    Working::new(format!("/travel_left_mm/{name}"), format!("travel left afterwards, {name}"), "l = v − a")
        .put("v", "how far it can go down", travel, "mm")
        .put("a", "turned down by", down, "mm")
        .gives(left, "mm", "a difference")
}

/// Place and number of each string that has one.
fn some(numbers: Option<&Vec<Option<f64>>>) -> impl Iterator<Item = (usize, f64)> + '_ {
    numbers.into_iter().flatten().enumerate().filter_map(|(place, number)| Some((place, (*number)?)))
}

/// Place, amount and expanded uncertainty of each string that has one.
fn each<'a>(
    amounts: Option<&'a Vec<Option<f64>>>,
    expanded: Option<&'a Vec<Option<f64>>>,
) -> impl Iterator<Item = (usize, f64, f64)> + 'a {
    let both = amounts.into_iter().flatten().zip(expanded.into_iter().flatten()).enumerate();
    both.filter_map(|(place, (mm, expanded))| Some((place, (*mm)?, (*expanded)?)))
}
