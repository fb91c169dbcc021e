//! The stages of a setup, in their order, and which readings each makes stale.

/// Reversible work at a place comes before what takes off there; raising before lowering: a shim lifts its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stage {
    Air,
    Structure,
    SimpleCauses,
    /// A burr is eased before a fresh string meets it.
    Edges,
    Strings,
    Relief,
    Frets,
    /// Two readings of the nut that contradict each other, or one far off, are settled before it is touched.
    NutReadings,
    NutRaised,
    Nut,
    /// The saddle is free and its showing is read before anything is taken off it.
    BridgeReady,
    /// Turned, raised, exchanged.
    BridgeAdjusted,
    /// Taken off.
    Bridge,
    Intonation,
    Finishing,
}

const AIR: &str = "air";
const RELIEF: &str = "relief_mm";
const ACTION: &str = "action_12_mm";
const FIRST: &str = "first_fret_mm";
const GAP: &str = "gap_at_1_stopped_at_3_mm";
const SHOWING: &str = "saddle_showing_mm";
const CENTS: &str = "cents_at_12";
const TO_SADDLE: &str = "from_12_to_saddle_mm";

impl Stage {
    /// Readings that a step of this stage makes stale.
    pub(super) fn makes_stale(self) -> &'static [&'static str] {
        match self {
            // an instrument has recovered once its air says so
            Self::Air => &[AIR, RELIEF, ACTION, FIRST, GAP, SHOWING, CENTS, TO_SADDLE],
            Self::Structure | Self::SimpleCauses => &[RELIEF, ACTION, FIRST, GAP, SHOWING, CENTS, TO_SADDLE],
            Self::Edges | Self::Strings | Self::Relief | Self::Frets => &[RELIEF, ACTION, FIRST, GAP, CENTS],
            Self::NutReadings | Self::NutRaised | Self::Nut => &[ACTION, FIRST, GAP, CENTS],
            Self::BridgeReady | Self::BridgeAdjusted | Self::Bridge => &[ACTION, FIRST, SHOWING, CENTS],
            Self::Intonation => &[CENTS, TO_SADDLE],
            Self::Finishing => &[],
        }
    }

    /// What a step of this stage brings about, as what waits for it says.
    pub(super) fn done(self) -> &'static str {
        match self {
            Self::Air => "the instrument has recovered",
            Self::Structure => "neck and body are as they should be",
            Self::SimpleCauses => "the simple causes are put right",
            Self::Edges => "the slot's edge is eased",
            Self::Strings => "the new strings are on",
            Self::Relief => "the relief is set",
            Self::Frets => "the frets are level and everything is read again",
            Self::NutReadings | Self::NutRaised | Self::Nut => "the nut is done and the heights are read again",
            Self::BridgeReady => "the saddle is free",
            Self::BridgeAdjusted => "the bridge is set and the heights are read again",
            Self::Bridge => "the heights are right",
            Self::Intonation => "the intonation is set",
            Self::Finishing => "it is finished",
        }
    }
}
