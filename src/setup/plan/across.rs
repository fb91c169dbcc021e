//! A part that goes as one across the strings: two posts, a loose bridge, a clamping nut. The straight line nearest to
//! what every string wishes tells how far at each end, and a standard uncertainty of each string's reading how sure
//! that is.

use super::read::Read;
use super::walk::EndAmounts;
use crate::setup::cut::Ends;
use crate::setup::nearest_line::{NearestLine, Posts, Wish, nearest, nearest_within};
use crate::setup::reading::{Contribution, combine};
use crate::setup::spread::quantile;

/// Share of cases that an expanded uncertainty covers.
pub(super) const COVERAGE: f64 = 0.95;

/// What one string wishes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct StringWish {
    /// From 0.
    pub(super) place: usize,
    pub(super) wish: Wish,
    /// Standard uncertainty of the wish, mm.
    pub(super) uncertainty: f64,
    pub(super) freedom: Option<f64>,
}

impl StringWish {
    /// A wish of `mm` that follows from a reading, `factor` mm for each of its own.
    pub(super) fn new(place: usize, position: f64, mm: f64, read: &Read, factor: f64) -> Self {
        Self { place, wish: Wish { position, mm }, uncertainty: read.uncertainty * factor.abs(), freedom: read.freedom }
    }
}

/// The wishes of all strings that were read, and how far the part can go at its posts.
#[derive(Debug, Clone)]
pub(super) struct Across {
    pub(super) strings: Vec<StringWish>,
    pub(super) limits: Option<Posts>,
}

impl Across {
    pub(super) fn wishes(&self) -> Vec<Wish> {
        self.strings.iter().map(|string| string.wish).collect()
    }

    fn nearest_to(&self, wishes: &[Wish]) -> Option<NearestLine> {
        match self.limits {
            Some(posts) => nearest_within(wishes, posts),
            None => nearest(wishes),
        }
    }

    /// `None` where nothing was read.
    pub(super) fn nearest(&self) -> Option<NearestLine> {
        self.nearest_to(&self.wishes())
    }

    /// The same without one of the strings.
    pub(super) fn without(&self, place: usize) -> Self {
        let strings = self.strings.iter().filter(|string| string.place != place).copied().collect();
        Self { strings, limits: self.limits }
    }

    /// Where the outer strings that were read stand, mm.
    pub(super) fn outer(&self) -> (f64, f64) {
        let at = |string: Option<&StringWish>| string.map_or(0.0, |string| string.wish.position);
        (at(self.strings.first()), at(self.strings.last()))
    }

    /// How far a standard uncertainty of each string moves the line at both places (GUM 5.1.3, note 2).
    pub(super) fn unsure(&self, places: (f64, f64)) -> [Vec<Contribution>; 2] {
        let mut wishes = self.wishes();
        let mut found = [Vec::with_capacity(wishes.len()), Vec::with_capacity(wishes.len())];
        for (at, string) in self.strings.iter().enumerate() {
            let mut moved = |by: f64| {
                if let Some(wish) = wishes.get_mut(at) {
                    wish.mm = string.wish.mm + by;
                }
                self.nearest_to(&wishes)
                    .map_or((0.0, 0.0), |nearest| (nearest.line.at(places.0), nearest.line.at(places.1)))
            };
            let (more, less) = (moved(string.uncertainty), moved(-string.uncertainty));
            moved(0.0);
            for (end, by) in found.iter_mut().zip([more.0 - less.0, more.1 - less.1]) {
                end.push(Contribution { standard_uncertainty: by.abs() / 2.0, degrees_of_freedom: string.freedom });
            }
        }
        found
    }

    /// The line at two places, with its expanded uncertainties.
    pub(super) fn ends(&self, line: &NearestLine, (treble, bass): (f64, f64)) -> EndAmounts {
        let unsure = self.unsure((treble, bass)).map(|parts| expanded(&parts));
        EndAmounts {
            mm: Ends { treble: line.line.at(treble), bass: line.line.at(bass) },
            expanded_mm: Ends { treble: unsure[0], bass: unsure[1] },
        }
    }
}

/// Student's t of contributions together, at their effective degrees of freedom as they come out.
pub(super) fn coverage_factor(combined: &Contribution) -> f64 {
    quantile(f64::midpoint(1.0, COVERAGE), combined.degrees_of_freedom.map(|freedom| freedom.max(1.0)))
}

pub(super) fn expanded(parts: &[Contribution]) -> f64 {
    let combined = combine(parts);
    coverage_factor(&combined) * combined.standard_uncertainty
}
