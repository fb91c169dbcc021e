//! The circumstances of a set: what is typed beside the grid, and how it is read back.

use crate::quantity::{LengthUnit, Micrometres};
use crate::records::reading::{Circumstances, ReadingStage};
use crate::records::tool::tool;
use crate::web::form::{FormData, LINE, TEXT};

/// Fields of the form that are not places of the grid and are kept under way like them.
pub(super) const ALONGSIDE: [&str; 6] = ["stage", "tool", "tuned_to", "temperature", "humidity", "fret_wear"];

/// What is wrong with one field of [`ALONGSIDE`].
pub(super) fn objection_alongside(name: &str, typed: &str) -> Option<String> {
    let mut form = FormData::default().with("stage", "during").with("tool", "dial").with(name, typed);
    read_circumstances(&mut form);
    form.error(name).map(str::to_owned)
}

pub(super) fn read_circumstances(form: &mut FormData) -> Option<Circumstances> {
    let stage = form.choice::<ReadingStage>("stage", "when these were read");
    let tool_key = form.value("tool").to_owned();
    let found = tool(&tool_key);
    if found.is_none() {
        form.add_error("tool", "Choose what you read with: its step decides how sure a cut is.");
    }
    let temperature = within(form, "temperature", -40_000, 60_000, "Type the temperature in °C, from -40 to 60.");
    let humidity = within(form, "humidity", 0, 100_000, "Type the relative humidity in %, from 0 to 100.");
    let tuned_to = form.line("tuned_to", 60);
    let fret_wear = form.line("fret_wear", LINE);
    let note = form.area("note", TEXT);
    Some(Circumstances {
        stage: stage?,
        tuned_to,
        temperature_millicelsius: temperature,
        // percent with three decimals to tenths of a percent
        humidity_permille: humidity.map(|humidity| (humidity + 50) / 100),
        tool: tool_key,
        tool_resolution: found.and_then(|tool| Micrometres::from_mm(tool.step_mm))?,
        tool_limit: found.and_then(|tool| Micrometres::from_mm(tool.limit_mm))?,
        fret_wear,
        note,
    })
}

/// A number with decimals, in thousandths; `None` where the field is empty.
fn within(form: &mut FormData, name: &str, least: i64, most: i64, words: &str) -> Option<i64> {
    let typed = form.value(name).trim().trim_end_matches(['%', 'C', '°']).trim().to_owned();
    if typed.is_empty() {
        return None;
    }
    match Micrometres::parse_signed(&typed, LengthUnit::Millimetre) {
        Ok(value) if (least..=most).contains(&value.0) => Some(value.0),
        _ => {
            form.add_error(name, words);
            None
        }
    }
}
