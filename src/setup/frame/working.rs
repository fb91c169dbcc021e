//! How the frame's numbers came about: fret positions, heights of fret tops, the line of a string.

use super::{Board, Frame, Part, StringLine, fret_position_mm, steps};
use crate::working::{Working, below};

/// Where the frets of equal temperament are from.
pub(in crate::setup) const TEMPERAMENT: &str = "twelve-tone equal temperament; any acoustics text";
/// What follows from straight lines alone.
pub(in crate::setup) const STRAIGHT_STRING: &str = "derived here: straight string between nut and saddle";

/// Position of a fret; `symbol` is x₁₂ or xₙ.
pub(in crate::setup) fn position(of: &str, symbol: &str, scale_mm: f64, fret: usize) -> Working {
    Working::new(of, format!("fret {fret} from the nut's front edge"), format!("{symbol} = L·(1 − 2^(−n/12))"))
        .put("L", "nominal scale", scale_mm, "mm")
        .put("n", "fret", steps(fret), "")
        .gives(fret_position_mm(scale_mm, fret), "mm", TEMPERAMENT)
}

/// Height of a fret's top over the line, by the part of the board it stands on.
pub(in crate::setup) fn top(frame: &Frame, frets: usize, board: &Board<'_>, fret: usize) -> Working {
    const SOURCE: &str = "derived here: relief as a parabola between fret 1 and the body joint, straight beyond";
    let symbol = format!("u{}", below(fret));
    let x = frame.position_mm(fret);
    let shape = board.shape(frame.scale_mm(), frets);
    let high = board.high_mm(fret);
    let what = format!("top of fret {fret} over the line through fret 1 and the body joint");
    let told = match shape.part(x) {
        Part::Straight => Working::new("", what, format!("{symbol} = e")),
        Part::Relief { body_mm } => {
            Working::new("", what, format!("{symbol} = −4·r·(x − x₁)·(x_B − x)/(x_B − x₁)² + e"))
                .put("r", "relief", board.relief_mm, "mm")
                .put("x", format!("position of fret {fret}"), x, "mm")
                .put("x₁", "position of fret 1", shape.first_mm, "mm")
                .put("x_B", "position of the body joint's fret", body_mm, "mm")
        }
        Part::FallAway { body_mm } => Working::new("", what, format!("{symbol} = −a·(x − x_B)/(x_l − x_B) + e"))
            .put("a", "fall-away at the last fret", board.fall_away_mm, "mm")
            .put("x", format!("position of fret {fret}"), x, "mm")
            .put("x_B", "position of the body joint's fret", body_mm, "mm")
            .put("x_l", "position of the last fret", shape.last_mm, "mm"),
    };
    told.put("e", "this fret over its neighbours", high, "mm").gives(frame.top_mm(fret), "mm", SOURCE)
}

/// Slope of the string through its two heights, and its height at the nut.
pub(in crate::setup) fn line(
    frame: &Frame,
    (first_fret_mm, action_12_mm): (f64, f64),
    line: &StringLine,
    nut_at: String,
) -> Vec<Working> {
    let slope = Working::new("", "slope of the string", "m = ((h₁₂ + u₁₂) − (h₁ + u₁))/(x₁₂ − x₁)")
        .put("h₁₂", "height over fret 12", action_12_mm, "mm")
        .put("u₁₂", "top of fret 12 over the line", frame.top_mm(12), "mm")
        .put("h₁", "height over fret 1", first_fret_mm, "mm")
        .put("u₁", "top of fret 1 over the line", frame.top_mm(1), "mm")
        .put("x₁₂", "position of fret 12", frame.position_mm(12), "mm")
        .put("x₁", "position of fret 1", frame.position_mm(1), "mm")
        .gives(line.slope, "", STRAIGHT_STRING);
    let nut = Working::new(nut_at, "height of the string at the nut", "z₀ = h₁ + u₁ − m·x₁")
        .put("h₁", "height over fret 1", first_fret_mm, "mm")
        .put("u₁", "top of fret 1 over the line", frame.top_mm(1), "mm")
        .put("m", "slope of the string", line.slope, "")
        .put("x₁", "position of fret 1", frame.position_mm(1), "mm")
        .gives(line.nut_mm, "mm", STRAIGHT_STRING);
    vec![slope, nut]
}
