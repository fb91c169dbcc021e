//! The frame that everything is measured in.
//!
//! x runs from the nut's front edge; fret n of a scale L is at L(1 − 2^(−n/12)), equal temperament.
//! Heights are from the straight line over the tops of fret 1 and the body-joint fret B. With relief r
//! (the gap half-way between them) the tops stand at −4r(x−x₁)(x_B−x)/(x_B−x₁)² between those frets
//! and on the line beyond, less a fall-away that grows straight from 0 at B to its value at the last
//! fret. The parabola differs from a circular arc by less than a nanometre at any relief in use.
//!
//! A short string (a banjo's fifth) lies in the same frame: it begins at the fret before its first, and its
//! first and third frets are counted from there.

mod relief;
pub(super) mod working;

pub(super) use relief::Models;
pub use relief::relief_effect_at_12;

use std::collections::BTreeMap;

/// Position of a fret, mm from the nut's front edge.
pub fn fret_position_mm(scale_mm: f64, fret: usize) -> f64 {
    scale_mm * (1.0 - (-steps(fret) / 12.0).exp2())
}

/// 2^(n/12): how much shorter the string sounds at fret n.
pub fn ratio(fret: usize) -> f64 {
    (steps(fret) / 12.0).exp2()
}

fn steps(fret: usize) -> f64 {
    f64::from(u32::try_from(fret).unwrap_or(u32::MAX))
}

/// The board under one string: fret positions and the heights of their tops.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    scale_mm: f64,
    /// The fret at which the string begins; 0 is the nut.
    start: usize,
    body_fret: Option<usize>,
    positions_mm: Vec<f64>,
    tops_mm: Vec<f64>,
}

/// What is not straight about a board.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Board<'a> {
    /// Fret at the body joint; needed with relief or fall-away.
    pub body_fret: Option<usize>,
    /// Relief, mm; minus is back-bow.
    pub relief_mm: f64,
    /// How far the last fret lies below the line, mm.
    pub fall_away_mm: f64,
    /// Frets that stand over their neighbours, mm.
    pub high_frets_mm: Option<&'a BTreeMap<usize, f64>>,
}

impl Board<'_> {
    /// How much a fret stands over its neighbours, mm.
    fn high_mm(&self, fret: usize) -> f64 {
        self.high_frets_mm.and_then(|high| high.get(&fret)).copied().unwrap_or(0.0)
    }

    fn shape(&self, scale_mm: f64, frets: usize) -> Shape {
        Shape {
            first_mm: fret_position_mm(scale_mm, 1),
            last_mm: fret_position_mm(scale_mm, frets),
            body_mm: self.body_fret.filter(|body| *body > 1).map(|body| fret_position_mm(scale_mm, body)),
        }
    }
}

/// Where the parts of a board begin and end.
#[derive(Debug, Clone, Copy)]
struct Shape {
    first_mm: f64,
    last_mm: f64,
    body_mm: Option<f64>,
}

/// The part of a board a place lies on.
#[derive(Debug, Clone, Copy)]
enum Part {
    /// The line itself.
    Straight,
    /// Between fret 1 and the body joint.
    Relief { body_mm: f64 },
    /// Beyond the body joint.
    FallAway { body_mm: f64 },
}

impl Shape {
    fn part(&self, x: f64) -> Part {
        match self.body_mm {
            Some(body_mm) if x > self.first_mm && x < body_mm => Part::Relief { body_mm },
            Some(body_mm) if x > body_mm && self.last_mm > body_mm => Part::FallAway { body_mm },
            _ => Part::Straight,
        }
    }
}

impl Frame {
    /// A board of `frets` frets. Positions and tops reach to the 12th fret at least, since heights are read there.
    pub fn new(scale_mm: f64, frets: usize, board: &Board<'_>) -> Self {
        let reach = frets.max(12);
        let positions_mm: Vec<f64> = (0..=reach).map(|fret| fret_position_mm(scale_mm, fret)).collect();
        let shape = board.shape(scale_mm, frets);
        let (first, last) = (shape.first_mm, shape.last_mm);
        let curve = |x: f64| match shape.part(x) {
            Part::Relief { body_mm: body } => {
                let span = body - first;
                -4.0 * board.relief_mm * (x - first) * (body - x) / (span * span)
            }
            Part::FallAway { body_mm: body } => -board.fall_away_mm * (x - body) / (last - body),
            Part::Straight => 0.0,
        };
        let mut tops_mm: Vec<f64> =
            positions_mm.iter().enumerate().map(|(fret, x)| curve(*x) + board.high_mm(fret)).collect();
        tops_mm[0] = 0.0;
        Self { scale_mm, start: 0, body_fret: board.body_fret, positions_mm, tops_mm }
    }

    /// The same board under a string that begins at a fret. Heights are then read over its own first fret, the
    /// next one, and over fret 12, as on its neighbours.
    #[must_use]
    pub fn beginning_at(self, start: usize) -> Self {
        Self { start, ..self }
    }

