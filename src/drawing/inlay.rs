//! The inlay line: a job's stage as a strip of fretboard whose position marks fill one by one. The double
//! mark is *ready*.

use super::svg::escaped;

/// Stages of a job; the double mark is the seventh.
const MARKS: usize = 8;
const DOUBLE: usize = 6;
const STEP: usize = 26;
const HEIGHT: usize = 28;
const RADIUS: f64 = 4.5;

/// A job off the straight way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Set aside: the present mark is a ring.
    Waiting,
    /// Closed unrepaired: a line through the board.
    Closed,
}

/// The strip for a stage from 0 (checked in) to 7 (collected). `words` say the same.
pub fn inlay(stage_index: usize, side: Option<Side>, words: &str) -> String {
    let width = MARKS * STEP;
    let mut drawn = format!(
        r#"<svg class="inlay" viewBox="0 0 {} {HEIGHT}" width="{width}" height="{HEIGHT}" role="img" aria-label="{}">"#,
        width + 2,
        escaped(&format!("Stage: {words}"))
    );
    drawn.push_str(&format!(
        r#"<rect class="inlay-board" x="1" y="3" width="{width}" height="{}" rx="2"/>"#,
        HEIGHT - 6
    ));
    for fret in 1..MARKS {
        let x = fret * STEP + 1;
        drawn.push_str(&format!(r#"<path class="inlay-fret" d="M{x} 3v{}"/>"#, HEIGHT - 6));
    }
    for mark in 0..MARKS {
        let centre = mark * STEP + STEP / 2 + 1;
        let state = match (side, mark) {
            (Some(Side::Closed), mark) if mark > 0 => "inlay-open",
            (Some(Side::Waiting), mark) if mark == stage_index => "inlay-wait",
            (_, mark) if mark <= stage_index => "inlay-done",
            _ => "inlay-open",
        };
        let places: &[f64] = if mark == DOUBLE { &[8.5, 19.5] } else { &[14.0] };
        for y in places {
            drawn.push_str(&format!(r#"<circle class="{state}" cx="{centre}" cy="{y}" r="{RADIUS}"/>"#));
        }
    }
    if side == Some(Side::Closed) {
        drawn.push_str(&format!(r#"<path class="inlay-closed" d="M4 {}L{} 6"/>"#, HEIGHT - 6, width - 2));
    }
    drawn.push_str("</svg>");
    drawn
}
