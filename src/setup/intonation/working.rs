//! How each note's error and the best set-backs came about, step by step along the chain.

use super::chain::{Chain, Stretch, board};
use super::unsure::Shifts;
use super::{IntonationInput, IntonationOutput, SetBacks, unsure};
use crate::setup::frame;
use crate::setup::tension::{self, Material, pitch_hz, plain_linear_density_g_m};
use crate::working::{Working, Workings};

const CHAIN: &str = "Anderson and Beausoleil, JASA 156 (2024) 683";
pub(in crate::setup) const FIRST_ORDER: &str =
    "first order of Anderson and Beausoleil, JASA 156 (2024) 683; 1200/ln 2 cents to a length";
const LEAST_SQUARES: &str = "least squares (Gauss–Newton); any text on numerical methods";

/// The working of every number but masses that were stated.
pub fn explain(input: &IntonationInput, output: &IntonationOutput, workings: &mut Workings) {
    let Ok(chain) = Chain::new(input, input.finger_behind_mm) else {
        return;
    };
    let given = SetBacks { saddle_setback_mm: input.saddle_setback_mm, nut_setback_mm: input.nut_setback_mm };
    workings.shared(string(input, &chain, true));
    workings.figure("/best", || best(input, output, &chain));
    workings.figure("/best_", || best_unsure(input, output));
    workings.figure("/rms_cents", || rms(output, &chain));
    workings.shared(open(input, &chain, given));
    for fret in 1..=chain.frets {
        workings.detail("", || note(input, &chain, fret, given, true));
    }
}

/// How the string pulls, stretches and bends.
pub(in crate::setup) fn stiffness(input: &IntonationInput, chain: &Chain, is_answer: bool) -> Vec<Working> {
    let of = |pointer: &str| if is_answer { pointer.to_owned() } else { String::new() };
    let given = &input.string;
    let mut told = Vec::new();
    let frequency = pitch_hz(&given.pitch, input.a4_hz).unwrap_or(0.0);
    told.extend(tension::working::frequency("", &given.pitch, input.a4_hz, frequency));
    let mass = match (given.linear_density_g_m, given.material.zip(given.diameter_mm)) {
        (Some(stated), _) => stated,
        (None, Some((material, diameter))) => {
            let mass = plain_linear_density_g_m(material, diameter);
            told.push(tension::working::plain_mass("", material, diameter, mass));
            mass
        }
        (None, None) => return told,
    };
    told.push(tension::working::force(&of("/tension_n"), input.scale_mm, frequency, mass, chain.tension_n));
    let core = given.core_diameter_mm.or(given.diameter_mm).unwrap_or(0.0);
    told.push(match given.stretch() {
        Stretch::Modulus(modulus_gpa) => {
            let meaning = match (given.modulus_gpa, given.material) {
                (None, Some(Material::Steel)) => "Young's modulus, usual of steel wire",
                (None, _) => "Young's modulus, usual of gut, from memory",
                (Some(_), _) => "Young's modulus as given",
            };
            Working::new(of("/stretch_ratio"), "how stiffly the string stretches", "κ = 1000·E·π·d²/(4·T)")
                .put("E", meaning, modulus_gpa, "GPa")
                .put("d", "diameter of string or core", core, "mm")
                .put("T", "tension", chain.tension_n, "N")
                .gives(chain.stretch_ratio, "", "Hooke's law, κ = EA/T; 1 GPa·mm² is 1000 N")
        }
        Stretch::Ratio(ratio) => {
            let usual = given.stretch_ratio.is_none();
            let meaning = if usual { "usual of nylon and its kin: √κ = 7.1 ± 0.3" } else { "κ = EA/T as given" };
            Working::new(of("/stretch_ratio"), "how stiffly the string stretches", "κ = R")
                .put("R", meaning, ratio, "")
                .gives(ratio, "", if usual { CHAIN } else { "as given" })
        }
    });
    told.push(
        Working::new(of("/stiffness"), "bending stiffness ε of the nominal length", "ε = √(κ)·d/(4·L)")
            .put("κ", "how stiffly the string stretches", chain.stretch_ratio, "")
            .put("d", "diameter of string or core", core, "mm")
            .put("L", "nominal scale", input.scale_mm, "mm")
            .gives(
                chain.stiffness_mm / input.scale_mm,
                "",
                "ε = √(EI/(T·L²)) with I/A = d²/16; Fletcher and Rossing, ch. 2",
            ),
    );
    told
}

