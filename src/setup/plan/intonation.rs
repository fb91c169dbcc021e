//! Intonation, once heights are right: measured cents outrank every forecast. What moves depends on the bridge: break
//! points filed on a saddle, screws turned, or a bridge that stands free moved, treble and bass apart.

use super::across::{Across, StringWish};
use super::bench::Bench;
use super::built::BridgeKind;
use super::input::PlanInput;
use super::output::{Forecast, Severity};
use super::read::Read;
use super::walk::{Adjustment, Found, Holds, Removal, Stage, StringAmounts, Todo, Walk, range, said_strings};
use crate::setup::frame::fret_position_mm;
use crate::setup::intonation::{Chain, IntonationInput, IntonationString, SetBacks};
use crate::setup::nearest_line::NearestLine;
use crate::setup::reading::supported;
use crate::setup::tension::Material;

/// Cents in a whole of the scale: 1200/ln 2.
pub(super) const CENTS_PER_LENGTH: f64 = 1_731.234_049_066_756;
/// Half the thickness of a usual 3 mm saddle: further no break point moves on it. Common practice, no source.
const MOST_ON_A_SADDLE_MM: f64 = 1.5;
/// Further no usual screw takes a saddle, mm. Common practice, no source.
const MOST_ON_SCREWS_MM: f64 = 6.0;
/// A bridge that would move by less stands where it should, mm. Chosen here.
const LEAST_MOVE_MM: f64 = 0.1;
/// Said of the step while a step before it will change the cents.
const LATER: &str =
    "Set the intonation string by string, once the heights are right and the cents at the 12th are read again.";
const MOVE_LATER: &str = "Set the bridge's place, once the heights are right and the cents at the 12th are read again.";

/// How break points move on this bridge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Moves {
    /// Filed on a bar: what is off does not come back.
    OnASaddle,
    /// Each by its screw.
    OnScrews,
    /// The bridge stands free and moves whole.
    Whole,
}

/// Two posts in a solid body carry saddles on screws; the same bridge on a wooden top only stands there.
fn moves(bench: &Bench<'_>) -> Option<Moves> {
    match bench.bridge? {
        BridgeKind::FixedSaddle => Some(Moves::OnASaddle),
        BridgeKind::TwoPost if !bench.family().is_solid() => Some(Moves::Whole),
        BridgeKind::ScrewSaddles | BridgeKind::TwoPost | BridgeKind::Sprung => Some(Moves::OnScrews),
        BridgeKind::LooseBridge => Some(Moves::Whole),
    }
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    let tolerance = bench.targets.cents_tolerance;
    let off: Vec<(usize, Read)> = (1..)
        .zip(&bench.strings)
        .filter_map(|(number, string)| string.cents.map(|cents| (number, cents)))
        .filter(|(_, cents)| cents.value.abs() - cents.expanded > tolerance)
        .collect();
    let Some((worst_string, worst)) =
        off.iter().max_by(|(_, one), (_, other)| one.value.abs().total_cmp(&other.value.abs()))
    else {
        return;
    };
    let strings: Vec<usize> = off.iter().map(|(number, _)| *number).collect();
    let on = said_strings(&strings, bench.strings.len());
    let words = format!(
        "Stopped at the 12th, {on} {} off, by {}{} cents at worst; up to {tolerance:.0} cents are left alone.",
        if strings.len() == 1 { "is" } else { "are" },
        if worst.value > 0.0 { "+" } else { "" },
        worst.said()
    );
    let found = Found::new("intonation-off", Severity::Work, words)
        .on(strings.clone())
        .with("cents_at_12", worst.value)
        .with("expanded_cents", worst.expanded)
        .with("setback_to_add_mm", setback_mm(bench, worst_string - 1, worst.value));
    let now = stands_now(bench);
    match moves(bench) {
        Some(Moves::Whole) => moved_whole(bench, walk, found, &strings),
        Some(Moves::OnASaddle) => {
            walk.find(Stage::Intonation, found.service("intonation"));
            // what comes before may change the cents: then they are judged once they are read again
            if !walk.is_open(Stage::Intonation) {
                if beyond(bench, &off, MOST_ON_A_SADDLE_MM) {
                    too_far_for_a_saddle(walk, &on);
                    return;
                }
                lonely(bench, walk, &off);
            }
            let words =
                format!("{} {}", break_points(bench, &off, "Move each string's break point on the saddle"), now);
            walk.caution(Stage::Intonation, "bone-dust");
            string_by_string(bench, walk, &off, words, None, Moves::OnASaddle);
        }
        Some(Moves::OnScrews) => {
            let too_far = beyond(bench, &off, MOST_ON_SCREWS_MM);
            walk.find(Stage::Intonation, found.service("intonation"));
            let words = format!("{} {}", break_points(bench, &off, "Move each saddle by its screw"), now);
            string_by_string(
                bench,
                walk,
                &off,
                words,
                Some((
                    too_far,
                    "Few screws go so far: where the travel ends, look for a string or a bridge that is wrong.",
                )),
                Moves::OnScrews,
            );
        }
        None => {
            walk.find(Stage::Intonation, found);
            walk.unread(Stage::Intonation, "what kind of bridge it has, on the instrument's own page");
        }
    }
}

