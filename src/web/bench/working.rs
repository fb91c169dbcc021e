//! `/bench/jobs/{id}/working`: how each figure of the plan came about, from the readings on.

use askama::Template;

use super::bench_job::BenchJob;
use crate::records::JobId;
use crate::records::job::Job;
use crate::setup::clearance::{ClearanceInput, clearance, explain};
use crate::setup::plan::{PlanOutput, workings};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::plan_view::{figures_of, title};
use crate::web::readings_view::string_names;
use crate::web::working_view::{WorkingView, anchor};
use crate::working::{Working, Workings};

#[derive(Template)]
#[template(path = "bench/working.html")]
struct WorkingPage {
    layout: Layout,
    job: Job,
    /// Steps were done since the newest set: what is read again first.
    again: String,
    groups: Vec<Group>,
}

/// The figures of one step or finding.
struct Group {
    title: String,
    figures: Vec<Figure>,
}

struct Figure {
    id: String,
    what: String,
    result: String,
    workings: Vec<WorkingView>,
}

/// `GET /bench/jobs/{id}/working`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let bench = BenchJob::load(&context, id).await?;
    let names = string_names(&bench.instrument.entry);
    let mut groups = Vec::new();
    if let Some(current) = bench.current(&bench.fresh_form()) {
        if let Some(planned) = &current.planned {
            groups = self::groups(&planned.output, &workings(&planned.input, &bench.house), &names);
        }
        groups.extend(bench.clearance_asked(&current.set).and_then(|asked| clearances(&asked, &names)));
    }
    page(&WorkingPage { layout: context.layout(), again: bench.again_words(), job: bench.job, groups })
}

fn groups(output: &PlanOutput, workings: &Workings, names: &[String]) -> Vec<Group> {
    let steps = output.steps.iter().enumerate().map(|(place, step)| {
        (format!("Step: {}", title(&step.key)), figures_of(&format!("/steps/{place}"), step, names))
    });
    let findings = output.findings.iter().enumerate().map(|(place, finding)| {
        let numbers =
            finding.numbers.keys().map(|name| (format!("/findings/{place}/numbers/{name}"), name.replace('_', " ")));
        (format!("Found: {}", title(&finding.key)), numbers.collect())
    });
    let groups = steps.chain(findings).map(|(title, figures): (String, Vec<(String, String)>)| Group {
        title,
        figures: figures.into_iter().filter_map(|(pointer, what)| figure(workings, &pointer, what)).collect(),
    });
    groups.filter(|group| !group.figures.is_empty()).collect()
}

/// The tightest place of each string, as the clearance map has it, and the string's heights at its ends, as the side
/// view draws them.
fn clearances(asked: &ClearanceInput, names: &[String]) -> Option<Group> {
    let found = clearance(asked).ok()?;
    let mut figures = Vec::new();
    for (place, (string, name)) in found.strings.iter().zip(names).enumerate() {
        let mut told = |pointer: String, what: String| {
            let mut workings = Workings::of_one(pointer.as_str());
            explain(asked, &found, &mut workings);
            let chain: Vec<WorkingView> = needed(&workings.of(&pointer)).into_iter().map(WorkingView::of).collect();
            if let Some(last) = chain.last() {
                let result = last.result.clone();
                figures.push(Figure {
                    id: anchor(&pointer),
                    what: format!("string {name}, {what}"),
                    result,
                    workings: chain,
                });
            }
        };
        told(format!("/strings/{place}/nut_mm"), "height at the nut".to_owned());
        told(format!("/strings/{place}/saddle_mm"), "height at the saddle".to_owned());
        let gaps = string.stopped.iter().enumerate().flat_map(|(stop, stopped)| {
            stopped.clearance_mm.iter().enumerate().map(move |(over, gap)| (stop, over, *gap))
        });
        if let Some((stop, over, _)) = gaps.min_by(|(.., one), (.., other)| one.total_cmp(other)) {
            let what = format!("tightest: stopped at fret {stop}, over fret {}", stop + over + 1);
            told(format!("/strings/{place}/stopped/{stop}/clearance_mm/{over}"), what);
        }
    }
    Some(Group { title: "Clearance and side view".to_owned(), figures })
}

/// Of a chain of workings those that the last one follows from.
fn needed<'a>(chain: &[&'a Working]) -> Vec<&'a Working> {
    let mut wanted: Vec<&str> = Vec::new();
    let mut needed: Vec<&Working> = Vec::new();
    for working in chain.iter().rev() {
        let symbol = working.formula.split(" = ").next().unwrap_or("");
        if needed.is_empty() || wanted.contains(&symbol) {
            wanted.extend(working.with.iter().map(|put| put.symbol.as_str()));
            needed.push(working);
        }
    }
    needed.reverse();
    needed
}

fn figure(workings: &Workings, pointer: &str, what: String) -> Option<Figure> {
    let chain: Vec<WorkingView> = workings.of(pointer).into_iter().map(WorkingView::of).collect();
    let result = chain.last()?.result.clone();
    Some(Figure { id: anchor(pointer), what, result, workings: chain })
}
