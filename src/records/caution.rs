//! The usual cautions of the trade, from `seed-data/cautions.toml`: which lines stand where.
//!
//! Never a gate, never advice of law or medicine, and no limit is compared with anything the shop typed.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use serde::Deserialize;

use super::column::words;
use super::family::Family;
use super::fold::folded;
use super::instrument::InstrumentEntry;
use super::job::Job;
use super::seed_data::{self, UnusableSeedData};
use super::work::{LineState, WorkLine};

words! {
    /// Where a line stands.
    Place {
        /// The page of the check-in.
        CheckIn = "check-in" => "check-in",
        /// The claim ticket.
        Ticket = "ticket" => "claim ticket",
        /// The instrument's page.
        Instrument = "instrument" => "instrument",
        /// The customer's page.
        Customer = "customer" => "customer",
        /// A job at the desk: what the counter says to the customer, not what the bench breathes.
        Job = "job" => "job at the desk",
        /// Where work is done: the job at the bench, and the bench card.
        Work = "work" => "work",
        /// Handing over.
        HandOver = "hand-over" => "handover",
        /// The work-performed sheet.
        Sheet = "sheet" => "work-performed sheet",
        /// Ready and not collected.
        Uncollected = "uncollected" => "not collected",
        /// The shop's settings.
        Settings = "settings" => "settings",
    }
}

words! {
    /// What stands behind a line.
    Backing {
        /// A body that published it.
        Published = "published" => "published",
        /// A body, as others quote it.
        Quoted = "quoted" => "quoted",
        /// Nobody can be named for certain.
        Memory = "from memory" => "shop habit",
        /// Common practice, no source.
        Habit = "habit" => "shop habit",
        /// A rule of the shop.
        House = "house" => "house rule",
    }
}

/// One line.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// By which plans name it.
    pub key: String,
    /// The line.
    pub words: String,
    /// The body or document.
    #[serde(default)]
    pub source: String,
    /// The source's year, where one can be given.
    pub year: Option<u16>,
    /// What stands behind it.
    pub backing: Backing,
    /// Where it stands.
    pub places: Vec<Place>,
    #[serde(default)]
    services: Vec<String>,
    #[serde(default)]
    named: Vec<String>,
    #[serde(default)]
    families: Vec<Family>,
    #[serde(default)]
    countries: Vec<String>,
    /// The key of the general line that a country's own stands for.
    pub subject: Option<String>,
    /// Yields to a country's own line of the same subject.
    #[serde(default)]
    general: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Cautions {
    caution: Vec<Caution>,
}

static CAUTIONS: LazyLock<Result<Cautions, UnusableSeedData>> =
    LazyLock::new(|| read_cautions(include_str!("../../seed-data/cautions.toml")));

fn read_cautions(text: &str) -> Result<Cautions, UnusableSeedData> {
    seed_data::read("cautions.toml", text, |cautions: &Cautions| {
        let mut keys = BTreeSet::new();
        let lines = &cautions.caution;
        if lines.is_empty() {
            return Some("it holds no caution".to_owned());
        }
        lines.iter().find_map(|line| {
            if !keys.insert(&line.key) {
                return Some(format!("“{}” stands there twice", line.key));
            }
            (line.words.trim().is_empty() || line.places.is_empty())
                .then(|| format!("“{}” says nothing anywhere", line.key))
        })
    })
}

/// Whether the cautions can be read.
pub(super) fn check() -> Result<(), UnusableSeedData> {
    CAUTIONS.as_ref().map(|_| ()).map_err(Clone::clone)
}

/// Every line.
pub fn cautions() -> &'static [Caution] {
    &seed_data::compiled_in(&CAUTIONS).caution
}

/// The words of a line; `None` for a key there is none of.
pub fn caution(key: &str) -> Option<&'static str> {
    cautions().iter().find(|line| line.key == key).map(|line| line.words.as_str())
}

/// The words of a line that a plan or an answer names. A plan that was kept by another version may name one that this
/// one has no words for: that something is to be minded is said all the same.
pub fn words_of(key: &str) -> &'static str {
    caution(key).unwrap_or("A caution stands here that this version has no words for: ask before you begin.")
}

impl Caution {
    /// What stands behind the line, as it is printed: a body only where it can be named.
    pub fn backed_by(&self) -> String {
        let named = matches!(self.backing, Backing::Published | Backing::Quoted) && !self.source.is_empty();
        match (named, self.year) {
            (false, _) => self.backing.spoken().to_owned(),
            (true, Some(year)) if !self.source.contains(&year.to_string()) => format!("{}, {year}", self.source),
            (true, _) => self.source.clone(),
        }
    }

