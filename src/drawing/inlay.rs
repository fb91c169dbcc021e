//! The inlay line: a job's stage as a strip of fretboard whose position marks fill one by one. The double
//! mark is *ready*.

use super::svg::{Svg, escaped};

/// Stages of a job; the double mark is the seventh.
const MARKS: usize = 8;
const DOUBLE: usize = 6;
const STEP: usize = 26;
const HEIGHT: usize = 28;
const RADIUS: f64 = 4.5;
/// As wide as its marks and a line at each end.
const VIEW: &str = "0 0 210 28";

/// A job off the straight way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Set aside: the present mark is a ring.
    Waiting,
    /// Closed unrepaired: a line through the board.
    Closed,
}

/// The strip for a stage from 0 (checked in) to 7 (collected). `words` say the same.
pub fn inlay(stage_index: usize, side: Option<Side>, words: &str) -> Svg {
    Svg::new(format!(
        r#"<svg class="inlay" viewBox="{VIEW}" role="img" aria-label="{}">{}{}</svg>"#,
        escaped(&format!("Stage: {words}")),
        board(),
        filled(stage_index, side)
    ))
}

/// The strips of a page that shows some more than once, each drawn once and shown by [`inlay_again`]. They stand before
/// the first place where one is shown.
pub fn inlays(strips: impl IntoIterator<Item = (usize, Option<Side>)>) -> Svg {
    let strips = strips.into_iter().map(|(stage_index, side)| {
        let (name, filled) = (name(stage_index, side), filled(stage_index, side));
        format!(r##"<symbol id="{name}" viewBox="{VIEW}"><use href="#inlay-board"/>{filled}</symbol>"##)
    });
    let (strips, board) = (strips.collect::<String>(), board());
    Svg::new(format!(
        r#"<svg class="inlays" width="0" height="0" aria-hidden="true"><symbol id="inlay-board" viewBox="{VIEW}">{board}</symbol>{strips}</svg>"#
    ))
}

/// A strip that the page draws among its [`inlays`]. The words stand beside it, so it says nothing itself.
pub fn inlay_again(stage_index: usize, side: Option<Side>) -> Svg {
    Svg::new(format!(r##"<svg class="inlay" aria-hidden="true"><use href="#{}"/></svg>"##, name(stage_index, side)))
}

fn name(stage_index: usize, side: Option<Side>) -> String {
    let side = match side {
        None => "",
        Some(Side::Waiting) => "-waits",
        Some(Side::Closed) => "-closed",
    };
    format!("inlay-{stage_index}{side}")
}

/// The board with its frets, every mark still open.
fn board() -> String {
    let (width, height) = (MARKS * STEP, HEIGHT - 6);
    let frets: String = (1..MARKS).map(|fret| format!("M{} 3v{height}", fret * STEP + 1)).collect();
    let open: String =
        (0..MARKS).flat_map(places).map(|(x, y)| format!(r#"<circle cx="{x}" cy="{y}" r="{RADIUS}"/>"#)).collect();
    format!(
        r#"<rect class="inlay-board" x="1" y="3" width="{width}" height="{height}" rx="2"/><path class="inlay-fret" d="{frets}"/><g class="inlay-open">{open}</g>"#
    )
}

/// What lies upon the board: each mark that is reached is a line without length and with round ends, which is a dot.
fn filled(stage_index: usize, side: Option<Side>) -> String {
    let reached = match side {
        None => stage_index + 1,
        Some(Side::Waiting) => stage_index,
        Some(Side::Closed) => 1,
    };
    let dots: String = (0..reached.min(MARKS)).flat_map(places).map(|(x, y)| format!("M{x} {y}h0")).collect();
    let mut drawn = if dots.is_empty() { dots } else { format!(r#"<path class="inlay-done" d="{dots}"/>"#) };
    match side {
        None => {}
        Some(Side::Waiting) => {
            for (x, y) in places(stage_index) {
                drawn.push_str(&format!(r#"<circle class="inlay-wait" cx="{x}" cy="{y}" r="{RADIUS}"/>"#));
            }
        }
        Some(Side::Closed) => {
            drawn.push_str(&format!(r#"<path class="inlay-closed" d="M4 {}L{} 6"/>"#, HEIGHT - 6, MARKS * STEP - 2));
        }
    }
    drawn
}

/// Where the dots of a mark lie.
fn places(mark: usize) -> Vec<(usize, f64)> {
    let centre = mark * STEP + STEP / 2 + 1;
    if mark == DOUBLE { vec![(centre, 8.5), (centre, 19.5)] } else { vec![(centre, 14.0)] }
}
