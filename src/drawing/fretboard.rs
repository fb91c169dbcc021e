//! The fretboard as a map: strings by frets in equal cells, the open string left of the nut, and the places
//! where something was heard. Drawn under a table of buttons, so that each cell is as wide as a finger.

use super::svg::{Svg, escaped, short};

/// Side of one cell. The page lays its buttons on this grid.
const CELL: usize = 48;
/// Position marks as most guitars have them. Common practice, no source.
pub const MARKS_OF_A_GUITAR: [usize; 10] = [3, 5, 7, 9, 12, 15, 17, 19, 21, 24];
/// Ukuleles, mandolins and banjos are marked at the 10th fret instead of the 9th. Common practice, no source.
pub const MARKS_OF_A_SHORT_NECK: [usize; 10] = [3, 5, 7, 10, 12, 15, 17, 19, 22, 24];
/// Twin marks at the octaves.
const TWIN_MARKS: [usize; 2] = [12, 24];

/// What was heard at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heard {
    /// The string rattles: a zigzag.
    Buzz,
    /// The note dies: a cross.
    Choke,
}

impl Heard {
    fn key(self) -> &'static str {
        match self {
            Self::Buzz => "buzz",
            Self::Choke => "choke",
        }
    }

    fn spoken(self) -> &'static str {
        match self {
            Self::Buzz => "buzzes",
            Self::Choke => "chokes",
        }
    }
}

/// One place: string from 1 at the top, fret with 0 for the open string.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// From 1.
    pub string: usize,
    /// 0 is open.
    pub fret: usize,
    /// What.
    pub heard: Heard,
}

/// Draws the board and its places. `names` are the strings in order, `marks` the frets with a position mark.
pub fn fretboard(frets: usize, marks: &[usize], names: &[String], places: &[Place]) -> Svg {
    let (columns, rows) = (frets + 1, names.len().max(1));
    let (width, height) = (columns * CELL, rows * CELL);
    let mut drawn = format!(
        r#"<svg class="fretboard" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" aria-label="{}">"#,
        escaped(&alt_text(names, places))
    );
    drawn.push_str(&format!(
        r#"<rect class="fretboard-wood" x="{CELL}" y="0" width="{}" height="{height}"/><path class="fretboard-nut" d="M{CELL} 0V{height}"/>"#,
        frets * CELL
    ));
    for fret in 1..=frets {
        drawn.push_str(&format!(r#"<path class="fretboard-fret" d="M{} 0V{height}"/>"#, (fret + 1) * CELL));
    }
    for mark in marks.iter().filter(|mark| **mark <= frets) {
        let x = mark * CELL + CELL / 2;
        let half = height / 2;
        let heights = if TWIN_MARKS.contains(mark) { vec![height / 3, height - height / 3] } else { vec![half] };
        for y in heights {
            drawn.push_str(&format!(r#"<circle class="fretboard-mark" cx="{x}" cy="{y}" r="6"/>"#));
        }
    }
    for row in 0..rows {
        let y = row * CELL + CELL / 2;
        // thicker towards the bass, as it looks from the player
        let thick =
            1.0 + 2.0 * f64::from(u32::try_from(row).unwrap_or(0)) / f64::from(u32::try_from(rows).unwrap_or(1));
        drawn.push_str(&format!(
            r#"<path class="fretboard-string" stroke-width="{}" d="M0 {y}H{width}"/>"#,
            short(thick)
        ));
    }
    for place in places.iter().filter(|place| (1..=rows).contains(&place.string) && place.fret <= frets) {
        let both = places
            .iter()
            .any(|other| (other.string, other.fret) == (place.string, place.fret) && other.heard != place.heard);
        let shift = match (both, place.heard) {
            (false, _) => 0,
            (true, Heard::Buzz) => -9,
            (true, Heard::Choke) => 9,
        };
        let corner = |cell: usize| i64::try_from(cell * CELL + CELL / 2).unwrap_or(0);
        let (x, y) = (corner(place.fret) + shift, corner(place.string - 1));
        let at = format!("{}-{}-{}", place.string, place.fret, place.heard.key());
        drawn.push_str(&mark(place.heard, &format!(r#" data-place="{at}" transform="translate({x} {y})""#)));
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

/// One mark by itself, not to be seen: a page with scripts takes it over to where somebody taps.
pub fn mark_to_copy(heard: Heard) -> Svg {
    let (key, mark) = (heard.key(), mark(heard, ""));
    Svg::new(format!(r#"<svg width="0" height="0" aria-hidden="true" data-mark="{key}">{mark}</svg>"#))
}

/// A disc with a zigzag, or with a cross: told apart without colour.
fn mark(heard: Heard, more: &str) -> String {
    let (class, sign) = match heard {
        Heard::Buzz => ("fretboard-buzz", "M-9 0l4 -6l5 12l5 -12l4 6"),
        Heard::Choke => ("fretboard-choke", "M-6 -6l12 12m0 -12l-12 12"),
    };
    format!(r#"<g class="{class}"{more}><circle r="16"/><path d="{sign}"/></g>"#)
}

/// The same in words.
fn alt_text(names: &[String], places: &[Place]) -> String {
    if places.is_empty() {
        return "Fretboard. Nothing was heard anywhere yet.".to_owned();
    }
    let mut places = places.to_vec();
    places.sort_unstable();
    let words = places.iter().map(|place| {
        let name = names.get(place.string.wrapping_sub(1)).cloned().unwrap_or_else(|| place.string.to_string());
        let fret = if place.fret == 0 { "open".to_owned() } else { format!("at fret {}", place.fret) };
        format!("string {name} {} {fret}", place.heard.spoken())
    });
    format!("Fretboard: {}.", words.collect::<Vec<_>>().join("; "))
}
