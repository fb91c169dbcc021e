//! The reading grid: which cells there are, what stands in them, and how they are read back.

use crate::quantity::{Instant, LengthUnit, Micrometres, Place, question};
use crate::records::draft::Draft;
use crate::records::family::{BridgeKind, Nut};
use crate::records::instrument::InstrumentEntry;
use crate::records::plan::{bridge_of, half_scale_range, plan_instrument};
use crate::records::reading::{Reading, ReadingKind, ReadingSet, mean};
use crate::setup::plan::{Targets, WishedHeights, wished_heights};
use crate::web::form::FormData;
use crate::web::readings_view::{is_travel, kind_words, string_names};

/// Columns of the grid, in the order of travel.
const PER_STRING: [ReadingKind; 5] = [
    ReadingKind::Height12,
    ReadingKind::Height1,
    ReadingKind::Gap1Stopped3,
    ReadingKind::Cents12,
    ReadingKind::From12ToSaddle,
];
/// What is read once.
const ONCE: [ReadingKind; 4] =
    [ReadingKind::Relief, ReadingKind::SaddleTreble, ReadingKind::SaddleBass, ReadingKind::FretHeight];
/// Repeats of one cell, at most.
const MOST_REPEATS: usize = 20;
/// How a cell says that its place cannot be measured; the reason follows.
pub(super) const NOT_MEASURABLE: &str = "not measurable:";

/// One row: a string and its cells.
pub(super) struct GridRow {
    pub(super) name: String,
    /// Of a short string: which frets are its own first and third; else "".
    pub(super) begins: String,
    pub(super) cells: Vec<Cell>,
}

/// One cell.
pub(super) struct Cell {
    pub(super) field: String,
    pub(super) label: String,
    pub(super) typed: String,
    pub(super) error: Option<String>,
    /// Saved by somebody else while this form was open.
    pub(super) theirs: Option<String>,
    /// What was typed, in both systems.
    pub(super) echo: String,
    /// As read last time, shown faintly.
    pub(super) last: String,
    /// A step done since made it stale, and it was not read again yet: struck through.
    pub(super) is_stale: bool,
    /// When what stands here was read, where it was carried over from an earlier set; else "".
    pub(super) carried: String,
    /// The house's target.
    pub(super) wanted: String,
    /// At the last visit.
    pub(super) earlier: String,
    /// The entry that stands here; "" for none.
    pub(super) key: String,
    /// It may lie below nothing: a keypad without a minus does not do.
    pub(super) is_signed: bool,
    /// Questioned outside of these: least, most, and what is usual, µm.
    pub(super) limits: String,
}

/// More characters do not fit into a cell in a size that can be read; the page's script counts the same.
const MOST_CHARACTERS: usize = 12;

impl Cell {
    /// How many characters it shows: it is written as large as they have room.
    pub(super) fn characters(&self) -> usize {
        self.typed.chars().count().min(MOST_CHARACTERS)
    }

    /// What has no room in one line; else "".
    pub(super) fn whole(&self) -> &str {
        let is_long = self.typed.chars().count() > MOST_CHARACTERS && reason_not_measurable(&self.typed).is_none();
        if is_long { &self.typed } else { "" }
    }
}

/// What the grid is drawn from.
pub(super) struct Look<'a> {
    pub(super) instrument: &'a InstrumentEntry,
    pub(super) form: &'a FormData,
    pub(super) last: Option<&'a ReadingSet>,
    /// Readings of the last visit.
    pub(super) earlier: Option<&'a [Reading]>,
    pub(super) targets: Option<Targets>,
    pub(super) draft: Option<&'a Draft>,
    /// The plan asks how far the saddle is from the 12th fret.
    pub(super) to_saddle: bool,
    /// What steps done since the last set made stale, as the plan names readings.
    pub(super) stale: &'a [String],
    /// What is carried over from an earlier set, and the moment it was read, in words.
    pub(super) carried: &'a [Reading],
    pub(super) read_at: &'a dyn Fn(Instant) -> String,
    pub(super) unit: LengthUnit,
}

