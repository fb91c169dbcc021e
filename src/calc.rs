//! One contract for every calculation: a name and JSON in, JSON or a problem document out.
//!
//! The command line, `/api/calc/NAME` and the pages reach the engine through the same types and the
//! same checks. A new calculation is one line in [`CALCULATIONS`].

mod given;
mod pointer;

use std::sync::LazyLock;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;
use serde::de::{DeserializeOwned, IgnoredAny};
use serde_json::{Value, json};

use crate::forecast;
use crate::forecast::promise::promise;
use crate::forecast::promise_record::promise_record;
use crate::forecast::turnaround::turnaround;
use crate::problem::{Problem, Problems};
use crate::setup;
use crate::setup::air::air;
use crate::setup::clearance::clearance;
use crate::setup::cut::cut;
use crate::setup::drift::drift;
use crate::setup::frequency::frequency;
use crate::setup::frets::frets;
use crate::setup::humidity::humidity;
use crate::setup::intonation::intonation;
use crate::setup::overtones::overtones;
use crate::setup::plan::{HouseTargets, PlanInput, PlanOutput, plan};
use crate::setup::reading::reading;
use crate::setup::string_change::string_change;
use crate::setup::string_spacing::string_spacing;
use crate::setup::tension::tension;
use crate::working::Workings;

use pointer::{escaped, pointer};

/// From JSON to JSON; where workings are asked for, they are added to those given.
type Run = dyn Fn(&[u8], Option<&mut Workings>) -> Result<Value, Refusal> + Send + Sync;

/// One calculation: what it is called, what it does, and how its input and answer look.
pub struct Calculation {
    /// Its name on the command line and in addresses.
    pub name: &'static str,
    /// What it does, in one sentence.
    pub sentence: &'static str,
    example: &'static str,
    run: Box<Run>,
    input_schema: fn(&mut SchemaGenerator) -> Schema,
    answer_schema: fn(&mut SchemaGenerator) -> Schema,
}

/// Every calculation, one line each: name, sentence, example input, function.
pub static CALCULATIONS: LazyLock<Vec<Calculation>> = LazyLock::new(|| {
    macro_rules! example {
        ($name:literal) => {
            include_str!(concat!("../seed-data/examples/", $name, ".json"))
        };
    }
    vec![
        of("frets", "Where each fret lies.", example!("frets"), frets, setup::frets::explain),
        of(
            "tension",
            "What each string pulls, and all together.",
            example!("tension"),
            tension,
            setup::tension::explain,
        ),
        of(
            "frequency",
            "What note a string of a known pull sounds.",
            example!("frequency"),
            frequency,
            setup::frequency::explain,
        ),
        of(
            "overtones",
            "How far a stiff string's partials stand over whole multiples of its note.",
            example!("overtones"),
            overtones,
            setup::overtones::explain,
        ),
        of(
            "intonation",
            "How sharp each fretted note is, why, and which set-backs mend it.",
            example!("intonation"),
            intonation,
            setup::intonation::explain,
        ),
        of(
            "clearance",
            "How far a string stands over the frets, and how hard it can be plucked.",
            example!("clearance"),
            clearance,
            setup::clearance::explain,
        ),
        of(
            "cut",
            "How much to take off a saddle or a nut, in which passes, and where to stop.",
            example!("cut"),
            cut,
            setup::cut::explain,
        ),
        of(
            "reading",
            "What repeated readings come to, and how sure they are.",
            example!("reading"),
            reading,
            setup::reading::explain,
        ),
        of(
            "air",
            "What the air does to wood: its moisture, its movement, how long it takes.",
            example!("air"),
            air,
            setup::air::explain,
        ),
        of(
            "humidity",
            "In which air wood stays at a moisture content.",
            example!("humidity"),
            humidity,
            setup::humidity::explain,
        ),
        of(
            "turnaround",
            "How long jobs take, the open ones counted as open.",
            example!("turnaround"),
            turnaround,
            forecast::turnaround::explain,
        ),
        of(
            "string-spacing",
            "Where strings of different thickness stand with equal gaps between them.",
            example!("string-spacing"),
            string_spacing,
            setup::string_spacing::explain,
        ),
        of(
            "string-change",
            "What another set of strings does to an instrument, and what to mind before it goes on.",
            example!("string-change"),
            string_change,
            setup::string_change::explain,
        ),
        of(
            "drift",
            "What an instrument does from visit to visit: action against moisture, and the years of its saddle.",
            example!("drift"),
            drift,
            setup::drift::explain,
        ),
        of(
            "promise",
            "What day a job can be promised, from the queue before it and the bench's hours.",
            example!("promise"),
            promise,
            forecast::promise::explain,
        ),
        of(
            "promise-record",
            "Whether promises were kept as often as was said.",
            example!("promise-record"),
            promise_record,
            forecast::promise_record::explain,
        ),
        of(
            "plan",
            "What is wrong with an instrument, what to do first, how much, and where to stop.",
            example!("plan"),
            plan_by_the_usual_targets,
            explain_by_the_usual_targets,
        ),
    ]
});

