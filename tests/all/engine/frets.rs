//! Fret positions of equal temperament.

use serde_json::json;

use super::{answer, close, numbers};
use crate::support::paired;

/// x = L(1 − 2^(−n/12)), frets 1 to 24 on scales of 648, 650, 345 and 864 mm.
const POSITIONS: [[f64; 4]; 24] = [
    [36.369, 36.482, 19.363, 48.493],
    [70.698, 70.916, 37.640, 94.264],
    [103.099, 103.417, 54.891, 137.465],
    [133.682, 134.095, 71.173, 178.243],
    [162.549, 163.050, 86.542, 216.731],
    [189.795, 190.381, 101.048, 253.060],
    [215.512, 216.177, 114.740, 287.349],
    [239.786, 240.526, 127.664, 319.714],
    [262.697, 263.508, 139.862, 350.263],
    [284.322, 285.200, 151.375, 379.096],
    [304.734, 305.674, 162.243, 406.312],
    [324.000, 325.000, 172.500, 432.000],
    [342.185, 343.241, 182.182, 456.246],
    [359.349, 360.458, 191.320, 479.132],
    [375.550, 376.709, 199.945, 500.733],
    [390.841, 392.047, 208.087, 521.121],
    [405.274, 406.525, 215.771, 540.366],
    [418.897, 420.190, 223.024, 558.530],
    [431.756, 433.089, 229.870, 575.675],
    [443.893, 445.263, 236.332, 591.857],
    [455.348, 456.754, 242.431, 607.131],
    [466.161, 467.600, 248.188, 621.548],
    [476.367, 477.837, 253.621, 635.156],
    [486.000, 487.500, 258.750, 648.000],
];

#[test]
fn frets_lie_where_the_tables_put_them() {
    for (column, scale_mm) in [648, 650, 345, 864].into_iter().enumerate() {
        let positions = numbers(&answer("frets", &json!({"scale_mm": scale_mm, "frets": 24})), "/positions_mm");
        for (position, row) in paired(positions, POSITIONS) {
            close(position, row[column], 0.0005 + 1e-9);
        }
    }
}

/// The 17.817 of the trade: G. Byers, "Classic guitar intonation", American Lutherie 47 (1996).
#[test]
fn the_first_fret_divides_the_scale_by_17_817() {
    let positions = numbers(&answer("frets", &json!({"scale_mm": 1000, "frets": 12})), "/positions_mm");
    close(1000.0 / positions[0], 17.817_154, 1e-6);
    // and the octave halves the string
    close(positions[11], 500.0, 1e-9);
}

/// The rule of eighteen (V. Galilei, quoted by Barbour, Tuning and Temperament, p. 57) makes a semitone
/// of 98.955 cents: its frets lie a little behind ours, and its 12th falls short of the octave.
#[test]
fn the_rule_of_eighteen_falls_short_of_equal_temperament() {
    let positions = numbers(&answer("frets", &json!({"scale_mm": 648, "frets": 12})), "/positions_mm");
    let of_eighteen = |fret: i32| 648.0 * (1.0 - (17.0_f64 / 18.0).powi(fret));
    for (fret, expected) in [(5, 161.081), (7, 213.680), (12, 321.644)] {
        close(of_eighteen(fret), expected, 0.0005 + 1e-9);
    }
    let mistuned = 1200.0 * ((648.0 - positions[11]) / (648.0 - of_eighteen(12))).log2();
    close(mistuned, -12.54, 0.01);
}
