//! What the eye and ear find.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::stage::Stage;

/// One thing seen or heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanObservation {
    /// What.
    pub key: ObservationKey,
    /// On which string, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub string: Option<usize>,
    /// At which fret; 0 is the open string.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fret: Option<usize>,
    /// Where, for fraying: nut, saddle, tuner. Empty is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
}

macro_rules! observation_keys {
    ($($variant:ident = $key:literal => $spoken:literal),+ $(,)?) => {
        /// What the eye and ear can find.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        #[expect(missing_docs, reason = "each says itself in `spoken`")]
        pub enum ObservationKey { $(#[serde(rename = $key)] $variant),+ }

        impl ObservationKey {
            /// Every one.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// As it is written.
            pub fn key(self) -> &'static str {
                match self { $(Self::$variant => $key),+ }
            }
            /// As the bench says it.
            pub fn spoken(self) -> &'static str {
                match self { $(Self::$variant => $spoken),+ }
            }
        }

        impl std::str::FromStr for ObservationKey {
            type Err = ();
            fn from_str(text: &str) -> Result<Self, ()> {
                match text { $($key => Ok(Self::$variant),)+ _ => Err(()) }
            }
        }
    };
}

observation_keys! {
    Buzz = "buzz" => "buzzes",
    Choke = "choke" => "chokes",
    Fraying = "fraying" => "string frays",
    SharpLowFrets = "sharp-low-frets" => "sharp at frets 1 to 3 only",
    SharpEverywhere = "sharp-everywhere" => "sharp everywhere, since a string change",
    NutReversed = "nut-reversed" => "nut faces the wrong way",
    SaddleReversed = "saddle-reversed" => "saddle faces the wrong way",
    SaddleGlued = "saddle-glued" => "saddle is glued in",
    EdgeSharp = "edge-sharp" => "slot edge is sharp",
    EdgeRounded = "edge-rounded" => "slot edge is rounded",
    StringsOld = "strings-old" => "strings are old",
    TunersDry = "tuners-dry" => "tuners are dry or stiff",
    FretHigh = "fret-high" => "a fret stands high or loose",
    FretsWorn = "frets-worn" => "frets are worn",
    BoardRises = "board-rises" => "board rises beyond the body joint",
    Crack = "crack" => "crack",
    BridgeLifting = "bridge-lifting" => "bridge is lifting",
    BraceLoose = "brace-loose" => "brace is loose",
    NeckAngle = "neck-angle" => "neck angle points below the bridge",
    BackBow = "back-bow" => "neck bows back",
    NeckBends = "neck-bends" => "neck bends under the strings",
    HeadSlack = "head-slack" => "head is slack",
    BridgeTilts = "bridge-tilts" => "bridge tilts",
    AirDry = "air-dry" => "looks dry: fret ends out, top sunk",
    AirDamp = "air-damp" => "looks damp: top and back swollen",
    PolishSlots = "polish-slots" => "slots are rough",
    Clean = "clean" => "needs cleaning",
}

impl ObservationKey {
    /// Readings that were taken while this stood and say nothing any more once it is put right, as the plan names them.
    pub fn makes_stale(self) -> &'static [&'static str] {
        let put_right = match self {
            Self::AirDry | Self::AirDamp => Stage::Air,
            Self::Crack
            | Self::BridgeLifting
            | Self::BraceLoose
            | Self::NeckAngle
            | Self::BackBow
            | Self::NeckBends => Stage::Structure,
            Self::HeadSlack | Self::BridgeTilts | Self::NutReversed | Self::SaddleReversed => Stage::SimpleCauses,
            Self::EdgeSharp | Self::EdgeRounded | Self::Fraying => Stage::Edges,
            Self::StringsOld => Stage::Strings,
            Self::FretHigh | Self::FretsWorn | Self::BoardRises => Stage::Frets,
            // they are heard, or change no height
            Self::Buzz
            | Self::Choke
            | Self::SharpLowFrets
            | Self::SharpEverywhere
            | Self::SaddleGlued
            | Self::TunersDry
            | Self::PolishSlots
            | Self::Clean => Stage::Finishing,
        };
        put_right.makes_stale()
    }
}
