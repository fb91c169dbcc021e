//! How the figures of a change of strings came about.

use super::relief::slopes;
use super::warnings::MUSIC_WIRE;
use super::{Change, ChangeString, OneString, ReliefFrom, StringChangeInput, StringChangeOutput, on_board};
use crate::setup::intonation::{self, Chain, SetBacks};
use crate::setup::statics::BreakAngle;
use crate::setup::tension;
use crate::working::{Working, Workings};

const STATICS: &str = "statics; any text on mechanics";
const SUM: &str = "a sum";

/// The working of every number but what was stated.
pub fn explain(input: &StringChangeInput, output: &StringChangeOutput, workings: &mut Workings) {
    for (place, string) in output.strings.iter().enumerate() {
        for (which, given, found) in [("now", &input.now, string.now), ("next", &input.next, string.next)] {
            let at = format!("/strings/{place}/{which}");
            let Some(given) = given.get(place) else { continue };
            workings.figure(&at, || one(input, (place, &at), given, &found));
        }
        let at = format!("/strings/{place}");
        if let (Some(setback_mm), Some(next)) = (string.now.saddle_setback_mm, input.next.get(place)) {
            let of = format!("{at}/cents_at_12_if_saddle_stays");
            workings.figure(&of.clone(), || at_the_12th(input, place, next, setback_mm, Some(of)));
        }
        workings.figure(&format!("{at}/tension_n"), || differences(&format!("{at}/tension_n"), "N", string.tension_n));
        let diameter = |set: &[ChangeString]| set.get(place).and_then(|string| string.diameter_mm);
        if let (Some(thicker), Some(now), Some(next)) = (string.thicker_mm, diameter(&input.now), diameter(&input.next))
        {
            let of = format!("{at}/thicker_mm");
            workings.figure(&of, || {
                let told =
                    Working::new(of.as_str(), format!("how much thicker string {} will be", place + 1), "t = d₂ − d₁")
                        .put("d₂", "diameter to come", next, "mm")
                        .put("d₁", "diameter now", now, "mm")
                        .gives(thicker, "mm", "a difference");
                vec![told]
            });
        }
    }
    workings.figure("/total_n", || {
        let sum = |which: &str, result: f64, pull: fn(&super::StringChanged) -> f64| {
            Working::new(format!("/total_n/{which}"), "pull of all strings together", "F = Σ(Tᵢ)")
                .put_each("T", "tension of string", output.strings.iter().map(pull), "N")
                .gives(result, "N", SUM)
        };
        let mut chain = vec![
            sum("now", output.total_n.now, |string| string.now.tension_n),
            sum("next", output.total_n.next, |string| string.next.tension_n),
        ];
        chain.extend(differences("/total_n", "N", output.total_n));
        chain
    });
    if let Some((moment, height)) = output.bridge_moment_nm.zip(input.height_over_top_mm) {
        workings.figure("/bridge_moment_nm", || {
            let turned = |(which, pull, result): (&str, f64, f64)| {
                Working::new(format!("/bridge_moment_nm/{which}"), "turning moment on the bridge", "M = F·h/1000")
                    .put("F", "pull of all strings", pull, "N")
                    .put("h", "strings over the top at the bridge", height, "mm")
                    .gives(result, "N·m", STATICS)
            };
            let both = [("now", output.total_n.now, moment.now), ("next", output.total_n.next, moment.next)];
            both.into_iter().map(turned).chain(differences("/bridge_moment_nm", "N·m", moment)).collect()
        });
    }
    if let Some((down, angle)) = output.saddle_down_n.zip(input.break_angle) {
        workings.figure("/saddle_down_n", || {
            let both = [("now", output.total_n.now, down.now), ("next", output.total_n.next, down.next)];
            let pressed = both.into_iter().map(|(which, pull, result)| pressed(which, pull, angle, result));
            pressed.chain(differences("/saddle_down_n", "N", down)).collect()
        });
    }
    if let Some((change, (slopes, from))) = output.relief.change_mm.zip(slopes(input)) {
        workings.figure("/relief/change_mm", || relief(change, slopes, from, output.total_n.change));
    }
}

