//! The schemas that describe the calculator to programs, against JSON Schema 2020-12 (by the crate
//! `jsonschema`, which shares no code with the one that makes them) and against the calculator itself.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde_json::{Value, json};
use thumbplane::calc::{CALCULATIONS, calc};
use thumbplane::web::api::openapi;

use super::contract::good;
use super::plan::{guitar, seen, steel};
use super::sixty::benches;
use super::{answer, faults};

fn document() -> Value {
    openapi::document("thumbplane")
}

/// A validator of the schema that an operation names for what it takes or answers.
fn validator(document: &Value, name: &str, place: &str) -> jsonschema::Validator {
    let operation = &document["paths"][format!("/api/calc/{name}")]["post"];
    let schema = operation.pointer(place).unwrap_or_else(|| panic!("{name} has no schema at {place}"));
    let whole = json!({"$ref": schema["$ref"], "components": document["components"]});
    jsonschema::draft202012::new(&whole).unwrap()
}

fn of_input(document: &Value, name: &str) -> jsonschema::Validator {
    validator(document, name, "/requestBody/content/application~1json/schema")
}

fn of_answer(document: &Value, name: &str) -> jsonschema::Validator {
    validator(document, name, "/responses/200/content/application~1json/schema")
}

/// What the schema of its answer finds amiss. A number that is not finite is written as null, which no number's schema takes.
pub(super) fn faults_of_answer(name: &str, answer: &Value) -> Vec<String> {
    static VALIDATORS: LazyLock<BTreeMap<&str, jsonschema::Validator>> = LazyLock::new(|| {
        let document = document();
        let of = |name: &'static str| (name, of_answer(&document, name));
        CALCULATIONS.iter().map(|calculation| of(calculation.name)).collect()
    });
    let faults = VALIDATORS[name].iter_errors(answer);
    faults.map(|fault| format!("{}: {fault}", fault.instance_path())).collect()
}

#[track_caller]
fn holds(validator: &jsonschema::Validator, said: &str, value: &Value) {
    let faults: Vec<String> =
        validator.iter_errors(value).map(|fault| format!("{}: {fault}", fault.instance_path())).collect();
    assert!(faults.is_empty(), "{said}: {faults:#?}");
}

/// Every worked example, every example the program begins with, and plans as the tests of `plan` know them.
fn cases() -> Vec<(String, Value)> {
    let file: Value = serde_json::from_str(include_str!("worked-examples.json")).unwrap();
    let worked = file["examples"].as_array().unwrap().iter();
    let mut cases: Vec<(String, Value)> =
        worked.map(|example| (example["name"].as_str().unwrap().to_owned(), example["input"].clone())).collect();
    cases.extend(CALCULATIONS.iter().map(|calculation| (calculation.name.to_owned(), calculation.example())));
    cases.extend(CALCULATIONS.iter().map(|calculation| (calculation.name.to_owned(), good(calculation.name))));
    let plans = [
        steel([1.9, 2.3], 0.07, 0.15, [3.6, 4.4]),
        steel([2.6, 3.0], 0.16, 0.4, [3.0, 3.6]),
        steel([2.6, 3.0], 0.07, 0.15, [1.2, 1.3]),
        guitar("electric", "two-way", (648.0, 22, 16), 6, [1.4, 1.6], 0.05, 0.2, None),
        guitar("classical", "none", (650.0, 19, 12), 6, [3.6, 4.4], 0.12, 0.1, Some([3.0, 4.0])),
        seen(steel([2.6, 3.0], 0.07, 0.15, [3.6, 4.4]), json!([{"key": "crack"}])),
        seen(steel([1.6, 1.9], 0.02, 0.0, [3.6, 4.4]), json!([{"key": "buzz", "string": 6, "fret": 0}])),
    ];
    cases.extend(plans.into_iter().map(|input| ("plan".to_owned(), input)));
    cases.extend(benches().into_iter().map(|(_, input)| ("plan".to_owned(), input)));
    cases
}

