//! What was before a deed and after it, in words: only what changed, without keys that mean nothing to a person.

use serde_json::{Map, Value};
use time::Date;

use crate::quantity::{Instant, Micrometres, Money, Thousandths, with_weekday};
use crate::records::stage::Stage;
use crate::web::page::RequestContext;

/// Lines of one deed; what comes after them is counted.
const MOST_LINES: usize = 12;
/// Characters of one value.
const MOST_CHARACTERS: usize = 160;
/// What says nothing to whoever reads: keys of records, versions, secrets.
const PASSED_OVER: [&str; 8] =
    ["id", "version", "form_key", "link_hash", "link_number", "stage_since", "password_hash", "targets"];
/// What the places of a list are, where a deed keeps one; "" is passed over. `£` is money, `‰` thousandths.
const PLACES: [(&str, &[&str]); 17] = [
    ("payment taken", &["for", "by", "£amount", "note"]),
    ("quote made", &["", "revision", "£total"]),
    ("quote answered", &["", "answer", "how", "by", ""]),
    ("labour started", &["", "on"]),
    ("labour stopped", &["", "on"]),
    ("labour corrected", &["", "minutes", "reason"]),
    ("work line done", &["line", "result"]),
    ("step taken back", &["steps", "words"]),
    ("work begun past a stop of the plan", &["line", "stop"]),
    ("work line declined", &["line", "was", "reason"]),
    ("part moved", &["part", "how", "‰quantity", "‰there then", "note"]),
    ("part taken", &["part", "how", "‰quantity", "‰there then", "note"]),
    ("part put back", &["part", "how", "‰quantity", "‰there then", "note"]),
    ("set aside to wait", &["for", "reason"]),
    ("minutes left out", &["", "reason"]),
    ("minutes counted again", &[""]),
    ("list exported", &["list", "rows"]),
];

/// What changed, one line each.
pub(super) fn said(deed: &str, before: Option<&str>, after: Option<&str>, context: &RequestContext) -> Vec<String> {
    let read =
        |text: Option<&str>| text.and_then(|text| serde_json::from_str::<Value>(text).ok()).unwrap_or(Value::Null);
    let (before, after) = (read(before), read(after));
    let anonymised = Value::from("anonymised");
    if before == anonymised || after == anonymised {
        return vec!["the words were taken out: the customer asked to be forgotten".to_owned()];
    }
    let (before, after) = (named(deed, before), named(deed, after));
    let empty = Map::new();
    let lines: Vec<String> = match (&before, &after) {
        (Value::Object(_), _) | (_, Value::Object(_)) => {
            let (before, after) = (before.as_object().unwrap_or(&empty), after.as_object().unwrap_or(&empty));
            changes(before, after, context)
        }
        (Value::Null, Value::Null) => Vec::new(),
        (Value::Null, after) => vec![value_words("", after, context)],
        (before, Value::Null) => vec![format!("was {}", value_words("", before, context))],
        (before, after) => vec![format!("{} → {}", value_words("", before, context), value_words("", after, context))],
    };
    let mut lines: Vec<String> = lines.into_iter().filter(|line| !line.is_empty()).collect();
    if lines.len() > MOST_LINES {
        let more = lines.len() - MOST_LINES;
        lines.truncate(MOST_LINES);
        lines.push(format!("and {more} more"));
    }
    lines
}

/// A list whose places have names, as if they had been written beside them.
fn named(deed: &str, value: Value) -> Value {
    let places = PLACES.iter().find(|(known, _)| *known == deed).map(|(_, places)| *places);
    match (value, places) {
        (Value::Array(values), Some(places)) => {
            let named = places.iter().zip(values).filter(|(place, _)| !place.is_empty());
            Value::Object(named.map(|(place, value)| ((*place).to_owned(), value)).collect())
        }
        // one place alone is no list
        (_, Some([""])) => Value::Null,
        (value, _) => value,
    }
}

