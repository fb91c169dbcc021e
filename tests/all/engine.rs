//! The setup engine against published tables, worked examples and the laws it must keep.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde_json::Value;
use statrs::distribution::{Beta, ContinuousCDF};
use thumbplane::calc::calc;

mod air;
mod air_of_a_case;
mod bad_input;
mod bench_calendar;
mod clearance;
mod closed_loop;
mod contract;
mod cut;
mod cut_laws;
mod cut_top;
mod drift;
mod explained;
mod formula;
mod frame;
mod frequency;
mod frets;
mod holidays;
mod intonation;
mod laws;
mod minutes;
mod overtones;
mod plan;
mod plan_after_work;
mod plan_amounts;
mod plan_built;
mod plan_laws;
mod plan_order;
mod plan_words;
mod promise;
mod promise_back_test;
mod promise_record;
mod promises_kept;
mod queue_order;
mod queue_theory;
mod reading;
mod schemas;
mod simulation;
mod sixty;
mod statics;
mod string_change;
mod string_spacing;
mod tension;
mod turnaround;
mod two_years;
mod worked_examples;

/// Panics unless two numbers agree within an absolute tolerance.
#[track_caller]
pub(super) fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected} ± {tolerance}");
}

/// The same, with the tolerance in percent of the expected value.
#[track_caller]
pub(super) fn close_percent(actual: f64, expected: f64, percent: f64) {
    close(actual, expected, expected.abs() * percent / 100.0);
}

/// Does a calculation that must succeed.
#[track_caller]
pub(super) fn answer(name: &str, input: &Value) -> Value {
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
pub(super) fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} in {value}"))
}

/// The numbers of the list at a JSON pointer.
#[track_caller]
pub(super) fn numbers(value: &Value, pointer: &str) -> Vec<f64> {
    let list =
        value.pointer(pointer).and_then(Value::as_array).unwrap_or_else(|| panic!("no list at {pointer} in {value}"));
    list.iter().map(|entry| entry.as_f64().unwrap_or_else(|| panic!("{entry} is no number"))).collect()
}

/// Exact interval of a share (Clopper and Pearson, Biometrika 26, 1934): its ends are quantiles of beta
/// distributions.
pub(super) fn clopper_pearson(hits: u64, of: u64, coverage: f64) -> (f64, f64) {
    let (k, n) = (hits as f64, of as f64);
    let quantile = |a: f64, b: f64, p: f64| Beta::new(a, b).expect("a beta distribution").inverse_cdf(p);
    let tail = (1.0 - coverage) / 2.0;
    let least = if hits == 0 { 0.0 } else { quantile(k, n - k + 1.0, tail) };
    let most = if hits == of { 1.0 } else { quantile(k + 1.0, n - k, 1.0 - tail) };
    (least, most)
}

/// A cheap, seeded source of numbers for simulations.
struct Chance(ChaCha8Rng);

impl Chance {
    fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Even between 0 and 1, never either.
    fn even(&mut self) -> f64 {
        let high = u32::try_from(self.0.next_u64() >> 32).expect("32 bits");
        (f64::from(high) + 0.5) / 4_294_967_296.0
    }

    /// Normally distributed, by Box and Muller.
    fn normal(&mut self, spread: f64) -> f64 {
        let (radius, angle) = ((-2.0 * self.even().ln()).sqrt(), std::f64::consts::TAU * self.even());
        spread * radius * angle.cos()
    }

    /// Exponentially distributed.
    fn exponential(&mut self, mean: f64) -> f64 {
        -mean * self.even().ln()
    }
}

/// Cases of the tests that throw bad input at the engine: few on every run, more where wished.
fn fuzz_cases(few: u32) -> u32 {
    std::env::var("THUMBPLANE_FUZZ_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(few)
}
