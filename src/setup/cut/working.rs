//! How each amount came about: from the reading by similar triangles to the exact amount, from its
//! uncertainty to the guard and the first pass, and from all amounts to the foot's straight cut.

use super::amounts::{COVERAGE, Run, SAME_MM, expanded_factor, factor, first_share, guard_factor, value};
use super::foot::{Bound, Fit, Limit};
use super::saddle::{EndUnsure, Feet, Shows};
use super::top::working::explain as top_explain;
use super::{CutInput, CutOutput, CutPlace, CutString, Ends, Raise, StringCut};
use crate::setup::frame::{self, fret_position_mm};
use crate::setup::reading::Contribution;
use crate::setup::spread::{LARGE_FREEDOM, quantile_working};
use crate::working::{Working, Workings, below};

const SIMILAR: &str = "derived here: similar triangles, straight string between nut and saddle";
const COMBINED: &str = "JCGM 100:2008 (GUM) 5.1.2";
const EXPANDED: &str = "JCGM 100:2008 (GUM) 6.2.1";
const GUARD: &str = "guard band, JCGM 106:2012 and ISO 14253-1:2017 for the sense";
const FOOT: &str = "derived here: linear programme in two unknowns, its best where two bounds meet";

/// The working of every number.
pub fn explain(input: &CutInput, output: &CutOutput, workings: &mut Workings) {
    explain_after(input, output, workings, &|_| Vec::new());
}

/// What was read before a number came about.
#[derive(Debug, Clone, Copy)]
pub(in crate::setup) enum Before {
    /// The reading of a string, by its place.
    String(usize),
    /// How much saddle shows.
    Showing,
}

/// The same, with how each string's reading came about before its amounts.
pub(in crate::setup) fn explain_after(
    input: &CutInput,
    output: &CutOutput,
    workings: &mut Workings,
    reading: &dyn Fn(Before) -> Vec<Working>,
) {
    workings.shared(positions(input));
    top_explain(input, output, workings);
    for (place, (string, cut)) in input.strings.iter().zip(&output.strings).enumerate() {
        workings.figure(&format!("/strings/{place}"), || {
            let mut chain = reading(Before::String(place));
            chain.extend(amounts(input, place, string, cut));
            chain
        });
    }
    for (place, raise) in output.raise.iter().enumerate() {
        workings.figure(&format!("/raise/{place}"), || raised(input, output, place, raise));
    }
    if let Some(foot) = output.foot {
        let shows = Shows::of(input);
        let feet = Feet::of(input, &output.strings, shows);
        let unsure = feet.unsure(input, &output.strings);
        workings.figure("/foot", || {
            let (first, last) = feet.ends_mm();
            let mut chain = Vec::new();
            chain.extend(straight(&feet.full, "the exact amounts", input, &feet));
            for (name, at, mm, unsure) in
                [("treble", first, foot.treble_mm, &unsure.treble), ("bass", last, foot.bass_mm, &unsure.bass)]
            {
                chain.push(end(&format!("/foot/{name}_mm"), name, &feet.full, at, mm));
                let told = (format!("/foot/{name}_expanded_mm"), format!("the cut at the {name} end"));
                let depth = feet.full.line.at(first).max(feet.full.line.at(last));
                chain.extend(end_unsure(told, unsure, depth, input));
            }
            chain
        });
        if let Some(first_pass) = output.foot_first_pass {
            workings.figure("/foot_first_pass", || {
                let (first, last) = feet.ends_mm();
                let mut chain = straight(&feet.first_pass, "the first-pass amounts", input, &feet);
                for (name, at, mm) in [("treble", first, first_pass.treble_mm), ("bass", last, first_pass.bass_mm)] {
                    chain.push(end(&format!("/foot_first_pass/{name}_mm"), name, &feet.first_pass, at, mm));
                }
                chain
            });
        }
        if let Some((left, shows)) = output.left_showing_mm.zip(shows) {
            workings.figure("", || {
                let mut chain = reading(Before::Showing);
                let ends = [("treble", true, &unsure.treble_off), ("bass", false, &unsure.bass_off)];
                for (name, is_treble, unsure) in ends {
                    chain.extend(left_showing(input, output, &feet, (shows.now, left), (name, is_treble), unsure));
                }
                chain
            });
        }
        workings.figure("", || on_top(&feet, output));
    }
}

fn positions(input: &CutInput) -> Vec<Working> {
    let frets: &[usize] = match input.place {
        CutPlace::Saddle => &[12],
        CutPlace::Nut => &[1, 3],
    };
    let one = |fret: &usize| frame::working::position("", &format!("x{}", below(*fret)), input.scale_mm, *fret);
    frets.iter().map(one).collect()
}

