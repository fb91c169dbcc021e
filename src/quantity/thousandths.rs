//! Counted or measured amounts with at most three decimals: pieces, metres of wire, turns of a rod.

use serde::{Deserialize, Serialize};

use super::length::{LengthUnit, Micrometres};

/// An amount in thousandths of its unit, which is said beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Thousandths(pub i64);

impl Thousandths {
    /// One whole.
    pub const ONE: Self = Self(1000);

    /// Reads an amount as typed, with a point or a comma: `2`, `0.25`, `-1,5`.
    ///
    /// # Errors
    /// Words that say how to mend what was typed.
    pub fn parse(typed: &str) -> Result<Self, String> {
        let text = typed.trim();
        let is_plain = text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | '−' | ' '));
        if text.is_empty() || !is_plain {
            return Err("Type a number, such as 2 or 0.25.".to_owned());
        }
        // thousandths of a unit are to the unit as micrometres are to the millimetre: one reading of decimals
        Micrometres::parse_signed(text, LengthUnit::Millimetre)
            .map(|found| Self(found.0))
            .map_err(|_| "Type a number below ten thousand, such as 2 or 0.25.".to_owned())
    }
}

impl std::fmt::Display for Thousandths {
    /// As short as it can be: "2", "0.25", "-1.5".
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, rest) = (self.0.unsigned_abs() / 1000, self.0.unsigned_abs() % 1000);
        if rest == 0 {
            return write!(f, "{sign}{whole}");
        }
        let decimals = format!("{rest:03}");
        write!(f, "{sign}{whole}.{}", decimals.trim_end_matches('0'))
    }
}

#[cfg(test)]
mod tests {
    use super::Thousandths;

    #[test]
    fn an_amount_is_read_with_point_or_comma_and_said_as_short_as_it_can_be() {
        for (typed, value, said) in
            [("2", 2000, "2"), ("0,25", 250, "0.25"), ("-1.5", -1500, "-1.5"), (" .3 ", 300, "0.3"), ("0", 0, "0")]
        {
            assert_eq!(Thousandths::parse(typed), Ok(Thousandths(value)), "{typed}");
            assert_eq!(Thousandths(value).to_string(), said);
        }
        for wrong in ["", "two", "1/4", "3 mm", "1.2.3", "-"] {
            assert!(Thousandths::parse(wrong).is_err(), "{wrong}");
        }
    }
}
