//! The saddle's foot: the straight cut that does most of the work and overshoots nowhere.

/// Below this two lengths are the same, mm: far finer than any file.
const SAME_MM: f64 = 1e-9;

/// A straight line across the strings: level + slope·position.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    level: f64,
    slope: f64,
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

/// The straight cut nowhere below 0, above no string's amount, nor above what each end can lose,
/// whose sum over the strings is greatest; of equals the least slope. Positions grow and are of the
/// same number as the amounts; all mm.
///
/// A linear programme in two unknowns: its best lies where two bounds meet, or, of equals, on a level
/// line at one bound.
pub(super) fn best_foot(positions: &[f64], amounts: &[f64], ends_can_lose: (f64, f64)) -> Line {
    let (Some(&first), Some(&last)) = (positions.first(), positions.last()) else {
        return Line::NOTHING;
    };
    let mut most: Vec<(f64, f64)> = positions.iter().copied().zip(amounts.iter().copied()).collect();
    most.push((first, ends_can_lose.0));
    most.push((last, ends_can_lose.1));
    let mut bounds = most.clone();
    bounds.push((first, 0.0));
    bounds.push((last, 0.0));

    let fits = |line: &Line| {
        line.at(first) >= -SAME_MM
            && line.at(last) >= -SAME_MM
            && most.iter().all(|(position, most)| line.at(*position) <= most + SAME_MM)
    };
    let sum = |line: Line| positions.iter().map(|position| line.at(*position)).sum::<f64>();
    let level = bounds.iter().map(|(_, amount)| Line { level: *amount, slope: 0.0 });
    let corners = bounds.iter().enumerate().flat_map(|(place, one)| {
        let apart = move |other: &&(f64, f64)| (other.0 - one.0).abs() > SAME_MM;
        bounds.iter().skip(place + 1).filter(apart).map(|other| Line::through(*one, *other))
    });
    level.chain(corners).filter(fits).fold(Line::NOTHING, |best, line| {
        let gain = sum(line) - sum(best);
        let is_flatter = line.slope.abs() < best.slope.abs() - 1e-12;
        if gain > SAME_MM || (gain > -SAME_MM && is_flatter) { line } else { best }
    })
}
