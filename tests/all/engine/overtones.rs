//! Partials of a stiff string, and the finger behind the fret.

use serde_json::{Value, json};

use super::{answer, close, close_percent, faults, number, numbers};

/// R. W. Young, "Inharmonicity of plain wire piano strings", JASA 24 (1952) 267: plain steel stands 3.4·10¹³·n²d²/(f²L⁴)
/// cents over, d and L in cm.
#[test]
fn partials_of_plain_steel_stand_over_as_young_measured_on_pianos() {
    for (pitch, hz, diameter_mm, scale_mm) in
        [("E4", 329.628, 0.254, 648.0), ("B3", 246.942, 0.33, 648.0), ("C4", 261.626, 1.0, 650.0)]
    {
        let string = json!({"pitch": pitch, "material": "steel", "diameter_mm": diameter_mm});
        let found = answer("overtones", &json!({"scale_mm": scale_mm, "string": string, "partials": 10}));
        let young =
            |n: f64| 3.4e13 * n * n * (diameter_mm / 10.0_f64).powi(2) / (hz * hz * (scale_mm / 10.0_f64).powi(4));
        for n in [2, 5] {
            // against the first, which stands over by its own
            let expected = young(f64::from(n)) - young(1.0);
            close_percent(number(&found, &format!("/partials/{}/cents", n - 1)), expected, 1.0);
        }
        close(number(&found, "/partials/0/frequency_hz"), hz, 0.001);
        close(number(&found, "/partials/0/cents"), 0.0, 1e-12);
    }
}

#[test]
fn a_string_that_does_not_bend_has_whole_multiples() {
    let string = json!({"pitch": "A2", "linear_density_g_m": 5.5, "core_diameter_mm": 0.02, "stretch_ratio": 1});
    let found = answer("overtones", &json!({"scale_mm": 648, "string": string, "partials": 6}));
    for (place, hz) in
        (1..=6).zip(found["partials"].as_array().unwrap()).map(|(n, of)| (n, of["frequency_hz"].as_f64().unwrap()))
    {
        close_percent(hz, 110.0 * f64::from(place), 1e-5);
    }
    let many =
        json!({"scale_mm": 648, "string": {"pitch": "A2", "material": "steel", "diameter_mm": 0.4}, "partials": 0});
    assert_eq!(faults("overtones", &many.to_string())[0].0, "/partials");
}

fn asked(finger_behind_mm: f64) -> Value {
    json!({"scale_mm": 648, "frets": 12, "first_fret_mm": 0.5, "action_12_mm": 2.2, "finger_behind_mm": finger_behind_mm,
        "string": {"pitch": "G3", "material": "steel", "diameter_mm": 0.43}})
}

/// A finger further behind the fret bends the string down further before it reaches the nut: every note sharpens, the
/// low ones most (common practice, no source: press just behind the fret). Its length by plain Pythagoras.
#[test]
fn a_finger_further_behind_the_fret_sharpens_the_note() {
    let cents = |behind: f64| numbers(&answer("intonation", &asked(behind)), "/cents");
    let (none, near, far) = (cents(0.0), cents(2.0), cents(8.0));
    for fret in 0..12 {
        assert!(none[fret] < near[fret] && near[fret] < far[fret], "fret {}", fret + 1);
    }
    // fret 1 at 36.37 mm: z₀ from the line of both heights, then to the finger and on to the saddle
    let x = 648.0 * (1.0 - (-1.0_f64 / 12.0).exp2());
    let slope = (2.2 - 0.5) / (324.0 - x);
    let (nut, saddle) = (0.5 - slope * x, 0.5 + slope * (648.0 - x));
    let dip = saddle / (648.0 - x);
    let behind = 8.0 * dip.hypot(1.0) + (x - 8.0).hypot(nut + dip * 8.0);
    let stretch = ((648.0 - x).hypot(saddle) + behind) / (648.0 * slope.hypot(1.0)) - 1.0;
    let whole = answer("intonation", &asked(8.0));
    let kappa = number(&whole, "/stretch_ratio");
    close(number(&whole, "/parts/0/tension"), 600.0 * (1.0 + kappa * stretch).log2(), 1e-6);
    assert_eq!(faults("intonation", &asked(40.0).to_string())[0].0, "/finger_behind_mm");
}
