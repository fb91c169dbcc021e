//! How an instrument is built, and what the plan makes of it: screws, two posts, shims, loose bridges, nuts, short
//! strings, courses, fanned boards. Pitches of threads: ISO 261/262:1998 and ASME B1.1-2003, read in secondary tables;
//! the geometry is similar triangles, computed by an independent script; the rest is common practice, no source.

use proptest::prelude::*;
use serde_json::{Value, json};
use thumbplane::calc::USUAL_TARGETS;
use thumbplane::setup::neck_shim::{NeckPocket, ShimAt};
use thumbplane::setup::plan::{HouseTargets, PlanInput, wished_heights};

use super::plan::{findings, has_cut, pair, steps};
use super::{answer, close, faults, number, numbers};

/// An instrument whose heights at the 12th stand so far over their targets (plus high), mm, everything else right.
fn off_target(family: &str, scale: f64, off: &[f64]) -> Value {
    let last = off.len() - 1;
    let (treble, bass) = (2.0, 2.5);
    let rows: Vec<Value> = off
        .iter()
        .enumerate()
        .map(|(place, off)| {
            let target = treble + (bass - treble) * place as f64 / last as f64;
            json!({"action_12_mm": vec![target + off; 3], "gap_at_1_stopped_at_3_mm": [0.1, 0.1, 0.1]})
        })
        .collect();
    json!({
        "instrument": {"family": family, "scale_mm": scale, "frets": 22, "body_fret": 16, "truss_rod": "two-way",
            "strings": vec![json!({}); off.len()]},
        "style": "medium",
        "air": {"temperature_c": 20, "rh_percent": 48},
        "targets": {"action_12_treble_mm": treble, "action_12_bass_mm": bass, "action_tolerance_mm": 0.0,
            "relief_mm": 0.0, "relief_least_mm": -0.5, "relief_most_mm": 0.5, "gap_least_mm": 0.0, "gap_mm": 0.1,
            "gap_most_mm": 0.5},
        "tool": {"resolution_mm": 0, "limit_mm": 0, "repeatability_mm": 0.0001, "repeatability_degrees_of_freedom": 100},
        "readings": {"relief_mm": [0, 0, 0], "strings": rows},
    })
}

fn set(case: &mut Value, name: &str, value: Value) {
    case["instrument"][name] = value;
}

fn step<'p>(plan: &'p Value, key: &str) -> &'p Value {
    let all = plan["steps"].as_array().unwrap();
    all.iter().find(|step| step["key"] == key).unwrap_or_else(|| panic!("no {key} in {plan}"))
}

/// L 648, set-back 2.5, the 12th to fall by 0.30: 0.6023 at the saddle; turns by the thread's pitch.
#[test]
fn amounts_are_told_in_turns_of_the_screw_to_the_eighth() {
    let mut case = off_target("electric", 648.0, &[0.3; 6]);
    set(&mut case, "saddle_setback_mm", json!(2.5));
    for (thread, pitch, turns, falls) in [
        ("M2.5", 0.45, 1.375, 0.3082),
        ("M3", 0.5, 1.25, 0.3113),
        ("4-40", 0.635, 1.0, 0.3163),
        ("M4", 0.7, 0.875, 0.3051),
        ("6-32", 0.79375, 0.75, 0.2965),
        ("M8", 1.25, 0.5, 0.3113),
    ] {
        set(&mut case, "screw_pitch_mm", json!(pitch));
        let plan = answer("plan", &case);
        let turn = step(&plan, "saddle-high");
        close(number(turn, "/turn_down_mm/0"), 0.6023, 1e-4);
        assert_eq!(number(turn, "/turns/0"), turns, "{thread}");
        close(number(turn, "/turns/0") * pitch / 2.007_716, falls, 1e-4);
    }
    case["instrument"].as_object_mut().unwrap().remove("screw_pitch_mm");
    assert!(
        step(&answer("plan", &case), "saddle-high")["turns"].is_null(),
        "of a screw nobody measured no turns are told"
    );
}

/// Wishes at the bridge: twice what is off at the 12th of a string without set-back.
fn two_post(positions: &[f64], wishes: &[f64], posts: (f64, f64)) -> Value {
    let off: Vec<f64> = wishes.iter().map(|wish| wish / 2.0).collect();
    let mut case = off_target("electric", 648.0, &off);
    set(&mut case, "bridge", json!("two-post"));
    set(&mut case, "post_positions_mm", json!({"treble": posts.0, "bass": posts.1}));
    for (place, position) in positions.iter().enumerate() {
        case["instrument"]["strings"][place]["position_mm"] = json!(position);
    }
    case
}

