//! Pitches, masses and pulls of strings.

use serde_json::json;
use thumbplane::setup::tension::{Material, pitch_hz, plain_linear_density_g_m, tension_n, wound_linear_density_g_m};

use super::{answer, close, close_percent, number};

/// ISO 16:1975: A in the treble stave is 440 Hz; the others by equal temperament.
#[test]
fn notes_have_their_frequencies() {
    let notes = [
        ("E1", 41.2034),
        ("A1", 55.0000),
        ("B1", 61.7354),
        ("D2", 73.4162),
        ("E2", 82.4069),
        ("G2", 97.9989),
        ("A2", 110.0000),
        ("C3", 130.8128),
        ("D3", 146.8324),
        ("G3", 195.9977),
        ("A3", 220.0000),
        ("B3", 246.9417),
        ("C4", 261.6256),
        ("D4", 293.6648),
        ("E4", 329.6276),
        ("G4", 391.9954),
        ("A4", 440.0000),
        ("E5", 659.2551),
    ];
    for (note, expected) in notes {
        close(pitch_hz(note, 440.0).expect(note), expected, 0.0001);
    }
}

#[test]
fn one_sound_may_have_several_names() {
    for (one, other) in [("B#3", "C4"), ("Cb4", "B3"), ("F#3", "Gb3"), ("C##4", "D4"), ("Ebb2", "D2"), ("b♭1", "A#1")]
    {
        close(pitch_hz(one, 440.0).expect(one), pitch_hz(other, 440.0).expect(other), 1e-12);
    }
    for wrong in ["", "E", "H2", "E2x", "2E", "E#", "Eb#b#b2", "E10", "E-2", "E--1", "E2.5", "Ä2", "E٣"] {
        assert_eq!(pitch_hz(wrong, 440.0), None, "{wrong}");
    }
}

/// Densities: steel 7850 (piano wire), nylon 1100 and PVDF 1780 (from memory), gut 1300 kg/m³.
#[test]
fn plain_strings_weigh_their_volume() {
    let plain = [
        (Material::Steel, 0.254, 0.397_77),
        (Material::Steel, 0.330, 0.671_41),
        (Material::Steel, 0.406, 1.016_28),
        (Material::Nylon, 0.72, 0.447_87),
        (Material::Nylon, 1.02, 0.898_84),
        (Material::Fluorocarbon, 0.74, 0.765_55),
        (Material::Gut, 0.80, 0.653_45),
    ];
    for (material, diameter_mm, expected) in plain {
        close_percent(plain_linear_density_g_m(material, diameter_mm), expected, 0.02);
    }
}

/// Bronze 8800 kg/m³ (from memory). The helix' slope would add 1 % in the first case.
#[test]
fn a_winding_of_touching_round_wire_adds_its_mass() {
    close_percent(wound_linear_density_g_m(0.43, 7850.0, 0.43, 8800.0), 9.1695, 0.05);
    close_percent(wound_linear_density_g_m(0.38, 7850.0, 0.25, 8800.0), 4.3101, 0.05);
}

#[test]
fn strings_pull_as_mersenne_says() {
    let plain = [
        (648.0, "E4", Material::Steel, 0.254, 72.591),
        (648.0, "B3", Material::Steel, 0.330, 68.768),
        (650.0, "G3", Material::Nylon, 1.02, 58.354),
        (640.0, "B3", Material::Gut, 0.80, 65.286),
        (345.0, "C4", Material::Fluorocarbon, 0.74, 24.948),
    ];
    for (scale_mm, note, material, diameter_mm, expected) in plain {
        let density = plain_linear_density_g_m(material, diameter_mm);
        close_percent(tension_n(scale_mm, pitch_hz(note, 440.0).expect(note), density), expected, 0.05);
    }
    for (scale_mm, note, density, expected) in [(648.0, "E2", 9.1695, 104.588), (864.0, "E1", 19.0, 96.318)] {
        close_percent(tension_n(scale_mm, pitch_hz(note, 440.0).expect(note), density), expected, 0.02);
    }
}

/// A stored public piano-wire example: steel of 0.925 mm, 181 mm long, tuned to C6, pulls 170.2 lbf.
#[test]
fn a_piano_wire_pulls_as_published() {
    let density = plain_linear_density_g_m(Material::Steel, 0.925);
    let newtons = tension_n(181.0, pitch_hz("C6", 440.0).expect("C6"), density);
    close_percent(newtons, 757.07, 0.05);
    close_percent(newtons / 4.448_222, 170.2, 0.05);
}

#[test]
fn a_set_of_six_pulls_with_the_weight_of_a_grown_person() {
    let set = json!({"scale_mm": 648, "strings": [
        {"pitch": "E4", "material": "steel", "diameter_mm": 0.305},
        {"pitch": "B3", "material": "steel", "diameter_mm": 0.406},
        {"pitch": "G3", "linear_density_g_m": 1.70},
        {"pitch": "D3", "linear_density_g_m": 3.05},
        {"pitch": "A2", "linear_density_g_m": 5.30},
        {"pitch": "E2", "linear_density_g_m": 9.17},
    ]});
    let pulls = answer("tension", &set);
    for (string, expected) in [104.67, 104.09, 109.69, 110.45, 107.71, 104.59].into_iter().enumerate() {
        close_percent(number(&pulls, &format!("/strings/{string}/tension_n")), expected, 0.05);
    }
    close_percent(number(&pulls, "/total_n"), 641.20, 0.05);
}

#[test]
fn a_stated_mass_wins_over_a_diameter() {
    let string = json!({"pitch": "B3", "material": "steel", "diameter_mm": 0.33, "linear_density_g_m": 0.7});
    let pull = answer("tension", &json!({"scale_mm": 648, "strings": [string]}));
    close(number(&pull, "/strings/0/linear_density_g_m"), 0.7, 0.0);
}

#[test]
fn an_error_of_the_calliper_counts_twice_in_the_pull() {
    let pull = |diameter_mm: f64| {
        tension_n(648.0, pitch_hz("B3", 440.0).expect("B3"), plain_linear_density_g_m(Material::Steel, diameter_mm))
    };
    close(pull(0.335) - pull(0.330), 2.1, 0.05);
}
