//! The saddle's foot: the straight cut that does most of the work and overshoots nowhere.

use super::amounts::SAME_MM;
use crate::setup::nearest_line::Line;

/// What keeps the cut from going deeper or from tilting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Bound {
    /// A string's amount, by its place.
    String(usize),
    /// What an end of the saddle can lose.
    Showing,
    /// Nowhere below 0.
    Nothing,
}

/// A bound and where it stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limit {
    pub(super) position: f64,
    pub(super) amount: f64,
    pub(super) bound: Bound,
}

/// All that bounds the cut.
#[derive(Debug, Clone)]
pub(super) struct Foundation {
    /// The strings in their order, what the ends can lose, nothing.
    bounds: Vec<Limit>,
    strings: usize,
    /// How many of them the cut may not exceed.
    most: usize,
    first: f64,
    last: f64,
}

impl Foundation {
    /// Positions grow and are of the same number as the amounts; all mm. `to_lose` is what each end can lose.
    pub(super) fn new(positions: &[f64], amounts: &[f64], to_lose: Option<(f64, f64)>) -> Self {
        let limit = |position: f64, amount: f64, bound: Bound| Limit { position, amount, bound };
        let first = positions.first().copied().unwrap_or(0.0);
        let last = positions.last().copied().unwrap_or(0.0);
        let mut bounds: Vec<Limit> = Vec::with_capacity(positions.len() + 4);
        for (place, (position, amount)) in positions.iter().zip(amounts).enumerate() {
            bounds.push(limit(*position, *amount, Bound::String(place)));
        }
        let strings = bounds.len();
        if let Some((treble, bass)) = to_lose {
            bounds.push(limit(first, treble, Bound::Showing));
            bounds.push(limit(last, bass, Bound::Showing));
        }
        let most = bounds.len();
        bounds.push(limit(first, 0.0, Bound::Nothing));
        bounds.push(limit(last, 0.0, Bound::Nothing));
        Self { bounds, strings, most, first, last }
    }

    /// The same with another amount under one string.
    pub(super) fn set(&mut self, place: usize, amount: f64) {
        if let Some(string) = self.bounds.get_mut(place) {
            string.amount = amount;
        }
    }
}

/// The cut, and the one or two bounds that make it what it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    pub(super) line: Line,
    pub(super) rests_on: Limit,
    pub(super) and_on: Option<Limit>,
}

impl Fit {
    /// How far apart its bounds stand, mm.
    fn span(&self) -> f64 {
        self.and_on.map_or(0.0, |other| (other.position - self.rests_on.position).abs())
    }
}

/// The straight cut nowhere below 0, above no string's amount, nor above what each end can lose,
/// whose sum over the strings is greatest; of equals the least slope.
///
/// A linear programme in two unknowns: its best lies where two bounds meet, or, of equals, on a level
/// line at one bound.
pub(super) fn best_foot(foundation: &Foundation) -> Fit {
    let Foundation { bounds, strings, most, first, last } = foundation;
    let (first, last) = (*first, *last);
    let nothing = Limit { position: first, amount: 0.0, bound: Bound::Nothing };
    let mut best = Fit { line: Line::NOTHING, rests_on: nothing, and_on: None };
    if *strings == 0 {
        return best;
    }
    let uppers = bounds.get(..*most).unwrap_or_default();
    let fits = |line: Line| {
        line.at(first) >= -SAME_MM
            && line.at(last) >= -SAME_MM
            && uppers.iter().all(|most| line.at(most.position) <= most.amount + SAME_MM)
    };
    let sum = |line: Line| bounds.iter().take(*strings).map(|string| line.at(string.position)).sum::<f64>();
    let is_same = |one: Line, other: Line| {
        [first, last].iter().all(|position| (one.at(*position) - other.at(*position)).abs() < SAME_MM)
    };
    let mut greatest = 0.0;
    let mut consider = |fit: Fit| {
        if !fits(fit.line) {
            return;
        }
        let total = sum(fit.line);
        let gain = total - greatest;
        let is_flatter = fit.line.slope.abs() < best.line.slope.abs() - 1e-12;
        // of bounds on one line the outermost carry it: from two neighbours its far end would be a guess
        let is_wider = || is_same(fit.line, best.line) && best.and_on.is_some() && fit.span() > best.span() + SAME_MM;
        if gain > SAME_MM || (gain > -SAME_MM && (is_flatter || is_wider())) {
            (best, greatest) = (fit, total);
        }
    };
    for one in bounds {
        consider(Fit { line: Line { level: one.amount, slope: 0.0 }, rests_on: *one, and_on: None });
    }
    for (place, one) in bounds.iter().enumerate() {
        for other in bounds.iter().skip(place + 1) {
            if (other.position - one.position).abs() > SAME_MM {
                let line = Line::through((one.position, one.amount), (other.position, other.amount));
                consider(Fit { line, rests_on: *one, and_on: Some(*other) });
            }
        }
    }
    best
}
