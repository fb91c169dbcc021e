//! The JSON that was given, as it was written: every value, and every name that stands twice in one object.
//!
//! What reads JSON elsewhere keeps the last of two equal names without a word; then one of two numbers that
//! somebody wrote counts, and nobody says which.

use std::cell::RefCell;
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use super::pointer::escaped;
use crate::problem::Problems;

/// Names given twice are told up to so many.
const MOST_TOLD: usize = 20;

/// A value with the names in it that were given twice.
pub(super) fn given(input: &[u8]) -> Result<(Value, Problems), serde_json::Error> {
    let walked = RefCell::new(Walked { path: Vec::new(), twice: Problems::default() });
    let mut source = serde_json::Deserializer::from_slice(input);
    let value = Given(&walked).deserialize(&mut source)?;
    source.end()?;
    Ok((value, walked.into_inner().twice))
}

/// Where the reading is, and what it found.
struct Walked {
    path: Vec<Step>,
    twice: Problems,
}

enum Step {
    Name(String),
    Place(usize),
}

impl Walked {
    fn twice(&mut self, name: &str) {
        if self.twice.0.len() >= MOST_TOLD {
            return;
        }
        let mut pointer = String::new();
        for step in &self.path {
            pointer.push('/');
            match step {
                Step::Name(name) => pointer.push_str(&escaped(name)),
                Step::Place(place) => pointer.push_str(&place.to_string()),
            }
        }
        pointer.push('/');
        pointer.push_str(&escaped(name));
        self.twice.note(pointer, "is given twice");
    }
}

#[derive(Clone, Copy)]
struct Given<'w>(&'w RefCell<Walked>);

impl<'de> DeserializeSeed<'de> for Given<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<Value, D::Error> {
        from.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Given<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any JSON value")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Ok(Number::from_f64(value).map_or(Value::Null, Value::Number))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E: Error>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut entries = Vec::new();
        self.0.borrow_mut().path.push(Step::Place(0));
        while let Some(entry) = list.next_element_seed(self)? {
            entries.push(entry);
            if let Some(Step::Place(place)) = self.0.borrow_mut().path.last_mut() {
                *place += 1;
            }
        }
        self.0.borrow_mut().path.pop();
        Ok(Value::Array(entries))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut object: A) -> Result<Value, A::Error> {
        let mut fields = Map::new();
        while let Some(name) = object.next_key::<String>()? {
            if fields.contains_key(&name) {
                self.0.borrow_mut().twice(&name);
            }
            self.0.borrow_mut().path.push(Step::Name(name.clone()));
            let value = object.next_value_seed(self)?;
            self.0.borrow_mut().path.pop();
            fields.insert(name, value);
        }
        Ok(Value::Object(fields))
    }
}