#[test]
fn every_schema_keeps_the_rules_of_json_schema() {
    let document = document();
    let schemas = document["components"]["schemas"].as_object().unwrap();
    assert!(schemas.len() > 40, "{}", schemas.len());
    for (name, schema) in schemas {
        if let Err(fault) = jsonschema::draft202012::meta::validate(schema) {
            panic!("{name}: {fault}");
        }
        assert!(!name.ends_with(char::is_numeric), "{name}: two types share this name; a program reads both");
    }
}

#[test]
fn every_example_and_its_answer_keep_their_schemas() {
    let document = document();
    let mut names = std::collections::BTreeSet::new();
    for (name, input) in cases() {
        holds(&of_input(&document, &name), &format!("input of {name}"), &input);
        holds(&of_answer(&document, &name), &format!("answer of {name} to {input}"), &answer(&name, &input));
        names.insert(name);
    }
    let all: std::collections::BTreeSet<String> =
        CALCULATIONS.iter().map(|calculation| calculation.name.to_owned()).collect();
    assert_eq!(names, all);
}

#[test]
fn the_working_beside_an_answer_keeps_its_schema() {
    let document = document();
    for (name, input) in cases() {
        let explained = thumbplane::calc::explained(&name, input.to_string().as_bytes(), None).unwrap();
        let workings = explained["working"].as_array().unwrap().len();
        assert!(workings > 0 || numbers_of(&answer(&name, &input)).is_empty(), "{name} tells nothing of {input}");
        holds(&of_answer(&document, &name), &format!("explained {name}"), &explained);
    }
}

/// Every number of an answer, as a JSON pointer, but those that only name a string.
pub(super) fn numbers_of(answer: &Value) -> Vec<String> {
    let mut found = Vec::new();
    numbers_below(answer, "", &mut found);
    found.retain(|place| !place.trim_end_matches(|c: char| c.is_ascii_digit()).ends_with("/strings/"));
    found
}

fn numbers_below(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Number(_) => found.push(at.to_owned()),
        Value::Array(entries) => {
            for (place, below) in entries.iter().enumerate() {
                numbers_below(below, &format!("{at}/{place}"), found);
            }
        }
        Value::Object(fields) => {
            for (name, below) in fields {
                numbers_below(below, &format!("{at}/{name}"), found);
            }
        }
        _ => {}
    }
}

/// Numbers that are not always known, by calculation.
const MAY_BE_NULL: &[(&str, &[&str])] = &[
    ("air", &["days_to_90_percent", "dew_point_c"]),
    ("clearance", &["largest_clean_pluck_mm", "touches_fret"]),
    (
        "cut",
        &[
            "after_cut_over_chord_mm",
            "bass_expanded_mm",
            "board_over_fanned_line_mm",
            "exact_mm",
            "expanded_mm",
            "on_top_mm",
            "present_over_chord_mm",
            "treble_expanded_mm",
        ],
    ),
    (
        "drift",
        &[
            "intercept_mm",
            "slope_mm_per_percent",
            "spent_expanded_mm_a_year",
            "spent_mm_a_year",
            "standard_error_mm_per_percent",
            "years_of_lowering_left",
        ],
    ),
    (
        "plan",
        &[
            "bass_expanded_mm",
            "exact_mm",
            "expanded_mm",
            "move_bridge_miss_mm",
            "on_top_mm",
            "posts_miss_mm",
            "setback_to_add_expanded_mm",
            "setback_to_add_mm",
            "shim_mm",
            "treble_expanded_mm",
            "turn_down_expanded_mm",
            "turn_down_mm",
            "turns",
        ],
    ),
    ("promise-record", &["promised_days"]),
    ("reading", &["degrees_of_freedom", "standard_deviation_mm"]),
    (
        "string-change",
        &[
            "cents_at_12_if_saddle_stays",
            "least_behind_saddle_n",
            "saddle_setback_mm",
            "share_of_breaking",
            "string",
            "thicker_mm",
        ],
    ),
    (
        "turnaround",
        &["longest_finished_days", "median_days", "median_least_days", "median_most_days", "p80_days", "p90_days"],
    ),
];

