//! The nut: a change there stays at the nut. Slots are lowered one by one, never below the frame's least, and lean on
//! the heights at the 12th; a nut that moves as one is shimmed; before a zero fret the nut only guides.

mod apart;
mod clamping;
mod judged;
mod slots;

pub(super) use apart::{Apart, ByReading, farthest};
pub(super) use clamping::fit as clamped_fit;
pub(super) use judged::{AtNut, NutJudged};
pub(super) use slots::{cut_input, floor, removal_ranges};

use super::bench::Bench;
use super::built::NutKind;
use super::output::Severity;
use super::stand::Stand;
use super::walk::{Found, Holds, Stage, Todo, Walk, said_strings};
use judged::too_uncertain;

pub(super) fn look(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    if bench.nut == NutKind::ZeroFret {
        return;
    }
    disagreements(bench, nut, walk);
    not_read(bench, nut, walk);
    unsure(bench, nut, walk);
    if !nut.has_work() {
        return;
    }
    if bench.nut == NutKind::Clamping {
        clamping::look(bench, nut, walk);
    } else {
        slots::look(bench, nut, walk);
    }
    // two readings that contradict each other on one string throw doubt on the way all of them were read
    if !nut.apart.is_empty() {
        walk.only_suspect("nut-high");
        walk.only_suspect("nut-low");
    }
}

fn not_read(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let missing = nut.that(Stand::NotRead);
    if missing.is_empty() {
        return;
    }
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let on = said_strings(&missing, bench.strings.len());
    walk.unread(
        Stage::Nut,
        format!("the gap over the 1st fret, stopped at the 3rd, on {on}{}", bench.said_own_frets(&missing)),
    );
    let words = format!(
        "The nut was not read on {on}: stop at the 3rd fret and read the gap over the 1st{}.",
        bench.said_own_frets(&missing)
    );
    walk.find(Stage::Nut, Found::new("reading-missing", Severity::Watch, words).on(missing));
}

fn unsure(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let all = bench.strings.len();
    let let_stand = nut.that(Stand::Accepted);
    if !let_stand.is_empty() {
        let words = format!(
            "On {} the nut stands at the edge of its range; repeated readings leave it open. It is let stand.",
            said_strings(&let_stand, all)
        );
        walk.find(Stage::Nut, Found::new("readings-too-uncertain", Severity::Watch, words).on(let_stand));
    }
    let unsure = nut.that(Stand::Unsure);
    if unsure.is_empty() {
        return;
    }
    let on = said_strings(&unsure, all);
    let words = format!(
        "On {on} the nut stands outside its range, but by no more than the reading's uncertainty. Repeat the reading before any file touches it."
    );
    let again = format!(
        "Read the nut again on {on}{}, three times at least, before anything is cut.",
        bench.said_own_frets(&unsure)
    );
    too_uncertain(walk, Stage::Nut, words, again, format!("the nut is read again on {on}"), unsure);
}

fn disagreements(bench: &Bench<'_>, nut: &NutJudged, walk: &mut Walk) {
    let Some(Apart { off_mm: worst, expanded_mm: allowed, .. }) = farthest(&nut.apart) else {
        return;
    };
    let strings: Vec<usize> = nut.apart.iter().map(|apart| apart.string).collect();
    walk.ask_for("first_fret_mm");
    walk.ask_for("gap_at_1_stopped_at_3_mm");
    let on = said_strings(&strings, bench.strings.len());
    let check = format!(
        "Read the open height and the stopped gap over the 1st fret again on {on}{}, tuned to pitch and fully pressed.",
        bench.said_own_frets(&strings)
    );
    let words = format!(
        "On {on} the open height and the stopped gap over the 1st fret contradict each other by up to {worst:.2} mm, where {allowed:.2} mm could be the readings. Nothing is filed on either."
    );
    let settles = format!("the two readings of the nut agree on {on}");
    walk.step(Todo::reading(Stage::NutReadings, "readings-disagree", check, settles, Holds::Everything));
    let found = Found::new("readings-disagree", Severity::Watch, words).on(strings);
    walk.find(Stage::NutReadings, found.with("apart_mm", *worst).with("expanded_mm", *allowed));
}
