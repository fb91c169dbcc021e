//! How one reading stands to what is wished.

use super::read::Read;
use crate::setup::spread::quantile;

/// How a reading stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stand {
    High,
    Low,
    Good,
    /// Outside, but not by more than the reading's uncertainty; reading it again may decide.
    Unsure,
    /// The same, read often enough: it is let stand.
    Accepted,
    /// Asked for again: nothing is judged by it.
    Doubted,
    NotRead,
    /// This instrument has no such place.
    NotAsked,
}

impl Stand {
    /// Of a reading that should lie within a range, where what is done about it can be undone.
    pub(super) fn of(read: &Read, least: f64, most: f64) -> Self {
        Self::beyond(read, read.expanded, (least, most))
    }

    /// The same where what is too high is taken off and does not come back: that must be surer than what is only told.
    pub(super) fn to_cut(read: &Read, least: f64, most: f64, risk: f64) -> Self {
        let surely = quantile(1.0 - risk, read.freedom) * read.uncertainty;
        Self::beyond(read, surely.max(read.expanded), (least, most))
    }

    fn beyond(read: &Read, over: f64, (least, most): (f64, f64)) -> Self {
        if read.value - over > most {
            Self::High
        } else if read.value + read.expanded < least {
            Self::Low
        } else if read.value <= most && read.value >= least {
            Self::Good
        } else if read.may_be_repeated() {
            Self::Unsure
        } else {
            Self::Accepted
        }
    }
}

/// The strings that stand so, from 1.
pub(super) fn strings_that(stands: &[Stand], wanted: Stand) -> Vec<usize> {
    (1..).zip(stands).filter(|(_, stand)| **stand == wanted).map(|(string, _)| string).collect()
}
