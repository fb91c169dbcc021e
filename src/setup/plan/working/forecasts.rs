//! How each end of a forecast came about.

use super::places::{self, Place};
use super::{SIMILAR, Told};
use crate::setup::frame::{felt_from_nut, fret_position_mm, relief_effect_at_12};
use crate::setup::intonation::{self, Chain};
use crate::setup::plan::bench::{Read, as_number};
use crate::setup::plan::intonation::{as_it_is, heights_asked};
use crate::setup::plan::nut::{Judged, removal_ranges};
use crate::setup::plan::relief;
use crate::setup::plan::types::Range;
use crate::working::Working;

/// From "ends tied" to "even bend from the joint".
const RELIEF: &str =
    "derived here: relief as a parabola; the truth lies between tied ends and an even bend from the joint";
const SUM: &str = "derived here: worst case of both models, with the readings' expanded uncertainty";

/// A plan's forecasts, with what they all follow from.
pub(super) struct Ranges<'a> {
    told: &'a Told<'a>,
    /// Change of relief that is planned, mm.
    change: f64,
    at_nut: Vec<Option<Range>>,
}

impl<'a> Ranges<'a> {
    pub(super) fn of(told: &'a Told<'a>) -> Self {
        let planned = |key: &str| told.output.steps.iter().any(|step| step.key == key);
        let change = relief::change_mm(told.bench, planned("relief-too-much") || planned("relief-too-little"));
        let at_nut = told
            .nut_amounts
            .map(|amounts| removal_ranges(told.bench, change, &told.stood.judged, amounts))
            .unwrap_or_default();
        Self { told, change, at_nut }
    }

    pub(super) fn chain(&self, quantity: &str, key: &str, place: usize, at: &str) -> Vec<Working> {
        match quantity {
            "action_12_mm" => self.heights(place, at),
            "nut_removal_mm" => self.nut(place, Some(at), self.lift(key)),
            "saddle_removal_mm" => self.saddle(place, at),
            "saddle_setback_mm" => self.set_backs(place, at),
            _ => Vec::new(),
        }
    }

    fn action(&self, place: usize) -> Option<Read> {
        self.told.bench.strings.get(place)?.action
    }

    fn change_of_relief(&self) -> Vec<Working> {
        let bench = self.told.bench;
        let mut chain = places::reading(bench, Place::Relief);
        if let Some(relief) = bench.relief.filter(|_| self.change != 0.0) {
            chain.push(
                Working::new("", "change of relief that is planned", "d = r_t − r")
                    .put("r_t", "relief wished", bench.targets.relief_mm, "mm")
                    .put("r", "relief as read", relief.value, "mm")
                    .gives(self.change, "mm", "a difference"),
            );
        }
        chain
    }

    /// What a millimetre of relief is at the 12th, by both models.
    fn felt_at_12(&self) -> [Working; 2] {
        let instrument = &self.told.bench.input.instrument;
        let (tied, bent) = relief_effect_at_12(instrument.scale_mm, instrument.body_fret);
        let x = |working: Working| {
            working
                .put("x₁₂", "position of fret 12", fret_position_mm(instrument.scale_mm, 12), "mm")
                .put("x₁", "position of fret 1", fret_position_mm(instrument.scale_mm, 1), "mm")
                .put(
                    "x_B",
                    "position of the body joint's fret",
                    fret_position_mm(instrument.scale_mm, instrument.body_fret),
                    "mm",
                )
        };
        [
            x(Working::new(
                "",
                "what a millimetre of relief is at the 12th, ends tied",
                "g_t = max(4·(x₁₂ − x₁)·(x_B − x₁₂)/(x_B − x₁)², 0)",
            ))
            .gives(tied, "", RELIEF),
            x(Working::new(
                "",
                "what a millimetre of relief is at the 12th, even bend from the joint",
                "g_b = max(4·(x_B²·(1 − x₁₂/L) − max(x_B − x₁₂, 0)²)/(x_B − x₁)², g_t)",
            ))
            .put("L", "nominal scale", instrument.scale_mm, "mm")
            .put("g_t", "the same with tied ends", tied, "")
            .gives(bent, "", RELIEF),
        ]
    }

