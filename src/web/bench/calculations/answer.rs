//! An answer laid out in words and tables. Numbers are rounded to what somebody at a bench can use; the
//! unrounded number stays beside each, and the whole answer as JSON.

use serde_json::Value;

use super::naming::{singular, words_and_unit};
use super::shape::{Field, Shape};
use crate::web::words::figures;
use crate::web::working_view::WorkingView;
use crate::working::Working;

/// A list this short stands in one line.
const SHORT_LIST: usize = 4;
/// So many entries with parts of their own stand open; more are folded.
const MOST_OPEN: usize = 8;

/// One thing after another on the page. What opens is closed by a later block.
#[derive(Debug)]
pub(super) enum Block {
    Heading(String),
    Facts(Vec<Fact>),
    /// A long list of numbers, counted from 1.
    Numbers {
        label: String,
        unit: &'static str,
        hint: String,
        entries: Vec<AnswerView>,
    },
    Table {
        label: String,
        hint: String,
        columns: Vec<Head>,
        rows: Vec<Vec<AnswerView>>,
        notes: Vec<(String, String)>,
    },
    Open {
        words: String,
        open: bool,
    },
    Close,
}

/// A label with its value.
#[derive(Debug)]
pub(super) struct Fact {
    pub(super) label: String,
    pub(super) unit: &'static str,
    pub(super) hint: String,
    pub(super) value: AnswerView,
}

impl Fact {
    /// Whether its value is a sentence rather than a figure.
    pub(super) fn is_sentence(&self) -> bool {
        self.value.parts.iter().map(|part| part.text.len()).sum::<usize>() > 48
    }
}

/// A column's head.
#[derive(Debug)]
pub(super) struct Head {
    pub(super) label: String,
    pub(super) unit: &'static str,
    pub(super) is_figure: bool,
}

/// A value as it is shown: one part, or one for each entry of a list. Nothing is "–".
#[derive(Debug, Default)]
pub(super) struct AnswerView {
    pub(super) parts: Vec<Part>,
}

/// One number or text; `exact` is the number unrounded, where that differs.
#[derive(Debug)]
pub(super) struct Part {
    pub(super) text: String,
    pub(super) exact: Option<String>,
}

/// The answer, block by block.
pub(super) fn blocks(fields: &[Field], answer: &Value) -> Vec<Block> {
    let mut blocks = Vec::new();
    lay(fields, answer, &mut blocks);
    blocks
}

fn lay(fields: &[Field], answer: &Value, blocks: &mut Vec<Block>) {
    let mut facts = Vec::new();
    let mut rest = Vec::new();
    for field in fields {
        let Some(value) = answer.get(&field.name) else { continue };
        // counts, such as the numbers of strings, need no place of their own
        let is_long =
            value.as_array().is_some_and(|entries| entries.len() > SHORT_LIST && !entries.iter().all(Value::is_u64));
        if field.shape.is_single() && !is_long || value.is_null() {
            facts.push(Fact {
                label: field.label.clone(),
                unit: if value.is_null() { "" } else { field.unit },
                hint: field.hint.clone(),
                value: value_view(&field.shape, value, field.unit),
            });
        } else {
            rest.push((field, value));
        }
    }
    if !facts.is_empty() {
        blocks.push(Block::Facts(facts));
    }
    for (field, value) in rest {
        match &field.shape {
            Shape::Group(inner) => {
                blocks.push(Block::Heading(field.label.clone()));
                lay(inner, value, blocks);
            }
            Shape::Rows(inner) => rows(field, inner, value, blocks),
            shape => blocks.push(Block::Numbers {
                label: field.label.clone(),
                unit: field.unit,
                hint: field.hint.clone(),
                entries: value
                    .as_array()
                    .into_iter()
                    .flatten()
                    .map(|entry| entry_view(shape, entry, field.unit))
                    .collect(),
            }),
        }
    }
}

fn entry_view(shape: &Shape, entry: &Value, unit: &str) -> AnswerView {
    match shape {
        Shape::List(item) => value_view(item, entry, unit),
        other => value_view(other, entry, unit),
    }
}

fn rows(field: &Field, inner: &[Field], value: &Value, blocks: &mut Vec<Block>) {
    let rows = value.as_array().map_or(&[][..], Vec::as_slice);
    if rows.is_empty() {
        let none = AnswerView { parts: vec![Part { text: "none".to_owned(), exact: None }] };
        blocks.push(Block::Facts(vec![Fact {
            label: field.label.clone(),
            unit: "",
            hint: field.hint.clone(),
            value: none,
        }]));
        return;
    }
    // what no row says needs no column
    let present: Vec<&Field> =
        inner.iter().filter(|field| rows.iter().any(|row| row.get(&field.name).is_some())).collect();
    if present.iter().all(|field| field.shape.is_single()) {
        let is_long = |field: &&Field| {
            let longest = rows.iter().filter_map(|row| row[field.name.as_str()].as_array()).map(Vec::len).max();
            longest.is_some_and(|longest| longest > 2 * SHORT_LIST)
        };
        let (long, flat): (Vec<&Field>, Vec<&Field>) = present.into_iter().partition(is_long);
        blocks.push(table(&field.label, &field.hint, &flat, rows));
        // a long list in each row is a table of its own, beside what the row is called by
        let called: Vec<&Field> = flat.first().copied().filter(|_| !long.is_empty()).into_iter().collect();
        for field in long {
            blocks.push(Block::Open { words: field.label.clone(), open: false });
            let columns: Vec<&Field> = called.iter().copied().chain([field]).collect();
            blocks.push(table(&field.label, &field.hint, &columns, rows));
            blocks.push(Block::Close);
        }
        return;
    }
    blocks.push(Block::Heading(field.label.clone()));
    let one = singular(&field.label);
    for (place, row) in rows.iter().enumerate() {
        // an entry with a name of its own is called by it, and need not say it again
        let (words, name_field) = match (row["key"].as_str(), row["fret"].as_u64()) {
            (Some(key), _) => (format!("{one} {}: {}", place + 1, plain(key)), "key"),
            (None, Some(fret)) => (format!("Fret {fret}"), "fret"),
            (None, None) => (format!("{one} {}", place + 1), ""),
        };
        blocks.push(Block::Open { words, open: rows.len() <= MOST_OPEN });
        let rest: Vec<Field> = inner.iter().filter(|field| field.name != name_field).cloned().collect();
        lay(&rest, row, blocks);
        blocks.push(Block::Close);
    }
}

