//! Outlines of instruments on which condition marks are placed: plain shapes of our own, one a family and view.
//!
//! Each drawing has its own white ground and carries its colours in attributes, so that it reads the same on a
//! page, on paper, and as a picture by itself.

use super::svg::{Svg, escaped};

/// Width of every drawing in its own units.
pub const WIDTH: u32 = 240;
/// Height of every drawing in its own units.
pub const HEIGHT: u32 = 360;

/// The shape of a body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Body {
    /// Waisted, with a round hole; the widths are half of the upper bout, the waist and the lower bout.
    Waisted {
        /// Half the upper bout.
        upper: f64,
        /// Half the waist.
        waist: f64,
        /// Half the lower bout.
        lower: f64,
    },
    /// Solid, with two horns.
    Horned,
    /// A drop.
    Drop,
    /// A drum.
    Round,
}

/// Which face is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// Top.
    Front,
    /// Back.
    Back,
    /// Rim.
    Side,
    /// Head.
    Headstock,
}

/// A numbered mark, in thousandths of width and height from the top left. Without a number it is being placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// As on the list beside it.
    pub number: Option<i64>,
    /// From the left.
    pub x_permille: i64,
    /// From the top.
    pub y_permille: i64,
}

/// How large the numbers of marks are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkSize {
    /// On a screen, where the drawing has its own size.
    Screen,
    /// On paper, where it is printed at a fifth of it.
    Paper,
}

