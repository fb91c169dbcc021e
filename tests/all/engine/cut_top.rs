//! The top of a nut or saddle over a curved board: circle and cone geometry, worked by hand.

use serde_json::{Value, json};
use thumbplane::setup::board::{BoardRadius, fall_mm, over_chord_mm, over_fanned_line_mm};

use super::{answer, close, number, numbers};
use crate::support::paired;

/// R 305: fall at 26 mm, and six strings over the chord of the outer two, by R − √(R² − w²).
#[test]
fn strings_stand_over_the_chord_of_the_outer_two() {
    close(fall_mm(305.0, 26.0), 1.110_22, 1e-4);
    for (from_middle, expected) in
        [(26.0, 0.0), (15.6, 0.711_01), (5.2, 1.065_89), (-5.2, 1.065_89), (-15.6, 0.711_01), (-26.0, 0.0)]
    {
        close(over_chord_mm(305.0, from_middle, 26.0), expected, 1e-4);
    }
}

/// A cone of 254 at the nut and 406 at 480 mm has 459.2 at 648 mm.
#[test]
fn a_compound_board_flattens_on_to_the_saddle() {
    close(BoardRadius { nut: 254.0, end: 406.0, end_at_mm: 480.0 }.at_mm(648.0), 459.2, 1e-3);
}

/// A cylinder of 305 under an outer string 18 from the middle at the nut and 27 at the saddle stands 0.03347
/// over the straight line half-way; the rule (w₂ − w₁)²/(8R) says 0.03320. On a cone that widens as the
/// strings do it is nothing.
#[test]
fn a_cylinder_stands_over_a_string_that_fans_out() {
    let over = over_fanned_line_mm((305.0, 305.0), (18.0, 27.0));
    close(over, 0.033_47, 1e-4);
    close(over, (27.0_f64 - 18.0).powi(2) / (8.0 * 305.0), 3e-4);
    close(over_fanned_line_mm((254.0, 381.0), (18.0, 27.0)), 0.0, 1e-9);
}

fn saddle(actions: [Option<f64>; 6], target_mm: f64) -> Value {
    let positions = [0.0, 10.4, 20.8, 31.2, 41.6, 52.0];
    let strings: Vec<Value> = paired(positions, actions)
        .map(|(position, action)| {
            json!({"position_mm": position, "action_12_mm": action, "target_mm": target_mm,
                "standard_uncertainty_mm": 0.01})
        })
        .collect();
    json!({"place": "saddle", "scale_mm": 648, "strings": strings, "showing_mm": {"treble": 4, "bass": 4},
        "least_showing_mm": 1, "board_radius_mm": {"nut": 305, "end": 305, "end_at_mm": 480}})
}

/// Same height at every string, square to the board: radius of the top = radius of the board + height.
#[test]
fn strings_of_one_height_lie_on_the_boards_radius_and_that_height() {
    let worked = answer("cut", &saddle([Some(2.0); 6], 2.0));
    close(number(&worked, "/top/board_radius_mm"), 305.0, 1e-9);
    close(number(&worked, "/top/top_radius_mm"), 309.0, 1e-9);
    for string in 0..6 {
        let of = |name: &str| number(&worked, &format!("/top/strings/{string}/{name}"));
        close(of("present_over_chord_mm"), of("ideal_over_chord_mm"), 1e-9);
        close(of("after_cut_over_chord_mm"), of("ideal_over_chord_mm"), 1e-9);
    }
    // √(309² − 5.2²) − √(309² − 26²)
    close(number(&worked, "/top/strings/2/ideal_over_chord_mm"), 1.052_04, 1e-4);
    close(number(&worked, "/top/strings/0/ideal_over_chord_mm"), 0.0, 1e-9);
}

#[test]
fn a_saddle_too_round_is_shaped_until_it_follows_the_board() {
    // the middle strings 0.1 too high at the 12th: 0.2 at the saddle
    let high = [Some(2.0), Some(2.0), Some(2.1), Some(2.1), Some(2.0), Some(2.0)];
    let worked = answer("cut", &saddle(high, 2.0));
    let ideal = number(&worked, "/top/strings/2/ideal_over_chord_mm");
    close(number(&worked, "/top/strings/2/present_over_chord_mm"), ideal + 0.2, 1e-3);
    close(number(&worked, "/top/strings/2/after_cut_over_chord_mm"), ideal, 1e-9);
    close(number(&worked, "/strings/2/on_top_mm"), 0.2, 1e-9);
}

#[test]
fn without_an_outer_strings_reading_no_height_over_the_chord_is_told() {
    let worked = answer("cut", &saddle([None, Some(2.0), Some(2.0), Some(2.0), Some(2.0), Some(2.0)], 2.0));
    let strings = worked["top"]["strings"].as_array().expect("a list");
    assert_eq!(strings.len(), 6);
    assert!(
        strings.iter().all(|string| string.get("present_over_chord_mm").is_some_and(Value::is_null)),
        "{strings:?}"
    );
    close(number(&worked, "/top/strings/2/ideal_over_chord_mm"), 1.052_04, 1e-4);
}

#[test]
fn a_compound_board_gives_each_end_its_own_radius() {
    let mut case = saddle([Some(2.0); 6], 2.0);
    case["board_radius_mm"] = json!({"nut": 254, "end": 406, "end_at_mm": 480});
    case["spread_at_other_end_mm"] = json!(36);
    let worked = answer("cut", &case);
    close(number(&worked, "/top/board_radius_mm"), 459.2, 1e-3);
    assert!(number(&worked, "/top/board_over_fanned_line_mm").abs() < 0.05);

    let strings: Vec<Value> = [0, 12, 24, 36]
        .iter()
        .map(|position| {
            json!({"position_mm": position, "gap_at_1_stopped_at_3_mm": 0.12, "target_mm": 0.06,
                "standard_uncertainty_mm": 0.01})
        })
        .collect();
    let nut = answer(
        "cut",
        &json!({"place": "nut", "scale_mm": 648, "strings": strings,
            "board_radius_mm": {"nut": 254, "end": 406, "end_at_mm": 480}}),
    );
    close(number(&nut, "/top/board_radius_mm"), 254.0, 1e-9);
    close(number(&nut, "/top/top_radius_mm"), 254.0 + 0.06 / 0.647_238, 1e-4);
    // √(R² − 6²) − √(R² − 18²) with R 254.093
    close(number(&nut, "/top/strings/1/ideal_over_chord_mm"), 0.567_5, 1e-3);
}

#[test]
fn on_a_flat_board_nothing_is_said_of_an_arc() {
    let mut flat = saddle([Some(2.0); 6], 2.0);
    flat.as_object_mut().expect("an object").remove("board_radius_mm");
    let worked = answer("cut", &flat);
    assert!(worked.get("top").is_none());
    assert_eq!(numbers(&worked, "/raise").len(), 0);
}