fn amounts(input: &CutInput, place: usize, string: &CutString, cut: &StringCut) -> Vec<Working> {
    let at = |name: &str| format!("/strings/{place}/{name}");
    let number = place + 1;
    let k = factor(input, string);
    let uncertainty = cut.standard_uncertainty_mm;
    let mut chain = vec![
        magnified(input, string, number, k),
        Working::new(
            at("standard_uncertainty_mm"),
            format!("standard uncertainty of the amount, string {number}"),
            "u = √((k·u_r)² + u_c²)",
        )
        .put("k", "what a millimetre of the reading is here", k, "")
        .put("u_r", "standard uncertainty of the reading", string.standard_uncertainty_mm, "mm")
        .put("u_c", "standard uncertainty of the cutting", input.cut_uncertainty_mm, "mm")
        .gives(uncertainty, "mm", COMBINED),
    ];
    let Some((exact, reading)) = cut.exact_mm.zip(value(input, string)) else {
        chain.push(
            Working::new(
                at("first_pass_mm"),
                format!("first pass, string {number}: nothing is told to be cut here"),
                "p = 0",
            )
            .gives(cut.first_pass_mm, "mm", "no cut without a reading; common practice, no source"),
        );
        return chain;
    };
    chain.push(exact_amount(input, string, number, (k, reading, exact), at("exact_mm")));
    if let Some(expanded) = cut.expanded_mm {
        let t = expanded_factor(string);
        chain.push(quantile_working(
            String::new(),
            format!("coverage factor, string {number}"),
            "t_U",
            ("(1 + p)/2", "p", "share of cases covered"),
            (COVERAGE, string.degrees_of_freedom),
            t,
        ));
        chain.push(
            Working::new(
                at("expanded_mm"),
                format!("expanded uncertainty of the amount, string {number}"),
                "U = t_U·u",
            )
            .put("t_U", "coverage factor", t, "")
            .put("u", "standard uncertainty of the amount", uncertainty, "mm")
            .gives(expanded, "mm", EXPANDED),
        );
    }
    let t = guard_factor(input, string);
    let guard = t * uncertainty;
    chain.push(quantile_working(
        String::new(),
        format!("one-sided factor of the first pass, string {number}"),
        "t",
        ("1 − α", "α", "risk of taking too much"),
        (input.first_pass_risk, string.degrees_of_freedom),
        t,
    ));
    chain.push(
        Working::new("", format!("guard that stays on, string {number}"), "w = t·u")
            .put("t", "one-sided factor", t, "")
            .put("u", "standard uncertainty of the amount", uncertainty, "mm")
            .gives(guard, "mm", GUARD),
    );
    let share = first_share(string);
    let formula = if share < 1.0 {
        "p = max(⌊min(a − w, a·m)/s + h⌋, 0)·s"
    } else {
        "p = max(⌊(a − w)/s + h⌋, 0)·s"
    };
    let told = Working::new(
        at("first_pass_mm"),
        format!("first pass, string {number}: rounded down to the file's step, never below 0"),
        formula,
    )
    .put("a", "exact amount", exact, "mm")
    .put("w", "guard", guard, "mm");
    let told = if share < 1.0 { told.put("m", "at most so much of it on a single reading", share, "") } else { told };
    chain.push(
        told.put("s", "step of the file", input.step_mm, "mm")
            .put("h", "a hair for the computer's rounding", SAME_MM, "")
            .gives(cut.first_pass_mm, "mm", GUARD),
    );
    chain
}

/// What a millimetre of the reading is at the saddle or nut.
fn magnified(input: &CutInput, string: &CutString, number: usize, k: f64) -> Working {
    let run = Run::of(input, string);
    let position = |fret: usize| fret_position_mm(run.scale_mm, fret);
    let told = |what: &str, plain: &str, own: &str| {
        let formula = if Run::is_plain(string) { plain } else { own };
        Working::new("", format!("{what}, string {number}"), formula)
    };
    let begins = |working: Working| {
        if Run::is_plain(string) {
            working
        } else {
            working.put("x_s", "where the string begins", position(run.start), "mm")
        }
    };
    let sounding = |working: Working| {
        working.put("L", "nominal scale", run.scale_mm, "mm").put("ΔS", "set-back of the saddle", run.setback_mm, "mm")
    };
    let first = |working: Working| {
        let own = run.start + 1;
        working.put("x₁", format!("position of fret {own}"), position(own), "mm")
    };
    let working = match input.place {
        CutPlace::Saddle => sounding(told(
            "what a millimetre at the 12th is at the saddle",
            "k = (L + ΔS)/x₁₂",
            "k = (L + ΔS − x_s)/(x₁₂ − x_s)",
        ))
        .put("x₁₂", "position of fret 12", position(12), "mm"),
        CutPlace::Nut if string.first_fret_mm.is_some() => first(sounding(told(
            "what a millimetre over the 1st is at the nut",
            "k = 1/(1 − x₁/(L + ΔS))",
            "k = 1/(1 − (x₁ − x_s)/(L + ΔS − x_s))",
        ))),
        CutPlace::Nut => {
            let own = run.start + 3;
            first(told(
                "what a millimetre of the gap over the 1st, stopped at the 3rd, is at the nut",
                "k = 1/(1 − x₁/x₃)",
                "k = 1/(1 − (x₁ − x_s)/(x₃ − x_s))",
            ))
            .put("x₃", format!("position of fret {own}"), position(own), "mm")
        }
    };
    begins(working).gives(k, "", SIMILAR)
}