const FOUR: [f64; 4] = [0.0, 10.0, 20.0, 30.0];
const SIX: [f64; 6] = [0.0, 10.4, 20.8, 31.2, 41.6, 52.0];
const EIGHT: [f64; 8] = [0.0, 2.5, 13.0, 15.5, 26.0, 28.5, 39.0, 41.5];

/// Chebyshev's line through the wishes, evaluated at the posts: cases computed by an independent script, where all
/// triples and a linear programme agreed.
#[test]
fn two_posts_come_nearest_to_every_string() {
    type Case<'a> = (&'a [f64], &'a [f64], (f64, f64), [f64; 3]);
    let cases: [Case<'_>; 6] = [
        (&FOUR, &[0.4, 0.5, 0.6, 0.7], (-12.0, 42.0), [0.28, 0.82, 0.0]),
        (&FOUR, &[0.2, 0.6, 0.4, 0.8], (-12.0, 42.0), [0.23, 0.77, 0.15]),
        (&SIX, &[0.5, 0.35, 0.4, 0.45, 0.7, 0.6], (-11.0, 63.0), [0.3471, 0.7029, 0.1]),
        (&SIX, &[0.5, 0.35, 0.4, 0.45, 0.7, 0.6], (-8.0, 70.0), [0.3615, 0.7365, 0.1]),
        (&EIGHT, &[0.3, 0.34, 0.42, 0.38, 0.52, 0.5, 0.5, 0.64], (-10.0, 51.5), [0.1835, 0.6565, 0.0604]),
        (&SIX, &[0.3, 0.3, 0.3, 1.1, 0.3, 0.3], (-11.0, 63.0), [0.7, 0.7, 0.4]),
    ];
    for (positions, wishes, posts, [treble, bass, miss]) in cases {
        let plan = answer("plan", &two_post(positions, wishes, posts));
        let turn = step(&plan, "saddle-high");
        close(number(turn, "/posts_down_mm/treble"), treble, 1e-4);
        close(number(turn, "/posts_down_mm/bass"), bass, 1e-4);
        close(number(turn, "/posts_miss_mm"), miss, 1e-4);
        assert!(number(turn, "/posts_down_expanded_mm/treble") > 0.0, "{turn}");
    }
}

/// The trap: one unreachable string drags five others 0.40 too low. Without it the posts go 0.30, and 0.80 are its
/// notch's.
#[test]
fn one_string_that_no_post_reaches_does_not_drag_the_others() {
    let mut case = two_post(&SIX, &[0.3, 0.3, 0.3, 1.1, 0.3, 0.3], (-11.0, 63.0));
    set(&mut case, "screw_pitch_mm", json!(1.25));
    let plan = answer("plan", &case);
    let turn = step(&plan, "saddle-high");
    let without = &turn["posts_without"];
    assert_eq!(without["string"], 4);
    for (at, mm) in [("/treble_mm", 0.3), ("/bass_mm", 0.3), ("/miss_mm", 0.0), ("/notch_mm", 0.8)] {
        close(number(without, at), mm, 1e-9);
    }
    assert_eq!(without["turns"], json!({"treble": 0.25, "bass": 0.25}));
    assert!(turn["words"].as_str().unwrap().contains("String 4 is left out"), "{turn}");
    // its notch waits until the posts are set, and is then cut
    let notch = plan["steps"].as_array().unwrap().iter().find(|step| step["reversible"] == json!(false)).unwrap();
    assert_eq!(notch["state"], "after-measuring-again");
    let plan = answer("plan", &two_post(&SIX, &[0.0, 0.0, 0.0, 0.8, 0.0, 0.0], (-11.0, 63.0)));
    let notch = step(&plan, "saddle-high");
    close(number(notch, "/cut/strings/3/exact_mm"), 0.8, 1e-6);
    assert!(notch["cut"]["strings"][0]["exact_mm"].is_null() && notch["posts_down_mm"].is_null());
}

