//! What was typed, as a tree that looks like the input: text in every single field, rows in lists.
//! Fields are named by JSON pointer (RFC 6901), so that a fault of the calculator finds its field.

use serde_json::{Map, Number, Value, json};

use super::shape::{Field, Shape};
use crate::problem::Problems;
use crate::web::form::FormData;

/// Rows of one list on a page, at most.
const MOST_ROWS: usize = 300;

/// A press on "one row more" or "one row fewer", by the list's pointer.
#[derive(Debug, Clone, Copy)]
pub(super) enum RowChange<'a> {
    More(&'a str),
    Fewer(&'a str),
}

/// A name as a step of a JSON pointer.
pub(super) fn below(pointer: &str, name: &str) -> String {
    format!("{pointer}/{}", name.replace('~', "~0").replace('/', "~1"))
}

/// The tree of what was typed.
pub(super) fn gathered(fields: &[Field], at: &str, typed: &FormData, change: Option<RowChange>) -> Value {
    let each = fields.iter().map(|field| {
        let here = below(at, &field.name);
        let value = match &field.shape {
            Shape::Group(inner) => gathered(inner, &here, typed, change),
            Shape::Rows(inner) => {
                let count = match change {
                    Some(RowChange::More(pointer)) if pointer == here => rows(typed, &here) + 1,
                    Some(RowChange::Fewer(pointer)) if pointer == here => rows(typed, &here).saturating_sub(1),
                    _ => rows(typed, &here),
                };
                let row = |place| gathered(inner, &below(&here, &usize::to_string(&place)), typed, change);
                (0..count.min(MOST_ROWS)).map(row).collect()
            }
            _ => json!(typed.value(&here)),
        };
        (field.name.clone(), value)
    });
    Value::Object(each.collect())
}

fn rows(typed: &FormData, at: &str) -> usize {
    let places = typed
        .names()
        .filter_map(|name| name.strip_prefix(at)?.strip_prefix('/')?.split('/').next()?.parse::<usize>().ok());
    places.filter(|place| *place < MOST_ROWS).max().map_or(0, |last| last + 1)
}

/// The tree of an input, as somebody would have typed it.
pub(super) fn spelt(fields: &[Field], input: &Value) -> Value {
    let each = fields.iter().map(|field| {
        let given = &input[field.name.as_str()];
        let value = match &field.shape {
            Shape::Group(inner) => spelt(inner, given),
            Shape::Rows(inner) => given.as_array().into_iter().flatten().map(|row| spelt(inner, row)).collect(),
            shape => json!(spelt_single(shape, given)),
        };
        (field.name.clone(), value)
    });
    Value::Object(each.collect())
}

pub(super) fn spelt_single(shape: &Shape, value: &Value) -> String {
    match (shape, value) {
        (_, Value::Null) => String::new(),
        (Shape::Truth, Value::Bool(truth)) => if *truth { "yes" } else { "no" }.to_owned(),
        (Shape::List(item), Value::Array(entries)) => {
            entries.iter().map(|entry| spelt_single(item, entry)).collect::<Vec<_>>().join("; ")
        }
        (Shape::Numbered, Value::Object(entries)) => {
            entries.iter().map(|(name, number)| format!("{name}: {number}")).collect::<Vec<_>>().join("; ")
        }
        (Shape::Json, value) => value.to_string(),
        (_, Value::String(text)) => text.clone(),
        (_, value) => value.to_string(),
    }
}

/// Leaves out rows that nobody filled in, where a row cannot be empty. Where it can, an empty row is one
/// string of which nothing is known.
pub(super) fn compact(fields: &[Field], entered: &mut Value) {
    for field in fields {
        let Some(value) = entered.get_mut(&field.name) else { continue };
        match &field.shape {
            Shape::Group(inner) => compact(inner, value),
            Shape::Rows(inner) => {
                let Some(rows) = value.as_array_mut() else { continue };
                rows.iter_mut().for_each(|row| compact(inner, row));
                if inner.iter().any(|field| field.required) {
                    rows.retain(|row| !is_blank(row));
                }
            }
            _ => {}
        }
    }
}

/// Without what belongs to the other end of a cut: a form that was filled for a saddle asks nothing of a nut.
pub(super) fn of_its_place(entered: &Value) -> Value {
    let (others, of_strings): (&[&str], &[&str]) = match entered["place"].as_str() {
        Some("nut") => (&["showing_mm", "showing_expanded_mm", "least_showing_mm"], &["action_12_mm"]),
        Some("saddle") => (&[], &["gap_at_1_stopped_at_3_mm", "first_fret_mm", "most_removal_mm"]),
        _ => return entered.clone(),
    };
    let mut own = entered.clone();
    let empty = |value: Option<&mut Value>, names: &[&str]| {
        let Some(fields) = value.and_then(Value::as_object_mut) else { return };
        for name in names {
            fields.remove(*name);
        }
    };
    empty(Some(&mut own), others);
    for string in own.get_mut("strings").and_then(Value::as_array_mut).into_iter().flatten() {
        empty(Some(string), of_strings);
    }
    own
}

/// Whether nothing was typed anywhere below.
pub(super) fn is_blank(entered: &Value) -> bool {
    match entered {
        Value::String(text) => text.trim().is_empty(),
        Value::Array(entries) => entries.iter().all(is_blank),
        Value::Object(fields) => fields.values().all(is_blank),
        _ => true,
    }
}

/// The input that was meant, with what cannot be read noted at its field.
pub(super) fn meant(fields: &[Field], entered: &Value, at: &str, problems: &mut Problems) -> Value {
    let mut object = Map::new();
    for field in fields {
        let here = below(at, &field.name);
        let typed = &entered[field.name.as_str()];
        let value = match &field.shape {
            Shape::Group(inner) => {
                let blank = is_blank(typed) && !field.required;
                (!blank).then(|| meant(inner, typed, &here, problems))
            }
            Shape::Rows(inner) => {
                let rows = typed.as_array().map_or(&[][..], Vec::as_slice);
                let row = |(place, row)| meant(inner, row, &below(&here, &usize::to_string(&place)), problems);
                let all: Vec<Value> = rows.iter().enumerate().map(row).collect();
                (field.required || !all.is_empty()).then_some(Value::Array(all))
            }
            shape => single(shape, field.unit, typed.as_str().unwrap_or_default().trim(), &here, problems),
        };
        if let Some(value) = value {
            object.insert(field.name.clone(), value);
        }
    }
    Value::Object(object)
}

/// What one field says; `None` where nothing was typed, or where it cannot be read.
fn single(shape: &Shape, unit: &str, typed: &str, at: &str, problems: &mut Problems) -> Option<Value> {
    if typed.is_empty() {
        return None;
    }
    let parsed = match shape {
        Shape::Number => number(typed, unit).ok_or("must be a number, such as 2.15"),
        Shape::Truth => truth(typed).ok_or("must be yes or no"),
        Shape::List(item) => {
            let entries = apart(typed, matches!(**item, Shape::Text)).filter(|entry| *entry != unit);
            let entries = entries.map(|entry| match **item {
                Shape::Number => number(entry, unit),
                Shape::Truth => truth(entry),
                _ => Some(json!(entry)),
            });
            entries.collect::<Option<Vec<_>>>().map(Value::Array).ok_or(match **item {
                Shape::Truth => "must be yes or no for each, apart by ;",
                _ => "must be numbers apart by ; such as 2.15; 2.10",
            })
        }
        Shape::Numbered => {
            let entries = typed.split([';', '\n']).map(str::trim).filter(|entry| !entry.is_empty()).map(|entry| {
                let (name, value) = entry.split_once(':')?;
                Some((name.trim().to_owned(), number(value.trim(), unit)?))
            });
            let entries = entries.collect::<Option<Map<_, _>>>();
            entries.map(Value::Object).ok_or("must be pairs such as 7: 0.05; 9: 0.1")
        }
        Shape::Json => serde_json::from_str(typed).map_err(|_| "must be JSON"),
        _ => Ok(json!(typed)),
    };
    match parsed {
        Ok(value) => Some(value),
        Err(words) => {
            problems.note(at, words);
            None
        }
    }
}

/// Entries of a list: apart by `;` or a new line, and where an entry holds no blank, by blanks too. A comma
/// inside a number is a decimal comma; one at its end is only a comma.
fn apart(typed: &str, holds_blanks: bool) -> impl Iterator<Item = &str> {
    let between = move |letter: char| matches!(letter, ';' | '\n') || (letter.is_whitespace() && !holds_blanks);
    typed.split(between).map(|entry| entry.trim().trim_end_matches(',')).filter(|entry| !entry.is_empty())
}

fn number(typed: &str, unit: &str) -> Option<Value> {
    // a length may be typed in inches, as at the bench
    let inches = (unit == "mm").then(|| typed.strip_suffix("in").or_else(|| typed.strip_suffix('"'))).flatten();
    if let Some(inches) = inches {
        let length = number(inches.trim(), "")?.as_f64()? * 25.4;
        return Number::from_f64((length * 1e6).round() / 1e6).map(Value::Number);
    }
    let bare = typed.strip_suffix(unit).unwrap_or(typed).trim().replace('−', "-");
    if bare.matches([',', '.']).count() > 1 || bare.contains(|letter: char| letter.is_ascii_alphabetic()) {
        return None;
    }
    let bare = bare.replace(',', ".");
    // a whole number stays one: counts and seeds are refused as fractions
    if let Ok(whole) = bare.parse::<u64>() {
        return Some(json!(whole));
    }
    Number::from_f64(bare.parse().ok()?).map(Value::Number)
}

fn truth(typed: &str) -> Option<Value> {
    match typed.to_lowercase().as_str() {
        "yes" | "true" | "1" => Some(json!(true)),
        "no" | "false" | "0" => Some(json!(false)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::{apart, number};

    #[test]
    fn numbers_are_read_as_people_write_them() {
        for (typed, expected) in [
            ("2.15", json!(2.15)),
            ("2,15", json!(2.15)),
            (".5", json!(0.5)),
            ("−0,3", json!(-0.3)),
            ("645 mm", json!(645)),
            ("22", json!(22)),
        ] {
            assert_eq!(number(typed, "mm"), Some(expected), "{typed}");
        }
        for wrong in ["2.1.5", "1,234.5", "about 2", "1e300", "inf", "nan", "-", "2 15"] {
            assert_eq!(number(wrong, "mm"), None, "{wrong}");
        }
    }

    #[test]
    fn a_list_is_read_apart_by_semicolons_blanks_or_lines() {
        for typed in ["2.15; 2.10", "2.15 2.10", "2.15\r\n2.10", "2.15, 2.10", "2.15;2.10;"] {
            assert_eq!(apart(typed, false).collect::<Vec<_>>(), ["2.15", "2.10"], "{typed:?}");
        }
        assert_eq!(apart("2,15; 2,10", false).collect::<Vec<_>>(), ["2,15", "2,10"]);
    }
}
