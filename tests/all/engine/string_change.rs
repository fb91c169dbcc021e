//! Another set on the same instrument: pull against published tables, and what must be said before it goes on.

use serde_json::{Value, json};
use thumbplane::setup::string_change::breaking_stress_mpa;

use super::{answer, close, close_percent, number};

/// Steel 0.305 and 0.406, then mass per length, at 648 mm: 104.67, 104.09, 109.69, 110.45, 107.71, 104.59 N,
/// 641.20 N in all (T = μ(2Lf)², computed outside).
fn light_set() -> Vec<Value> {
    vec![
        json!({"pitch": "E4", "material": "steel", "diameter_mm": 0.305}),
        json!({"pitch": "B3", "material": "steel", "diameter_mm": 0.406}),
        json!({"pitch": "G3", "material": "steel", "wound": true, "diameter_mm": 0.61, "linear_density_g_m": 1.70}),
        json!({"pitch": "D3", "material": "steel", "wound": true, "diameter_mm": 0.81, "linear_density_g_m": 3.05}),
        json!({"pitch": "A2", "material": "steel", "wound": true, "diameter_mm": 1.07, "linear_density_g_m": 5.30}),
        json!({"pitch": "E2", "material": "steel", "wound": true, "diameter_mm": 1.35, "linear_density_g_m": 9.17}),
    ]
}

fn heavier(set: &[Value], share: f64) -> Vec<Value> {
    let scaled = |string: &Value| {
        let mut string = string.clone();
        let name = if string["linear_density_g_m"].is_null() { "diameter_mm" } else { "linear_density_g_m" };
        let by = if name == "diameter_mm" { share.sqrt() } else { share };
        string[name] = json!(string[name].as_f64().expect("a number") * by);
        string
    };
    set.iter().map(scaled).collect()
}

fn change(now: &[Value], next: &[Value]) -> Value {
    json!({"scale_mm": 648, "family": "steel-string", "body_fret": 14, "now": now, "next": next})
}

fn keys(worked: &Value) -> Vec<String> {
    let warnings = worked["warnings"].as_array().expect("a list");
    warnings.iter().map(|warning| warning["key"].as_str().expect("a key").to_owned()).collect()
}

#[test]
fn the_pull_is_that_of_the_published_table() {
    let worked = answer("string-change", &change(&light_set(), &light_set()));
    close_percent(number(&worked, "/total_n/now"), 641.20, 0.05);
    for (place, expected) in [104.67, 104.09, 109.69, 110.45, 107.71, 104.59].into_iter().enumerate() {
        close_percent(number(&worked, &format!("/strings/{place}/now/tension_n")), expected, 0.05);
    }
    close(number(&worked, "/total_n/change"), 0.0, 1e-9);
    assert_eq!(worked["relief"]["sign"], "same");
    assert_eq!(keys(&worked), [""; 0]);
    assert_eq!(worked["cautions"], json!(["string-tension"]));
}

/// Core and wrap: (π/4)ρc² + (π²/4)ρw(c + w); 9.1695 and 4.3101 g/m (steel 7850, bronze 8800).
#[test]
fn a_wound_string_is_weighed_by_its_core_and_wrap() {
    let string = |core: f64, wrap: f64| json!({"pitch": "E2", "material": "steel", "core_diameter_mm": core, "wrap_diameter_mm": wrap});
    let worked = answer("string-change", &change(&[string(0.43, 0.43)], &[string(0.38, 0.25)]));
    close_percent(number(&worked, "/strings/0/now/linear_density_g_m"), 9.1695, 0.05);
    close_percent(number(&worked, "/strings/0/now/tension_n"), 104.588, 0.05);
    close_percent(number(&worked, "/strings/0/next/linear_density_g_m"), 4.3101, 0.05);
    // the wrap is half of what the core leaves of the outer diameter
    let outer =
        json!({"pitch": "E2", "material": "steel", "wound": true, "diameter_mm": 1.29, "core_diameter_mm": 0.43});
    let worked = answer("string-change", &change(&[outer], &[string(0.43, 0.43)]));
    close(number(&worked, "/total_n/change"), 0.0, 1e-9);
}

