//! A spreadsheet as a spreadsheet program saves it: its first sheet with rows, as text.

use std::io::Cursor;

use calamine::{Data, Reader, open_workbook_auto_from_rs};
use time::{Date, Duration};

use super::table::{MOST_COLUMNS, MOST_ROWS, Row, Table, too_wide};

/// What such files begin with: a ZIP archive (APPNOTE 6.3, 4.3.7) or a compound file (MS-CFB 2.2).
const BEGINNINGS: [&[u8]; 2] = [b"PK\x03\x04", &[0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1]];

/// Whether a file is a spreadsheet, whatever it is called.
pub fn is_spreadsheet(bytes: &[u8]) -> bool {
    BEGINNINGS.iter().any(|beginning| bytes.starts_with(beginning))
}

/// Reads the first sheet that has rows.
///
/// # Errors
/// In words, when the file is no spreadsheet of ours to read.
pub fn sheet(bytes: &[u8]) -> Result<Table, String> {
    let unreadable = || {
        "This spreadsheet could not be read: it may be protected, or of another kind. Save it as CSV and bring that."
            .to_owned()
    };
    let mut book = open_workbook_auto_from_rs(Cursor::new(bytes)).map_err(|_| unreadable())?;
    for name in book.sheet_names() {
        let range = book.worksheet_range(&name).map_err(|_| unreadable())?;
        let first = range.start().map_or(0, |(row, _)| row);
        if range.width() > MOST_COLUMNS {
            return Err(too_wide(u64::from(first) + 1));
        }
        let mut rows = Vec::new();
        for (line, cells) in (u64::from(first) + 1..).zip(range.rows()) {
            let cells: Vec<String> = cells.iter().map(text).collect();
            if cells.iter().any(|cell| !cell.trim().is_empty()) {
                rows.push(Row { line, cells });
            }
            if rows.len() > MOST_ROWS + 1 {
                return Err(format!("The sheet has more than {MOST_ROWS} rows. Bring it in parts."));
            }
        }
        if rows.len() >= 2 {
            let headings = rows.remove(0).cells.iter().map(|heading| heading.trim().to_owned()).collect();
            return Ok(Table { encoding: format!("the sheet “{name}”"), headings, rows });
        }
    }
    Err("No sheet of this file has a heading line and a row below it.".to_owned())
}

/// A cell as somebody would type it.
fn text(cell: &Data) -> String {
    match cell {
        Data::Empty | Data::Error(_) => String::new(),
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => text.clone(),
        Data::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Data::Int(number) => number.to_string(),
        Data::Float(number) => number.to_string(),
        Data::DateTime(moment) => day(moment.as_f64()).unwrap_or_default(),
    }
}

/// A day as spreadsheets count them: from 30 December 1899 (ECMA-376, 18.17.4.1, for days since March 1900).
fn day(count: f64) -> Option<String> {
    let first = Date::from_calendar_date(1899, time::Month::December, 30).ok()?;
    let is_day = count.is_finite() && (61.0..3_000_000.0).contains(&count);
    #[expect(clippy::cast_possible_truncation, reason = "a day of this calendar, checked above")]
    let days = is_day.then_some(count.floor() as i64)?;
    first.checked_add(Duration::days(days)).map(|day| day.to_string())
}

#[cfg(test)]
mod tests {
    use super::day;

    // ECMA-376 (2016), part 1, 18.17.4.1: serial 43101 is 1 January 2018 (from memory)
    #[test]
    fn days_are_counted_as_spreadsheets_count_them() {
        assert_eq!(day(43_101.0).as_deref(), Some("2018-01-01"));
        assert_eq!(day(43_101.75).as_deref(), Some("2018-01-01"));
        assert_eq!(day(f64::NAN), None);
    }
}
