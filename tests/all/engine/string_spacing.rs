//! Equal gaps between strings of different thickness.

use serde_json::json;

use super::{answer, close, number, numbers};
use crate::support::paired;

/// A six-string nut of 36 mm between the outer centres, gauges in mm: worked by hand.
#[test]
fn the_clear_space_is_equal_not_the_centres() {
    let diameters = [1.29, 1.02, 0.76, 0.56, 0.41, 0.30];
    let worked = answer("string-spacing", &json!({"outer_centres_mm": 36, "diameters_mm": diameters}));
    let positions = numbers(&worked, "/positions_mm");
    for (found, expected) in paired(&positions, [0.0, 7.646, 15.027, 22.178, 29.154, 36.0]) {
        close(*found, expected, 1e-3);
    }
    let gap = number(&worked, "/gap_mm");
    for (pair, thick) in paired(positions.windows(2), diameters.windows(2)) {
        close(pair[1] - pair[0] - thick[0] / 2.0 - thick[1] / 2.0, gap, 1e-9);
    }
}

#[test]
fn strings_of_one_thickness_stand_at_even_steps() {
    let worked = answer("string-spacing", &json!({"outer_centres_mm": 30, "diameters_mm": [0.5, 0.5, 0.5, 0.5]}));
    assert_eq!(numbers(&worked, "/positions_mm"), [0.0, 10.0, 20.0, 30.0]);
    close(number(&worked, "/gap_mm"), 9.5, 1e-12);
}