/// The outline with its marks. `tuners` stand on each side of the head; `words` say what it shows.
pub fn outline(body: Body, view: View, tuners: u32, marks: &[Mark], size: MarkSize, words: &str) -> Svg {
    let mut drawn = format!(
        r##"<svg class="outline" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" role="img" aria-label="{}"><rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/><g fill="none" stroke="#3c3c3c" stroke-width="2" stroke-linejoin="round">"##,
        escaped(words)
    );
    match view {
        View::Front => {
            drawn.push_str(&face(body));
            drawn.push_str(furniture(body));
        }
        View::Back => drawn.push_str(&format!(r#"<g transform="translate({WIDTH}) scale(-1 1)">{}</g>"#, face(body))),
        View::Side => drawn.push_str(rim(body)),
        View::Headstock => drawn.push_str(&head(tuners)),
    }
    drawn.push_str("</g>");
    for mark in marks {
        drawn.push_str(&marked(*mark, size));
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

fn face(body: Body) -> String {
    let (path, joint) = match body {
        Body::Waisted { upper, waist, lower } => (waisted(upper, waist, lower), 110),
        Body::Horned => (
            "M102 150H138C138 132 150 110 174 104C194 100 198 116 189 136C180 156 172 172 176 198C180 226 204 242 204 284C204 326 166 346 120 346C74 346 36 326 36 284C36 242 58 226 62 196C65 172 55 142 47 118C40 94 54 82 72 90C92 99 102 132 102 150Z"
                .to_owned(),
            150,
        ),
        Body::Drop => (
            "M120 112C152 112 212 196 212 256C212 312 172 346 120 346C68 346 28 312 28 256C28 196 88 112 120 112Z"
                .to_owned(),
            112,
        ),
        Body::Round => ("M120 146A100 100 0 1 1 119.9 146Z".to_owned(), 146),
    };
    format!(r#"<path d="M109 0V{joint}M131 0V{joint}"/><path d="{path}"/>"#)
}

fn waisted(upper: f64, waist: f64, lower: f64) -> String {
    let side = |sign: f64| {
        let at = |half: f64| 120.0 + sign * half;
        (at(upper * 0.85), at(upper), at(waist), at(lower), at(lower * 0.6))
    };
    let (ra, rb, rc, rd, re) = side(1.0);
    let (la, lb, lc, ld, le) = side(-1.0);
    format!(
        "M120 110C{ra} 108 {rb} 130 {rb} 160C{rb} 190 {rc} 195 {rc} 216C{rc} 240 {rd} 246 {rd} 286C{rd} 326 {re} 346 120 346C{le} 346 {ld} 326 {ld} 286C{ld} 246 {lc} 240 {lc} 216C{lc} 195 {lb} 190 {lb} 160C{lb} 130 {la} 108 120 110Z"
    )
}

/// What stands on the front, as far as it helps to find a place.
fn furniture(body: Body) -> &'static str {
    match body {
        Body::Waisted { .. } => {
            r#"<circle cx="120" cy="188" r="25"/><rect x="88" y="274" width="64" height="13" rx="5"/><path d="M109 110V163M131 110V163"/>"#
        }
        Body::Horned => {
            r#"<rect x="96" y="186" width="48" height="15" rx="5"/><rect x="96" y="240" width="48" height="15" rx="5"/><rect x="92" y="280" width="56" height="18" rx="3"/><circle cx="176" cy="300" r="7"/><circle cx="158" cy="322" r="7"/><path d="M109 150V180M131 150V180"/>"#
        }
        Body::Drop => {
            r#"<ellipse cx="120" cy="206" rx="26" ry="17"/><rect x="92" y="262" width="56" height="9" rx="3"/><path d="M112 346L114 324H126L128 346"/>"#
        }
        Body::Round => {
            r#"<circle cx="120" cy="246" r="90"/><rect x="96" y="286" width="48" height="8" rx="3"/><path d="M112 346L114 322H126L128 346"/>"#
        }
    }
}

fn rim(body: Body) -> &'static str {
    match body {
        Body::Horned => r#"<path d="M100 0V120M116 0V120"/><rect x="96" y="104" width="46" height="242" rx="14"/>"#,
        Body::Round => r#"<path d="M88 0V146M104 0V146"/><rect x="82" y="146" width="76" height="200" rx="6"/>"#,
        Body::Waisted { .. } | Body::Drop => {
            r#"<path d="M78 0V110M96 0V110"/><path d="M78 110H148C156 110 160 116 160 126V332C160 341 155 346 146 346H78Z"/><path d="M96 110C96 124 104 128 118 128"/>"#
        }
    }
}

fn head(tuners: u32) -> String {
    let mut drawn = String::from(
        r#"<path d="M97 356L94 312C90 288 76 276 72 236L66 64C84 40 104 52 120 40C136 52 156 40 174 64L168 236C164 276 150 288 146 312L143 356"/><path d="M94 312H146"/>"#,
    );
    let gap = 170.0 / f64::from(tuners.max(1));
    for place in 0..tuners {
        let y = 84.0 + gap * (f64::from(place) + 0.5);
        for (post, key) in [(90, 44), (150, 196)] {
            drawn.push_str(&format!(
                r#"<circle cx="{post}" cy="{y:.0}" r="6"/><ellipse cx="{key}" cy="{y:.0}" rx="13" ry="9"/>"#
            ));
        }
    }
    drawn
}

fn marked(mark: Mark, size: MarkSize) -> String {
    let at = |permille: i64, whole: u32| permille.clamp(0, 1000) * i64::from(whole) / 1000;
    let (x, y) = (at(mark.x_permille, WIDTH), at(mark.y_permille, HEIGHT));
    match mark.number {
        // a ring with a cross: nothing stands there yet
        None => format!(
            r##"<g fill="none" stroke="#000" stroke-width="3"><circle cx="{x}" cy="{y}" r="13"/><path d="M{x} {}v12M{} {y}h12"/></g>"##,
            y - 6,
            x - 6
        ),
        Some(number) => {
            let (radius, letters) = match size {
                MarkSize::Screen => (12, 15),
                MarkSize::Paper => (19, 26),
            };
            format!(
                r##"<circle cx="{x}" cy="{y}" r="{radius}" fill="#fff" stroke="#000" stroke-width="2.5"/><text x="{x}" y="{}" font-family="sans-serif" font-size="{letters}" font-weight="700" text-anchor="middle" fill="#000">{number}</text>"##,
                y + letters * 7 / 20
            )
        }
    }
}
