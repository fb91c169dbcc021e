//! What an input may be at most: wide enough for anything with frets, narrow enough that nothing runs away.

/// Scale lengths, mm.
pub(super) const SCALE_MM: (f64, f64) = (50.0, 3000.0);
/// Frets on one board.
pub(super) const MOST_FRETS: usize = 60;
/// Strings on one instrument.
pub(super) const MOST_STRINGS: usize = 24;
/// Repeats of one reading.
pub(super) const MOST_REPEATS: usize = 200;
/// Heights, reliefs and amounts, mm.
pub(super) const HEIGHT_MM: (f64, f64) = (0.0, 100.0);
/// Set-backs and reliefs that may be negative, mm.
pub(super) const SIGNED_MM: (f64, f64) = (-50.0, 50.0);
/// Relief of a neck that is worked out, mm: beyond, something else is wrong with it or with the figure.
pub(super) const RELIEF_MM: (f64, f64) = (-5.0, 5.0);
/// Strings and cores, mm.
pub(super) const DIAMETER_MM: (f64, f64) = (0.02, 20.0);
/// Standard pitch, Hz.
pub(super) const A4_HZ: (f64, f64) = (300.0, 600.0);
/// The last fret at which a short string may begin: its own third still lies before the 12th.
pub(super) const LATEST_START: usize = 9;