fn exact_amount(
    input: &CutInput,
    string: &CutString,
    number: usize,
    (k, reading, exact): (f64, f64, f64),
    of: String,
) -> Working {
    let end = if input.place == CutPlace::Saddle { "saddle" } else { "nut" };
    let what = format!("exact amount at the {end}, string {number}; minus is raise");
    let formula = if string.most_removal_mm.is_some() { "a = min((h − h_t)·k, c)" } else { "a = (h − h_t)·k" };
    let told = Working::new(of, what, formula)
        .put("h", "reading", reading, "mm")
        .put("h_t", "target", string.target_mm, "mm")
        .put("k", "what a millimetre of the reading is here", k, "");
    match string.most_removal_mm {
        Some(most) => told.put("c", "where the nut's least is reached", most, "mm").gives(exact, "mm", SIMILAR),
        None => told.gives(exact, "mm", SIMILAR),
    }
}

/// The exact amount of one string, on the way to something else; empty where it was not read.
pub(in crate::setup) fn exact_on_the_way(input: &CutInput, output: &CutOutput, place: usize) -> Vec<Working> {
    let Some((string, exact)) = input.strings.get(place).zip(output.strings.get(place).and_then(|cut| cut.exact_mm))
    else {
        return Vec::new();
    };
    let Some(reading) = value(input, string) else {
        return Vec::new();
    };
    let k = factor(input, string);
    let mut chain = positions(input);
    chain.push(magnified(input, string, place + 1, k));
    chain.push(exact_amount(input, string, place + 1, (k, reading, exact), String::new()));
    chain
}

pub(in crate::setup) fn raised(input: &CutInput, output: &CutOutput, place: usize, raise: &Raise) -> Vec<Working> {
    let number = raise.string;
    let of = output.strings.get(number.saturating_sub(1));
    let mut chain = vec![
        Working::new(format!("/raise/{place}/mm"), format!("raise under string {number}"), "r = −a")
            .put("a", "exact amount", of.and_then(|cut| cut.exact_mm).unwrap_or(-raise.mm), "mm")
            .gives(raise.mm, "mm", SIMILAR),
    ];
    if let Some(expanded) = raise.expanded_mm {
        chain.push(
            Working::new(
                format!("/raise/{place}/expanded_mm"),
                format!("expanded uncertainty of the raise, string {number}"),
                "U_r = U",
            )
            .put(
                "U",
                "expanded uncertainty of the exact amount",
                of.and_then(|cut| cut.expanded_mm).unwrap_or(expanded),
                "mm",
            )
            .gives(expanded, "mm", EXPANDED),
        );
    }
    let shims = u32::try_from(raise.shims).unwrap_or(u32::MAX);
    let of = format!("/raise/{place}/shims");
    chain.push(if raise.shims == 0 {
        Working::new(of, format!("shims under string {number}: none, it is raised otherwise"), "n = 0").gives(
            0.0,
            "",
            "common practice, no source",
        )
    } else {
        Working::new(of, format!("shims under string {number}"), "n = max(⌈r/s − h⌉, 1)")
            .put("r", "raise", raise.mm, "mm")
            .put("s", "thickness of a shim", input.shim_mm, "mm")
            .put("h", "a hair for the computer's rounding", SAME_MM, "")
            .gives(f64::from(shims), "", "common practice, no source")
    });
    chain
}

fn said(limit: &Limit) -> String {
    match limit.bound {
        Bound::String(place) => format!("the amount of string {}", place + 1),
        Bound::Showing => "what this end of the saddle can lose".to_owned(),
        Bound::Nothing => "nothing, below which no cut goes".to_owned(),
    }
}