    fn heights(&self, place: usize, at: &str) -> Vec<Working> {
        let bench = self.told.bench;
        let (Some(action), Some(relief)) = (self.action(place), bench.relief) else {
            return Vec::new();
        };
        let instrument = &bench.input.instrument;
        let (tied, bent) = relief_effect_at_12(instrument.scale_mm, instrument.body_fret);
        let felt = relief::felt_at_12(bench, self.change);
        let unsure = relief::felt_at_12(bench, relief.expanded).most;
        let expanded = action.expanded.hypot(unsure);
        let mut chain = places::reading(bench, Place::Action(place));
        chain.extend(self.change_of_relief());
        chain.extend(self.felt_at_12());
        chain.push(
            Working::new("", format!("uncertainty of the forecast, string {}", place + 1), "U = √(U_h² + (g_b·U_r)²)")
                .put("U_h", "expanded uncertainty at the 12th", action.expanded, "mm")
                .put("g_b", "what a millimetre of relief is at the 12th, at most", bent, "")
                .put("U_r", "expanded uncertainty of relief", relief.expanded, "mm")
                .gives(expanded, "mm", "JCGM 100:2008 (GUM) 5.1.2"),
        );
        for (name, pick, sign, felt_mm) in [("least", "min", "−", felt.least), ("most", "max", "+", felt.most)] {
            let result =
                if name == "least" { action.value + felt_mm - expanded } else { action.value + felt_mm + expanded };
            chain.push(
                Working::new(
                    format!("{at}/{name}"),
                    format!("height at the 12th once relief is set, {name}, string {}", place + 1),
                    format!("h′ = h + {pick}(d·g_t, d·g_b) {sign} U"),
                )
                .put("h", "height at the 12th", action.value, "mm")
                .put("d", "change of relief", self.change, "mm")
                .put("g_t", "what a millimetre of it is there, ends tied", tied, "")
                .put("g_b", "the same, even bend from the joint", bent, "")
                .put("U", "uncertainty", expanded, "mm")
                .gives(result, "mm", SUM),
            );
        }
        chain
    }

    /// Shims under low strings lift the whole nut: what the high ones may have to lose more.
    fn lift(&self, key: &str) -> Option<(f64, f64)> {
        let shims = self.told.nut_amounts?.raise.iter().map(|raise| raise.shims).max().unwrap_or(0);
        (key == "nut-high").then(|| (as_number(shims), self.told.bench.house.bench.shim_mm))
    }

    /// `at` where the range is the answer's; on the way to the saddle's `None`.
    fn nut(&self, place: usize, at: Option<&str>, lift: Option<(f64, f64)>) -> Vec<Working> {
        let bench = self.told.bench;
        let (Some(range), Some(Some(judged)), Some(amounts)) =
            (self.at_nut.get(place).copied().flatten(), self.told.stood.judged.get(place), self.told.nut_amounts)
        else {
            return Vec::new();
        };
        let Some(exact) = amounts.strings.get(place).and_then(|string| string.exact_mm) else {
            return Vec::new();
        };
        let Judged { read, is_gap, .. } = judged;
        let models = if *is_gap { self.told.felt_at_gap() } else { self.told.felt_at_first() };
        let (tied, bent) = if *is_gap { relief::models_at_gap(bench) } else { relief::models_at_first(bench) };
        let (x_1, x_3) = (bench.frame.position_mm(1), bench.frame.position_mm(3));
        let sounding = bench.sounding_mm();
        let factor = if *is_gap { 1.0 / (1.0 - x_1 / x_3) } else { sounding / (sounding - x_1) };
        let mut chain = self.told.before_nut(place, amounts);
        chain.extend(crate::setup::cut::working::exact_on_the_way(self.told.nut_input, amounts, place));
        chain.extend(self.change_of_relief());
        chain.extend(models);
        for (name, pick, sign, result) in [("least", "min", "−", range.least), ("most", "max", "+", range.most)] {
            let lifted = lift.filter(|_| name == "most");
            let end = if lifted.is_some() { " + n·s" } else { "" };
            let mut told = Working::new(
                at.map_or_else(String::new, |at| format!("{at}/{name}")),
                format!("what the nut may lose, {name}, string {}; minus is raise", place + 1),
                format!("e = a + {pick}(d·g_t, d·g_b)·k {sign} U·k{end}"),
            )
            .put("a", "exact amount by the reading", exact, "mm")
            .put("d", "change of relief that is planned", self.change, "mm")
            .put("g_t", "what a millimetre of it is at the reading, ends tied", tied, "")
            .put("g_b", "the same, even bend from the joint", bent, "")
            .put("k", "what a millimetre of the reading is at the nut", factor, "")
            .put("U", "expanded uncertainty of the reading", read.expanded, "mm");
            let mut result = result;
            if let Some((shims, shim_mm)) = lifted {
                told = told.put("n", "most shims under a low string: they lift the whole nut", shims, "").put(
                    "s",
                    "thickness of a shim",
                    shim_mm,
                    "mm",
                );
                result += shims * shim_mm;
            }
            chain.push(told.gives(result, "mm", SUM));
        }
        chain
    }

