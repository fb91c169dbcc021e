//! How much comes off: worked numbers of the guard band, of similar triangles, and the rules of the bench.

use serde_json::{Value, json};

use super::{answer, close, faults, number, numbers};
use crate::support::paired;

/// One string over a saddle of a scale where the 12th feels exactly half.
fn one_string(action_12_mm: f64, target_mm: f64, uncertainty: f64, degrees_of_freedom: Option<u32>) -> Value {
    json!({"place": "saddle", "scale_mm": 648, "showing_mm": {"treble": 4, "bass": 4}, "least_showing_mm": 1,
        "strings": [{"position_mm": 0, "action_12_mm": action_12_mm, "target_mm": target_mm,
            "standard_uncertainty_mm": uncertainty, "degrees_of_freedom": degrees_of_freedom}]})
}

fn first_pass(case: &Value) -> f64 {
    number(&answer("cut", case), "/strings/0/first_pass_mm")
}

/// One-sided guard band in the sense of JCGM 106:2012 and ISO 14253-1:2017; quantiles 1.960 and, at five
/// degrees of freedom, 2.571. At the saddle: 0.62 to come off, u 0.02 of the reading, 0.03 of the cut.
#[test]
fn the_first_pass_keeps_a_guard_band_and_is_rounded_down() {
    close(first_pass(&one_string(2.41, 2.10, 0.01, None)), 0.54, 1e-9);
    close(first_pass(&one_string(2.41, 2.10, 0.01, Some(5))), 0.52, 1e-9);

    let mut finer = one_string(2.41, 2.10, 0.01, None);
    finer["step_mm"] = json!(0.001);
    close(first_pass(&finer), 0.549, 1e-9);

    // action 2.70 (u 0.03), target 2.10, u of the cut 0.05: 1.0469 of a full 1.20
    let mut doubled = one_string(2.70, 2.10, 0.03, None);
    doubled["cut_uncertainty_mm"] = json!(0.05);
    doubled["step_mm"] = json!(0.001);
    close(first_pass(&doubled), 1.046, 1e-9);
    close(number(&answer("cut", &doubled), "/strings/0/exact_mm"), 1.20, 1e-9);
}

#[test]
fn where_the_guard_band_eats_all_nothing_is_cut() {
    // 0.05 to come off at the saddle, u 0.03 of the reading there and 0.03 of the cut
    close(first_pass(&one_string(0.575, 0.55, 0.015, None)), 0.0, 0.0);
    close(first_pass(&one_string(1.9, 2.1, 0.01, None)), 0.0, 0.0);
}

#[test]
fn a_smaller_risk_or_a_worse_reading_makes_a_smaller_first_pass() {
    let mut previous = f64::INFINITY;
    for risk in [0.2, 0.05, 0.025, 0.01, 0.001] {
        let mut case = one_string(2.6, 2.1, 0.03, Some(6));
        case["first_pass_risk"] = json!(risk);
        let amount = first_pass(&case);
        assert!(amount < previous, "risk {risk}: {amount}");
        previous = amount;
    }
    let mut previous = f64::INFINITY;
    for uncertainty in [0.0, 0.02, 0.04, 0.08] {
        let amount = first_pass(&one_string(2.6, 2.1, uncertainty, Some(6)));
        assert!(amount < previous, "u {uncertainty}: {amount}");
        previous = amount;
    }
}

/// Similar triangles: 0.647238 of the nut shows in the gap, 0.943874 in the open height, on any scale.
#[test]
fn the_nut_loses_more_than_the_gap_shows() {
    for scale_mm in [345, 648, 864] {
        let case = json!({"place": "nut", "scale_mm": scale_mm, "strings": [
            {"gap_at_1_stopped_at_3_mm": 0.18, "target_mm": 0.06, "standard_uncertainty_mm": 0.01},
            {"first_fret_mm": 0.62, "target_mm": 0.45, "standard_uncertainty_mm": 0.01},
        ]});
        let worked = answer("cut", &case);
        close(number(&worked, "/strings/0/exact_mm"), 0.185_40, 1e-4);
        close(number(&worked, "/strings/1/exact_mm"), 0.17 / 0.943_874, 1e-5);
        assert!(worked.get("foot").is_none());
    }
}

