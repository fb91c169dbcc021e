//! `/bench/calculations`: the calculator by hand. The form and the answer are laid out from the same
//! schemas that describe the calculator to programs; nothing is stored.

mod answer;
mod entered;
mod form;
mod naming;
mod shape;

use askama::Template;
use axum::http::StatusCode;
use serde_json::Value;

use crate::calc::{CALCULATIONS, Calculation, Refusal, explained};
use crate::problem::Problems;
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page, page_with};
use crate::web::working_view::WorkingView;
use crate::web::{Error, Result};
use answer::Block;
use entered::RowChange;
use form::{Kind, Piece};

#[derive(Template)]
#[template(path = "bench/calculations.html")]
struct ListPage {
    layout: Layout,
    calculations: Vec<Listed>,
}

struct Listed {
    href: String,
    title: String,
    sentence: &'static str,
}

#[derive(Template)]
#[template(path = "bench/calculation.html")]
struct CalculationPage {
    layout: Layout,
    name: &'static str,
    title: String,
    sentence: &'static str,
    pieces: Vec<Piece>,
    /// Each fault: the field's pointer and the words.
    faults: Vec<(String, String)>,
    answer: Option<Answered>,
}

struct Answered {
    blocks: Vec<Block>,
    working: Vec<WorkingView>,
    asked_json: String,
    answer_json: String,
}

fn title(calculation: &Calculation) -> String {
    naming::capitalized(&calculation.name.replace('-', " "))
}

fn named(name: &str) -> Result<&'static Calculation> {
    Calculation::named(name).ok_or(Error::NotFound("calculation"))
}

/// `GET /bench/calculations`
pub(in crate::web) async fn list(context: RequestContext) -> Result {
    let listed = |calculation: &Calculation| Listed {
        href: format!("/bench/calculations/{}", calculation.name),
        title: title(calculation),
        sentence: calculation.sentence,
    };
    page(&ListPage { layout: context.layout(), calculations: CALCULATIONS.iter().map(listed).collect() })
}

/// `GET /bench/calculations/{name}`: the form with a sensible example in it.
pub(in crate::web) async fn show(context: RequestContext, Id(name): Id<String>) -> Result {
    let calculation = named(&name)?;
    let fields = shape::taken(calculation);
    let entered = entered::spelt(&fields, &calculation.example());
    page(&form_page(&context, calculation, &fields, &entered, &Problems::default()))
}

/// `POST /bench/calculations/{name}`: works it out, or changes the rows of a list. There is nothing to
/// lead to afterwards: the answer stands on the same page.
pub(in crate::web) async fn work_out(context: RequestContext, Id(name): Id<String>, typed: FormData) -> Result {
    let calculation = named(&name)?;
    let fields = shape::taken(calculation);
    let change = match (typed.value("more"), typed.value("fewer")) {
        ("", "") => None,
        ("", fewer) => Some(RowChange::Fewer(fewer)),
        (more, _) => Some(RowChange::More(more)),
    };
    let mut entered = entered::gathered(&fields, "", &typed, change);
    if change.is_some() {
        return page(&form_page(&context, calculation, &fields, &entered, &Problems::default()));
    }
    entered::compact(&fields, &mut entered);
    let mut problems = Problems::default();
    let input = entered::meant(&fields, &entered::of_its_place(&entered), "", &mut problems);
    if let Err(problems) = problems.check() {
        return refused(&context, calculation, &fields, &entered, &problems);
    }
    let asked = input.to_string();
    let name = calculation.name;
    match context.app.calculate(move || explained(name, asked.as_bytes(), None)).await? {
        Ok(answer) => {
            let mut page_of = form_page(&context, calculation, &fields, &entered, &Problems::default());
            page_of.answer = Some(answered(calculation, &input, answer));
            page(&page_of)
        }
        Err(Refusal::Input(problems)) => refused(&context, calculation, &fields, &entered, &problems),
        Err(other) => Err(Error::Calculation(other)),
    }
}

fn refused(
    context: &RequestContext,
    calculation: &'static Calculation,
    fields: &[shape::Field],
    entered: &Value,
    problems: &Problems,
) -> Result {
    let page = form_page(context, calculation, fields, entered, problems);
    page_with(StatusCode::UNPROCESSABLE_ENTITY, &page)
}

fn form_page(
    context: &RequestContext,
    calculation: &'static Calculation,
    fields: &[shape::Field],
    entered: &Value,
    problems: &Problems,
) -> CalculationPage {
    let (pieces, faults) = form::pieces(fields, entered, problems);
    CalculationPage {
        layout: context.layout(),
        name: calculation.name,
        title: title(calculation),
        sentence: calculation.sentence,
        pieces,
        faults,
        answer: None,
    }
}

fn answered(calculation: &Calculation, input: &Value, mut answer: Value) -> Answered {
    let working = answer::working(&answer);
    if let Some(fields) = answer.as_object_mut() {
        fields.remove("working");
    }
    let pretty = |value: &Value| serde_json::to_string_pretty(value).unwrap_or_else(|_| value.to_string());
    Answered {
        blocks: answer::blocks(&shape::answered(calculation), &answer),
        working,
        asked_json: pretty(input),
        answer_json: pretty(&answer),
    }
}
