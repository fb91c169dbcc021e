//! The note of a string of known pull, masses and shrinkages of one's own.

use serde_json::json;

use super::{answer, close, close_percent, faults, number};

/// OpenStax, University Physics 1, 16.3, example "Tension in a guitar string" (from memory): 3.09·10⁻⁴ kg/m pulled by
/// 56.40 N carries waves at 427.23 m/s; half of that a metre is the note.
#[test]
fn a_string_of_known_pull_sounds_as_the_textbook_says() {
    let scale = 648.0;
    let asked = json!({"scale_mm": scale, "strings": [{"tension_n": 56.40, "linear_density_g_m": 0.309}]});
    let sounds = answer("frequency", &asked);
    close_percent(number(&sounds, "/strings/0/frequency_hz") * 2.0 * scale / 1000.0, 427.23, 0.005);
    // 329.65 Hz: E4 of ISO 16:1975 is 329.63 Hz
    assert_eq!(sounds["strings"][0]["pitch"], json!("E4"));
    close(number(&sounds, "/strings/0/cents"), 0.11, 0.05);
}

#[test]
fn it_is_what_tension_says_turned_round() {
    let strings =
        json!([{"pitch": "F#3", "material": "nylon", "diameter_mm": 0.9}, {"pitch": "C2", "linear_density_g_m": 8.0}]);
    let pulls = answer("tension", &json!({"scale_mm": 652.5, "a4_hz": 442, "strings": strings}));
    let asked = json!({"scale_mm": 652.5, "a4_hz": 442, "strings": [
        {"tension_n": pulls["strings"][0]["tension_n"], "material": "nylon", "diameter_mm": 0.9},
        {"tension_n": pulls["strings"][1]["tension_n"], "linear_density_g_m": 8.0}]});
    let sounds = answer("frequency", &asked);
    for (place, pitch) in ["F#3", "C2"].iter().enumerate() {
        assert_eq!(sounds["strings"][place]["pitch"], json!(pitch));
        close(number(&sounds, &format!("/strings/{place}/cents")), 0.0, 1e-9);
    }
}

/// Nickel: 8908 kg/m³ (CRC Handbook of Chemistry and Physics, from memory).
#[test]
fn a_density_of_ones_own_stands_for_a_material() {
    let string = json!({"pitch": "E4", "density_kg_m3": 8908, "diameter_mm": 0.254});
    let pulls = answer("tension", &json!({"scale_mm": 648, "strings": [string]}));
    close(number(&pulls, "/strings/0/linear_density_g_m"), 8.908 * std::f64::consts::PI * 0.254 * 0.254 / 4.0, 1e-12);
    let alone = json!({"scale_mm": 648, "strings": [{"pitch": "E4", "density_kg_m3": 8908}]}).to_string();
    assert!(faults("tension", &alone).iter().any(|(at, _)| at == "/strings/0/diameter_mm"));
    let light =
        json!({"scale_mm": 648, "strings": [{"tension_n": 60, "density_kg_m3": 1, "diameter_mm": 0.3}]}).to_string();
    let said = faults("frequency", &light);
    assert!(said.iter().any(|(at, words)| at == "/strings/0/density_kg_m3" && words.contains("100")), "{said:?}");
}

/// Wood Handbook FPL-GTR-282, Table 4-2 at 21.1 °C (70 °F): 30 % humidity 6.2 %, 50 % 9.2 %, 65 % 12.0 %, 80 % 16.0 %.
#[test]
fn moisture_leads_back_to_the_air_it_belongs_to() {
    for (moisture, rh_percent) in [(6.2, 30.0), (9.2, 50.0), (12.0, 65.0), (16.0, 80.0)] {
        let found = answer("humidity", &json!({"temperature_c": 21.1, "moisture_content_percent": moisture}));
        close(number(&found, "/rh_percent"), rh_percent, 0.6);
        let back = answer("air", &json!({"temperature_c": 21.1, "rh_percent": found["rh_percent"]}));
        close(number(&back, "/moisture_content_percent"), moisture, 1e-9);
    }
    let soaked = json!({"temperature_c": 20, "moisture_content_percent": 60}).to_string();
    let said = faults("humidity", &soaked);
    assert!(said[0].1.contains("no air of this temperature"), "{said:?}");
}

/// Wood Handbook FPL-GTR-282: sitka spruce shrinks by 4.3 % radially (Table 4-3), and its coefficient of Table 13-5,
/// 0.00148 per %, was made from that.
#[test]
fn a_shrinkage_of_ones_own_moves_the_wood_as_the_handbooks_coefficient_does() {
    let with = |more: &[(&str, serde_json::Value)]| {
        let mut asked = json!({"temperature_c": 20, "rh_percent": 50, "target_rh_percent": 45, "width_mm": 400});
        for (name, value) in more {
            asked[*name] = value.clone();
        }
        number(&answer("air", &asked), "/target/movement_mm/0")
    };
    let published = with(&[("species", json!("sitka spruce")), ("grain", json!("radial"))]);
    close_percent(with(&[("shrinkage_percent", json!(4.3))]), published, 1.0);
    let both = json!({"temperature_c": 20, "rh_percent": 50, "species": "koa", "grain": "radial", "width_mm": 1,
        "shrinkage_percent": 5})
    .to_string();
    assert!(faults("air", &both).iter().any(|(at, _)| at == "/shrinkage_percent"));
}
