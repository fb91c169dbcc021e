//! Clearance and pluck, against tables worked out independently (d'Alembert's solution, brute force and
//! 4000 Fourier terms agree to a nanometre).

use serde_json::{Value, json};

use super::{answer, close, faults, number, numbers};
use crate::support::paired;

/// Scale 648, 20 frets, body joint at 14, relief 0.20, plucked 0.5 mm at 110 mm from the saddle.
fn guitar() -> Value {
    json!({"scale_mm": 648, "frets": 20, "body_fret": 14, "relief_mm": 0.20,
        "strings": [{"first_fret_mm": 0.45, "action_12_mm": 2.0}],
        "pluck": {"at_fraction_from_saddle": 110.0 / 648.0, "amplitude_mm": 0.5}})
}

/// Scale 864, 20 frets, body joint at 17, relief 0.30, plucked 0.6 mm at 100 mm from the saddle.
fn bass() -> Value {
    json!({"scale_mm": 864, "frets": 20, "body_fret": 17, "relief_mm": 0.30,
        "strings": [{"first_fret_mm": 0.5, "action_12_mm": 2.3}],
        "pluck": {"at_fraction_from_saddle": 100.0 / 864.0, "amplitude_mm": 0.6}})
}

fn check_spare(worked: &Value, rows: &[(usize, &[f64])]) {
    for (fret, expected) in rows {
        let spare = numbers(worked, &format!("/strings/0/stopped/{fret}/spare_mm"));
        for (spare, expected) in paired(spare, *expected) {
            close(spare, *expected, 0.001);
        }
    }
}

fn check_largest(worked: &Value, rows: &[(usize, f64, u64)]) {
    for (fret, largest, touches) in rows {
        let at = format!("/strings/0/stopped/{fret}");
        close(number(worked, &format!("{at}/largest_clean_pluck_mm")), *largest, 0.001);
        assert_eq!(worked.pointer(&format!("{at}/touches_fret")), Some(&json!(touches)), "stopped at {fret}");
    }
}

#[test]
fn a_guitar_has_the_tabled_clearance() {
    let worked = answer("clearance", &guitar());
    close(number(&worked, "/strings/0/nut_mm"), 0.263_87, 1e-4);
    close(number(&worked, "/strings/0/saddle_mm"), 3.580_18, 1e-4);
    let open = [
        0.4500, 0.7017, 0.9226, 1.1164, 1.2862, 1.4347, 1.5644, 1.6776, 1.7761, 1.8616, 1.9358, 2.0000, 2.0553, 2.1029,
        2.1858, 2.2641, 2.3380, 2.4077, 2.4735, 2.5356,
    ];
    for (gap, expected) in paired(numbers(&worked, "/strings/0/stopped/0/clearance_mm"), open) {
        close(gap, expected, 0.0001);
    }
    check_spare(
        &worked,
        &[
            (
                0,
                &[
                    0.285, 0.380, 0.454, 0.638, 0.835, 1.009, 1.162, 1.298, 1.418, 1.524, 1.617, 1.699, 1.737, 1.769,
                    1.837, 1.901, 1.961, 2.018, 2.072, 2.123,
                ],
            ),
            (
                1,
                &[
                    0.121, 0.218, 0.296, 0.445, 0.641, 0.815, 0.970, 1.109, 1.232, 1.341, 1.439, 1.526, 1.569, 1.647,
                    1.722, 1.792, 1.858, 1.920, 1.979,
                ],
            ),
            (
                5,
                &[
                    0.097, 0.178, 0.245, 0.300, 0.414, 0.569, 0.710, 0.838, 0.954, 1.101, 1.240, 1.372, 1.459, 1.542,
                    1.620,
                ],
            ),
            (9, &[0.087, 0.162, 0.228, 0.284, 0.333, 0.435, 0.612, 0.778, 0.936, 1.084, 1.224]),
            (12, &[0.085, 0.160, 0.270, 0.373, 0.470, 0.562, 0.649, 0.799]),
        ],
    );
    check_largest(
        &worked,
        &[
            (0, 0.984, 3),
            (1, 0.834, 4),
            (3, 0.836, 6),
            (5, 0.829, 9),
            (7, 0.840, 12),
            (9, 0.879, 14),
            (12, 0.999, 14),
            (15, 1.445, 16),
        ],
    );
}

#[test]
fn a_bass_has_the_tabled_clearance() {
    let worked = answer("clearance", &bass());
    close(number(&worked, "/strings/0/nut_mm"), 0.298_46, 1e-4);
    close(number(&worked, "/strings/0/saddle_mm"), 3.889_28, 1e-4);
    check_spare(
        &worked,
        &[
            (
                0,
                &[
                    0.209, 0.226, 0.477, 0.734, 0.961, 1.162, 1.340, 1.497, 1.635, 1.758, 1.866, 1.961, 2.006, 2.044,
                    2.075, 2.100, 2.120, 2.181, 2.239, 2.293,
                ],
            ),
            (
                1,
                &[
                    0.045, 0.068, 0.277, 0.530, 0.755, 0.955, 1.134, 1.293, 1.435, 1.561, 1.673, 1.773, 1.823, 1.866,
                    1.903, 1.933, 2.005, 2.072, 2.136,
                ],
            ),
            (
                5,
                &[
                    0.037, 0.060, 0.092, 0.309, 0.506, 0.684, 0.846, 0.992, 1.125, 1.246, 1.355, 1.455, 1.552, 1.643,
                    1.729,
                ],
            ),
            (12, &[0.048, 0.089, 0.122, 0.149, 0.236, 0.441, 0.635, 0.818]),
        ],
    );
    check_largest(
        &worked,
        &[
            (0, 0.840, 2),
            (1, 0.677, 3),
            (3, 0.676, 5),
            (5, 0.685, 7),
            (7, 0.688, 10),
            (9, 0.717, 12),
            (12, 0.767, 16),
            (15, 0.871, 17),
        ],
    );
}

