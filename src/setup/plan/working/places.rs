//! How what was read, and what is wished, came about at each place.

use crate::setup::plan::bench::Bench;
use crate::setup::plan::read::{as_number, cents_asked, length_asked};
use crate::setup::reading;
use crate::working::Working;

/// A place that is read.
#[derive(Debug, Clone, Copy)]
pub(super) enum Place {
    Relief,
    Showing { treble: bool },
    Action(usize),
    FirstFret(usize),
    Gap(usize),
    Cents(usize),
    ToSaddle(usize),
}

/// From the repeats at a place to their expanded uncertainty; empty where nothing was read.
pub(super) fn reading(bench: &Bench<'_>, place: Place) -> Vec<Working> {
    let readings = &bench.input.readings;
    let of = |string: usize| readings.strings.get(string);
    let (values, name): (&[f64], String) = match place {
        Place::Relief => (&readings.relief_mm, "relief".to_owned()),
        Place::Showing { treble: true } => (&readings.saddle_showing_mm.treble, "saddle showing, treble".to_owned()),
        Place::Showing { treble: false } => (&readings.saddle_showing_mm.bass, "saddle showing, bass".to_owned()),
        Place::Action(string) => {
            (of(string).map_or(&[], |read| &read.action_12_mm), format!("height at the 12th, string {}", string + 1))
        }
        Place::FirstFret(string) => (
            of(string).map_or(&[], |read| &read.first_fret_mm),
            format!("open height over the 1st, string {}", string + 1),
        ),
        Place::Gap(string) => (
            of(string).map_or(&[], |read| &read.gap_at_1_stopped_at_3_mm),
            format!("gap over the 1st stopped at the 3rd, string {}", string + 1),
        ),
        Place::Cents(string) => {
            (of(string).map_or(&[], |read| &read.cents_at_12), format!("error at the 12th, string {}", string + 1))
        }
        Place::ToSaddle(string) => (
            of(string).map_or(&[], |read| &read.from_12_to_saddle_mm),
            format!("from the 12th to the saddle, string {}", string + 1),
        ),
    };
    let (asked, unit) = match place {
        Place::Cents(_) => (cents_asked(values), "cents"),
        _ => (length_asked(values, &bench.input.tool), "mm"),
    };
    match reading::reading(&asked) {
        Ok(answer) => reading::working::chain(&asked, &answer, None, &name, unit),
        Err(_) => Vec::new(),
    }
}

/// The same, where the mean and the expanded uncertainty are numbers of the answer.
pub(super) fn reading_at(bench: &Bench<'_>, place: Place, mean: &str, expanded: &str) -> Vec<Working> {
    let mut chain = reading(bench, place);
    if let [first, .., last] = chain.as_mut_slice() {
        mean.clone_into(&mut first.of);
        expanded.clone_into(&mut last.of);
    }
    chain
}

/// Set-back of the saddle under one string as it stands today; empty where it was not read.
pub(super) fn setback_now(bench: &Bench<'_>, place: usize, of: String) -> Vec<Working> {
    let Some(setback) = bench.strings.get(place).and_then(|string| string.setback) else {
        return Vec::new();
    };
    let mut chain = reading(bench, Place::ToSaddle(place));
    let scale = bench.frame(place).scale_mm();
    let to_saddle = chain.first().map_or(0.0, |mean| mean.result);
    chain.push(
        Working::new(of, format!("set-back of the saddle today, string {}", place + 1), "ΔS = d − L/2")
            .put("d", "from the crown of fret 12 to where the string leaves the saddle", to_saddle, "mm")
            .put("L", "nominal scale", scale, "mm")
            .gives(setback.value, "mm", "the 12th fret lies half-way"),
    );
    chain
}

/// Wished height at the 12th of one string.
pub(super) fn action_target(bench: &Bench<'_>, place: usize, of: String) -> Working {
    let ends = (bench.targets.action_12_treble_mm, bench.targets.action_12_bass_mm);
    let run = bench.short_run(place);
    let result = bench.action_target(place);
    if run.is_whole() {
        return target(bench, place, of, "height wished at the 12th", (ends, ""), result);
    }
    target(bench, place, of, "height wished at the 12th of a short string", (ends, OF_A_SHORT_STRING), result)
        .put("p", "height where strings begin, from the gap wished", run.pip_mm, "mm")
        .put("w", "what the bridge is to it over fret 12, of what it is to a whole string", run.share, "")
}

/// Wished open height over the 1st of one string.
pub(super) fn first_target(bench: &Bench<'_>, place: usize, of: String) -> Working {
    let ends = (bench.targets.first_fret_treble_mm, bench.targets.first_fret_bass_mm);
    let (over, result) = (bench.action(place), bench.first_target_here(place));
    let Some((action, result)) = over.zip(result) else {
        return target(bench, place, of, "open height wished over the 1st", (ends, ""), bench.first_target(place));
    };
    let what = "open height wished over the 1st, with what the height at the 12th adds there";
    target(bench, place, of, what, (ends, WITH_THE_BRIDGE), result)
        .put("h", "height at the 12th", action.value, "mm")
        .put("h_w", "height wished at the 12th", bench.action_target(place), "mm")
        .put("q", "what is felt of it over the 1st", bench.first_share(place), "")
}

/// What of the plain spread is told otherwise.
const OF_A_SHORT_STRING: &str = "h_t = p + (S − p)·w";
const WITH_THE_BRIDGE: &str = "h_t = S + (h − h_w)·q";

fn target(
    bench: &Bench<'_>,
    place: usize,
    of: String,
    what: &str,
    (ends, told): ((f64, f64), &str),
    result: f64,
) -> Working {
    const SOURCE: &str =
        "the house's targets (common practice, no source), spread evenly over the strings, or over the courses";
    let what = format!("{what}, string {}", place + 1);
    let (before, count) = bench.spread(place);
    if count < 2 {
        let formula = if told.is_empty() { "h_t = h_a".to_owned() } else { told.replace('S', "h_a") };
        return Working::new(of, what, formula).put("h_a", "wished", ends.0, "mm").gives(result, "mm", SOURCE);
    }
    let spread = "h_a + (h_b − h_a)·i/(n − 1)";
    let formula = if told.is_empty() { format!("h_t = {spread}") } else { told.replace('S', &format!("({spread})")) };
    Working::new(of, what, formula)
        .put("h_a", "wished at string 1", ends.0, "mm")
        .put("h_b", "wished at the last string", ends.1, "mm")
        .put("i", "strings, or courses, before this one", as_number(before), "")
        .put("n", "strings, or courses", as_number(count), "")
        .gives(result, "mm", SOURCE)
}
