//! Bad input, thrown at every calculation and at the readers of what people type: torn, renamed, doubled,
//! endless, deep. Nothing panics, nothing infinite comes back, and each fault names a place that is there,
//! or the field that should be. A short pass on every run; `THUMBPLANE_FUZZ_CASES=100000` throws more.

use std::time::Instant;

use proptest::prelude::*;
use proptest::sample::Index;
use serde_json::{Value, json};
use thumbplane::calc::{NAMES, calc, explained};
use thumbplane::quantity::{Currency, LengthUnit, Micrometres, Money, Place, TaxRate, parse_day, question};

use super::contract::good;
use super::fuzz_cases;
use super::schemas::{faults_of_answer, numbers_of};

/// The most a small input may take, seconds: a debug build on a busy machine is given room.
const PATIENCE_S: u64 = 10;

/// Every place of a value, as (parent's pointer, step).
fn members(value: &Value, at: &str, found: &mut Vec<(String, String)>) {
    let steps: Vec<(String, &Value)> = match value {
        Value::Array(entries) => entries.iter().enumerate().map(|(place, entry)| (place.to_string(), entry)).collect(),
        Value::Object(fields) => fields.iter().map(|(name, value)| (name.clone(), value)).collect(),
        _ => Vec::new(),
    };
    for (step, value) in steps {
        found.push((at.to_owned(), step.clone()));
        members(value, &format!("{at}/{step}"), found);
    }
}

/// What is done to one place of a good input.
#[derive(Debug, Clone)]
enum Damage {
    Drop,
    Rename(String),
    Swap(Value),
    Repeat(usize),
    Nest(usize),
}

fn any_damage() -> impl Strategy<Value = Damage> {
    let names = ["", "scale", "Scale_mm", "frets ", "a/b", "~", "~1", "0", "strings", "höhe", "\u{0}", "__proto__"];
    prop_oneof![
        2 => Just(Damage::Drop),
        2 => prop::sample::select(names.to_vec()).prop_map(|name| Damage::Rename(name.to_owned())),
        1 => "\\PC{0,40}".prop_map(Damage::Rename),
        3 => prop::sample::select(vec![
            json!("NaN"), json!("-Infinity"), json!("1.75"), json!(""), json!(null), json!(true), json!([]), json!({}),
            json!(-0.0), json!(-1), json!(1e308), json!(-1e308), json!(5e-324), json!(i64::MIN), json!(u64::MAX),
            json!(9_007_199_254_740_993_u64), json!(0.1 + 0.2), json!("x".repeat(5000)), json!("\u{202e}\u{0}\u{feff}"),
        ]).prop_map(Damage::Swap),
        1 => (2..40_usize).prop_map(Damage::Repeat),
        1 => (1..300_usize).prop_map(Damage::Nest),
    ]
}

fn damaged(input: &mut Value, at: Index, damage: &Damage) {
    let mut found = Vec::new();
    members(input, "", &mut found);
    if found.is_empty() {
        return;
    }
    let (parent, step) = found[at.index(found.len())].clone();
    // a renamed field may hold a slash: its members are not found again, and stay as they are
    let Some(parent) = input.pointer_mut(&parent) else {
        return;
    };
    let change = |value: &mut Value| match damage {
        Damage::Swap(other) => *value = other.clone(),
        Damage::Repeat(times) => *value = Value::Array(vec![value.clone(); *times]),
        Damage::Nest(deep) => *value = (0..*deep).fold(value.take(), |inner, _| json!([inner])),
        Damage::Drop | Damage::Rename(_) => {}
    };
    match parent {
        Value::Array(entries) => {
            let place: usize = step.parse().unwrap_or(0);
            match damage {
                Damage::Drop | Damage::Rename(_) if place < entries.len() => drop(entries.remove(place)),
                _ => entries.get_mut(place).into_iter().for_each(change),
            }
        }
        Value::Object(fields) => match (damage, fields.remove(&step)) {
            (Damage::Rename(name), Some(value)) => drop(fields.insert(name.clone(), value)),
            (Damage::Drop, _) | (_, None) => {}
            (_, Some(mut value)) => {
                change(&mut value);
                fields.insert(step, value);
            }
        },
        _ => {}
    }
}

/// A pointer names a place that is there, or one that is missing in an object or beyond a list that is there.
fn resolves(input: &Value, pointer: &str) -> bool {
    let parent = pointer.rsplit_once('/').map_or("", |(parent, _)| parent);
    input.pointer(pointer).is_some()
        || input.pointer(parent).is_some_and(|parent| parent.is_object() || parent.is_array())
}

