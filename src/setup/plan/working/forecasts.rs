//! How each end of a forecast came about.

use super::places::{self, Place};
use super::told::{SIMILAR, Told};
use crate::setup::frame::{Models, fret_position_mm};
use crate::setup::intonation::{self, Chain};
use crate::setup::plan::intonation::{CENTS_PER_LENGTH, as_it_is, heights_asked, open_mm};
use crate::setup::plan::nut::{AtNut, removal_ranges};
use crate::setup::plan::output::Range;
use crate::setup::plan::own_rods::{OwnEffect, Verdict};
use crate::setup::plan::read::Read;
use crate::setup::plan::relief;
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
            .map(|amounts| removal_ranges(told.bench, change, &told.judged.nut, amounts))
            .unwrap_or_default();
        Self { told, change, at_nut }
    }

    pub(super) fn chain(&self, quantity: &str, place: usize, at: &str) -> Vec<Working> {
        match quantity {
            "action_12_mm" => self.heights(place, at),
            "nut_removal_mm" => self.nut(place, Some(at)),
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

    fn heights(&self, place: usize, at: &str) -> Vec<Working> {
        let bench = self.told.bench;
        let (Some(action), Some(relief)) = (self.action(place), bench.relief) else {
            return Vec::new();
        };
        let Models { tied, bent } = bench.frame(place).relief_at_12();
        let own = OwnEffect::of(bench);
        let felt = relief::felt_after(bench, place, self.change, own.as_ref());
        let unsure = relief::felt_at_12(bench, place, relief.expanded).most;
        let expanded = action.expanded.hypot(unsure);
        let mut chain = places::reading(bench, Place::Action(place));
        chain.extend(self.change_of_relief());
        chain.extend(self.told.felt_at_12(place));
        let own = own.filter(|own| own.verdict == Verdict::Contradicts).map(|own| own.felt(self.change));
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
            let formula = if own.is_some() {
                format!("h′ = h + {pick}({pick}(d·g_t, d·g_b), o) {sign} U")
            } else {
                format!("h′ = h + {pick}(d·g_t, d·g_b) {sign} U")
            };
            let told = Working::new(
                format!("{at}/{name}"),
                format!("height at the 12th once relief is set, {name}, string {}", place + 1),
                formula,
            )
            .put("h", "height at the 12th", action.value, "mm")
            .put("d", "change of relief", self.change, "mm")
            .put("g_t", "what a millimetre of it is there, ends tied", tied, "")
            .put("g_b", "the same, even bend from the joint", bent, "")
            .put("U", "uncertainty", expanded, "mm");
            let told = match own {
                Some(own) => {
                    let end = if name == "least" { own.least } else { own.most };
                    told.put("o", "what the shop's own rods say, which contradict both", end, "mm")
                }
                None => told,
            };
            chain.push(told.gives(result, "mm", SUM));
        }
        chain
    }

    /// `at` where the range is the answer's; on the way to the saddle's `None`.
    fn nut(&self, place: usize, at: Option<&str>) -> Vec<Working> {
        let bench = self.told.bench;
        let (Some(range), Some(Some(judged)), Some(amounts)) =
            (self.at_nut.get(place).copied().flatten(), self.told.judged.nut.strings.get(place), self.told.nut_amounts)
        else {
            return Vec::new();
        };
        let Some(exact) = amounts.strings.get(place).and_then(|string| string.exact_mm) else {
            return Vec::new();
        };
        let AtNut { read, is_gap, .. } = judged;
        let models = if *is_gap { self.told.felt_at_gap(place) } else { self.told.felt_at_first(place) };
        let frame = bench.frame(place);
        let Models { tied, bent } = if *is_gap { frame.relief_at_gap() } else { frame.relief_at_first() };
        let factor = bench.nut_factor(place, *is_gap);
        let mut chain = self.told.before_nut(place, amounts);
        chain.extend(crate::setup::cut::working::exact_on_the_way(self.told.nut_input, amounts, place));
        chain.extend(self.change_of_relief());
        chain.extend(models);
        for (name, pick, sign, result) in [("least", "min", "−", range.least), ("most", "max", "+", range.most)] {
            let told = Working::new(
                at.map_or_else(String::new, |at| format!("{at}/{name}")),
                format!("what the nut may lose, {name}, string {}; minus is raise", place + 1),
                format!("e = a + {pick}(d·g_t, d·g_b)·k {sign} U·k"),
            )
            .put("a", "exact amount by the reading", exact, "mm")
            .put("d", "change of relief that is planned", self.change, "mm")
            .put("g_t", "what a millimetre of it is at the reading, ends tied", tied, "")
            .put("g_b", "the same, even bend from the joint", bent, "")
            .put("k", "what a millimetre of the reading is at the nut", factor, "")
            .put("U", "expanded uncertainty of the reading", read.expanded, "mm");
            chain.push(told.gives(result, "mm", SUM));
        }
        chain
    }

    fn saddle(&self, place: usize, at: &str) -> Vec<Working> {
        let bench = self.told.bench;
        let Some(action) = self.action(place) else {
            return Vec::new();
        };
        let frame = bench.frame(place);
        let Models { tied, bent } = frame.relief_at_12();
        let felt = relief::felt_at_12(bench, place, self.change);
        let from_nut = frame.felt_from_nut(12, bench.setback_mm(place));
        let (factor, target) = (bench.saddle_factor(place), bench.action_target(place));
        let at_nut = self.at_nut.get(place).copied().flatten().unwrap_or(Range { least: 0.0, most: 0.0 });
        let mut chain = self.told.before_saddle(place);
        chain.extend(self.change_of_relief());
        chain.extend(self.told.felt_at_12(place));
        chain.extend(self.nut(place, None));
        chain.push(self.told.saddle_factor(place));
        let told =
            Working::new("", "what a millimetre at the nut is at the 12th", "c = 1 − (x₁₂ − x_s)/(L + ΔS − x_s)")
                .put("L", "nominal scale", frame.scale_mm(), "mm")
                .put("ΔS", "set-back of the saddle", bench.setback_mm(place), "mm");
        chain.push(self.told.own_places(told, place, &["x_s", "x₁₂"]).gives(from_nut, "", SIMILAR));
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
            chain.extend(intonation::working::open(asked, &found, as_it_is(asked)));
            chain.extend(intonation::working::note(asked, &found, 12, as_it_is(asked), false));
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
        let scale = open_mm(bench, place);
        for (name, pick, sign) in [("least", "min", "−"), ("most", "max", "+")] {
            let per_cent = scale / CENTS_PER_LENGTH;
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
                .put("L", "nominal length of the open string", scale, "mm")
                .gives(result, "mm", "first order of Anderson and Beausoleil, JASA 156 (2024) 683"),
            );
        }
        chain
    }
}

