//! How the top's radius and its heights over the chord came about.

use super::{Shape, other_end_mm, sounding_mm};
use crate::setup::board::fall_mm;
use crate::setup::cut::{CutInput, CutOutput, CutPlace};
use crate::working::{Working, Workings};

const CIRCLE: &str = "geometry of the circle";

/// The working of every number of the top.
pub(in crate::setup::cut) fn explain(input: &CutInput, output: &CutOutput, workings: &mut Workings) {
    let (Some(top), Some(board), Some(shape)) = (&output.top, input.board_radius_mm, Shape::of(input, &output.strings))
    else {
        return;
    };
    workings.figure("/top/board_radius_mm", || {
        let at = match input.place {
            CutPlace::Saddle => sounding_mm(input),
            CutPlace::Nut => 0.0,
        };
        let told = Working::new("/top/board_radius_mm", "radius of the board under the top", "R = R₁ + (R₂ − R₁)·x/x₂")
            .put("R₁", "radius at the nut", board.nut, "mm")
            .put("R₂", "radius at the board's end", board.end, "mm")
            .put("x", "where the top is, from the nut", at, "mm")
            .put("x₂", "where the board ends", board.end_at_mm, "mm")
            .gives(top.board_radius_mm, "mm", "straight lines of a cone");
        vec![told]
    });
    workings.figure("/top/top_radius_mm", || {
        let told = Working::new("/top/top_radius_mm", "radius of the top for strings of one height", "R_t = R + h")
            .put("R", "radius of the board there", shape.board_radius_mm, "mm")
            .put("h", "mean wished height there", shape.height_mm, "mm")
            .gives(top.top_radius_mm, "mm", CIRCLE);
        vec![told]
    });
    let outer = shape.outer_mm();
    for (place, (string, from_middle)) in top.strings.iter().zip(&shape.from_middle).enumerate() {
        let at = format!("/top/strings/{place}");
        workings.figure(&at, || {
            let of = format!("{at}/ideal_over_chord_mm");
            let what = format!("height over the chord on an arc of that radius, string {}", place + 1);
            let mut chain = vec![
                Working::new(of, what, "o = w₂²/(R + √(R² − w₂²)) − w²/(R + √(R² − w²))")
                    .put("w₂", "half the spread of the outer strings", outer, "mm")
                    .put("R", "radius of the top", top.top_radius_mm, "mm")
                    .put("w", "the string from the middle", *from_middle, "mm")
                    .gives(string.ideal_over_chord_mm, "mm", CIRCLE),
            ];
            for (field, heights, result) in [
                ("present_over_chord_mm", &shape.present, string.present_over_chord_mm),
                ("after_cut_over_chord_mm", &shape.after, string.after_cut_over_chord_mm),
            ] {
                chain.extend(over_chord(&format!("{at}/{field}"), &shape, heights, place, result));
            }
            chain
        });
    }
    if let (Some((radius, half)), Some(result)) = (other_end_mm(input), top.board_over_fanned_line_mm) {
        workings.figure("/top/board_over_fanned_line_mm", || {
            let told = Working::new(
                "/top/board_over_fanned_line_mm",
                "how far the board stands, half-way, over the line under an outer string",
                "o = (f₁ + f₂)/2 − w²/(R + √(R² − w²))",
            )
            .put("f₁", "fall of the board under it at the other end", fall_mm(radius, half), "mm")
            .put("f₂", "fall of the board under it at the top", fall_mm(shape.board_radius_mm, outer), "mm")
            .put("w", "the string from the middle, half-way", f64::midpoint(half, outer), "mm")
            .put("R", "radius of the board half-way", f64::midpoint(radius, shape.board_radius_mm), "mm")
            .gives(result, "mm", CIRCLE);
            vec![told]
        });
    }
}

fn over_chord(of: &str, shape: &Shape, heights: &[Option<f64>], place: usize, result: Option<f64>) -> Option<Working> {
    let standing = shape.standing(heights);
    let (first, last) = (standing.first().copied().flatten()?, standing.last().copied().flatten()?);
    let what = format!("height over the chord of the outer strings, string {}", place + 1);
    let told = Working::new(of, what, "o = √((R + z)² − w²) − y₁ − (y₂ − y₁)·(w − w₁)/(w₂ − w₁)")
        .put("R", "radius of the board", shape.board_radius_mm, "mm")
        .put("z", "height of the string over the board", heights.get(place).copied().flatten()?, "mm")
        .put("w", "the string from the middle", shape.from_middle.get(place).copied()?, "mm")
        .put("y₁", "string 1 over the middle of the board's circle", first, "mm")
        .put("y₂", "the last string over it", last, "mm")
        .put("w₁", "string 1 from the middle", shape.from_middle.first().copied()?, "mm")
        .put("w₂", "the last string from the middle", shape.outer_mm(), "mm")
        .gives(result?, "mm", CIRCLE);
    Some(told)
}
