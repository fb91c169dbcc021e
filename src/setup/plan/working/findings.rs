//! How the figures behind a finding came about.

use super::places::{self, Place};
use super::told::{SIMILAR, Told};
use crate::setup::air;
use crate::setup::cut;
use crate::setup::intonation;
use crate::setup::plan::fretwork::zero_fret_mm;
use crate::setup::plan::intonation::open_mm;
use crate::setup::plan::misread::{Doubt, Neighbours, Quantity, Why};
use crate::setup::plan::nut::{Apart, ByReading, farthest};
use crate::setup::plan::output::Finding;
use crate::setup::plan::own_rods::OwnEffect;
use crate::setup::plan::read::{Read, as_number};
use crate::working::{Working, Workings};

impl Told<'_> {
    pub(super) fn finding(&self, finding: &Finding, workings: &mut Workings) {
        let number = |name: &str| finding.numbers.get(name).copied();
        let bench = self.bench;
        if let (Some(moisture), Some(air)) = (number("moisture_content_percent"), bench.input.air) {
            let of = "/moisture_content_percent";
            workings.figure(of, || air::working::moisture(of, air.temperature_c, air.rh_percent, moisture));
        }
        if number("relief_mm").is_some() {
            workings.figure("", || self.relief(number("change_mm"), number("own_effect_at_12").is_some()));
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
                if let Some(apart) = farthest(&self.judged.nut.apart) {
                    workings.figure("", || self.apart(apart));
                }
            }
            "readings-disagree" if number("neighbours_mm").is_some() || number("repeats_apart_mm").is_some() => {
                if let Some(doubt) = self.doubt(finding) {
                    workings.figure("", || self.doubted(doubt));
                }
            }
            "frets-worn" | "fret-high" if number("zero_fret_mm").is_some() => {
                workings.figure("", || self.zero_fret(finding));
            }
            _ => {}
        }
    }

    fn relief(&self, change: Option<f64>, told_own: bool) -> Vec<Working> {
        let mut chain = places::reading_at(self.bench, Place::Relief, "/relief_mm", "/expanded_mm");
        if let (Some(change), Some(relief)) = (change, self.bench.relief) {
            chain.push(
                Working::new("/change_mm", "change of relief at the rod", "d = r_t − r")
                    .put("r_t", "relief wished", self.bench.targets.relief_mm, "mm")
                    .put("r", "relief as read", relief.value, "mm")
                    .gives(change, "mm", "a difference"),
            );
        }
        if let Some(own) = OwnEffect::of(self.bench).filter(|_| told_own) {
            chain.extend(own.workings());
        }
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
        intonation::working::setback_to_add(of, place + 1, cents, open_mm(self.bench, place), result)
    }

    pub(super) fn expanded_setback(&self, place: usize, expanded_cents: f64, result: f64) -> Working {
        let of = format!("/setback_to_add_expanded_mm/{place}");
        Working::new(of, format!("expanded uncertainty of that set-back, string {}", place + 1), "U = U_c·L·ln(2)/1200")
            .put("U_c", "of the error at the 12th", expanded_cents, "cents")
            .put("L", "nominal length of the open string", open_mm(self.bench, place), "mm")
            .gives(result, "mm", intonation::working::FIRST_ORDER)
    }

    fn nut(&self, finding: &Finding) -> Vec<Working> {
        let bench = self.bench;
        let gap = finding.numbers.get("gap_at_1_stopped_at_3_mm").copied();
        let first = finding.numbers.get("first_fret_mm").copied();
        let judged = |place: usize, is_gap: bool| {
            let judged = self.judged.nut.strings.get(place).and_then(Option::as_ref)?;
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
                        Some("shims") if finding.numbers.contains_key("shims") => "/shims",
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
        let bench = self.bench;
        let place = apart.string.saturating_sub(1);
        let Some(read) = bench.strings.get(place) else {
            return Vec::new();
        };
        let (Some(gap), Some(first), Some(action)) = (read.gap, read.first, read.action) else {
            return Vec::new();
        };
        let frame = bench.frame(place);
        let mut chain = Vec::new();
        for place in [Place::Gap(place), Place::FirstFret(place), Place::Action(place), Place::Relief] {
            chain.extend(places::reading(bench, place));
        }
        let nut_mm = frame.string(first.value, action.value).height_mm(frame.start_mm());
        let by = ByReading::of(bench, place);
        chain.push(self.nut_from_heights(place, first.value, action.value, nut_mm));
        let own_third = frame.own(3);
        let gap_from = Working::new(
            "",
            "gap that follows from the open heights",
            "G_h = z₀·(1 − (x₁ − x_s)/(x₃ − x_s)) + u₃·(x₁ − x_s)/(x₃ − x_s) − u₁",
        )
        .put("z₀", "height at the nut", nut_mm, "mm")
        .put("u₃", format!("top of fret {own_third} over the line"), frame.top_mm(own_third), "mm")
        .put("u₁", format!("top of fret {} over the line", frame.own(1)), frame.top_mm(frame.own(1)), "mm");
        chain.push(self.own_places(gap_from, place, &["x_s", "x₁", "x₃"]).gives(
            apart.gap_from_heights_mm,
            "mm",
            SIMILAR,
        ));
        chain.push(
            Working::new("/apart_mm", format!("how far the two lie apart, string {}", apart.string), "o = |G_h − G|")
                .put("G_h", "gap that follows from the open heights", apart.gap_from_heights_mm, "mm")
                .put("G", "gap as read", gap.value, "mm")
                .gives(apart.off_mm, "mm", "a difference"),
        );
        let by_first = Working::new(
            "",
            "what a millimetre over the 1st moves the gap",
            "b₁ = (1 − (x₁ − x_s)/(x₃ − x_s))·(x₁₂ − x_s)/(x₁₂ − x₁)",
        );
        let all = ["x_s", "x₁", "x₃", "x₁₂"];
        chain.push(self.own_places(by_first, place, &all).gives(by.first, "", SIMILAR));
        let by_action = Working::new(
            "",
            "what a millimetre at the 12th moves the gap",
            "b₁₂ = (1 − (x₁ − x_s)/(x₃ − x_s))·(x₁ − x_s)/(x₁₂ − x₁)",
        );
        chain.push(self.own_places(by_action, place, &all).gives(by.action, "", SIMILAR));
        chain.extend(self.felt_at_gap(place));
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

    /// The doubt that a finding tells.
    fn doubt(&self, finding: &Finding) -> Option<&Doubt> {
        self.bench.doubts.iter().find(|doubt| {
            let number = match doubt.why {
                Why::FarFromNeighbours { line_mm } => ("neighbours_mm", line_mm),
                Why::RepeatsApart { apart_mm } => ("repeats_apart_mm", apart_mm),
            };
            finding.numbers.get(number.0) == Some(&number.1)
                && finding.strings == doubt.string.into_iter().collect::<Vec<_>>()
        })
    }

    fn doubted(&self, doubt: &Doubt) -> Vec<Working> {
        match doubt.why {
            Why::RepeatsApart { apart_mm } => {
                let (values, what) = (self.repeats(doubt), doubt.quantity.said());
                let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let least = values.iter().copied().fold(f64::INFINITY, f64::min);
                vec![
                    Working::new(
                        "/repeats_apart_mm",
                        format!("how far the repeats of {what} lie apart"),
                        "o = h_m − h_l",
                    )
                    .put("h_m", "the highest", most, "mm")
                    .put("h_l", "the lowest", least, "mm")
                    .gives(apart_mm, "mm", "a difference"),
                ]
            }
            Why::FarFromNeighbours { line_mm } => self.neighbours(doubt, line_mm),
        }
    }

    fn repeats(&self, doubt: &Doubt) -> Vec<f64> {
        let readings = &self.bench.input.readings;
        let of = doubt.string.and_then(|string| readings.strings.get(string - 1));
        match (doubt.quantity, of) {
            (Quantity::Relief, _) => readings.relief_mm.clone(),
            (Quantity::Action, Some(string)) => string.action_12_mm.clone(),
            (Quantity::FirstFret, Some(string)) => string.first_fret_mm.clone(),
            (Quantity::Gap, Some(string)) => string.gap_at_1_stopped_at_3_mm.clone(),
            (Quantity::ToSaddle, Some(string)) => string.from_12_to_saddle_mm.clone(),
            (_, None) => Vec::new(),
        }
    }

    /// Least squares through the neighbours; of two, their mean.
    fn neighbours(&self, doubt: &Doubt, line_mm: f64) -> Vec<Working> {
        const SOURCE: &str = "least squares; any text on regression";
        let bench = self.bench;
        let is_neighbour = |place: usize| {
            !bench.doubts.iter().any(|other| {
                other.quantity == doubt.quantity
                    && other.string == Some(place + 1)
                    && matches!(other.why, Why::FarFromNeighbours { .. })
            })
        };
        let read = |place: usize| {
            let string = bench.strings.get(place)?;
            match doubt.quantity {
                Quantity::Relief => None,
                Quantity::Action => string.action,
                Quantity::FirstFret => string.first,
                Quantity::Gap => string.gap,
                Quantity::ToSaddle => string.setback,
            }
        };
        let places = (0..bench.strings.len()).filter(|place| is_neighbour(*place));
        let points: Vec<(f64, f64)> =
            places.filter_map(|place| Some((bench.position_mm(place), read(place)?.value))).collect();
        let Neighbours { middle, slope } = Neighbours::of(&points);
        let at = doubt.string.map_or(0.0, |string| bench.position_mm(string - 1));
        let each = |working: Working| {
            working.put_each("h", "as read of neighbour", points.iter().map(|(_, value)| *value), "mm")
        };
        let count = as_number(points.len());
        let mut chain = vec![
            each(Working::new("", "mean of the neighbours", "h̄ = Σ(hᵢ)/n"))
                .put("n", "neighbours", count, "")
                .gives(middle.1, "mm", SOURCE),
        ];
        chain.push(if points.len() < 3 {
            Working::new("", "slope across the neighbours: two tell none", "b = 0").gives(slope, "", SOURCE)
        } else {
            each(Working::new("", "slope across the neighbours", "b = Σ((qᵢ − q̄)·(hᵢ − h̄))/Σ((qᵢ − q̄)²)"))
                .put_each("q", "position of neighbour", points.iter().map(|(at, _)| *at), "mm")
                .put("q̄", "their mean position", middle.0, "mm")
                .put("h̄", "mean of the neighbours", middle.1, "mm")
                .gives(slope, "", SOURCE)
        });
        chain.push(
            Working::new("/neighbours_mm", "where the line of the neighbours is there", "n = h̄ + b·(q − q̄)")
                .put("h̄", "mean of the neighbours", middle.1, "mm")
                .put("b", "slope", slope, "")
                .put("q", "position of this string", at, "mm")
                .put("q̄", "mean position of the neighbours", middle.0, "mm")
                .gives(line_mm, "mm", SOURCE),
        );
        chain
    }

    /// How far the zero fret stands over the line of the others, by the string it is told of.
    fn zero_fret(&self, finding: &Finding) -> Vec<Working> {
        let bench = self.bench;
        let stands = finding.numbers.get("zero_fret_mm").copied();
        let is_it = |place: &usize| {
            zero_fret_mm(bench, *place).is_some_and(|(mm, expanded)| {
                Some(mm) == stands && Some(&expanded) == finding.numbers.get("expanded_mm")
            })
        };
        let Some(place) = finding.strings.iter().map(|number| number - 1).find(is_it) else {
            return Vec::new();
        };
        let Some((mm, expanded)) = zero_fret_mm(bench, place) else {
            return Vec::new();
        };
        let Some((first, action)) = bench.strings.get(place).and_then(|string| string.first.zip(string.action)) else {
            return Vec::new();
        };
        let mut chain = places::reading(bench, Place::FirstFret(place));
        chain.extend(places::reading(bench, Place::Action(place)));
        let mut stands = self.nut_from_heights(place, first.value, action.value, mm);
        "/zero_fret_mm".clone_into(&mut stands.of);
        chain.push(stands);
        let unsure = Working::new(
            "/expanded_mm",
            "expanded uncertainty of that",
            "U = √((U₁·(x₁₂ − x_s)/(x₁₂ − x₁))² + (U₁₂·(x₁ − x_s)/(x₁₂ − x₁))²)",
        )
        .put("U₁", "over the 1st", first.expanded, "mm")
        .put("U₁₂", "at the 12th", action.expanded, "mm");
        chain.push(self.own_places(unsure, place, &["x_s", "x₁", "x₁₂"]).gives(
            expanded,
            "mm",
            "JCGM 100:2008 (GUM) 5.1.2",
        ));
        chain
    }
}