/// The string and its line, before any fret is asked.
pub(in crate::setup) fn string(input: &IntonationInput, chain: &Chain, is_answer: bool) -> Vec<Working> {
    let mut told = stiffness(input, chain, is_answer);
    for fret in [1, 12] {
        let symbol = format!("x{}", crate::working::below(fret));
        told.push(frame::working::position("", &symbol, input.scale_mm, fret));
    }
    told.push(frame::working::top(&chain.frame, input.frets, &board(input), 12));
    told.extend(frame::working::line(
        &chain.frame,
        (input.first_fret_mm, input.action_12_mm),
        &chain.line,
        String::new(),
    ));
    told
}

/// The open string at given set-backs.
pub(in crate::setup) fn open(input: &IntonationInput, chain: &Chain, set: SetBacks) -> Vec<Working> {
    let on = chain.on_the_way(12, set);
    vec![
        Working::new("", "length of the open string", "L₀ = (L + ΔS + ΔN)·√(1 + m²)")
            .put("L", "nominal scale", input.scale_mm, "mm")
            .put("ΔS", "set-back of the saddle", set.saddle_setback_mm, "mm")
            .put("ΔN", "set-back of the nut", set.nut_setback_mm, "mm")
            .put("m", "slope of the string", chain.line.slope, "")
            .gives(on.open_mm, "mm", frame::working::STRAIGHT_STRING),
        Working::new("", "bending stiffness of the open string", "ε₀ = ε·L/L₀")
            .put("ε", "of the nominal length", chain.stiffness_mm / input.scale_mm, "")
            .put("L", "nominal scale", input.scale_mm, "mm")
            .put("L₀", "length of the open string", on.open_mm, "mm")
            .gives(on.epsilon_open, "", CHAIN),
    ]
}

/// One fretted note: its lengths, its stretch, and its error by cause.
pub(in crate::setup) fn note(
    input: &IntonationInput,
    chain: &Chain,
    fret: usize,
    set: SetBacks,
    is_answer: bool,
) -> Vec<Working> {
    let place = fret.saturating_sub(1);
    let of = |pointer: String| if is_answer { pointer } else { String::new() };
    let part_of = |name: &str| of(format!("/parts/{place}/{name}"));
    let (on, parts) = (chain.on_the_way(fret, set), chain.at(fret, set));
    let (x, top) = (chain.frame.position_mm(fret), chain.frame.top_mm(fret));
    let number = f64::from(u32::try_from(fret).unwrap_or(u32::MAX));
    let told = |what: &str, formula: &str| Working::new("", format!("{what}, fret {fret}"), formula);
    let part = |name: &str, what: &str, formula: &str| {
        Working::new(part_of(name), format!("share of the {what} in the error, fret {fret}"), formula)
    };
    let kappa = |working: Working| working.put("κ", "how stiffly the string stretches", chain.stretch_ratio, "");
    vec![
        frame::working::position("", "x", input.scale_mm, fret),
        frame::working::top(&chain.frame, input.frets, &board(input), fret),
        told("saddle over the fret's top", "z_S = z₀ + m·(L + ΔS) − u")
            .put("z₀", "height of the string at the nut", chain.line.nut_mm, "mm")
            .put("m", "slope of the string", chain.line.slope, "")
            .put("L", "nominal scale", input.scale_mm, "mm")
            .put("ΔS", "set-back of the saddle", set.saddle_setback_mm, "mm")
            .put("u", "top of the fret over the line", top, "mm")
            .gives(on.saddle_over_mm, "mm", frame::working::STRAIGHT_STRING),
        told("nut over the fret's top", "z_N = z₀ − m·ΔN − u")
            .put("z₀", "height of the string at the nut", chain.line.nut_mm, "mm")
            .put("m", "slope of the string", chain.line.slope, "")
            .put("ΔN", "set-back of the nut", set.nut_setback_mm, "mm")
            .put("u", "top of the fret over the line", top, "mm")
            .gives(on.nut_over_mm, "mm", frame::working::STRAIGHT_STRING),
        told("sounding length", "Lₙ = √((L + ΔS − x)² + z_S²)")
            .put("L", "nominal scale", input.scale_mm, "mm")
            .put("ΔS", "set-back of the saddle", set.saddle_setback_mm, "mm")
            .put("x", "position of the fret", x, "mm")
            .put("z_S", "saddle over the fret's top", on.saddle_over_mm, "mm")
            .gives(on.sounding_mm, "mm", "Pythagoras"),
        behind(input, chain, fret, set),
        told("stretch from pressing", "Q = (Lₙ + L_b − L₀)/L₀")
            .put("Lₙ", "sounding length", on.sounding_mm, "mm")
            .put("L_b", "length behind the fret", on.behind_mm, "mm")
            .put("L₀", "length of the open string", on.open_mm, "mm")
            .gives(on.stretch, "", CHAIN),
        kappa(
            told("bending stiffness", "ε = ε₀·(L₀/Lₙ)/√(1 + κ·Q)")
                .put("ε₀", "of the open string", on.epsilon_open, "")
                .put("L₀", "length of the open string", on.open_mm, "mm")
                .put("Lₙ", "sounding length", on.sounding_mm, "mm"),
        )
        .put("Q", "stretch", on.stretch, "")
        .gives(on.epsilon, "", CHAIN),
        part("length", "length", "c_L = 1200·log2(L₀/(2^(n/12)·Lₙ))")
            .put("L₀", "length of the open string", on.open_mm, "mm")
            .put("n", "fret", number, "")
            .put("Lₙ", "sounding length", on.sounding_mm, "mm")
            .gives(parts.length, "cents", CHAIN),
        part("mass", "mass", "c_M = 600·log2(1 + Q)")
            .put("Q", "stretch", on.stretch, "")
            .gives(parts.mass, "cents", CHAIN),
        kappa(part("tension", "tension", "c_T = 600·log2(1 + κ·Q)")).put("Q", "stretch", on.stretch, "").gives(
            parts.tension,
            "cents",
            CHAIN,
        ),
        part("stiffness", "stiffness", "c_S = 1200·log2((1 + k·ε + (k² + π²/2)·ε²)/(1 + k·ε₀ + (k² + π²/2)·ε₀²))")
            .put("k", "ends held stiffly", chain.clamped_ends, "")
            .put("ε", "bending stiffness, stopped", on.epsilon, "")
            .put("ε₀", "of the open string", on.epsilon_open, "")
            .gives(parts.stiffness, "cents", CHAIN),
        Working::new(
            of(format!("/cents/{place}")),
            format!("error of fret {fret}; plus is sharp"),
            "c = c_L + c_M + c_T + c_S",
        )
        .put("c_L", "length", parts.length, "cents")
        .put("c_M", "mass", parts.mass, "cents")
        .put("c_T", "tension", parts.tension, "cents")
        .put("c_S", "stiffness", parts.stiffness, "cents")
        .gives(parts.sum(), "cents", CHAIN),
    ]
}

