//! Text as it is compared: canonical on save, case- and accent-folded for search.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// NFC, trimmed: how names and notes are saved.
pub fn canonical(text: &str) -> String {
    text.trim().nfc().collect()
}

/// Lower case without accents: how names are compared ("Żak" finds "zak").
pub fn folded(text: &str) -> String {
    text.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase).collect::<String>().trim().to_owned()
}

/// A `LIKE` pattern that finds `text` anywhere, its own wildcards taken literally (escape `\`).
pub(super) fn anywhere(text: &str) -> String {
    let mut pattern = String::from("%");
    for c in text.chars() {
        if matches!(c, '%' | '_' | '\\') {
            pattern.push('\\');
        }
        pattern.push(c);
    }
    pattern.push('%');
    pattern
}

#[cfg(test)]
mod tests {
    use super::{anywhere, folded};

    #[test]
    fn a_name_is_found_however_it_is_typed() {
        assert_eq!(folded(" Żak Ångström "), "zak angstrom");
        assert_eq!(folded("O'Neil"), "o'neil");
    }

    #[test]
    fn a_percent_sign_in_a_search_is_only_a_percent_sign() {
        assert_eq!(anywhere("50%_x"), "%50\\%\\_x%");
    }
}
