//! The straight line that comes nearest to several wishes across the strings: its greatest miss is the least that
//! any line leaves (Chebyshev's criterion). It tells two posts, a loose bridge and a nut that moves as one how far
//! to go at each end.
//!
//! Of two wishes the line is exact. Of more, it rests on three of them, i < j < k, whose misses are equal and
//! alternate: slope b = (w_k − w_i)/(x_k − x_i), miss e = ½[w_j − w_i − b(x_j − x_i)], line y = w_i + b(x − x_i) + e
//! with the greatest |e| of all threes. It is found by exchange: a wish that is missed by more takes the place of
//! the one on its side. Textbook; from memory.

/// Below this two lengths are the same, mm: far finer than any tool.
const SAME_MM: f64 = 1e-9;
/// Each exchange makes the miss greater, so this is only against rounding.
const MOST_EXCHANGES: usize = 200;

/// A straight line across the strings: level + slope·position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    pub(super) level: f64,
    pub(super) slope: f64,
}

impl Line {
    pub(super) const NOTHING: Self = Self { level: 0.0, slope: 0.0 };

    pub(super) fn at(self, position: f64) -> f64 {
        self.level + self.slope * position
    }

    pub(super) fn through(one: (f64, f64), other: (f64, f64)) -> Self {
        let slope = (other.1 - one.1) / (other.0 - one.0);
        Self { level: one.1 - slope * one.0, slope }
    }
}

/// A wish at a place across the strings, both mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wish {
    pub(super) position: f64,
    pub(super) mm: f64,
}

/// What makes the line what it is, by places in the list of wishes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RestsOn {
    /// There is only one.
    One(usize),
    /// It runs through both.
    Two(usize, usize),
    /// It misses these equally, on alternating sides.
    Three(usize, usize, usize),
    /// It is held at one post, and misses these two equally on both sides, or runs through the one.
    Held { treble: bool, one: usize, other: usize },
    /// It is held at both posts.
    BothHeld,
}

/// The line, how far it is from the wish it misses most, and what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct NearestLine {
    pub(super) line: Line,
    pub(super) miss_mm: f64,
    pub(super) rests_on: RestsOn,
}

/// Two places where the line is set, and how far each can go, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Posts {
    pub(super) treble: f64,
    pub(super) bass: f64,
    /// The most at each; without end where it is not known.
    pub(super) most: (f64, f64),
}

/// The nearest line. Positions are distinct; `None` without wishes.
pub(super) fn nearest(wishes: &[Wish]) -> Option<NearestLine> {
    match wishes {
        [] => None,
        [only] => {
            Some(NearestLine { line: Line { level: only.mm, slope: 0.0 }, miss_mm: 0.0, rests_on: RestsOn::One(0) })
        }
        [one, other] => Some(NearestLine {
            line: Line::through((one.position, one.mm), (other.position, other.mm)),
            miss_mm: 0.0,
            rests_on: RestsOn::Two(0, 1),
        }),
        _ => Some(by_exchange(wishes)),
    }
}

/// The same where the line can go no further than `posts.most` at each post.
pub(super) fn nearest_within(wishes: &[Wish], posts: Posts) -> Option<NearestLine> {
    let free = nearest(wishes)?;
    let fits =
        |line: Line| line.at(posts.treble) <= posts.most.0 + SAME_MM && line.at(posts.bass) <= posts.most.1 + SAME_MM;
    if fits(free.line) {
        return Some(free);
    }
    let (treble, bass) = ((posts.treble, posts.most.0), (posts.bass, posts.most.1));
    // the misses are convex in the line, so the best lies on a limit
    let mut candidates = Vec::new();
    if treble.1.is_finite() {
        candidates.extend(held(wishes, treble, true));
    }
    if bass.1.is_finite() {
        candidates.extend(held(wishes, bass, false));
    }
    if treble.1.is_finite() && bass.1.is_finite() {
        let line = Line::through(treble, bass);
        candidates.push(NearestLine { line, miss_mm: greatest_miss(wishes, line).1, rests_on: RestsOn::BothHeld });
    }
    let fitting = candidates.into_iter().filter(|candidate| fits(candidate.line));
    fitting.reduce(|best, other| if is_nearer(wishes, &other, &best) { other } else { best })
}