/// Best saddles of the worked chain (Anderson and Beausoleil, JASA 156 (2024) 683; one clamped end): 2.8296 mm
/// for plain steel 0.330, 4.2497 mm for a wound string on a 0.43 core.
#[test]
fn set_backs_are_those_of_the_intonation_chain() {
    let plain = json!({"pitch": "B3", "material": "steel", "diameter_mm": 0.33});
    let thicker = json!({"pitch": "B3", "material": "steel", "diameter_mm": 0.406});
    let wound = json!({"pitch": "E2", "material": "steel", "core_diameter_mm": 0.43, "wrap_diameter_mm": 0.43});
    let mut case = change(&[plain, wound.clone()], &[thicker, wound]);
    case["heights"] =
        json!([{"first_fret_mm": 0.5, "action_12_mm": 2.0}, {"first_fret_mm": 0.55, "action_12_mm": 2.4}]);
    let worked = answer("string-change", &case);
    close(number(&worked, "/strings/0/now/saddle_setback_mm"), 2.8296, 0.003);
    close(number(&worked, "/strings/1/now/saddle_setback_mm"), 4.2497, 0.003);
    close(number(&worked, "/strings/1/cents_at_12_if_saddle_stays"), 0.0, 1e-6);
    // a stiffer string wants more; left where it is, it sounds sharp by about 1731·Δ/L
    let more = number(&worked, "/strings/0/next/saddle_setback_mm") - 2.8296;
    assert!(more > 0.0);
    close(number(&worked, "/strings/0/cents_at_12_if_saddle_stays"), 1731.2 * more / 648.0, 0.05);
    // without heights nothing is guessed
    case.as_object_mut().expect("an object").remove("heights");
    assert!(answer("string-change", &case)["strings"][0]["cents_at_12_if_saddle_stays"].is_null());
}

#[test]
fn bridge_and_saddle_feel_the_change() {
    let mut case = change(&light_set(), &heavier(&light_set(), 1.1));
    case["height_over_top_mm"] = json!(9);
    case["break_angle"] = json!({"front_degrees": 1.5, "back_degrees": 20});
    let worked = answer("string-change", &case);
    close(number(&worked, "/bridge_moment_nm/now"), 5.771, 0.003);
    close(number(&worked, "/bridge_moment_nm/change_percent"), 10.0, 1e-6);
    // 70 N at 1.5° and 20° press 25.774 N
    close_percent(number(&worked, "/saddle_down_n/now"), 641.2 * 25.774 / 70.0, 0.05);
    // capstan: 65.674 of 70 N plain, 63.493 wound
    close_percent(number(&worked, "/strings/0/now/least_behind_saddle_n"), 104.67 * 65.674 / 70.0, 0.05);
    close_percent(number(&worked, "/strings/5/now/least_behind_saddle_n"), 104.59 * 63.493 / 70.0, 0.05);
}

#[test]
fn a_heavy_set_is_warned_of() {
    let little = answer("string-change", &change(&light_set(), &heavier(&light_set(), 1.09)));
    assert_eq!(keys(&little), [""; 0]);
    let heavy = answer("string-change", &change(&light_set(), &heavier(&light_set(), 1.12)));
    assert_eq!(keys(&heavy), ["pull-up"]);
    assert!(heavy["warnings"][0]["words"].as_str().expect("words").contains("12 %"), "{heavy}");
    assert_eq!(heavy["stopped"], false);
    let mut one = light_set();
    one[5]["linear_density_g_m"] = json!(9.17 * 1.3);
    one[5]["diameter_mm"] = json!(1.42);
    let worked = answer("string-change", &change(&light_set(), &one));
    assert_eq!(keys(&worked), ["string-pull-up", "slot-too-narrow"]);
    assert_eq!(worked["warnings"][0]["string"], 6);
    assert!(worked["warnings"][1]["words"].as_str().expect("words").contains("0.07 mm thicker"));
}