#[test]
fn the_saddle_loses_twice_what_the_twelfth_shows_and_a_little_for_its_set_back() {
    let mut case = one_string(2.40, 2.10, 0.0, None);
    case["saddle_setback_mm"] = json!(2.5);
    close(number(&answer("cut", &case), "/strings/0/exact_mm"), 0.6023, 1e-4);
}

#[test]
fn the_nut_is_never_cut_below_its_least() {
    let case = json!({"place": "nut", "scale_mm": 648, "strings": [
        {"gap_at_1_stopped_at_3_mm": 0.30, "target_mm": 0.06, "standard_uncertainty_mm": 0.0, "most_removal_mm": 0.2},
    ], "cut_uncertainty_mm": 0});
    let worked = answer("cut", &case);
    close(number(&worked, "/strings/0/exact_mm"), 0.2, 0.0);
    close(number(&worked, "/strings/0/first_pass_mm"), 0.2, 1e-9);
}

#[test]
fn a_low_nut_is_raised_on_at_most_two_shims() {
    let raised_by = |amount_mm: f64| {
        let gap = 0.40 - amount_mm * 0.647_238_4;
        answer(
            "cut",
            &json!({"place": "nut", "scale_mm": 648, "shim_mm": 0.1, "strings": [
                {"gap_at_1_stopped_at_3_mm": 0.45, "target_mm": 0.40, "standard_uncertainty_mm": 0.01},
                {"gap_at_1_stopped_at_3_mm": gap, "target_mm": 0.40, "standard_uncertainty_mm": 0.01},
            ]}),
        )
    };
    for (amount_mm, shims, stops) in [(0.05, 1, 0), (0.15, 2, 0), (0.199, 2, 0), (0.201, 3, 1), (0.45, 5, 1)] {
        let worked = raised_by(amount_mm);
        assert_eq!(worked["raise"].as_array().map(Vec::len), Some(1), "{amount_mm}");
        assert_eq!(worked["raise"][0]["string"], 2, "{amount_mm}");
        assert_eq!(worked["raise"][0]["shims"], shims, "{amount_mm}");
        close(number(&worked, "/raise/0/mm"), amount_mm, 1e-6);
        assert_eq!(worked["stops"].as_array().map(Vec::len), Some(stops), "{amount_mm}");
    }
    assert_eq!(raised_by(0.45)["stops"][0]["key"], "nut-beyond-shims");
}

/// 0.4 mm at the saddle is exactly two shims of 0.2, not a hair more.
#[test]
fn an_amount_that_is_a_whole_number_of_shims_takes_no_shim_more() {
    let mut case = one_string(1.9, 2.1, 0.01, None);
    case["shim_mm"] = json!(0.2);
    assert_eq!(answer("cut", &case)["raise"][0]["shims"], 2);
}

fn six_strings(actions: [Option<f64>; 6], showing: f64) -> Value {
    let strings: Vec<Value> = actions
        .iter()
        .enumerate()
        .map(|(place, action)| {
            json!({"position_mm": 10.0 * place as f64, "action_12_mm": action, "target_mm": 2.0,
                "standard_uncertainty_mm": 0.01, "degrees_of_freedom": null})
        })
        .collect();
    json!({"place": "saddle", "scale_mm": 648, "strings": strings,
        "showing_mm": {"treble": showing, "bass": showing}, "least_showing_mm": 1.0})
}

#[test]
fn an_even_excess_comes_off_the_foot_alone() {
    let worked = answer("cut", &six_strings([Some(2.3); 6], 4.0));
    close(number(&worked, "/foot/treble_mm"), 0.6, 1e-9);
    close(number(&worked, "/foot/bass_mm"), 0.6, 1e-9);
    close(number(&worked, "/left_showing_mm/treble"), 3.4, 1e-9);
    for string in 0..6 {
        close(number(&worked, &format!("/strings/{string}/on_top_mm")), 0.0, 1e-9);
    }
    assert_eq!(worked["stops"], json!([]));
}

