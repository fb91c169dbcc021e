//! A step and a finding as the plan answers them: amounts only on what may be done now, and after a stop nothing sold
//! that the stop forbids.

use std::collections::BTreeMap;

use super::output::{Finding, PlanOutput, Severity, Step, StepState};
use super::todo::{Act, Adjustment, Found, Removal, StringAmounts, Todo};

/// Services that no stop forbids: they move no height and glue nothing.
const AFTER_A_STOP: [&str; 3] = ["humidify", "tuner-service", "clean-polish"];

/// Services that take off, turn, move or glue what a stop is about.
const BEHIND_A_STOP: [&str; 15] = [
    "setup",
    "truss-rod",
    "nut-slots",
    "new-nut",
    "saddle-lower",
    "new-saddle",
    "intonation",
    "fret-level",
    "fret-dress",
    "refret",
    "neck-reset",
    "neck-shim",
    "neck-heat",
    "bridge-height",
    "head-tension",
];

/// The stop that a plan has before a service, unless the service is what puts the stop right.
pub fn stop_before<'a>(plan: &'a PlanOutput, service: &str) -> Option<&'a Finding> {
    let is_left = plan.findings.iter().any(|finding| finding.service.as_deref() == Some(service));
    let waits = plan.stopped && BEHIND_A_STOP.contains(&service) && !is_left;
    plan.findings.iter().find(|finding| waits && finding.severity == Severity::Stop)
}

/// A step without amounts.
fn bare(todo: &Todo, state: StepState) -> Step {
    Step {
        key: todo.key.to_owned(),
        state,
        reversible: todo.is_reversible(),
        waits_for: Vec::new(),
        cut: None,
        turn_down_mm: None,
        turn_down_expanded_mm: None,
        turns: None,
        travel_left_mm: None,
        posts_down_mm: None,
        posts_down_expanded_mm: None,
        posts_turns: None,
        posts_miss_mm: None,
        posts_without: None,
        raise_nut_mm: None,
        raise_nut_expanded_mm: None,
        shim_mm: None,
        setback_now_mm: None,
        setback_to_add_mm: None,
        setback_to_add_expanded_mm: None,
        move_bridge_mm: None,
        move_bridge_expanded_mm: None,
        move_bridge_miss_mm: None,
        forecast: None,
        words: String::new(),
    }
}

/// Amounts only on a step that may be done now; no expectation of what is only offered.
pub(super) fn as_step(todo: Todo, state: StepState, waits_for: Vec<String>) -> Step {
    let step = bare(&todo, state);
    let is_now = state == StepState::Now;
    let waits = state == StepState::AfterMeasuringAgain;
    let mut words = match todo.waiting_words.filter(|_| !is_now) {
        Some(waiting) => waiting.to_owned(),
        None => todo.words,
    };
    if waits && matches!(todo.act, Act::Irreversible(_)) && !waits_for.is_empty() {
        words = format!("{words} It waits until {}.", waits_for.join("; "));
    }
    let forecast = if waits { todo.forecast_while_waiting.or(todo.forecast) } else { todo.forecast };
    let step = Step {
        waits_for: if waits { waits_for } else { Vec::new() },
        forecast: forecast.filter(|_| state != StepState::Offer),
        setback_now_mm: todo.setback_now.filter(|_| is_now),
        words,
        ..step
    };
    match todo.act {
        Act::Offer(shim_mm) => Step { shim_mm, ..step },
        Act::Reversible(Some(adjustment)) if is_now => adjusted(step, adjustment),
        Act::Irreversible(Some(Removal::Cut(cut))) if is_now => Step { cut: Some(*cut), ..step },
        Act::Irreversible(Some(Removal::SetBack(amounts))) if is_now => set_back(step, amounts),
        Act::Reading(_) | Act::Reversible(_) | Act::Irreversible(_) => step,
    }
}

fn set_back(step: Step, amounts: StringAmounts) -> Step {
    Step { setback_to_add_mm: Some(amounts.mm), setback_to_add_expanded_mm: Some(amounts.expanded_mm), ..step }
}

fn adjusted(step: Step, adjustment: Adjustment) -> Step {
    match adjustment {
        Adjustment::Raise(cut) => Step { cut: Some(*cut), ..step },
        Adjustment::SetBack(amounts) => set_back(step, amounts),
        Adjustment::Turn(turn) => Step {
            turn_down_mm: Some(turn.down.mm),
            turn_down_expanded_mm: Some(turn.down.expanded_mm),
            turns: turn.turns,
            travel_left_mm: turn.travel_left,
            ..step
        },
        Adjustment::Posts(posts) => Step {
            turn_down_mm: Some(posts.down.mm),
            turn_down_expanded_mm: Some(posts.down.expanded_mm),
            posts_down_mm: posts.posts.map(|posts| posts.mm),
            posts_down_expanded_mm: posts.posts.map(|posts| posts.expanded_mm),
            posts_turns: posts.turns,
            posts_miss_mm: Some(posts.miss_mm),
            posts_without: posts.without,
            travel_left_mm: posts.travel_left,
            ..step
        },
        Adjustment::NutAsOne(raised) => {
            Step { raise_nut_mm: Some(raised.mm), raise_nut_expanded_mm: Some(raised.expanded_mm), ..step }
        }
        Adjustment::Move { by, miss_mm } => Step {
            move_bridge_mm: Some(by.mm),
            move_bridge_expanded_mm: Some(by.expanded_mm),
            move_bridge_miss_mm: Some(miss_mm),
            ..step
        },
    }
}

pub(super) fn as_finding(found: Found, stopped: bool) -> Finding {
    let numbers: BTreeMap<String, f64> =
        found.numbers.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
    // what is not the stop's own repair is not sold behind it
    let may_be_sold =
        |service: &&'static str| !stopped || found.severity == Severity::Stop || AFTER_A_STOP.contains(service);
    Finding {
        key: found.key.to_owned(),
        severity: found.severity,
        words: found.words,
        strings: found.strings,
        numbers,
        causes: found.causes,
        service: found.service.filter(may_be_sold).map(str::to_owned),
    }
}
