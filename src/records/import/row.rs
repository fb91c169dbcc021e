//! One row of a file, read as a customer and perhaps an instrument.

use time::Date;

use super::column::Column;
use super::table::{Row, Table};
use crate::quantity::{LengthUnit, Micrometres, parse_day};
use crate::records::customer::{CustomerEntry, ReachBy};
use crate::records::family::{BridgeKind, Family, NeckJoint, Nut};
use crate::records::fold::{canonical, folded};
use crate::records::instrument::{
    InstrumentEntry, LATEST_START, MOST_COURSES, SCALE_UM, SCREW_PITCH_UM, courses_count_up,
};

/// Characters a single line holds at most, as on the forms.
const LINE: usize = 200;
/// Characters a note holds at most.
const TEXT: usize = 4000;

/// Reads a row, or says why not.
pub(super) fn parse(
    table: &Table,
    row: &Row,
    columns: &[Column],
    today: Date,
) -> Result<(CustomerEntry, Option<InstrumentEntry>), String> {
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
    let name = cell(Column::Name, LINE)?;
    if name.is_empty() {
        return Err("There is no customer's name.".to_owned());
    }
    let email = cell(Column::Email, 254)?;
    if !email.is_empty() && !is_email(&email) {
        return Err(format!("“{email}” is no e-mail address."));
    }
    let agreed = cell(Column::RemindersAgreedOn, LINE)?;
    let reminders_agreed_on = match agreed.as_str() {
        "" => None,
        day => Some(parse_day(day).map_err(|_| {
            format!("“{day}” is no day. Reminders need the day they were agreed to, such as 2026-11-26.")
        })?),
    };
    if reminders_agreed_on.is_some_and(|day| day > today) {
        return Err(format!("Reminders cannot have been agreed to on {agreed}: that day is still to come."));
    }
    let person = CustomerEntry {
        name,
        telephone: cell(Column::Telephone, 60)?,
        reach_by: ReachBy::Telephone,
        email,
        address: cell(Column::Address, 500)?,
        reminders_agreed_on,
        note: cell(Column::Note, TEXT)?,
    };
    let parts = [Column::Family, Column::Maker, Column::Model, Column::Serial, Column::Year, Column::Finish];
    let mut is_there = false;
    for part in parts {
        is_there |= !cell(part, LINE)?.is_empty();
    }
    if !is_there {
        return match cell(Column::InstrumentNote, TEXT)?.is_empty() {
            true => Ok((person, None)),
            false => {
                Err("There is a note about an instrument, and nothing that says which: give its kind, maker, model \
                          or serial."
                    .to_owned())
            }
        };
    }
    let kind = cell(Column::Family, LINE)?;
    let year = cell(Column::Year, LINE)?;
    let entry = InstrumentEntry {
        maker: cell(Column::Maker, LINE)?,
        model: cell(Column::Model, LINE)?,
        serial: cell(Column::Serial, LINE)?,
        finish: cell(Column::Finish, LINE)?,
        note: cell(Column::InstrumentNote, TEXT)?,
        year: match year.as_str() {
            "" => None,
            year => Some(
                year.parse::<i64>()
                    .ok()
                    .filter(|year| (1500..=2200).contains(year))
                    .ok_or_else(|| format!("“{year}” is no year."))?,
            ),
        },
        ..InstrumentEntry::usual(family(&kind)?)
    };
    let entry = built(entry, |column| cell(column, LINE))?;
    Ok((person, Some(entry)))
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

fn family(typed: &str) -> Result<Family, String> {
    if typed.is_empty() {
        return Ok(Family::Other);
    }
    let typed_folded = folded(typed);
    let meant = Family::ALL.iter().find(|family| {
        typed_folded == family.key()
            || typed_folded == family.spoken()
            || family.spoken().strip_suffix(" guitar").is_some_and(|short| short == typed_folded)
    });
    meant.copied().ok_or_else(|| {
        let known: Vec<&str> = Family::ALL.iter().map(|family| family.spoken()).collect();
        format!("“{typed}” is no kind of instrument here. There are: {}.", known.join(", "))
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
