//! How the figures behind a finding came about.

use super::places::{self, Place};
use super::{SIMILAR, Told};
use crate::setup::air;
use crate::setup::cut;
use crate::setup::intonation;
use crate::setup::plan::bench::Read;
use crate::setup::plan::nut::{Apart, ByReading, farthest};
use crate::setup::plan::own_rods::OwnEffect;
use crate::setup::plan::types::Finding;
use crate::working::{Working, Workings};

impl Told<'_> {
    pub(super) fn finding(&self, finding: &Finding, apart: &[Apart], workings: &mut Workings) {
        let number = |name: &str| finding.numbers.get(name).copied();
        let bench = self.bench;
        if let (Some(moisture), Some(air)) = (number("moisture_content_percent"), bench.input.air) {
            let of = "/moisture_content_percent";
            workings.figure(of, || air::working::moisture(of, air.temperature_c, air.rh_percent, moisture));
        }
        if number("relief_mm").is_some() {
            workings.figure("", || self.relief(number("change_mm")));
        }
        if let Some(showing) = number("showing_mm") {
            let treble = bench.showing.is_some_and(|(treble, _)| treble.value == showing);
            workings.figure("", || places::reading_at(bench, Place::Showing { treble }, "/showing_mm", "/expanded_mm"));
        }
        if let Some(cents) = number("cents_at_12") {
            workings.figure("", || self.cents(finding, cents));
        }
        match finding.key.as_str() {
            "nut-high" | "nut-low" | "nut-beyond-shims" => workings.figure("", || self.nut(finding)),
            "saddle-high" | "saddle-low" => workings.figure("", || self.saddle(finding)),
            "readings-disagree" if number("apart_mm").is_some() => {
                if let Some(apart) = farthest(apart) {
                    workings.figure("", || self.apart(apart));
                }
            }
            _ => {}
        }
    }

    fn relief(&self, change: Option<f64>) -> Vec<Working> {
        let mut chain = places::reading_at(self.bench, Place::Relief, "/relief_mm", "/expanded_mm");
        if let (Some(change), Some(relief)) = (change, self.bench.relief) {
            chain.push(
                Working::new("/change_mm", "change of relief at the rod", "d = r_t − r")
                    .put("r_t", "relief wished", self.bench.targets.relief_mm, "mm")
                    .put("r", "relief as read", relief.value, "mm")
                    .gives(change, "mm", "a difference"),
            );
        }
        chain.extend(OwnEffect::of(&self.bench.input.rod_pairs).iter().flat_map(OwnEffect::workings));
        chain
    }

    /// The string of a finding whose reading is the one told.
    fn string_of(&self, finding: &Finding, value: f64, read: impl Fn(usize) -> Option<Read>) -> Option<usize> {
        let expanded = finding.numbers.get("expanded_mm").or_else(|| finding.numbers.get("expanded_cents")).copied();
        let is_it = |place: &usize| {
            read(*place)
                .is_some_and(|read| read.value == value && expanded.is_none_or(|expanded| read.expanded == expanded))
        };
        finding.strings.iter().filter_map(|number| number.checked_sub(1)).find(is_it)
    }

    fn cents(&self, finding: &Finding, cents: f64) -> Vec<Working> {
        let read = |place: usize| self.bench.strings.get(place).and_then(|string| string.cents);
        let Some(place) = self.string_of(finding, cents, read) else {
            return Vec::new();
        };
        let mut chain = places::reading_at(self.bench, Place::Cents(place), "/cents_at_12", "/expanded_cents");
        if let Some(setback) = finding.numbers.get("setback_to_add_mm") {
            chain.push(self.setback("/setback_to_add_mm".to_owned(), place, cents, *setback));
        }
        chain
    }

    pub(super) fn setback(&self, of: String, place: usize, cents: f64, result: f64) -> Working {
        intonation::working::setback_to_add(of, place + 1, cents, self.bench.frame.scale_mm(), result)
    }

    pub(super) fn expanded_setback(&self, place: usize, expanded_cents: f64, result: f64) -> Working {
        let of = format!("/setback_to_add_expanded_mm/{place}");
        Working::new(of, format!("expanded uncertainty of that set-back, string {}", place + 1), "U = U_c·L·ln(2)/1200")
            .put("U_c", "of the error at the 12th", expanded_cents, "cents")
            .put("L", "nominal scale", self.bench.frame.scale_mm(), "mm")
            .gives(result, "mm", intonation::working::FIRST_ORDER)
    }

    fn nut(&self, finding: &Finding) -> Vec<Working> {
        let bench = self.bench;
        let gap = finding.numbers.get("gap_at_1_stopped_at_3_mm").copied();
        let first = finding.numbers.get("first_fret_mm").copied();
        let judged = |place: usize, is_gap: bool| {
            let judged = self.stood.judged.get(place).and_then(Option::as_ref)?;
            let is_told = judged.is_gap == is_gap && finding.numbers.get("target_mm") == Some(&judged.target);
            is_told.then_some(judged.read)
        };
        let mut chain = Vec::new();
        if let Some(place) = gap.and_then(|gap| self.string_of(finding, gap, |place| judged(place, true))) {
            chain = places::reading_at(bench, Place::Gap(place), "/gap_at_1_stopped_at_3_mm", "/expanded_mm");
        } else if let Some(place) = first.and_then(|first| self.string_of(finding, first, |place| judged(place, false)))
        {
            chain = places::reading_at(bench, Place::FirstFret(place), "/first_fret_mm", "/expanded_mm");
            chain.push(places::first_target(bench, place, "/target_mm".to_owned()));
        }
        let Some(amounts) = self.nut_amounts else {
            return chain;
        };
        if finding.numbers.contains_key("raise_mm") {
            let most = amounts.raise.iter().enumerate().max_by(|(_, one), (_, other)| one.mm.total_cmp(&other.mm));
            if let Some((place, raise)) = most {
                chain.extend(cut::working::exact_on_the_way(self.nut_input, amounts, raise.string.saturating_sub(1)));
                for mut told in cut::working::raised(self.nut_input, amounts, place, raise) {
                    let name = match told.of.rsplit('/').next() {
                        Some("mm") => "/raise_mm",
                        Some("shims") => "/shims",
                        _ => continue,
                    };
                    name.clone_into(&mut told.of);
                    chain.push(told);
                }
            }
        }
        if let Some(needed) = finding.numbers.get("most_removal_needed_mm") {
            let most = amounts.strings.iter().position(|string| string.exact_mm == Some(*needed));
            if let Some(place) = most {
                chain.extend(self.before_nut(place, amounts));
                let mut exact = cut::working::exact_on_the_way(self.nut_input, amounts, place);
                if let Some(last) = exact.last_mut() {
                    "/most_removal_needed_mm".clone_into(&mut last.of);
                }
                chain.extend(exact);
            }
        }
        chain
    }

    fn saddle(&self, finding: &Finding) -> Vec<Working> {
        let bench = self.bench;
        let number = |name: &str| finding.numbers.get(name).copied();
        let Some(action) = number("action_12_mm") else {
            return Vec::new();
        };
        let target = number("target_mm");
        let read = |place: usize| {
            let read = bench.strings.get(place).and_then(|string| string.action);
            read.filter(|_| Some(bench.action_target(place)) == target)
        };
        let Some(place) = self.string_of(finding, action, read) else {
            return Vec::new();
        };
        let mut chain = places::reading_at(bench, Place::Action(place), "/action_12_mm", "/expanded_mm");
        chain.push(places::action_target(bench, place, "/target_mm".to_owned()));
        for (name, what, formula) in [
            ("over_target_mm", "over the target at the 12th, at most", "o = h − h_t"),
            ("under_target_mm", "under the target at the 12th, at most", "o = h_t − h"),
        ] {
            if let Some(off) = number(name) {
                chain.push(
                    Working::new(format!("/{name}"), format!("{what}, string {}", place + 1), formula)
                        .put("h", "height at the 12th", action, "mm")
                        .put("h_t", "target", bench.action_target(place), "mm")
                        .gives(off, "mm", "a difference"),
                );
            }
        }
        chain
    }

    fn apart(&self, apart: &Apart) -> Vec<Working> {
        let (bench, frame) = (self.bench, &self.bench.frame);
        let place = apart.string.saturating_sub(1);
        let Some(read) = bench.strings.get(place) else {
            return Vec::new();
        };
        let (Some(gap), Some(first), Some(action)) = (read.gap, read.first, read.action) else {
            return Vec::new();
        };
        let mut chain = Vec::new();
        for place in [Place::Gap(place), Place::FirstFret(place), Place::Action(place), Place::Relief] {
            chain.extend(places::reading(bench, place));
        }
        let nut_mm = frame.string(first.value, action.value).nut_mm;
        let by = ByReading::of(bench);
        let x = |working: Working, fret: usize, symbol: &str| {
            working.put(symbol, format!("position of fret {fret}"), frame.position_mm(fret), "mm")
        };
        let share = |working: Working| x(x(working, 1, "x₁"), 3, "x₃");
        let nut = Working::new(
            "",
            "height at the nut from the open heights",
            "z₀ = h₁ + u₁ − ((h₁₂ + u₁₂) − (h₁ + u₁))/(x₁₂ − x₁)·x₁",
        )
        .put("h₁", "height over fret 1", first.value, "mm")
        .put("u₁", "top of fret 1 over the line", frame.top_mm(1), "mm")
        .put("h₁₂", "height over fret 12", action.value, "mm")
        .put("u₁₂", "top of fret 12 over the line", frame.top_mm(12), "mm");
        chain.push(x(x(nut, 12, "x₁₂"), 1, "x₁").gives(nut_mm, "mm", SIMILAR));
        let gap_from =
            Working::new("", "gap that follows from the open heights", "G_h = z₀·(1 − x₁/x₃) + u₃·x₁/x₃ − u₁")
                .put("z₀", "height at the nut", nut_mm, "mm")
                .put("u₃", "top of fret 3 over the line", frame.top_mm(3), "mm")
                .put("u₁", "top of fret 1 over the line", frame.top_mm(1), "mm");
        chain.push(share(gap_from).gives(apart.gap_from_heights_mm, "mm", SIMILAR));
        chain.push(
            Working::new("/apart_mm", format!("how far the two lie apart, string {}", apart.string), "o = |G_h − G|")
                .put("G_h", "gap that follows from the open heights", apart.gap_from_heights_mm, "mm")
                .put("G", "gap as read", gap.value, "mm")
                .gives(apart.off_mm, "mm", "a difference"),
        );
        let by_first =
            Working::new("", "what a millimetre over the 1st moves the gap", "b₁ = (1 − x₁/x₃)·x₁₂/(x₁₂ − x₁)");
        chain.push(x(share(by_first), 12, "x₁₂").gives(by.first, "", SIMILAR));
        let by_action =
            Working::new("", "what a millimetre at the 12th moves the gap", "b₁₂ = (1 − x₁/x₃)·x₁/(x₁₂ − x₁)");
        chain.push(x(share(by_action), 12, "x₁₂").gives(by.action, "", SIMILAR));
        chain.extend(self.felt_at_gap());
        let relief = bench.relief.map_or(0.0, |relief| relief.expanded);
        chain.push(
            Working::new(
                "/expanded_mm",
                "what could be the readings",
                "U = √((b₁·U₁)² + (b₁₂·U₁₂)² + U_G² + (b_r·U_r)²)",
            )
            .put("b₁", "what a millimetre over the 1st moves the gap", by.first, "")
            .put("U₁", "expanded uncertainty over the 1st", first.expanded, "mm")
            .put("b₁₂", "what a millimetre at the 12th moves the gap", by.action, "")
            .put("U₁₂", "expanded uncertainty at the 12th", action.expanded, "mm")
            .put("U_G", "expanded uncertainty of the gap", gap.expanded, "mm")
            .put("b_r", "what a millimetre of relief moves the gap, with tied ends", by.relief, "")
            .put("U_r", "expanded uncertainty of relief", relief, "mm")
            .gives(apart.expanded_mm, "mm", "JCGM 100:2008 (GUM) 5.1.2"),
        );
        chain
    }
}
