//! Lengths: integer micrometres, typed as the person measures.
//!
//! The inch is exactly 25.4 mm (international yard and pound agreement of 1959).

use serde::{Deserialize, Serialize};

/// Micrometres in an inch, exactly.
const MICROMETRES_PER_INCH: i128 = 25_400;
/// Nothing on an instrument is ten metres long.
const LONGEST: i128 = 10_000_000;

/// The unit that a bare number means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetres.
    Millimetre,
    /// Inches.
    Inch,
}

/// A length in micrometres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Micrometres(pub i64);

impl Micrometres {
    /// From millimetres, to the nearest micrometre; `None` when not finite or longer than ten metres.
    pub fn from_mm(mm: f64) -> Option<Self> {
        let micrometres = (mm * 1000.0).round();
        if !micrometres.is_finite() || micrometres.abs() > 1e7 {
            return None;
        }
        // whole and within ten million: every such number is exact in both types
        #[expect(clippy::cast_possible_truncation, reason = "whole and below ten million")]
        Some(Self(micrometres as i64))
    }

    /// In millimetres.
    pub fn mm(self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "lengths stay far below 2^53 micrometres")]
        let micrometres = self.0 as f64;
        micrometres / 1000.0
    }

    /// Reads a length as typed: `1.75`, `1,75 mm`, `.070"`, `0.070 in`, `4.5/64`, `9/128"`. A bare
    /// number is in `unit`; a bare fraction is in inches, as on every ruler that has them.
    ///
    /// # Errors
    /// Words that say how to mend what was typed.
    pub fn parse(typed: &str, unit: LengthUnit) -> Result<Self, String> {
        let length = Self::parse_signed(typed, unit)?;
        if length.0 < 0 {
            return Err("A length has no minus here.".to_owned());
        }
        Ok(length)
    }

    /// The same, with a minus allowed (set-backs, back-bow).
    ///
    /// # Errors
    /// Words that say how to mend what was typed.
    pub fn parse_signed(typed: &str, unit: LengthUnit) -> Result<Self, String> {
        let text = tidy(typed)?;
        let (number, named) = split_unit(&text)?;
        let (negative, number) = match number.strip_prefix(['-', '−']) {
            Some(rest) => (true, rest.trim_start()),
            None => (false, number.strip_prefix('+').unwrap_or(number).trim_start()),
        };
        let is_fraction = number.contains('/');
        let unit = named.unwrap_or(if is_fraction { LengthUnit::Inch } else { unit });
        let (top, bottom) = if is_fraction { fraction(number)? } else { decimal(number)? };
        let per_unit = match unit {
            LengthUnit::Millimetre => 1000,
            LengthUnit::Inch => MICROMETRES_PER_INCH,
        };
        let micrometres = rounded(top * per_unit, bottom);
        if micrometres > LONGEST {
            return Err("That is longer than ten metres. Type the length in mm, or add in for inches.".to_owned());
        }
        let micrometres = i64::try_from(micrometres).unwrap_or(0);
        Ok(Self(if negative { -micrometres } else { micrometres }))
    }

    /// "1.75 mm": as many decimals as the length has, at least two below ten.
    pub fn in_mm(self) -> String {
        let sign = if self.0 < 0 { "−" } else { "" };
        let (whole, rest) = (self.0.unsigned_abs() / 1000, self.0.unsigned_abs() % 1000);
        let decimals = format!("{rest:03}");
        let kept = decimals.trim_end_matches('0');
        let least = if whole < 10 { 2 } else { 0 };
        let kept = if kept.len() < least { &decimals[..least] } else { kept };
        if kept.is_empty() { format!("{sign}{whole} mm") } else { format!("{sign}{whole}.{kept} mm") }
    }

    /// "0.069 in", to the thousandth.
    pub fn in_inches(self) -> String {
        let sign = if self.0 < 0 { "−" } else { "" };
        let thousandths = rounded(i128::from(self.0.unsigned_abs()) * 1000, MICROMETRES_PER_INCH);
        format!("{sign}{}.{:03} in", thousandths / 1000, thousandths % 1000)
    }

    /// Both systems, the shop's own first.
    pub fn in_both(self, first: LengthUnit) -> String {
        match first {
            LengthUnit::Millimetre => format!("{} ({})", self.in_mm(), self.in_inches()),
            LengthUnit::Inch => format!("{} ({})", self.in_inches(), self.in_mm()),
        }
    }
}