/// The treble post can go no further than 0.30.
#[test]
fn a_post_whose_travel_ends_is_set_there_and_the_other_makes_the_best_of_it() {
    let mut case = two_post(&SIX, &[0.5, 0.35, 0.4, 0.45, 0.7, 0.6], (-11.0, 63.0));
    case["targets"]["action_tolerance_mm"] = json!(0.1);
    case["readings"]["saddle_showing_mm"] = json!({"treble": [0.3, 0.3, 0.3], "bass": [5, 5, 5]});
    let plan = answer("plan", &case);
    let turn = step(&plan, "saddle-high");
    close(number(turn, "/posts_down_mm/treble"), 0.3, 1e-4);
    close(number(turn, "/posts_down_mm/bass"), 0.7868, 1e-4);
    close(number(turn, "/posts_miss_mm"), 0.1276, 1e-4);
    close(number(turn, "/travel_left_mm/treble"), 0.0, 1e-9);
    close(number(turn, "/travel_left_mm/bass"), 5.0 - 0.7868, 1e-4);
}

/// The least worst miss by trying every line through a pair of wishes, moved up or down to the middle of its misses:
/// the best line is parallel to one of them.
fn brute_force(positions: &[f64], wishes: &[f64]) -> f64 {
    let mut best = f64::INFINITY;
    for one in 0..wishes.len() {
        for other in one + 1..wishes.len() {
            let slope = (wishes[other] - wishes[one]) / (positions[other] - positions[one]);
            let over = positions.iter().zip(wishes).map(|(at, wish)| wish - slope * at);
            let (least, most) =
                over.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), over| (least.min(over), most.max(over)));
            best = best.min((most - least) / 2.0);
        }
    }
    best
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_other_setting_of_two_posts_misses_the_worst_string_by_less(
        wishes in prop::collection::vec(0.1_f64..1.5, 2..13), gaps in prop::collection::vec(2.0_f64..12.0, 13),
    ) {
        let positions: Vec<f64> = gaps.iter().scan(0.0, |at, gap| { let here = *at; *at += gap; Some(here) }).take(wishes.len()).collect();
        let plan = answer("plan", &two_post(&positions, &wishes, (-10.0, 200.0)));
        let turn = plan["steps"].as_array().unwrap().iter().find(|step| !step["posts_miss_mm"].is_null()).unwrap();
        let best = brute_force(&positions, &wishes);
        prop_assert!((number(turn, "/posts_miss_mm") - best).abs() < 1e-9, "{} is not {best}", turn["posts_miss_mm"]);
        // the posts told are a line that misses no string by more
        let (treble, bass) = (number(turn, "/posts_down_mm/treble"), number(turn, "/posts_down_mm/bass"));
        for (position, wish) in positions.iter().zip(&wishes) {
            let stands = treble + (bass - treble) * (position + 10.0) / 210.0;
            prop_assert!((stands - wish).abs() <= best + 1e-9);
        }
    }
}

/// Similar triangles on the heel's pivot; thickness in mm, angle in degrees.
#[test]
fn a_shim_is_as_thick_as_the_saddle_is_to_fall() {
    let first = NeckPocket { front: 400.0, rear: 476.0 };
    let bass = NeckPocket { front: 560.0, rear: 650.0 };
    for (pocket, at, change, saddle, strip, degrees, thick) in [
        (first, ShimAt::Rear, 1.5, 650.0, 0.0, 0.3438, 0.4560),
        (first, ShimAt::Rear, 1.5, 650.0, 12.0, 0.3438, 0.3840),
        (bass, ShimAt::Rear, 2.0093, 868.0, 0.0, 0.3738, 0.5871),
        (first, ShimAt::Front, 0.8, 650.0, 12.0, 0.2634, 0.2943),
    ] {
        let (angle, thickness) = pocket.shim(at, change, saddle, strip);
        close(angle.to_degrees(), degrees, 1e-4);
        close(thickness, thick, 1e-4);
    }
}

