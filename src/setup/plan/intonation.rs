//! Intonation, once heights are right: measured cents outrank every forecast.

use super::bench::{Bench, Read};
use super::types::{Forecast, PlanInstrument, Severity};
use super::walk::{Found, Stage, StringAmounts, Todo, Walk, range, said_strings};
use crate::setup::intonation::{Chain, IntonationInput, IntonationString, SetBacks};
use crate::setup::reading::supported;
use crate::setup::tension::Material;

/// Cents in a whole of the scale: 1200/ln 2.
pub(super) const CENTS_PER_LENGTH: f64 = 1_731.234_049_066_756;
/// Half the thickness of a usual 3 mm saddle: further no break point moves on it. Common practice, no source.
const MOST_ON_A_SADDLE_MM: f64 = 1.5;
/// Said of the step while a step before it will change the cents.
const LATER: &str =
    "Set the intonation string by string, once the heights are right and the cents at the 12th are read again.";

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let tolerance = bench.targets.cents_tolerance;
    let off: Vec<(usize, Read)> = (1..)
        .zip(&bench.strings)
        .filter_map(|(number, string)| string.cents.map(|cents| (number, cents)))
        .filter(|(_, cents)| cents.value.abs() - cents.expanded > tolerance)
        .collect();
    let Some((_, worst)) = off.iter().max_by(|(_, one), (_, other)| one.value.abs().total_cmp(&other.value.abs()))
    else {
        return;
    };
    let strings: Vec<usize> = off.iter().map(|(number, _)| *number).collect();
    let on = said_strings(&strings, bench.strings.len());
    let words = format!(
        "At the 12th fret {on} read {}{} cents at worst; up to {tolerance:.0} is left alone.",
        if worst.value > 0.0 { "+" } else { "" },
        worst.said()
    );
    walk.find(
        Stage::Intonation,
        Found::new("intonation-off", Severity::Work, words)
            .on(strings)
            .with("cents_at_12", worst.value)
            .with("expanded_cents", worst.expanded)
            .with("setback_to_add_mm", setback_mm(bench, worst.value))
            .service("intonation"),
    );
    let of_string = |number: usize| off.iter().find(|(string, _)| *string == number).map(|(_, cents)| *cents);
    let each = off.iter().map(|(number, cents)| {
        let said = supported(setback_mm(bench, cents.value), setback_mm(bench, cents.expanded));
        format!("string {number} {}{said} mm", if cents.value > 0.0 { "+" } else { "" })
    });
    let beyond = if off.iter().any(|(_, cents)| setback_mm(bench, cents.value).abs() > MOST_ON_A_SADDLE_MM) {
        " More than half a saddle's thickness: no break point moves so far. Look for a string, a nut or a bridge that is wrong."
    } else {
        ""
    };
    let words = format!(
        "Move the string's break point on the saddle away from the frets (plus) or towards them (minus): {}. The last cent is not heard.{beyond}",
        each.collect::<Vec<_>>().join(", ")
    );
    let numbers = 1..=bench.strings.len();
    let amount = |pick: fn(&Read) -> f64| -> Vec<Option<f64>> {
        numbers.clone().map(|number| of_string(number).map(|cents| setback_mm(bench, pick(&cents)))).collect()
    };
    let setback_to_add =
        Some(StringAmounts { mm: amount(|cents| cents.value), expanded_mm: amount(|cents| cents.expanded) });
    let forecast = walk.is_stale(Stage::Intonation).then(|| setback_forecast(bench, &off));
    let todo = Todo::plain(Stage::Intonation, "intonation-off", words).while_waiting(LATER);
    walk.step(Todo { forecast, setback_to_add, ..todo });
}

/// Set-back to add, mm: c·L/1731, the first order of the chain.
fn setback_mm(bench: &Bench<'_>, cents: f64) -> f64 {
    cents * bench.frame.scale_mm() / CENTS_PER_LENGTH
}

/// What set-back may be left to add once the heights are right: between the cents as read and the cents
/// with what the lower (or higher) string changes of them. Null where the string is not known well enough
/// to tell that change: a range without it would be too narrow.
fn setback_forecast(bench: &Bench<'_>, off: &[(usize, Read)]) -> Forecast {
    let strings = (1..).zip(&bench.strings).enumerate().map(|(place, (number, _))| {
        let (_, cents) = off.iter().find(|(string, _)| *string == number)?;
        let change = height_change_cents(bench, place)?;
        let unsure = setback_mm(bench, cents.expanded);
        Some(range(setback_mm(bench, cents.value), setback_mm(bench, cents.value + change), unsure))
    });
    Forecast { quantity: "saddle_setback_mm".to_owned(), strings: strings.collect() }
}

/// How many cents the 12th fret changes from the height as read to the height as wished; `None` where the
/// string is not known well enough for the chain.
fn height_change_cents(bench: &Bench<'_>, place: usize) -> Option<f64> {
    let (as_read, as_wished) = heights_asked(bench, place)?;
    let at_12 = |asked: &IntonationInput| {
        let chain = Chain::new(asked, 0.0).ok()?;
        Some(chain.cents_at(12, as_it_is(bench)))
    };
    Some(at_12(&as_wished)? - at_12(&as_read)?)
}

pub(super) fn as_it_is(bench: &Bench<'_>) -> SetBacks {
    SetBacks { saddle_setback_mm: bench.input.instrument.saddle_setback_mm, nut_setback_mm: 0.0 }
}

/// What the chain is asked: the string at its height as read, and at its height as wished.
pub(super) fn heights_asked(bench: &Bench<'_>, place: usize) -> Option<(IntonationInput, IntonationInput)> {
    let instrument = &bench.input.instrument;
    let read = bench.strings.get(place)?;
    let first_fret_mm = read.first.map_or(bench.first_target(place), |first| first.value);
    let at = |action_12_mm: f64| {
        let asked = intonation_question(instrument, place, first_fret_mm, action_12_mm)?;
        Some(IntonationInput { frets: 12, ..asked })
    };
    Some((at(read.action?.value)?, at(bench.action_target(place))?))
}

/// What `intonation` is asked of one string of an instrument (from 0) at given heights, mm, on a straight
/// board; `None` where the string's pitch is not known.
pub fn intonation_question(
    instrument: &PlanInstrument,
    place: usize,
    first_fret_mm: f64,
    action_12_mm: f64,
) -> Option<IntonationInput> {
    let string = instrument.strings.get(place)?;
    // a steel winding adds mass and neither stretches nor bends: its outer diameter stands for no core
    let is_wound_steel = string.wound == Some(true) && string.material == Some(Material::Steel);
    Some(IntonationInput {
        scale_mm: instrument.scale_mm,
        frets: instrument.frets,
        first_fret_mm,
        action_12_mm,
        relief_mm: 0.0,
        body_fret: None,
        a4_hz: 440.0,
        saddle_setback_mm: instrument.saddle_setback_mm,
        nut_setback_mm: 0.0,
        clamped_ends: 1,
        string: IntonationString {
            pitch: string.pitch.clone()?,
            material: string.material,
            diameter_mm: string.diameter_mm.filter(|_| !is_wound_steel),
            core_diameter_mm: string.core_diameter_mm,
            linear_density_g_m: string.linear_density_g_m,
            modulus_gpa: string.modulus_gpa,
            stretch_ratio: string.stretch_ratio,
        },
        uncertainty: None,
    })
}
