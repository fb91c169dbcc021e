//! A file as rows under headings, whatever it came as.

use serde::{Deserialize, Serialize};

use super::encoding;

/// Rows one file may have.
pub const MOST_ROWS: usize = 20_000;
/// Columns one file may have: each is shown with what it may mean.
pub(super) const MOST_COLUMNS: usize = 200;
/// Characters one cell may have: a quotation mark that is never closed swallows the rest of a file.
const LONGEST_CELL: usize = 10_000;

/// Rows under headings.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Table {
    /// The encoding it was read in.
    #[serde(default)]
    pub encoding: String,
    /// The heading of each column.
    pub headings: Vec<String>,
    /// The rows below.
    pub rows: Vec<Row>,
}

/// One row, with the line of the file it began on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// From 1.
    pub line: u64,
    /// One text a column; a row may have too many or too few.
    pub cells: Vec<String>,
}

impl Table {
    /// Reads CSV (RFC 4180) with commas, semicolons or tabs, by what the heading line holds most of; UTF-8, UTF-16
    /// with its mark, or Windows-1252.
    ///
    /// # Errors
    /// In words that name the line, when the file is no CSV of ours to read.
    pub fn from_csv(bytes: &[u8]) -> Result<Self, String> {
        let (text, encoding) = encoding::text(bytes)?;
        let text = text.as_str();
        if let Some(place) = text.find('\0') {
            return Err(format!("Line {} holds a zero character: this is no text file.", line_of(text, place)));
        }
        let delimiter = delimiter(text);
        check_quotes(text, delimiter)?;
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(u8::try_from(delimiter).unwrap_or(b','))
            .from_reader(text.as_bytes());
        let mut rows = Vec::new();
        let mut lines = Lines { text: text.as_bytes(), reached: 0, line: 1 };
        for record in reader.records() {
            let record = record.map_err(|_| "The file could not be read as CSV.".to_owned())?;
            let line = lines.at(record.position().map_or(0, csv::Position::byte));
            if record.len() > MOST_COLUMNS {
                return Err(too_wide(line));
            }
            let cells: Vec<String> = record.iter().map(str::to_owned).collect();
            if cells.iter().any(|cell| cell.chars().count() > LONGEST_CELL) {
                return Err(format!(
                    "A cell that begins on line {line} is longer than {LONGEST_CELL} characters: a quotation mark may not be closed."
                ));
            }
            // a line of nothing but delimiters is a blank line of a spreadsheet
            if cells.iter().any(|cell| !cell.trim().is_empty()) {
                rows.push(Row { line, cells });
            }
            if rows.len() > MOST_ROWS + 1 {
                return Err(format!("The file has more than {MOST_ROWS} rows. Bring it in parts."));
            }
        }
        if rows.len() < 2 {
            return Err("The file needs a heading line and at least one row below it.".to_owned());
        }
        let headings = rows.remove(0).cells.iter().map(|heading| heading.trim().to_owned()).collect();
        Ok(Self { encoding: encoding.to_owned(), headings, rows })
    }

    /// The same headings with only some of the rows.
    pub fn only(&self, places: impl Iterator<Item = usize>) -> Self {
        let rows = places.filter_map(|place| self.rows.get(place).cloned()).collect();
        Self { encoding: self.encoding.clone(), headings: self.headings.clone(), rows }
    }
}

/// A row with more columns than anybody's list has.
pub(super) fn too_wide(line: u64) -> String {
    format!(
        "Line {line} has more than {MOST_COLUMNS} columns: the file may be separated by something else than it seems."
    )
}

fn line_of(text: &str, place: usize) -> usize {
    text.bytes().take(place).filter(|byte| *byte == b'\n').count() + 1
}

/// The lines of a text, counted as a reader goes through it. The CSV reader's own count falls one behind
/// where lines end in CR LF, and behind blank lines.
struct Lines<'a> {
    text: &'a [u8],
    reached: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line on which the record that the reader found from `byte` on begins. Bytes are asked in order.
    fn at(&mut self, byte: u64) -> u64 {
        let start = usize::try_from(byte).unwrap_or(usize::MAX);
        while let Some(found) = self.text.get(self.reached) {
            if self.reached >= start && !matches!(*found, b'\r' | b'\n') {
                break;
            }
            self.line += u64::from(*found == b'\n');
            self.reached += 1;
        }
        self.line
    }
}

fn delimiter(text: &str) -> char {
    let heading = text.lines().next().unwrap_or("");
    let count = |found: &char| heading.matches(*found).count();
    // of equals the last wins: nobody puts a tab into a heading
    [',', ';', '\t'].into_iter().filter(|found| count(found) > 0).max_by_key(count).unwrap_or(',')
}

