//! The families of fretted instruments, and what an instrument of each usually is, so that the desk
//! writes down a maker and the bench corrects the rest.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;

use super::column::words;
use super::seed_data::{self, UnusableSeedData};
use crate::quantity::Micrometres;

words! {
    /// What kind of instrument it is.
    Family {
        /// Flat-top with steel strings.
        SteelString = "steel-string" => "steel-string guitar",
        /// Nylon or gut strings.
        Classical = "classical" => "classical guitar",
        /// Solid or semi-solid, with pickups.
        Electric = "electric" => "electric guitar",
        /// Four or more low strings.
        Bass = "bass" => "bass guitar",
        /// Four strings, small.
        Ukulele = "ukulele" => "ukulele",
        /// Four double courses.
        Mandolin = "mandolin" => "mandolin",
        /// Tenor or five-string.
        Banjo = "banjo" => "banjo",
        /// Anything else with frets.
        Other = "other" => "other fretted instrument",
    }
}

/// "Alderbrook OM-2", or the kind where nobody knows the maker: what an instrument is called wherever it is named.
pub fn instrument_title(family: Family, maker: &str, model: &str) -> String {
    let name = [maker, model].into_iter().map(str::trim).filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
    if name.is_empty() { family.spoken().to_owned() } else { name }
}

words! {
    /// Which hand frets.
    Handedness {
        /// Frets with the left hand.
        Right = "right" => "right-handed",
        /// Frets with the right hand.
        Left = "left" => "left-handed",
    }
}

words! {
    /// The rod in the neck.
    TrussRod {
        /// None.
        None = "none" => "none",
        /// Works against string pull only.
        OneWay = "one-way" => "one-way",
        /// Works both ways.
        TwoWay = "two-way" => "two-way",
    }
}

words! {
    /// What holds the strings' heights at the bridge.
    BridgeKind {
        /// A bar in a slot.
        FixedSaddle = "fixed-saddle" => "fixed saddle in a slot",
        /// Each string its own screws.
        ScrewSaddles = "screw-saddles" => "each string its own screws",
        /// Wheels or posts under one bridge.
        TwoPost = "two-post" => "two posts or wheels",
        /// Stands on the top or a head, held by the strings.
        LooseBridge = "loose-bridge" => "loose, held by the strings",
        /// Pivots against springs.
        Sprung = "sprung" => "pivots against springs",
    }
}

words! {
    /// How the neck is joined to the body.
    NeckJoint {
        /// Glued in.
        Glued = "glued" => "glued",
        /// Bolted into a pocket.
        Bolted = "bolted" => "bolted",
        /// One piece with the body.
        Through = "through" => "neck through the body",
        /// Held by rods that trim its angle.
        Rods = "rods" => "held by rods",
    }
}

words! {
    /// What the strings run over at the head.
    Nut {
        /// A slot for each string.
        Slotted = "slotted" => "slotted",
        /// The nut only guides; a fret before it carries the strings.
        ZeroFret = "zero-fret" => "zero fret",
        /// Holds the strings under clamps.
        Clamping = "clamping" => "clamping",
    }
}

words! {
    /// What a string, or its core, is made of.
    StringMaterial {
        /// Music wire.
        Steel = "steel" => "steel",
        /// Nylon.
        Nylon = "nylon" => "nylon",
        /// PVDF.
        Fluorocarbon = "fluorocarbon" => "fluorocarbon",
        /// Gut.
        Gut = "gut" => "gut",
    }
}

/// One string as it usually is on a family.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsualString {
    /// "E4".
    pub pitch: String,
    /// Outer diameter in mm.
    pub gauge_mm: f64,
    /// Of the string, or of its core when wound.
    pub material: StringMaterial,
    /// Plain or wound.
    #[serde(default)]
    pub wound: bool,
    /// Core diameter in mm, for wound strings.
    pub core_mm: Option<f64>,
    /// Mass per length in g/m, for wound strings, where a usual value is known.
    pub linear_density_g_m: Option<f64>,
    /// The fret at which a short string begins.
    pub starts_at_fret: Option<i64>,
    /// The course it belongs to, where strings stand in courses.
    pub course: Option<i64>,
}