/// More than half a saddle's thickness: no break point moves so far, and none is filed before it is known why.
fn too_far_for_a_saddle(walk: &mut Walk, on: &str) {
    walk.ask_for("cents_at_12");
    let words = format!(
        "On {on} the 12th asks for more than half a saddle's thickness, and no break point moves so far. Read the cents again, and look whether the strings are old or of other gauges, whether nut and saddle face the right way, and where the saddle stands. Where all that is right, quote a wider saddle, or its slot filled and cut again at its place."
    );
    let settles = "it is known why the 12th is so far off";
    walk.step(Todo::reading(Stage::Intonation, "readings-disagree", words, settles, Holds::WhatCannotBeUndone));
}

/// No break point is filed on a single reading of a tuner.
fn lonely(bench: &Bench<'_>, walk: &mut Walk, off: &[(usize, Read)]) {
    let lonely: Vec<usize> = off.iter().filter(|(_, cents)| cents.repeats < 2).map(|(number, _)| *number).collect();
    if lonely.is_empty() {
        return;
    }
    let on = said_strings(&lonely, bench.strings.len());
    walk.ask_for("cents_at_12");
    let again = format!("Read the cents at the 12th once more on {on}: a single reading is not enough to file by.");
    let settles = format!("the cents at the 12th are read a second time on {on}");
    walk.step(Todo::reading(Stage::Intonation, "readings-too-uncertain", again, settles, Holds::WhatCannotBeUndone));
}

/// Whether some string asks for more than this bridge can give.
fn beyond(bench: &Bench<'_>, off: &[(usize, Read)], most_mm: f64) -> bool {
    off.iter().any(|(number, cents)| setback_mm(bench, number - 1, cents.value).abs() > most_mm)
}

/// What is known of where the strings leave the saddle today.
fn stands_now(bench: &Bench<'_>) -> String {
    let each: Vec<String> = (1..)
        .zip(&bench.strings)
        .filter_map(|(number, string)| Some(format!("{} mm at string {number}", string.setback?.said())))
        .collect();
    if each.is_empty() {
        return "Only what to add is known: where the strings leave the saddle today was not read.".to_owned();
    }
    format!("Today they stand beyond half the scale by {}.", each.join(", "))
}

fn break_points(bench: &Bench<'_>, off: &[(usize, Read)], how: &str) -> String {
    let each = off.iter().map(|(number, cents)| {
        let place = number - 1;
        let said = supported(setback_mm(bench, place, cents.value).abs(), setback_mm(bench, place, cents.expanded));
        let way = if cents.value > 0.0 { "away from the frets" } else { "towards them" };
        format!("{said} mm {way} at string {number}")
    });
    format!("{how}: {}.", each.collect::<Vec<_>>().join(", "))
}

fn string_by_string(
    bench: &Bench<'_>,
    walk: &mut Walk,
    off: &[(usize, Read)],
    words: String,
    limit: Option<(bool, &str)>,
    moves: Moves,
) {
    let words = match limit {
        Some((true, limit)) => format!("{words} {limit}"),
        _ => words,
    };
    let of_string = |number: usize| off.iter().find(|(string, _)| *string == number).map(|(_, cents)| *cents);
    let amount = |pick: fn(&Read) -> f64| -> Vec<Option<f64>> {
        bench
            .numbers()
            .map(|number| of_string(number).map(|cents| setback_mm(bench, number - 1, pick(&cents))))
            .collect()
    };
    let amounts = StringAmounts { mm: amount(|cents| cents.value), expanded_mm: amount(|cents| cents.expanded) };
    let todo = if moves == Moves::OnASaddle {
        Todo::removing(Stage::Intonation, "intonation-off", words, Removal::SetBack(amounts))
    } else {
        Todo::adjusting(Stage::Intonation, "intonation-off", words, Adjustment::SetBack(amounts))
    };
    let now = bench.strings.iter().map(|string| string.setback.map(|setback| setback.value)).collect();
    walk.step(todo.while_waiting(LATER).standing_at(now).expecting_while_waiting(setback_forecast(bench, off)));
}

