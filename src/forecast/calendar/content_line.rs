//! Content lines of a calendar file (RFC 5545, 3.1): unfolded octet by octet, then taken apart.
//!
//! Lines may end in a line feed alone, as many programs write them. A byte order mark in front is overlooked.

use super::faults::{LARGEST_FILE, Refused};

/// Octets of one line after unfolding, at most.
const LONGEST_LINE: usize = 32 * 1024;
/// Parameters of one line, at most.
const MOST_PARAMETERS: usize = 50;

/// One line: `NAME;PARAMETER=value:VALUE`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct ContentLine {
    /// Of its first octet in the file, from 1.
    pub(super) number: usize,
    /// In capitals.
    pub(super) name: String,
    /// Names in capitals, values without their quotes.
    pub(super) parameters: Vec<(String, String)>,
    /// As it stands, escapes and all.
    pub(super) value: String,
}

impl ContentLine {
    /// The value of a parameter, in capitals; "" where there is none.
    pub(super) fn parameter(&self, name: &str) -> String {
        let found = self.parameters.iter().find(|(parameter, _)| parameter == name);
        found.map(|(_, value)| value.to_ascii_uppercase()).unwrap_or_default()
    }

    /// The value as text (3.3.11): `\\`, `\;`, `\,` and `\n` are what they stand for, and a line break is a gap.
    pub(super) fn text(&self) -> String {
        let mut text = String::with_capacity(self.value.len());
        let mut letters = self.value.chars();
        while let Some(letter) = letters.next() {
            match letter {
                '\\' => match letters.next() {
                    Some('n' | 'N') => text.push(' '),
                    Some(escaped @ ('\\' | ';' | ',')) => text.push(escaped),
                    Some(other) => text.extend(['\\', other]),
                    None => text.push('\\'),
                },
                _ => text.push(letter),
            }
        }
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// All lines of a file, empty ones left out.
pub(super) fn lines(file: &[u8]) -> Result<Vec<ContentLine>, Refused> {
    if file.len() > LARGEST_FILE {
        return Err(Refused::TooLarge);
    }
    let file = file.strip_prefix(b"\xef\xbb\xbf").unwrap_or(file);
    let mut unfolded: Vec<(usize, Vec<u8>)> = Vec::new();
    for (line, number) in file.split(|octet| *octet == b'\n').zip(1..) {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        match (line, unfolded.last_mut()) {
            // folds may cut a letter in two: octets are put together before they are read as letters
            ([b' ' | b'\t', rest @ ..], Some((begun, whole))) => {
                whole.extend_from_slice(rest);
                if whole.len() > LONGEST_LINE {
                    return Err(Refused::TooLongLine(*begun));
                }
            }
            ([], _) => {}
            _ if line.len() > LONGEST_LINE => return Err(Refused::TooLongLine(number)),
            _ => unfolded.push((number, line.to_vec())),
        }
    }
    unfolded.into_iter().map(|(number, line)| parsed(number, line)).collect()
}

fn parsed(number: usize, line: Vec<u8>) -> Result<ContentLine, Refused> {
    let line = String::from_utf8(line).map_err(|_| Refused::NotUtf8(number))?;
    if line.contains(|letter: char| letter.is_control() && letter != '\t') {
        return Err(Refused::ControlCharacter(number));
    }
    let no_line = || Refused::NoContentLine(number);
    let end = line.find([';', ':']).ok_or_else(no_line)?;
    let (name, mut rest) = line.split_at(end);
    let mut parameters = Vec::new();
    while let Some(parameter) = rest.strip_prefix(';') {
        let (name, value) = parameter.split_once('=').ok_or_else(no_line)?;
        let end = end_of_values(value).ok_or_else(no_line)?;
        let (value, after) = value.split_at(end);
        parameters.push((named(name).ok_or_else(no_line)?, value.replace('"', "")));
        if parameters.len() > MOST_PARAMETERS {
            return Err(no_line());
        }
        rest = after;
    }
    let value = rest.strip_prefix(':').ok_or_else(no_line)?.to_owned();
    Ok(ContentLine { number, name: named(name).ok_or_else(no_line)?, parameters, value })
}

/// Where the values of a parameter end: at a `;` or `:` that stands outside quotes.
fn end_of_values(text: &str) -> Option<usize> {
    let mut quoted = false;
    text.char_indices().find_map(|(place, letter)| {
        quoted ^= letter == '"';
        (!quoted && matches!(letter, ';' | ':')).then_some(place)
    })
}

/// A name in capitals, where it is one: letters, digits and hyphens.
fn named(name: &str) -> Option<String> {
    let is_name = !name.is_empty() && name.bytes().all(|octet| octet.is_ascii_alphanumeric() || octet == b'-');
    is_name.then(|| name.to_ascii_uppercase())
}