/// Every calculation by name.
pub static NAMES: LazyLock<Vec<&'static str>> =
    LazyLock::new(|| CALCULATIONS.iter().map(|calculation| calculation.name).collect());

/// No input of ours is larger, through whichever door it comes.
pub const LARGEST_INPUT: usize = 4 * 1024 * 1024;

/// What some editors write before a text in UTF-8 (RFC 8259, 8.1: a reader may skip it).
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Characters of what was given that an answer repeats, at most.
const LONGEST_QUOTE: usize = 120;

/// The target values the program comes with, as text that an owner can edit.
pub const USUAL_TARGETS: &str = include_str!("../seed-data/targets.toml");

static HOUSE: LazyLock<Result<HouseTargets, String>> = LazyLock::new(|| HouseTargets::read(USUAL_TARGETS));

/// Why a calculation was not done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// There is no calculation of this name.
    UnknownName(String),
    /// The input is larger than [`LARGEST_INPUT`].
    TooLarge,
    /// The input is not JSON.
    NotJson(Problems),
    /// The input is JSON, but not what this calculation takes.
    Input(Problems),
}

impl Refusal {
    /// The status an HTTP answer carries.
    pub fn status(&self) -> u16 {
        match self {
            Self::UnknownName(_) => 404,
            Self::TooLarge => 413,
            Self::NotJson(_) => 400,
            Self::Input(_) => 422,
        }
    }

    /// What is wrong, in words.
    pub fn detail(&self) -> String {
        match self {
            Self::UnknownName(name) => {
                let name: String = name.chars().take(LONGEST_QUOTE).collect();
                format!("There is no calculation “{name}”. There are: {}.", NAMES.join(", "))
            }
            Self::TooLarge => format!("The input is larger than {}.", said_limit()),
            Self::NotJson(_) => "The input cannot be read as JSON.".to_owned(),
            Self::Input(_) => "The input cannot be used: each fault is named by its place.".to_owned(),
        }
    }

    /// The faults of the input; none where it was not looked at.
    pub fn problems(&self) -> Problems {
        match self {
            Self::UnknownName(_) => Problems::default(),
            Self::TooLarge => whole(format!("must be no larger than {}", said_limit())),
            Self::NotJson(problems) | Self::Input(problems) => problems.clone(),
        }
    }

    /// The problem document (RFC 9457). `about:blank` means that the title is the status' own phrase;
    /// `errors` names each fault by JSON pointer.
    pub fn document(&self) -> Value {
        json!({
            "type": "about:blank",
            "title": phrase(self.status()),
            "status": self.status(),
            "detail": self.detail(),
            "errors": self.problems(),
        })
    }
}

/// "4 MiB (4194304 bytes)".
fn said_limit() -> String {
    format!("{} MiB ({LARGEST_INPUT} bytes)", LARGEST_INPUT / (1024 * 1024))
}

/// The phrase of a status as HTTP names it today (RFC 9110); some libraries still say the older names.
pub fn phrase(status: u16) -> Option<&'static str> {
    match status {
        400 => Some("Bad Request"),
        404 => Some("Not Found"),
        413 => Some("Content Too Large"),
        422 => Some("Unprocessable Content"),
        _ => None,
    }
}