    fn saddle(&self, place: usize, at: &str) -> Vec<Working> {
        let bench = self.told.bench;
        let Some(action) = self.action(place) else {
            return Vec::new();
        };
        let instrument = &bench.input.instrument;
        let (tied, bent) = relief_effect_at_12(instrument.scale_mm, instrument.body_fret);
        let felt = relief::felt_at_12(bench, self.change);
        let from_nut = felt_from_nut(fret_position_mm(instrument.scale_mm, 12), bench.sounding_mm());
        let (factor, target) = (bench.saddle_factor(), bench.action_target(place));
        let at_nut = self.at_nut.get(place).copied().flatten().unwrap_or(Range { least: 0.0, most: 0.0 });
        let mut chain = self.told.before_saddle(place);
        chain.extend(self.change_of_relief());
        chain.extend(self.felt_at_12());
        chain.extend(self.nut(place, None, None));
        chain.push(self.told.saddle_factor());
        chain.push(
            Working::new("", "what a millimetre at the nut is at the 12th", "c = 1 − x₁₂/(L + ΔS)")
                .put("x₁₂", "position of fret 12", fret_position_mm(instrument.scale_mm, 12), "mm")
                .put("L", "nominal scale", instrument.scale_mm, "mm")
                .put("ΔS", "set-back of the saddle", instrument.saddle_setback_mm, "mm")
                .gives(from_nut, "", SIMILAR),
        );
        let unsure = action.expanded * factor;
        let over = action.value - target;
        for (name, pick, sign, felt_mm, nut_mm) in
            [("least", "min", "−", felt.least, at_nut.most), ("most", "max", "+", felt.most, at_nut.least)]
        {
            let middle = (over + felt_mm - nut_mm * from_nut) * factor;
            let result = if name == "least" { middle - unsure } else { middle + unsure };
            chain.push(
                Working::new(
                    format!("{at}/{name}"),
                    format!("what the saddle may lose, {name}, string {}; minus is raise", place + 1),
                    format!("e = (h − h_t + {pick}(d·g_t, d·g_b) − v·c)·k {sign} U·k"),
                )
                .put("h", "height at the 12th", action.value, "mm")
                .put("h_t", "target", target, "mm")
                .put("d", "change of relief that is planned", self.change, "mm")
                .put("g_t", "what a millimetre of it is at the 12th, ends tied", tied, "")
                .put("g_b", "the same, even bend from the joint", bent, "")
                .put("v", "what the nut loses before, at the other end of its range", nut_mm, "mm")
                .put("c", "what a millimetre at the nut is at the 12th", from_nut, "")
                .put("k", "what a millimetre at the 12th is at the saddle", factor, "")
                .put("U", "expanded uncertainty at the 12th", action.expanded, "mm")
                .gives(result, "mm", SUM),
            );
        }
        chain
    }

