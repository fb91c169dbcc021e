//! Worked input and output of every calculation, computed by an independent model
//! (`worked-examples.json`): every number within the stated tolerance, every text and date exactly.
//! Those that `tests/reference/worked_examples.py` wrote are computed anew in each full run.

use serde_json::Value;
use thumbplane::calc::NAMES;

use super::answer;

#[derive(Clone, Copy)]
enum Tolerance {
    Absolute(f64),
    Percent(f64),
}

impl Tolerance {
    fn of(stated: &Value) -> Self {
        if let Some(absolute) = stated.as_f64() {
            return Self::Absolute(absolute);
        }
        let percent = stated.as_str().and_then(|text| text.strip_suffix(" %")).and_then(|text| text.parse().ok());
        Self::Percent(percent.expect("a tolerance is a number or a percentage"))
    }

    fn around(self, expected: f64) -> f64 {
        match self {
            Self::Absolute(absolute) => absolute,
            Self::Percent(percent) => expected.abs() * percent / 100.0,
        }
    }
}

/// Compares all that is expected; the answer may hold more fields, but no longer lists.
fn compare(at: &str, expected: &Value, actual: &Value, tolerance: Tolerance, compared: &mut usize) {
    match (expected, actual) {
        (Value::Object(fields), _) => {
            for (name, value) in fields {
                let found = actual.get(name).unwrap_or_else(|| panic!("{at}/{name} is missing"));
                compare(&format!("{at}/{name}"), value, found, tolerance, compared);
            }
        }
        (Value::Array(entries), Value::Array(found)) => {
            assert_eq!(entries.len(), found.len(), "length of {at}");
            for (place, (value, found)) in entries.iter().zip(found).enumerate() {
                compare(&format!("{at}/{place}"), value, found, tolerance, compared);
            }
        }
        (Value::Number(expected), Value::Number(found)) => {
            let (expected, found) = (expected.as_f64().unwrap_or(f64::NAN), found.as_f64().unwrap_or(f64::NAN));
            let allowed = if at.ends_with("fret") { 0.0 } else { tolerance.around(expected) };
            assert!((found - expected).abs() <= allowed, "{at}: {found} is not {expected} ± {allowed}");
            *compared += 1;
        }
        _ => {
            assert_eq!(expected, actual, "{at}");
            *compared += 1;
        }
    }
}

#[test]
fn every_worked_example_is_met() {
    let file: Value = serde_json::from_str(include_str!("worked-examples.json")).expect("the examples are JSON");
    let examples = file["examples"].as_array().expect("a list of examples");
    let mut names = std::collections::BTreeSet::new();
    let mut compared = 0;
    for (place, example) in examples.iter().enumerate() {
        let name = example["name"].as_str().expect("an example has a name");
        let tolerance = Tolerance::of(&example["tolerance"]);
        let actual = answer(name, &example["input"]);
        compare(&format!("example {place}, {name}: "), &example["output"], &actual, tolerance, &mut compared);
        names.insert(name);
    }
    let all: std::collections::BTreeSet<&str> = NAMES.iter().copied().collect();
    assert_eq!(names, all, "every calculation has a worked example");
    assert!(compared >= 1500, "only {compared} values compared");
}
