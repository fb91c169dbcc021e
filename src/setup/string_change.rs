//! `string-change`: another set on the same instrument, before anybody puts it on.
//!
//! Pull by T = μ(2Lf)² (see [`super::tension`]), set-backs and cents by the chain of [`super::intonation`],
//! load on the bridge by [`super::statics`]. What the neck does is told by its sign; by an amount only as a
//! wide range, from a stated assumption or from the instrument's own readings.

mod input;
mod output;
mod relief;
mod warnings;
mod working;

use super::intonation::{Chain, IntonationInput, IntonationString, SetBacks, intonation};
use super::limits::{A4_HZ, DIAMETER_MM, HEIGHT_MM, MOST_FRETS, MOST_STRINGS, SCALE_MM, SIGNED_MM};
use super::statics::turning_moment_nm;
use super::tension::{Material, PITCH_FORM, linear_density, pitch_hz, tension_n, wound_linear_density_g_m};
use crate::problem::Problems;

pub use input::{ChangeString, ReliefPair, StringChangeInput, WrapMetal};
pub use output::{Change, OneString, ReliefEffect, ReliefFrom, ReliefSign, StringChangeOutput, StringChanged, Warning};
pub use warnings::breaking_stress_mpa;
pub use working::explain;

/// What another set does to an instrument.
///
/// # Errors
/// When a string is not described enough, the sets differ in number, or a number is out of range.
pub fn string_change(input: &StringChangeInput) -> Result<StringChangeOutput, Problems> {
    let mut problems = Problems::default();
    check(&mut problems, input);
    let now = set(&mut problems, input, "now", &input.now);
    let next = set(&mut problems, input, "next", &input.next);
    problems.check()?;

    let pairs = now.iter().zip(&next).zip(input.now.iter().zip(&input.next));
    let strings: Vec<StringChanged> = (0..)
        .zip(pairs)
        .map(|(place, ((now, next), (string_now, string_next)))| {
            let diameters = string_next.diameter_mm.zip(string_now.diameter_mm);
            StringChanged {
                now: *now,
                next: *next,
                tension_n: Change::new(now.tension_n, next.tension_n),
                cents_at_12_if_saddle_stays: now
                    .saddle_setback_mm
                    .and_then(|set_back| cents_at_12(input, place, string_next, set_back)),
                thicker_mm: diameters.map(|(next, now)| next - now),
            }
        })
        .collect();
    let sum = |set: &[OneString]| set.iter().map(|string| string.tension_n).sum::<f64>();
    let total_n = Change::new(sum(&now), sum(&next));
    let warnings = warnings::warnings(input, &strings, total_n);
    Ok(StringChangeOutput {
        total_n,
        bridge_moment_nm: input
            .height_over_top_mm
            .map(|height| Change::new(turning_moment_nm(total_n.now, height), turning_moment_nm(total_n.next, height))),
        saddle_down_n: input
            .break_angle
            .map(|angle| Change::new(angle.down_n(total_n.now), angle.down_n(total_n.next))),
        relief: relief::effect(input, total_n),
        stopped: warnings.iter().any(|warning| warning.stop),
        warnings,
        cautions: vec!["string-tension".to_owned()],
        strings,
    })
}

fn check(problems: &mut Problems, input: &StringChangeInput) {
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.require((1..=MOST_FRETS).contains(&input.frets), "/frets", format_args!("must be from 1 to {MOST_FRETS}"));
    problems.within("/a4_hz", input.a4_hz, A4_HZ.0, A4_HZ.1);
    problems.count("/now", input.now.len(), 1, MOST_STRINGS);
    problems.count("/next", input.next.len(), 1, MOST_STRINGS);
    let same = |length: usize| length == input.now.len();
    problems.require(
        same(input.next.len()),
        "/next",
        format_args!("must have as many strings as now ({})", input.now.len()),
    );
    if let Some(heights) = &input.heights {
        problems.require(
            same(heights.len()),
            "/heights",
            format_args!("must have one entry a string ({})", input.now.len()),
        );
        for (place, heights) in heights.iter().enumerate() {
            let at = format!("/heights/{place}");
            problems.within(format_args!("{at}/first_fret_mm"), heights.first_fret_mm, HEIGHT_MM.0, HEIGHT_MM.1);
            problems.within(format_args!("{at}/action_12_mm"), heights.action_12_mm, HEIGHT_MM.0, HEIGHT_MM.1);
        }
    }
    problems.within("/relief_mm", input.relief_mm, SIGNED_MM.0, SIGNED_MM.1);
    match input.body_fret {
        Some(body) => {
            problems.require(
                (2..=MOST_FRETS).contains(&body),
                "/body_fret",
                format_args!("must be from 2 to {MOST_FRETS}"),
            );
        }
        None => problems.require(input.relief_mm == 0.0, "/body_fret", "is needed with relief"),
    }
    relief::check(problems, &input.relief_pairs);
    if let Some(angle) = input.break_angle {
        angle.check(problems, "/break_angle");
    }
    problems.within_if_given("/height_over_top_mm", input.height_over_top_mm, HEIGHT_MM.0, HEIGHT_MM.1);
}

