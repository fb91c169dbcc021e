//! Values that cannot be meant: questioned with the likely meaning before they are stored.

use super::{LengthUnit, Micrometres};

/// Where on the instrument a length was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Height over the 12th fret.
    HeightAt12th,
    /// Open height over the 1st fret.
    HeightAt1st,
    /// Gap over the 1st fret, stopped at the 3rd.
    GapAt1StoppedAt3,
    /// Relief.
    Relief,
    /// Saddle showing above the bridge.
    SaddleShowing,
    /// Depth of the saddle's slot.
    SaddleSlotDepth,
    /// Height of the frets.
    FretHeight,
}

impl Place {
    /// As the shop says it.
    pub fn spoken(self) -> &'static str {
        match self {
            Self::HeightAt12th => "a height at the 12th fret",
            Self::HeightAt1st => "a height at the 1st fret",
            Self::GapAt1StoppedAt3 => "a gap over the 1st fret",
            Self::Relief => "a relief",
            Self::SaddleShowing => "a saddle's showing",
            Self::SaddleSlotDepth => "the depth of a saddle slot",
            Self::FretHeight => "the height of a fret",
        }
    }

    /// The least and the most that is seen on playable and on neglected instruments. Common practice, no source.
    pub fn range(self) -> (i64, i64) {
        match self {
            Self::HeightAt12th => (400, 12_000),
            Self::HeightAt1st => (0, 3_000),
            Self::GapAt1StoppedAt3 => (0, 2_000),
            Self::Relief => (-2_000, 3_000),
            Self::SaddleShowing => (0, 20_000),
            Self::SaddleSlotDepth => (0, 20_000),
            Self::FretHeight => (100, 2_500),
        }
    }

    /// What such a reading usually is, for choosing between likely meanings.
    pub fn usual(self) -> (i64, i64) {
        match self {
            Self::HeightAt12th => (1_000, 5_000),
            Self::HeightAt1st => (200, 1_500),
            Self::GapAt1StoppedAt3 => (20, 600),
            Self::Relief => (0, 800),
            Self::SaddleShowing => (1_000, 8_000),
            Self::SaddleSlotDepth => (2_000, 8_000),
            Self::FretHeight => (500, 1_700),
        }
    }
}

/// A value that cannot be meant, and what was probably meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// The question in words.
    pub words: String,
    /// The likely value, where there is one.
    pub likely: Option<Micrometres>,
}

/// Questions a value that cannot stand at `place`; `None` when it can. `typed_in` is the unit it was read in.
pub fn question(value: Micrometres, place: Place, typed_in: LengthUnit) -> Option<Question> {
    let (least, most) = place.range();
    if (least..=most).contains(&value.0) {
        return None;
    }
    let (usual_least, usual_most) = place.usual();
    let moved = |factor: i64| value.0.checked_mul(factor);
    // a lost decimal point, thousandths of an inch, inches typed as mm, mm typed as inches
    let candidates = [
        (value.0 % 10 == 0).then_some(value.0 / 10),
        Some(value.0 / 100),
        Some(value.0 / 1000 * 254 / 10),
        moved(254).map(|scaled| scaled / 10),
        Some(value.0 * 10 / 254),
        moved(10),
        moved(100),
    ];
    let likely =
        candidates.into_iter().flatten().find(|likely| (usual_least..=usual_most).contains(likely)).map(Micrometres);
    let said = value.in_both(typed_in);
    let words = match likely {
        Some(likely) => {
            format!("{said} cannot be {}. Did you mean {}? Type it again.", place.spoken(), likely.in_both(typed_in))
        }
        None => format!(
            "{said} cannot be {}: between {} and {} is. Read it again.",
            place.spoken(),
            Micrometres(least).in_mm(),
            Micrometres(most).in_mm()
        ),
    };
    Some(Question { words, likely })
}