#[test]
fn a_string_that_was_not_read_is_not_cut() {
    let mut actions = [Some(2.3); 6];
    actions[2] = None;
    let worked = answer("cut", &six_strings(actions, 4.0));
    assert!(worked["strings"][2]["exact_mm"].is_null());
    close(number(&worked, "/strings/2/first_pass_mm"), 0.0, 0.0);
    let at_it = number(&worked, "/foot/treble_mm") * 0.6 + number(&worked, "/foot/bass_mm") * 0.4;
    close(at_it, 0.0, 1e-9);
    // the others' amounts remain, to shape on top
    close(number(&worked, "/strings/5/on_top_mm"), 0.6, 1e-6);
}

#[test]
fn a_low_string_is_raised_and_the_foot_leaves_it_alone() {
    let mut actions = [Some(2.3); 6];
    actions[5] = Some(1.8);
    let worked = answer("cut", &six_strings(actions, 4.0));
    close(number(&worked, "/raise/0/mm"), 0.4, 1e-9);
    assert_eq!(worked["raise"][0]["shims"], 2);
    close(number(&worked, "/foot/bass_mm"), 0.0, 1e-9);
    close(number(&worked, "/foot/treble_mm"), 0.6, 1e-9);
}

#[test]
fn a_spent_saddle_stops_the_cutting_and_keeps_its_least() {
    let enough = answer("cut", &six_strings([Some(2.3); 6], 1.6));
    assert_eq!(enough["stops"], json!([]));
    close(number(&enough, "/left_showing_mm/bass"), 1.0, 1e-9);

    let spent = answer("cut", &six_strings([Some(2.3); 6], 1.5));
    assert_eq!(spent["stops"][0]["key"], "saddle-spent");
    // foot and top together would leave 0.9: that is why it stops
    close(number(&spent, "/left_showing_mm/bass"), 0.9, 1e-9);
    close(number(&spent, "/foot/bass_mm"), 0.5, 1e-9);
    close(number(&spent, "/strings/0/exact_mm"), 0.6, 1e-9);

    // a saddle that is low already but needs no cut stops nothing
    let low = answer("cut", &six_strings([Some(2.0); 6], 0.8));
    assert_eq!(low["stops"], json!([]));
    close(number(&low, "/left_showing_mm/bass"), 0.8, 1e-9);
}

#[test]
fn a_crowned_excess_leaves_a_crown_to_shape_on_top() {
    let crowned = [Some(2.2), Some(2.3), Some(2.35), Some(2.35), Some(2.3), Some(2.2)];
    let worked = answer("cut", &six_strings(crowned, 4.0));
    close(number(&worked, "/foot/treble_mm"), 0.4, 1e-9);
    close(number(&worked, "/foot/bass_mm"), 0.4, 1e-9);
    for (string, expected) in [0.0, 0.2, 0.3, 0.3, 0.2, 0.0].into_iter().enumerate() {
        close(number(&worked, &format!("/strings/{string}/on_top_mm")), expected, 1e-9);
    }
    assert!(numbers(&worked, "/raise").is_empty());
}

/// What comes off the top comes off what shows, too: a difference.
#[test]
fn what_is_left_showing_counts_what_comes_off_the_top() {
    // the foot rests on the second string; string 1 loses twice as much, the rest of it on top
    let worked = answer("cut", &six_strings([Some(2.4), Some(2.1), Some(2.1), Some(2.1), Some(2.1), Some(2.3)], 4.0));
    let (foot, on_top) = (number(&worked, "/foot/treble_mm"), number(&worked, "/strings/0/on_top_mm"));
    assert!(on_top > 0.3, "{worked}");
    close(foot + on_top, number(&worked, "/strings/0/exact_mm"), 1e-9);
    close(number(&worked, "/left_showing_mm/treble"), 4.0 - 0.8, 1e-9);
    close(number(&worked, "/left_showing_mm/bass"), 4.0 - 0.6, 1e-9);
}

