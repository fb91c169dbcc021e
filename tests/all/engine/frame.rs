//! The frame: fret tops, the string's line, and how changes at one end are felt elsewhere.

use std::collections::BTreeMap;

use thumbplane::setup::frame::{
    Board, Frame, StringLine, felt_from_nut, felt_from_saddle, fret_position_mm, relief_effect_at_12,
};

use super::close;

fn with_relief(scale_mm: f64, frets: usize, body_fret: usize, relief_mm: f64) -> Frame {
    let board = Board { body_fret: Some(body_fret), relief_mm, ..Board::default() };
    Frame::new(scale_mm, frets, &board)
}

#[test]
fn relief_is_the_gap_half_way_between_fret_1_and_the_body_joint() {
    let frame = with_relief(648.0, 20, 14, 0.2);
    let middle = f64::midpoint(frame.position_mm(1), frame.position_mm(14));
    let span = frame.position_mm(14) - frame.position_mm(1);
    for fret in 1..=14 {
        // the same dip by another road: 1 − (distance from the middle)²
        let off = 2.0 * (frame.position_mm(fret) - middle) / span;
        close(frame.top_mm(fret), -0.2 * (1.0 - off * off), 1e-12);
    }
    close(frame.top_mm(1), 0.0, 0.0);
    close(frame.top_mm(14), 0.0, 1e-15);
    close(frame.top_mm(20), 0.0, 0.0);
}

#[test]
fn a_neck_bent_to_a_circle_differs_from_the_parabola_by_less_than_a_nanometre() {
    let (relief, frame) = (0.2, with_relief(648.0, 20, 14, 0.2));
    let half = f64::midpoint(-frame.position_mm(1), frame.position_mm(14));
    let radius = f64::midpoint(half * half / relief, relief);
    for fret in 1..=14 {
        let off = frame.position_mm(fret) - frame.position_mm(1) - half;
        // R − √(R² − off²) without cancelling
        let rise = off * off / (radius + (radius * radius - off * off).sqrt());
        close(frame.top_mm(fret), rise - relief, 1e-6);
    }
}

#[test]
fn the_board_falls_away_straight_from_the_body_joint_to_the_last_fret() {
    let board = Board { body_fret: Some(14), fall_away_mm: 0.3, ..Board::default() };
    let frame = Frame::new(648.0, 20, &board);
    close(frame.top_mm(14), 0.0, 0.0);
    close(frame.top_mm(20), -0.3, 1e-12);
    let share = (frame.position_mm(17) - frame.position_mm(14)) / (frame.position_mm(20) - frame.position_mm(14));
    close(frame.top_mm(17), -0.3 * share, 1e-12);
}

#[test]
fn a_high_fret_stands_over_its_neighbours_and_moves_no_other() {
    let high = BTreeMap::from([(7, 0.05)]);
    let board = Board { body_fret: Some(14), relief_mm: 0.2, high_frets_mm: Some(&high), ..Board::default() };
    let (frame, plain) = (Frame::new(648.0, 20, &board), with_relief(648.0, 20, 14, 0.2));
    for fret in 0..=20 {
        let more = if fret == 7 { 0.05 } else { 0.0 };
        close(frame.top_mm(fret), plain.top_mm(fret) + more, 1e-15);
    }
}

#[test]
fn a_string_passes_at_the_heights_that_were_read() {
    let frame = with_relief(648.0, 20, 14, 0.2);
    let line = frame.string(0.45, 2.0);
    close(line.height_mm(frame.position_mm(1)) - frame.top_mm(1), 0.45, 1e-12);
    close(line.height_mm(frame.position_mm(12)) - frame.top_mm(12), 2.0, 1e-12);
}

