//! Text as it is compared: canonical on save, case- and accent-folded for search.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// NFC, trimmed: how names and notes are saved.
pub fn canonical(text: &str) -> String {
    text.trim().nfc().collect()
}

/// Lower case without accents, one blank between words: how names are compared ("Żak" finds "zak").
pub fn folded(text: &str) -> String {
    let plain = text.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase);
    let mut folded = String::with_capacity(text.len());
    for c in plain {
        match c {
            // letters with a stroke are letters of their own to Unicode, and an l to whoever types
            'ł' => folded.push('l'),
            'ø' => folded.push('o'),
            'đ' | 'ð' => folded.push('d'),
            'ħ' => folded.push('h'),
            'ı' => folded.push('i'),
            'æ' => folded.push_str("ae"),
            'œ' => folded.push_str("oe"),
            'ß' => folded.push_str("ss"),
            'þ' => folded.push_str("th"),
            c => folded.push(c),
        }
    }
    folded.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::folded;

    #[test]
    fn a_name_is_found_however_it_is_typed() {
        assert_eq!(folded(" Żak  Ångström "), "zak angstrom");
        assert_eq!(folded("O'Neil"), "o'neil");
        assert_eq!(folded("Łukasz Sørensen Weiß"), "lukasz sorensen weiss");
    }
}
