//! Intonation against published numbers of Anderson and Beausoleil, "Classical guitar intonation and
//! compensation", J. Acoust. Soc. Am. 156 (2024) 683 ("AB" below), and against tables worked out
//! independently from their formulas.

use serde_json::{Value, json};
use thumbplane::setup::intonation::{Chain, IntonationInput, IntonationOutput, SetBacks, intonation};

use super::{close, close_percent};
use crate::support::paired;

/// Frets of the columns below.
const COLUMNS: [usize; 8] = [1, 2, 3, 5, 7, 9, 12, 15];

fn steel() -> Value {
    json!({"scale_mm": 648, "frets": 20, "first_fret_mm": 0.5, "action_12_mm": 2.0,
        "string": {"pitch": "B3", "material": "steel", "diameter_mm": 0.330}})
}

fn wound() -> Value {
    json!({"scale_mm": 648, "frets": 20, "first_fret_mm": 0.55, "action_12_mm": 2.4,
        "string": {"pitch": "E2", "linear_density_g_m": 9.1695, "core_diameter_mm": 0.43, "modulus_gpa": 200}})
}

fn nylon() -> Value {
    json!({"scale_mm": 650, "frets": 19, "first_fret_mm": 0.7, "action_12_mm": 3.0,
        "string": {"pitch": "G3", "material": "nylon", "diameter_mm": 1.02, "modulus_gpa": 5}})
}

fn gut() -> Value {
    json!({"scale_mm": 640, "frets": 18, "first_fret_mm": 0.6, "action_12_mm": 2.8,
        "string": {"pitch": "B3", "material": "gut", "diameter_mm": 0.80}})
}

/// The case with some fields changed.
fn with(mut case: Value, changes: Value) -> Value {
    if let (Value::Object(fields), Value::Object(changes)) = (&mut case, changes) {
        for (name, change) in changes {
            let before = fields.remove(&name).unwrap_or_else(|| json!({}));
            let after = if change.is_object() { with(before, change) } else { change };
            fields.insert(name, after);
        }
    }
    case
}

fn input(case: &Value) -> IntonationInput {
    serde_json::from_value(case.clone()).expect("a case is an input")
}

fn solve(case: &Value) -> IntonationOutput {
    intonation(&input(case)).expect("a case can be solved")
}

#[test]
fn notes_are_as_sharp_as_the_tables_say() {
    let rows = [
        (steel(), [1.415, 1.641, 2.036, 2.997, 4.115, 5.382, 7.592, 10.225]),
        (
            with(steel(), json!({"saddle_setback_mm": 2.8296})),
            [0.960, 0.710, 0.599, 0.456, 0.333, 0.208, 0.000, -0.246],
        ),
        (
            with(steel(), json!({"saddle_setback_mm": 2.5, "nut_setback_mm": -0.3})),
            [0.222, 0.023, -0.030, -0.046, -0.025, 0.011, 0.083, 0.170],
        ),
        (
            with(steel(), json!({"relief_mm": 0.25, "body_fret": 14})),
            [1.415, 1.957, 2.532, 3.661, 4.766, 5.872, 7.596, 9.709],
        ),
        (with(steel(), json!({"clamped_ends": 2})), [1.620, 2.067, 2.695, 4.164, 5.852, 7.761, 11.082, 15.037]),
        (wound(), [1.916, 2.337, 2.962, 4.439, 6.142, 8.069, 11.424, 15.419]),
        (nylon(), [1.004, 1.404, 1.905, 3.047, 4.349, 5.820, 8.379, 11.431]),
        (
            with(nylon(), json!({"saddle_setback_mm": 2.5, "nut_setback_mm": -0.3})),
            [-0.190, -0.213, -0.159, 0.007, 0.214, 0.453, 0.874, 1.379],
        ),
        (gut(), [0.548, 0.820, 1.140, 1.859, 2.673, 3.589, 5.175, 7.057]),
    ];
    for (case, expected) in rows {
        let cents = solve(&case).cents;
        for (fret, expected) in paired(COLUMNS, expected) {
            close(cents[fret - 1], expected, 0.01);
        }
    }
}

#[test]
fn a_finger_six_millimetres_behind_the_fret_sharpens_a_little_more() {
    let chain = Chain::new(&input(&steel()), 6.0).expect("a chain");
    let cents = chain.cents(SetBacks { saddle_setback_mm: 0.0, nut_setback_mm: 0.0 });
    let expected = [1.668, 1.768, 2.138, 3.090, 4.216, 5.500, 7.746, 10.433];
    for (fret, expected) in paired(COLUMNS, expected) {
        close(cents[fret - 1], expected, 0.01);
    }
}