/// The slope of the straight cut, and its sum, which no other straight cut within the bounds exceeds.
fn straight(fit: &Fit, from: &str, input: &CutInput, feet: &Feet) -> Vec<Working> {
    let slope = match fit.and_on {
        None => Working::new(
            "",
            format!("slope of the foot's cut from {from}: level, it rests on {}", said(&fit.rests_on)),
            "b = 0",
        ),
        Some(other) => {
            let what = format!(
                "slope of the foot's cut from {from}: it rests on {} and {}",
                said(&fit.rests_on),
                said(&other)
            );
            Working::new("", what, "b = (a₂ − a₁)/(q₂ − q₁)")
                .put("a₂", said(&other), other.amount, "mm")
                .put("a₁", said(&fit.rests_on), fit.rests_on.amount, "mm")
                .put("q₂", "where the one stands across the saddle", other.position, "mm")
                .put("q₁", "where the other stands", fit.rests_on.position, "mm")
        }
    };
    let sum: f64 = feet.positions.iter().map(|position| fit.line.at(*position)).sum();
    let strings = f64::from(u32::try_from(input.strings.len()).unwrap_or(u32::MAX));
    let greatest = Working::new(
        "",
        format!("sum of the foot's cut over the strings from {from}: greatest of all that go nowhere below 0 or above a bound"),
        "F = n·a₁ + b·(Σ(qᵢ) − n·q_r)",
    )
    .put("n", "strings", strings, "")
    .put("a₁", said(&fit.rests_on), fit.rests_on.amount, "mm")
    .put("b", "slope", fit.line.slope, "")
    .put_each("q", "position of string", feet.positions.iter().copied(), "mm")
    .put("q_r", "where the bound stands", fit.rests_on.position, "mm");
    vec![slope.gives(fit.line.slope, "", FOOT), greatest.gives(sum, "mm", FOOT)]
}

fn end(of: &str, name: &str, fit: &Fit, position: f64, mm: f64) -> Working {
    Working::new(of, format!("off the foot at the {name} end"), "f = a₁ + b·(q − q₁)")
        .put("a₁", said(&fit.rests_on), fit.rests_on.amount, "mm")
        .put("b", "slope of the foot's cut", fit.line.slope, "")
        .put("q", "position of the end", position, "mm")
        .put("q₁", "where the bound stands", fit.rests_on.position, "mm")
        .gives(mm, "mm", FOOT)
}

/// From how far each string's reading moves an amount to the amount's expanded uncertainty.
fn end_unsure((of, what): (String, String), unsure: &EndUnsure, depth_mm: f64, input: &CutInput) -> Vec<Working> {
    let cutting = Working::new(
        "",
        format!("standard uncertainty of the cutting, {what}: no more than it cuts at all"),
        "u_c = min(c, d)",
    )
    .put("c", "of the cutting where it cuts", input.cut_uncertainty_mm, "mm")
    .put("d", "how deep it cuts at most", depth_mm.max(0.0), "mm")
    .gives(unsure.by_cutting, "mm", "derived here");
    let mut chain = vec![cutting];
    chain.extend(sensitivities((of, what), &unsure.by_strings, Some(unsure.by_cutting)));
    chain
}