/// Where several straight cuts take equally much, the one that tilts least is told.
#[test]
fn of_equal_cuts_the_foot_takes_the_flattest() {
    let three = |actions: [f64; 3], treble_showing: f64| {
        let strings: Vec<Value> = paired([0, 10, 20], actions)
            .map(|(position, action)| {
                json!({"position_mm": position, "action_12_mm": action, "target_mm": 2, "standard_uncertainty_mm": 0.01})
            })
            .collect();
        answer(
            "cut",
            &json!({"place": "saddle", "scale_mm": 648, "strings": strings,
                "showing_mm": {"treble": treble_showing, "bass": 5}, "least_showing_mm": 1}),
        )
    };
    // only the middle string binds: any tilt through it takes the same
    let worked = three([3.0, 2.2, 3.0], 5.0);
    close(number(&worked, "/foot/treble_mm"), 0.4, 1e-9);
    close(number(&worked, "/foot/bass_mm"), 0.4, 1e-9);
    // string 1, or what its end of the saddle can lose, forbids the level one
    for worked in [three([2.1, 2.2, 3.0], 5.0), three([2.5, 2.2, 2.35], 1.2)] {
        close(number(&worked, "/foot/treble_mm"), 0.2, 1e-9);
        close(number(&worked, "/foot/bass_mm"), 0.6, 1e-9);
    }
}

/// Expanded uncertainty as in JCGM 100:2008 (GUM) 6.2.1 with the factors of its Table G.2 for 95 %: 1.960,
/// at 5 degrees of freedom 2.571, at 14 2.145. 0.03 of the reading is 0.06 at the saddle; with 0.05 of the
/// cutting √(0.06² + 0.05²) = 0.0781.
#[test]
fn every_amount_says_its_expanded_uncertainty() {
    let mut case = one_string(2.70, 2.10, 0.03, None);
    case["cut_uncertainty_mm"] = json!(0.05);
    let worked = answer("cut", &case);
    close(number(&worked, "/strings/0/expanded_mm"), 1.960 * 0.078_102, 1e-5);
    // the foot rests on this string alone
    close(number(&worked, "/foot/treble_expanded_mm"), 1.960 * 0.078_102, 1e-5);
    close(number(&worked, "/left_showing_expanded_mm/bass"), 1.960 * 0.078_102, 1e-5);

    case["strings"][0]["degrees_of_freedom"] = json!(5);
    let worked = answer("cut", &case);
    close(number(&worked, "/strings/0/expanded_mm"), 2.571 * 0.078_102, 1e-4);
    // Welch–Satterthwaite (GUM G.4.1): 0.0781⁴/(0.06⁴/5) = 14.36; between 14 (2.145) and 15 (2.131) of the table,
    // which G.4.1's first note lets one interpolate
    close(number(&worked, "/foot/treble_expanded_mm"), (2.145 - 0.36 * 0.014) * 0.078_102, 1e-4);
    assert!(worked["foot_first_pass"]["treble_expanded_mm"].is_null(), "what is chosen is not unsure");
}

/// Each end follows the readings it rests on: here one string each, of different uncertainty.
#[test]
fn each_end_of_the_foot_is_as_unsure_as_the_readings_it_rests_on() {
    let case = json!({"place": "saddle", "scale_mm": 648, "cut_uncertainty_mm": 0.03, "least_showing_mm": 1,
        "showing_mm": {"treble": 4, "bass": 5}, "showing_expanded_mm": {"treble": 0.1, "bass": 0.0}, "strings": [
            {"position_mm": 0, "action_12_mm": 2.2, "target_mm": 2, "standard_uncertainty_mm": 0.02},
            {"position_mm": 50, "action_12_mm": 2.6, "target_mm": 2, "standard_uncertainty_mm": 0.04}]});
    let worked = answer("cut", &case);
    let (treble, bass) = (1.960 * 0.05, 1.960 * 0.085_44);
    close(number(&worked, "/foot/treble_expanded_mm"), treble, 1e-5);
    close(number(&worked, "/foot/bass_expanded_mm"), bass, 1e-5);
    // what shows was read too
    close(number(&worked, "/left_showing_expanded_mm/treble"), treble.hypot(0.1), 1e-5);
    close(number(&worked, "/left_showing_expanded_mm/bass"), bass, 1e-5);
}