#[test]
fn each_cause_has_its_share() {
    let steel = solve(&steel()).parts;
    let nylon = solve(&nylon()).parts;
    let rows = [
        (steel[11], [-0.089, 0.016, 4.092, 3.572]),
        (nylon[11], [-0.201, 0.037, 2.578, 5.965]),
        (steel[0], [-0.008, 0.005, 1.209, 0.209]),
    ];
    for (parts, [length, mass, tension, stiffness]) in rows {
        close(parts.length, length, 0.001);
        close(parts.mass, mass, 0.001);
        close(parts.tension, tension, 0.001);
        close(parts.stiffness, stiffness, 0.001);
    }
}

#[test]
fn set_backs_are_found_that_bring_all_frets_into_tune() {
    // best saddle, best pair, root mean square before and after, best pair over 12 frets
    let rows = [
        (steel(), 2.8296, [2.5605, -0.2808], [8.431, 0.069], [2.5012, -0.3067]),
        (wound(), 4.2497, [3.8828, -0.3790], [12.707, 0.077], [3.8209, -0.4059]),
        (nylon(), 3.1270, [2.9842, -0.1494], [8.748, 0.036], [2.9525, -0.1630]),
        (gut(), 1.9060, [1.8267, -0.0782], [5.001, 0.012], [1.8232, -0.0795]),
    ];
    for (case, saddle, pair, [before, after], pair_of_12) in rows {
        let solved = solve(&case);
        close(solved.best_saddle_setback_mm, saddle, 0.003);
        close(solved.best_pair.saddle_setback_mm, pair[0], 0.003);
        close(solved.best_pair.nut_setback_mm, pair[1], 0.003);
        close(solved.rms_cents.without, before, 0.01);
        close(solved.rms_cents.with_best_pair, after, 0.01);

        let of_12 = solve(&with(case, json!({"frets": 12}))).best_pair;
        close(of_12.saddle_setback_mm, pair_of_12[0], 0.003);
        close(of_12.nut_setback_mm, pair_of_12[1], 0.003);
    }
}

/// ε = √(EI/(TL²)), the inharmonicity coefficient π²ε² of Fletcher and Rossing, The Physics of Musical
/// Instruments, and κ = EA/T.
#[test]
fn stiffness_and_stretch_follow_from_the_core() {
    let rows = [
        (steel(), 0.002_007_98, 3.9794e-5, 248.749),
        (wound(), 0.002_764_53, 7.5429e-5, 277.699),
        (nylon(), 0.003_282_62, 1.063_51e-4, 70.015),
        (gut(), 0.002_123_98, 4.4525e-5, 46.195),
    ];
    for (case, stiffness, inharmonicity, stretch) in rows {
        let solved = solve(&case);
        close_percent(solved.stiffness, stiffness, 0.1);
        close_percent((std::f64::consts::PI * solved.stiffness).powi(2), inharmonicity, 0.1);
        close_percent(solved.stretch_ratio, stretch, 0.1);
    }
}

#[test]
fn nylon_without_a_modulus_uses_the_measured_stretch_ratio_of_fifty() {
    let mut case = nylon();
    case["string"].as_object_mut().expect("a string").remove("modulus_gpa");
    close(solve(&case).stretch_ratio, 50.0, 0.0);
    // and so does a wound string of unknown core (AB measured plain and wound alike)
    let mut case = wound();
    case["string"].as_object_mut().expect("a string").remove("modulus_gpa");
    close(solve(&case).stretch_ratio, 50.0, 0.0);
}

/// A string as AB describe it: scale 650, b over the fret tops at the nut and b + c at the saddle.
fn of_the_paper(b: f64, c: f64, stretch_ratio: f64, diameter_mm: f64) -> Value {
    let height = |fret: i32| b + c * (1.0 - (-f64::from(fret) / 12.0).exp2());
    json!({"scale_mm": 650, "frets": 12, "first_fret_mm": height(1), "action_12_mm": height(12),
        "string": {"pitch": "G3", "linear_density_g_m": 0.9, "diameter_mm": diameter_mm, "stretch_ratio": stretch_ratio}})
}

