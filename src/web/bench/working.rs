//! `/bench/jobs/{id}/working`: how each figure of the plan came about, from the readings on.

use askama::Template;

use super::known::{Bench, Current};
use crate::records::JobId;
use crate::records::job::Job;
use crate::setup::plan::{PlanOutput, workings};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, Visit, page};
use crate::web::plan_view::{anchor, figures_of, title};
use crate::web::readings_view::string_names;
use crate::web::working_view::WorkingView;
use crate::working::Workings;

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
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    let bench = Bench::read(&visit, id).await?;
    let groups = match bench.current_plan() {
        Some(Current { input, output, .. }) => {
            groups(&output, &workings(&input, &bench.house), &string_names(&bench.instrument.entry))
        }
        None => Vec::new(),
    };
    page(&WorkingPage { layout: visit.layout(), again: bench.again_words(), job: bench.job, groups })
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

fn figure(workings: &Workings, pointer: &str, what: String) -> Option<Figure> {
    let chain: Vec<WorkingView> = workings.of(pointer).into_iter().map(WorkingView::of).collect();
    let result = chain.last()?.result.clone();
    Some(Figure { id: anchor(pointer), what, result, workings: chain })
}
