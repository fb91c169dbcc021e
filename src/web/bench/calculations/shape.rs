//! What a calculation takes and answers, read from its JSON schema: fields in order, each with its
//! words and its shape on a page.

use schemars::generate::SchemaSettings;
use serde_json::Value;

use super::naming::{hint, words_and_unit};
use crate::calc::Calculation;

/// A named place in an input or an answer.
#[derive(Debug, Clone)]
pub(super) struct Field {
    pub(super) name: String,
    pub(super) label: String,
    pub(super) unit: &'static str,
    pub(super) hint: String,
    pub(super) required: bool,
    /// What holds where nothing is typed.
    pub(super) default: Option<Value>,
    pub(super) shape: Shape,
}

/// How a place is typed and shown.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    Number,
    Truth,
    Text,
    Day,
    /// One of a closed list: the word, and what it means.
    Choice(Vec<(String, String)>),
    /// Several of one kind, in one field.
    List(Box<Shape>),
    /// Names with a number each, in one field.
    Numbered,
    Group(Vec<Field>),
    Rows(Vec<Field>),
    /// What has no simpler shape is typed as JSON.
    Json,
}

impl Shape {
    /// Whether it is typed into one field.
    pub(super) fn is_single(&self) -> bool {
        !matches!(self, Self::Group(_) | Self::Rows(_))
    }
}

/// The fields a calculation takes.
pub(super) fn taken(calculation: &Calculation) -> Vec<Field> {
    let mut generator =
        SchemaSettings::draft2020_12().with(|settings| settings.inline_subschemas = true).into_generator();
    fields(&calculation.input_schema(&mut generator).to_value(), "")
}

/// The fields a calculation answers.
pub(super) fn answered(calculation: &Calculation) -> Vec<Field> {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    let mut generator = settings.with(|settings| settings.inline_subschemas = true).into_generator();
    fields(&calculation.answer_schema(&mut generator).to_value(), "")
}

/// `within` is the unit of what the fields are parts of: the ends of a length are lengths.
fn fields(object: &Value, within: &'static str) -> Vec<Field> {
    let required: Vec<&str> = object["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let properties = object["properties"].as_object().into_iter().flatten();
    properties
        .map(|(name, schema)| {
            let (label, own) = words_and_unit(name);
            let shape = shape(schema, own);
            let is_part = own.is_empty() && matches!(&shape, Shape::Number | Shape::List(_));
            let unit = if is_part { within } else { own };
            let description = schema["description"].as_str().unwrap_or_default();
            Field {
                hint: hint(description, unit, &label),
                required: required.contains(&name.as_str()),
                default: schema.get("default").filter(|default| !default.is_null()).cloned(),
                shape,
                name: name.clone(),
                label,
                unit,
            }
        })
        .collect()
}

fn shape(schema: &Value, unit: &'static str) -> Shape {
    // "this or nothing"
    if let Some(either) = schema["anyOf"].as_array() {
        let mut something = either.iter().filter(|one| one["type"] != "null");
        return match (something.next(), something.next()) {
            (Some(only), None) => shape(only, unit),
            _ => Shape::Json,
        };
    }
    if let Some(choices) = choices(schema) {
        return Shape::Choice(choices);
    }
    let kinds: Vec<&str> = match &schema["type"] {
        Value::String(kind) => vec![kind],
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).filter(|kind| *kind != "null").collect(),
        _ => Vec::new(),
    };
    match kinds.as_slice() {
        ["number" | "integer"] => Shape::Number,
        ["boolean"] => Shape::Truth,
        ["string"] if schema["format"] == "date" => Shape::Day,
        ["string"] => Shape::Text,
        ["array"] => match shape(&schema["items"], unit) {
            Shape::Group(fields) => Shape::Rows(fields),
            item if matches!(item, Shape::Number | Shape::Truth | Shape::Text | Shape::Day | Shape::Choice(_)) => {
                Shape::List(Box::new(item))
            }
            _ => Shape::Json,
        },
        ["object"] if schema["properties"].is_object() => Shape::Group(fields(schema, unit)),
        ["object"] => {
            let values = schema["patternProperties"].as_object().and_then(|all| all.values().next());
            match shape(values.unwrap_or(&schema["additionalProperties"]), unit) {
                Shape::Number => Shape::Numbered,
                _ => Shape::Json,
            }
        }
        _ => Shape::Json,
    }
}

/// A closed list of words, with what each means where it says so.
fn choices(schema: &Value) -> Option<Vec<(String, String)>> {
    let words = |one: &Value, meaning: &str| -> Option<Vec<(String, String)>> {
        let all = match (&one["const"], &one["enum"]) {
            (Value::String(word), _) => vec![word.clone()],
            (_, Value::Array(words)) => words.iter().filter_map(Value::as_str).map(str::to_owned).collect(),
            _ => return None,
        };
        Some(all.into_iter().map(|word| (word, meaning.to_owned())).collect())
    };
    match schema["oneOf"].as_array() {
        Some(all) => {
            let each = all.iter().map(|one| words(one, one["description"].as_str().unwrap_or_default()));
            Some(each.collect::<Option<Vec<_>>>()?.into_iter().flatten().collect())
        }
        None => words(schema, ""),
    }
}
