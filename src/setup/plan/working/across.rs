//! How a straight line across the strings came about: what it rests on, how far it is at a place, how far it misses.

use crate::setup::nearest_line::{NearestLine, Posts, RestsOn};
use crate::setup::plan::across::{Across, StringWish};
use crate::working::Working;

const NEAREST: &str = "derived here: least worst miss (Chebyshev), equal and alternating at what it rests on";

/// A line across, ready to be told.
pub(super) struct Line<'a> {
    pub(super) across: &'a Across,
    pub(super) line: &'a NearestLine,
    /// What each string wishes: "down at the bridge".
    pub(super) wish: &'a str,
}

/// From where the line is reckoned, and its signed miss there.
struct From {
    position: f64,
    mm: f64,
    miss: f64,
}

impl Line<'_> {
    fn string(&self, place: usize) -> Option<&StringWish> {
        self.across.strings.get(place)
    }

    /// The strings that the line rests on, from 0 on the instrument.
    pub(super) fn rests_on(&self) -> Vec<usize> {
        let places = match self.line.rests_on {
            RestsOn::One(one) => vec![one],
            RestsOn::Two(one, other) => vec![one, other],
            RestsOn::Three(one, middle, other) => vec![one, middle, other],
            RestsOn::Held { one, other, .. } if one == other => vec![one],
            RestsOn::Held { one, other, .. } => vec![one, other],
            RestsOn::BothHeld => Vec::new(),
        };
        places.into_iter().filter_map(|place| Some(self.string(place)?.place)).collect()
    }

    fn put(&self, working: Working, below: &str, place: usize) -> Working {
        let Some(string) = self.string(place) else { return working };
        let number = string.place + 1;
        working.put(format!("w{below}"), format!("wished {}, string {number}", self.wish), string.wish.mm, "mm").put(
            format!("q{below}"),
            format!("where string {number} stands across"),
            string.wish.position,
            "mm",
        )
    }

    fn post(&self, treble: bool) -> (f64, f64) {
        match self.across.limits {
            Some(Posts { treble: at, most, .. }) if treble => (at, most.0),
            Some(Posts { bass: at, most, .. }) => (at, most.1),
            None => (0.0, 0.0),
        }
    }

    fn from(&self) -> From {
        let of = |place: usize, miss: f64| {
            let wish = self.string(place).map(|string| string.wish);
            From { position: wish.map_or(0.0, |wish| wish.position), mm: wish.map_or(0.0, |wish| wish.mm), miss }
        };
        match self.line.rests_on {
            RestsOn::One(one) | RestsOn::Two(one, _) => of(one, 0.0),
            RestsOn::Three(one, ..) => {
                let start = of(one, 0.0);
                From { miss: self.line.line.at(start.position) - start.mm, ..start }
            }
            RestsOn::Held { treble, .. } => {
                let (position, mm) = self.post(treble);
                From { position, mm, miss: 0.0 }
            }
            RestsOn::BothHeld => {
                let (position, mm) = self.post(true);
                From { position, mm, miss: 0.0 }
            }
        }
    }

    /// Slope and miss.
    pub(super) fn chain(&self) -> Vec<Working> {
        let slope = self.line.line.slope;
        let told = |formula: &str| {
            Working::new("", format!("slope across of the line nearest to what is wished {}", self.wish), formula)
        };
        let mut chain = vec![self.slope(&told).gives(slope, "", NEAREST)];
        if let RestsOn::Three(one, middle, _) = self.line.rests_on {
            let miss = self.from().miss;
            let told = Working::new(
                "",
                "how far the line misses the three it rests on, by turns",
                "e = (w₂ − w₁ − b·(q₂ − q₁))/2",
            );
            let told = self.put(self.put(told, "₁", one), "₂", middle);
            chain.push(told.put("b", "slope", slope, "").gives(miss, "mm", NEAREST));
        }
        chain
    }

    fn slope(&self, told: &dyn Fn(&str) -> Working) -> Working {
        match self.line.rests_on {
            RestsOn::One(_) => told("b = 0"),
            RestsOn::Two(one, other) => self.put(self.put(told("b = (w₂ − w₁)/(q₂ − q₁)"), "₁", one), "₂", other),
            RestsOn::Three(one, _, other) => self.put(self.put(told("b = (w₃ − w₁)/(q₃ − q₁)"), "₁", one), "₃", other),
            RestsOn::Held { treble, one, other } => {
                let (at, most) = self.post(treble);
                if one == other {
                    let told = self.put(told("b = (w₁ − s)/(q₁ − p)"), "₁", one);
                    return self.post_put(told, "s", "p", at, most);
                }
                let both = |told| self.put(self.put(told, "₁", one), "₂", other);
                if self.misses_on_both_sides(treble, one, other) {
                    let told = both(told("b = (w₁ + w₂ − 2·s)/(q₁ + q₂ − 2·p)"));
                    self.post_put(told, "s", "p", at, most)
                } else {
                    both(told("b = (w₁ − w₂)/(q₁ − q₂)"))
                }
            }
            RestsOn::BothHeld => {
                let ((first, most), (last, other)) = (self.post(true), self.post(false));
                let told = told("b = (s₂ − s₁)/(p₂ − p₁)");
                self.post_put(self.post_put(told, "s₁", "p₁", first, most), "s₂", "p₂", last, other)
            }
        }
    }

    fn post_put(&self, working: Working, most: &str, at: &str, position: f64, mm: f64) -> Working {
        working.put(most, "how far the post can go", mm, "mm").put(at, "where that post stands", position, "mm")
    }

    /// Held at a post the line misses two strings by the same amount: on both sides of it, or on one.
    fn misses_on_both_sides(&self, treble: bool, one: usize, other: usize) -> bool {
        let (at, most) = self.post(treble);
        let Some((one, other)) = self.string(one).zip(self.string(other)) else {
            return true;
        };
        let by_both = (one.wish.mm + other.wish.mm - 2.0 * most) / (one.wish.position + other.wish.position - 2.0 * at);
        (by_both - self.line.line.slope).abs() <= 1e-12 * by_both.abs().max(1.0)
    }

    /// The line at a place.
    pub(super) fn at(&self, of: String, what: String, position: f64) -> Working {
        let From { position: from, mm, miss } = self.from();
        Working::new(of, what, "y = w₁ + b·(q − q₁) + e")
            .put("w₁", format!("wished {}, at what the line is reckoned from", self.wish), mm, "mm")
            .put("b", "slope across", self.line.line.slope, "")
            .put("q", "where it is told", position, "mm")
            .put("q₁", "where what it is reckoned from stands", from, "mm")
            .put("e", "how far the line misses that", miss, "mm")
            .gives(self.line.line.at(position), "mm", NEAREST)
    }

    /// How far the line is from the wish it misses most.
    pub(super) fn miss(&self, of: String, what: String) -> Working {
        let misses =
            self.across.strings.iter().map(|string| (string, string.wish.mm - self.line.line.at(string.wish.position)));
        let worst = misses.max_by(|(_, one), (_, other)| one.abs().total_cmp(&other.abs()));
        let (wished, stands) =
            worst.map_or((0.0, 0.0), |(string, _)| (string.wish.mm, self.line.line.at(string.wish.position)));
        Working::new(of, what, "E = |w − y|")
            .put("w", format!("wished {}, by the string that is missed most", self.wish), wished, "mm")
            .put("y", "the line there", stands, "mm")
            .gives(self.line.miss_mm, "mm", NEAREST)
    }
}
