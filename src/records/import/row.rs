//! One row of a file, read as a customer and perhaps an instrument.

use time::Date;

use super::column::Column;
use super::meaning::{self, AGREED_TODAY, Meanings, meant};
use super::table::{Row, Table};
use crate::quantity::{LengthUnit, Micrometres, parse_day};
use crate::records::customer::{CustomerEntry, Telephone};
use crate::records::family::{BridgeKind, Family, NeckJoint, Nut};
use crate::records::fold::{canonical, folded};
use crate::records::instrument::{
    InstrumentEntry, LATEST_START, MOST_COURSES, SCALE_UM, SCREW_PITCH_UM, courses_count_up,
};

/// Characters a single line holds at most, as on the forms.
const LINE: usize = 200;
/// Characters a note holds at most.
const TEXT: usize = 4000;

/// A row as it goes in.
#[derive(Debug, Clone)]
pub(super) struct Read {
    pub(super) person: CustomerEntry,
    pub(super) instrument: Option<InstrumentEntry>,
    /// What of it does not go in, and why.
    pub(super) left_out: Vec<String>,
}

/// Everything that is wrong with a row, said at once.
#[derive(Default)]
struct Reasons(Vec<String>);

impl Reasons {
    /// The value, or its reason among the others.
    fn take<T>(&mut self, read: Result<T, String>) -> Option<T> {
        read.map_err(|why| self.0.push(why)).ok()
    }
}

/// Reads a row, or says why not: with all its reasons. What is wrong beside who they are and what they brought is left
/// out, and said.
pub(super) fn parse(
    table: &Table,
    row: &Row,
    columns: &[Column],
    meanings: &Meanings,
    today: Date,
) -> Result<Read, String> {
    let wanted = table.headings.len();
    if row.cells.len() != wanted {
        return Err(format!("This row has {} cells under {wanted} headings.", row.cells.len()));
    }
    let cell = |column: Column, most: usize| -> Result<String, String> {
        let place = columns.iter().position(|named| *named == column);
        let text = canonical(undefused(place.and_then(|place| row.cells.get(place)).map_or("", String::as_str).trim()));
        let lines = matches!(column, Column::Address | Column::Note | Column::InstrumentNote);
        if text.chars().count() > most {
            return Err(format!("{} is longer than {most} characters.", column.spoken()));
        }
        if text.chars().any(|c| c.is_control() && !(lines && matches!(c, '\n' | '\r' | '\t'))) {
            return Err(format!("{} holds characters that cannot be printed.", column.spoken()));
        }
        Ok(text.replace("\r\n", "\n"))
    };
    let mut wrong = Reasons::default();
    let mut left_out = Vec::new();
    let person = person(&cell, meanings, today, &mut wrong, &mut left_out);
    let instrument = instrument(&cell, meanings, &mut wrong);
    match (person, wrong.0.is_empty()) {
        (Some(person), true) => Ok(Read { person, instrument, left_out }),
        _ => Err(wrong.0.join(" ")),
    }
}