/// Half away from zero; both sides positive.
fn rounded(top: i128, bottom: i128) -> i128 {
    (top + bottom / 2) / bottom
}

fn tidy(typed: &str) -> Result<String, String> {
    let text: String = typed
        .chars()
        .filter(|c| !matches!(c, '\u{200b}'..='\u{200f}' | '\u{feff}' | '\u{2060}'))
        .map(|c| match c {
            '\u{a0}' | '\u{202f}' | '\u{2009}' => ' ',
            '″' | '”' | '“' => '"',
            '⁄' | '∕' => '/',
            other => other,
        })
        .collect();
    let text = text.trim().to_lowercase();
    if text.is_empty() {
        return Err("Type a length, such as 1.75 or .070\".".to_owned());
    }
    if text.chars().any(char::is_control) || text.len() > 40 {
        return Err("This is not a length. Type it as 1.75, 1.75 mm or .070\".".to_owned());
    }
    Ok(text)
}

fn split_unit(text: &str) -> Result<(&str, Option<LengthUnit>), String> {
    let end = text.find(|c: char| c.is_alphabetic() || c == '"' || c == '\'').unwrap_or(text.len());
    let (number, unit) = (text[..end].trim(), text[end..].trim().trim_end_matches('.'));
    let unit = match unit {
        "" => None,
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Some(LengthUnit::Millimetre),
        "\"" | "in" | "inch" | "inches" | "''" => Some(LengthUnit::Inch),
        "cm" => return Err("Type the length in mm: 1 cm is 10 mm.".to_owned()),
        other => {
            return Err(format!("“{other}” is not a unit here. Use mm, or in for inches."));
        }
    };
    Ok((number, unit))
}

/// A plain decimal as a fraction of integers, so that 1.75 is exactly 175/100.
fn decimal(number: &str) -> Result<(i128, i128), String> {
    let not_a_number = || format!("“{number}” is not a number. Type it as 1.75 or 9/128.");
    let separators = number.matches(['.', ',']).count();
    let (whole, rest) = match separators {
        0 => (number, ""),
        1 => number.split_once(['.', ',']).ok_or_else(not_a_number)?,
        _ => {
            return Err(format!("“{number}” has more than one decimal point. Type it as 1750 or 1.75."));
        }
    };
    // 1,750 can be one and three quarters or a thousand seven hundred and fifty
    if number.contains(',') && rest.len() == 3 && !whole.is_empty() && whole != "0" {
        return Err(format!("“{number}” can be read in two ways. Type {whole}.{rest} or {whole}{rest}."));
    }
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    if (whole.is_empty() && rest.is_empty()) || !digits(whole) || !digits(rest) || whole.len() > 9 || rest.len() > 9 {
        return Err(not_a_number());
    }
    let top: i128 = format!("{whole}{rest}").parse().map_err(|_| not_a_number())?;
    let places = u32::try_from(rest.len()).map_err(|_| not_a_number())?;
    Ok((top, 10_i128.pow(places)))
}

/// `9/128`, `4.5/64`, `1 1/4`.
fn fraction(number: &str) -> Result<(i128, i128), String> {
    let not_a_fraction = || format!("“{number}” is not a fraction. Type it as 9/128 or 4.5/64.");
    let (top, bottom) = number.split_once('/').ok_or_else(not_a_fraction)?;
    let (whole, top) = match top.trim().rsplit_once(' ') {
        Some((whole, top)) => (decimal(whole.trim())?, top),
        None => ((0, 1), top.trim()),
    };
    let (top, top_scale) = decimal(top)?;
    let bottom: i128 = bottom.trim().parse().map_err(|_| not_a_fraction())?;
    if !(1..=1024).contains(&bottom) {
        return Err("The lower part of a fraction is between 1 and 1024, as in 9/128.".to_owned());
    }
    let (whole_top, whole_bottom) = whole;
    Ok((whole_top * top_scale * bottom + top * whole_bottom, whole_bottom * top_scale * bottom))
}
