//! A bent string on its saddle: vectors by hand, and the capstan equation (Euler–Eytelwein).

use thumbplane::setup::statics::{BreakAngle, FRICTION_PLAIN, FRICTION_WOUND, angle_degrees, turning_moment_nm};

use super::close;

#[test]
fn a_string_presses_its_saddle_down_and_leans_on_it() {
    let rows = [
        (70.0, 0.0, 20.0, 20.0, 23.941, 4.222, 24.311),
        (70.0, 1.5, 20.0, 21.5, 25.774, 4.198, 26.113),
        (105.0, 1.2, 12.0, 13.2, 24.030, 2.271, 24.137),
        (60.0, 2.0, 30.0, 32.0, 32.094, 8.002, 33.076),
    ];
    for (tension, front_degrees, back_degrees, whole, down, towards_nut, resultant) in rows {
        let angle = BreakAngle { front_degrees, back_degrees };
        close(angle.whole_degrees(), whole, 1e-9);
        close(angle.down_n(tension), down, 0.002);
        close(angle.towards_nut_n(tension), towards_nut, 0.002);
        close(angle.resultant_n(tension), resultant, 0.002);
        // without friction the two parts make up the resultant
        close(angle.down_n(tension).hypot(angle.towards_nut_n(tension)), angle.resultant_n(tension), 1e-9);
    }
    close(angle_degrees(3.0, 9.0), 18.435, 0.001);
}

/// Friction of Groves and Kemp, Archives of Acoustics (2019): up to 0.17 plain, 0.26 wound.
#[test]
fn friction_holds_back_some_percent_of_the_pull() {
    let angle = BreakAngle { front_degrees: 1.5, back_degrees: 20.0 };
    close(angle.least_beyond_n(70.0, FRICTION_PLAIN), 65.674, 0.002);
    close(angle.least_beyond_n(70.0, FRICTION_WOUND), 63.493, 0.002);
}

#[test]
fn six_strings_nine_millimetres_over_the_top_turn_the_bridge() {
    close(turning_moment_nm(641.2, 9.0), 5.771, 0.001);
}
