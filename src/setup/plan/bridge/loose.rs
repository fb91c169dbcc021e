//! A bridge that stands on the top or a head, held by the strings: it is exchanged, or its own foot or top is shaped.
//! Head and neck come before it, and a bridge taken down too far does not come back.

use super::heights::{Off, Way, lonely, removal_forecast, report, wish};
use super::saddle::{first_pass_words, only_raise, too_uncertain};
use crate::setup::cut::{CutInput, Raise, worked_out};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::families::PlanFamily;
use crate::setup::plan::walk::{Adjustment, Removal, Stage, Todo, Walk, said_amounts};

const SERVICE: &str = "bridge-height";
const LOWER_LATER: &str = "Exchange the bridge for a lower one, or take this one down, as far as it is still high once the heights are read again.";
const RAISE_LATER: &str =
    "Exchange the bridge for a taller one where it is still low, once the heights are read again.";

/// What is looked at before the bridge itself.
fn first(bench: &Bench<'_>) -> &'static str {
    if bench.family() == PlanFamily::Banjo {
        "Judge the head's tension first, by gauge or tap at each hook: the bridge stands on it. "
    } else {
        "See first that its feet stand flush on the top. "
    }
}

/// What `cut` is asked: nothing shows or must go on showing of such a bridge.
pub(in crate::setup::plan) fn cut_input(bench: &Bench<'_>) -> CutInput {
    CutInput { showing_mm: None, showing_expanded_mm: None, least_showing_mm: None, ..super::saddle::cut_input(bench) }
}

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk, off: &Off) {
    report(bench, walk, &off.high, Way::Down, Some(SERVICE));
    report(bench, walk, &off.low, Way::Up, Some(SERVICE));
    walk.caution(Stage::BridgeAdjusted, "string-tension");
    walk.caution(Stage::Bridge, "string-tension");
    let mut amounts = worked_out(&cut_input(bench));
    let first = first(bench);
    if !off.low.is_empty() {
        let wanted = off.low.iter().filter_map(|number| Some((*number, -wish(bench, number - 1)?.0)));
        let then = if off.high.is_empty() { "" } else { " What then stands high is shaped by those readings." };
        let words = format!(
            "{first}Then a taller bridge, or a strip under this one's feet: {}. Tune, set its place by the 12th, and read the heights again.{then}",
            said_amounts(wanted)
        );
        amounts = only_raise(amounts, &off.low);
        amounts.raise = amounts.raise.into_iter().map(|raise| Raise { shims: 0, ..raise }).collect();
        let todo = Todo::adjusting(Stage::BridgeAdjusted, "saddle-low", words, Adjustment::Raise(Box::new(amounts)));
        walk.step(todo.while_waiting(RAISE_LATER).expecting_while_waiting(removal_forecast(bench, walk)));
        return;
    }
    lonely(bench, walk, &off.high);
    if amounts.strings.iter().all(|string| string.first_pass_mm <= 0.0) {
        too_uncertain(bench, walk, &off.high, "taken off");
        return;
    }
    walk.caution(Stage::Bridge, "wood-dust");
    amounts.raise.clear();
    let words = format!(
        "{first}Then a lower bridge, or this one taken down. {}",
        first_pass_words(bench, &amounts, "Stand it up, tune, set its place by the 12th.")
    );
    let todo = Todo::removing(Stage::Bridge, "saddle-high", words, Removal::Cut(Box::new(amounts)));
    walk.step(todo.while_waiting(LOWER_LATER).expecting_while_waiting(removal_forecast(bench, walk)));
}
