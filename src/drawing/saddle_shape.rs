//! The saddle's foot and top: at 1:1 to lay on the work, and enlarged in height to be read.
//!
//! Seen from the soundhole's side, the treble on the left. The foot's cuts are straight lines across the
//! bar, the first pass drawn full and the whole cut dashed; what is to be shaped on top hangs from the top.

use super::svg::{Svg, escaped, short};

/// The bar reaches this far beyond the outer strings, mm.
const OVERHANG_MM: f64 = 4.0;
/// White around the drawing, mm.
const MARGIN_MM: f64 = 4.0;
/// The line that tells whether a printer kept the size, mm.
const RULE_MM: f64 = 50.0;
/// How much the readable drawing enlarges heights.
const ENLARGED: f64 = 10.0;
/// Less to shape on top is nothing to draw, mm.
const LEAST_ON_TOP_MM: f64 = 0.005;
/// Most width of the readable drawing, mm.
const READABLE_MM: f64 = 150.0;

/// What is drawn; all mm, string 1 first.
#[derive(Debug, Clone, PartialEq)]
pub struct SaddleShape {
    /// Where each string crosses, growing.
    pub positions_mm: Vec<f64>,
    /// "1 E4".
    pub names: Vec<String>,
    /// Showing above the bridge under the first and the last string.
    pub showing_mm: (f64, f64),
    /// First pass at the foot, under the first and the last string.
    pub first_pass_mm: (f64, f64),
    /// In all at the foot.
    pub whole_mm: (f64, f64),
    /// To be shaped on top, string by string.
    pub on_top_mm: Vec<f64>,
    /// How far the top stands under each string over the straight line between the outer two; empty on a flat board.
    pub over_chord_mm: Vec<f64>,
}

impl SaddleShape {
    fn first(&self) -> f64 {
        self.positions_mm.first().copied().unwrap_or(0.0)
    }

    fn span(&self) -> f64 {
        self.positions_mm.last().map_or(0.0, |last| last - self.first())
    }

    /// A straight line through two ends, at a place across.
    fn between(&self, ends: (f64, f64), position: f64) -> f64 {
        let span = self.span();
        if span > 0.0 { ends.0 + (ends.1 - ends.0) * (position - self.first()) / span } else { ends.0 }
    }

    /// How far the bar shows at the place of a string.
    fn showing_at(&self, place: usize, position: f64) -> f64 {
        self.between(self.showing_mm, position) + self.over_chord_mm.get(place).copied().unwrap_or(0.0)
    }

    /// The bar's ends.
    fn ends(&self) -> (f64, f64) {
        (self.first() - OVERHANG_MM, self.first() + self.span() + OVERHANG_MM)
    }
}