    fn set_backs(&self, place: usize, at: &str) -> Vec<Working> {
        let bench = self.told.bench;
        let cents = bench.strings.get(place).and_then(|string| string.cents);
        let (Some(cents), Some((as_read, as_wished))) = (cents, heights_asked(bench, place)) else {
            return Vec::new();
        };
        let mut chain = places::reading(bench, Place::Cents(place));
        let mut at_12 = [0.0, 0.0];
        for (asked, result) in [as_read, as_wished].iter().zip(&mut at_12) {
            let Ok(found) = Chain::new(asked, 0.0) else {
                return Vec::new();
            };
            chain.extend(intonation::working::string(asked, &found, false));
            chain.extend(intonation::working::open(asked, &found, as_it_is(bench)));
            chain.extend(intonation::working::note(asked, &found, 12, as_it_is(bench), false));
            *result = chain.last().map_or(0.0, |working| working.result);
        }
        let [before, after] = at_12;
        let change = after - before;
        chain.push(
            Working::new(
                "",
                format!("what the wished height changes of the error at the 12th, string {}", place + 1),
                "δ = c_w − c_r",
            )
            .put("c_w", "error by the chain at the height wished", after, "cents")
            .put("c_r", "error by the chain at the height as read", before, "cents")
            .gives(change, "cents", "a difference"),
        );
        let scale = bench.frame.scale_mm();
        for (name, pick, sign) in [("least", "min", "−"), ("most", "max", "+")] {
            let per_cent = scale / crate::setup::plan::intonation::CENTS_PER_LENGTH;
            let (one, other) = (cents.value, cents.value + change);
            let result = if name == "least" {
                (one.min(other) - cents.expanded) * per_cent
            } else {
                (one.max(other) + cents.expanded) * per_cent
            };
            chain.push(
                Working::new(
                    format!("{at}/{name}"),
                    format!("set-back that may be left to add, {name}, string {}", place + 1),
                    format!("s = ({pick}(c, c + δ) {sign} U)·L·ln(2)/1200"),
                )
                .put("c", "error at the 12th as read", cents.value, "cents")
                .put("δ", "what the wished height changes of it", change, "cents")
                .put("U", "expanded uncertainty of the reading", cents.expanded, "cents")
                .put("L", "nominal scale", scale, "mm")
                .gives(result, "mm", "first order of Anderson and Beausoleil, JASA 156 (2024) 683"),
            );
        }
        chain
    }
}

impl Told<'_> {
    /// What a millimetre of relief is at the gap over fret 1 stopped at 3, by both models.
    pub(super) fn felt_at_gap(&self) -> Vec<Working> {
        let (tied, bent) = relief::models_at_gap(self.bench);
        let x = |working: Working| self.positions(working, &[1, 3]);
        vec![
            x(Working::new(
                "",
                "what a millimetre of relief is at the gap, ends tied",
                "g_t = −4·(x₃ − x₁)·(x_B − x₃)/(x_B − x₁)²·x₁/x₃",
            ))
            .gives(tied, "", RELIEF),
            x(Working::new(
                "",
                "what a millimetre of relief is at the gap, even bend from the joint",
                "g_b = 4/(x_B − x₁)²·x₁·(x₃ − x₁)",
            ))
            .gives(bent, "", RELIEF),
        ]
    }

    /// The same at the open height over fret 1.
    fn felt_at_first(&self) -> Vec<Working> {
        let (tied, bent) = relief::models_at_first(self.bench);
        vec![
            Working::new("", "what a millimetre of relief is over the 1st, ends tied: nothing", "g_t = 0")
                .gives(tied, "", RELIEF),
            self.positions(
                Working::new(
                    "",
                    "what a millimetre of relief is over the 1st, even bend from the joint",
                    "g_b = 4/(x_B − x₁)²·(x_B²·(1 − x₁/L) − (x_B − x₁)²)",
                ),
                &[1],
            )
            .put("L", "nominal scale", self.bench.frame.scale_mm(), "mm")
            .gives(bent, "", RELIEF),
        ]
    }

    fn positions(&self, working: Working, frets: &[usize]) -> Working {
        let scale = self.bench.frame.scale_mm();
        let put = |working: Working, fret: &usize| {
            let symbol = format!("x{}", crate::working::below(*fret));
            working.put(symbol, format!("position of fret {fret}"), fret_position_mm(scale, *fret), "mm")
        };
        let body = fret_position_mm(scale, self.bench.input.instrument.body_fret);
        frets.iter().fold(working, put).put("x_B", "position of the body joint's fret", body, "mm")
    }
}