fn changes(before: &Map<String, Value>, after: &Map<String, Value>, context: &RequestContext) -> Vec<String> {
    let keys = after.keys().chain(before.keys().filter(|key| !after.contains_key(*key)));
    let shown = keys.filter(|key| !PASSED_OVER.contains(&key.as_str()) && !key.ends_with("_id"));
    let line = |key: &String| {
        let (was, is) = (before.get(key).unwrap_or(&Value::Null), after.get(key).unwrap_or(&Value::Null));
        let name = key.trim_start_matches(['£', '‰']).replace('_', " ");
        let words = |value: &Value| value_words(key, value, context);
        match (before.is_empty(), after.is_empty()) {
            _ if was == is => None,
            (true, _) if is_nothing(is) => None,
            (true, _) => Some(format!("{name}: {}", words(is))),
            (_, true) => (!is_nothing(was)).then(|| format!("{name}: was {}", words(was))),
            _ => Some(format!("{name}: {} → {}", words(was), words(is))),
        }
    };
    shown.filter_map(line).collect()
}

fn is_nothing(value: &Value) -> bool {
    matches!(value, Value::Null) || value.as_str() == Some("") || value.as_array().is_some_and(Vec::is_empty)
}

fn value_words(key: &str, value: &Value, context: &RequestContext) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Number(number) => {
            number.as_i64().map_or_else(|| number.to_string(), |whole| whole_words(key, whole, context))
        }
        Value::String(text) if text.is_empty() => "nothing".to_owned(),
        Value::String(text) if key == "stage" => {
            text.parse::<Stage>().map_or_else(|()| text.clone(), |stage| stage.spoken().to_owned())
        }
        Value::String(text) => cut(text),
        Value::Array(values) if day(values).is_some() => day(values).map(with_weekday).unwrap_or_default(),
        Value::Array(values) => {
            let said = values.iter().filter(|value| !is_key(value)).map(|value| value_words("", value, context));
            cut(&said.collect::<Vec<_>>().join(", "))
        }
        Value::Object(fields) => {
            let said = fields.iter().filter(|(key, value)| {
                !PASSED_OVER.contains(&key.as_str()) && !key.ends_with("_id") && !is_nothing(value)
            });
            let said =
                said.map(|(key, value)| format!("{} {}", key.replace('_', " "), value_words(key, value, context)));
            cut(&said.collect::<Vec<_>>().join(", "))
        }
    }
}

/// A day is kept as its year and its place in it.
fn day(values: &[Value]) -> Option<Date> {
    let [year, day] = values else { return None };
    let (year, day) = (i32::try_from(year.as_i64()?).ok()?, u16::try_from(day.as_i64()?).ok()?);
    Date::from_ordinal_date(year, day).ok().filter(|_| (1900..=2200).contains(&year))
}

/// Whether a value is a record's key: it leads nowhere on paper.
fn is_key(value: &Value) -> bool {
    value.as_str().is_some_and(|text| text.len() == 36 && text.parse::<uuid::Uuid>().is_ok())
}

fn whole_words(key: &str, whole: i64, context: &RequestContext) -> String {
    match key {
        "price" | "cost" | "amount" | "net" | "tax" | "total" => context.money(Money(whole)),
        "on_hand" | "reorder_at" | "quantity" | "on_hand_after" | "result_number" => Thousandths(whole).to_string(),
        key if key.starts_with('£') => context.money(Money(whole)),
        key if key.starts_with('‰') => Thousandths(whole).to_string(),
        "scale" | "scale_bass" | "radius_nut" | "radius_end" | "top_width" | "screw_pitch" => {
            Micrometres(whole).in_mm()
        }
        key if key.ends_with("_at") => context.moment(Instant(whole)),
        _ => whole.to_string(),
    }
}

fn cut(text: &str) -> String {
    if text.chars().count() <= MOST_CHARACTERS {
        return text.to_owned();
    }
    let begun: String = text.chars().take(MOST_CHARACTERS).collect();
    format!("{begun}…")
}
