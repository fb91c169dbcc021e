//! A string that begins on the way, beside those that begin at the nut: one bridge carries both, and over fret 12 the
//! short one comes down lower.

use crate::setup::frame::{felt_from_saddle, fret_position_mm};

/// How the height of a short string over fret 12 follows from that of a whole one at its place, both beginning at the
/// height that the gap wishes and lying on one bridge: h = p + (h_w − p)·w (similar triangles, over a straight board).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ShortRun {
    /// Where the strings begin, over the crowns there, mm.
    pub(super) pip_mm: f64,
    /// Of what a change at the bridge is to a whole string over fret 12, so much is it to this one.
    pub(super) share: f64,
}

impl ShortRun {
    pub(super) fn of(scale_mm: f64, setback_mm: f64, start: usize, gap_mm: f64) -> Self {
        let at = |fret: usize| fret_position_mm(scale_mm, fret);
        let (from, sounding) = (at(start), scale_mm + setback_mm);
        let whole = felt_from_saddle(at(12), sounding);
        let own = felt_from_saddle(at(12) - from, sounding - from);
        // equal temperament: the first and third fret of a short string divide it as they divide a whole one
        let pip_mm = gap_mm / (1.0 - at(1) / at(3));
        Self { pip_mm, share: if start == 0 { 1.0 } else { own / whole } }
    }

    pub(super) fn is_whole(self) -> bool {
        self.share >= 1.0
    }

    /// Of a whole string's height over fret 12 this one's, mm.
    pub(super) fn own_mm(self, whole_mm: f64) -> f64 {
        if self.is_whole() { whole_mm } else { self.pip_mm + (whole_mm - self.pip_mm) * self.share }
    }

    /// The other way, mm.
    pub(super) fn whole_mm(self, own_mm: f64) -> f64 {
        if self.is_whole() { own_mm } else { self.pip_mm + (own_mm - self.pip_mm) / self.share }
    }
}
