//! How our types stand in a column.
//!
//! SQLite's driver reads NULL as 0 or "" without a word for plain integers and texts, so each
//! newtype here refuses NULL itself.

use data_encoding::HEXUPPER;
use serde::{Deserialize, Deserializer, Serialize};
use sqlx::encode::IsNull;
use sqlx::error::BoxDynError;
use sqlx::sqlite::{SqliteArgumentsBuffer, SqliteTypeInfo, SqliteValueRef};
use sqlx::{Decode, Encode, Sqlite, Type, ValueRef};
use uuid::Uuid;

use crate::quantity::{Instant, Micrometres, Money, Thousandths};

/// A value as the JSON text a column keeps.
pub(super) fn as_json<T: Serialize + ?Sized>(value: &T) -> super::Result<String> {
    serde_json::to_string(value).map_err(super::Error::unwritable)
}

/// Bytes that a statement wrote into JSON by `hex()`.
pub(super) fn from_hex<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<u8>, D::Error> {
    let text = String::deserialize(deserializer)?;
    HEXUPPER.decode(text.as_bytes()).map_err(serde::de::Error::custom)
}

macro_rules! keys {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, sqlx::Type)]
        #[sqlx(transparent)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl $name {
            /// A new key, ordered by time (UUIDv7). Never a secret.
            pub fn new() -> Self {
                Self(Uuid::now_v7())
            }
        }

        impl Default for $name {
            fn default() -> Self {
                Self::new()
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Uuid::parse_str(text).map(Self)
            }
        }
    )+};
}

keys! {
    /// Key of a customer.
    CustomerId,
    /// Key of an instrument.
    InstrumentId,
    /// Key of a job. People say its number instead.
    JobId,
    /// Key of a change of hands.
    ChangeOfHandsId,
    /// Key of a signature.
    SignatureId,
    /// Key of a file brought from elsewhere.
    ImportId,
    /// Key of a condition mark.
    ConditionId,
    /// Key of a reading set.
    ReadingSetId,
    /// Key of readings under way.
    DraftId,
    /// Key of an observation.
    ObservationId,
    /// Key of a kept plan.
    PlanId,
    /// Key of a service of the catalogue.
    ServiceId,
    /// Key of a work line.
    WorkLineId,
    /// Key of a quote revision.
    QuoteId,
    /// Key of a payment.
    PaymentId,
    /// Key of a care plan.
    CareId,
    /// Key of a member of staff.
    StaffId,
    /// Key of an API token; never the token itself.
    ApiTokenId,
    /// Key of a string set.
    StringSetId,
    /// Key of an item of the final check.
    CheckItemId,
    /// Key of a stretch of labour.
    LabourId,
    /// Key of a note on a job.
    NoteId,
    /// Key of a part.
    PartId,
    /// Key of a movement of a part.
    PartMovementId,
    /// Key of a photograph.
    PhotoId,
    /// Key of a stretch of closed days.
    ClosedDaysId,
    /// Key of a person's absence.
    AbsenceId,
    /// Key of a message.
    MessageId,
}

macro_rules! integer_column {
    ($($name:ident),+) => {$(
        impl Type<Sqlite> for $name {
            fn type_info() -> SqliteTypeInfo {
                <i64 as Type<Sqlite>>::type_info()
            }
            fn compatible(other: &SqliteTypeInfo) -> bool {
                <i64 as Type<Sqlite>>::compatible(other)
            }
        }
        impl Encode<'_, Sqlite> for $name {
            fn encode_by_ref(&self, buffer: &mut SqliteArgumentsBuffer) -> Result<IsNull, BoxDynError> {
                self.0.encode_by_ref(buffer)
            }
        }
        impl<'r> Decode<'r, Sqlite> for $name {
            fn decode(value: SqliteValueRef<'r>) -> Result<Self, BoxDynError> {
                if value.is_null() {
                    return Err(concat!(stringify!($name), " is missing").into());
                }
                <i64 as Decode<Sqlite>>::decode(value).map(Self)
            }
        }
    )+};
}

integer_column!(Instant, Micrometres, Money, Thousandths);

/// A closed list of words, one spelling for the database, forms, JSON and URLs.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident = $text:literal => $spoken:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize, sqlx::Type)]
        pub enum $name {
            $($(#[$variant_doc])* #[sqlx(rename = $text)] #[serde(rename = $text)] $variant),+
        }

        impl $name {
            /// Every one, in the usual order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The spelling in the database, forms and URLs.
            pub fn key(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }

            /// As the shop says it.
            pub fn spoken(self) -> &'static str {
                match self { $(Self::$variant => $spoken),+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.spoken())
            }
        }

        impl std::str::FromStr for $name {
            type Err = ();
            fn from_str(text: &str) -> std::result::Result<Self, Self::Err> {
                match text { $($text => Ok(Self::$variant),)+ _ => Err(()) }
            }
        }
    };
}
pub(crate) use words;
