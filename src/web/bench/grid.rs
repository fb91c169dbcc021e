//! The reading grid: which cells there are, what stands in them, and how they are read back.

use crate::quantity::{LengthUnit, Micrometres, Place, question};
use crate::records::instrument::InstrumentEntry;
use crate::records::reading::{Reading, ReadingKind, ReadingSet};
use crate::setup::plan::PlanOutput;
use crate::web::form::Typed;
use crate::web::readings_view::{mean_words, string_names};

/// Columns of the grid, in the order of travel.
pub(super) const PER_STRING: [ReadingKind; 4] =
    [ReadingKind::Height12, ReadingKind::Height1, ReadingKind::Gap1Stopped3, ReadingKind::Cents12];
/// What is read once.
pub(super) const ONCE: [ReadingKind; 4] =
    [ReadingKind::Relief, ReadingKind::SaddleTreble, ReadingKind::SaddleBass, ReadingKind::FretHeight];
/// Repeats of one cell, at most.
const MOST_REPEATS: usize = 20;

/// One row: a string and its cells.
pub(super) struct GridRow {
    pub(super) name: String,
    pub(super) cells: Vec<Cell>,
}

/// One cell.
pub(super) struct Cell {
    pub(super) field: String,
    pub(super) label: String,
    pub(super) typed: String,
    pub(super) error: Option<String>,
    /// As read last time, shown faintly.
    pub(super) last: String,
}

/// The name of a cell's field.
pub(super) fn field(kind: ReadingKind, string: i64) -> String {
    format!("{}_{string}", kind.key())
}

/// The rows of the grid.
pub(super) fn rows(
    instrument: &InstrumentEntry,
    form: &Typed,
    last: Option<&ReadingSet>,
    unit: LengthUnit,
) -> Vec<GridRow> {
    (1_i64..)
        .zip(string_names(instrument))
        .map(|(number, name)| GridRow {
            cells: PER_STRING.iter().map(|kind| cell(*kind, number, &name, form, last, unit)).collect(),
            name,
        })
        .collect()
}

/// The cells read once.
pub(super) fn once(form: &Typed, last: Option<&ReadingSet>, unit: LengthUnit) -> Vec<Cell> {
    ONCE.iter().map(|kind| cell(*kind, 0, "", form, last, unit)).collect()
}

fn cell(kind: ReadingKind, string: i64, name: &str, form: &Typed, last: Option<&ReadingSet>, unit: LengthUnit) -> Cell {
    let field = field(kind, string);
    let label = if name.is_empty() { capitalized(kind.spoken()) } else { format!("String {name}, {}", kind.spoken()) };
    let read = |unit| mean_words(last, kind, string, unit);
    let both = match kind {
        ReadingKind::Cents12 => read(unit),
        _ => format!("{}\n{}", read(LengthUnit::Millimetre), read(LengthUnit::Inch)),
    };
    Cell {
        typed: form.value(&field).to_owned(),
        error: form.error(&field).map(str::to_owned),
        last: if read(unit) == "–" { String::new() } else { both },
        label,
        field,
    }
}

