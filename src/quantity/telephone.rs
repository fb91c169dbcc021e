//! Telephone numbers: kept as typed, with the E.164 form (ITU-T E.164) beside them where it can be read.

use phonenumber::{Mode, country};

/// Digits of an E.164 number, at most.
const MOST_DIGITS: usize = 15;
/// Spellings of a number agree in their last digits, as many as these at most.
pub const DIGITS_COMPARED: usize = 9;
/// Digits before an extension, at least.
const FEWEST_BEFORE_AN_EXTENSION: usize = 5;

/// A number in its international form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct E164 {
    /// "+442079460018".
    pub number: String,
    /// The extension, apart.
    pub extension: Option<String>,
}

/// Reads a number as typed in a country (ISO 3166 code). A number that no list calls valid is still
/// read when its form is right: never refuse a customer's number because of a list.
pub fn to_e164(typed: &str, country_code: &str) -> Option<E164> {
    let text = ascii_digits(typed);
    let country: Option<country::Id> = country_code.parse().ok();
    // a number dialled from abroad with 00 is one with a plus
    let text = match text.trim_start().strip_prefix("00") {
        Some(rest) if country != Some(country::US) && country != Some(country::CA) => {
            format!("+{rest}")
        }
        _ => text,
    };
    let parsed = phonenumber::parse(country, &text).ok()?;
    let number = parsed.format().mode(Mode::E164).to_string();
    let number: String = number.chars().take_while(|c| *c == '+' || c.is_ascii_digit()).collect();
    let digits = number.len().saturating_sub(1);
    if !(8..=MOST_DIGITS).contains(&digits) {
        return None;
    }
    let is_local_only = phonenumber::is_viable(&text) && !parsed.is_valid() && national_is_short(&parsed);
    let extension = parsed.extension().map(std::string::ToString::to_string);
    (!is_local_only).then_some(E164 { number, extension })
}

/// Seven digits without an area code cannot be dialled from elsewhere.
fn national_is_short(parsed: &phonenumber::PhoneNumber) -> bool {
    parsed.national().value() < 100_000_000 && parsed.code().value() == 1
}

/// The digits alone, for search, without an extension: every spelling of a number ends in the same ones.
pub fn digits_for_search(typed: &str) -> String {
    ascii_digits(without_extension(typed)).chars().filter(char::is_ascii_digit).collect()
}

/// What was typed up to an extension: `01632 960101 ext. 12`, `…;ext=12`, `… x12`, `… #12`.
pub fn without_extension(typed: &str) -> &str {
    let begins = |place: &usize| {
        let (number, rest) = typed.split_at(*place);
        let rest = rest.to_lowercase();
        let rest = ["extension", "extn", "ext", "x", "#"].iter().find_map(|word| rest.strip_prefix(word));
        let digits = ascii_digits(number).chars().filter(char::is_ascii_digit).count();
        digits >= FEWEST_BEFORE_AN_EXTENSION && rest.is_some_and(|rest| !rest.contains(char::is_alphabetic))
    };
    typed
        .char_indices()
        .map(|(place, _)| place)
        .find(begins)
        .map_or(typed, |place| typed[..place].trim_end_matches([' ', ';', ',']))
}

/// Digits of every script as 0 to 9, no-break spaces as blanks.
fn ascii_digits(typed: &str) -> String {
    let plain = |c: char| match c {
        '٠'..='٩' => char::from_digit(u32::from(c) - u32::from('٠'), 10).unwrap_or(c),
        '۰'..='۹' => char::from_digit(u32::from(c) - u32::from('۰'), 10).unwrap_or(c),
        '０'..='９' => char::from_digit(u32::from(c) - u32::from('０'), 10).unwrap_or(c),
        '\u{a0}' | '\u{202f}' => ' ',
        other => other,
    };
    typed.trim().chars().map(plain).collect()
}
