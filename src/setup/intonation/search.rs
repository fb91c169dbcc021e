//! Which set-backs mend a string: the saddle's that puts the 12th in tune, and the pair of saddle and nut
//! that leaves the least over all frets. Both go by the slopes of the chain, differentiated by hand.

use super::chain::{CENTS_PER_E, Chain, slant};
use super::output::{Rms, SetBacks};

/// Steps of a search at most; either settles in four or five.
const MOST_STEPS: usize = 80;
/// A step this small ends the search for the 12th, mm.
const SETTLED_MM: f64 = 1e-11;
/// A step this small ends the least-squares search, mm.
const PAIR_SETTLED_MM: f64 = 1e-9;

/// One fretted note's error, and how it changes with either end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Note {
    /// Error, cents.
    pub(super) cents: f64,
    /// Change per mm of the saddle's set-back.
    by_saddle: f64,
    /// Change per mm of the nut's set-back.
    by_nut: f64,
}

/// What the sum of squares is made of at one pair of set-backs.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    squares: f64,
    saddle_saddle: f64,
    saddle_nut: f64,
    nut_nut: f64,
    saddle_cents: f64,
    nut_cents: f64,
}

impl Chain {
    /// The error of a note as `Parts::sum` has it, in one logarithm, with its slopes.
    pub(super) fn note(&self, fret: usize, set: SetBacks) -> Note {
        let on = self.on_the_way(fret, set);
        let (slope, finger) = (self.line.slope, self.finger_mm);
        let x = self.frame.position_mm(fret);
        let to_saddle = self.frame.scale_mm() + set.saddle_setback_mm - x;
        let from_nut = x + set.nut_setback_mm - finger;
        let dip = on.saddle_over_mm / to_saddle;
        let down_to_finger = on.nut_over_mm + dip * finger;

        // lengths, per mm of set-back: the open string grows alike with either
        let open_by_either = slant(1.0, slope);
        let sounding_by_saddle = (to_saddle + on.saddle_over_mm * slope) / on.sounding_mm;
        let dip_by_saddle = (slope - dip) / to_saddle;
        let behind_by_saddle = finger * dip_by_saddle * (dip / slant(1.0, dip) + down_to_finger / on.before_finger_mm);
        let behind_by_nut = (from_nut - down_to_finger * slope) / on.before_finger_mm;

        let grown = (1.0 + on.stretch) * open_by_either;
        let stretch_by_saddle = (sounding_by_saddle + behind_by_saddle - grown) / on.open_mm;
        let stretch_by_nut = (behind_by_nut - grown) / on.open_mm;

        let pull = 1.0 + self.stretch_ratio * on.stretch;
        let (open, stopped) = (self.sharpening(on.epsilon_open), self.sharpening(on.epsilon));
        // how S(ε) grows with the logarithm of ε
        let k = self.clamped_ends;
        let growth =
            |epsilon: f64, of: f64| epsilon * (k + (2.0 * k * k + std::f64::consts::PI.powi(2)) * epsilon) / of;
        let open_growth = growth(on.epsilon_open, open);
        let stopped_growth = growth(on.epsilon, stopped);

        let longer = open_by_either / on.open_mm;
        let nearer = sounding_by_saddle / on.sounding_mm;
        let slope_of = |stretch_by: f64, nearer: f64| {
            let pull_by = self.stretch_ratio * stretch_by / (2.0 * pull);
            let by_stretch = stretch_by / (2.0 * (1.0 + on.stretch)) + pull_by;
            let by_stiffness = open_growth * longer - stopped_growth * (nearer + pull_by);
            CENTS_PER_E * (longer - nearer + by_stretch + by_stiffness)
        };
        // the nominal length of the note, without raising 2 to a power again
        let nominal_mm = self.frame.scale_mm() - x;
        let by_length = on.open_mm * nominal_mm * stopped / (self.frame.scale_mm() * on.sounding_mm * open);
        Note {
            cents: CENTS_PER_E / 2.0 * (by_length * by_length * (1.0 + on.stretch) * pull).ln(),
            by_saddle: slope_of(stretch_by_saddle, nearer),
            by_nut: slope_of(stretch_by_nut, 0.0),
        }
    }

    /// The saddle's set-back that puts the 12th in tune, by Newton's steps between bounds that close in: the
    /// error falls as the set-back grows. `None` where no set-back up to an eighth of the scale does it.
    pub(super) fn best_saddle(&self, nut_setback_mm: f64) -> Option<f64> {
        let twelfth = |saddle_setback_mm: f64| self.note(12, SetBacks { saddle_setback_mm, nut_setback_mm });
        let (mut least, mut most) = (-self.frame.scale_mm() / 8.0, self.frame.scale_mm() / 8.0);
        if !(twelfth(least).cents > 0.0 && twelfth(most).cents < 0.0) {
            return None;
        }
        let mut at = 0.0;
        for _ in 0..MOST_STEPS {
            let note = twelfth(at);
            if note.cents > 0.0 {
                least = at;
            } else {
                most = at;
            }
            let newton = at - note.cents / note.by_saddle;
            let next = if least <= newton && newton <= most { newton } else { f64::midpoint(least, most) };
            if (next - at).abs() < SETTLED_MM {
                return Some(next);
            }
            at = next;
        }
        Some(at)
    }

    /// Least squares over all frets by Gauss–Newton, the full formula; with what is left without any
    /// set-back and with this pair.
    pub(super) fn best_pair(&self) -> (SetBacks, Rms) {
        let mut set = SetBacks { saddle_setback_mm: 0.0, nut_setback_mm: 0.0 };
        let mut sums = self.sums(set);
        let without = self.rms(sums);
        for _ in 0..MOST_STEPS {
            let Sums { saddle_saddle: ss, saddle_nut: sn, nut_nut: nn, saddle_cents: sc, nut_cents: nc, .. } = sums;
            let determinant = ss * nn - sn * sn;
            let (saddle_mm, nut_mm) = ((nn * sc - sn * nc) / determinant, (ss * nc - sn * sc) / determinant);
            set.saddle_setback_mm -= saddle_mm;
            set.nut_setback_mm -= nut_mm;
            sums = self.sums(set);
            if saddle_mm.abs().max(nut_mm.abs()) < PAIR_SETTLED_MM {
                break;
            }
        }
        (set, Rms { without, with_best_pair: self.rms(sums) })
    }

    /// Half of how the sum of squares changes with the saddle and with the nut: 0 at the best pair.
    pub(super) fn gradient(&self, set: SetBacks) -> (f64, f64) {
        let sums = self.sums(set);
        (sums.saddle_cents, sums.nut_cents)
    }

    fn sums(&self, set: SetBacks) -> Sums {
        (1..=self.frets).map(|fret| self.note(fret, set)).fold(Sums::default(), |sums, note| Sums {
            squares: sums.squares + note.cents * note.cents,
            saddle_saddle: sums.saddle_saddle + note.by_saddle * note.by_saddle,
            saddle_nut: sums.saddle_nut + note.by_saddle * note.by_nut,
            nut_nut: sums.nut_nut + note.by_nut * note.by_nut,
            saddle_cents: sums.saddle_cents + note.by_saddle * note.cents,
            nut_cents: sums.nut_cents + note.by_nut * note.cents,
        })
    }

    fn rms(&self, sums: Sums) -> f64 {
        (sums.squares / f64::from(u32::try_from(self.frets).unwrap_or(u32::MAX)).max(1.0)).sqrt()
    }
}
