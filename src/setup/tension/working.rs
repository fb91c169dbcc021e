//! How each string's pull came about.

use super::{Material, TensionInput, TensionOutput, note_number};
use crate::working::{Working, Workings};

/// The working of every number but masses that were stated.
pub fn explain(input: &TensionInput, output: &TensionOutput, workings: &mut Workings) {
    for (place, (string, pull)) in input.strings.iter().zip(&output.strings).enumerate() {
        let at = format!("/strings/{place}");
        workings.figure(&at, || {
            let mut chain = Vec::new();
            chain.extend(frequency(&format!("{at}/frequency_hz"), &string.pitch, input.a4_hz, pull.frequency_hz));
            if string.linear_density_g_m.is_none()
                && let Some(diameter) = string.diameter_mm
            {
                let of = format!("{at}/linear_density_g_m");
                match (string.density_kg_m3, string.material) {
                    (Some(own), _) => chain.push(own_mass(&of, own, diameter, pull.linear_density_g_m)),
                    (None, Some(material)) => {
                        chain.push(plain_mass(&of, material, diameter, pull.linear_density_g_m));
                    }
                    (None, None) => {}
                }
            }
            let of = format!("{at}/tension_n");
            chain.push(force(&of, input.scale_mm, pull.frequency_hz, pull.linear_density_g_m, pull.tension_n));
            chain
        });
    }
    workings.figure("/total_n", || {
        let tensions = output.strings.iter().map(|string| string.tension_n);
        let sum = Working::new("/total_n", "pull of all strings together", "F = Σ(Tᵢ)")
            .put_each("T", "tension of string", tensions, "N")
            .gives(output.total_n, "N", "a sum");
        vec![sum]
    });
}

/// Frequency of a note name.
pub(in crate::setup) fn frequency(of: &str, pitch: &str, a4_hz: f64, frequency_hz: f64) -> Option<Working> {
    let note = note_number(pitch)?;
    let told = Working::new(of, format!("frequency of {pitch}"), "f = A₄·2^((n − 69)/12)")
        .put("A₄", "standard pitch, the A in the treble stave", a4_hz, "Hz")
        .put("n", "semitones counted so that C4 is 60", f64::from(note), "")
        .gives(frequency_hz, "Hz", "twelve-tone equal temperament on A4; ISO 16:1975 for 440 Hz");
    Some(told)
}

/// Mass per length of a plain round string.
pub(in crate::setup) fn plain_mass(of: &str, material: Material, diameter_mm: f64, linear_density_g_m: f64) -> Working {
    let meaning = match material {
        Material::Steel => "density of steel, as of piano wire",
        Material::Nylon => "density of nylon, from memory",
        Material::Fluorocarbon => "density of PVDF, from memory",
        Material::Gut => "density of gut",
    };
    mass_of(of, meaning, material.density_kg_m3(), diameter_mm, linear_density_g_m)
}

/// The same of a density of one's own.
pub(in crate::setup) fn own_mass(of: &str, density_kg_m3: f64, diameter_mm: f64, linear_density_g_m: f64) -> Working {
    mass_of(of, "density as given", density_kg_m3, diameter_mm, linear_density_g_m)
}

fn mass_of(of: &str, meaning: &str, density_kg_m3: f64, diameter_mm: f64, linear_density_g_m: f64) -> Working {
    Working::new(of, "mass per length of the plain string", "μ = ρ·π·d²/4")
        .put("ρ", meaning, density_kg_m3 / 1000.0, "g/cm³")
        .put("d", "diameter", diameter_mm, "mm")
        .gives(linear_density_g_m, "g/m", "density times the area of a circle; 1 g/cm³·mm² is 1 g/m")
}

/// Tension from mass, length and frequency.
pub(in crate::setup) fn force(
    of: &str,
    scale_mm: f64,
    frequency_hz: f64,
    linear_density_g_m: f64,
    tension_n: f64,
) -> Working {
    Working::new(of, "tension", "T = μ·(2·L·f)²")
        .put("μ", "mass per length", linear_density_g_m / 1000.0, "kg/m")
        .put("L", "nominal scale", scale_mm / 1000.0, "m")
        .put("f", "frequency", frequency_hz, "Hz")
        .gives(tension_n, "N", "Mersenne's law; any acoustics text")
}
