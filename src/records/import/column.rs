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
    }
}

impl Column {
    /// What a column most likely holds, by its heading.
    pub(super) fn guessed(heading: &str) -> Self {
        match folded(heading).replace(['-', '_', '.'], " ").trim() {
            "name" | "full name" | "customer" | "customer name" | "owner" | "contact" => Self::Name,
            "telephone" | "phone" | "tel" | "mobile" | "cell" | "phone number" | "owner telephone" => Self::Telephone,
            "email" | "e mail" | "mail" | "email address" | "owner e mail" | "owner email" => Self::Email,
            "address" | "street" | "postal address" => Self::Address,
            "reminders agreed on" | "reminders" | "consent" => Self::RemindersAgreedOn,
            "note" | "notes" | "remarks" => Self::Note,
            "kind" | "family" | "type" | "instrument" => Self::Family,
            "maker" | "make" | "brand" | "builder" | "manufacturer" => Self::Maker,
            "model" => Self::Model,
            "serial" | "serial number" | "serial no" => Self::Serial,
            "year" | "built" => Self::Year,
            "finish" | "colour" | "color" => Self::Finish,
            "instrument note" => Self::InstrumentNote,
            _ => Self::Nothing,
        }
    }
}
