//! The air of a case, of a plate and of a winter's day: psychrometrics and Fick's law, worked by hand.

use serde_json::{Value, json};

use super::{answer, close, close_percent, number};

/// V·ΔAH for the air; m/(1 + M/100)·ΔEMC/100 for the wood, EMC by the Wood Handbook's eq. 4-5.
#[test]
fn the_wood_drinks_what_the_gauge_does_not_show() {
    let rows = [
        (45.0, 1600.0, 7.0, 20.0, 30.0, 50.0, 0.1556, 46.10),
        (45.0, 1600.0, 7.0, 20.0, 40.0, 50.0, 0.0778, 23.16),
        (12.0, 500.0, 8.0, 22.0, 60.0, 50.0, -0.0233, -7.95),
    ];
    for (litres, wood, moisture, temperature, from, to, air_g, wood_g) in rows {
        let case = json!({"temperature_c": temperature, "rh_percent": from, "target_rh_percent": to,
            "case_volume_l": litres, "wood_g": wood, "wood_moisture_percent": moisture});
        let worked = answer("air", &case);
        close_percent(number(&worked, "/case_water/air_g"), air_g, 0.5);
        close_percent(number(&worked, "/case_water/wood_g"), wood_g, 0.2);
    }
}

fn plate(plate: &Value) -> Value {
    answer("air", &json!({"temperature_c": 20, "rh_percent": 50, "plate": plate}))["plate"].clone()
}

/// τ = l²/(π²D), t50 and t90 of the series (Crank, The Mathematics of Diffusion, from memory).
#[test]
fn a_plate_follows_the_air_by_the_square_of_its_thickness() {
    let rows = [
        (2.8, 1e-10, 2, 2.2066, 1.0711, 4.6174),
        (2.8, 1e-10, 1, 8.8262, 4.2844, 18.469),
        (2.8, 3e-11, 2, 7.3552, 3.5703, 15.391),
        (6.0, 1e-10, 1, 40.528, 19.673, 84.81),
    ];
    for (thickness, diffusivity, faces, tau, half, ninety) in rows {
        let told = plate(&json!({"thickness_mm": thickness, "faces": faces, "diffusivity_m2_s": diffusivity}));
        close_percent(number(&told, "/time_constant_h"), tau, 0.5);
        close_percent(number(&told, "/half_h"), half, 0.5);
        close_percent(number(&told, "/ninety_percent_h"), ninety, 0.5);
    }
    // softwood where nothing is said
    let usual = plate(&json!({"thickness_mm": 2.8, "faces": 2}));
    close_percent(number(&usual, "/time_constant_h"), 2.2066, 0.5);
}

#[test]
fn still_air_at_its_face_slows_a_plate() {
    for (faces, tau) in [(2, 5.828), (1, 15.805)] {
        let told = plate(&json!({"thickness_mm": 2.8, "faces": faces, "surface_film_m_s": 1e-7}));
        close_percent(number(&told, "/time_constant_h"), tau, 0.5);
        assert!(number(&told, "/half_h") < tau && number(&told, "/ninety_percent_h") > tau, "{told}");
    }
    // a film that hinders nothing is no film
    let free = plate(&json!({"thickness_mm": 2.8, "faces": 2, "surface_film_m_s": 0.01}));
    close_percent(number(&free, "/half_h"), 1.0711, 0.5);
    close_percent(number(&free, "/ninety_percent_h"), 4.6174, 0.5);
}

/// The same air warmed or cooled: RH₂ = RH₁·e_s(T₁)/e_s(T₂), Magnus form of WMO-No. 8.
#[test]
fn winter_air_is_told_as_it_will_be_indoors() {
    let indoors = |outside: f64, rh: f64, inside: f64| {
        let case = json!({"temperature_c": inside, "rh_percent": 50,
            "outside": {"temperature_c": outside, "rh_percent": rh}});
        answer("air", &case)["outside"].clone()
    };
    for (outside, rh, inside, expected) in
        [(5.0, 80.0, 21.0, 28.06), (0.5, 85.0, 22.0, 20.37), (-10.0, 80.0, 20.0, 9.82)]
    {
        let told = indoors(outside, rh, inside);
        close(number(&told, "/indoors_rh_percent"), expected, 0.3);
        assert_eq!(told["condensation"], false);
    }
    // a damp summer day in a cool cellar
    let told = indoors(30.0, 80.0, 18.0);
    assert_eq!(told["condensation"], true);
    close(number(&told, "/indoors_rh_percent"), 100.0, 0.0);
}