#[test]
fn a_bolted_neck_is_offered_its_shim_with_the_thickness() {
    // 0.75 high at the 12th of 648 without set-back is 1.5 at the saddle, which stands at 648
    let mut case = off_target("electric", 648.0, &[0.75; 6]);
    set(&mut case, "neck_joint", json!("bolted"));
    set(&mut case, "neck_pocket_mm", json!({"front": 400, "rear": 476}));
    case["observations"] = json!([{"key": "neck-angle"}]);
    let plan = answer("plan", &case);
    assert_eq!(plan["findings"][0]["service"], "neck-shim");
    let offer = step(&plan, "neck-angle");
    close(number(offer, "/shim_mm"), 1.5 / 248.0 * 76.0, 1e-6);
    assert!(offer["words"].as_str().unwrap().contains("0.46 mm at its rear edge"), "{offer}");
    // low strings want it at the front, or one taken out
    for row in case["readings"]["strings"].as_array_mut().unwrap() {
        row["action_12_mm"] = json!([1.25, 1.25, 1.25]);
    }
    let words = answer("plan", &case)["steps"][0]["words"].as_str().unwrap().to_owned();
    assert!(words.contains("take it out") && words.contains("front edge"), "{words}");
    // a glued neck is never shimmed, and a bolted one never reset
    set(&mut case, "neck_joint", json!("glued"));
    let plan = answer("plan", &case);
    assert!(plan["findings"][0]["service"] == "neck-reset" && step(&plan, "neck-angle")["shim_mm"].is_null());
}

fn banjo(cents: &[f64], scale: f64) -> Value {
    let mut case = off_target("banjo", scale, &vec![0.0; cents.len()]);
    for (place, cents) in cents.iter().enumerate() {
        case["instrument"]["strings"][place]["position_mm"] = json!(10.5 * place as f64);
        case["readings"]["strings"][place]["cents_at_12"] = json!([cents, cents, cents]);
    }
    case
}

/// Exact where only lengths differ, ℓ12 = L/2.
#[test]
fn a_loose_bridge_moves_by_what_the_cents_at_the_12th_ask() {
    for (scale, cents, mm) in
        [(670.0, 12.0, 4.6929), (670.0, -7.0, -2.6927), (648.0, 15.0, 5.6884), (352.0, 10.0, 2.0510)]
    {
        let plan = answer("plan", &banjo(&[cents; 4], scale));
        let moved = step(&plan, "intonation-off");
        close(number(moved, "/move_bridge_mm/treble"), mm, 1e-4);
        close(number(moved, "/move_bridge_mm/bass"), mm, 1e-4);
        assert_eq!((&moved["reversible"], &moved["state"]), (&json!(true), &json!("now")));
    }
    let plan = answer("plan", &banjo(&[2.0, 5.0, 6.0, 11.0], 670.0));
    let moved = step(&plan, "intonation-off");
    close(number(moved, "/move_bridge_mm/treble"), 0.3805, 1e-4);
    close(number(moved, "/move_bridge_mm/bass"), 3.9032, 1e-4);
    close(number(moved, "/move_bridge_miss_mm"), 0.3948, 1e-4);
    // a short fifth has its own octave and no say
    let mut with_fifth = banjo(&[2.0, 5.0, 6.0, 11.0, -40.0], 670.0);
    with_fifth["instrument"]["strings"][4]["starts_at_fret"] = json!(5);
    with_fifth["targets"]["action_tolerance_mm"] = json!(0.05);
    with_fifth["readings"]["strings"][4]["action_12_mm"] = json!([1.715, 1.715, 1.715]);
    let fifth = answer("plan", &with_fifth);
    assert_eq!(step(&fifth, "intonation-off")["move_bridge_mm"], moved["move_bridge_mm"]);
    // a mandolin's wheels stand on its top too; a plank's posts do not move
    let mut mandolin = banjo(&[12.0; 4], 352.0);
    set(&mut mandolin, "family", json!("mandolin"));
    assert!(step(&answer("plan", &mandolin), "intonation-off")["move_bridge_mm"].is_object());
    set(&mut mandolin, "family", json!("electric"));
    set(&mut mandolin, "bridge", json!("two-post"));
    assert!(step(&answer("plan", &mandolin), "intonation-off")["move_bridge_mm"].is_null());
}

