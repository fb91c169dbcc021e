//! A saddle: the straight cut at its foot, what is left to shape on top, and what then shows above the bridge.

use super::amounts::{COVERAGE, SAME_MM, factor};
use super::foot::{Fit, Foundation, best_foot};
use super::{CutInput, CutOutput, Ends, Foot, Raise, Stop, StringCut};
use crate::setup::reading::{Contribution, combine};
use crate::setup::spread::quantile;

/// What shows of a saddle, and what must go on showing, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shows {
    pub(super) now: Ends,
    pub(super) least_mm: f64,
}

impl Shows {
    pub(super) fn of(input: &CutInput) -> Option<Self> {
        Some(Self { now: input.showing_mm?, least_mm: input.least_showing_mm? })
    }

    /// What each end can lose, mm.
    fn to_lose(self) -> (f64, f64) {
        let can_lose = |showing_mm: f64| (showing_mm - self.least_mm).max(0.0);
        (can_lose(self.now.treble), can_lose(self.now.bass))
    }
}

pub(super) fn saddle(input: &CutInput, mut strings: Vec<StringCut>, raise: Vec<Raise>) -> CutOutput {
    let shows = Shows::of(input);
    let feet = Feet::of(input, &strings, shows);
    let Feet { positions, exact, full, first_pass, .. } = &feet;
    for ((string, amount), position) in strings.iter_mut().zip(exact).zip(positions) {
        string.on_top_mm = Some((amount - full.line.at(*position)).max(0.0));
    }
    let (first, last) = feet.ends_mm();
    let chosen = Foot {
        treble_mm: first_pass.line.at(first),
        bass_mm: first_pass.line.at(last),
        treble_expanded_mm: None,
        bass_expanded_mm: None,
    };
    let unsure = feet.unsure(input, &strings);
    let foot = Foot {
        treble_mm: full.line.at(first),
        bass_mm: full.line.at(last),
        treble_expanded_mm: Some(unsure.treble.expanded_mm()),
        bass_expanded_mm: Some(unsure.bass.expanded_mm()),
    };
    let of_showing = input.showing_expanded_mm.unwrap_or(Ends { treble: 0.0, bass: 0.0 });
    let (treble, bass) = feet.off_at_ends();
    let least = shows.map_or(0.0, |shows| shows.least_mm);
    let is_spent = shows.is_some_and(|shows| is_spent(positions, exact, shows.now, shows.least_mm));
    let stop = is_spent.then(|| Stop {
        key: "saddle-spent".to_owned(),
        words: format!(
            "The cut would leave less than {least} mm of saddle above the bridge. Lowering further is not a setup: \
             offer the larger work."
        ),
    });
    CutOutput {
        strings,
        foot: Some(foot),
        foot_first_pass: Some(chosen),
        left_showing_mm: shows.map(|shows| Ends { treble: shows.now.treble - treble, bass: shows.now.bass - bass }),
        left_showing_expanded_mm: shows.map(|_| Ends {
            treble: unsure.treble_off.expanded_mm().hypot(of_showing.treble),
            bass: unsure.bass_off.expanded_mm().hypot(of_showing.bass),
        }),
        raise,
        stops: stop.into_iter().collect(),
        top: None,
    }
}

/// The foot's two cuts, with what they rest on.
pub(super) struct Feet {
    pub(super) positions: Vec<f64>,
    /// What comes off under each string in all; never below 0.
    pub(super) exact: Vec<f64>,
    pub(super) full: Fit,
    pub(super) first_pass: Fit,
    foundation: Foundation,
}

impl Feet {
    pub(super) fn of(input: &CutInput, strings: &[StringCut], shows: Option<Shows>) -> Self {
        let positions: Vec<f64> = input.strings.iter().map(|string| string.position_mm.unwrap_or(0.0)).collect();
        let exact: Vec<f64> = strings.iter().map(|string| string.exact_mm.unwrap_or(0.0).max(0.0)).collect();
        let first_pass: Vec<f64> = strings.iter().map(|string| string.first_pass_mm).collect();
        let to_lose = shows.map(Shows::to_lose);
        let foundation = Foundation::new(&positions, &exact, to_lose);
        Self {
            full: best_foot(&foundation),
            first_pass: best_foot(&Foundation::new(&positions, &first_pass, to_lose)),
            positions,
            exact,
            foundation,
        }
    }

    pub(super) fn ends_mm(&self) -> (f64, f64) {
        (self.positions.first().copied().unwrap_or(0.0), self.positions.last().copied().unwrap_or(0.0))
    }

    /// What comes off in all under the outer strings, at the foot and on top, mm.
    pub(super) fn off_at_ends(&self) -> (f64, f64) {
        let (first, last) = self.ends_mm();
        let off = |amount: Option<&f64>, at: f64| amount.map_or(0.0, |amount| amount.max(self.full.line.at(at)));
        (off(self.exact.first(), first), off(self.exact.last(), last))
    }

