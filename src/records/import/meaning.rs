//! What the words of a file mean here: guessed where the trade's usual words stand, and the owner's to mend.

use std::collections::BTreeMap;

use super::super::family::Family;
use super::super::fold::folded;
use super::column::Column;
use super::table::Table;

/// What the words of each column mean: the column's key, the folded word, and what it stands for.
pub type Meanings = BTreeMap<String, BTreeMap<String, String>>;

/// A yes to reminders without its day counts as none: it must be asked for again.
pub const NOT_AGREED: &str = "not-agreed";
/// The owner says that it counts from the day on which the file is brought in.
pub const AGREED_TODAY: &str = "agreed-today";

/// A word of the file that is none of ours.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// The column it stands in.
    pub column: Column,
    /// As it was first written.
    pub word: String,
    /// Rows it stands in.
    pub rows: usize,
    /// What it stands for; empty where nobody said, and no row with it can be read.
    pub meant: String,
}

/// The words that need a meaning, in the order in which they come.
pub fn words_of(table: &Table, columns: &[Column], said: &Meanings) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    for (place, column) in columns.iter().enumerate() {
        if !matches!(column, Column::Family | Column::RemindersAgreedOn) {
            continue;
        }
        for cell in table.rows.iter().filter_map(|row| row.cells.get(place)) {
            let cell = cell.trim();
            if cell.is_empty() || is_ours(*column, cell) {
                continue;
            }
            let known = words.iter_mut().find(|word| word.column == *column && folded(&word.word) == folded(cell));
            if let Some(known) = known {
                known.rows += 1;
            } else if words.len() < MOST_WORDS {
                words.push(Word {
                    column: *column,
                    word: cell.to_owned(),
                    rows: 1,
                    meant: meant(*column, cell, said).unwrap_or_default(),
                });
            }
        }
    }
    words
}

/// Words shown to be given a meaning, at most: a column with more is most likely named wrongly.
const MOST_WORDS: usize = 60;

/// Whether a word is one that the books know without being told.
fn is_ours(column: Column, word: &str) -> bool {
    match column {
        Column::Family => family(word).is_some(),
        _ => crate::quantity::parse_day(word).is_ok(),
    }
}

/// A kind of instrument as the books or the shop's pages say it.
pub(super) fn family(word: &str) -> Option<Family> {
    let word = folded(word);
    let is_meant = |family: &&Family| {
        let short = family.spoken().strip_suffix(" guitar");
        word == family.key() || word == family.spoken() || short.is_some_and(|short| short == word)
    };
    Family::ALL.iter().find(is_meant).copied()
}

/// What a word stands for: as it was said, else as the trade usually means it.
pub(super) fn meant(column: Column, word: &str, said: &Meanings) -> Option<String> {
    let word = folded(word);
    let chosen = said.get(column.key()).and_then(|words| words.get(&word)).cloned();
    chosen.or_else(|| guessed(column, &word).map(str::to_owned)).filter(|meant| !meant.is_empty())
}

/// The trade's usual words (common practice, no source).
fn guessed(column: Column, word: &str) -> Option<&'static str> {
    if column == Column::RemindersAgreedOn {
        let is_answer = ["y", "yes", "true", "1", "x", "ok", "n", "no", "false", "0", "-"].contains(&word);
        return is_answer.then_some(NOT_AGREED);
    }
    let family = match word {
        "acoustic" | "acoustic guitar" | "steel string" | "steel strings" | "western" | "folk" | "dreadnought"
        | "flat top" | "flattop" | "guitar" => Family::SteelString,
        "classic" | "nylon" | "nylon string" | "nylon strings" | "spanish" | "flamenco" | "concert guitar" => {
            Family::Classical
        }
        "e guitar" | "e-guitar" | "elec" | "electr" | "solid body" | "archtop" | "semi" | "semi acoustic" => {
            Family::Electric
        }
        "bass" | "e bass" | "e-bass" | "electric bass" | "acoustic bass" => Family::Bass,
        "uke" | "ukelele" | "ukes" => Family::Ukulele,
        "mando" | "mandoline" | "mandola" => Family::Mandolin,
        "tenor banjo" | "five string banjo" | "5 string banjo" | "bluegrass banjo" => Family::Banjo,
        "bouzouki" | "cittern" | "lute" | "oud" | "dulcimer" | "resonator" => Family::Other,
        _ => return None,
    };
    Some(family.key())
}

#[cfg(test)]
mod tests {
    use super::super::table::Table;
    use super::{Column, Meanings, meant, words_of};

    #[test]
    fn words_of_the_trade_are_guessed_and_what_was_said_counts_more() {
        let csv = "name,type,ok\nA,Acoustic,Y\nB,acoustic,2026-01-02\nC,Zither,\nD,classical guitar,\n";
        let table = Table::from_csv(csv.as_bytes()).unwrap_or_else(|why| panic!("{why}"));
        let columns = [Column::Name, Column::Family, Column::RemindersAgreedOn];
        let words = words_of(&table, &columns, &Meanings::new());
        let told: Vec<(&str, usize, &str)> =
            words.iter().map(|word| (word.word.as_str(), word.rows, word.meant.as_str())).collect();
        assert_eq!(told, [("Acoustic", 2, "steel-string"), ("Zither", 1, ""), ("Y", 1, "not-agreed")]);
        let mut said = Meanings::new();
        said.entry("family".to_owned()).or_default().insert("acoustic".to_owned(), "classical".to_owned());
        assert_eq!(meant(Column::Family, "ACOUSTIC", &said).as_deref(), Some("classical"));
    }
}
