//! `/api/openapi.json`: what a program can ask, as an OpenAPI 3.1 document made from the types themselves.

use std::sync::LazyLock;

use axum::extract::State;
use schemars::generate::SchemaSettings;
use schemars::transform::{Transform, transform_subschemas};
use schemars::{Schema, SchemaGenerator};
use serde_json::{Map, Value, json};

use super::calc::json as json_answer;
use crate::calc::{CALCULATIONS, Calculation, LARGEST_INPUT, calc};
use crate::web::Result;
use crate::web::access::cookie_name;
use crate::web::app::App;
use crate::working::Working;

/// Where the schemas of the document stand.
const SCHEMAS: &str = "/components/schemas";

/// What does not depend on how the program is served: the examples are worked out once.
static OPERATIONS: LazyLock<(Map<String, Value>, Map<String, Value>)> = LazyLock::new(operations);

/// `GET /api/openapi.json`
pub(in crate::web) async fn show(State(app): State<App>) -> Result {
    let cookie = cookie_name(&app.serving);
    let text = app.calculate(move || document(cookie).to_string()).await?;
    Ok(json_answer(text))
}

/// The document. `session_cookie` is what the browser's cookie is called.
pub fn document(session_cookie: &str) -> Value {
    let (paths, schemas) = &*OPERATIONS;
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Thumbplane calculator",
            "version": env!("CARGO_PKG_VERSION"),
            "summary": "The bench arithmetic of a fretted-instrument repair shop.",
            "description": "Numbers in, numbers out; nothing is stored. Lengths are mm, heights are from a fret's crown up to \
                the lower side of the string. Lists of strings run from string 1 (the thinnest of a guitar); fret 0 is \
                the open string; set-backs are plus away from the frets at both ends. Answers are unrounded. A field \
                that is not known is refused. Amounts are for the technician who measured and who measures again \
                before the next cut: removed material does not come back.",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/", "description": "This shop"}],
        "security": [{"token": []}, {"session": []}],
        "tags": [{"name": "calculations", "description": "One calculation a request."}, {"name": "description"}],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "parameters": {"explain": explain()},
            "responses": {"Problem": problem_response()},
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer", "description": "A token that the owner makes under /office/tokens."},
                "session": {
                    "type": "apiKey", "in": "cookie", "name": session_cookie,
                    "description": "Whoever is signed in. A browser's request must come from this program's own pages.",
                },
            },
        },
    })
}

fn operations() -> (Map<String, Value>, Map<String, Value>) {
    let settings = || {
        SchemaSettings::draft2020_12().with(|settings| {
            settings.definitions_path = SCHEMAS.into();
            settings.meta_schema = None;
        })
    };
    let mut taken = settings().for_deserialize().into_generator();
    let mut answered = settings().for_serialize().into_generator();
    let working = answered.subschema_for::<Vec<Working>>().to_value();
    let mut references = Vec::new();
    for calculation in CALCULATIONS.iter() {
        references.push((calculation.input_schema(&mut taken), calculation.answer_schema(&mut answered)));
    }
    let mut schemas = Map::from_iter([("Problem".to_owned(), problem_schema())]);
    schemas.extend(definitions(&mut taken));
    let answers = definitions(&mut answered);
    // a type that is both read and written may look different each way
    let both_ways: Vec<String> = answers
        .iter()
        .filter(|(name, schema)| schemas.get(*name).is_some_and(|read| read != *schema))
        .map(|(name, _)| name.clone())
        .collect();
    for (name, mut schema) in answers {
        schema = renamed(schema, &both_ways);
        let name = if both_ways.contains(&name) { format!("{name}Answered") } else { name };
        schemas.insert(name, schema);
    }
    let mut paths = Map::new();
    for (calculation, (input, answer)) in CALCULATIONS.iter().zip(references) {
        let answer = renamed(answer.to_value(), &both_ways);
        if let Some(properties) = answer["$ref"]
            .as_str()
            .and_then(|reference| reference.rsplit('/').next())
            .and_then(|name| schemas.get_mut(name))
            .and_then(|schema| schema["properties"].as_object_mut())
        {
            let mut working = working.clone();
            working["description"] = json!("With explain=true: how the numbers came about.");
            properties.insert("working".to_owned(), working);
        }
        let path = format!("/api/calc/{}", calculation.name);
        paths.insert(path, json!({"post": operation(calculation, input.to_value(), answer)}));
    }
    paths.insert("/api/openapi.json".to_owned(), json!({"get": this_document()}));
    (paths, schemas)
}

fn definitions(generator: &mut SchemaGenerator) -> Map<String, Value> {
    let mut definitions = generator.take_definitions(false);
    for schema in definitions.values_mut() {
        if let Ok(schema) = schema.try_into() {
            ChoicesAsEnum.transform(schema);
        }
    }
    definitions
}

/// References to the schemas named, turned to how they look when written.
fn renamed(mut schema: Value, names: &[String]) -> Value {
    match &mut schema {
        Value::Object(fields) => {
            for (key, value) in fields.iter_mut() {
                let reference = value.as_str().and_then(|text| text.strip_prefix(&format!("#{SCHEMAS}/")));
                match reference.filter(|name| key == "$ref" && names.iter().any(|known| known == name)) {
                    Some(name) => *value = json!(format!("#{SCHEMAS}/{name}Answered")),
                    None => *value = renamed(value.take(), names),
                }
            }
        }
        Value::Array(entries) => entries.iter_mut().for_each(|entry| *entry = renamed(entry.take(), names)),
        _ => {}
    }
    schema
}