    /// How sure the cut is at both ends, and what comes off there in all: how far a standard uncertainty of each
    /// string's reading moves it (GUM 5.1.3, note 2), and the cutting itself as far as it cuts at all. Nothing here
    /// jumps on a hair's change of a reading, though the strings on which the cut rests may change.
    pub(super) fn unsure(&self, input: &CutInput, strings: &[StringCut]) -> Unsure {
        let (first, last) = self.ends_mm();
        let count = self.positions.len();
        let (mut treble, mut bass) = (Vec::with_capacity(count), Vec::with_capacity(count));
        let mut foundation = self.foundation.clone();
        let mut off = [Contribution { standard_uncertainty: 0.0, degrees_of_freedom: None }; 2];
        for (place, (string, cut)) in input.strings.iter().zip(strings).enumerate() {
            let Some(exact) = cut.exact_mm else { continue };
            let uncertainty = factor(input, string) * string.standard_uncertainty_mm;
            let (most, least) = ((exact + uncertainty).max(0.0), (exact - uncertainty).max(0.0));
            if most <= 0.0 {
                continue;
            }
            let mut at_ends = |amount: f64| {
                foundation.set(place, amount);
                let line = best_foot(&foundation).line;
                (line.at(first), line.at(last))
            };
            let (more, less) = (at_ends(most), at_ends(least));
            foundation.set(place, exact.max(0.0));
            let of = |moved: f64| Contribution {
                standard_uncertainty: moved.abs() / 2.0,
                degrees_of_freedom: string.degrees_of_freedom,
            };
            treble.push(of(more.0 - less.0));
            bass.push(of(more.1 - less.1));
            for (end, is_it) in off.iter_mut().zip([place == 0, place + 1 == count]) {
                if is_it {
                    *end = of(most - least);
                }
            }
        }
        let cutting = |depth: f64| input.cut_uncertainty_mm.min(depth.max(0.0));
        let at_foot = cutting(self.full.line.at(first).max(self.full.line.at(last)));
        let ends = self.off_at_ends();
        let [treble_off, bass_off] = off;
        Unsure {
            treble: EndUnsure { by_strings: treble, by_cutting: at_foot },
            bass: EndUnsure { by_strings: bass, by_cutting: at_foot },
            treble_off: EndUnsure { by_strings: vec![treble_off], by_cutting: cutting(ends.0) },
            bass_off: EndUnsure { by_strings: vec![bass_off], by_cutting: cutting(ends.1) },
        }
    }
}

/// How sure the foot's cut, and all that comes off, is at both ends.
pub(super) struct Unsure {
    pub(super) treble: EndUnsure,
    pub(super) bass: EndUnsure,
    pub(super) treble_off: EndUnsure,
    pub(super) bass_off: EndUnsure,
}

/// What makes one amount unsure, mm.
pub(super) struct EndUnsure {
    pub(super) by_strings: Vec<Contribution>,
    pub(super) by_cutting: f64,
}

impl EndUnsure {
    pub(super) fn combined(&self) -> Contribution {
        let cutting = Contribution { standard_uncertainty: self.by_cutting, degrees_of_freedom: None };
        let all: Vec<Contribution> = self.by_strings.iter().copied().chain([cutting]).collect();
        combine(&all)
    }

    /// Student's t at the effective degrees of freedom as they come out, not cut to a whole number: a step there
    /// would be a step in what the figure says.
    pub(super) fn factor(combined: &Contribution) -> f64 {
        quantile(f64::midpoint(1.0, COVERAGE), combined.degrees_of_freedom.map(|freedom| freedom.max(1.0)))
    }

    pub(super) fn expanded_mm(&self) -> f64 {
        let combined = self.combined();
        Self::factor(&combined) * combined.standard_uncertainty
    }
}

/// Whether some string's whole amount, foot and top together, leaves too little saddle under it. What
/// shows under a string lies on the straight line between the two ends; under a single string, at worst,
/// the lower end.
fn is_spent(positions: &[f64], amounts: &[f64], showing: Ends, least_showing_mm: f64) -> bool {
    let (Some(first), Some(last)) = (positions.first(), positions.last()) else {
        return false;
    };
    let span = last - first;
    let showing_at = |position: f64| {
        if span > SAME_MM {
            showing.treble + (showing.bass - showing.treble) * (position - first) / span
        } else {
            showing.treble.min(showing.bass)
        }
    };
    positions
        .iter()
        .zip(amounts)
        .any(|(position, amount)| *amount > SAME_MM && showing_at(*position) - amount < least_showing_mm - SAME_MM)
}