/// Least tensile strength of ASTM A228 music wire in tables of machine design: A/d^m with A 2060 MPa, m 0.163;
/// a stored worked example has 1492 MPa at 7.25 mm.
#[test]
fn thin_steel_at_a_high_pitch_is_near_breaking() {
    close(breaking_stress_mpa(7.25), 1492.0, 1.0);
    // T/A is 4ρL²f² whatever the gauge: 4·7850·0.648²·329.6276² is 1432.6 MPa
    let first =
        |pitch: &str, diameter: f64| vec![json!({"pitch": pitch, "material": "steel", "diameter_mm": diameter})];
    let usual = answer("string-change", &change(&first("E4", 0.254), &first("E4", 0.254)));
    close(number(&usual, "/strings/0/next/share_of_breaking"), 1432.6 / breaking_stress_mpa(0.254), 1e-3);
    assert_eq!(keys(&usual), [""; 0]);
    let octave = answer("string-change", &change(&first("E4", 0.254), &first("A4", 0.203)));
    assert!(keys(&octave).contains(&"near-breaking".to_owned()), "{octave}");
    // a banjo's fifth string starts at the fifth fret
    let mut short = first("G4", 0.229);
    let mut case = change(&short, &short);
    case["scale_mm"] = json!(670);
    assert_eq!(keys(&answer("string-change", &case)), ["near-breaking"]);
    short[0]["scale_mm"] = json!(670.0 * 2_f64.powf(-5.0 / 12.0));
    case["now"] = json!(short);
    case["next"] = json!(short);
    assert_eq!(keys(&answer("string-change", &case)), [""; 0]);
}

#[test]
fn steel_is_stopped_on_an_instrument_made_for_nylon() {
    let nylon = json!({"pitch": "E4", "material": "nylon", "diameter_mm": 0.72});
    let steel = json!({"pitch": "E4", "material": "steel", "diameter_mm": 0.305});
    let mut case = change(std::slice::from_ref(&nylon), std::slice::from_ref(&steel));
    for (family, stopped) in [
        (json!("classical"), true),
        (json!("ukulele"), true),
        (json!(null), true),
        (json!("other"), true),
        (json!("steel-string"), false),
    ] {
        case["family"] = family.clone();
        let worked = answer("string-change", &case);
        assert_eq!(worked["stopped"], stopped, "{family}");
        assert_eq!(worked["warnings"][0]["stop"], stopped, "{family}");
    }
    let back = answer("string-change", &change(&[steel], &[nylon]));
    assert_eq!(back["stopped"], false);
}

#[test]
fn the_neck_follows_the_pull_by_its_sign_and_a_wide_range() {
    let more = answer("string-change", &change(&light_set(), &heavier(&light_set(), 1.15)));
    assert_eq!(more["relief"]["sign"], "more");
    assert_eq!(more["relief"]["from"], "assumption");
    assert!(more["relief"]["words"].as_str().expect("words").contains("assumed neck, no source"));
    let (least, most) = (number(&more, "/relief/change_mm/0"), number(&more, "/relief/change_mm/1"));
    assert!(0.0 < least && most > 10.0 * least && most < 0.5, "{least} to {most}");
    // δ = ΔT·e·l²/(8·EI), by hand: 20 mm, 150 N·m², from fret 1 (36.369) to fret 14 (359.349) of 648
    close_percent(most, 641.2 * 0.15 * 20.0 * 0.32298_f64.powi(2) / 1200.0, 0.1);

    let less = answer("string-change", &change(&heavier(&light_set(), 1.15), &light_set()));
    assert_eq!(less["relief"]["sign"], "less");
    assert!(number(&less, "/relief/change_mm/1") < 0.0);

    let mut own = change(&light_set(), &heavier(&light_set(), 1.15));
    own["relief_pairs"] = json!([
        {"pull_before_n": 600, "pull_after_n": 700, "relief_before_mm": 0.20, "relief_after_mm": 0.30},
        {"pull_before_n": 700, "pull_after_n": 650, "relief_before_mm": 0.30, "relief_after_mm": 0.24}]);
    let worked = answer("string-change", &own);
    assert_eq!(worked["relief"]["from"], "own-pairs");
    close_percent(number(&worked, "/relief/change_mm/0"), 96.18 * 0.001, 0.1);
    close_percent(number(&worked, "/relief/change_mm/1"), 96.18 * 0.0012, 0.1);

    let mut unknown = own;
    unknown.as_object_mut().expect("an object").remove("relief_pairs");
    unknown.as_object_mut().expect("an object").remove("body_fret");
    let worked = answer("string-change", &unknown);
    assert_eq!(worked["relief"]["sign"], "more");
    assert!(worked["relief"]["change_mm"].is_null() && worked["relief"]["from"].is_null());
}