/// The figures of one set; shorter than the set where something is wrong, which is then noted.
fn set(problems: &mut Problems, input: &StringChangeInput, name: &str, strings: &[ChangeString]) -> Vec<OneString> {
    let rows = strings.iter().enumerate().filter_map(|(place, string)| {
        let at = format!("/{name}/{place}");
        let frequency = pitch_hz(&string.pitch, input.a4_hz);
        problems.require(frequency.is_some(), format_args!("{at}/pitch"), PITCH_FORM);
        problems.within_if_given(format_args!("{at}/scale_mm"), string.scale_mm, SCALE_MM.0, SCALE_MM.1);
        let density = density(problems, &at, string);
        let (frequency_hz, linear_density_g_m) = frequency.zip(density)?;
        let tension_n = tension_n(string.scale_mm.unwrap_or(input.scale_mm), frequency_hz, linear_density_g_m);
        Some(OneString {
            frequency_hz,
            linear_density_g_m,
            tension_n,
            saddle_setback_mm: saddle_setback_mm(input, place, string),
            share_of_breaking: warnings::share_of_breaking(string, tension_n),
            least_behind_saddle_n: input.break_angle.map(|angle| angle.least_beyond_n(tension_n, string.friction())),
        })
    });
    rows.collect()
}

fn density(problems: &mut Problems, at: &str, string: &ChangeString) -> Option<f64> {
    for (name, length) in [("core_diameter_mm", string.core_diameter_mm), ("wrap_diameter_mm", string.wrap_diameter_mm)]
    {
        problems.within_if_given(format_args!("{at}/{name}"), length, DIAMETER_MM.0, DIAMETER_MM.1);
    }
    if string.linear_density_g_m.is_some() || !string.is_wound() {
        return linear_density(problems, at, string.material, string.diameter_mm, string.linear_density_g_m);
    }
    problems.within_if_given(format_args!("{at}/diameter_mm"), string.diameter_mm, DIAMETER_MM.0, DIAMETER_MM.1);
    let stated = format!("{at}/linear_density_g_m");
    match (string.material, string.core_diameter_mm, string.wrap_mm()) {
        (Some(Material::Nylon | Material::Fluorocarbon), _, _) => {
            problems
                .note(stated, "must be stated for a wound string with a core of fine threads: no diameter gives it");
            None
        }
        (Some(material), Some(core), Some(wrap)) if wrap > 0.0 => {
            Some(wound_linear_density_g_m(core, material.density_kg_m3(), wrap, string.wrap_kg_m3()))
        }
        _ => {
            problems.note(
                stated,
                "give this of a wound string, or its material, core_diameter_mm and a thicker diameter_mm or \
                 wrap_diameter_mm",
            );
            None
        }
    }
}

/// The string as `intonation` takes it, on this board; `None` without its heights.
fn on_board(input: &StringChangeInput, place: usize, string: &ChangeString) -> Option<IntonationInput> {
    let heights = input.heights.as_ref()?.get(place)?;
    let is_bare_wound = string.is_wound() && string.core_diameter_mm.is_none();
    if is_bare_wound {
        return None;
    }
    let is_wound = string.is_wound();
    let density = density(&mut Problems::default(), "", string)?;
    Some(IntonationInput {
        scale_mm: string.scale_mm.unwrap_or(input.scale_mm),
        frets: input.frets.max(12),
        first_fret_mm: heights.first_fret_mm,
        action_12_mm: heights.action_12_mm,
        relief_mm: input.relief_mm,
        body_fret: input.body_fret,
        a4_hz: input.a4_hz,
        saddle_setback_mm: 0.0,
        nut_setback_mm: 0.0,
        finger_behind_mm: 0.0,
        clamped_ends: 1,
        uncertainty: None,
        string: IntonationString {
            pitch: string.pitch.clone(),
            material: string.material,
            diameter_mm: if is_wound { None } else { string.diameter_mm },
            core_diameter_mm: string.core_diameter_mm,
            linear_density_g_m: Some(density),
            modulus_gpa: None,
            stretch_ratio: None,
        },
    })
}

fn saddle_setback_mm(input: &StringChangeInput, place: usize, string: &ChangeString) -> Option<f64> {
    intonation(&on_board(input, place, string)?).ok().map(|found| found.best_saddle_setback_mm)
}

fn cents_at_12(input: &StringChangeInput, place: usize, string: &ChangeString, saddle_setback_mm: f64) -> Option<f64> {
    let chain = Chain::new(&on_board(input, place, string)?, 0.0).ok()?;
    let cents = chain.cents(SetBacks { saddle_setback_mm, nut_setback_mm: 0.0 });
    cents.get(11).copied().filter(|cents| cents.is_finite())
}
