//! Asks again for each reading that is doubtful, before anything uses it.

use super::bench::Bench;
use super::misread::{Doubt, OF_STRINGS, Quantity, Why};
use super::output::Severity;
use super::said::{capital, said_strings};
use super::walk::{Found, Holds, Todo, Walk};

/// Asks for each of them again, before anything uses it.
pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    for quantity in [Quantity::Relief, Quantity::Action, Quantity::FirstFret, Quantity::Gap, Quantity::ToSaddle] {
        let doubts: Vec<&Doubt> = bench.doubts.iter().filter(|doubt| doubt.quantity == quantity).collect();
        if doubts.is_empty() {
            continue;
        }
        let strings: Vec<usize> = doubts.iter().filter_map(|doubt| doubt.string).collect();
        for doubt in &doubts {
            walk.find(quantity.stage(), finding(bench, doubt));
        }
        let what = match strings.as_slice() {
            [] => quantity.said().to_owned(),
            _ => format!("{} on {}", quantity.said(), said_strings(&strings, bench.strings.len())),
        };
        let own = match quantity {
            Quantity::FirstFret | Quantity::Gap => bench.said_own_frets(&strings),
            Quantity::Relief | Quantity::Action | Quantity::ToSaddle => String::new(),
        };
        walk.ask_for(quantity.key());
        let words = format!("Read {what} again{own}, three times, tuned to pitch. Nothing is done on it before.");
        let settles = format!("{what} is read again");
        walk.step(Todo::reading(quantity.stage(), "readings-disagree", words, settles, Holds::Everything));
    }
}

fn finding(bench: &Bench<'_>, doubt: &Doubt) -> Found {
    let place = doubt.string.map_or(0, |string| string - 1);
    let of_string = bench.strings.get(place);
    let read = match doubt.quantity {
        Quantity::Relief => bench.relief,
        quantity => OF_STRINGS.iter().find(|(of, ..)| *of == quantity).and_then(|(_, read, _)| read(of_string?)),
    };
    let on = doubt.string.map_or_else(String::new, |string| format!(" on string {string}"));
    let what = doubt.quantity.said();
    let value = read.map_or(0.0, |read| read.value);
    let (words, name, number) = match doubt.why {
        Why::FarFromNeighbours { line_mm } => (
            format!(
                "{}{on} reads {value:.2} mm, where the line of its neighbours is at {line_mm:.2} mm: misread, or something else is wrong there.",
                capital(what)
            ),
            "neighbours_mm",
            line_mm,
        ),
        Why::RepeatsApart { apart_mm } => (
            format!("The repeats of {what}{on} lie {apart_mm:.2} mm apart: one of them was misread."),
            "repeats_apart_mm",
            apart_mm,
        ),
    };
    Found::new("readings-disagree", Severity::Watch, words).on(doubt.string.into_iter().collect()).with(name, number)
}