/// What an instrument of a family usually is. Common practice, no source.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(missing_docs, reason = "each field is the instrument's column of the same name, in mm")]
pub struct UsualInstrument {
    pub scale_mm: f64,
    pub frets: i64,
    pub body_fret: i64,
    pub courses: i64,
    pub radius_mm: Option<f64>,
    pub truss_rod: TrussRod,
    pub bridge: String,
    pub saddle: String,
    pub nut_material: String,
    pub saddle_material: String,
    pub string_set: String,
    /// Between the outer strings at the saddle.
    pub spread_at_saddle_mm: f64,
    pub strings: Vec<UsualString>,
}

/// One for each family, in the order of [`Family::ALL`].
static USUAL: LazyLock<Result<Vec<UsualInstrument>, UnusableSeedData>> =
    LazyLock::new(|| read_usual(include_str!("../../seed-data/families.toml")));

fn read_usual(text: &str) -> Result<Vec<UsualInstrument>, UnusableSeedData> {
    let mut read: BTreeMap<Family, UsualInstrument> =
        seed_data::read("families.toml", text, |usual: &BTreeMap<_, _>| {
            let fault = |family: &Family| Some(format!("{}: {}", family.key(), usual_fault(usual.get(family))?));
            Family::ALL.iter().find_map(fault)
        })?;
    Ok(Family::ALL.iter().filter_map(|family| read.remove(family)).collect())
}

fn usual_fault(usual: Option<&UsualInstrument>) -> Option<&'static str> {
    let Some(usual) = usual else { return Some("it is not there") };
    if usual.strings.is_empty() {
        return Some("it has no strings");
    }
    let is_length = Micrometres::from_mm(usual.scale_mm).is_some_and(|scale| scale.0 > 0);
    (!is_length || !(1..=usual.frets).contains(&usual.body_fret)).then_some("scale and frets do not fit together")
}

/// Whether the usual instruments can be read.
pub(super) fn check() -> Result<(), UnusableSeedData> {
    USUAL.as_ref().map(|_| ()).map_err(Clone::clone)
}

/// What an instrument of this family usually is.
pub fn usual(family: Family) -> &'static UsualInstrument {
    &seed_data::compiled_in(&USUAL)[family as usize]
}

#[cfg(test)]
mod tests {
    use super::{Family, read_usual, usual};

    #[test]
    fn bad_text_is_said_and_never_means_an_instrument_of_nowhere() {
        let whole = include_str!("../../seed-data/families.toml");
        for (text, said) in [
            (String::new(), "steel-string: it is not there"),
            (whole.replace("[bass]", "[basso]"), "unknown variant `basso`"),
            (whole.replacen("body_fret = 14", "body_fret = 40", 1), "do not fit together"),
            (whole.replacen("frets = ", "fret_count = ", 1), "unknown field `fret_count`"),
        ] {
            let words = read_usual(&text).unwrap_err().to_string();
            assert!(words.contains("seed-data/families.toml") && words.contains(said), "{said}: {words}");
        }
    }

    #[test]
    fn every_family_has_its_usual_instrument() {
        for family in Family::ALL {
            let usual = usual(*family);
            assert!(!usual.strings.is_empty(), "{family} has strings");
            assert!(usual.body_fret <= usual.frets, "{family}");
        }
        // each stands in its own place: a bass has four strings, a classical guitar no rod. Common practice, no source
        assert_eq!(usual(Family::Bass).strings.len(), 4);
        assert_eq!(usual(Family::Classical).truss_rod, super::TrussRod::None);
        assert_eq!(usual(Family::Mandolin).courses, 4);
    }
}