/// Frequency, mass, pull and what follows from them, of one string.
fn one(input: &StringChangeInput, (place, at): (usize, &str), given: &ChangeString, found: &OneString) -> Vec<Working> {
    let mut chain = Vec::new();
    let of = |name: &str| format!("{at}/{name}");
    chain.extend(tension::working::frequency(&of("frequency_hz"), &given.pitch, input.a4_hz, found.frequency_hz));
    if given.linear_density_g_m.is_none() {
        chain.extend(mass(&of("linear_density_g_m"), given, found.linear_density_g_m));
    }
    let scale_mm = given.scale_mm.unwrap_or(input.scale_mm);
    let (frequency, density) = (found.frequency_hz, found.linear_density_g_m);
    chain.push(tension::working::force(&of("tension_n"), scale_mm, frequency, density, found.tension_n));
    if let Some((share, diameter)) = found.share_of_breaking.zip(given.diameter_mm) {
        chain.push(
            Working::new(of("share_of_breaking"), "share of the least stress that breaks it", "s = T/(π·d²/4)/(A/d^m)")
                .put("T", "tension", found.tension_n, "N")
                .put("d", "diameter", diameter, "mm")
                .put("A", "strength of music wire of 1 mm", MUSIC_WIRE.0, "MPa")
                .put("m", "how it falls with thickness", MUSIC_WIRE.1, "")
                .gives(share, "", "ASTM A228 least tensile strength, as in tables of machine design"),
        );
    }
    if let Some((least, angle)) = found.least_behind_saddle_n.zip(input.break_angle) {
        chain.push(
            Working::new(of("least_behind_saddle_n"), "least pull behind the saddle", "T₂ = T·exp(−μ·θ)")
                .put("T", "tension", found.tension_n, "N")
                .put("μ", "greatest friction found, Groves and Kemp (2019)", given.friction(), "")
                .put("θ", "break angle", angle.whole_degrees().to_radians(), "rad")
                .gives(least, "N", "capstan equation (Euler–Eytelwein)"),
        );
    }
    if let Some(setback_mm) = found.saddle_setback_mm {
        chain.extend(at_the_12th(input, place, given, setback_mm, None));
        if let Some(string) = on_board(input, place, given).and_then(|asked| Chain::new(&asked, 0.0).ok()) {
            chain.push(intonation::working::best_saddle(of("saddle_setback_mm"), &string, set_back(setback_mm)));
        }
    }
    chain
}

fn set_back(saddle_setback_mm: f64) -> SetBacks {
    SetBacks { saddle_setback_mm, nut_setback_mm: 0.0 }
}

/// The error at the 12th of one string with the saddle set back so far; `of` is the answer's number it is.
fn at_the_12th(
    input: &StringChangeInput,
    place: usize,
    given: &ChangeString,
    setback_mm: f64,
    of: Option<String>,
) -> Vec<Working> {
    let Some(asked) = on_board(input, place, given) else {
        return Vec::new();
    };
    let Ok(string) = Chain::new(&asked, 0.0) else {
        return Vec::new();
    };
    let mut chain = intonation::working::string(&asked, &string, false);
    chain.extend(intonation::working::open(&asked, &string, set_back(setback_mm)));
    chain.extend(intonation::working::note(&asked, &string, 12, set_back(setback_mm), false));
    if let Some((last, of)) = chain.last_mut().zip(of) {
        last.of = of;
    }
    chain
}

fn mass(of: &str, given: &ChangeString, result: f64) -> Option<Working> {
    let material = given.material?;
    if !given.is_wound() {
        return Some(tension::working::plain_mass(of, material, given.diameter_mm?, result));
    }
    let told = Working::new(of, "mass per length of the wound string", "μ = π/4·ρ·c² + π²/4·ρ_w·w·(c + w)")
        .put("ρ", "density of the core", material.density_kg_m3() / 1000.0, "g/cm³")
        .put("c", "diameter of the core", given.core_diameter_mm?, "mm")
        .put("ρ_w", "density of the wrap", given.wrap_kg_m3() / 1000.0, "g/cm³")
        .put("w", "diameter of the wrap's wire", given.wrap_mm()?, "mm")
        .gives(result, "g/m", "derived here: one layer of touching round wire, its slope left out");
    Some(told)
}

fn differences(at: &str, unit: &str, change: Change) -> Vec<Working> {
    let put = |working: Working| {
        working.put("n₂", "with the strings to come", change.next, unit).put("n₁", "with those on it", change.now, unit)
    };
    vec![
        put(Working::new(format!("{at}/change"), "change", "d = n₂ − n₁")).gives(change.change, unit, "a difference"),
        put(Working::new(format!("{at}/change_percent"), "change as a share of now", "p = 100·(n₂ − n₁)/n₁")).gives(
            change.change_percent,
            "%",
            "a share",
        ),
    ]
}

fn pressed(which: &str, pull: f64, angle: BreakAngle, result: f64) -> Working {
    Working::new(format!("/saddle_down_n/{which}"), "pressed down on the saddle", "N = F·(s₁ + s₂)")
        .put("F", "pull of all strings", pull, "N")
        .put("s₁", "sine of the angle in front", angle.front_degrees.to_radians().sin(), "")
        .put("s₂", "sine of the angle behind", angle.back_degrees.to_radians().sin(), "")
        .gives(result, "N", STATICS)
}

fn relief(change: [f64; 2], slopes: (f64, f64), from: ReliefFrom, pull: f64) -> Vec<Working> {
    let (meaning, source) = match from {
        ReliefFrom::Assumption => (
            "relief per newton of an even beam, e·l²/(8·EI)",
            "beam theory; stiffness and lever of the neck are an assumption, no source",
        ),
        ReliefFrom::OwnPairs => ("relief per newton, as this instrument showed", "this instrument's own readings"),
    };
    // less pull turns the order round
    let ordered = if pull < 0.0 { [slopes.1, slopes.0] } else { [slopes.0, slopes.1] };
    let both = ["least", "most"].into_iter().zip(ordered).zip(change).enumerate();
    let told = both.map(|(place, ((which, slope), result))| {
        Working::new(format!("/relief/change_mm/{place}"), format!("{which} change of relief"), "r = q·F")
            .put("q", meaning, slope, "mm/N")
            .put("F", "change of pull", pull, "N")
            .gives(result, "mm", source)
    });
    told.collect()
}
