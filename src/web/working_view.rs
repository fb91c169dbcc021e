//! How numbers came about, as pages show it: the formula, what was put in, and where it is from.

use crate::working::Working;

/// One working ready to be shown.
#[derive(Debug, Clone)]
pub(super) struct WorkingView {
    /// In words.
    pub(super) what: String,
    /// In symbols.
    pub(super) formula: String,
    /// Symbol, meaning, value with its unit.
    pub(super) with: Vec<(String, String, String)>,
    /// With its unit.
    pub(super) result: String,
    /// Where the formula is from.
    pub(super) source: String,
}

impl WorkingView {
    pub(super) fn of(working: &Working) -> Self {
        let with = working
            .with
            .iter()
            .map(|put| (put.symbol.clone(), put.meaning.clone(), with_unit(significant(put.value), &put.unit)));
        Self {
            what: working.what.clone(),
            formula: working.formula.clone(),
            with: with.collect(),
            result: with_unit(significant(working.result), &working.unit),
            source: working.source.clone(),
        }
    }
}

fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

/// A number with five significant digits, as a reader with a pocket calculator puts it in.
pub(super) fn significant(number: f64) -> String {
    const DIGITS: i32 = 5;
    if number == 0.0 || !number.is_finite() {
        return "0".to_owned();
    }
    let power = (1_i32..=15).find(|power| number.abs() < 10_f64.powi(*power)).unwrap_or(16);
    let below_one = (0_i32..=12).find(|zeros| number.abs() >= 10_f64.powi(-zeros - 1)).unwrap_or(12);
    let places = if number.abs() >= 1.0 { DIGITS - power } else { DIGITS + below_one };
    let places = usize::try_from(places).unwrap_or(0);
    let text = format!("{number:.places$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    text.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::significant;

    #[test]
    fn numbers_keep_five_digits_and_no_empty_ones() {
        for (number, said) in [
            (0.009_169_5, "0.0091695"),
            (104.588_23, "104.59"),
            (648.0, "648"),
            (-0.25, "−0.25"),
            (0.0, "0"),
            (1.0, "1"),
            (200_000.0, "200000"),
            (3.979_4e-5, "0.000039794"),
        ] {
            assert_eq!(significant(number), said);
        }
    }
}
