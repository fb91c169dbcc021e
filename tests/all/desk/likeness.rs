//! One person once: how often a second record of somebody is noticed, and how often somebody else is taken for them.
#![expect(clippy::print_stdout, reason = "the figures are what the check is for")]

use thumbplane::records::likeness::is_alike;

// invented people with names that are common in several languages (common knowledge, no source)
const GIVEN: [&str; 40] = [
    "Maren",
    "Jory",
    "Żaneta",
    "Anders",
    "Søren",
    "Jürgen",
    "Philippa",
    "Ruben",
    "Chidi",
    "Isla",
    "Bettina",
    "Corin",
    "Dilys",
    "René",
    "Hedda",
    "Bram",
    "Kenji",
    "Lucia",
    "Ewart",
    "Agnes",
    "Silas",
    "Willa",
    "Tomasz",
    "Siobhán",
    "Aoife",
    "Mehmet",
    "Fatima",
    "Ingrid",
    "Lars",
    "Noémie",
    "Quentin",
    "Rosalind",
    "Stellan",
    "Thérèse",
    "Ulrike",
    "Viggo",
    "Wendeline",
    "Xavier",
    "Yusuf",
    "Zora",
];
const FAMILY: [&str; 50] = [
    "Oakhollow",
    "O'Brien",
    "McAllister",
    "Müller",
    "Ågård",
    "Wierzbówka",
    "della Corte",
    "Okoro-Lund",
    "Quistgaard",
    "Fairweather",
    "Mc Intyre",
    "Weißenbach",
    "Sørensen",
    "Pennock",
    "Sallow",
    "Tarn",
    "Mulberry",
    "Hask",
    "Ibbotsen",
    "Nakamori",
    "Brae",
    "Stent",
    "Vane",
    "Hatch",
    "Rookwood",
    "Petersham",
    "Duvalier",
    "Sprigg",
    "Yarrow",
    "Kestle",
    "Mossop",
    "Lindqvist",
    "Grönlund",
    "Håkansson",
    "Öztürk",
    "Brücker",
    "Schäfer",
    "Bjørnstad",
    "Kowalska",
    "Nowicki",
    "Fernández",
    "Castellanos",
    "Montague",
    "Thornbury",
    "Wexcombe",
    "Applegarth",
    "Blythewood",
    "Dunmallet",
    "Everholt",
    "Farrowgate",
];

/// A generator whose numbers are the same on every computer (Knuth's multiplier for 64 bits, from memory).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % end
    }
    fn one_of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[self.below(words.len())]
    }
}

fn with_one_slip(name: &str, numbers: &mut Numbers) -> String {
    let mut letters: Vec<char> = name.chars().collect();
    // nobody slips on a blank alone: a letter behind the first
    let place = loop {
        let place = 1 + numbers.below(letters.len() - 1);
        if letters[place].is_alphabetic() {
            break place;
        }
    };
    match numbers.below(4) {
        0 => letters[place] = "etaoinshrdlu".chars().nth(numbers.below(12)).unwrap(),
        1 => drop(letters.remove(place)),
        2 => letters.insert(place, letters[place]),
        _ if letters[place - 1].is_alphabetic() => letters.swap(place - 1, place),
        _ => letters[place] = 'x',
    }
    letters.into_iter().collect()
}

fn spelled_out(name: &str) -> String {
    let pairs =
        [("ü", "ue"), ("ö", "oe"), ("ä", "ae"), ("Ö", "Oe"), ("å", "aa"), ("Å", "Aa"), ("ø", "oe"), ("ß", "ss")];
    pairs.iter().fold(name.to_owned(), |name, (letter, two)| name.replace(letter, two))
}

/// The same person, as another hand writes them down.
fn another_hand(given: &str, family: &str, numbers: &mut Numbers) -> (&'static str, String) {
    let initial: String = given.chars().take(1).collect();
    match numbers.below(9) {
        0 => ("swapped", format!("{family} {given}")),
        1 => ("comma", format!("{family}, {given}")),
        2 => ("initial", format!("{initial}. {family}")),
        3 => ("initial behind", format!("{family} {initial}")),
        4 => ("capitals", format!("{given} {family}").to_uppercase()),
        5 => ("no apostrophe, no blank", format!("{given} {}", family.replace(['\'', ' ', '-'], ""))),
        6 => ("spelled out", spelled_out(&format!("{given} {family}"))),
        7 => ("middle name", format!("{given} {} {family}", numbers.one_of(&GIVEN))),
        _ => ("one slip", with_one_slip(&format!("{given} {family}"), numbers)),
    }
}

/// Somebody else, as near as a family or a town makes them.
fn somebody_else(given: &str, family: &str, numbers: &mut Numbers) -> String {
    let (mut other_given, mut other_family) = (given, family);
    let kind = numbers.below(3);
    while kind != 1 && other_given == given {
        other_given = numbers.one_of(&GIVEN);
    }
    while kind != 0 && other_family == family {
        other_family = numbers.one_of(&FAMILY);
    }
    format!("{other_given} {other_family}")
}

#[test]
fn of_two_thousand_pairs_few_are_missed_and_few_are_taken_for_each_other() {
    let mut numbers = Numbers(26_0417);
    let (mut found, mut missed, mut wrong, mut right) = (0, Vec::new(), Vec::new(), 0);
    for pair in 0..2000 {
        let (given, family) = (numbers.one_of(&GIVEN), numbers.one_of(&FAMILY));
        let known = format!("{given} {family}");
        if pair % 2 == 0 {
            let (how, written) = another_hand(given, family, &mut numbers);
            if is_alike(&known, &written) { found += 1 } else { missed.push(format!("{how}: {known} / {written}")) }
        } else {
            let other = somebody_else(given, family, &mut numbers);
            if is_alike(&known, &other) { wrong.push(format!("{known} / {other}")) } else { right += 1 }
        }
    }
    let (found_of, told) = (f64::from(found), f64::from(u32::try_from(wrong.len()).unwrap()));
    let (recall, precision) = (found_of / 1000.0, found_of / (found_of + told));
    println!(
        "recall {recall:.3}, precision {precision:.3}; {right} told apart; missed {missed:#?}; taken for another {wrong:#?}"
    );
    assert!(recall >= 0.97, "recall {recall}: {missed:#?}");
    assert!(precision >= 0.98, "precision {precision}: {wrong:#?}");
}
