//! What the columns of a file hold, and what each most likely is by its heading.

use super::super::column::words;
use super::super::fold::folded;

words! {
    /// What a column of the file holds.
    Column {
        /// Nothing for us.
        Nothing = "nothing" => "leave it out",
        /// The customer's name.
        Name = "name" => "customer: name",
        /// Their telephone.
        Telephone = "telephone" => "customer: telephone",
        /// Another number.
        Telephone2 = "telephone-2" => "customer: second telephone",
        /// And another.
        Telephone3 = "telephone-3" => "customer: third telephone",
        /// What they are called beside their name.
        Nickname = "nickname" => "customer: also called",
        /// Their e-mail.
        Email = "email" => "customer: e-mail",
        /// Their address.
        Address = "address" => "customer: address",
        /// The day they agreed to reminders.
        RemindersAgreedOn = "reminders-agreed-on" => "customer: day reminders were agreed to",
        /// The private note.
        Note = "note" => "customer: note",
        /// What kind of instrument.
        Family = "family" => "instrument: kind",
        /// Who made it.
        Maker = "maker" => "instrument: maker",
        /// Which model.
        Model = "model" => "instrument: model",
        /// Its serial.
        Serial = "serial" => "instrument: serial",
        /// Its year.
        Year = "year" => "instrument: year",
        /// Colour, finish.
        Finish = "finish" => "instrument: finish",
        /// A note about it.
        InstrumentNote = "instrument-note" => "instrument: note",
        /// What holds the strings' heights at its bridge.
        BridgeKind = "bridge-kind" => "instrument: bridge kind",
        /// Height of a full turn of its screws, wheels or posts.
        ScrewPitch = "screw-pitch" => "instrument: height of a full turn, mm",
        /// Where its treble post stands.
        PostTreble = "post-treble" => "instrument: treble post across, mm",
        /// Where its bass post stands.
        PostBass = "post-bass" => "instrument: bass post across, mm",
        /// How its neck is joined.
        NeckJoint = "neck-joint" => "instrument: neck joint",
        /// What its strings run over at the head.
        Nut = "nut" => "instrument: nut",
        /// The scale of the last string of a fanned board.
        ScaleBass = "scale-bass" => "instrument: scale of the last string, mm",
        /// Where each of its strings begins.
        StringsBegin = "strings-begin" => "instrument: fret at which each string begins",
        /// The course of each of its strings.
        Courses = "courses" => "instrument: course of each string",
    }
}

impl Column {
    /// What a column most likely holds, by its heading.
    pub(super) fn guessed(heading: &str) -> Self {
        let heading = folded(heading).replace(['-', '_', '.', '/', ':', '#', '(', ')'], " ");
        match heading.split_whitespace().collect::<Vec<_>>().join(" ").as_str() {
            "name" | "full name" | "customer" | "customer name" | "client" | "client name" | "owner" | "contact" => {
                Self::Name
            }
            "telephone" | "phone" | "tel" | "phone number" | "telephone number" | "tel no" | "phone no"
            | "home phone" | "owner telephone" => Self::Telephone,
            "mobile" | "cell" | "mobile phone" | "cell phone" | "mobile no" | "mobile number" | "telephone 2"
            | "phone 2" | "tel 2" | "second telephone" | "work phone" => Self::Telephone2,
            "telephone 3" | "phone 3" | "tel 3" | "third telephone" | "other phone" => Self::Telephone3,
            "nickname" | "also called" | "known as" | "aka" => Self::Nickname,
            "email" | "e mail" | "mail" | "email address" | "e mail address" | "e mail addr" | "email addr"
            | "owner e mail" | "owner email" => Self::Email,
            "address" | "street" | "postal address" | "addr" => Self::Address,
            "reminders agreed on" | "reminders" | "consent" | "reminder ok" | "newsletter" => Self::RemindersAgreedOn,
            "note" | "notes" | "remarks" | "comment" | "comments" => Self::Note,
            "kind" | "family" | "type" | "instrument" | "instrument type" | "kind of instrument" => Self::Family,
            "maker" | "make" | "mfr" | "brand" | "builder" | "manufacturer" => Self::Maker,
            "model" => Self::Model,
            "serial" | "serial number" | "serial no" | "s n" | "sn" | "ser no" | "serial nr" => Self::Serial,
            "year" | "built" | "yr" | "year built" => Self::Year,
            "finish" | "colour" | "color" | "colour finish" => Self::Finish,
            "instrument note" => Self::InstrumentNote,
            "bridge kind" => Self::BridgeKind,
            "screw pitch in mm" => Self::ScrewPitch,
            "treble post in mm" => Self::PostTreble,
            "bass post in mm" => Self::PostBass,
            "neck joint" => Self::NeckJoint,
            "nut" => Self::Nut,
            "bass scale in mm" => Self::ScaleBass,
            "strings begin at fret" => Self::StringsBegin,
            "strings in courses" => Self::Courses,
            _ => Self::Nothing,
        }
    }
}