/// AB: 24 L² Q̄ = 77.9 b² + 35.6 bc + 5.82 c², the mean stretch over twelve frets; ΔS ≈ ε₀L = 1.54 and
/// ΔN ≈ −κLQ̄/2 = −0.51 for b 1, c 4, κ 51, ε₀ 0.00236.
#[test]
fn pressing_a_string_stretches_it_as_published() {
    // ε = √κ·d/(4L)
    let diameter_mm = 0.002_36 * 4.0 * 650.0 / 51.0_f64.sqrt();
    let solved = solve(&of_the_paper(1.0, 4.0, 51.0, diameter_mm));
    let stretch = |mass_cents: f64| (mass_cents / 600.0).exp2() - 1.0;
    let mean = solved.parts.iter().map(|parts| stretch(parts.mass)).sum::<f64>() / 12.0;
    close_percent(24.0 * 650.0 * 650.0 * mean, 77.9 + 35.6 * 4.0 + 5.82 * 16.0, 0.3);
    close(-51.0 * 650.0 * mean / 2.0, -0.51, 0.005);
    close(solved.stiffness * 650.0, 1.54, 0.01);
}

/// AB's least squares over twelve frets, to first order: ΔS = ε₀L + κ/(4L)(−9.848 b² + 2bc + c²),
/// ΔN = −κ/(2L)(5.633 b² + bc). A thin, low and very stretchy string leaves little else.
#[test]
fn the_best_pair_is_the_published_one_where_first_order_holds() {
    let (b, c, stretch_ratio, diameter_mm) = (0.1, 0.4, 2000.0_f64, 0.02);
    let pair = solve(&of_the_paper(b, c, stretch_ratio, diameter_mm)).best_pair;
    let end_correction = stretch_ratio.sqrt() * diameter_mm / 4.0;
    let saddle = end_correction + stretch_ratio / 2600.0 * (-9.848 * b * b + 2.0 * b * c + c * c);
    let nut = -stretch_ratio / 1300.0 * (5.633 * b * b + b * c);
    close_percent(pair.saddle_setback_mm, saddle, 1.0);
    close_percent(pair.nut_setback_mm, nut, 1.0);
}

/// First order: 1 mm more at the saddle lowers the 12th of 648 by 2.7 cents and the 5th by 0.9; 0.1 mm
/// off the nut's front lowers every fretted note by 0.27.
#[test]
fn set_backs_do_what_the_rule_of_thumb_says() {
    let none = solve(&steel()).cents;
    let saddle = solve(&with(steel(), json!({"saddle_setback_mm": 1}))).cents;
    close(saddle[11] - none[11], -2.7, 0.06);
    close(saddle[4] - none[4], -0.9, 0.06);
    let nut = solve(&with(steel(), json!({"nut_setback_mm": -0.1}))).cents;
    for fret in 0..20 {
        close(nut[fret] - none[fret], -0.27, 0.02);
    }
}

#[test]
fn what_matters_most_is_the_held_end_then_modulus_then_heights() {
    let pick =
        |solved: &IntonationOutput| [solved.cents[0], solved.cents[4], solved.cents[11], solved.best_saddle_setback_mm];
    let rows = [
        (with(steel(), json!({"clamped_ends": 2})), steel(), [0.21, 1.17, 3.49, 1.29]),
        (with(nylon(), json!({"clamped_ends": 2})), nylon(), [0.34, 1.92, 5.74, 2.12]),
        (with(steel(), json!({"string": {"modulus_gpa": 220}})), steel(), [0.13, 0.24, 0.59, 0.22]),
        (with(nylon(), json!({"string": {"modulus_gpa": 5.5}})), nylon(), [0.08, 0.21, 0.56, 0.21]),
        (with(steel(), json!({"action_12_mm": 2.2})), steel(), [0.0, 0.28, 0.84, 0.31]),
        (with(nylon(), json!({"action_12_mm": 3.2})), nylon(), [0.0, 0.11, 0.33, 0.12]),
        (with(steel(), json!({"first_fret_mm": 0.6})), steel(), [0.53, 0.18, 0.0, 0.0]),
        (with(nylon(), json!({"first_fret_mm": 0.8})), nylon(), [0.20, 0.08, 0.0, 0.0]),
        (with(steel(), json!({"relief_mm": 0.25, "body_fret": 14})), steel(), [0.0, 0.66, 0.0, 0.0]),
        (with(nylon(), json!({"relief_mm": 0.25, "body_fret": 14})), nylon(), [0.0, 0.27, 0.0, 0.0]),
    ];
    for (place, (changed, before, expected)) in rows.into_iter().enumerate() {
        let (changed, before) = (pick(&solve(&changed)), pick(&solve(&before)));
        for column in 0..4 {
            let difference = changed[column] - before[column];
            assert!((difference - expected[column]).abs() < 0.02, "row {place}, column {column}: {difference}");
        }
    }
}

