//! What was typed at the counter, read into what is checked in; faults stand at their fields.

use super::marks::MarkFields;
use crate::records::check_in::{CheckIn, Which, Whose};
use crate::records::condition::Side;
use crate::records::family::Family;
use crate::records::instrument::InstrumentEntry;
use crate::records::job::Style;
use crate::records::{CustomerId, InstrumentId};
use crate::web::desk::customer_fields;
use crate::web::form::{FormData, LINE, TEXT};
use crate::web::page::RequestContext;

pub(super) fn check_in_entry(form: &mut FormData, context: &RequestContext) -> Option<CheckIn> {
    let customer = match form.id::<CustomerId>("customer") {
        Some(id) => Some(Whose::Known(id)),
        None => customer_fields::read(form, context, None).map(Whose::New),
    };
    let instrument = match form.id::<InstrumentId>("instrument") {
        Some(id) => Some(Which::Known(id)),
        // already asked which one it is
        None if form.error("instrument").is_some() => None,
        None => read_instrument(form).map(|entry| Which::New(Box::new(entry))),
    };
    let complaint = form.required_area("complaint", "what the customer says is wrong, in their words", TEXT);
    let style = form.choice::<Style>("style", "how hard the customer plays");
    let brought_with = form.line("brought_with", LINE);
    let rack = form.line("rack", 40);
    let promised_on = form.day("promised_on");
    if promised_on.is_some_and(|day| day < context.today()) {
        form.add_error("promised_on", "This day is past. Promise today or a later day.");
    }
    let marks = read_marks(form);
    if form.has_errors() {
        return None;
    }
    Some(CheckIn {
        customer: customer?,
        instrument: instrument?,
        complaint,
        style: style?,
        brought_with,
        rack,
        promised_on,
        marks,
    })
}

fn read_instrument(form: &mut FormData) -> Option<InstrumentEntry> {
    let family = form.choice::<Family>("family", "what kind of instrument it is");
    let maker = form.line("maker", LINE);
    let model = form.line("model", LINE);
    let serial = form.line("serial", LINE);
    let finish = form.line("finish", LINE);
    Some(InstrumentEntry { maker, model, serial, finish, ..InstrumentEntry::usual(family?) })
}

fn read_marks(form: &mut FormData) -> Vec<(Side, String)> {
    let mut marks = Vec::new();
    for mark in MarkFields::all() {
        let note = form.line(&mark.note_field, LINE);
        if note.is_empty() {
            continue;
        }
        if let Some(side) = form.choice(&mark.side_field, "where the mark is") {
            marks.push((side, note));
        }
    }
    marks
}
