//! The side view: strings over the frets from nut to saddle, to scale along the neck, the height
//! exaggerated by a factor that stands beside it. Readings are ink, the target brass, the forecast dashed.

use super::svg::{Svg, escaped, short};
use crate::setup::frame::{Board, Frame, StringLine};

/// Width of the drawing along the neck, in its own units.
const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 190.0;
const LEFT: f64 = 30.0;
const BASE: f64 = 140.0;
/// Height is drawn this many times larger than length, or less where a string stands very high.
const EXAGGERATION: f64 = 14.0;
/// Free space over the highest string.
const HEADROOM: f64 = 24.0;

/// One string drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct SideString {
    /// "treble", "string 6".
    pub name: String,
    /// Over fret 1, mm.
    pub first_fret_mm: f64,
    /// Over fret 12, mm.
    pub action_12_mm: f64,
}

/// What the side view shows.
#[derive(Debug, Clone, PartialEq)]
pub struct SideView {
    /// Nominal scale, mm.
    pub scale_mm: f64,
    /// How many frets.
    pub frets: usize,
    /// Fret at the body joint.
    pub body_fret: usize,
    /// Relief, mm.
    pub relief_mm: f64,
    /// As read: the thinnest and the thickest string.
    pub strings: Vec<SideString>,
    /// Wished height over fret 12 for each, mm.
    pub targets_12_mm: Vec<Option<f64>>,
    /// Height over fret 12 expected after the next step for each, least and most, mm.
    pub forecast_12_mm: Vec<Option<(f64, f64)>>,
}

/// Draws the side view.
pub fn side_view(view: &SideView) -> Svg {
    let board = Board { body_fret: Some(view.body_fret), relief_mm: view.relief_mm, ..Board::default() };
    let frame = Frame::new(view.scale_mm, view.frets, &board);
    let along = (WIDTH - 2.0 * LEFT) / view.scale_mm;
    let x = |mm: f64| LEFT + mm * along;
    let highest_mm = heights_at_saddle(view, &frame).fold(1.0, f64::max);
    let exaggeration = ((BASE - HEADROOM) / (highest_mm * along)).floor().clamp(1.0, EXAGGERATION);
    let y = |mm: f64| BASE - mm * along * exaggeration;
    let mut drawn = format!(
        r#"<svg class="side-view" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escaped(&alt_text(view, exaggeration))
    );
    let below = BASE + 12.0;
    let mut surface = format!("M{} {}", short(x(0.0)), short(y(0.0)));
    for fret in 1..=view.frets {
        surface.push_str(&format!("L{} {}", short(x(frame.position_mm(fret))), short(y(frame.top_mm(fret)))));
    }
    drawn.push_str(&format!(r#"<path class="side-board" d="{surface}V{below}H{}Z"/>"#, short(x(0.0)),));
    for fret in 1..=view.frets {
        let at = x(frame.position_mm(fret));
        let top = y(frame.top_mm(fret));
        drawn.push_str(&format!(r#"<path class="side-fret" d="M{} {}V{}"/>"#, short(at), short(top), short(below)));
        if matches!(fret, 1 | 3 | 5 | 7 | 9 | 12 | 15 | 17 | 19 | 21 | 24) || fret == view.body_fret {
            drawn.push_str(&format!(
                r#"<text class="side-label" x="{}" y="{}" text-anchor="middle">{fret}</text>"#,
                short(at),
                short(below + 16.0)
            ));
        }
    }
    let line = |class: &str, string: StringLine| {
        format!(
            r#"<path class="{class}" d="M{} {}L{} {}"/>"#,
            short(x(0.0)),
            short(y(string.nut_mm)),
            short(x(view.scale_mm)),
            short(y(string.height_mm(view.scale_mm)))
        )
    };
    for (place, string) in view.strings.iter().enumerate() {
        if let Some(Some(target)) = view.targets_12_mm.get(place) {
            drawn.push_str(&line("side-target", frame.string(string.first_fret_mm, *target)));
        }
        if let Some(Some((least, most))) = view.forecast_12_mm.get(place) {
            drawn.push_str(&line("side-forecast", frame.string(string.first_fret_mm, *least)));
            drawn.push_str(&line("side-forecast", frame.string(string.first_fret_mm, *most)));
        }
        let read = frame.string(string.first_fret_mm, string.action_12_mm);
        drawn.push_str(&line("side-string", read));
    }
    let highest = view
        .strings
        .iter()
        .map(|string| frame.string(string.first_fret_mm, string.action_12_mm).height_mm(view.scale_mm))
        .fold(0.0, f64::max);
    drawn.push_str(&format!(
        r#"<path class="side-end" d="M{nut} {}V{below}M{saddle} {}V{below}"/>"#,
        short(y(highest.min(1.0))),
        short(y(highest)),
        nut = short(x(0.0)),
        saddle = short(x(view.scale_mm)),
    ));
    drawn.push_str(&format!(
        r#"<text class="side-label" x="{}" y="{}">nut</text><text class="side-label" x="{}" y="{}" text-anchor="end">saddle</text><text class="side-label" x="{}" y="16">heights {exaggeration}× the lengths</text></svg>"#,
        short(LEFT),
        short(below + 32.0),
        short(WIDTH - LEFT),
        short(below + 16.0),
        short(LEFT),
    ));
    Svg::new(drawn)
}

/// Every height the drawing must hold: as read, wished and expected.
fn heights_at_saddle<'a>(view: &'a SideView, frame: &'a Frame) -> impl Iterator<Item = f64> + 'a {
    view.strings.iter().enumerate().flat_map(|(place, string)| {
        let target = view.targets_12_mm.get(place).copied().flatten();
        let most = view.forecast_12_mm.get(place).copied().flatten().map(|(_, most)| most);
        let actions = [Some(string.action_12_mm), target, most].into_iter().flatten();
        actions.map(|action| frame.string(string.first_fret_mm, action).height_mm(view.scale_mm)).collect::<Vec<_>>()
    })
}

/// The same in words.
fn alt_text(view: &SideView, exaggeration: f64) -> String {
    let strings = view.strings.iter().enumerate().map(|(place, string)| {
        let target = view.targets_12_mm.get(place).copied().flatten();
        let target = target.map_or_else(String::new, |target| format!(", target {target:.2} mm"));
        format!(
            "{}: {:.2} mm over fret 1, {:.2} mm over fret 12{target}",
            string.name, string.first_fret_mm, string.action_12_mm
        )
    });
    format!(
        "Side view, heights exaggerated {exaggeration} times. Relief {:.2} mm. {}.",
        view.relief_mm,
        strings.collect::<Vec<_>>().join("; ")
    )
}