fn straight(change: impl Fn(usize) -> f64) -> Value {
    let strings: Vec<Value> = (0..6)
        .map(|place| {
            let at = place as f64;
            json!({"position_mm": 10.0 * at, "action_12_mm": 2.5 + 0.05 * at + change(place), "target_mm": 2,
                "standard_uncertainty_mm": 0.02})
        })
        .collect();
    json!({"place": "saddle", "scale_mm": 648, "cut_uncertainty_mm": 0.03, "least_showing_mm": 1,
        "showing_mm": {"treble": 4, "bass": 5}, "strings": strings})
}

/// Where every string's amount lies on the cut neither end is a guess from two neighbours: the outer two carry it,
/// and the inner ones, which may each become the one that holds it up, add a little.
#[test]
fn a_foot_that_every_string_agrees_on_is_about_as_sure_at_its_ends_as_their_own_readings() {
    let worked = answer("cut", &straight(|_| 0.0));
    // 0.02 at the 12th is 0.04 at the saddle; with 0.03 of the cutting √(0.04² + 0.03²) = 0.05
    for end in ["treble", "bass"] {
        let expanded = number(&worked, &format!("/foot/{end}_expanded_mm"));
        assert!((1.960 * 0.05..1.960 * 0.05 * 1.15).contains(&expanded), "{end}: {expanded}");
    }
}

/// A hair's change of a reading may change the strings on which the cut rests; what is said of it changes by a hair.
#[test]
fn how_sure_the_foot_is_does_not_jump_on_a_hairs_change_of_a_reading() {
    let hair = 1e-6;
    for (one, other) in [(2, 3), (1, 4), (2, 4), (0, 3), (3, 3)] {
        let moved = |by: f64| answer("cut", &straight(|place| if place == one || place == other { by } else { 0.0 }));
        let (under, over) = (moved(-hair), moved(hair));
        for end in ["treble", "bass"] {
            let at = format!("/foot/{end}_expanded_mm");
            close(number(&over, &at), number(&under, &at), 100.0 * hair);
        }
    }
    // nor where a cut begins at all
    let begins = |by: f64| answer("cut", &one_string(2.0 + by, 2.0, 0.0, None));
    close(number(&begins(hair), "/foot/treble_expanded_mm"), 0.0, 10.0 * hair);
    close(number(&begins(-hair), "/foot/treble_expanded_mm"), 0.0, 0.0);
}

#[test]
fn a_raise_is_as_unsure_as_the_amount_and_a_string_that_was_not_read_says_nothing() {
    let mut case = one_string(1.9, 2.1, 0.01, Some(5));
    let worked = answer("cut", &case);
    close(number(&worked, "/raise/0/expanded_mm"), number(&worked, "/strings/0/expanded_mm"), 0.0);
    close(number(&worked, "/raise/0/expanded_mm"), 2.571 * 0.02_f64.hypot(0.03), 1e-4);
    case["strings"][0]["action_12_mm"] = json!(null);
    let worked = answer("cut", &case);
    assert!(worked["strings"][0].get("expanded_mm").is_none(), "{worked}");
    close(number(&worked, "/foot/treble_expanded_mm"), 0.0, 0.0);
}

#[test]
fn a_cut_beyond_the_whole_saddle_is_refused_and_says_where() {
    let input = json!({"place": "saddle", "scale_mm": 650, "showing_mm": {"treble": 3.6, "bass": 4.4}, "least_showing_mm": 2,
        "strings": [{"position_mm": 0, "action_12_mm": 23, "target_mm": 1.85, "standard_uncertainty_mm": 0.02}]});
    let faults = faults("cut", &input.to_string());
    assert!(faults[0].0.starts_with("/showing_mm/") && faults[0].1.contains("beyond the material"), "{faults:?}");
}