/// The bar at its true size, with a rule of 50 mm to check the printer by. It stands on its foot: the cut
/// is taken off the lower edge.
pub fn saddle_at_size(shape: &SaddleShape) -> Svg {
    let (start, end) = shape.ends();
    let width = (end - start).max(RULE_MM) + 2.0 * MARGIN_MM;
    let at_strings: Vec<(f64, f64)> = shape
        .positions_mm
        .iter()
        .enumerate()
        .map(|(place, position)| (*position, shape.showing_at(place, *position)))
        .collect();
    let at_ends = [start, end].map(|position| (position, shape.between(shape.showing_mm, position)));
    let tallest = at_strings.iter().chain(&at_ends).map(|(_, showing)| *showing).fold(0.0, f64::max);
    let foot = MARGIN_MM + tallest;
    let height = foot + MARGIN_MM + 9.0;
    let x = |position: f64| MARGIN_MM + position - start;
    let edge = |ends: (f64, f64)| {
        format!(
            "M{} {}L{} {}",
            short(x(start)),
            fine(foot - shape.between(ends, start).max(0.0)),
            short(x(end)),
            fine(foot - shape.between(ends, end).max(0.0))
        )
    };
    let mut drawn = format!(
        r#"<svg class="actual-size" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}mm" height="{h}mm" role="img" aria-label="{}">"#,
        escaped(&format!("The saddle at its true size. {}", alt_text(shape))),
        w = short(width),
        h = short(height),
    );
    // from end to end over the strings: over a curved board the top is an arc
    let point = |(position, showing): (f64, f64)| format!("{} {}", short(x(position)), fine(foot - showing.max(0.0)));
    let top: Vec<String> =
        [at_ends[0]].into_iter().chain(at_strings.iter().copied()).chain([at_ends[1]]).map(point).collect();
    drawn.push_str(&format!(
        r#"<path class="size-bar" d="M{}L{} {}L{} {}Z"/>"#,
        top.join("L"),
        short(x(end)),
        short(foot),
        short(x(start)),
        short(foot)
    ));
    if shape.on_top_mm.iter().any(|amount| *amount >= LEAST_ON_TOP_MM) {
        let shaped = at_strings.iter().zip(&shape.on_top_mm);
        let shaped: Vec<String> =
            shaped.map(|((position, showing), amount)| point((*position, showing - amount))).collect();
        drawn.push_str(&format!(r#"<path class="size-whole" d="M{}"/>"#, shaped.join("L")));
    }
    drawn.push_str(&format!(r#"<path class="size-first" d="{}"/>"#, edge(shape.first_pass_mm)));
    drawn.push_str(&format!(r#"<path class="size-whole" d="{}"/>"#, edge(shape.whole_mm)));
    for (position, showing) in &at_strings {
        let top = foot - showing;
        drawn.push_str(&format!(r#"<path class="size-mark" d="M{} {}v-2"/>"#, short(x(*position)), fine(top)));
    }
    let rule = foot + MARGIN_MM + 2.0;
    drawn.push_str(&format!(
        r#"<path class="size-rule" d="M{from} {up}v3m0 -1.5h{RULE_MM}m0 -1.5v3"/><text class="size-words" x="{from}" y="{words}">{RULE_MM} mm</text></svg>"#,
        from = short(MARGIN_MM),
        up = short(rule - 1.5),
        words = short(rule + 5.0),
    ));
    Svg::new(drawn)
}

/// The same with heights ten times the lengths, and the amounts beside the strings.
pub fn saddle_enlarged(shape: &SaddleShape) -> Svg {
    let (start, end) = shape.ends();
    let along = READABLE_MM / (end - start).max(1.0);
    let x = |position: f64| 2.0 + (position - start) * along;
    let most_on_top = shape.on_top_mm.iter().copied().fold(0.0, f64::max);
    let most_at_foot =
        [start, end].into_iter().map(|position| shape.between(shape.whole_mm, position)).fold(0.0, f64::max);
    let top = 12.0;
    let foot = top + (most_on_top + most_at_foot) * ENLARGED + 6.0;
    let height = foot + 14.0;
    let mut drawn = format!(
        r#"<svg class="saddle-enlarged" viewBox="0 0 {} {}" role="img" aria-label="{}">"#,
        short(READABLE_MM + 4.0),
        short(height),
        escaped(&format!("The same with the cuts drawn {ENLARGED} times larger. {}", alt_text(shape))),
    );
    drawn.push_str(&format!(
        r#"<path class="size-bar" d="M{} {}H{}V{}H{}Z"/>"#,
        short(x(start)),
        short(top),
        short(x(end)),
        short(foot),
        short(x(start))
    ));
    for (class, ends) in [("size-first", shape.first_pass_mm), ("size-whole", shape.whole_mm)] {
        drawn.push_str(&format!(
            r#"<path class="{class}" d="M{} {}L{} {}"/>"#,
            short(x(start)),
            short(foot - shape.between(ends, start).max(0.0) * ENLARGED),
            short(x(end)),
            short(foot - shape.between(ends, end).max(0.0) * ENLARGED)
        ));
    }
    let hanging = shape.positions_mm.iter().zip(&shape.on_top_mm);
    let top_line: Vec<String> = hanging
        .map(|(position, amount)| format!("{} {}", short(x(*position)), short(top + amount * ENLARGED)))
        .collect();
    if most_on_top >= LEAST_ON_TOP_MM {
        drawn.push_str(&format!(r#"<path class="size-whole" d="M{}"/>"#, top_line.join("L")));
    }
    for (place, position) in shape.positions_mm.iter().enumerate() {
        let name = shape.names.get(place).map_or("", String::as_str);
        let on_top = shape.on_top_mm.get(place).copied().unwrap_or(0.0);
        drawn.push_str(&format!(
            r#"<path class="size-mark" d="M{at} {}V{}"/><text class="size-words" x="{at}" y="4" text-anchor="middle">{}</text><text class="size-words" x="{at}" y="9" text-anchor="middle">{}</text><text class="size-words" x="{at}" y="{}" text-anchor="middle">{}</text><text class="size-words" x="{at}" y="{}" text-anchor="middle">{:.2}</text>"#,
            short(top),
            short(foot),
            escaped(name),
            if on_top >= LEAST_ON_TOP_MM { format!("{on_top:.2}") } else { "–".to_owned() },
            short(foot + 5.0),
            down(shape.between(shape.first_pass_mm, *position)),
            short(foot + 10.5),
            shape.between(shape.whole_mm, *position),
            at = short(x(*position)),
        ));
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

fn alt_text(shape: &SaddleShape) -> String {
    format!(
        "Off the foot, first pass {} mm at the treble and {} mm at the bass; in all {:.2} and {:.2} mm.",
        down(shape.first_pass_mm.0),
        down(shape.first_pass_mm.1),
        shape.whole_mm.0,
        shape.whole_mm.1
    )
}

/// A first pass never takes more than was worked out: down to the hundredth, but for a computer's rounding.
fn down(mm: f64) -> String {
    format!("{:.2}", (mm * 100.0 + 1e-6).floor() / 100.0)
}

/// To a thousandth: a cut is smaller than the hundredth that other drawings need.
fn fine(number: f64) -> String {
    format!("{number:.3}")
}