/// A banjo's fifth from the 5th fret: what is read at the 12th is worth 3.0068 at the bridge, 3.0248 with a set-back
/// of 3.
#[test]
fn a_short_fifth_has_its_own_length() {
    for (setback, k) in [(0.0, 3.0068), (3.0, 3.0248)] {
        let mut case = off_target("banjo", 670.0, &[0.0, 0.0, 0.0, 0.0, 0.4]);
        set(&mut case, "saddle_setback_mm", json!(setback));
        case["instrument"]["strings"][4]["starts_at_fret"] = json!(5);
        // wished: as the bridge lets it that carries a whole string at 2.5, both beginning 0.1/0.647238 high
        let pip = 0.1 / 0.647_238;
        let wished = pip + (2.5 - pip) * ((670.0 + setback) / 335.0) / k;
        case["readings"]["strings"][4]["action_12_mm"] = json!(vec![wished + 0.4; 3]);
        let plan = answer("plan", &case);
        close(number(step(&plan, "saddle-high"), "/cut/strings/4/exact_mm"), 0.4 * k, 5e-4);
    }
    let input = json!({"place": "saddle", "scale_mm": 670, "showing_mm": {"treble": 9, "bass": 9}, "least_showing_mm": 0,
        "strings": [{"position_mm": 0, "action_12_mm": 3, "target_mm": 2, "standard_uncertainty_mm": 0, "starts_at_fret": 5}]});
    close(number(&answer("cut", &input), "/strings/0/exact_mm"), 3.0068, 1e-4);
    // similar triangles are the same on its own scale as on any: 0.647238 of the gap at its own first, stopped at its third
    let nut = json!({"place": "nut", "scale_mm": 670, "strings": [{"gap_at_1_stopped_at_3_mm": 0.647238, "target_mm": 0,
        "standard_uncertainty_mm": 0, "starts_at_fret": 5}]});
    close(number(&answer("cut", &nut), "/strings/0/exact_mm"), 1.0, 1e-5);
}

#[test]
fn what_lies_before_a_short_string_is_neither_asked_nor_planned() {
    let mut case = off_target("banjo", 670.0, &[0.0; 5]);
    case["instrument"]["strings"][4]["starts_at_fret"] = json!(5);
    case["observations"] = json!([{"key": "buzz", "string": 5, "fret": 3}]);
    assert_eq!(faults("plan", &case.to_string())[0].0, "/observations/0/fret");
    for fret in [0, 6, 12] {
        case["observations"] = json!([{"key": "buzz", "string": 5, "fret": fret}]);
        assert!(answer("plan", &case)["findings"].is_array());
    }
}

/// Each string of a fanned board against its own equal temperament: 648 to 686 over 52 mm.
#[test]
fn every_string_of_a_fanned_board_has_its_own_frame() {
    let scales = [648.0, 655.6, 663.2, 670.8, 678.4, 686.0];
    let firsts = [36.3694, 36.796, 37.2226, 37.6491, 38.0757, 38.5022];
    let mut case = off_target("electric", 648.0, &[0.3; 6]);
    set(&mut case, "scale_bass_mm", json!(686));
    set(&mut case, "saddle_setback_mm", json!(2.5));
    for (place, position) in SIX.iter().enumerate() {
        case["instrument"]["strings"][place]["position_mm"] = json!(position);
        case["readings"]["strings"][place]["cents_at_12"] = json!([10.0, 10.0, 10.0]);
    }
    let plan = answer("plan", &case);
    let turned = numbers(step(&plan, "saddle-high"), "/turn_down_mm");
    for ((scale, first), turned) in scales.iter().zip(firsts).zip(turned) {
        // equal temperament of that scale alone: the 12th half-way, the 1st at L(1 − 2^(−1/12))
        close(scale * (1.0 - (-1.0_f64 / 12.0).exp2()), first, 1e-4);
        close(turned, 0.3 * (scale + 2.5) / (scale / 2.0), 1e-9);
    }
    for string in 0..6 {
        case["readings"]["strings"][string]["action_12_mm"] = json!(vec![2.0 + 0.1 * string as f64; 3]);
    }
    let plan = answer("plan", &case);
    let added = numbers(step(&plan, "intonation-off"), "/setback_to_add_mm");
    for (scale, added) in scales.iter().zip(added) {
        close(added, 10.0 * scale * 2_f64.ln() / 1200.0, 1e-9);
    }
    // a nut's amount follows from its own first fret too
    let open = json!({"place": "nut", "scale_mm": 648, "strings": [
        {"first_fret_mm": 0.6, "target_mm": 0.5, "standard_uncertainty_mm": 0},
        {"first_fret_mm": 0.6, "target_mm": 0.5, "standard_uncertainty_mm": 0, "scale_mm": 686, "saddle_setback_mm": 3}]});
    let cut = answer("cut", &open);
    close(number(&cut, "/strings/0/exact_mm"), 0.1 / (1.0 - 36.3694 / 648.0), 1e-6);
    close(number(&cut, "/strings/1/exact_mm"), 0.1 / (1.0 - 38.5022 / 689.0), 1e-6);
}

