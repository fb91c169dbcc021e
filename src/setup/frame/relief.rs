//! What a change of relief does to the heights of a string, between two models of how a neck bends.
//!
//! *Ends tied*: the frets sink below the line through fret 1 and the body joint, and both ends of the string stay.
//! *Even bend*: the neck bends evenly from the joint, c·(x_B − x)² with c = 4/(x_B − x₁)² per mm of relief, and
//! carries the nut with it. The truth lies between. Where a short string begins on the board, its beginning goes
//! with the board in both. Derived here; `strings.md` of the design has the check values.

use super::{Frame, fret_position_mm};

/// A change of height per mm of relief by both models; neither is always the larger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::setup) struct Models {
    /// Ends tied.
    pub(in crate::setup) tied: f64,
    /// Even bend from the joint.
    pub(in crate::setup) bent: f64,
}

/// Where the parts of a board lie that a string passes over, mm from the nut.
struct Places {
    start: Option<f64>,
    first: f64,
    body: f64,
    saddle: f64,
}

impl Places {
    /// Depth of the frets' tops per mm of relief at x; 0 outside of fret 1 to the joint.
    fn sunk(&self, x: f64) -> f64 {
        if x <= self.first || x >= self.body {
            return 0.0;
        }
        4.0 * (x - self.first) * (self.body - x) / self.span().powi(2)
    }

    /// How far an even bend lifts the board at x, per mm of relief.
    fn lifted(&self, x: f64) -> f64 {
        4.0 * (self.body - x).max(0.0).powi(2) / self.span().powi(2)
    }

    fn span(&self) -> f64 {
        self.body - self.first
    }

    /// Height over x of a string from where it begins to a saddle that stays.
    fn over(&self, x: f64) -> Models {
        let start = self.start.unwrap_or(0.0);
        let share = (self.saddle - x) / (self.saddle - start);
        Models {
            tied: self.sunk(x) - self.start.map_or(0.0, |start| self.sunk(start)) * share,
            bent: self.lifted(start) * share - self.lifted(x),
        }
    }
}

impl Frame {
    fn places(&self) -> Option<Places> {
        let body = self.body_fret.filter(|body| *body > 1)?;
        Some(Places {
            start: (self.start > 0).then(|| self.start_mm()),
            first: self.position_mm(1),
            body: self.position_mm(body),
            saddle: self.scale_mm,
        })
    }

    /// Over fret 12; nothing without a body joint.
    pub(in crate::setup) fn relief_at_12(&self) -> Models {
        let Some(places) = self.places() else {
            return Models { tied: 0.0, bent: 0.0 };
        };
        let Models { tied, bent } = places.over(self.position_mm(12));
        // a body joint before the 12th leaves the 12th on the straight part
        Models { tied, bent: bent.max(tied) }
    }

    /// Over the own first fret, open.
    pub(in crate::setup) fn relief_at_first(&self) -> Models {
        self.places().map_or(Models { tied: 0.0, bent: 0.0 }, |places| places.over(self.position_mm(self.own(1))))
    }

    /// The gap over the own first fret when stopped at the own third.
    pub(in crate::setup) fn relief_at_gap(&self) -> Models {
        let Some(places) = self.places() else {
            return Models { tied: 0.0, bent: 0.0 };
        };
        let (first, third) = (self.position_mm(self.own(1)), self.position_mm(self.own(3)));
        let share = self.first_on_the_way_to_third();
        let start = places.start.map_or(0.0, |start| places.sunk(start));
        Models {
            tied: places.sunk(first) - places.sunk(third) * share - start * (1.0 - share),
            // a parabola stands under its own chord by the product of the two distances
            bent: 4.0 / places.span().powi(2) * (first - self.start_mm()) * (third - first),
        }
    }
}

/// Change of the 12th-fret height per mm of relief, between "ends tied" and "even bend from the joint".
pub fn relief_effect_at_12(scale_mm: f64, body_fret: usize) -> (f64, f64) {
    let of = |fret: usize| fret_position_mm(scale_mm, fret);
    let places = Places { start: None, first: of(1), body: of(body_fret), saddle: scale_mm };
    let Models { tied, bent } = places.over(of(12));
    (tied, bent.max(tied))
}
