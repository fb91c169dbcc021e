//! Condition marks as pages and papers draw them.

use crate::drawing::Svg;
use crate::drawing::outline::{Body, Mark, MarkSize, View, outline};
use crate::records::condition::{ConditionMark, Place, Side};
use crate::records::family::Family;

/// What most marks are, to be pressed instead of typed. Common practice, no source.
pub(super) const USUAL_MARKS: &[&str] = &[
    "scratch",
    "dent",
    "crack",
    "finish worn through",
    "finish checked",
    "loose or lifting",
    "part missing",
    "old repair",
];

/// The drawing of one face with its marks, and the place being marked.
pub(super) fn drawn(family: Family, side: Side, marks: &[ConditionMark], pending: Option<Place>) -> Svg {
    face(family, side, marks, pending, MarkSize::Screen)
}

fn face(family: Family, side: Side, marks: &[ConditionMark], pending: Option<Place>, size: MarkSize) -> Svg {
    let placed = marks.iter().filter(|mark| mark.side == side).filter_map(|mark| {
        let place = mark.place?;
        Some(Mark { number: Some(mark.number), x_permille: place.x_permille, y_permille: place.y_permille })
    });
    let pending =
        pending.map(|place| Mark { number: None, x_permille: place.x_permille, y_permille: place.y_permille });
    let placed: Vec<Mark> = placed.chain(pending).collect();
    let numbers: Vec<String> = placed.iter().filter_map(|mark| mark.number).map(|number| number.to_string()).collect();
    let words = match numbers.as_slice() {
        [] => format!("Outline of the {side}, no mark placed"),
        [one] => format!("Outline of the {side} with mark {one}"),
        more => format!("Outline of the {side} with marks {}", more.join(", ")),
    };
    let view = match side {
        Side::Front => View::Front,
        Side::Back => View::Back,
        Side::Side => View::Side,
        Side::Headstock => View::Headstock,
    };
    let (body, tuners) = shape(family);
    outline(body, view, tuners, &placed, size, &words)
}

/// The faces on which a mark was placed, each drawn: what a ticket shows.
pub(super) fn faces_with_marks(family: Family, marks: &[ConditionMark]) -> Vec<Svg> {
    let has_mark = |side: Side| marks.iter().any(|mark| mark.side == side && mark.place.is_some());
    let marked = Side::ALL.iter().filter(|side| has_mark(**side));
    marked.map(|side| face(family, *side, marks, None, MarkSize::Paper)).collect()
}

/// The body and the tuners on each side of the head that a family usually has.
fn shape(family: Family) -> (Body, u32) {
    match family {
        Family::SteelString | Family::Other => (Body::Waisted { upper: 70.0, waist: 58.0, lower: 98.0 }, 3),
        Family::Classical => (Body::Waisted { upper: 68.0, waist: 55.0, lower: 92.0 }, 3),
        Family::Ukulele => (Body::Waisted { upper: 60.0, waist: 49.0, lower: 80.0 }, 2),
        Family::Electric => (Body::Horned, 3),
        Family::Bass => (Body::Horned, 2),
        Family::Mandolin => (Body::Drop, 4),
        Family::Banjo => (Body::Round, 2),
    }
}
