//! Whether two names are most likely one person's, as hands write them: swapped, shortened to initials, with a letter
//! wrong, without its apostrophe or its blank, spelled out where another keyboard has no such letter.
//!
//! Pure: what is compared comes from the books, and somebody decides afterwards. Families share names, so a likeness
//! is a question and never an answer.

use super::fold::folded;

/// Words before a name that are no part of it.
const SALUTATIONS: [&str; 9] = ["mr", "mrs", "ms", "miss", "dr", "herr", "frau", "hr", "fr"];
/// In a name shorter than this one letter more or less makes another name ("Bo Li", "Bo Lu").
const SHORTEST_WITH_A_SLIP: usize = 7;

/// The words of a name as they are compared: folded, without apostrophes, letters that one keyboard has and another
/// writes with two brought to one spelling (ü, ue; å, aa; ø, oe).
pub fn plain_words(name: &str) -> Vec<String> {
    let joined: String = folded(name).chars().filter(|c| !matches!(c, '\'' | '’' | '‘' | 'ʼ' | '`' | '´')).collect();
    let parted = joined.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    let words: Vec<String> = parted.map(one_spelling).collect();
    let without: Vec<String> = words.iter().filter(|word| !SALUTATIONS.contains(&word.as_str())).cloned().collect();
    if without.is_empty() { words } else { without }
}

fn one_spelling(word: &str) -> String {
    word.replace("ae", "a").replace("oe", "o").replace("ue", "u").replace("aa", "a")
}

/// Whether two names are most likely one person's.
pub fn is_alike(one: &str, other: &str) -> bool {
    let (one, other) = (plain_words(one), plain_words(other));
    if one.is_empty() || other.is_empty() {
        return false;
    }
    let written = other.concat();
    let spellings = rotations(&one);
    if spellings.contains(&written) {
        return true;
    }
    let is_long = |text: &str| text.chars().count() >= SHORTEST_WITH_A_SLIP;
    if is_long(&written) && spellings.iter().any(|spelling| is_long(spelling) && is_one_slip(spelling, &written)) {
        return true;
    }
    is_shortened(&one, &other)
}

/// A name from each of its words on: "Ruben Mc Allister" is also "Mc Allister Ruben".
fn rotations(words: &[String]) -> Vec<String> {
    (0..words.len()).map(|first| [&words[first..], &words[..first]].concat().concat()).collect()
}

/// Whether the shorter name is the longer one with initials or without a middle name: each of its words stands for
/// one of the other's, and the longest of them is written out alike.
fn is_shortened(one: &[String], other: &[String]) -> bool {
    let (short, long) = if one.len() <= other.len() { (one, other) } else { (other, one) };
    if short.len() < 2 {
        return false;
    }
    let mut left: Vec<&String> = long.iter().collect();
    let mut written_out = 0;
    // what is written out is matched first, so that an initial does not take its word away
    let mut in_order: Vec<&String> = short.iter().collect();
    in_order.sort_by_key(|word| std::cmp::Reverse(word.chars().count()));
    for word in in_order {
        let Some(place) = left
            .iter()
            .position(|known| *known == word)
            .or_else(|| left.iter().position(|known| is_initial(word, known) || is_initial(known, word)))
        else {
            return false;
        };
        let known = left.remove(place);
        if known == word && word.chars().count() >= 3 {
            written_out += 1;
        }
    }
    written_out >= 1
}

fn is_initial(letter: &str, word: &str) -> bool {
    letter.chars().count() == 1 && word.chars().count() > 1 && word.starts_with(letter)
}

/// Whether one text is the other with one letter wrong, missing, too many, or two neighbours swapped.
fn is_one_slip(one: &str, other: &str) -> bool {
    let (one, other): (Vec<char>, Vec<char>) = (one.chars().collect(), other.chars().collect());
    let same_front = one.iter().zip(&other).take_while(|(a, b)| a == b).count();
    let (one, other) = (&one[same_front..], &other[same_front..]);
    match (one, other) {
        ([], []) => true,
        ([_, rest @ ..], whole) if rest == whole => true,
        (whole, [_, rest @ ..]) if rest == whole => true,
        ([_, rest @ ..], [_, others @ ..]) if rest == others => true,
        ([a, b, rest @ ..], [c, d, others @ ..]) => a == d && b == c && rest == others,
        _ => false,
    }
}

/// Whether a word that was typed is the beginning of a known one, or one slip away from it.
pub fn is_begun_or_one_slip(typed: &str, known: &str) -> bool {
    known.starts_with(typed) || (typed.chars().count() >= 5 && is_one_slip(typed, known))
}

/// Words under which a name stands in the index beside its own: in one spelling, and where a short word stands before
/// a long one ("Mc Allister", "O Brien") as one.
pub fn also_found_as(name: &str) -> String {
    let words = plain_words(name);
    let mut also = words.clone();
    for (word, next) in words.iter().zip(words.iter().skip(1)) {
        if word.chars().count() <= 3 {
            also.push(format!("{word}{next}"));
        }
    }
    also.sort();
    also.dedup();
    also.join(" ")
}

#[cfg(test)]
mod tests {
    use super::{also_found_as, is_alike};

    #[test]
    fn a_person_is_known_however_the_name_is_written() {
        for (one, other) in [
            ("Ruben Corvane", "Corvane Ruben"),
            ("Corvane, Ruben", "Ruben Corvane"),
            ("R. Corvane", "Ruben Corvane"),
            ("Ruben Elias Corvane", "Ruben Corvane"),
            ("R. E. Corvane", "Ruben Elias Corvane"),
            ("Ruben Corvan", "Ruben Corvane"),
            ("Rubne Corvane", "Ruben Corvane"),
            ("Siobhan obrien", "Siobhán O'Brien"),
            ("Siobhan O Brien", "Siobhán O’Brien"),
            ("Isla mc allister", "Isla McAllister"),
            ("Juergen Mueller", "Jürgen Müller"),
            ("Jurgen Muller", "Jürgen Müller"),
            ("Aagaard, Soeren", "Søren Ågård"),
            ("Frau Anna Weissenbach", "Anna Weißenbach"),
            ("Chidi Okoro Lund", "Chidi Okoro-Lund"),
        ] {
            assert!(is_alike(one, other) && is_alike(other, one), "{one} / {other}");
        }
    }

    #[test]
    fn a_family_is_not_one_person() {
        for (one, other) in [
            ("Ruben Corvane", "Mila Corvane"),
            ("Ruben Corvane", "Ruben Weir"),
            ("Corvane", "Ruben Corvane"),
            ("R. Corvane", "R. Weir"),
            ("Bo Li", "Bo Lu"),
            ("", "Ruben"),
            ("李小龙", "李大龙"),
        ] {
            assert!(!is_alike(one, other), "{one} / {other}");
        }
    }

    #[test]
    fn what_a_name_is_also_found_as() {
        assert_eq!(also_found_as("Isla Mc Allister"), "allister isla mc mcallister");
        assert_eq!(also_found_as("Jürgen Müller"), "jurgen muller");
        assert_eq!(also_found_as("Sean O'Brien"), "obrien sean");
    }
}