impl From<Problems> for Refusal {
    fn from(problems: Problems) -> Self {
        Self::Input(problems)
    }
}

fn of<I, O>(
    name: &'static str,
    sentence: &'static str,
    example: &'static str,
    calculation: fn(&I) -> Result<O, Problems>,
    explain: fn(&I, &O, &mut Workings),
) -> Calculation
where
    I: DeserializeOwned + Serialize + JsonSchema + 'static,
    O: Serialize + JsonSchema + 'static,
{
    Calculation {
        name,
        sentence,
        example,
        run: Box::new(move |input, workings| run(input, workings, calculation, explain)),
        input_schema: SchemaGenerator::subschema_for::<I>,
        answer_schema: SchemaGenerator::subschema_for::<O>,
    }
}

impl Calculation {
    /// The calculation of a name.
    pub fn named(name: &str) -> Option<&'static Self> {
        CALCULATIONS.iter().find(|calculation| calculation.name == name)
    }

    /// A sensible input, to begin from.
    pub fn example(&self) -> Value {
        serde_json::from_str(self.example).unwrap_or_default()
    }

    /// The schema of what it takes; `generator` should speak of what is read.
    pub fn input_schema(&self, generator: &mut SchemaGenerator) -> Schema {
        (self.input_schema)(generator)
    }

    /// The schema of what it answers; `generator` should speak of what is written.
    pub fn answer_schema(&self, generator: &mut SchemaGenerator) -> Schema {
        (self.answer_schema)(generator)
    }
}

/// Does one calculation.
///
/// # Errors
/// When there is no such name, or the input is too large or not right; never for any other reason.
pub fn calc(name: &str, input: &[u8]) -> Result<Value, Refusal> {
    answered(name, input, None)
}

fn answered(name: &str, input: &[u8], workings: Option<&mut Workings>) -> Result<Value, Refusal> {
    let Some(calculation) = Calculation::named(name) else {
        return Err(Refusal::UnknownName(name.to_owned()));
    };
    if input.len() > LARGEST_INPUT {
        return Err(Refusal::TooLarge);
    }
    (calculation.run)(input.strip_prefix(BYTE_ORDER_MARK).unwrap_or(input), workings)
}

/// The same with the working of its numbers beside them, as `working` (a list of
/// [`Working`](crate::working::Working)): of all numbers, up to a bound that [`crate::working`] tells, or of
/// the one at a JSON pointer with the steps to it.
///
/// # Errors
/// As [`calc`].
pub fn explained(name: &str, input: &[u8], pointer: Option<&str>) -> Result<Value, Refusal> {
    let mut workings = pointer.map_or_else(Workings::of_all, Workings::of_one);
    let mut answer = answered(name, input, Some(&mut workings))?;
    if let Value::Object(fields) = &mut answer {
        fields.insert("working".to_owned(), json!(workings.into_list()));
    }
    Ok(answer)
}

/// The plan by the targets the program comes with; an input may bring its own.
fn plan_by_the_usual_targets(input: &PlanInput) -> Result<PlanOutput, Problems> {
    match &*HOUSE {
        Ok(house) => plan(input, house),
        Err(words) => Err(whole(words.clone())),
    }
}

fn explain_by_the_usual_targets(input: &PlanInput, output: &PlanOutput, workings: &mut Workings) {
    if let Ok(house) = &*HOUSE {
        setup::plan::explain(input, output, house, workings);
    }
}

fn run<I: DeserializeOwned + Serialize, O: Serialize>(
    input: &[u8],
    workings: Option<&mut Workings>,
    calculation: impl FnOnce(&I) -> Result<O, Problems>,
    explain: impl FnOnce(&I, &O, &mut Workings),
) -> Result<Value, Refusal> {
    let given: I = read(input)?;
    let answer = calculation(&given)?;
    if let Some(workings) = workings {
        explain(&given, &answer, workings);
    }
    serde_json::to_value(answer).map_err(|cause| Refusal::Input(whole(format!("leads to no number: {cause}"))))
}