/// A bridge that moves whole, as the cents of all its strings ask.
#[derive(Debug, Clone)]
pub(super) struct Moved {
    pub(super) across: Across,
    pub(super) line: NearestLine,
}

/// `None` where no cents were read. A short string has its own octave and no say in where the bridge stands.
pub(super) fn moved(bench: &Bench<'_>) -> Option<Moved> {
    let strings = bench.strings.iter().enumerate().filter(|(place, _)| bench.frame(*place).start() == 0);
    let strings = strings.filter_map(|(place, string)| {
        let cents = string.cents?;
        let (open, stopped) = lengths_mm(bench, place);
        let move_mm = move_for_cents_mm(open, stopped, cents.value);
        // one cent more or less moves the bridge by so much
        let by_cent = (move_for_cents_mm(open, stopped, cents.value + 0.5)
            - move_for_cents_mm(open, stopped, cents.value - 0.5))
        .abs();
        Some(StringWish::new(place, bench.position_mm(place), move_mm, &cents, by_cent))
    });
    let across = Across { strings: strings.collect(), limits: None };
    let line = across.nearest()?;
    Some(Moved { across, line })
}

/// Sounding lengths today, open and stopped at the 12th, mm.
pub(super) fn lengths_mm(bench: &Bench<'_>, place: usize) -> (f64, f64) {
    let scale = bench.frame(place).scale_mm();
    let setback = bench.setback_mm(place);
    (scale + setback, scale - fret_position_mm(scale, 12) + setback)
}

/// How far a bridge moves away from the frets for a note so many cents sharp at the 12th, mm: q = (ℓo/ℓ12)·2^(−c/1200),
/// move = (ℓo − q·ℓ12)/(q − 1). Exact where only lengths differ.
pub(super) fn move_for_cents_mm(open_mm: f64, stopped_mm: f64, cents: f64) -> f64 {
    let q = open_mm / stopped_mm * (-cents / 1200.0).exp2();
    (open_mm - q * stopped_mm) / (q - 1.0)
}

fn moved_whole(bench: &Bench<'_>, walk: &mut Walk, found: Found, strings: &[usize]) {
    let Some(Moved { across, line }) = moved(bench) else {
        // only short strings were read
        walk.find(Stage::Intonation, found);
        return;
    };
    let by = across.ends(&line, across.outer());
    if by.mm.treble.abs().max(by.mm.bass.abs()) < LEAST_MOVE_MM {
        let words = format!(
            "{} The bridge stands as near to all of them as one bridge can: what is left is its compensation or a string.",
            found.words
        );
        walk.find(Stage::Intonation, Found { severity: Severity::Watch, words, ..found });
        return;
    }
    walk.find(Stage::Intonation, found.service("intonation"));
    walk.caution(Stage::Intonation, "string-tension");
    let (first, last) = (
        across.strings.first().map_or(1, |string| string.place + 1),
        across.strings.last().map_or(1, |string| string.place + 1),
    );
    let said = |mm: f64| {
        let way = if mm < 0.0 { "towards the frets" } else { "away from the frets" };
        format!("{:.1} mm {way}", mm.abs())
    };
    let left = if line.miss_mm < LEAST_MOVE_MM {
        String::new()
    } else {
        format!(" The worst string is then left {:.1} mm off.", line.miss_mm)
    };
    let words = format!(
        "Slacken a little and move the bridge: {} under string {first}, {} under string {last}; keep it upright, tune, and read the cents again.{left}",
        said(by.mm.treble),
        said(by.mm.bass)
    );
    let off: Vec<(usize, Read)> =
        strings.iter().filter_map(|number| Some((*number, bench.strings.get(number - 1)?.cents?))).collect();
    let now = bench.strings.iter().map(|string| string.setback.map(|setback| setback.value)).collect();
    let adjustment = Adjustment::Move { by, miss_mm: line.miss_mm };
    let todo = Todo::adjusting(Stage::Intonation, "intonation-off", words, adjustment);
    walk.step(todo.while_waiting(MOVE_LATER).standing_at(now).expecting_while_waiting(setback_forecast(bench, &off)));
}

