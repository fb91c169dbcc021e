//! How the fields of a calculation are called on a page: words and unit from the name, the rest from
//! what the field's own description says.

/// A field's name as words, and the unit its name ends in; "" without one.
pub(super) fn words_and_unit(name: &str) -> (String, &'static str) {
    let (stem, unit) = without_unit(name);
    let known = SPOKEN.iter().find(|(known, _)| *known == stem).map(|(_, words)| (*words).to_owned());
    let words = known.unwrap_or_else(|| capitalized(&stem.replace(['_', '-'], " ")));
    let unit = if words.eq_ignore_ascii_case(unit) { "" } else { unit };
    (words, unit)
}

/// Names whose words alone would not be understood.
const SPOKEN: [(&str, &str); 20] = [
    ("a4", "Standard pitch, A4"),
    ("action_12", "Height at the 12th"),
    ("action_12_treble", "Height at the 12th, treble"),
    ("action_12_bass", "Height at the 12th, bass"),
    ("cents", "Errors"),
    ("cents_at_12", "Error at the 12th"),
    ("days_to_90_percent", "Until nine tenths of the way"),
    ("first_fret", "Height at the 1st"),
    ("gap_at_1_stopped_at_3", "Gap at the 1st, stopped at the 3rd"),
    ("key", "What"),
    ("linear_density", "Mass per length"),
    ("modulus", "Young’s modulus"),
    ("nut_setback", "Set-back at the nut"),
    ("p80", "Four fifths"),
    ("p90", "Nine tenths"),
    ("rh", "Relative humidity"),
    ("saddle_setback", "Set-back at the saddle"),
    ("best_saddle_setback", "Best set-back at the saddle"),
    ("target_rh", "Wished humidity"),
    ("outside_table", "Outside the table"),
];

/// Endings of names and the units they stand for, the longer first.
const UNITS: [(&str, &str); 15] = [
    ("_kg_m3", "kg/m³"),
    ("_g_m3", "g/m³"),
    ("_g_m", "g/m"),
    ("_n_mm2", "N/mm²"),
    ("_percent", "%"),
    ("_cents", "cents"),
    ("_days", "days"),
    ("_years", "years"),
    ("_gpa", "GPa"),
    ("_mm", "mm"),
    ("_hz", "Hz"),
    ("_pa", "Pa"),
    ("_n", "N"),
    ("_c", "°C"),
    ("_h", "hours"),
];

fn without_unit(name: &str) -> (&str, &'static str) {
    // what is counted may stand first
    for counted in ["cents", "days"] {
        if name == counted || name.strip_prefix(counted).is_some_and(|rest| rest.starts_with('_')) {
            return (name, counted);
        }
    }
    let ending = UNITS.iter().find(|(ending, _)| name.ends_with(ending));
    match ending {
        Some((ending, unit)) => (name.strip_suffix(ending).unwrap_or(name), unit),
        None => (name, if name == "mm" { "mm" } else { "" }),
    }
}

/// A description as a hint: its unit stands beside the label already.
pub(super) fn hint(description: &str, unit: &str, label: &str) -> String {
    let folded = description.split_whitespace().collect::<Vec<_>>().join(" ").replace('`', "");
    let bare = folded.trim_end_matches('.');
    let bare = bare.strip_prefix(&format!("{unit}, ")).filter(|_| !unit.is_empty()).unwrap_or(bare);
    let bare = bare.strip_suffix(unit).map_or(bare, |rest| rest.trim_end_matches([' ', ',']));
    let bare = bare.replace(&format!(", {unit};"), ";").replace(&format!(", {unit}."), ".");
    match bare.chars().last() {
        None => String::new(),
        _ if bare.eq_ignore_ascii_case(label) => String::new(),
        Some('…') => bare,
        Some(_) => format!("{}.", capitalized(&bare)),
    }
}

/// One of a list: "strings" → "String".
pub(super) fn singular(label: &str) -> String {
    label.strip_suffix('s').unwrap_or(label).to_owned()
}

/// The first letter large.
pub(super) fn capitalized(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
