//! The saddle's foot: the straight cut that does most of the work and overshoots nowhere.

/// Below this two lengths are the same, mm: far finer than any file.
const SAME_MM: f64 = 1e-9;

/// A straight line across the strings: level + slope·position.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    level: f64,
    pub(super) slope: f64,
}

impl Line {
    const NOTHING: Self = Self { level: 0.0, slope: 0.0 };

    pub(super) fn at(self, position: f64) -> f64 {
        self.level + self.slope * position
    }

    fn through(one: (f64, f64), other: (f64, f64)) -> Self {
        let slope = (other.1 - one.1) / (other.0 - one.0);
        Self { level: one.1 - slope * one.0, slope }
    }
}

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

    /// How much of each bound's amount the cut has at a position.
    pub(super) fn shares_at(&self, position: f64) -> (f64, f64) {
        match self.and_on {
            None => (1.0, 0.0),
            Some(other) => {
                let span = other.position - self.rests_on.position;
                ((other.position - position) / span, (position - self.rests_on.position) / span)
            }
        }
    }
}

/// The straight cut nowhere below 0, above no string's amount, nor above what each end can lose,
/// whose sum over the strings is greatest; of equals the least slope. Positions grow and are of the
/// same number as the amounts; all mm.
///
/// A linear programme in two unknowns: its best lies where two bounds meet, or, of equals, on a level
/// line at one bound.
pub(super) fn best_foot(positions: &[f64], amounts: &[f64], ends_can_lose: (f64, f64)) -> Fit {
    let limit = |position: f64, amount: f64, bound: Bound| Limit { position, amount, bound };
    let first = positions.first().copied().unwrap_or(0.0);
    let last = positions.last().copied().unwrap_or(0.0);
    let mut best = Fit { line: Line::NOTHING, rests_on: limit(first, 0.0, Bound::Nothing), and_on: None };
    let strings = positions.iter().zip(amounts).enumerate();
    let mut most: Vec<Limit> =
        strings.map(|(place, (position, amount))| limit(*position, *amount, Bound::String(place))).collect();
    most.push(limit(first, ends_can_lose.0, Bound::Showing));
    most.push(limit(last, ends_can_lose.1, Bound::Showing));
    let mut bounds = most.clone();
    bounds.push(limit(first, 0.0, Bound::Nothing));
    bounds.push(limit(last, 0.0, Bound::Nothing));

    let fits = |fit: &Fit| {
        fit.line.at(first) >= -SAME_MM
            && fit.line.at(last) >= -SAME_MM
            && most.iter().all(|most| fit.line.at(most.position) <= most.amount + SAME_MM)
    };
    let sum = |line: Line| positions.iter().map(|position| line.at(*position)).sum::<f64>();
    let level =
        bounds.iter().map(|one| Fit { line: Line { level: one.amount, slope: 0.0 }, rests_on: *one, and_on: None });
    let corners = bounds.iter().enumerate().flat_map(|(place, one)| {
        let apart = move |other: &&Limit| (other.position - one.position).abs() > SAME_MM;
        bounds.iter().skip(place + 1).filter(apart).map(|other| Fit {
            line: Line::through((one.position, one.amount), (other.position, other.amount)),
            rests_on: *one,
            and_on: Some(*other),
        })
    });
    let is_same = |one: Line, other: Line| {
        [first, last].iter().all(|position| (one.at(*position) - other.at(*position)).abs() < SAME_MM)
    };
    if positions.is_empty() {
        return best;
    }
    for fit in level.chain(corners).filter(fits) {
        let gain = sum(fit.line) - sum(best.line);
        let is_flatter = fit.line.slope.abs() < best.line.slope.abs() - 1e-12;
        // of bounds on one line the outermost carry it: from two neighbours its far end would be a guess
        let is_wider = is_same(fit.line, best.line) && best.and_on.is_some() && fit.span() > best.span() + SAME_MM;
        if gain > SAME_MM || (gain > -SAME_MM && (is_flatter || is_wider)) {
            best = fit;
        }
    }
    best
}