/// Whether a line comes nearer than another; where the greatest misses are the same, because one wish is out of reach,
/// the one that is nearer to the rest.
fn is_nearer(wishes: &[Wish], line: &NearestLine, than: &NearestLine) -> bool {
    let rest = |of: &NearestLine| wishes.iter().map(|wish| over(wish, of.line).powi(2)).sum::<f64>();
    let by = line.miss_mm - than.miss_mm;
    by < -SAME_MM || (by <= SAME_MM && rest(line) < rest(than) - SAME_MM)
}

/// How far every wish lies over the line, mm.
fn over(wish: &Wish, line: Line) -> f64 {
    wish.mm - line.at(wish.position)
}

/// The wish that a line misses most, and by how much.
fn greatest_miss(wishes: &[Wish], line: Line) -> (usize, f64) {
    let misses = wishes.iter().map(|wish| over(wish, line).abs()).enumerate();
    misses.fold((0, 0.0), |most, (place, miss)| if miss > most.1 { (place, miss) } else { most })
}

/// The line that three wishes would have, and its signed miss: the middle one lies so far over it.
fn of_three(wishes: &[Wish], (i, j, k): (usize, usize, usize)) -> Option<(Line, f64)> {
    let (first, middle, last) = (wishes.get(i)?, wishes.get(j)?, wishes.get(k)?);
    let chord = Line::through((first.position, first.mm), (last.position, last.mm));
    let miss = over(middle, chord) / 2.0;
    Some((Line { level: chord.level + miss, slope: chord.slope }, miss))
}

fn by_exchange(wishes: &[Wish]) -> NearestLine {
    let last = wishes.len() - 1;
    let mut three = (0, 1, last);
    let mut found = (Line::NOTHING, 0.0);
    for _ in 0..MOST_EXCHANGES {
        let Some(line) = of_three(wishes, three) else { break };
        found = line;
        let (place, miss) = greatest_miss(wishes, found.0);
        if miss <= found.1.abs() + SAME_MM || [three.0, three.1, three.2].contains(&place) {
            break;
        }
        let is_over = wishes.get(place).is_some_and(|wish| over(wish, found.0) > 0.0);
        // the middle one lies over the line where the miss is plus, the outer two under it
        let like_middle = is_over == (found.1 >= 0.0);
        let (i, j, k) = three;
        three = match (like_middle, place) {
            (false, _) if place < j => (place, j, k),
            (false, _) => (i, j, place),
            (true, _) if place < i => (place, i, j),
            (true, _) if place > k => (j, k, place),
            (true, _) => (i, place, k),
        };
    }
    NearestLine { line: found.0, miss_mm: found.1.abs(), rests_on: RestsOn::Three(three.0, three.1, three.2) }
}

/// The line through a post at its limit whose greatest miss is least: there it runs through a wish, or misses two
/// equally.
fn held(wishes: &[Wish], post: (f64, f64), treble: bool) -> Option<NearestLine> {
    let mut best: Option<NearestLine> = None;
    let mut consider = |slope: f64, one: usize, other: usize| {
        if !slope.is_finite() {
            return;
        }
        let line = Line { level: post.1 - slope * post.0, slope };
        let miss_mm = greatest_miss(wishes, line).1;
        let found = NearestLine { line, miss_mm, rests_on: RestsOn::Held { treble, one, other } };
        if best.is_none_or(|best| is_nearer(wishes, &found, &best)) {
            best = Some(found);
        }
    };
    for (place, one) in wishes.iter().enumerate() {
        let (from, rise) = (one.position - post.0, one.mm - post.1);
        consider(rise / from, place, place);
        for (later, other) in wishes.iter().enumerate().skip(place + 1) {
            let (other_from, other_rise) = (other.position - post.0, other.mm - post.1);
            consider((rise + other_rise) / (from + other_from), place, later);
            // on the two sides of the post misses of one sign may be equal
            if from * other_from < 0.0 {
                consider((rise - other_rise) / (from - other_from), place, later);
            }
        }
    }
    best
}