/// Who the row is about.
fn person(
    cell: &impl Fn(Column, usize) -> Result<String, String>,
    meanings: &Meanings,
    today: Date,
    wrong: &mut Reasons,
    left_out: &mut Vec<String>,
) -> Option<CustomerEntry> {
    let name = wrong.take(cell(Column::Name, LINE).and_then(|name| match name.is_empty() {
        true => Err("There is no customer's name.".to_owned()),
        false => Ok(name),
    }));
    let mut email = wrong.take(cell(Column::Email, 254)).unwrap_or_default();
    if !email.is_empty() && !is_email(&email) {
        left_out.push(format!("“{email}” is no e-mail address: the row goes in without it."));
        email = String::new();
    }
    let agreed = wrong.take(cell(Column::RemindersAgreedOn, LINE)).unwrap_or_default();
    let reminders_agreed_on = match (agreed.as_str(), parse_day(&agreed)) {
        ("", _) => None,
        (_, Ok(day)) if day > today => {
            wrong.0.push(format!("Reminders cannot have been agreed to on {agreed}: that day is still to come."));
            None
        }
        (_, Ok(day)) => Some(day),
        (word, Err(_)) => match meant(Column::RemindersAgreedOn, word, meanings).as_deref() {
            Some(AGREED_TODAY) => Some(today),
            Some(_) => {
                left_out.push(format!("“{word}” says no day: reminders are not agreed to. Ask again."));
                None
            }
            None => {
                wrong.0.push(format!(
                    "“{word}” is no day. Reminders need the day they were agreed to, such as 2026-11-26."
                ));
                None
            }
        },
    };
    let mut telephone = |column: Column| wrong.take(cell(column, 60)).unwrap_or_default();
    let numbers = [Column::Telephone, Column::Telephone2, Column::Telephone3].map(&mut telephone);
    let mut numbers = numbers.into_iter().filter(|number| !number.is_empty());
    let first = numbers.next().unwrap_or_default();
    let more_telephones = numbers.map(|number| Telephone { label: String::new(), number }).collect();
    let nickname = wrong.take(cell(Column::Nickname, LINE)).unwrap_or_default();
    let address = wrong.take(cell(Column::Address, 500)).unwrap_or_default();
    let note = wrong.take(cell(Column::Note, TEXT)).unwrap_or_default();
    Some(CustomerEntry {
        nickname,
        telephone: first,
        more_telephones,
        email,
        address,
        reminders_agreed_on,
        note,
        ..CustomerEntry::named(name?)
    })
}

/// What they brought, if the row says.
fn instrument(
    cell: &impl Fn(Column, usize) -> Result<String, String>,
    meanings: &Meanings,
    wrong: &mut Reasons,
) -> Option<InstrumentEntry> {
    let mut line = |column: Column| wrong.take(cell(column, LINE)).unwrap_or_default();
    let parts = [Column::Family, Column::Maker, Column::Model, Column::Serial, Column::Year, Column::Finish];
    let [kind, maker, model, serial, year, finish] = parts.map(&mut line);
    let note = wrong.take(cell(Column::InstrumentNote, TEXT)).unwrap_or_default();
    if [&kind, &maker, &model, &serial, &year, &finish].iter().all(|part| part.is_empty()) {
        if !note.is_empty() {
            wrong.0.push(
                "There is a note about an instrument, and nothing that says which: give its kind, maker, model or serial."
                    .to_owned(),
            );
        }
        return None;
    }
    let year = wrong.take(match year.as_str() {
        "" => Ok(None),
        year => {
            let read = year.parse::<i64>().ok().filter(|year| (1500..=2200).contains(year));
            read.map(Some).ok_or_else(|| format!("“{year}” is no year."))
        }
    });
    let family = wrong.take(family(&kind, meanings));
    let entry = InstrumentEntry { maker, model, serial, finish, note, year: year?, ..InstrumentEntry::usual(family?) };
    wrong.take(built(entry, |column| cell(column, LINE)))
}

/// Bridge, neck, nut and strings as a row says; what it leaves empty stays as usual.
fn built(entry: InstrumentEntry, cell: impl Fn(Column) -> Result<String, String>) -> Result<InstrumentEntry, String> {
    let posts = match (length(&cell, Column::PostTreble)?, length(&cell, Column::PostBass)?) {
        (Some(treble), Some(bass)) if treble < bass => Some((treble, bass)),
        (None, None) => None,
        _ => {
            return Err(
                "Both posts are needed, the treble post before the bass post, in mm across from string 1.".to_owned()
            );
        }
    };
    let begin = of_each_string(&entry, Column::StringsBegin, &cell(Column::StringsBegin)?)?;
    let courses = of_each_string(&entry, Column::Courses, &cell(Column::Courses)?)?;
    let mut strings = entry.strings.clone();
    if !begin.is_empty() {
        for (string, start) in strings.iter_mut().zip(begin) {
            string.starts_at_fret = (start > 0).then_some(start);
        }
    }
    if !courses.is_empty() {
        for (string, course) in strings.iter_mut().zip(courses) {
            string.course = Some(course);
        }
    }
    if !courses_count_up(&strings) {
        return Err("The courses count up from 1, such as 1 1 2 2 3 3.".to_owned());
    }
    Ok(InstrumentEntry {
        bridge_kind: word(&cell, Column::BridgeKind, BridgeKind::ALL, BridgeKind::key, BridgeKind::spoken)?,
        screw_pitch: within(length(&cell, Column::ScrewPitch)?, Column::ScrewPitch, SCREW_PITCH_UM)?,
        posts,
        neck_joint: word(&cell, Column::NeckJoint, NeckJoint::ALL, NeckJoint::key, NeckJoint::spoken)?,
        nut: word(&cell, Column::Nut, Nut::ALL, Nut::key, Nut::spoken)?,
        scale_bass: within(length(&cell, Column::ScaleBass)?, Column::ScaleBass, SCALE_UM)?,
        strings,
        ..entry
    })
}