impl Told<'_> {
    /// What a millimetre of relief is at the 12th, by both models.
    pub(super) fn felt_at_12(&self, place: usize) -> [Working; 2] {
        let frame = self.bench.frame(place);
        let Models { tied, bent } = frame.relief_at_12();
        let begins = frame.start() > 0;
        let tied_formula = if begins {
            "g_t = v₁₂ − v_s·(L − x₁₂)/(L − x_s)"
        } else {
            "g_t = max(4·(x₁₂ − x₁)·(x_B − x₁₂)/(x_B − x₁)², 0)"
        };
        let tied_told = Working::new("", "what a millimetre of relief is at the 12th, ends tied", tied_formula);
        let tied_told = if begins {
            let told = tied_told
                .put("v₁₂", "how far fret 12 sinks for a millimetre of relief", self.sunk(place, 12), "")
                .put("v_s", "how far the fret where the string begins sinks", self.sunk(place, frame.start()), "")
                .put("L", "nominal scale", frame.scale_mm(), "mm");
            self.own_places(told, place, &["x₁₂", "x_s"])
        } else {
            self.board_places(tied_told, place, &["x₁₂", "x₁", "x_B"])
        };
        let bent_told = Working::new(
            "",
            "what a millimetre of relief is at the 12th, even bend from the joint",
            "g_b = max(4·(max(x_B − x_s, 0)²·(L − x₁₂)/(L − x_s) − max(x_B − x₁₂, 0)²)/(x_B − x₁)², g_t)",
        )
        .put("L", "nominal scale", frame.scale_mm(), "mm")
        .put("g_t", "the same with tied ends", tied, "");
        [
            tied_told.gives(tied, "", RELIEF),
            self.board_places(bent_told, place, &["x₁₂", "x₁", "x_B", "x_s"]).gives(bent, "", RELIEF),
        ]
    }

    /// Depth of a fret's top per millimetre of relief.
    fn sunk(&self, place: usize, fret: usize) -> f64 {
        let frame = self.bench.frame(place);
        let (x, first) = (frame.position_mm(fret), frame.position_mm(1));
        let body = frame.position_mm(self.bench.input.instrument.body_fret);
        if x <= first || x >= body { 0.0 } else { 4.0 * (x - first) * (body - x) / (body - first).powi(2) }
    }

    /// What a millimetre of relief is at the gap over fret 1 stopped at 3, by both models.
    pub(super) fn felt_at_gap(&self, place: usize) -> Vec<Working> {
        let frame = self.bench.frame(place);
        let Models { tied, bent } = frame.relief_at_gap();
        let told = Working::new(
            "",
            "what a millimetre of relief is at the gap, ends tied",
            "g_t = v₁ − v₃·(x₁ − x_s)/(x₃ − x_s) − v_s·(1 − (x₁ − x_s)/(x₃ − x_s))",
        )
        .put("v₁", "how far the own first fret sinks for a millimetre of relief", self.sunk(place, frame.own(1)), "")
        .put("v₃", "how far the own third sinks", self.sunk(place, frame.own(3)), "")
        .put(
            "v_s",
            "how far the string's beginning sinks; the nut does not",
            self.sunk(place, frame.start()),
            "",
        );
        let bends = Working::new(
            "",
            "what a millimetre of relief is at the gap, even bend from the joint",
            "g_b = 4/(x_B − x_f)²·(x₁ − x_s)·(x₃ − x₁)",
        );
        vec![
            self.own_places(told, place, &["x_s", "x₁", "x₃"]).gives(tied, "", RELIEF),
            self.own_places(self.board_places(bends, place, &["x_B", "x_f"]), place, &["x_s", "x₁", "x₃"])
                .gives(bent, "", RELIEF),
        ]
    }

    /// The same at the open height over fret 1.
    fn felt_at_first(&self, place: usize) -> Vec<Working> {
        let frame = self.bench.frame(place);
        let Models { tied, bent } = frame.relief_at_first();
        let told = Working::new(
            "",
            "what a millimetre of relief is over the 1st, ends tied",
            "g_t = v₁ − v_s·(L − x₁)/(L − x_s)",
        )
        .put("v₁", "how far the own first fret sinks for a millimetre of relief", self.sunk(place, frame.own(1)), "")
        .put("v_s", "how far the string's beginning sinks; the nut does not", self.sunk(place, frame.start()), "")
        .put("L", "nominal scale", frame.scale_mm(), "mm");
        let bends = Working::new(
            "",
            "what a millimetre of relief is over the 1st, even bend from the joint",
            "g_b = 4/(x_B − x_f)²·(max(x_B − x_s, 0)²·(L − x₁)/(L − x_s) − max(x_B − x₁, 0)²)",
        )
        .put("L", "nominal scale", frame.scale_mm(), "mm");
        vec![
            self.own_places(told, place, &["x_s", "x₁"]).gives(tied, "", RELIEF),
            self.own_places(self.board_places(bends, place, &["x_B", "x_f"]), place, &["x_s", "x₁"])
                .gives(bent, "", RELIEF),
        ]
    }

    /// Places as the string counts them: where it begins, its own first and third fret, fret 12.
    pub(super) fn own_places(&self, working: Working, place: usize, symbols: &[&str]) -> Working {
        let frame = self.bench.frame(place);
        let put = |working: Working, symbol: &&str| {
            let (meaning, fret) = match *symbol {
                "x_s" => ("where the string begins".to_owned(), frame.start()),
                "x₁" => (format!("position of fret {}", frame.own(1)), frame.own(1)),
                "x₃" => (format!("position of fret {}", frame.own(3)), frame.own(3)),
                _ => ("position of fret 12".to_owned(), 12),
            };
            working.put(*symbol, meaning, frame.position_mm(fret), "mm")
        };
        symbols.iter().fold(working, put)
    }

    /// Places of the board: its fret 1 (as x₁, or x_f where x₁ is the string's own), fret 12, the body joint.
    fn board_places(&self, working: Working, place: usize, symbols: &[&str]) -> Working {
        let frame = self.bench.frame(place);
        let body = self.bench.input.instrument.body_fret;
        let put = |working: Working, symbol: &&str| {
            let (meaning, at) = match *symbol {
                "x_B" => ("position of the body joint's fret", fret_position_mm(frame.scale_mm(), body)),
                "x_s" => ("where the string begins", frame.start_mm()),
                "x₁₂" => ("position of fret 12", frame.position_mm(12)),
                _ => ("position of fret 1", frame.position_mm(1)),
            };
            working.put(*symbol, meaning, at, "mm")
        };
        symbols.iter().fold(working, put)
    }
}