/// What lies behind the fret: straight to the nut, or down to the finger first.
fn behind(input: &IntonationInput, chain: &Chain, fret: usize, set: SetBacks) -> Working {
    let on = chain.on_the_way(fret, set);
    let x = chain.frame.position_mm(fret);
    let what = format!("length behind the fret, fret {fret}");
    let told = |formula: &str| {
        Working::new("", what.clone(), formula)
            .put("x", "position of the fret", x, "mm")
            .put("ΔN", "set-back of the nut", set.nut_setback_mm, "mm")
            .put("z_N", "nut over the fret's top", on.nut_over_mm, "mm")
    };
    if input.finger_behind_mm == 0.0 {
        return told("L_b = √((x + ΔN)² + z_N²)").gives(on.behind_mm, "mm", "Pythagoras");
    }
    let dip = on.saddle_over_mm / (input.scale_mm + set.saddle_setback_mm - x);
    told("L_b = a·√(1 + s²) + √((x + ΔN − a)² + (z_N + s·a)²)")
        .put("a", "finger behind the fret", input.finger_behind_mm, "mm")
        .put("s", "slope of the sounding part, which goes on to the finger", dip, "")
        .gives(on.behind_mm, "mm", "Pythagoras")
}

/// The set-back of the saddle that was searched for.
pub(in crate::setup) fn best_saddle(of: String, chain: &Chain, there: SetBacks) -> Working {
    let what = "set-back of the saddle that puts the 12th in tune, found by Newton's steps; the error left is put in";
    Working::new(of, what, "c₁₂(ΔS, ΔN) = 0")
        .put("c₁₂(ΔS, ΔN)", "error at the 12th there", chain.at(12, there).sum(), "cents")
        .put("ΔN", "set-back of the nut as given", there.nut_setback_mm, "mm")
        .gives(there.saddle_setback_mm, "mm", CHAIN)
}