fn length(cell: &impl Fn(Column) -> Result<String, String>, column: Column) -> Result<Option<Micrometres>, String> {
    let typed = cell(column)?;
    if typed.is_empty() {
        return Ok(None);
    }
    let length = Micrometres::parse_signed(&typed, LengthUnit::Millimetre);
    length.map(Some).map_err(|words| format!("{}: {words}", column.spoken()))
}

fn within(
    length: Option<Micrometres>,
    column: Column,
    (least, most): (i64, i64),
) -> Result<Option<Micrometres>, String> {
    if length.is_none_or(|length| (least..=most).contains(&length.0)) {
        return Ok(length);
    }
    let (least, most) = (Micrometres(least).in_mm(), Micrometres(most).in_mm());
    Err(format!("{} is between {least} and {most}.", column.spoken()))
}

/// A word of a closed list, as the books spell it or as the shop says it.
fn word<T: Copy>(
    cell: &impl Fn(Column) -> Result<String, String>,
    column: Column,
    all: &[T],
    key: fn(T) -> &'static str,
    spoken: fn(T) -> &'static str,
) -> Result<Option<T>, String> {
    let typed = cell(column)?;
    let meant = folded(&typed);
    if meant.is_empty() {
        return Ok(None);
    }
    let found = all.iter().copied().find(|word| meant == key(*word) || meant == folded(spoken(*word)));
    found.map(Some).ok_or_else(|| {
        let known: Vec<&str> = all.iter().map(|word| key(*word)).collect();
        format!("“{typed}” is none of: {}.", known.join(", "))
    })
}

/// One number for each string, such as `0 0 0 0 5`; none where the cell is empty.
fn of_each_string(entry: &InstrumentEntry, column: Column, typed: &str) -> Result<Vec<i64>, String> {
    let most = if column == Column::StringsBegin { LATEST_START } else { MOST_COURSES };
    let numbers: Option<Vec<i64>> = typed.split_whitespace().map(|number| number.parse().ok()).collect();
    let wanted = entry.strings.len();
    numbers
        .filter(|numbers| numbers.is_empty() || numbers.len() == wanted)
        .filter(|numbers| numbers.iter().all(|number| (0..=most).contains(number)))
        .ok_or_else(|| format!("{} takes one number from 0 to {most} for each of {wanted} strings.", column.spoken()))
}

fn family(typed: &str, meanings: &Meanings) -> Result<Family, String> {
    if typed.is_empty() {
        return Ok(Family::Other);
    }
    let said = meant(Column::Family, typed, meanings).and_then(|meant| meant.parse().ok());
    said.or_else(|| meaning::family(typed)).ok_or_else(|| {
        let known: Vec<&str> = Family::ALL.iter().map(|family| family.spoken()).collect();
        format!(
            "“{typed}” is no kind of instrument here. Say what it means above, or write one of: {}.",
            known.join(", ")
        )
    })
}

/// Our own lists carry an apostrophe before what a spreadsheet would take for a formula: it comes off again.
fn undefused(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.starts_with(crate::records::export::STARTS_A_FORMULA) => rest,
        _ => cell,
    }
}

fn is_email(text: &str) -> bool {
    let sides = text.split_once('@');
    sides.is_some_and(|(user, host)| !user.is_empty() && !host.is_empty() && !host.contains('@'))
        && !text.chars().any(char::is_whitespace)
}