/// A closed list of words as `enum`, which every reader of such documents knows; what each word means
/// goes into the description.
#[derive(Debug, Clone)]
struct ChoicesAsEnum;

impl Transform for ChoicesAsEnum {
    fn transform(&mut self, schema: &mut Schema) {
        if let Some(choices) = choices(schema) {
            let response: Vec<String> = choices
                .iter()
                .filter(|(_, meaning)| !meaning.is_empty())
                .map(|(word, meaning)| format!("`{word}`: {meaning}"))
                .collect();
            let description = schema.get("description").and_then(Value::as_str).unwrap_or_default();
            let description = format!("{description}\n\n{}", response.join("\n\n"));
            schema.remove("oneOf");
            schema.insert("type".to_owned(), json!("string"));
            let words: Vec<&String> = choices.iter().map(|(word, _)| word).collect();
            schema.insert("enum".to_owned(), json!(words));
            schema.insert("description".to_owned(), json!(description.trim()));
        }
        transform_subschemas(self, schema);
    }
}

/// The words of a closed list with what each means; `None` where the schema is something else.
fn choices(schema: &Schema) -> Option<Vec<(String, String)>> {
    let all = schema.get("oneOf")?.as_array()?;
    let mut words = Vec::new();
    for one in all {
        let meaning = one["description"].as_str().unwrap_or_default();
        match (one["const"].as_str(), one["enum"].as_array()) {
            (Some(word), _) => words.push((word.to_owned(), meaning.to_owned())),
            (None, Some(several)) => {
                words
                    .extend(several.iter().filter_map(Value::as_str).map(|word| (word.to_owned(), meaning.to_owned())));
            }
            (None, None) => return None,
        }
    }
    Some(words)
}

fn operation(calculation: &Calculation, input: Value, answer: Value) -> Value {
    let example = calculation.example();
    let mut media = json!({"schema": answer});
    if let Ok(answer) = calc(calculation.name, example.to_string().as_bytes()) {
        media["example"] = answer;
    }
    let response = |words: &str| json!({"$ref": "#/components/responses/Problem", "description": words});
    json!({
        "operationId": calculation.name,
        "summary": calculation.sentence,
        "description": format!("The same as `thumbplane calc {}` on the command line.", calculation.name),
        "tags": ["calculations"],
        "parameters": [{"$ref": "#/components/parameters/explain"}],
        "requestBody": {
            "required": true,
            "description": format!("At most {} MiB.", LARGEST_INPUT / (1024 * 1024)),
            "content": {"application/json": {"schema": input, "example": example}},
        },
        "responses": {
            "200": {"description": "The answer.", "content": {"application/json": media}},
            "400": response("The body cannot be read as JSON."),
            "401": response("Nobody is signed in and no token holds. WWW-Authenticate names the scheme."),
            "403": response("The browser says that another site sent this."),
            "404": response("There is no calculation of this name."),
            "405": response("Another method. Allow names those that work."),
            "408": response("The request took too long."),
            "413": response("The body is too large."),
            "415": response("The body does not call itself application/json."),
            "422": response("The input cannot be used: errors names each fault by its place."),
            "500": response("Our fault. The detail has a reference for the owner."),
            "503": response("Too many calculations at once. Retry-After says when to ask again."),
        },
    })
}

fn this_document() -> Value {
    json!({
        "operationId": "openapi",
        "summary": "This document.",
        "tags": ["description"],
        "responses": {
            "200": {"description": "OpenAPI 3.1.", "content": {"application/json": {"schema": {"type": "object"}}}},
            "401": {"$ref": "#/components/responses/Problem"},
        },
    })
}

fn explain() -> Value {
    json!({
        "name": "explain",
        "in": "query",
        "description": "With true, the answer also holds `working`: formula, numbers put in and source.",
        "schema": {"type": "boolean", "default": false},
    })
}

fn problem_response() -> Value {
    json!({
        "description": "What went wrong, as a problem document (RFC 9457).",
        "headers": {
            "WWW-Authenticate": {"description": "With 401.", "schema": {"type": "string"}},
            "Retry-After": {"description": "With 503, in seconds.", "schema": {"type": "integer"}},
            "Allow": {"description": "With 405.", "schema": {"type": "string"}},
        },
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    })
}

fn problem_schema() -> Value {
    json!({
        "description": "A problem document (RFC 9457).",
        "type": "object",
        "required": ["type", "title", "status", "detail", "errors"],
        "properties": {
            "type": {"type": "string", "format": "uri-reference", "description": "about:blank: the title is the status' own phrase."},
            "title": {"type": "string"},
            "status": {"type": "integer", "minimum": 400, "maximum": 599},
            "detail": {"type": "string", "description": "What went wrong and what to do, in words."},
            "errors": {
                "type": "array",
                "description": "Each fault of the input; empty where it was not looked at.",
                "items": {
                    "type": "object",
                    "required": ["pointer", "detail"],
                    "properties": {
                        "pointer": {"type": "string", "description": "JSON pointer (RFC 6901) to the field; \"\" is the whole input."},
                        "detail": {"type": "string", "description": "What is wrong and what is allowed."},
                    },
                },
            },
            "reference": {"type": "string", "description": "With 500: under which the owner finds the cause in the log."},
        },
    })
}
