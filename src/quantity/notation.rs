//! How a country writes amounts: the sign before the decimals, and between groups of three digits.
//! Source: the number patterns of the Unicode Common Locale Data Repository, from memory; a space is a narrow one that
//! does not break (U+202F).

/// How amounts are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Notation {
    /// Before the decimals.
    pub decimal: char,
    /// Between groups of three digits.
    pub group: char,
}

/// A space that keeps its figures on one line.
const SPACE: char = '\u{202f}';

impl Notation {
    /// As in Britain.
    pub const BRITISH: Self = Self { decimal: '.', group: ',' };

    /// That of a country by its two letters; of one we know nothing of, as in Britain.
    pub fn of(country: &str) -> Self {
        let (decimal, group) = match country {
            "DE" | "ES" | "IT" | "NL" | "DK" | "BE" | "GR" | "PT" | "SI" | "HR" | "RO" | "TR" | "ID" | "BR" | "AR"
            | "IS" | "RS" => (',', '.'),
            "FR" | "SE" | "NO" | "FI" | "PL" | "CZ" | "SK" | "HU" | "BG" | "UA" | "EE" | "LV" | "LT" | "LU" | "AT" => {
                (',', SPACE)
            }
            "CH" | "LI" => ('.', '’'),
            _ => return Self::BRITISH,
        };
        Self { decimal, group }
    }

    /// Whole digits in groups of three.
    pub fn grouped(self, whole: u64) -> String {
        let digits = whole.to_string();
        let mut text = String::new();
        for (place, digit) in digits.chars().enumerate() {
            if place > 0 && (digits.len() - place).is_multiple_of(3) {
                text.push(self.group);
            }
            text.push(digit);
        }
        text
    }
}
