//! The form of a calculation: its fields in order, as the template lays them out.

use serde_json::Value;

use super::answer::notes;
use super::entered::{below, is_blank, spelt_single};
use super::naming::{capitalized, singular};
use super::shape::{Field, Shape};
use crate::problem::Problems;

/// What is longer than this is shown on several lines.
const LONG_LINE: usize = 60;

/// One thing after another on the page. What opens is closed by a later piece.
#[derive(Debug)]
pub(super) enum Piece {
    /// A fieldset.
    Open {
        at: String,
        legend: String,
        hint: String,
        error: Option<String>,
    },
    Close,
    /// Fields side by side.
    OpenRow,
    CloseRow,
    /// What may be left out, folded away unless something stands in it.
    OpenOptional {
        open: bool,
        words: String,
    },
    CloseOptional,
    Single(Control),
    Table(RowTable),
    /// Presses that lengthen and shorten a list.
    Rows {
        at: String,
        one: String,
        any: bool,
    },
}

/// One field.
#[derive(Debug)]
pub(super) struct Control {
    /// JSON pointer; the field's name.
    pub(super) at: String,
    pub(super) label: String,
    pub(super) unit: &'static str,
    pub(super) hint: String,
    pub(super) error: Option<String>,
    pub(super) typed: String,
    pub(super) kind: Kind,
}

impl Control {
    pub(super) fn is_day(&self) -> bool {
        self.kind == Kind::Day
    }

    pub(super) fn is_decimal(&self) -> bool {
        self.kind == Kind::Decimal
    }

    pub(super) fn is_several(&self) -> bool {
        self.kind == Kind::Several
    }

    /// Lines that what was typed needs, where it is several numbers.
    pub(super) fn rows(&self) -> usize {
        if self.typed.len() > LONG_LINE { 3 } else { 1 }
    }
}

/// How a field is typed.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Decimal,
    Text,
    Day,
    /// Several numbers, which need more room.
    Several,
    /// Words with what they are called.
    Choice(Vec<(String, String)>),
}

/// A list whose entries fit into the rows of a table.
#[derive(Debug)]
pub(super) struct RowTable {
    pub(super) at: String,
    pub(super) label: String,
    pub(super) one: String,
    pub(super) hint: String,
    pub(super) error: Option<String>,
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Vec<Control>>,
    pub(super) notes: Vec<(String, String)>,
}

/// A column's head.
#[derive(Debug)]
pub(super) struct Column {
    pub(super) label: String,
    pub(super) unit: &'static str,
}

/// The form of what was typed, with every fault at its field; and the faults for the summary, as
/// (pointer of the field, words).
pub(super) fn pieces(fields: &[Field], entered: &Value, problems: &Problems) -> (Vec<Piece>, Vec<(String, String)>) {
    let mut places = Vec::new();
    gather_places(fields, entered, "", "", &mut places);
    let faults: Vec<(String, String)> =
        problems.0.iter().map(|problem| place_and_words(&places, &problem.pointer, &problem.detail)).collect();
    let mut laid = Laid { pieces: Vec::new(), faults: &faults };
    laid.group(fields, entered, "");
    let pieces = laid.pieces;
    (pieces, faults)
}

/// Every field with its words, so that a fault is said at the nearest one.
fn gather_places(fields: &[Field], entered: &Value, at: &str, within: &str, places: &mut Vec<(String, String)>) {
    for field in fields {
        let here = below(at, &field.name);
        let value = &entered[field.name.as_str()];
        let words =
            if within.is_empty() { field.label.clone() } else { format!("{within}, {}", lowered(&field.label)) };
        match &field.shape {
            Shape::Group(inner) => gather_places(inner, value, &here, &words, places),
            Shape::Rows(inner) => {
                for (place, row) in value.as_array().into_iter().flatten().enumerate() {
                    let one = format!("{} {}", singular(&words), place + 1);
                    gather_places(inner, row, &below(&here, &place.to_string()), &one, places);
                }
            }
            _ => {}
        }
        places.push((here, words));
    }
}

fn place_and_words(places: &[(String, String)], pointer: &str, detail: &str) -> (String, String) {
    let is_at = |place: &str| pointer == place || pointer.strip_prefix(place).is_some_and(|rest| rest.starts_with('/'));
    let nearest = places.iter().filter(|(place, _)| is_at(place)).max_by_key(|(place, _)| place.len());
    let Some((place, words)) = nearest else {
        return (String::new(), format!("{}.", capitalized(detail)));
    };
    let rest = pointer.strip_prefix(place.as_str()).unwrap_or_default().trim_start_matches('/');
    let entry = match rest.parse::<usize>() {
        Ok(entry) => format!(", entry {}", entry + 1),
        Err(_) if rest.is_empty() => String::new(),
        Err(_) => format!(", {rest}"),
    };
    (place.clone(), format!("{words}{entry}: {detail}."))
}

fn lowered(words: &str) -> String {
    let mut letters = words.chars();
    // an abbreviation stays as it is
    match (letters.next(), words.chars().nth(1)) {
        (Some(first), Some(second)) if !second.is_uppercase() && !second.is_numeric() => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => words.to_owned(),
    }
}

/// "either – not known: the worse counts"; the word alone where its meaning says no more.
fn option_words(word: &str, meaning: &str) -> String {
    let word = word.replace('-', " ");
    let meaning = lowered(meaning.trim_end_matches('.'));
    let meaning = meaning.strip_prefix(&format!("the {word}: ")).unwrap_or(&meaning);
    if meaning.is_empty() || meaning.eq_ignore_ascii_case(&word) { word } else { format!("{word} – {meaning}") }
}