/// The name of a cell's field.
pub(super) fn field(kind: ReadingKind, string: i64) -> String {
    format!("{}_{string}", kind.key())
}

/// The place a cell's field names, where there is one on this instrument.
pub(super) fn place_of(field: &str, instrument: &InstrumentEntry) -> Option<(ReadingKind, i64)> {
    let (kind, string) = field.rsplit_once('_')?;
    let (kind, string) = (kind.parse::<ReadingKind>().ok()?, string.parse::<i64>().ok()?);
    let strings = i64::try_from(instrument.strings.len()).ok()?;
    let known =
        if kind.is_per_string() { (1..=strings).contains(&string) } else { ONCE.contains(&kind) && string == 0 };
    known.then_some((kind, string))
}

/// Whether such a reading is usually taken of an instrument: only of what it has. Before a zero fret the nut only
/// guides, a loose bridge neither shows above anything nor has travel, and where a saddle stands matters most where it can be moved.
pub(super) fn is_usual(kind: ReadingKind, instrument: &InstrumentEntry) -> bool {
    let bridge = bridge_of(instrument);
    match kind {
        ReadingKind::Height1 | ReadingKind::Gap1Stopped3 => instrument.nut != Some(Nut::ZeroFret),
        ReadingKind::SaddleTreble | ReadingKind::SaddleBass => {
            bridge.is_none_or(|kind| kind != BridgeKind::LooseBridge)
        }
        ReadingKind::From12ToSaddle => bridge.is_some_and(|kind| kind != BridgeKind::FixedSaddle),
        _ => true,
    }
}

/// What stands above a column: the place, and how.
pub(super) fn heading(kind: ReadingKind) -> (&'static str, &'static str) {
    match kind {
        ReadingKind::Height12 => ("12th fret", ""),
        ReadingKind::Height1 => ("1st fret", "open"),
        ReadingKind::Gap1Stopped3 => ("over 1st", "stopped at 3rd"),
        ReadingKind::Cents12 => ("12th fret", "cents"),
        ReadingKind::From12ToSaddle => ("to saddle", "from 12th"),
        once => (once.spoken(), ""),
    }
}

/// The columns of a paper: what is usually read of the instrument, and what was.
pub(super) fn columns(instrument: &InstrumentEntry, set: Option<&ReadingSet>) -> Vec<ReadingKind> {
    let was_read = |kind: ReadingKind| set.is_some_and(|set| set.readings.iter().any(|reading| reading.kind == kind));
    PER_STRING.into_iter().filter(|kind| is_usual(*kind, instrument) || was_read(*kind)).collect()
}