/// An amount's expanded uncertainty from how far a standard uncertainty of each reading moves it (GUM 5.1.3, note 2),
/// and of the cutting where there is one.
pub(in crate::setup) fn sensitivities(
    (of, what): (String, String),
    parts: &[Contribution],
    cutting: Option<f64>,
) -> Vec<Working> {
    const MOVED: &str = "how far a standard uncertainty of the reading moves it, reading";
    let all: Vec<Contribution> = parts
        .iter()
        .copied()
        .chain(cutting.map(|cutting| Contribution { standard_uncertainty: cutting, degrees_of_freedom: None }))
        .collect();
    let combined = crate::setup::reading::combine(&all);
    let u = combined.standard_uncertainty;
    let moved = || parts.iter().map(|part| part.standard_uncertainty);
    let told = |formula: &str| Working::new("", format!("standard uncertainty of {what}"), formula);
    let sum = match (parts.is_empty(), cutting) {
        (true, Some(cutting)) => told("u = u_c").put("u_c", "standard uncertainty of the cutting", cutting, "mm"),
        (true, None) => told("u = 0"),
        (false, Some(cutting)) => told("u = √(Σ(zᵢ²) + u_c²)").put_each("z", MOVED, moved(), "mm").put(
            "u_c",
            "standard uncertainty of the cutting",
            cutting,
            "mm",
        ),
        (false, None) => told("u = √(Σ(zᵢ²))").put_each("z", MOVED, moved(), "mm"),
    };
    let mut chain = vec![sum.gives(u, "mm", "JCGM 100:2008 (GUM) 5.1.3, note 2")];
    let freedom = combined.degrees_of_freedom;
    if let Some(freedom) = freedom {
        let known: Vec<(f64, f64)> =
            parts.iter().filter_map(|part| Some((part.standard_uncertainty, part.degrees_of_freedom?))).collect();
        chain.push(
            Working::new("", format!("effective degrees of freedom of {what}"), "ν = u⁴/Σ(zᵢ⁴/νᵢ)")
                .put("u", "standard uncertainty", u, "mm")
                .put_each("z", MOVED, known.iter().map(|(moved, _)| *moved), "mm")
                .put_each("ν", "degrees of freedom of reading", known.iter().map(|(_, freedom)| *freedom), "")
                .gives(freedom, "", "Welch–Satterthwaite, JCGM 100:2008 (GUM) G.4.1"),
        );
    }
    let t = EndUnsure::factor(&combined);
    chain.push(quantile_working(
        String::new(),
        format!("coverage factor of {what}"),
        "t_U",
        ("(1 + p)/2", "p", "share of cases covered"),
        (COVERAGE, freedom.filter(|freedom| *freedom < LARGE_FREEDOM)),
        t,
    ));
    chain.push(
        Working::new(of, format!("expanded uncertainty of {what}"), "U = t_U·u")
            .put("t_U", "coverage factor", t, "")
            .put("u", "standard uncertainty", u, "mm")
            .gives(t * u, "mm", EXPANDED),
    );
    chain
}

/// What is left showing at one end once all is off there.
fn left_showing(
    input: &CutInput,
    output: &CutOutput,
    feet: &Feet,
    (shows, left): (Ends, Ends),
    (name, is_treble): (&str, bool),
    unsure: &EndUnsure,
) -> Vec<Working> {
    let of_end = |ends: Ends| if is_treble { ends.treble } else { ends.bass };
    let (first, last) = feet.ends_mm();
    let foot = feet.full.line.at(if is_treble { first } else { last });
    let amount = if is_treble { feet.exact.first() } else { feet.exact.last() }.copied().unwrap_or(0.0);
    let mut chain = vec![
        Working::new(
            format!("/left_showing_mm/{name}"),
            format!("saddle left above the bridge once all is off, {name}"),
            "l = S − max(a, f)",
        )
        .put("S", "showing before", of_end(shows), "mm")
        .put(
            "a",
            "exact amount of the outer string, foot and top together; 0 where it is a raise or was not read",
            amount,
            "mm",
        )
        .put("f", "off the foot", foot, "mm")
        .gives(of_end(left), "mm", "a difference"),
    ];
    let Some(result) = output.left_showing_expanded_mm.map(of_end) else {
        return chain;
    };
    let told = (String::new(), format!("all that comes off at the {name} end"));
    chain.extend(end_unsure(told, unsure, amount.max(foot), input));
    chain.push(
        Working::new(
            format!("/left_showing_expanded_mm/{name}"),
            format!("expanded uncertainty of what is left, {name}"),
            "U_l = √(U² + U_S²)",
        )
        .put("U", "of what comes off", unsure.expanded_mm(), "mm")
        .put("U_S", "of the showing; 0 where it was not given", input.showing_expanded_mm.map_or(0.0, of_end), "mm")
        .gives(result, "mm", COMBINED),
    );
    chain
}

/// What the foot's cut leaves to be shaped on top.
fn on_top(feet: &Feet, output: &CutOutput) -> Vec<Working> {
    let rest = output.strings.iter().zip(feet.positions.iter().zip(&feet.exact)).enumerate();
    let told = rest.filter_map(|(place, (string, (position, amount)))| {
        let on_top = string.on_top_mm?;
        let fit = &feet.full;
        let what = format!("left to shape on top after the foot's cut, string {}", place + 1);
        let told = Working::new(format!("/strings/{place}/on_top_mm"), what, "o = max(a₀ − (a₁ + b·(q − q₁)), 0)")
            .put("a₀", "exact amount; 0 where it is a raise or was not read", *amount, "mm")
            .put("a₁", said(&fit.rests_on), fit.rests_on.amount, "mm")
            .put("b", "slope of the foot's cut", fit.line.slope, "")
            .put("q", "position of the string", *position, "mm")
            .put("q₁", "where the bound stands", fit.rests_on.position, "mm")
            .gives(on_top, "mm", FOOT);
        Some(told)
    });
    told.collect()
}