/// The laws rest on it: were a number of an answer not finite, its schema would say so. A few are null by right.
#[test]
fn a_number_that_is_not_finite_is_seen_wherever_it_stands() {
    let mut by_right = BTreeMap::new();
    let mut tried = std::collections::BTreeSet::new();
    for (name, input) in cases() {
        let answered = answer(&name, &input);
        for place in numbers_of(&answered) {
            tried.insert(name.clone());
            let mut infinite = answered.clone();
            *infinite.pointer_mut(&place).unwrap() = Value::from(f64::INFINITY);
            if faults_of_answer(&name, &infinite).is_empty() {
                let field = place.rsplit('/').find(|step| step.parse::<usize>().is_err()).unwrap().to_owned();
                by_right.entry(name.clone()).or_insert_with(std::collections::BTreeSet::new).insert(field);
            }
        }
    }
    assert_eq!(tried.len(), CALCULATIONS.len(), "each calculation answers a number in some case: {tried:?}");
    for name in ["frets", "tension", "string-spacing", "promise"] {
        assert!(!by_right.contains_key(name), "{name} answers numbers alone: {by_right:?}");
    }
    let named: BTreeMap<&str, &[&str]> = MAY_BE_NULL.iter().copied().collect();
    for (name, fields) in by_right {
        let known = named.get(name.as_str()).copied().unwrap_or_default();
        let new: Vec<_> = fields.iter().filter(|field| !known.contains(&field.as_str())).collect();
        assert!(new.is_empty(), "{name} may answer null for {new:?}: say here that this is right");
    }
}

/// Every place below `value` at which an object stands, as a JSON pointer.
fn objects(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            found.push(at.to_owned());
            for (name, below) in fields {
                objects(below, &format!("{at}/{name}"), found);
            }
        }
        Value::Array(entries) => {
            for (place, below) in entries.iter().enumerate() {
                objects(below, &format!("{at}/{place}"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn a_field_unknown_to_the_schema_is_refused_by_both() {
    let document = document();
    let mut tried = 0;
    for calculation in CALCULATIONS.iter() {
        let validator = of_input(&document, calculation.name);
        let mut places = Vec::new();
        objects(&calculation.example(), "", &mut places);
        for place in places {
            let mut input = calculation.example();
            input.pointer_mut(&place).unwrap()["colour"] = json!(1);
            assert!(!validator.is_valid(&input), "{} takes a colour at {place}", calculation.name);
            assert!(!faults(calculation.name, &input.to_string()).is_empty());
            tried += 1;
        }
    }
    assert!(tried > 40, "{tried}");
}

#[test]
fn a_field_that_is_needed_is_missed_by_both() {
    let document = document();
    for calculation in CALCULATIONS.iter() {
        let validator = of_input(&document, calculation.name);
        for name in calculation.example().as_object().unwrap().keys() {
            let mut input = calculation.example();
            input.as_object_mut().unwrap().remove(name);
            // the calculator asks for more than a schema can say, never for less
            let taken = calc(calculation.name, input.to_string().as_bytes()).is_ok();
            assert!(!taken || validator.is_valid(&input), "{} without {name}", calculation.name);
        }
    }
}

#[test]
fn choices_are_an_enum_of_the_words_in_use() {
    let document = document();
    let schemas = &document["components"]["schemas"];
    assert_eq!(schemas["Material"]["enum"], json!(["steel", "nylon", "fluorocarbon", "gut"]));
    assert_eq!(schemas["CutPlace"]["enum"], json!(["saddle", "nut"]));
    assert_eq!(schemas["PlanRod"]["enum"], json!(["none", "one-way", "two-way"]));
}

#[test]
fn ranges_are_those_of_the_calculator() {
    let document = document();
    let scale = &document["components"]["schemas"]["FretsInput"]["properties"]["scale_mm"];
    let (least, most) = (scale["minimum"].as_f64().unwrap(), scale["maximum"].as_f64().unwrap());
    for (scale, good) in [(least, true), (most, true), (least - 0.1, false), (most + 0.1, false)] {
        let input = json!({"scale_mm": scale, "frets": 12});
        assert_eq!(calc("frets", input.to_string().as_bytes()).is_ok(), good, "{scale}");
        assert_eq!(of_input(&document, "frets").is_valid(&input), good, "{scale}");
    }
}