impl Look<'_> {
    /// The rows of the grid, and the cells read once.
    pub(super) fn drawn(&self) -> (Vec<GridRow>, Vec<Cell>) {
        (self.rows(), self.once())
    }

    /// What is read string by string, in the order of travel.
    pub(super) fn columns(&self) -> Vec<ReadingKind> {
        PER_STRING.into_iter().filter(|kind| self.is_asked(*kind)).collect()
    }

    /// What is usual, what the plan asks for, and what somebody typed all the same.
    fn is_asked(&self, kind: ReadingKind) -> bool {
        let is_wanted = kind == ReadingKind::From12ToSaddle && self.to_saddle;
        let is_typed =
            |(of, string): &(ReadingKind, i64)| *of == kind && !self.form.value(&field(*of, *string)).is_empty();
        is_usual(kind, self.instrument) || is_wanted || places(self.instrument).iter().any(is_typed)
    }

    /// A short string is read over its own frets: what lies before it begins is asked of nobody.
    fn begins(&self, number: i64) -> String {
        let string = usize::try_from(number - 1).ok().and_then(|place| self.instrument.strings.get(place));
        let start = string.and_then(|string| string.starts_at_fret);
        start.map_or_else(String::new, |start| {
            format!("begins at {start}: its 1st is fret {}, its 3rd fret {}", start + 1, start + 3)
        })
    }

    fn rows(&self) -> Vec<GridRow> {
        let columns = self.columns();
        (1_i64..)
            .zip(string_names(self.instrument))
            .map(|(number, name)| GridRow {
                cells: columns.iter().map(|kind| self.cell(*kind, number, &name)).collect(),
                begins: self.begins(number),
                name,
            })
            .collect()
    }

    fn once(&self) -> Vec<Cell> {
        ONCE.iter().filter(|kind| self.is_asked(**kind)).map(|kind| self.cell(*kind, 0, "")).collect()
    }

    fn cell(&self, kind: ReadingKind, string: i64, name: &str) -> Cell {
        let field = field(kind, string);
        let typed = self.form.value(&field).to_owned();
        let entry = self.draft.and_then(|draft| draft.cells.get(&field));
        let carried = carried_at(self.carried, kind, string)
            .filter(|_| entry.is_none() && typed == carried_text(self.carried, kind, string));
        let short =
            |readings: &[Reading]| mean(readings, kind, string).map_or_else(String::new, |mean| self.short(kind, mean));
        Cell {
            label: label(kind, name, self.instrument),
            is_signed: is_signed(kind),
            error: self.form.error(&field).map(str::to_owned),
            theirs: self.form.theirs(&field).map(str::to_owned),
            echo: echo(&typed, kind, self.unit),
            last: self.last.map_or_else(String::new, |last| short(&last.readings)),
            is_stale: typed.is_empty() && kind.is_among(self.stale),
            carried: carried.map_or_else(String::new, self.read_at),
            wanted: self.wanted(kind, string),
            earlier: self.earlier.map_or_else(String::new, short),
            key: entry.map_or_else(String::new, |entry| entry.key.clone()),
            limits: place(kind, self.instrument).map_or_else(String::new, |place| {
                let ((least, most), (usual_least, usual_most)) = (place.range(), place.usual());
                format!("{least} {most} {usual_least} {usual_most}")
            }),
            typed,
            field,
        }
    }

    /// A number without its unit: the page says it once.
    fn short(&self, kind: ReadingKind, value: f64) -> String {
        if kind == ReadingKind::Cents12 {
            return format!("{value:+.1}");
        }
        let words = Micrometres::from_mm(value).map_or_else(String::new, |length| match self.unit {
            LengthUnit::Millimetre => length.in_mm(),
            LengthUnit::Inch => length.in_inches(),
        });
        words.trim_end_matches(" mm").trim_end_matches(" in").to_owned()
    }

    fn wanted(&self, kind: ReadingKind, string: i64) -> String {
        let Some(targets) = self.targets else {
            return String::new();
        };
        // a target between two strings is no more exact than its ends
        let hundredth = |mm: f64| (mm * 100.0).round() / 100.0;
        let height = |of: fn(&WishedHeights) -> f64| {
            let all = wished_heights(&plan_instrument(self.instrument), &targets);
            let here = usize::try_from(string - 1).ok().and_then(|place| all.get(place).map(of));
            here.map_or_else(String::new, |mm| self.short(kind, hundredth(mm)))
        };
        let range = |least: f64, most: f64| format!("{}–{}", self.short(kind, least), self.short(kind, most));
        match kind {
            ReadingKind::Height12 => height(|wished| wished.action_12_mm),
            ReadingKind::Height1 => height(|wished| wished.first_fret_mm),
            ReadingKind::Gap1Stopped3 => range(targets.gap_least_mm, targets.gap_most_mm),
            ReadingKind::Relief => range(targets.relief_least_mm, targets.relief_most_mm),
            ReadingKind::Cents12 => "0".to_owned(),
            // screws may be turned down to their end
            ReadingKind::SaddleTreble | ReadingKind::SaddleBass if is_travel(kind, self.instrument) => String::new(),
            ReadingKind::SaddleTreble | ReadingKind::SaddleBass => {
                format!("over {}", self.short(kind, targets.least_showing_mm))
            }
            ReadingKind::SaddleSlot | ReadingKind::FretHeight | ReadingKind::From12ToSaddle => String::new(),
        }
    }
}

