//! The inlay line: a job's stage as a strip of fretboard whose position marks fill one by one. The double
//! mark is *ready*.

use super::svg::escaped;

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
pub fn inlay(stage_index: usize, side: Option<Side>, words: &str) -> String {
    format!(
        r#"<svg class="inlay" viewBox="{VIEW}" role="img" aria-label="{}">{}{}</svg>"#,
        escaped(&format!("Stage: {words}")),
        board(),
        marks(stage_index, side, |x, y| format!(r#"<circle cx="{x}" cy="{y}" r="{RADIUS}"/>"#))
    )
}

/// The board of [`inlay_symbol`]s: once a page.
pub fn inlay_board() -> String {
    let mark = format!(r#"<circle id="inlay-mark" cx="14" r="{RADIUS}"/>"#);
    format!(r#"<defs>{mark}</defs><symbol id="inlay-board" viewBox="{VIEW}">{}</symbol>"#, board())
}

/// The strip as a symbol of a page that shows it more than once: drawn here upon [`inlay_board`], shown by
/// [`inlay_again`].
pub fn inlay_symbol(stage_index: usize, side: Option<Side>) -> String {
    let mark = |x: usize, y: f64| format!(r##"<use href="#inlay-mark" x="{}" y="{y}"/>"##, x - STEP / 2 - 1);
    let (name, marks) = (name(stage_index, side), marks(stage_index, side, mark));
    format!(r##"<symbol id="{name}" viewBox="{VIEW}"><use href="#inlay-board"/>{marks}</symbol>"##)
}

/// A strip whose symbol the page draws. The words stand beside it, so it says nothing itself.
pub fn inlay_again(stage_index: usize, side: Option<Side>) -> String {
    format!(r##"<svg class="inlay" aria-hidden="true"><use href="#{}"/></svg>"##, name(stage_index, side))
}

fn name(stage_index: usize, side: Option<Side>) -> String {
    let side = match side {
        None => "",
        Some(Side::Waiting) => "-waits",
        Some(Side::Closed) => "-closed",
    };
    format!("inlay-{stage_index}{side}")
}

fn board() -> String {
    let (width, height) = (MARKS * STEP, HEIGHT - 6);
    let frets: String = (1..MARKS).map(|fret| format!("M{} 3v{height}", fret * STEP + 1)).collect();
    format!(
        r#"<rect class="inlay-board" x="1" y="3" width="{width}" height="{height}" rx="2"/><path class="inlay-fret" d="{frets}"/>"#
    )
}

fn marks(stage_index: usize, side: Option<Side>, mark_at: impl Fn(usize, f64) -> String) -> String {
    let state = |mark: usize| match (side, mark) {
        (Some(Side::Closed), mark) if mark > 0 => "inlay-open",
        (Some(Side::Waiting), mark) if mark == stage_index => "inlay-wait",
        (_, mark) if mark <= stage_index => "inlay-done",
        _ => "inlay-open",
    };
    let mut drawn = String::new();
    // marks of one kind beside each other are drawn together
    let all: Vec<usize> = (0..MARKS).collect();
    for alike in all.chunk_by(|one, next| state(*one) == state(*next)) {
        drawn.push_str(&format!(r#"<g class="{}">"#, alike.first().map_or("", |mark| state(*mark))));
        for mark in alike.iter().copied() {
            let centre = mark * STEP + STEP / 2 + 1;
            let places: &[f64] = if mark == DOUBLE { &[8.5, 19.5] } else { &[14.0] };
            for y in places {
                drawn.push_str(&mark_at(centre, *y));
            }
        }
        drawn.push_str("</g>");
    }
    if side == Some(Side::Closed) {
        drawn.push_str(&format!(r#"<path class="inlay-closed" d="M4 {}L{} 6"/>"#, HEIGHT - 6, MARKS * STEP - 2));
    }
    drawn
}