/// Set-back to add under a string, mm: c·L/1731, the first order of the chain, with the length that sounds open.
pub(super) fn setback_mm(bench: &Bench<'_>, place: usize, cents: f64) -> f64 {
    cents * open_mm(bench, place) / CENTS_PER_LENGTH
}

/// Nominal length from where the string begins, mm.
pub(super) fn open_mm(bench: &Bench<'_>, place: usize) -> f64 {
    let frame = bench.frame(place);
    frame.scale_mm() - frame.start_mm()
}

/// What set-back may be left to add once the heights are right: between the cents as read and the cents
/// with what the lower (or higher) string changes of them. Null where the string is not known well enough
/// to tell that change: a range without it would be too narrow.
fn setback_forecast(bench: &Bench<'_>, off: &[(usize, Read)]) -> Forecast {
    let strings = bench.numbers().map(|number| {
        let place = number - 1;
        let (_, cents) = off.iter().find(|(string, _)| *string == number)?;
        let change = height_change_cents(bench, place)?;
        let unsure = setback_mm(bench, place, cents.expanded);
        Some(range(setback_mm(bench, place, cents.value), setback_mm(bench, place, cents.value + change), unsure))
    });
    Forecast { quantity: "saddle_setback_mm".to_owned(), strings: strings.collect() }
}

/// How many cents the 12th fret changes from the height as read to the height as wished; `None` where the
/// string is not known well enough for the chain.
fn height_change_cents(bench: &Bench<'_>, place: usize) -> Option<f64> {
    let (as_read, as_wished) = heights_asked(bench, place)?;
    let at_12 = |asked: &IntonationInput| {
        let chain = Chain::new(asked, 0.0).ok()?;
        Some(chain.cents_at(12, as_it_is(asked)))
    };
    Some(at_12(&as_wished)? - at_12(&as_read)?)
}

pub(super) fn as_it_is(asked: &IntonationInput) -> SetBacks {
    SetBacks { saddle_setback_mm: asked.saddle_setback_mm, nut_setback_mm: 0.0 }
}

/// What the chain is asked: the string at its height as read, and at its height as wished.
pub(super) fn heights_asked(bench: &Bench<'_>, place: usize) -> Option<(IntonationInput, IntonationInput)> {
    let read = bench.strings.get(place)?;
    let first_fret_mm = read.first.map_or(bench.first_target(place), |first| first.value);
    let at = |action_12_mm: f64| {
        let asked = intonation_question(bench.input, place, first_fret_mm, action_12_mm)?;
        Some(IntonationInput { frets: 12, ..asked })
    };
    Some((at(read.action?.value)?, at(bench.action_target(place))?))
}

/// What `intonation` is asked of one string of an instrument (from 0) at given heights, mm, on a straight board, its
/// own scale and its set-back as read, else as stated; `None` where the string's pitch is not known. Of a short
/// string the heights are over its own first fret and fret 12, and the question is asked of a board that begins
/// where it does.
pub fn intonation_question(
    input: &PlanInput,
    place: usize,
    first_fret_mm: f64,
    action_12_mm: f64,
) -> Option<IntonationInput> {
    let instrument = &input.instrument;
    let string = instrument.strings.get(place)?;
    let scale = super::check::scales(instrument).nth(place)?;
    let start = string.starts_at_fret.unwrap_or(0);
    let own_scale = scale - fret_position_mm(scale, start);
    // over the own 12th on the line through the own first and fret 12
    let own = |fret: usize| fret_position_mm(own_scale, fret);
    let rise = (action_12_mm - first_fret_mm) / (own(12 - start) - own(1));
    let own_action_mm = if start == 0 { action_12_mm } else { first_fret_mm + rise * (own(12) - own(1)) };
    let read = input.readings.strings.get(place).map_or(&[][..], |read| read.from_12_to_saddle_mm.as_slice());
    let count = f64::from(u32::try_from(read.len()).ok()?);
    let setback =
        if read.is_empty() { instrument.saddle_setback_mm } else { read.iter().sum::<f64>() / count - scale / 2.0 };
    // a steel winding adds mass and neither stretches nor bends: its outer diameter stands for no core
    let is_wound_steel = string.wound == Some(true) && string.material == Some(Material::Steel);
    Some(IntonationInput {
        scale_mm: own_scale,
        frets: instrument.frets.saturating_sub(start),
        first_fret_mm,
        action_12_mm: own_action_mm,
        relief_mm: 0.0,
        body_fret: None,
        a4_hz: 440.0,
        saddle_setback_mm: setback,
        nut_setback_mm: 0.0,
        finger_behind_mm: 0.0,
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