#[test]
fn strings_of_one_course_share_a_target() {
    let mut case = off_target("mandolin", 352.0, &[0.0; 8]);
    for (place, row) in case["readings"]["strings"].as_array_mut().unwrap().iter_mut().enumerate() {
        // pairs of one height, from 2.0 to 2.5 by course
        let height = 2.0 + 0.5 * (place / 2) as f64 / 3.0;
        row["action_12_mm"] = json!([height, height, height]);
    }
    assert!(findings(&answer("plan", &case)).iter().any(|(key, _)| key.starts_with("saddle-")), "spread over eight");
    for place in 0..8 {
        case["instrument"]["strings"][place]["course"] = json!(place / 2 + 1);
    }
    assert!(findings(&answer("plan", &case)).is_empty(), "{}", answer("plan", &case));
    case["instrument"]["strings"][7]["course"] = json!(7);
    assert_eq!(faults("plan", &case.to_string())[0].0, "/instrument/strings");
}

#[test]
fn todays_set_back_is_told_where_it_was_read_and_said_to_be_unknown_where_not() {
    let mut case = off_target("electric", 648.0, &[0.0; 6]);
    for row in case["readings"]["strings"].as_array_mut().unwrap() {
        row["cents_at_12"] = json!([6.0, 6.0, 6.0]);
    }
    let words = |plan: &Value| step(plan, "intonation-off")["words"].as_str().unwrap().to_owned();
    let unknown = answer("plan", &case);
    assert!(step(&unknown, "intonation-off")["setback_now_mm"].is_null());
    assert!(words(&unknown).contains("Only what to add is known"), "{}", words(&unknown));
    case["readings"]["strings"][1]["from_12_to_saddle_mm"] = json!([326.4, 326.6]);
    let known = answer("plan", &case);
    close(number(step(&known, "intonation-off"), "/setback_now_mm/1"), 326.5 - 324.0, 1e-9);
    assert!(step(&known, "intonation-off")["setback_now_mm"][0].is_null());
    assert!(words(&known).contains("beyond half the scale by 2.5"), "{}", words(&known));
    case["readings"]["strings"][1]["from_12_to_saddle_mm"] = json!([300]);
    assert_eq!(faults("plan", &case.to_string())[0].0, "/readings/strings/1/from_12_to_saddle_mm/0");
}

#[test]
fn a_clamping_nut_goes_up_as_one_and_no_slot_is_filed() {
    let mut case = off_target("electric", 648.0, &[0.0; 4]);
    set(&mut case, "nut", json!("clamping"));
    case["targets"]["gap_least_mm"] = json!(0.08);
    for (place, position) in FOUR.iter().enumerate() {
        case["instrument"]["strings"][place]["position_mm"] = json!(position);
        // 0.647238 of gap for each millimetre at the nut: 0.10 too low at the treble, 0.04 at the bass
        let low = 0.647_238 * (0.1 - 0.002 * position);
        case["readings"]["strings"][place]["gap_at_1_stopped_at_3_mm"] = json!([0.1 - low, 0.1 - low, 0.1 - low]);
    }
    let plan = answer("plan", &case);
    let raised = step(&plan, "nut-low");
    close(number(raised, "/raise_nut_mm/treble"), 0.1, 1e-6);
    close(number(raised, "/raise_nut_mm/bass"), 0.04, 1e-6);
    assert_eq!((&raised["reversible"], has_cut(&plan)), (&json!(true), false));
    assert!(
        !steps(&plan).iter().any(|(key, _)| *key == "polish-slots"),
        "nothing is polished that nobody touched: {:?}",
        steps(&plan)
    );
}

