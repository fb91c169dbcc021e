//! A clamping nut: it holds the strings without slots to file, and is raised and lowered as one, by shims under it.

use super::judged::{NutJudged, said_worst, with_figures};
use crate::setup::nearest_line::NearestLine;
use crate::setup::plan::across::{Across, StringWish};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::output::Severity;
use crate::setup::plan::stand::Stand;
use crate::setup::plan::walk::{Adjustment, Found, Stage, Todo, Walk, said_strings, said_way};

/// The thinnest shim that makes a difference, mm. Common practice, no source.
const THINNEST_SHIM_MM: f64 = 0.05;
const RAISE: &str = "Slacken, unscrew the nut, and shim it under its whole width";
const LOWER: &str = "Slacken, unscrew the nut, and take out shims that lie under it";
const NONE_THERE: &str = " Where none lie there its shelf would have to come down: quote that.";

/// How far the nut goes up across the strings to come nearest to what all of them wish.
#[derive(Debug, Clone)]
pub(in crate::setup::plan) struct Fit {
    pub(in crate::setup::plan) across: Across,
    pub(in crate::setup::plan) line: NearestLine,
}

/// `None` where no string was read well.
pub(in crate::setup::plan) fn fit(bench: &Bench<'_>, nut: &NutJudged) -> Option<Fit> {
    let strings = nut.strings.iter().zip(&nut.stands).enumerate().filter_map(|(place, (judged, stand))| {
        let judged = judged.as_ref().filter(|_| *stand != Stand::Doubted)?;
        let factor = bench.nut_factor(place, judged.is_gap);
        let wish = (judged.target - judged.read.value) * factor;
        Some(StringWish::new(place, bench.position_mm(place), wish, &judged.read, factor))
    });
    let across = Across { strings: strings.collect(), limits: None };
    let line = across.nearest()?;
    Some(Fit { across, line })
}

pub(super) fn look(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let (high, low) = (nut.that(Stand::High), nut.that(Stand::Low));
    let Some(Fit { across, line }) = fit(bench, nut) else { return };
    let raised = across.ends(&line, across.outer());
    // what moves as one cannot mend what only one string has
    let is_left = raised.mm.treble.abs().max(raised.mm.bass.abs()) < THINNEST_SHIM_MM;
    for (strings, key, words) in [
        (&high, "nut-high", "the first frets are hard to press and read sharp"),
        (&low, "nut-low", "open strings buzz on the first fret"),
    ] {
        if strings.is_empty() {
            continue;
        }
        let worst = nut.worst(strings);
        let on = said_strings(strings, bench.strings.len());
        let which = if key == "nut-high" { "high" } else { "low" };
        let words = format!(
            "The nut is {which} on {on} ({}): {words}. It clamps the strings and moves as one; nothing is filed.",
            said_worst(worst)
        );
        let found = if is_left {
            let words = format!("{words} As one it stands as near to all of them as it can: it is left.");
            Found::new(key, Severity::Watch, words)
        } else {
            Found::new(key, Severity::Work, words).service("setup")
        };
        walk.find(Stage::NutRaised, with_figures(found.on(strings.clone()), worst));
    }
    if is_left {
        return;
    }
    walk.caution(Stage::NutRaised, "string-tension");
    let goes_up = raised.mm.treble + raised.mm.bass > 0.0;
    let (key, how, end) = if goes_up { ("nut-low", RAISE, "") } else { ("nut-high", LOWER, NONE_THERE) };
    let words = format!(
        "{how}: {} at the treble end, {} at the bass end.{end} Clamp, tune, and read the gaps again.",
        said_way(-raised.mm.treble),
        said_way(-raised.mm.bass)
    );
    let later = if goes_up {
        "Shim the nut where it is still low, as one, once the gaps are read again."
    } else {
        "Bring the nut down as one where it is still high, once the gaps are read again."
    };
    walk.step(Todo::adjusting(Stage::NutRaised, key, words, Adjustment::NutAsOne(raised)).while_waiting(later));
}
