//! What was done to a record, in sentences: what changed, from what, to what.

use serde_json::{Map, Value};

use super::page::RequestContext;
use crate::quantity::{parse_day, with_weekday};
use crate::records::event::Event;
use crate::records::job::Style;
use crate::records::promise::PromiseMove;
use crate::records::put_right::Correction;
use crate::records::staff::Staff;
use crate::records::telling::{How, Matter};

/// One line of what happened.
pub(super) struct Deed {
    pub(super) at: String,
    pub(super) who: String,
    pub(super) deed: String,
    /// What changed, a sentence each.
    pub(super) changes: Vec<String>,
}

/// What the sentences need beside the events: who is who, and the reasons that stand in columns of their own.
pub(super) struct Beside<'a> {
    pub(super) people: &'a [Staff],
    pub(super) promises: &'a [PromiseMove],
    pub(super) corrections: &'a [Correction],
}

/// The events of a job as lines.
pub(super) fn of_job(context: &RequestContext, events: Vec<Event>, beside: &Beside<'_>) -> Vec<Deed> {
    let lines = events.into_iter().map(|event| Deed {
        at: context.moment(event.at),
        changes: changes(&event, beside),
        who: event.who.unwrap_or_else(|| event.door.spoken().to_owned()),
        deed: event.deed,
    });
    lines.collect()
}

fn changes(event: &Event, beside: &Beside<'_>) -> Vec<String> {
    let object = |json: &Option<String>| -> Map<String, Value> {
        let value = json.as_deref().and_then(|json| serde_json::from_str(json).ok());
        value.and_then(|value: Value| value.as_object().cloned()).unwrap_or_default()
    };
    match event.deed.as_str() {
        "promise moved" => {
            let moved = beside.promises.iter().find(|change| change.at == event.at);
            moved.map(promise_words).into_iter().collect()
        }
        "job changed" => {
            let moved = beside.promises.iter().find(|change| change.at == event.at);
            job_changes(&object(&event.before_json), &object(&event.after_json), beside.people, moved)
        }
        "stage moved" => stage_change(&object(&event.before_json), &object(&event.after_json)).into_iter().collect(),
        "customer told" | "word left for the customer" | "called, no answer" | "called, wrong number" => {
            telling_words(&object(&event.after_json)).into_iter().collect()
        }
        "put right" => {
            let found = beside.corrections.iter().find(|correction| correction.at == event.at);
            found.map(put_right_words).into_iter().collect()
        }
        _ => Vec::new(),
    }
}

/// "it is ready, by telephone: comes on Friday".
fn telling_words(said: &Map<String, Value>) -> Option<String> {
    let text = |key: &str| said.get(key).and_then(Value::as_str);
    let (matter, how) = (text("matter")?.parse::<Matter>().ok()?, text("how")?.parse::<How>().ok()?);
    let note = text("note").map(|note| format!(": {note}")).unwrap_or_default();
    Some(format!("{matter}, {how}{note}"))
}

fn promise_words(moved: &PromiseMove) -> String {
    let from = moved.from_day.map_or_else(|| "no day".to_owned(), with_weekday);
    let why = if moved.reason.is_empty() { String::new() } else { format!(": {}", moved.reason) };
    format!("promised for {from} until then, now for {}{why}", with_weekday(moved.to_day))
}

fn put_right_words(correction: &Correction) -> String {
    let Correction { from_customer, to_customer, reason, .. } = correction;
    let is_other = correction.from_instrument != correction.to_instrument;
    match (from_customer == to_customer, is_other) {
        (true, _) => format!("another instrument of {to_customer}: {reason}"),
        (false, false) => format!("from {from_customer} to {to_customer}: {reason}"),
        (false, true) => format!("from {from_customer} to {to_customer}, and another instrument: {reason}"),
    }
}

fn stage_change(before: &Map<String, Value>, after: &Map<String, Value>) -> Option<String> {
    use crate::records::stage::Stage;
    let stage = |of: &Map<String, Value>| of.get("stage")?.as_str()?.parse::<Stage>().ok();
    let (from, to) = (stage(before)?, stage(after)?);
    let reason = after.get("reason").and_then(Value::as_str).unwrap_or("");
    Some(match reason {
        "" => format!("from {from} to {to}"),
        reason => format!("from {from} to {to}: {reason}"),
    })
}

fn job_changes(
    before: &Map<String, Value>,
    after: &Map<String, Value>,
    people: &[Staff],
    moved: Option<&PromiseMove>,
) -> Vec<String> {
    let text = |of: &Map<String, Value>, key: &str| of.get(key).and_then(Value::as_str).unwrap_or("").to_owned();
    let mut changes = Vec::new();
    if let Some(change) = moved {
        changes.push(promise_words(change));
    } else if text(before, "promised_on") != text(after, "promised_on") {
        let day = parse_day(&text(after, "promised_on"));
        changes.push(
            day.map_or_else(|_| "no longer promised".to_owned(), |day| format!("promised for {}", with_weekday(day))),
        );
    }
    let fields = [
        ("complaint", "What is wrong"),
        ("style", "Plays"),
        ("brought_with", "Came with"),
        ("rack", "Rack place"),
        ("staff_id", "On it"),
    ];
    for (key, label) in fields {
        let (was, is) = (text(before, key), text(after, key));
        if was == is {
            continue;
        }
        let said = |value: &str| match (key, value) {
            (_, "") => "nothing".to_owned(),
            ("style", value) => {
                value.parse::<Style>().map_or_else(|()| value.to_owned(), |style| style.spoken().to_owned())
            }
            ("staff_id", value) => {
                let person = people.iter().find(|person| person.id.to_string() == value);
                person.map_or_else(|| "somebody".to_owned(), |person| person.name.clone())
            }
            (_, value) => value.to_owned(),
        };
        changes.push(format!("{label}: {}, now {}", said(&was), said(&is)));
    }
    changes
}