/// What was searched for: the conditions that the set-backs meet.
fn best(input: &IntonationInput, output: &IntonationOutput, chain: &Chain) -> Vec<Working> {
    let saddle = output.best_saddle_setback_mm;
    let there = SetBacks { saddle_setback_mm: saddle, nut_setback_mm: input.nut_setback_mm };
    let (gradient_saddle, gradient_nut) = chain.gradient(output.best_pair);
    let pair = |name: &str, end: &str, formula: &str| {
        Working::new(
            format!("/best_pair/{name}"),
            format!(
                "set-back of the {end} in the pair with the least Σ(cₙ²) over all frets: the sum changes no more with it"
            ),
            formula,
        )
    };
    vec![
        best_saddle("/best_saddle_setback_mm".to_owned(), chain, there),
        pair("saddle_setback_mm", "saddle", "Σ(cₙ·∂cₙ/∂ΔS) = 0")
            .put("Σ(cₙ·∂cₙ/∂ΔS)", "what is left of the sum", gradient_saddle, "cents²/mm")
            .gives(output.best_pair.saddle_setback_mm, "mm", LEAST_SQUARES),
        pair("nut_setback_mm", "nut", "Σ(cₙ·∂cₙ/∂ΔN) = 0")
            .put("Σ(cₙ·∂cₙ/∂ΔN)", "what is left of the sum", gradient_nut, "cents²/mm")
            .gives(output.best_pair.nut_setback_mm, "mm", LEAST_SQUARES),
    ]
}

/// First order of the chain: the set-back to add for an error read at the 12th.
pub fn setback_to_add(of: String, number: usize, cents: f64, scale_mm: f64, result: f64) -> Working {
    Working::new(of, format!("set-back to add at the saddle, string {number}"), "s = c·L·ln(2)/1200")
        .put("c", "error at the 12th", cents, "cents")
        .put("L", "nominal scale", scale_mm, "mm")
        .gives(result, "mm", FIRST_ORDER)
}

/// From what each nudge moves the best set-backs by to their expanded uncertainties.
fn best_unsure(input: &IntonationInput, output: &IntonationOutput) -> Vec<Working> {
    let Some(of) = input.uncertainty else {
        return Vec::new();
    };
    let Ok(shifts) = Shifts::of(input, of, output.best_saddle_setback_mm, output.best_pair) else {
        return Vec::new();
    };
    let told = |pointer: &str, what: &str, shifts: Option<[f64; 4]>, expanded: Option<f64>| {
        let [first, action, stretch, core] = shifts?;
        let what = format!(
            "expanded uncertainty of {what}: each input moved by its standard uncertainty, and the set-back found anew"
        );
        let working = Working::new(pointer, what, "U = k·√(d₁² + d₂² + d₃² + d₄²)")
            .put("k", "coverage factor, 95 % of the normal distribution", unsure::factor(), "")
            .put("d₁", "shift by the height over fret 1", first, "mm")
            .put("d₂", "shift by the height over fret 12", action, "mm")
            .put("d₃", "shift by modulus or κ", stretch, "mm")
            .put("d₄", "shift by the core's diameter", core, "mm");
        Some(working.gives(expanded?, "mm", "JCGM 100:2008 (GUM) 5.1.2 and 5.1.3, note 2"))
    };
    let pair = output.best_pair_expanded;
    [
        told(
            "/best_saddle_expanded_mm",
            "the best set-back",
            shifts.shifts_mm(|best| best.saddle_mm),
            output.best_saddle_expanded_mm,
        ),
        told(
            "/best_pair_expanded/saddle_setback_mm",
            "the pair's saddle",
            shifts.shifts_mm(|best| Some(best.pair.saddle_setback_mm)),
            pair.map(|pair| pair.saddle_setback_mm),
        ),
        told(
            "/best_pair_expanded/nut_setback_mm",
            "the pair's nut",
            shifts.shifts_mm(|best| Some(best.pair.nut_setback_mm)),
            pair.map(|pair| pair.nut_setback_mm),
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn rms(output: &IntonationOutput, chain: &Chain) -> Vec<Working> {
    let none = SetBacks { saddle_setback_mm: 0.0, nut_setback_mm: 0.0 };
    let one = |name: &str, what: &str, set: SetBacks, result: f64| {
        let cents = chain.cents(set);
        Working::new(
            format!("/rms_cents/{name}"),
            format!("root mean square of the errors of all frets, {what}"),
            "r = √(Σ(cᵢ²)/n)",
        )
        .put_each("c", &format!("error by the same chain, {what}, fret"), cents.iter().copied(), "cents")
        .put("n", "frets", f64::from(u32::try_from(cents.len()).unwrap_or(u32::MAX)), "")
        .gives(result, "cents", "root mean square; any text")
    };
    vec![
        one("without", "with no set-back", none, output.rms_cents.without),
        one("with_best_pair", "with the best pair", output.best_pair, output.rms_cents.with_best_pair),
    ]
}