    /// Nominal scale, mm.
    pub fn scale_mm(&self) -> f64 {
        self.scale_mm
    }

    /// Position of a fret, mm; 0 is the nut.
    pub fn position_mm(&self, fret: usize) -> f64 {
        self.positions_mm.get(fret).copied().unwrap_or_else(|| fret_position_mm(self.scale_mm, fret))
    }

    /// Height of a fret's top over the line, mm.
    pub fn top_mm(&self, fret: usize) -> f64 {
        self.tops_mm.get(fret).copied().unwrap_or(0.0)
    }

    /// The fret at which the string begins; 0 is the nut.
    pub fn start(&self) -> usize {
        self.start
    }

    /// A fret counted from where the string begins: its own first is 1.
    pub(super) fn own(&self, fret: usize) -> usize {
        self.start + fret
    }

    /// Where the string begins, mm from the nut's front edge.
    pub fn start_mm(&self) -> f64 {
        self.position_mm(self.start)
    }

    /// The string whose lower side passes at these heights over its own first fret and fret 12.
    pub fn string(&self, first_fret_mm: f64, action_12_mm: f64) -> StringLine {
        let first = self.own(1);
        let (x_1, x_12) = (self.position_mm(first), self.position_mm(12));
        let over_first = first_fret_mm + self.top_mm(first);
        let over_twelfth = action_12_mm + self.top_mm(12);
        let slope = (over_twelfth - over_first) / (x_12 - x_1);
        StringLine { nut_mm: over_first - slope * x_1, slope }
    }

    /// How much of a change at the saddle, set back by `setback_mm`, is felt over a fret.
    pub fn felt_from_saddle(&self, fret: usize, setback_mm: f64) -> f64 {
        let from = self.start_mm();
        felt_from_saddle(self.position_mm(fret) - from, self.scale_mm + setback_mm - from)
    }

    /// How much of a change where the string begins is felt over a fret.
    pub fn felt_from_nut(&self, fret: usize, setback_mm: f64) -> f64 {
        1.0 - self.felt_from_saddle(fret, setback_mm)
    }

    /// How far along the string, stopped at its own third fret, its own first lies: 0 to 1.
    pub(super) fn first_on_the_way_to_third(&self) -> f64 {
        let from = self.start_mm();
        (self.position_mm(self.own(1)) - from) / (self.position_mm(self.own(3)) - from)
    }

    /// Gap over `over` when the string is stopped at `at` and runs to `saddle_mm` at the saddle.
    pub fn stopped_gap_mm(&self, at: usize, over: usize, saddle_mm: f64) -> f64 {
        let (x_at, x_over) = (self.position_mm(at), self.position_mm(over));
        let start = self.top_mm(at);
        start + (saddle_mm - start) * (x_over - x_at) / (self.scale_mm - x_at) - self.top_mm(over)
    }

    /// Gap over the own first fret when the string is stopped at its own third and begins at `nut_mm`.
    pub fn gap_at_1_stopped_at_3_mm(&self, nut_mm: f64) -> f64 {
        let share = self.first_on_the_way_to_third();
        nut_mm * (1.0 - share) + self.top_mm(self.own(3)) * share - self.top_mm(self.own(1))
    }

    /// Height where the string begins, mm, from the gap over its own first fret when stopped at its own third.
    pub fn nut_from_gap_mm(&self, gap_at_1_stopped_at_3_mm: f64) -> f64 {
        let share = self.first_on_the_way_to_third();
        (gap_at_1_stopped_at_3_mm + self.top_mm(self.own(1)) - self.top_mm(self.own(3)) * share) / (1.0 - share)
    }

    /// Height the nut may not go below: the open string no closer to its first fret than to its second when
    /// stopped at the first. Answers the height at the nut, mm.
    pub fn least_nut_mm(&self, saddle_mm: f64) -> f64 {
        let first = self.own(1);
        let felt = self.felt_from_saddle(first, 0.0);
        let over_first = self.stopped_gap_mm(first, self.own(2), saddle_mm) + self.top_mm(first);
        (over_first - saddle_mm * felt) / (1.0 - felt)
    }
}

/// A straight string from nut to saddle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StringLine {
    /// Height over the line at the nut's front edge, mm.
    pub nut_mm: f64,
    /// Rise per mm.
    pub slope: f64,
}

impl StringLine {
    /// Height over the line at x, mm.
    pub fn height_mm(&self, x_mm: f64) -> f64 {
        self.nut_mm + self.slope * x_mm
    }
}

/// How much of a change at the saddle is felt at x: x/L′.
pub fn felt_from_saddle(x_mm: f64, sounding_mm: f64) -> f64 {
    x_mm / sounding_mm
}

/// How much of a change at the nut is felt at x: 1 − x/L′.
pub fn felt_from_nut(x_mm: f64, sounding_mm: f64) -> f64 {
    1.0 - x_mm / sounding_mm
}