#[test]
fn the_best_saddle_puts_the_twelfth_in_tune_and_the_best_pair_cannot_be_bettered() {
    for case in [steel(), wound(), nylon(), gut()] {
        let case = with(case, json!({"nut_setback_mm": -0.2}));
        let solved = solve(&case);
        let at_best = solve(&with(case.clone(), json!({"saddle_setback_mm": solved.best_saddle_setback_mm})));
        close(at_best.cents[11], 0.0, 1e-6);

        let chain = Chain::new(&input(&case), 0.0).expect("a chain");
        let squares = |saddle_setback_mm: f64, nut_setback_mm: f64| {
            chain.cents(SetBacks { saddle_setback_mm, nut_setback_mm }).iter().map(|cents| cents * cents).sum::<f64>()
        };
        let best = solved.best_pair;
        let least = squares(best.saddle_setback_mm, best.nut_setback_mm);
        for (saddle, nut) in [(0.02, 0.0), (-0.02, 0.0), (0.0, 0.02), (0.0, -0.02), (0.02, 0.02), (-0.02, 0.02)] {
            assert!(squares(best.saddle_setback_mm + saddle, best.nut_setback_mm + nut) > least);
        }
    }
}

#[test]
fn the_best_set_back_is_as_sure_as_what_it_is_made_of() {
    // the shifts of the table above, each taken as one standard uncertainty and covered to 95 %
    let unsure = |case: Value, of: Value| {
        solve(&with(case, json!({"uncertainty": of}))).best_saddle_expanded_mm.expect("uncertainties were given")
    };
    for (case, by_modulus, by_height) in [(steel(), 0.22, 0.31), (nylon(), 0.21, 0.12)] {
        close(unsure(case.clone(), json!({"stretch_percent": 10})), 1.96 * by_modulus, 0.02);
        close(unsure(case.clone(), json!({"action_12_mm": 0.2})), 1.96 * by_height, 0.02);
        close(unsure(case.clone(), json!({"first_fret_mm": 0.1})), 0.0, 0.02);
        let both = unsure(case.clone(), json!({"stretch_percent": 10, "action_12_mm": 0.2}));
        close(both, 1.96 * f64::hypot(by_modulus, by_height), 0.03);
        assert_eq!(solve(&case).best_saddle_expanded_mm, None);
    }
    // ε and κ both grow with the square of the core: 1 % of it is worth 2 % of the modulus and a little
    let core = unsure(steel(), json!({"core_diameter_mm": 0.0033}));
    assert!(core > unsure(steel(), json!({"stretch_percent": 2.0})), "{core}");
    let problems = intonation(&input(&with(steel(), json!({"uncertainty": {"action_12_mm": -0.1}}))));
    assert_eq!(problems.expect_err("it is negative").0[0].pointer, "/uncertainty/action_12_mm");
}

#[test]
fn a_string_that_no_saddle_could_tune_is_refused_in_words() {
    let slack = json!({"scale_mm": 50, "frets": 60, "first_fret_mm": 0, "action_12_mm": 100,
        "string": {"pitch": "C-1", "material": "steel", "diameter_mm": 20}});
    let problems = intonation(&input(&slack)).expect_err("it cannot be tuned");
    assert_eq!(problems.0.first().map(|problem| problem.pointer.as_str()), Some("/string"));
}

/// Two other forms of the same inharmonicity: R. P. Feynman's letter on piano strings (published, Physics
/// Today 62(12), 2009), f(1 + (π/2)·E·A²·μ·f²/T²), and R. W. Young's 3.4·10¹³·d²/(f²·L⁴) cents for steel in
/// cm (JASA 24, 1952; quoted with a working constant).
#[test]
fn stiffness_is_feynmans_and_youngs() {
    let solved = solve(&steel());
    let inharmonicity = (std::f64::consts::PI * solved.stiffness).powi(2);
    let (frequency, diameter_m) = (246.9417_f64, 0.330e-3_f64);
    let area = std::f64::consts::PI * diameter_m * diameter_m / 4.0;
    let mass = solved.tension_n / (2.0 * 0.648 * frequency).powi(2);
    let feynman =
        std::f64::consts::FRAC_PI_2 * 200e9 * area * area * mass * frequency * frequency / solved.tension_n.powi(2);
    close_percent(inharmonicity / 2.0, feynman, 0.01);
    let young = 3.4e13 * 0.033_f64.powi(2) / (frequency.powi(2) * 64.8_f64.powi(4));
    close_percent(1200.0 * (1.0 + inharmonicity / 2.0).log2(), young, 0.2);
}