    fn is_of(&self, country: &str) -> bool {
        self.countries.is_empty() || self.countries.iter().any(|own| own.eq_ignore_ascii_case(country))
    }

    fn is_meant(&self, about: &About) -> bool {
        let always = self.services.is_empty() && self.named.is_empty() && self.families.is_empty();
        always
            || self.services.iter().any(|key| about.services.contains(key))
            || self.named.iter().any(|word| about.names(word))
            || about.family.is_some_and(|family| self.families.contains(&family))
    }
}

/// What a page is about, as far as cautions go.
#[derive(Debug, Default)]
pub struct About {
    services: BTreeSet<String>,
    words: BTreeSet<String>,
    family: Option<Family>,
}

impl About {
    /// An instrument, as it is described.
    pub fn instrument(entry: &InstrumentEntry) -> Self {
        let mut about = Self { family: Some(entry.family), ..Self::default() };
        for text in [
            &entry.finish,
            &entry.nut_material,
            &entry.saddle_material,
            &entry.top_wood,
            &entry.bridge,
            &entry.saddle,
            &entry.note,
        ] {
            about.hear(text);
        }
        about
    }

    /// A job: its instrument, what was said of it, and the work that was not declined.
    pub fn job(job: &Job, entry: &InstrumentEntry, lines: &[WorkLine]) -> Self {
        let mut about = Self::instrument(entry);
        about.hear(&job.complaint);
        about.hear(&job.brought_with);
        for line in lines.iter().filter(|line| line.state != LineState::Declined) {
            about.hear(&line.words);
            about.services.extend(line.service_key.clone());
        }
        about
    }

    fn hear(&mut self, text: &str) {
        let folded = folded(text);
        let words = folded.split(|c: char| !c.is_alphanumeric() && c != '-').filter(|word| !word.is_empty());
        self.words.extend(words.map(str::to_owned));
    }

    fn names(&self, word: &str) -> bool {
        self.words.contains(word) || self.words.contains(&format!("{word}s"))
    }
}

/// The lines of a place, for what the page is about, in the shop's country.
pub fn at(place: Place, about: &About, country: &str) -> Vec<&'static Caution> {
    let mut found: Vec<&Caution> = cautions()
        .iter()
        .filter(|line| line.places.contains(&place) && line.is_of(country) && line.is_meant(about))
        .collect();
    let own: BTreeSet<&str> = found.iter().filter_map(|line| line.subject.as_deref()).collect();
    found.retain(|line| !(line.general && own.contains(line.key.as_str())));
    found
}

#[cfg(test)]
mod tests {
    use super::{About, Place, at, caution, cautions, read_cautions, words_of};

    #[test]
    fn bad_text_is_said_and_never_means_that_there_is_nothing_to_mind() {
        let line = "[[caution]]\nkey = \"heat\"\nwords = \"Hot.\"\nbacking = \"habit\"\nplaces = [\"work\"]\n";
        assert_eq!(read_cautions(line).unwrap().caution.len(), 1);
        for (text, said) in [
            ("", "missing field `caution`"),
            ("caution = []", "it holds no caution"),
            ("[[caution]]\nkey = \"heat\"", "missing field `words`"),
            (&line.replace("habit", "hearsay"), "unknown variant `hearsay`"),
            (&line.replace("[\"work\"]", "[]"), "“heat” says nothing anywhere"),
            (&line.repeat(2), "“heat” stands there twice"),
        ] {
            let words = read_cautions(text).unwrap_err().to_string();
            assert!(words.contains("seed-data/cautions.toml") && words.contains(said), "{text}: {words}");
        }
        assert!(words_of("of-another-version").contains("ask before you begin"));
    }

    #[test]
    fn the_file_of_cautions_is_read() {
        assert!(cautions().len() > 50, "{}", cautions().len());
        assert!(caution("string-tension").is_some_and(|words| words.contains("slacken")));
    }

    #[test]
    fn a_word_names_a_material_and_a_part_of_a_word_does_not() {
        let keys = |text: &str| -> Vec<&str> {
            let mut about = About::default();
            about.hear(text);
            at(Place::Instrument, &about, "GB").into_iter().map(|line| line.key.as_str()).collect()
        };
        assert!(keys("inlaid with Mother-of-Pearl, pearl dots").contains(&"wild-origin"));
        assert!(!keys("shellac, French polished").contains(&"wild-origin"), "shellac is no shell");
        assert!(keys("two ivories, ivory nut").contains(&"ivory-uk-eu"));
    }
}