/// A zero fret carries the strings: open over the 1st they stand at 0.056126 of the saddle's height, 0.2021 at 3.6.
#[test]
fn before_a_zero_fret_the_nut_only_guides() {
    let mut case = off_target("electric", 648.0, &[0.0; 6]);
    set(&mut case, "nut", json!("zero-fret"));
    case["targets"]["action_12_treble_mm"] = json!(1.8);
    case["targets"]["action_12_bass_mm"] = json!(1.8);
    for row in case["readings"]["strings"].as_array_mut().unwrap() {
        *row = json!({"action_12_mm": [1.8, 1.8, 1.8], "first_fret_mm": [0.2021, 0.2021, 0.2021]});
    }
    let plan = answer("plan", &case);
    assert!(findings(&plan).is_empty(), "no gap is asked for, and none is planned by: {plan}");
    for row in case["readings"]["strings"].as_array_mut().unwrap() {
        row["first_fret_mm"] = json!([0.1, 0.1, 0.1]);
    }
    let plan = answer("plan", &case);
    assert_eq!(steps(&plan)[0], pair("frets-worn", "now"));
    // 0.1021 lower over the 1st of a string that is held at the 12th
    let (x_1, x_12) = (36.3694, 324.0);
    close(number(&plan, "/findings/0/numbers/zero_fret_mm"), -0.1021 * x_12 / (x_12 - x_1), 2e-4);
    assert!(!has_cut(&plan));
}

#[test]
fn every_new_field_that_cannot_be_is_refused_at_its_place() {
    let rows: [(&str, Value); 16] = [
        ("/instrument/bridge", json!("rope")),
        ("/instrument/nut", json!("soft")),
        ("/instrument/neck_joint", json!("welded")),
        ("/instrument/screw_pitch_mm", json!(0)),
        ("/instrument/post_positions_mm", json!({"treble": 60, "bass": -10})),
        ("/instrument/post_positions_mm/bass", json!({"treble": 0, "bass": 9000})),
        ("/instrument/scale_bass_mm", json!(9)),
        ("/instrument/neck_pocket_mm", json!({"front": 480, "rear": 400})),
        ("/instrument/neck_pocket_mm", json!({"front": 600, "rear": 700})),
        ("/instrument/strings/1/starts_at_fret", json!(10)),
        ("/instrument/strings", json!([{"course": 1}, {}, {}, {}, {}, {}])),
        ("/readings/strings/0/from_12_to_saddle_mm/0", json!([1])),
        ("/tool/repeatability_mm", json!(-1)),
        ("/tool/repeatability_degrees_of_freedom", json!(0)),
        ("/instrument/course", json!(1)),
        ("/tool/repeatability", json!(0.03)),
    ];
    for (pointer, value) in rows {
        let mut case = off_target("electric", 648.0, &[0.0; 6]);
        case["tool"] = json!({"resolution_mm": 0.01, "repeatability_mm": 0.02, "repeatability_degrees_of_freedom": 12});
        let at = match pointer {
            "/instrument/post_positions_mm/bass" => "/instrument/post_positions_mm",
            "/readings/strings/0/from_12_to_saddle_mm/0" => "/readings/strings/0/from_12_to_saddle_mm",
            other => other,
        };
        let (parent, field) = at.rsplit_once('/').unwrap();
        case.pointer_mut(parent).unwrap()[field] = value.clone();
        let found = faults("plan", &case.to_string());
        assert!(found.iter().any(|(at, _)| at == pointer), "{pointer} = {value}: {found:?}");
    }
    // one without the other is half a figure
    let mut case = off_target("electric", 648.0, &[0.0; 6]);
    case["tool"] = json!({"resolution_mm": 0.01, "repeatability_mm": 0.02});
    assert_eq!(faults("plan", &case.to_string())[0].0, "/tool/repeatability_degrees_of_freedom");
}

/// Unisons of one course are wished one height; the page asks the same list as the plan.
#[test]
fn strings_of_one_course_are_wished_one_height() {
    let house = HouseTargets::read(USUAL_TARGETS).unwrap();
    let mut case = off_target("mandolin", 352.0, &[0.0; 8]);
    for place in 0..8_usize {
        case["instrument"]["strings"][place]["course"] = json!(place / 2 + 1);
    }
    let input: PlanInput = serde_json::from_value(case).unwrap();
    let targets = house.of(input.instrument.family, input.style).unwrap();
    let wished = wished_heights(&input.instrument, &targets);
    for pair in wished.chunks(2) {
        assert_eq!(pair[0], pair[1]);
    }
    close(wished[0].action_12_mm, targets.action_12_treble_mm, 1e-12);
    close(wished[7].action_12_mm, targets.action_12_bass_mm, 1e-12);
}