#[test]
fn on_a_flat_board_frets_tie_and_the_lowest_is_named() {
    let mut flat = guitar();
    flat["relief_mm"] = json!(0);
    let worked = answer("clearance", &flat);
    let saddle_mm = number(&worked, "/strings/0/saddle_mm");
    close(saddle_mm, 3.745_99, 1e-4);
    // each fret clears its neighbour alike: z_L (1 − 2^(−1/12))
    for fret in 1..20 {
        close(number(&worked, &format!("/strings/0/stopped/{fret}/clearance_mm/0")), 0.056_126 * saddle_mm, 1e-5);
    }
    check_largest(
        &worked,
        &[
            (0, 0.864, 3),
            (1, 0.674, 2),
            (3, 0.756, 4),
            (5, 0.849, 6),
            (7, 0.953, 8),
            (9, 1.069, 10),
            (12, 1.272, 13),
            (15, 1.512, 16),
        ],
    );
}

/// d'Alembert on the stopped string, followed through one whole period: the deepest the string comes
/// over each fret is what the parallelogram says.
#[test]
fn no_moment_of_the_vibration_goes_deeper_than_the_bound() {
    const MOMENTS: u32 = 4000;
    let (scale, distance) = (648.0, 110.0);
    for (direction, sign) in [("towards", 1.0), ("away", -1.0)] {
        let mut case = guitar();
        case["pluck"]["direction"] = json!(direction);
        let worked = answer("clearance", &case);
        for fret in [0, 3, 7, 12] {
            let position =
                |fret: usize| scale * (1.0 - (-f64::from(u32::try_from(fret).expect("small")) / 12.0).exp2());
            let sounding = scale - position(fret);
            let triangle = |s: f64| {
                if s <= distance { s / distance } else { (sounding - s) / (sounding - distance) }
            };
            // odd and periodic over twice the length
            let continued = |s: f64| {
                let s = s.rem_euclid(2.0 * sounding);
                if s <= sounding { triangle(s) } else { -triangle(2.0 * sounding - s) }
            };
            let gaps = numbers(&worked, &format!("/strings/0/stopped/{fret}/clearance_mm"));
            let spare = numbers(&worked, &format!("/strings/0/stopped/{fret}/spare_mm"));
            for (beyond, (gap, spare)) in (fret + 1..).zip(paired(gaps, spare)) {
                let s = scale - position(beyond);
                let deepest = (0..MOMENTS)
                    .map(|moment| 2.0 * sounding * f64::from(moment) / f64::from(MOMENTS))
                    .map(|shift| sign * f64::midpoint(continued(s - shift), continued(s + shift)))
                    .fold(f64::NEG_INFINITY, f64::max);
                close(spare, gap - 0.5 * deepest, 0.002);
            }
        }
    }
}

#[test]
fn an_unknown_direction_counts_as_the_worse_of_both() {
    let towards_and_away = ["towards", "away", "either"].map(|direction| {
        let mut case = guitar();
        case["pluck"]["direction"] = json!(direction);
        numbers(&answer("clearance", &case), "/strings/0/stopped/4/spare_mm")
    });
    let [towards, away, either] = towards_and_away;
    for fret in 0..either.len() {
        close(either[fret], towards[fret].min(away[fret]), 0.0);
    }
}

#[test]
fn a_pluck_behind_the_stopping_finger_has_no_answer() {
    let mut case = guitar();
    case["pluck"]["at_fraction_from_saddle"] = json!(0.45);
    let worked = answer("clearance", &case);
    for fret in 0..20 {
        let stopped = &worked["strings"][0]["stopped"][fret];
        assert_eq!(stopped["largest_clean_pluck_mm"].is_null(), fret >= 14, "stopped at {fret}");
        assert_eq!(stopped["spare_mm"].is_null(), fret >= 14, "stopped at {fret}");
        assert!(stopped["clearance_mm"].is_array(), "stopped at {fret}");
    }
}

#[test]
fn without_a_pluck_there_is_clearance_only() {
    let mut case = guitar();
    case.as_object_mut().expect("an object").remove("pluck");
    let stopped = answer("clearance", &case)["strings"][0]["stopped"][3].clone();
    let fields: std::collections::BTreeSet<&str> =
        stopped.as_object().expect("an object").keys().map(String::as_str).collect();
    assert_eq!(fields.into_iter().collect::<Vec<_>>(), ["clearance_mm", "fret"]);
}

#[test]
fn a_fret_that_stands_too_high_leaves_no_clean_pluck_and_is_named() {
    let mut case = guitar();
    case["high_frets_mm"] = json!({"7": 0.4});
    let worked = answer("clearance", &case);
    assert_eq!(worked.pointer("/strings/0/stopped/6/touches_fret"), Some(&json!(7)));
    close(number(&worked, "/strings/0/stopped/6/largest_clean_pluck_mm"), 0.0, 0.0);
    assert!(number(&worked, "/strings/0/stopped/6/clearance_mm/0") < 0.0);
}

#[test]
fn a_relief_that_no_neck_has_is_refused() {
    let input = json!({"scale_mm": 650, "frets": 20, "body_fret": 14, "relief_mm": 15,
        "strings": [{"first_fret_mm": 0.5, "action_12_mm": 2.0}]});
    assert_eq!(faults("clearance", &input.to_string())[0].0, "/relief_mm");
}
