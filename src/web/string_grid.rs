//! The grid in which strings are typed, a row each: those on an instrument, and those of a set.

use crate::records::family::StringMaterial;

/// A typed field of each row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// Its name, before the string's number.
    pub(super) name: &'static str,
    /// Above the fields.
    pub(super) heading: &'static str,
    /// What a field is called where nobody sees the heading.
    pub(super) words: &'static str,
    /// The keypad it wants: "decimal", "numeric" or "".
    pub(super) keypad: &'static str,
}

impl Column {
    pub(super) const NOTE: Self = Self { name: "pitch", heading: "Note", words: "note", keypad: "" };
    pub(super) const GAUGE: Self = Self { name: "gauge", heading: "Gauge", words: "gauge", keypad: "decimal" };
    pub(super) const CORE: Self = Self { name: "core", heading: "Core", words: "core", keypad: "decimal" };
    pub(super) const DENSITY: Self =
        Self { name: "density", heading: "g/m", words: "mass per length in g/m", keypad: "decimal" };

    fn of(&self, number: usize) -> Field {
        Field { name: format!("{}_{number}", self.name), label: label(number, self.words), keypad: self.keypad }
    }
}

/// One field of one row.
#[derive(Debug)]
pub(super) struct Field {
    pub(super) name: String,
    pub(super) label: String,
    pub(super) keypad: &'static str,
}

/// The fields of one string; what it is made of, and whether it is wound, stand between the typed ones.
#[derive(Debug)]
pub(super) struct StringRow {
    pub(super) number: usize,
    pub(super) before: Vec<Field>,
    pub(super) material: Field,
    pub(super) wound: Field,
    pub(super) after: Vec<Field>,
}

/// The whole grid.
#[derive(Debug)]
pub(super) struct StringGrid {
    pub(super) before: Vec<Column>,
    /// Above what a string is made of.
    pub(super) material: &'static str,
    pub(super) after: Vec<Column>,
    pub(super) rows: Vec<StringRow>,
}

impl StringGrid {
    /// As many rows as wished, with the typed fields before and after the string's material.
    pub(super) fn new(rows: usize, before: Vec<Column>, material: &'static str, after: Vec<Column>) -> Self {
        let chosen = |name, number| Field { name: format!("{name}_{number}"), label: label(number, name), keypad: "" };
        let row = |number| StringRow {
            number,
            before: before.iter().map(|column| column.of(number)).collect(),
            material: chosen("material", number),
            wound: chosen("wound", number),
            after: after.iter().map(|column| column.of(number)).collect(),
        };
        let rows = (1..=rows).map(row).collect();
        Self { before, material, after, rows }
    }

    pub(super) fn materials(&self) -> &'static [StringMaterial] {
        StringMaterial::ALL
    }
}

fn label(number: usize, words: &str) -> String {
    format!("String {number}, {words}")
}