/// The stiff string solved exactly: with a = √(1/ε² + b²), the frequency is ε·a·b/π of the ideal string's, where
/// sin b = 0 for hinged ends, a tan b = b tanh a for one held end, and b tan(b/2) = −a tanh(a/2) for two
/// (from memory; the boundary conditions of a beam under tension). The engine's series is published by Morse
/// and by Anderson and Beausoleil. A string that lies on the frets has no other error than stiffness.
#[test]
fn the_series_of_the_stiff_string_is_its_exact_solution() {
    use std::f64::consts::PI;
    let sharp = |epsilon: f64, held: u8| {
        let other = |b: f64| (1.0 / (epsilon * epsilon) + b * b).sqrt();
        // above the ideal string's π for a held end: at most half as much again
        let off = |b: f64| match held {
            0 => b - PI,
            1 => b * other(b).tanh() * b.cos() - other(b) * b.sin(),
            _ => other(b) * (other(b) / 2.0).tanh() * (b / 2.0).cos() + b * (b / 2.0).sin(),
        };
        let (mut least, mut most) = (PI, PI * 1.2);
        if held == 0 {
            most = PI;
        }
        let rising = off(most) > off(least);
        for _ in 0..200 {
            let middle = f64::midpoint(least, most);
            if (off(middle) > 0.0) == rising { most = middle } else { least = middle }
        }
        epsilon * other(least) * least / PI
    };
    for held in 0..=2 {
        let case = with(steel(), json!({"first_fret_mm": 0, "action_12_mm": 0, "frets": 12, "clamped_ends": held}));
        let solved = solve(&case);
        for fret in [1, 5, 12] {
            let there = solved.stiffness * (f64::from(fret) / 12.0).exp2();
            assert!(there < 0.005, "the series is said to hold to 0.005");
            let exact = 1200.0 * (sharp(there, held) / sharp(solved.stiffness, held)).log2();
            // the series stops at ε²; its next term is (k³ + ⅔kπ²)ε³, by the same boundary conditions
            let k = f64::from(held);
            let next = |epsilon: f64| (k.powi(3) + 2.0 / 3.0 * k * PI * PI) * epsilon.powi(3);
            let left_out = 1200.0 / std::f64::consts::LN_2 * (next(there) - next(solved.stiffness));
            close(solved.cents[usize::try_from(fret).expect("small") - 1] + left_out, exact, 0.0001);
        }
    }
}

/// AB's measured guitar: scale 652, 1.4 mm over the frets at the nut, 5.5 more at the saddle, a finger 10 mm
/// behind the fret, set-back −3.5. Printed: fret 1 from 4.5 to 5.75 cents, fret 12 from 15.75 to 17.5 and, of
/// the stiffest, from 18.5 to 19.5. Plain trebles with the κ and ε₀ that the paper measured.
#[test]
fn a_measured_guitar_is_as_sharp_as_was_measured() {
    let trebles = [(48.2_f64, 0.0019, 15.75..17.5), (48.7, 0.0022, 15.75..17.5), (58.6, 0.003_01, 18.5..19.5)];
    for (stretch_ratio, stiffness, printed) in trebles {
        let height = |fret: i32| 1.4 + 5.5 * (1.0 - (-f64::from(fret) / 12.0).exp2());
        // ε was given for the scale of 650: ε = √κ·d/(4L)
        let diameter_mm = stiffness * 4.0 * 650.0 / stretch_ratio.sqrt();
        let case = json!({"scale_mm": 652, "frets": 12, "first_fret_mm": height(1), "action_12_mm": height(12),
            "string": {"pitch": "G3", "linear_density_g_m": 0.9, "diameter_mm": diameter_mm, "stretch_ratio": stretch_ratio}});
        let chain = Chain::new(&input(&case), 10.0).expect("a chain");
        let cents = chain.cents(SetBacks { saddle_setback_mm: -3.5, nut_setback_mm: 0.0 });
        assert!((4.5..5.75).contains(&cents[0]), "κ {stretch_ratio}: {} at fret 1", cents[0]);
        assert!(printed.contains(&cents[11]), "κ {stretch_ratio}: {} at fret 12", cents[11]);
    }
}
