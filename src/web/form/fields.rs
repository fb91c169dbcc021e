//! One reader a kind of field: it answers the value, or `None` with an error at the field. An empty field is no error
//! but to the readers called `required_…`.

use std::ops::RangeInclusive;
use std::str::FromStr;

use time::Date;

use super::FormData;
use crate::quantity::{Currency, LengthUnit, Micrometres, Money, Thousandths, parse_day};
use crate::records::fold::canonical;

/// The largest amount of money taken, in minor units, as the books hold it.
const MOST_MONEY: Money = Money(100_000_000);

impl FormData {
    /// The value of a field that must not be empty; `message` says what to do, where nothing is wrong with it yet.
    pub fn require<T>(&mut self, name: &str, value: Option<T>, message: impl Into<String>) -> Option<T> {
        if value.is_none() && self.error(name).is_none() {
            self.add_error(name, message);
        }
        value
    }

    /// A single line that must not be empty. `what` finishes "Type …".
    pub fn required_line(&mut self, name: &str, what: &str, most: usize) -> String {
        let text = self.line(name, most);
        self.require(name, (!text.is_empty()).then_some(text), format!("Type {what}.")).unwrap_or_default()
    }

    /// Several lines that must not be empty. `what` finishes "Type …".
    pub fn required_area(&mut self, name: &str, what: &str, most: usize) -> String {
        let text = self.area(name, most);
        self.require(name, (!text.is_empty()).then_some(text), format!("Type {what}.")).unwrap_or_default()
    }

    /// A single line that may be empty.
    pub fn line(&mut self, name: &str, most: usize) -> String {
        self.text_of(name, most, false)
    }

    /// Several lines that may be empty.
    pub fn area(&mut self, name: &str, most: usize) -> String {
        self.text_of(name, most, true)
    }

    fn text_of(&mut self, name: &str, most: usize, lines: bool) -> String {
        // composed as it is kept: a text may grow by it
        let text = canonical(&self.value(name).replace("\r\n", "\n"));
        if !text.chars().any(is_visible) {
            return String::new();
        }
        let count = text.chars().count();
        if count > most {
            self.add_error(name, format!("This is {count} characters long; at most {most} fit. Shorten it."));
        }
        let is_unprintable = |c: char| c.is_control() && !(lines && (c == '\n' || c == '\t'));
        if text.chars().any(|c| is_unprintable(c) || turns_the_line(c)) {
            self.add_error(name, "This holds characters that cannot be printed. Type it by hand.");
        }
        text
    }

    /// One of a closed list. `what` finishes "Choose …".
    pub fn choice<T: FromStr>(&mut self, name: &str, what: &str) -> Option<T> {
        let chosen = self.value(name).parse().ok();
        if chosen.is_none() {
            self.add_error(name, format!("Choose {what}."));
        }
        chosen
    }

    /// A key from a hidden field or a choice; `None` where the field is empty.
    pub fn id<T: FromStr>(&mut self, name: &str) -> Option<T> {
        let typed = self.value(name);
        if typed.is_empty() {
            return None;
        }
        let id = typed.parse().ok();
        if id.is_none() {
            self.add_error(name, "Choose from the list again; this choice could not be read.");
        }
        id
    }

    /// The same where one must be chosen; `message` says what to do.
    pub fn required_id<T: FromStr>(&mut self, name: &str, message: &str) -> Option<T> {
        let id = self.id(name);
        self.require(name, id, message)
    }

    /// What a field holds, read by `parse`; `None` where it is empty or cannot be read.
    fn parsed<T, E: Into<String>>(&mut self, name: &str, parse: impl FnOnce(&str) -> Result<T, E>) -> Option<T> {
        let typed = self.value(name).trim();
        if typed.is_empty() {
            return None;
        }
        match parse(typed) {
            Ok(value) => Some(value),
            Err(words) => {
                self.add_error(name, words);
                None
            }
        }
    }

    /// A day; `None` where the field is empty.
    pub fn day(&mut self, name: &str) -> Option<Date> {
        self.parsed(name, parse_day)
    }

    /// A whole number within a range; `None` where the field is empty.
    pub fn number(&mut self, name: &str, range: RangeInclusive<i64>) -> Option<i64> {
        self.parsed(name, |typed| {
            let number = typed.parse::<i64>().ok().filter(|number| range.contains(number));
            number.ok_or_else(|| format!("Type a whole number from {} to {}.", range.start(), range.end()))
        })
    }

    /// The same of a field that must not be empty. `what` finishes "Type …".
    pub fn required_number(&mut self, name: &str, range: RangeInclusive<i64>, what: &str) -> Option<i64> {
        let number = self.number(name, range);
        self.require(name, number, format!("Type {what}."))
    }

    /// A length; `None` where the field is empty.
    pub fn length(&mut self, name: &str, unit: LengthUnit) -> Option<Micrometres> {
        self.parsed(name, |typed| Micrometres::parse(typed, unit))
    }

    /// A length that may have a minus; `None` where the field is empty.
    pub fn signed_length(&mut self, name: &str, unit: LengthUnit) -> Option<Micrometres> {
        self.parsed(name, |typed| Micrometres::parse_signed(typed, unit))
    }

    /// The same of a field that must not be empty. `what` finishes "Type …".
    pub fn required_length(&mut self, name: &str, unit: LengthUnit, what: &str) -> Option<Micrometres> {
        let length = self.length(name, unit);
        self.require(name, length, format!("Type {what}."))
    }

    /// An amount with at most three decimals; `None` where the field is empty.
    pub fn thousandths(&mut self, name: &str) -> Option<Thousandths> {
        self.parsed(name, Thousandths::parse)
    }

    /// The same of a field that must not be empty. `what` finishes "Type …".
    pub fn required_thousandths(&mut self, name: &str, what: &str) -> Option<Thousandths> {
        let amount = self.thousandths(name);
        self.require(name, amount, format!("Type {what}."))
    }

    /// An amount of money, not negative; `None` where the field is empty.
    pub fn money(&mut self, name: &str, currency: &Currency) -> Option<Money> {
        self.parsed(name, |typed| match Money::parse(typed, currency) {
            Ok(money) if (0..=MOST_MONEY.0).contains(&money.0) => Ok(money),
            Ok(money) if money.0 > 0 => {
                Err(format!("The most that fits here is {}.", MOST_MONEY.with_symbol(currency)))
            }
            Ok(_) => Err("Type the amount without a minus.".to_owned()),
            Err(words) => Err(words),
        })
    }

    /// The same of a field that must not be empty. `what` finishes "Type …".
    pub fn required_money(&mut self, name: &str, currency: &Currency, what: &str) -> Option<Money> {
        let money = self.money(name, currency);
        self.require(name, money, format!("Type {what}."))
    }
}

/// Whether a character leaves a mark on paper, or is refused by its own words. What Unicode lets a program pass over
/// (Default_Ignorable_Code_Point of UAX #44, and the blank Hangul letters among them) and blanks leave none.
fn is_visible(c: char) -> bool {
    let is_ignorable = matches!(
        c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200f}' | '\u{2060}'..='\u{2064}' | '\u{206a}'..='\u{206f}' | '\u{3164}'
            | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}' | '\u{e0000}'..='\u{e0fff}'
    );
    !is_ignorable && !c.is_whitespace()
}

/// Characters that turn the rest of a line around (UAX #9, explicit embeddings, overrides and isolates). Names written
/// from right to left need none: their letters say so.
fn turns_the_line(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}