fn capitalized(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Puts the readings that the last plan's steps leave fresh into an empty form: what a step made stale
/// stays empty and must be read again.
pub(super) fn carry_fresh(mut form: Typed, last: &ReadingSet, plan: &PlanOutput) -> Typed {
    for reading in &last.readings {
        let key = match reading.kind {
            ReadingKind::Height12 => "action_12_mm",
            ReadingKind::Height1 => "first_fret_mm",
            ReadingKind::Gap1Stopped3 => "gap_at_1_stopped_at_3_mm",
            ReadingKind::Cents12 => "cents_at_12",
            ReadingKind::Relief => "relief_mm",
            ReadingKind::SaddleTreble | ReadingKind::SaddleBass => "saddle_showing_mm",
            ReadingKind::SaddleSlot | ReadingKind::FretHeight => "",
        };
        if plan.measure_again.iter().any(|stale| stale == key) {
            continue;
        }
        let field = field(reading.kind, reading.string_number);
        let before = form.value(&field);
        let typed = if before.is_empty() { reading.typed.clone() } else { format!("{before}; {}", reading.typed) };
        form = form.with(&field, typed);
    }
    form
}

/// Reads the grid back. Empty cells were not read; problems are noted at their cells.
pub(super) fn read(form: &mut Typed, instrument: &InstrumentEntry, unit: LengthUnit) -> Vec<Reading> {
    let sure = form.is("sure", "yes");
    let mut readings = Vec::new();
    for (number, _) in (1_i64..).zip(&instrument.strings) {
        for kind in PER_STRING {
            read_cell(form, kind, number, unit, sure, &mut readings);
        }
    }
    for kind in ONCE {
        read_cell(form, kind, 0, unit, sure, &mut readings);
    }
    readings
}

fn read_cell(
    form: &mut Typed,
    kind: ReadingKind,
    string: i64,
    unit: LengthUnit,
    sure: bool,
    readings: &mut Vec<Reading>,
) {
    let name = field(kind, string);
    let typed = form.value(&name).trim().to_owned();
    if typed.is_empty() {
        return;
    }
    let parts = split_repeats(&typed, kind, unit);
    if parts.len() > MOST_REPEATS {
        form.refuse(&name, format!("At most {MOST_REPEATS} repeats of one reading."));
        return;
    }
    for (repeat, part) in (1_i64..).zip(parts) {
        let value = match parse(&part, kind, unit) {
            Ok(value) => value,
            Err(words) => {
                form.refuse(&name, words);
                return;
            }
        };
        let asked = place(kind).and_then(|place| question(Micrometres(value), place, unit));
        if let Some(asked) = asked.filter(|_| !sure) {
            form.refuse(&name, asked.words);
            return;
        }
        readings.push(Reading { kind, string_number: string, repeat, value, typed: part });
    }
}

/// Repeats stand behind semicolons, or behind blanks where the whole is not one value (`1 1/4` is).
fn split_repeats(typed: &str, kind: ReadingKind, unit: LengthUnit) -> Vec<String> {
    let parts: Vec<String> =
        typed.split(';').map(str::trim).filter(|part| !part.is_empty()).map(str::to_owned).collect();
    let [only] = parts.as_slice() else {
        return parts;
    };
    if parse(only, kind, unit).is_ok() {
        return parts;
    }
    let split: Vec<String> = only.split_whitespace().map(str::to_owned).collect();
    if split.iter().all(|part| parse(part, kind, unit).is_ok()) { split } else { parts }
}

/// Micrometres, or thousandths of a cent.
fn parse(text: &str, kind: ReadingKind, unit: LengthUnit) -> Result<i64, String> {
    if kind == ReadingKind::Cents12 {
        let number = text.trim_end_matches("cents").trim_end_matches("ct").trim();
        let cents = Micrometres::parse_signed(number, LengthUnit::Millimetre)
            .map_err(|_| "Type the error in cents, such as 4 or -2.5.".to_owned())?;
        return if cents.0.abs() <= 200_000 {
            Ok(cents.0)
        } else {
            Err("An error of more than 200 cents is another note. Tune first.".to_owned())
        };
    }
    let length = if kind == ReadingKind::Relief {
        Micrometres::parse_signed(text, unit)
    } else {
        Micrometres::parse(text, unit)
    };
    length.map(|length| length.0)
}

fn place(kind: ReadingKind) -> Option<Place> {
    Some(match kind {
        ReadingKind::Height12 => Place::HeightAt12th,
        ReadingKind::Height1 => Place::HeightAt1st,
        ReadingKind::Gap1Stopped3 => Place::GapAt1StoppedAt3,
        ReadingKind::Relief => Place::Relief,
        ReadingKind::SaddleTreble | ReadingKind::SaddleBass => Place::SaddleShowing,
        ReadingKind::SaddleSlot => Place::SaddleSlotDepth,
        ReadingKind::FretHeight => Place::FretHeight,
        ReadingKind::Cents12 => return None,
    })
}