fn checked(name: &str, text: &str) -> Result<(), TestCaseError> {
    let started = Instant::now();
    let outcome = calc(name, text.as_bytes());
    let took = started.elapsed();
    prop_assert!(took.as_secs() < PATIENCE_S, "{name} took {took:?}");
    match outcome {
        Ok(answer) => {
            prop_assert_eq!(faults_of_answer(name, &answer), Vec::<String>::new(), "{}: {}", name, text);
            let with_working = explained(name, text.as_bytes(), None);
            let workings = with_working.ok().and_then(|answer| Some(answer["working"].as_array()?.len()));
            // a plan that finds all as it should be answers no number, and has none to tell of
            prop_assert!(workings.is_some_and(|told| told > 0 || numbers_of(&answer).is_empty()), "{name}: {text}");
        }
        Err(refusal) => {
            let document = refusal.document();
            let errors = document["errors"].as_array().cloned().unwrap_or_default();
            let status = document["status"].as_u64().unwrap_or(0);
            prop_assert!([400, 413, 422].contains(&status) && (!errors.is_empty() || status == 413), "{}", document);
            if let (422, Ok(input)) = (status, serde_json::from_str::<Value>(text)) {
                for error in errors {
                    let (pointer, detail) = (error["pointer"].as_str(), error["detail"].as_str());
                    prop_assert!(pointer.is_some_and(|pointer| resolves(&input, pointer)), "{name}: {error} of {text}");
                    prop_assert!(detail.is_some_and(|detail| (5..1000).contains(&detail.len())), "{}", error);
                }
            }
        }
    }
    Ok(())
}

/// A bounded number of draws: this is about panics, not patience.
fn patient(name: &str, input: &mut Value) {
    if name == "promise" && input["draws"].as_f64().is_none_or(|draws| draws > 200.0) {
        input["draws"] = json!(200);
    }
}

fn any_name() -> impl Strategy<Value = &'static str> {
    prop::sample::select(NAMES.to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(fuzz_cases(1000)))]

    #[test]
    fn damaged_input_is_answered_or_refused_at_its_place(
        name in any_name(), damage in prop::collection::vec((any::<Index>(), any_damage()), 1..4),
    ) {
        let mut input = good(name);
        for (at, damage) in &damage {
            damaged(&mut input, *at, damage);
        }
        if input.get("draws").is_some() || damage.len() > 1 {
            patient(name, &mut input);
        }
        checked(name, &input.to_string())?;
    }

    /// The text itself: numbers without end, words that are no JSON, a field twice, a brace too few.
    #[test]
    fn damaged_text_is_answered_or_refused_at_its_place(
        name in any_name(), at in any::<Index>(), length in 0..12_usize,
        put in prop_oneof![
            prop::sample::select(vec!["NaN", "1e999", "-1e-999", "0x10", "01", "1.", ".5", "--1", "\"", "\\u0000", "\\ud800", "{}", "[", "null",
                "/*x*/", ",", ":", "\"frets\":12,", "\"scale_mm\":648,", "1e", "٣", "\u{feff}", "9".repeat(400).leak()]).prop_map(str::to_owned),
            "\\PC{0,8}",
        ],
    ) {
        let mut input = good(name);
        patient(name, &mut input);
        let text: Vec<char> = input.to_string().chars().collect();
        let from = at.index(text.len());
        let until = (from + length).min(text.len());
        let damaged: String = text[..from].iter().copied().chain(put.chars()).chain(text[until..].iter().copied()).collect();
        checked(name, &damaged)?;
    }

    #[test]
    fn no_text_breaks_what_people_type(typed in prop_oneof![
        "\\PC{0,60}", "[0-9.,/ \"'−+-]{0,24}(mm|in|\"|cm|INCH|′)?", "[ \u{a0}\u{2009}\u{200b}]{0,3}[0-9]{0,45}[.,⁄/]?[0-9]{0,45}",
        "[0-9]{1,4}[-./][0-9]{1,3}[-./][0-9]{1,5}", any::<String>(),
    ]) {
        for unit in [LengthUnit::Millimetre, LengthUnit::Inch] {
            match Micrometres::parse_signed(&typed, unit) {
                Ok(length) => {
                    prop_assert!(length.0.abs() <= 10_000_000, "{typed} is {length:?}");
                    // what is shown is read back
                    prop_assert_eq!(Micrometres::parse_signed(&length.in_mm(), unit), Ok(length), "{}", typed);
                    prop_assert_eq!(Micrometres::from_mm(length.mm()), Some(length));
                    let plain = Micrometres::parse(&typed, unit);
                    prop_assert_eq!(plain.is_ok(), length.0 >= 0, "{}", typed);
                    for place in [Place::HeightAt12th, Place::Relief, Place::FretHeight] {
                        if let Some(asked) = question(length, place, unit) {
                            prop_assert!(!asked.words.is_empty());
                        }
                    }
                }
                Err(words) => {
                    prop_assert!(words.ends_with('.') && words.len() > 15, "{typed}: {words}");
                    prop_assert!(words.chars().count() < 300, "{words}");
                }
            }
        }
        let pounds = Currency::default();
        if let Ok(money) = Money::parse(&typed, &pounds) {
            prop_assert_eq!(Money::parse(&money.plain(&pounds), &pounds), Ok(money));
        }
        if let Ok(rate) = TaxRate::parse(&typed) {
            prop_assert_eq!(TaxRate::parse(&rate.percent()), Ok(rate));
        }
        if let Ok(day) = parse_day(&typed) {
            prop_assert!((1900..=2200).contains(&day.year()));
        }
    }
}

#[test]
fn input_nested_without_end_is_refused() {
    for (open, close) in [("[", "]"), ("{\"strings\":", "}")] {
        let deep = format!("{}1{}", open.repeat(100_000), close.repeat(100_000));
        for name in NAMES.iter() {
            let document = calc(name, deep.as_bytes()).expect_err("too deep").document();
            assert!([400, 422].contains(&document["status"].as_u64().unwrap_or(0)), "{name}: {document}");
        }
    }
}