fn read<I: DeserializeOwned + Serialize>(input: &[u8]) -> Result<I, Refusal> {
    let mut source = serde_json::Deserializer::from_slice(input);
    let given: I = serde_path_to_error::deserialize(&mut source).map_err(|fault| refusal(input, &fault))?;
    let rest = source.end().map_err(|cause| whole(format!("must be one JSON value and no more: {cause}")));
    rest.map_err(Refusal::NotJson)?;
    if let (Ok((written, mut problems)), Ok(understood)) = (given::given(input), serde_json::to_value(&given)) {
        refuse_other_shapes(&mut problems, "", &written, &understood);
        problems.check()?;
    }
    Ok(given)
}

/// Serde also takes a list in place of an object, field by field in order, and an object in place of a
/// choice. Nobody means that: a list one entry short would be read as other quantities.
fn refuse_other_shapes(problems: &mut Problems, at: &str, given: &Value, understood: &Value) {
    match (given, understood) {
        (Value::Array(_), Value::Object(_)) => problems.note(at, "must be an object with named fields, not a list"),
        (Value::Object(_), Value::String(_)) => problems.note(at, "must be text in quotes"),
        (Value::Array(given), Value::Array(understood)) => {
            for (place, (given, understood)) in given.iter().zip(understood).enumerate() {
                refuse_other_shapes(problems, &format!("{at}/{place}"), given, understood);
            }
        }
        (Value::Object(given), Value::Object(understood)) => {
            for (name, given) in given {
                if let Some(understood) = understood.get(name) {
                    refuse_other_shapes(problems, &format!("{at}/{}", escaped(name)), given, understood);
                }
            }
        }
        _ => {}
    }
}

/// One fault in the words of a person who writes JSON, not of this program's types.
fn refusal(input: &[u8], fault: &serde_path_to_error::Error<serde_json::Error>) -> Refusal {
    let mut pointer = pointer(fault.path());
    if let Err(cause) = serde_json::from_slice::<IgnoredAny>(input) {
        return Refusal::NotJson(Problems(vec![Problem { pointer, detail: cause.to_string() }]));
    }
    let said = fault.inner().to_string();
    let said = said.rsplit_once(" at line ").map_or(said.as_str(), |(words, _)| words);
    let (cause, expected) = said.split_once(", expected ").unwrap_or((said, ""));
    let quoted = |words: &str| words.split('`').nth(1).unwrap_or_default().to_owned();
    let choices = expected.trim_start_matches("one of ").replace(" or ", ", ");
    let detail = if cause.starts_with("missing field ") {
        pointer.push('/');
        pointer.push_str(&escaped(&quoted(cause)));
        "is missing".to_owned()
    } else if cause.starts_with("duplicate field ") {
        pointer.push('/');
        pointer.push_str(&escaped(&quoted(cause)));
        "is given twice".to_owned()
    } else if cause.starts_with("unknown field ") {
        format!("is not a field here; the fields are {choices}")
    } else if cause.starts_with("unknown variant ") {
        format!("must be one of {choices}")
    } else if let Some((_, expected)) = said.rsplit_once(", expected ") {
        format!("must be {}", plain_words(expected))
    } else {
        match said {
            "number out of range" => "must be a finite number".to_owned(),
            "expected value" => "must be text in quotes".to_owned(),
            "invalid value: expected key to be a number in quotes" => {
                "must have whole numbers in quotes as names".to_owned()
            }
            other => other.chars().take(LONGEST_QUOTE).collect(),
        }
    };
    Refusal::Input(Problems(vec![Problem { pointer, detail }]))
}

/// What serde expected, without the names of Rust's types.
fn plain_words(expected: &str) -> String {
    match expected {
        "f64" => "a number",
        "usize" | "u64" | "u8" => "a whole number, not negative",
        "a string" | "string or map" | "unit" => "text in quotes",
        "a boolean" => "true or false",
        "a sequence" => "a list",
        "a map" => "an object",
        other if other.starts_with("struct ") => "an object with named fields",
        other => other,
    }
    .to_owned()
}

fn whole(detail: String) -> Problems {
    Problems(vec![Problem { pointer: String::new(), detail }])
}
