//! The setup engine against published tables, worked examples and the laws it must keep.

use serde_json::Value;
use thumbplane::calc::calc;

mod air;
mod air_of_a_case;
mod clearance;
mod contract;
mod cut;
mod cut_laws;
mod cut_top;
mod drift;
mod frame;
mod frets;
mod intonation;
mod laws;
mod plan;
mod plan_after_work;
mod plan_order;
mod promise;
mod promise_record;
mod reading;
mod schemas;
mod statics;
mod string_change;
mod string_spacing;
mod tension;
mod turnaround;
mod worked_examples;

/// Panics unless two numbers agree within an absolute tolerance.
#[track_caller]
fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected} ± {tolerance}");
}

/// The same, with the tolerance in percent of the expected value.
#[track_caller]
fn close_percent(actual: f64, expected: f64, percent: f64) {
    close(actual, expected, expected.abs() * percent / 100.0);
}

/// Does a calculation that must succeed.
#[track_caller]
fn answer(name: &str, input: &Value) -> Value {
    match calc(name, input.to_string().as_bytes()) {
        Ok(answer) => answer,
        Err(refusal) => panic!("{name} refused {input}: {}", refusal.document()),
    }
}

/// Does a calculation that must be refused; answers each fault as (pointer, detail).
#[track_caller]
fn faults(name: &str, input: &str) -> Vec<(String, String)> {
    let document = match calc(name, input.as_bytes()) {
        Ok(answer) => panic!("{name} accepted {input}: {answer}"),
        Err(refusal) => refusal.document(),
    };
    let text = |value: &Value| value.as_str().map(str::to_owned).unwrap_or_default();
    let errors = document["errors"].as_array().cloned().unwrap_or_default();
    errors.iter().map(|error| (text(&error["pointer"]), text(&error["detail"]))).collect()
}

/// The number at a JSON pointer.
#[track_caller]
fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} in {value}"))
}

/// The numbers of the list at a JSON pointer.
#[track_caller]
fn numbers(value: &Value, pointer: &str) -> Vec<f64> {
    let list =
        value.pointer(pointer).and_then(Value::as_array).unwrap_or_else(|| panic!("no list at {pointer} in {value}"));
    list.iter().map(|entry| entry.as_f64().unwrap_or_else(|| panic!("{entry} is no number"))).collect()
}