fn table(label: &str, hint: &str, columns: &[&Field], rows: &[Value]) -> Block {
    let cells = |row: &Value| {
        columns.iter().map(|field| value_view(&field.shape, &row[field.name.as_str()], field.unit)).collect()
    };
    let head = |field: &&Field| Head {
        label: field.label.clone(),
        unit: field.unit,
        is_figure: matches!(field.shape, Shape::Number),
    };
    Block::Table {
        label: label.to_owned(),
        hint: hint.to_owned(),
        columns: columns.iter().map(head).collect(),
        notes: notes(columns.iter().copied()),
        rows: rows.iter().map(cells).collect(),
    }
}

/// What the fields of a table say of themselves.
pub(super) fn notes<'a>(fields: impl Iterator<Item = &'a Field>) -> Vec<(String, String)> {
    fields.filter(|field| !field.hint.is_empty()).map(|field| (field.label.clone(), field.hint.clone())).collect()
}

/// A value as it is shown.
fn value_view(shape: &Shape, value: &Value, unit: &str) -> AnswerView {
    let parts = match value {
        Value::Null => Vec::new(),
        Value::Array(entries) if entries.is_empty() => vec![Part { text: "none".to_owned(), exact: None }],
        Value::Object(entries) if entries.is_empty() => vec![Part { text: "none".to_owned(), exact: None }],
        Value::Array(entries) => {
            let item = if let Shape::List(item) = shape { item } else { shape };
            let each = entries.iter().map(|entry| match entry {
                Value::Null => Part { text: "–".to_owned(), exact: None },
                entry => part(item, entry, unit),
            });
            each.collect()
        }
        Value::Object(entries) if matches!(shape, Shape::Numbered) => {
            let each = entries.iter().map(|(name, number)| {
                let (label, unit) = words_and_unit(name);
                let number = part(&Shape::Number, number, unit);
                let text = format!("{label} {} {unit}", number.text);
                Part { text: text.trim().to_owned(), exact: number.exact }
            });
            each.collect()
        }
        value => vec![part(shape, value, unit)],
    };
    AnswerView { parts }
}

fn part(shape: &Shape, value: &Value, unit: &str) -> Part {
    let text = match value {
        Value::String(word) if matches!(shape, Shape::Choice(_)) => word.replace('-', " "),
        Value::String(text) => plain(text),
        Value::Bool(truth) => if *truth { "yes" } else { "no" }.to_owned(),
        Value::Number(number) if number.is_f64() => {
            let rounded = rounded(number.as_f64().unwrap_or(f64::NAN), unit);
            let exact = number.to_string();
            let same = rounded.parse::<f64>().ok() == number.as_f64();
            return Part { text: rounded.replace('-', "−"), exact: (!same).then_some(exact) };
        }
        other => other.to_string(),
    };
    Part { text, exact: None }
}

/// A key or a field's name in words; any other text as it is.
fn plain(text: &str) -> String {
    let is_name = text.starts_with(|letter: char| letter.is_ascii_lowercase())
        && text.chars().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || "_-".contains(letter));
    match (is_name, text.contains('_')) {
        (true, true) => words_and_unit(text).0,
        (true, false) => text.replace('-', " "),
        (false, _) => text.to_owned(),
    }
}

/// Decimals that somebody at a bench can use.
pub(super) fn rounded(number: f64, unit: &str) -> String {
    let decimals = match unit {
        "mm" | "g/m" => 3,
        "Hz" | "cents" | "g/m³" => 2,
        "N" | "°C" | "%" | "days" | "hours" | "GPa" => 1,
        "Pa" => 0,
        _ => return figures(number, 4),
    };
    let text = format!("{number:.decimals$}");
    // what rounds to nothing has no sign
    if text.trim_start_matches('-').chars().all(|digit| matches!(digit, '0' | '.')) {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// The working that came with an answer.
pub(super) fn working(answer: &Value) -> Vec<WorkingView> {
    let listed: Vec<Working> =
        answer.get("working").cloned().and_then(|working| serde_json::from_value(working).ok()).unwrap_or_default();
    listed.iter().map(WorkingView::of).collect()
}

#[cfg(test)]
mod tests {
    use super::rounded;

    #[test]
    fn numbers_are_rounded_to_what_a_bench_can_use() {
        for (number, unit, expected) in [
            (36.369_445, "mm", "36.369"),
            (-0.000_1, "mm", "0.000"),
            (70.849, "N", "70.8"),
            (0.002_512_3, "", "0.002512"),
            (0.9, "", "0.9"),
            (50.0, "", "50"),
            (123_456.7, "", "123457"),
            (1234.56, "Pa", "1235"),
        ] {
            assert_eq!(rounded(number, unit), expected, "{number} {unit}");
        }
    }
}