/// What a cell is called: "String 3 G3, height at the 12th fret".
pub(super) fn label(kind: ReadingKind, name: &str, instrument: &InstrumentEntry) -> String {
    let words = kind_words(kind, instrument);
    if name.is_empty() { capitalized(words) } else { format!("String {name}, {words}") }
}

fn capitalized(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What was typed, in both systems; of repeats their mean. Empty where it cannot be read.
pub(super) fn echo(typed: &str, kind: ReadingKind, unit: LengthUnit) -> String {
    if reason_not_measurable(typed).is_some() {
        return "not measurable".to_owned();
    }
    let parts = split_repeats(typed, kind, unit);
    let values: Option<Vec<i64>> = parts.iter().map(|part| parse(part, kind, unit).ok()).collect();
    let Some(values) = values.filter(|values| !values.is_empty()) else {
        return String::new();
    };
    let count = i64::try_from(values.len()).unwrap_or(1);
    let mean = Micrometres((2 * values.iter().sum::<i64>() + count).div_euclid(2 * count));
    let words = if kind == ReadingKind::Cents12 {
        format!("{:+.1} cents", mean.mm())
    } else {
        format!("{} · {}", mean.in_mm(), mean.in_inches())
    };
    if count > 1 { format!("mean of {count}: {words}") } else { words }
}

/// Puts the readings that are carried over into an empty form.
pub(super) fn carry(form: FormData, carried: &[Reading]) -> FormData {
    carried.iter().fold(form, |form, reading| {
        let (kind, string) = (reading.kind, reading.string_number);
        form.with(&field(kind, string), carried_text(carried, kind, string))
    })
}

/// The repeats of one place as its cell shows them; "" where nothing is carried over.
pub(super) fn carried_text(carried: &[Reading], kind: ReadingKind, string: i64) -> String {
    let typed: Vec<&str> = at(carried, kind, string).map(|reading| reading.typed.as_str()).collect();
    typed.join("; ")
}

/// When one place was read, where it is carried over.
fn carried_at(carried: &[Reading], kind: ReadingKind, string: i64) -> Option<Instant> {
    at(carried, kind, string).find_map(|reading| Some(reading.carried.as_ref()?.read_at))
}

fn at(readings: &[Reading], kind: ReadingKind, string: i64) -> impl Iterator<Item = &Reading> {
    readings.iter().filter(move |reading| reading.kind == kind && reading.string_number == string)
}

/// Reads the grid back. Empty cells were not read; problems are noted at their cells. What the draft was
/// told is meant is not questioned again, and what nobody touched is still the reading that was carried over.
pub(super) fn readings_from_form(
    form: &mut FormData,
    instrument: &InstrumentEntry,
    unit: LengthUnit,
    draft: Option<&Draft>,
    carried: &[Reading],
) -> Vec<Reading> {
    let all_sure = form.is("sure", "yes");
    let mut readings = Vec::new();
    for (kind, string) in places(instrument) {
        let name = field(kind, string);
        let typed = form.value(&name).trim().to_owned();
        let entry = draft.and_then(|draft| draft.cells.get(&name));
        if entry.is_none() && !typed.is_empty() && typed == carried_text(carried, kind, string) {
            readings.extend(at(carried, kind, string).cloned());
            continue;
        }
        let sure = all_sure || entry.is_some_and(|entry| entry.is_sure && entry.typed == typed);
        match read_cell(&typed, (kind, string), instrument, unit, sure) {
            Ok(found) => readings.extend(found),
            Err(refusal) => form.add_error(&name, refusal.words),
        }
    }
    readings
}

/// Every place of the grid, in the order of travel.
pub(super) fn places(instrument: &InstrumentEntry) -> Vec<(ReadingKind, i64)> {
    let per_string =
        (1_i64..).zip(&instrument.strings).flat_map(|(number, _)| PER_STRING.iter().map(move |kind| (*kind, number)));
    per_string.chain(ONCE.iter().map(|kind| (*kind, 0))).collect()
}

/// What cannot be measured, with the reasons, in words for the set's note.
pub(super) fn not_measurable(form: &FormData, instrument: &InstrumentEntry) -> Vec<String> {
    let names = string_names(instrument);
    let reasons = places(instrument).into_iter().filter_map(|(kind, string)| {
        let reason = reason_not_measurable(form.value(&field(kind, string)))?.to_owned();
        let name = usize::try_from(string - 1).ok().and_then(|place| names.get(place)).map_or("", String::as_str);
        Some(format!("{} not measurable: {reason}.", label(kind, name, instrument)))
    });
    reasons.collect()
}

fn reason_not_measurable(typed: &str) -> Option<&str> {
    let typed = typed.trim();
    let start = typed.get(..NOT_MEASURABLE.len())?;
    start.eq_ignore_ascii_case(NOT_MEASURABLE).then(|| typed.get(NOT_MEASURABLE.len()..).unwrap_or("").trim())
}

/// Why a cell cannot be taken as typed.
pub(super) struct Refusal {
    pub(super) words: String,
    /// It is only questioned: somebody who read it again may insist. The likely meaning, where there is one.
    pub(super) question: Option<Option<Micrometres>>,
}

/// Reads one cell.
pub(super) fn read_cell(
    typed: &str,
    (kind, string): (ReadingKind, i64),
    instrument: &InstrumentEntry,
    unit: LengthUnit,
    sure: bool,
) -> Result<Vec<Reading>, Refusal> {
    let plain = |words: String| Refusal { words, question: None };
    if typed.is_empty() {
        return Ok(Vec::new());
    }
    if let Some(reason) = reason_not_measurable(typed) {
        let is_given = !reason.is_empty();
        return if is_given { Ok(Vec::new()) } else { Err(plain("Say why it cannot be measured.".to_owned())) };
    }
    let parts = split_repeats(typed, kind, unit);
    if parts.len() > MOST_REPEATS {
        return Err(plain(format!("At most {MOST_REPEATS} repeats of one reading.")));
    }
    let mut readings = Vec::with_capacity(parts.len());
    for (repeat, part) in (1_i64..).zip(parts) {
        let value = parse(&part, kind, unit).map_err(plain)?;
        if kind == ReadingKind::From12ToSaddle {
            let (least, most) = half_scale_range(instrument);
            if !(least.0..=most.0).contains(&value) {
                return Err(plain(format!(
                    "{} is not near half of this scale: between {} and {} is. Read from the crown of the 12th to where \
                     the string leaves the saddle, or correct the scale on the instrument's page.",
                    Micrometres(value).in_both(unit),
                    least.in_mm(),
                    most.in_mm()
                )));
            }
        }
        let asked = place(kind, instrument).and_then(|place| question(Micrometres(value), place, unit));
        if let Some(asked) = asked.filter(|_| !sure) {
            return Err(Refusal { words: asked.words, question: Some(asked.likely) });
        }
        readings.push(Reading { kind, string_number: string, repeat, value, typed: part, carried: None });
    }
    Ok(readings)
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

/// Whether a reading may be less than nothing.
fn is_signed(kind: ReadingKind) -> bool {
    matches!(kind, ReadingKind::Cents12 | ReadingKind::Relief)
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
    let length = if is_signed(kind) { Micrometres::parse_signed(text, unit) } else { Micrometres::parse(text, unit) };
    length.map(|length| length.0)
}

/// What a length there can be meant as; screws may stand anywhere in their travel.
fn place(kind: ReadingKind, instrument: &InstrumentEntry) -> Option<Place> {
    if is_travel(kind, instrument) {
        return None;
    }
    Some(match kind {
        ReadingKind::Height12 => Place::HeightAt12th,
        ReadingKind::Height1 => Place::HeightAt1st,
        ReadingKind::Gap1Stopped3 => Place::GapAt1StoppedAt3,
        ReadingKind::Relief => Place::Relief,
        ReadingKind::SaddleTreble | ReadingKind::SaddleBass => Place::SaddleShowing,
        ReadingKind::SaddleSlot => Place::SaddleSlotDepth,
        ReadingKind::FretHeight => Place::FretHeight,
        ReadingKind::Cents12 | ReadingKind::From12ToSaddle => return None,
    })
}
