//! What to say before a heavier, a thicker or a wrong kind of set goes on.

use super::input::{ChangeString, StringChangeInput};
use super::output::{Change, StringChanged, Warning};
use crate::setup::plan::PlanFamily;
use crate::setup::tension::Material;

/// More pull in all than this is said, %. Chosen here.
const TOTAL_UP_PERCENT: f64 = 10.0;
/// More pull on one string than this is said, %. Chosen here.
const STRING_UP_PERCENT: f64 = 25.0;
/// Plain steel tuned beyond this share of its breaking stress is said. Chosen here: the thinnest octave
/// strings, known to break while tuned up, lie just beyond it; common practice, no source.
const WORKING_SHARE: f64 = 0.75;
/// A nut's slot is cut about this much wider than its string, mm. Common practice, no source.
const SLOT_SPARE_MM: f64 = 0.05;
/// Least tensile strength of music wire (ASTM A228): A/d^m with d in mm, MPa; tables of machine design.
pub(super) const MUSIC_WIRE: (f64, f64) = (2060.0, 0.163);

/// Least stress at which plain music wire breaks, MPa.
pub fn breaking_stress_mpa(diameter_mm: f64) -> f64 {
    MUSIC_WIRE.0 / diameter_mm.powf(MUSIC_WIRE.1)
}

/// Share of its breaking stress, of plain steel.
pub(super) fn share_of_breaking(string: &ChangeString, tension_n: f64) -> Option<f64> {
    let diameter = string.diameter_mm.filter(|_| !string.is_wound() && string.material == Some(Material::Steel))?;
    let stress_mpa = tension_n / (std::f64::consts::FRAC_PI_4 * diameter * diameter);
    Some(stress_mpa / breaking_stress_mpa(diameter))
}

pub(super) fn warnings(input: &StringChangeInput, strings: &[StringChanged], total: Change) -> Vec<Warning> {
    let mut found = Vec::new();
    if is_steel_on_nylon(input) {
        found.push(Warning {
            key: "steel-on-nylon-instrument".to_owned(),
            stop: true,
            string: None,
            words: "Steel strings on an instrument made for nylon or gut: its bracing, bridge and neck may not bear \
                    their pull. Do not fit them unless its maker says so."
                .to_owned(),
        });
    }
    if total.change_percent > TOTAL_UP_PERCENT {
        found.push(Warning {
            key: "pull-up".to_owned(),
            stop: false,
            string: None,
            words: format!(
                "The set pulls {:.0} N more than the one on it, {:.0} %. Ask what the instrument was made for; bring \
                 it up in steps, and look at the bridge, the top behind it and the relief before it leaves.",
                total.change, total.change_percent
            ),
        });
    }
    for (number, string) in (1..).zip(strings) {
        let mut note = |key: &str, words: String| {
            found.push(Warning { key: key.to_owned(), stop: false, string: Some(number), words });
        };
        if let Some(share) = string.next.share_of_breaking.filter(|share| *share > WORKING_SHARE) {
            note(
                "near-breaking",
                format!(
                    "String {number} at this pitch and scale stands at {:.0} % of music wire's least strength: it is \
                     likely to break while tuned up. Shield the eyes.",
                    share * 100.0
                ),
            );
        }
        if string.tension_n.change_percent > STRING_UP_PERCENT {
            note(
                "string-pull-up",
                format!("String {number} pulls {:.0} % more than the one on it.", string.tension_n.change_percent),
            );
        }
        if let Some(thicker) = string.thicker_mm.filter(|thicker| *thicker > SLOT_SPARE_MM) {
            note(
                "slot-too-narrow",
                format!(
                    "String {number} is {thicker:.2} mm thicker than the one whose nut slot it will lie in: it will \
                     ride high and may pinch. Widen the slot first."
                ),
            );
        }
    }
    found
}

/// Nylon or gut now, or a family made for it, and steel to come.
fn is_steel_on_nylon(input: &StringChangeInput) -> bool {
    let has_steel = |set: &[ChangeString]| set.iter().any(|string| string.material == Some(Material::Steel));
    let is_soft = |string: &ChangeString| {
        matches!(string.material, Some(Material::Nylon | Material::Fluorocarbon | Material::Gut))
    };
    let made_for_soft = match input.family {
        Some(PlanFamily::Classical | PlanFamily::Ukulele) => true,
        Some(
            PlanFamily::SteelString
            | PlanFamily::Electric
            | PlanFamily::Bass
            | PlanFamily::Mandolin
            | PlanFamily::Banjo,
        ) => false,
        Some(PlanFamily::Other) | None => input.now.iter().any(is_soft) && !has_steel(&input.now),
    };
    made_for_soft && has_steel(&input.next)
}
