//! What is asked before anything is written: who it is, which instrument is meant, where it goes.
//!
//! One question at a time: who they are may answer the others.

use crate::records::InstrumentId;
use crate::records::check_in::{CheckIn, Which, Whose};
use crate::records::family::Family;
use crate::records::fold::folded;
use crate::records::instrument::{self, SameSerial};
use crate::records::search::{self, CustomerHit};
use crate::web::Result;
use crate::web::form::FormData;
use crate::web::page::RequestContext;
use crate::web::rack_view::TakenPlace;
use crate::web::words::instrument_title;

/// What the page asks; empty where nothing is to be asked.
#[derive(Default)]
pub(super) struct Asked {
    /// Records that are most likely the person being added.
    pub(super) same: Vec<CustomerHit>,
    /// Instruments that bear the serial being written down.
    pub(super) same_serial: Vec<SameSerial>,
    /// A known instrument was chosen and another was typed.
    pub(super) which: Option<ChosenAndTyped>,
    /// Another instrument stands at the place.
    pub(super) taken: Option<TakenPlace>,
}

/// The instrument that was chosen beside the one that was typed.
pub(super) struct ChosenAndTyped {
    pub(super) chosen: InstrumentId,
    pub(super) chosen_title: String,
    pub(super) typed_title: String,
}

/// The fields of an instrument that we do not know yet.
const TYPED: [&str; 4] = ["maker", "model", "serial", "finish"];

/// Takes the answer to “which one is it” for the choice: nothing is asked twice.
pub(super) fn take_answers(form: &mut FormData) {
    match form.value("it_is").to_owned().as_str() {
        "" => {}
        "new" => form.set("instrument", ""),
        known => {
            form.set("instrument", known);
            for field in TYPED.iter().chain(&["family"]) {
                form.set(field, "");
            }
        }
    }
    let place = form.value("rack_at").to_owned();
    if !place.is_empty() {
        form.set("rack", place);
    }
}

/// Whether somebody chose a known instrument and typed another one.
pub(super) async fn chosen_and_typed(context: &RequestContext, form: &FormData) -> Result<Option<ChosenAndTyped>> {
    let Ok(chosen) = form.value("instrument").parse::<InstrumentId>() else { return Ok(None) };
    if TYPED.iter().all(|field| form.value(field).trim().is_empty()) && form.value("family").is_empty() {
        return Ok(None);
    }
    let known = instrument::load(context.app.db.read(), chosen).await?.entry;
    let stands = [&known.maker, &known.model, &known.serial, &known.finish];
    let differs = |typed: &str, stands: &str| !typed.trim().is_empty() && folded(typed) != folded(stands);
    let family = form.value("family").parse::<Family>().unwrap_or(known.family);
    let is_other =
        family != known.family || TYPED.iter().zip(stands).any(|(field, stands)| differs(form.value(field), stands));
    let serial = |serial: &str| if serial.is_empty() { String::new() } else { format!(", {serial}") };
    let titled = |title: String, number: &str| format!("{title}{}", serial(number.trim()));
    Ok(is_other.then(|| ChosenAndTyped {
        chosen,
        chosen_title: titled(known.title(), &known.serial),
        typed_title: titled(
            instrument_title(family, form.value("maker").trim(), form.value("model").trim()),
            form.value("serial"),
        ),
    }))
}

impl Asked {
    /// What is asked of an entry that can be read; `None` where it can be written.
    pub(super) async fn of(context: &RequestContext, form: &mut FormData, entry: &CheckIn) -> Result<Option<Self>> {
        let reading = context.app.db.read();
        if let Some(which) = chosen_and_typed(context, form).await? {
            form.add_error("which", "You chose one instrument and typed another. Say which one it is.");
            return Ok(Some(Self { which: Some(which), ..Self::default() }));
        }
        if let (Whose::New(new), false) = (&entry.customer, form.is("is_new", "yes")) {
            let same = search::likely_same(reading, &new.name, &new.telephone, &new.email).await?;
            if !same.is_empty() {
                form.add_error("same", "Somebody like this is here already. Say whether it is the same person.");
                return Ok(Some(Self { same, ..Self::default() }));
            }
        }
        if let (Which::New(new), false) = (&entry.instrument, form.is("another_serial", "yes")) {
            let same_serial = instrument::with_serial(reading, &new.serial).await?;
            if !same_serial.is_empty() {
                form.add_error("same_serial",
                    "There is an instrument with this serial already. Say whether it is this one, or correct the serial.",
                );
                return Ok(Some(Self { same_serial, ..Self::default() }));
            }
        }
        if !form.is("same_rack", "yes")
            && let Some(taken) = TakenPlace::find(context, &entry.rack, None).await?
        {
            form.add_error("same_rack", "That place is taken. Say whether both go there, or choose another.");
            return Ok(Some(Self { taken: Some(taken), ..Self::default() }));
        }
        Ok(None)
    }

    /// Whether anything is asked.
    pub(super) fn is_anything(&self) -> bool {
        !self.same.is_empty() || !self.same_serial.is_empty() || self.which.is_some() || self.taken.is_some()
    }
}