/// Where the reader would quietly put up with quotation marks in odd places, we say so: `"a"b` means damage.
fn check_quotes(text: &str, delimiter: char) -> Result<(), String> {
    let mut line = 1_usize;
    let mut opened_on = 0_usize;
    let (mut inside, mut at_start) = (false, true);
    let mut left = text.chars().peekable();
    while let Some(c) = left.next() {
        if c == '\n' {
            line += 1;
        }
        match c {
            '"' if inside && left.peek() == Some(&'"') => {
                left.next();
            }
            '"' if inside => {
                inside = false;
                if left.peek().is_some_and(|next| !matches!(*next, '\n' | '\r') && *next != delimiter) {
                    return Err(format!("On line {line} something stands after a closing quotation mark."));
                }
            }
            '"' if at_start => {
                inside = true;
                opened_on = line;
            }
            _ => {}
        }
        at_start = !inside && (c == delimiter || c == '\n');
    }
    if inside {
        return Err(format!("The quotation mark opened on line {opened_on} is never closed."));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::Table;

    fn cells(text: &str) -> Vec<Vec<String>> {
        let table = Table::from_csv(format!("one,two\n{text}").as_bytes()).unwrap_or_else(|why| panic!("{why}"));
        table.rows.into_iter().map(|row| row.cells).collect()
    }

    // RFC 4180, section 2, rules 1 to 7
    #[test]
    fn csv_is_read_as_rfc_4180_has_it() {
        assert_eq!(cells("aaa,bbb\r\nzzz,yyy\r\n"), [["aaa", "bbb"], ["zzz", "yyy"]]);
        assert_eq!(cells("aaa,bbb\r\nzzz,yyy"), [["aaa", "bbb"], ["zzz", "yyy"]], "no break after the last line");
        assert_eq!(cells("\"aaa\",\"b \r\nbb\"\r\nzzz,yyy"), [["aaa", "b \r\nbb"], ["zzz", "yyy"]]);
        assert_eq!(cells("\"aaa\",\"b\"\"bb\""), [["aaa", "b\"bb"]]);
        assert_eq!(cells(" a , b "), [[" a ", " b "]], "spaces are part of a field");
    }

    // RFC 4180, section 2, rules 2, 5, 6 and 7; Python's csv in strict mode reads them so, too
    #[test]
    fn quoted_fields_hold_commas_quotation_marks_and_lines() {
        assert_eq!(cells("\"a,b\",\"say \"\"hi\"\"\""), [["a,b", "say \"hi\""]]);
        assert_eq!(cells("\"line1\nline2\",x"), [["line1\nline2", "x"]]);
        assert_eq!(cells("\"\",\"\"\"\"\na,b"), [["", "\""], ["a", "b"]]);
        assert_eq!(cells("a,b,c\nd"), [&["a", "b", "c"][..], &["d"]], "too many or too few are told row by row");
        // a semicolon is no comma where the heading has commas
        assert_eq!(cells("a;b,c"), [["a;b", "c"]]);
    }

    #[test]
    fn a_cell_or_a_file_beyond_measure_is_refused() {
        let long = format!("n,p\nx,{}", "y".repeat(10_001));
        assert!(Table::from_csv(long.as_bytes()).expect_err("refused").contains("longer than 10000"));
        let fits = format!("n,p\nx,{}", "y".repeat(10_000));
        assert!(Table::from_csv(fits.as_bytes()).is_ok());
        let many = format!("n,p\n{}", "x,y\n".repeat(super::MOST_ROWS + 1));
        assert!(Table::from_csv(many.as_bytes()).expect_err("refused").contains("more than 20000 rows"));
    }

    #[test]
    fn a_byte_order_mark_semicolons_and_tabs_are_taken() {
        let table = Table::from_csv("\u{feff}name;phone\na;b".as_bytes()).unwrap_or_else(|why| panic!("{why}"));
        assert_eq!(table.headings, ["name", "phone"]);
        let table = Table::from_csv(b"name\tphone, day\na\tb").unwrap_or_else(|why| panic!("{why}"));
        assert_eq!(table.headings, ["name", "phone, day"]);
    }

    // WHATWG Encoding Standard, index windows-1252: 0xFC is ü, 0x80 the euro sign; Unicode, 23.8: the marks
    #[test]
    fn what_older_spreadsheets_write_is_read_and_named() {
        let read = |bytes: &[u8]| {
            let table = Table::from_csv(bytes).unwrap_or_else(|why| panic!("{why}"));
            (table.rows[0].cells[0].clone(), table.encoding)
        };
        assert_eq!(read(b"name\nM\xfcller \x80"), ("Müller €".to_owned(), "windows-1252".to_owned()));
        assert_eq!(read("name\nMüller".as_bytes()), ("Müller".to_owned(), "UTF-8".to_owned()));
        let wide: Vec<u8> = "\u{feff}name\nMüller".encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(read(&wide), ("Müller".to_owned(), "UTF-16LE".to_owned()));
    }

    #[test]
    fn each_row_knows_its_line_whatever_ends_it() {
        for text in ["n,p\r\na,b\r\n\r\nc,d\r\n\"e\r\ne\",f\r\ng,h", "n,p\na,b\n\nc,d\n\"e\ne\",f\ng,h"] {
            let table = Table::from_csv(text.as_bytes()).unwrap_or_else(|why| panic!("{why}"));
            assert_eq!(table.rows.iter().map(|row| row.line).collect::<Vec<_>>(), [2, 4, 5, 7], "{text:?}");
        }
    }

    #[test]
    fn damage_is_refused_with_its_line() {
        let damaged: [(&[u8], &str); 5] = [
            (b"n,p\n\"a\"b,c", "line 2 something stands after"),
            (b"n,p\nx,y\n\"unterminated\nz,z", "line 3 is never closed"),
            (b"n,p\nx,\0", "Line 2 holds a zero"),
            (b"n,p\nM\xc3\xbcller,y\nM\xfcller,z", "Line 3 is not UTF-8"),
            (b"n,p\n", "at least one row"),
        ];
        for (text, words) in damaged {
            let why = Table::from_csv(text).expect_err("refused");
            assert!(why.contains(words), "{why}");
        }
    }
}