/// Derived ranges: ends tied, and an even bend from the joint.
#[test]
fn relief_moves_the_twelfth_between_tied_ends_and_an_even_bend() {
    let rows =
        [(12, 0.0, 2.5378), (14, 0.3899, 2.4279), (16, 0.6120, 2.2892), (17, 0.6871, 2.2196), (20, 0.8306, 2.0267)];
    for (body_fret, tied, bent) in rows {
        let (least, most) = relief_effect_at_12(648.0, body_fret);
        close(least, tied, 1e-4);
        close(most, bent, 1e-4);
        let (at_another_scale, _) = relief_effect_at_12(345.0, body_fret);
        close(at_another_scale, least, 1e-12);
    }
    // a body joint before the 12th leaves it on the straight part of the board
    let (tied, bent) = relief_effect_at_12(648.0, 10);
    close(tied, 0.0, 0.0);
    // an even bend leaves the nut's end 4x_B²/(x_B − x₁)² off the straight part for each mm of relief, and the
    // 12th half-way along the string takes half of it
    let (x_1, x_body) = (fret_position_mm(648.0, 1), fret_position_mm(648.0, 10));
    close(bent, 2.0 * (x_body / (x_body - x_1)).powi(2), 1e-12);
}

#[test]
fn a_change_at_one_end_is_felt_in_proportion_to_the_distance_from_the_other() {
    let (scale, sounding) = (648.0, 650.5);
    let (x_1, x_12) = (fret_position_mm(scale, 1), fret_position_mm(scale, 12));
    close(-0.25 * felt_from_saddle(x_12, sounding), -0.1245, 1e-4);
    close(-0.1 * felt_from_nut(x_1, sounding), -0.0944, 1e-4);
    close(-0.1 * felt_from_nut(x_12, sounding), -0.0502, 1e-4);
    close(-0.30 / felt_from_saddle(x_12, sounding), -0.6023, 1e-4);
    // common practice, no source: a quarter of a millimetre off a saddle brings the 12th down by about a tenth
    close(0.25 * felt_from_saddle(x_12, scale), 0.1, 0.03);
    // a saddle that sinks or rises with the air, nut fixed
    close(-0.40 * felt_from_saddle(x_12, scale), -0.200, 1e-4);
    close(0.40 * felt_from_saddle(fret_position_mm(scale, 14), scale), 0.221_82, 1e-4);
}

/// The slope of similar triangles is the same on every scale: 0.647238 and 0.943874.
#[test]
fn the_gap_at_the_first_tells_the_height_of_the_nut() {
    for scale in [345.0, 648.0, 864.0] {
        let flat = Frame::new(scale, 20, &Board::default());
        close(flat.gap_at_1_stopped_at_3_mm(1.0), 0.647_238, 1e-6);
        close(felt_from_nut(flat.position_mm(1), scale), 0.943_874, 1e-6);
    }
    let frame = with_relief(648.0, 20, 14, 0.20);
    let nut_mm = frame.string(0.45, 2.0).nut_mm;
    close(frame.gap_at_1_stopped_at_3_mm(nut_mm), 0.124_53, 1e-4);
    close(frame.nut_from_gap_mm(frame.gap_at_1_stopped_at_3_mm(nut_mm)), nut_mm, 1e-12);

    let flat = Frame::new(648.0, 20, &Board::default());
    close(flat.gap_at_1_stopped_at_3_mm(flat.string(0.45, 2.0).nut_mm), 0.164_41, 1e-4);
}

#[test]
fn the_nut_is_at_its_least_when_the_open_string_clears_fret_1_as_a_stopped_one_clears_fret_2() {
    let frame = with_relief(648.0, 20, 14, 0.20);
    let saddle_mm = frame.string(0.45, 2.0).height_mm(648.0);
    let least = frame.least_nut_mm(saddle_mm);
    close(least, 0.080_51, 1e-4);
    let lowest = StringLine { nut_mm: least, slope: (saddle_mm - least) / 648.0 };
    let open = lowest.height_mm(frame.position_mm(1)) - frame.top_mm(1);
    close(open, 0.276_93, 1e-4);
    close(open, frame.stopped_gap_mm(1, 2, saddle_mm), 1e-12);

    // without relief the nut then stands level with the frets
    let flat = Frame::new(648.0, 20, &Board::default());
    let saddle_mm = flat.string(0.45, 2.0).height_mm(648.0);
    close(flat.least_nut_mm(saddle_mm), 0.0, 1e-12);
    close(flat.stopped_gap_mm(1, 2, saddle_mm), 0.210_25, 1e-4);
}