struct Laid<'a> {
    pieces: Vec<Piece>,
    faults: &'a [(String, String)],
}

impl Laid<'_> {
    fn error(&self, at: &str) -> Option<String> {
        let here: Vec<&str> =
            self.faults.iter().filter(|(place, _)| place == at).map(|(_, words)| words.as_str()).collect();
        (!here.is_empty()).then(|| here.join(" "))
    }

    fn group(&mut self, fields: &[Field], entered: &Value, at: &str) {
        let (required, optional): (Vec<&Field>, Vec<&Field>) = fields.iter().partition(|field| field.required);
        self.all(&required, entered, at);
        if optional.is_empty() {
            return;
        }
        let said_something = |field: &&Field| {
            let here = below(at, &field.name);
            let below_here =
                |place: &str| place.strip_prefix(&here).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'));
            !is_blank(&entered[field.name.as_str()]) || self.faults.iter().any(|(place, _)| below_here(place))
        };
        let open = optional.iter().any(said_something);
        let labels: Vec<String> = optional.iter().map(|field| lowered(&field.label)).collect();
        self.pieces.push(Piece::OpenOptional { open, words: format!("May be left out: {}", labels.join(", ")) });
        self.all(&optional, entered, at);
        self.pieces.push(Piece::CloseOptional);
    }

    fn all(&mut self, fields: &[&Field], entered: &Value, at: &str) {
        let mut in_row = false;
        for field in fields {
            let here = below(at, &field.name);
            let value = &entered[field.name.as_str()];
            if field.shape.is_single() != in_row {
                self.pieces.push(if in_row { Piece::CloseRow } else { Piece::OpenRow });
                in_row = !in_row;
            }
            match &field.shape {
                Shape::Group(inner) => {
                    self.open(field, &here, field.label.clone());
                    self.group(inner, value, &here);
                    self.pieces.push(Piece::Close);
                }
                Shape::Rows(inner) => self.rows(field, inner, value, &here),
                _ => {
                    let control = self.control(field, value, here);
                    self.pieces.push(Piece::Single(control));
                }
            }
        }
        if in_row {
            self.pieces.push(Piece::CloseRow);
        }
    }

    fn open(&mut self, field: &Field, at: &str, legend: String) {
        let error = self.error(at);
        self.pieces.push(Piece::Open { at: at.to_owned(), legend, hint: field.hint.clone(), error });
    }

    fn rows(&mut self, field: &Field, inner: &[Field], value: &Value, at: &str) {
        let rows = value.as_array().map_or(&[][..], Vec::as_slice);
        let one = singular(&field.label);
        if inner.iter().all(|field| field.shape.is_single()) {
            let cells = |(place, row): (usize, &Value)| {
                let row_at = below(at, &place.to_string());
                let cell = |field: &Field| self.control(field, &row[field.name.as_str()], below(&row_at, &field.name));
                inner.iter().map(cell).collect()
            };
            let column = |field: &Field| Column { label: field.label.clone(), unit: field.unit };
            let table = RowTable {
                label: field.label.clone(),
                one,
                hint: field.hint.clone(),
                error: self.error(at),
                columns: inner.iter().map(column).collect(),
                notes: notes(inner.iter()),
                rows: rows.iter().enumerate().map(cells).collect(),
                at: at.to_owned(),
            };
            self.pieces.push(Piece::Table(table));
            return;
        }
        self.open(field, at, field.label.clone());
        for (place, row) in rows.iter().enumerate() {
            let row_at = below(at, &place.to_string());
            let error = self.error(&row_at);
            let legend = format!("{one} {}", place + 1);
            self.pieces.push(Piece::Open { at: row_at.clone(), legend, hint: String::new(), error });
            self.group(inner, row, &row_at);
            self.pieces.push(Piece::Close);
        }
        self.pieces.push(Piece::Rows { at: at.to_owned(), one, any: !rows.is_empty() });
        self.pieces.push(Piece::Close);
    }

    fn control(&self, field: &Field, value: &Value, at: String) -> Control {
        let yes_or_no = || vec![("yes".to_owned(), "yes".to_owned()), ("no".to_owned(), "no".to_owned())];
        let kind = match &field.shape {
            Shape::Number => Kind::Decimal,
            Shape::Day => Kind::Day,
            Shape::Truth => Kind::Choice(yes_or_no()),
            Shape::Choice(words) => {
                Kind::Choice(words.iter().map(|(word, meaning)| (word.clone(), option_words(word, meaning))).collect())
            }
            Shape::List(_) | Shape::Numbered | Shape::Json => Kind::Several,
            _ => Kind::Text,
        };
        let usual = field.default.as_ref().map(|default| match default.as_f64() {
            Some(number) => number.to_string(),
            None => spelt_single(&field.shape, default),
        });
        let mut hint = field.hint.clone();
        if let Some(usual) = usual.filter(|usual| !usual.is_empty() && usual != "{}" && field.shape.is_single()) {
            let gap = if hint.is_empty() { "" } else { " " };
            hint = format!("{hint}{gap}{usual} where left empty.");
        }
        Control {
            error: self.error(&at),
            label: field.label.clone(),
            unit: field.unit,
            hint,
            typed: value.as_str().unwrap_or_default().to_owned(),
            kind,
            at,
        }
    }
}
