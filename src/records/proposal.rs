//! Work that is proposed to the customer: what a plan's findings ask for, out of the shop's catalogue.

use super::service::Service;
use super::work::{LineState, Proposal, WorkLine};
use crate::setup::plan::{Finding, PlanOutput, Severity, StepState};

/// A service that a plan's findings ask for.
#[derive(Debug, Clone, Copy)]
pub struct Proposed<'a> {
    /// The service.
    pub service: &'a Service,
    /// The key of the finding that asks for it first.
    pub finding: &'a str,
    /// It is work to be done, or what stops the plan; else it is only watched, and pressed upon nobody.
    pub is_needed: bool,
}

/// What a plan's findings ask for and is not on the job yet, each service once. Of a plan that stopped, only what
/// mends the stop: what it hides may be gone by then.
pub fn of_plan<'a>(plan: &'a PlanOutput, services: &'a [Service], lines: &[WorkLine]) -> Vec<Proposed<'a>> {
    let is_offered = |finding: &&Finding| !plan.stopped || finding.severity == Severity::Stop;
    let is_there = |service: &Service| {
        lines.iter().any(|line| line.service_id == Some(service.id) && line.state != LineState::Declined)
    };
    let mut proposed: Vec<Proposed<'a>> = Vec::new();
    for finding in plan.findings.iter().filter(is_offered) {
        let own = services.iter().find(|service| service.active && service.is_suggested_by(&finding.key));
        let named = || services.iter().find(|service| service.active && finding.service.as_ref() == Some(&service.key));
        let Some(service) = own.or_else(named) else {
            continue;
        };
        let is_needed = matches!(finding.severity, Severity::Work | Severity::Stop) && !only_waits(plan, finding);
        match proposed.iter_mut().find(|known| known.service.id == service.id) {
            Some(known) => known.is_needed |= is_needed,
            None if is_there(service) => {}
            None => proposed.push(Proposed { service, finding: &finding.key, is_needed }),
        }
    }
    proposed
}

/// Whether all that a finding asks for waits until something is read again: it may turn out not to be needed.
fn only_waits(plan: &PlanOutput, finding: &Finding) -> bool {
    let mut states = plan.steps.iter().filter(|step| step.key == finding.key).map(|step| step.state).peekable();
    states.peek().is_some() && states.all(|state| state == StepState::AfterMeasuringAgain)
}

impl Proposal {
    /// A line for a service as the catalogue has it.
    pub fn of_service(service: &Service, finding: Option<String>) -> Self {
        Self {
            service_id: Some(service.id),
            finding,
            words: service.name.clone(),
            minutes: service.minutes,
            price: service.charged_for(service.minutes),
            tax_class: service.tax_class,
            alternative: String::new(),
            part_id: None,
        }
    }
}
