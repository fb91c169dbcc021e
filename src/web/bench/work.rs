//! `/bench/jobs/{id}/…`: lines proposed from findings, ticked off, and the job moved on.

use axum::http::StatusCode;

use super::job::bench_page;
use super::known::Bench;
use super::labour::offer;
use crate::quantity::{LengthUnit, Micrometres, Thousandths};
use crate::records::service;
use crate::records::stage::{Stage, WaitingFor};
use crate::records::work::{self, Proposal, WorkLine};
use crate::records::{Door, JobId, WorkLineId, job, labour};
use crate::web::form::{Id, LINE, Typed};
use crate::web::page::{Visit, page_with, see};
use crate::web::words::{length_unit, wait_words};
use crate::web::{Error, Result};

/// `POST /bench/jobs/{id}/take-on`
pub(in crate::web) async fn take_on(visit: Visit, Id(id): Id<JobId>) -> Result {
    let mut write = visit.app.db.write().await?;
    job::take_on(&mut write, &visit.by(Door::Bench), id).await?;
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}"), "It is yours.")
}

/// `POST /bench/jobs/{id}/propose`: `line` is "service key:finding key", once for each ticked line.
pub(in crate::web) async fn propose(visit: Visit, Id(id): Id<JobId>, form: Typed) -> Result {
    let key = form.required_key()?.to_owned();
    let catalogue = service::all(visit.app.db.read()).await?;
    let mut proposals = Vec::new();
    for chosen in form.values("line") {
        let (service_key, finding) =
            chosen.split_once(':').ok_or(Error::Unreadable("The form is not whole. Open its page again."))?;
        let found = catalogue.iter().find(|service| service.key == service_key).ok_or(Error::NotFound("service"))?;
        proposals.push(Proposal {
            service_id: Some(found.id),
            finding: Some(finding.chars().take(40).collect()),
            words: found.name.clone(),
            minutes: found.minutes,
            price: found.price,
            tax_class: found.tax_class,
        });
    }
    if proposals.is_empty() {
        return Err(Error::Refused("Tick at least one line to propose.".to_owned()));
    }
    let mut write = visit.app.db.write().await?;
    work::propose(&mut write, &visit.by(Door::Bench), id, &key, &proposals).await?;
    write.commit().await?;
    see(
        &visit,
        &format!("/bench/jobs/{id}#work"),
        "Proposed. The desk quotes it, and work starts once the customer agrees.",
    )
}

/// `POST /bench/jobs/{id}/work/{line}/done`
pub(in crate::web) async fn done(visit: Visit, Id((id, line)): Id<(JobId, WorkLineId)>, mut form: Typed) -> Result {
    let result = form.line("result", LINE);
    let found = work::of_job(visit.app.db.read(), id).await?.into_iter().find(|known| known.id == line);
    let found = found.ok_or(Error::NotFound("work line"))?;
    let field = format!("result_{line}");
    form = form.with(&field, result.as_str());
    // a line that nobody agreed to is refused before its number is asked for
    let number =
        if found.may_start() { read_asked(&mut form, &field, &found, length_unit(&visit.settings)) } else { None };
    if form.refused() {
        let bench = Bench::read(&visit, id).await?;
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
    }
    let mut write = visit.app.db.write().await?;
    let running = labour::all_running(&mut *write).await?;
    work::done(&mut write, &visit.by(Door::Bench), id, line, &result, number).await?;
    write.commit().await?;
    let stopped = running.iter().filter(|entry| entry.work_line_id == line);
    let offered = stopped.map(|entry| offer(&visit, entry)).find(|words| !words.is_empty()).unwrap_or("");
    see(&visit, &format!("/bench/jobs/{id}#work"), &format!("Ticked off.{offered}"))
}

/// The number that a line's service asks for. Millimetres may be typed as any length.
fn read_asked(form: &mut Typed, field: &str, line: &WorkLine, unit: LengthUnit) -> Option<Thousandths> {
    if !line.asks() {
        return None;
    }
    let typed = form.value(field).trim().to_owned();
    if typed.is_empty() {
        form.refuse(field, format!("“{}” asks for: {}, in {}.", line.words, line.asks_for, line.asks_unit));
        return None;
    }
    let read = if line.asks_unit == "mm" {
        Micrometres::parse_signed(&typed, unit).map(|length| Thousandths(length.0))
    } else {
        Thousandths::parse(typed.strip_suffix(line.asks_unit.as_str()).unwrap_or(&typed))
    };
    match read {
        Ok(number) => Some(number),
        Err(words) => {
            form.refuse(field, format!("{}, in {}: {words}", line.asks_for, line.asks_unit));
            None
        }
    }
}

/// `POST /bench/jobs/{id}/work/{line}/reopen`
pub(in crate::web) async fn reopen(visit: Visit, Id((id, line)): Id<(JobId, WorkLineId)>) -> Result {
    let mut write = visit.app.db.write().await?;
    work::reopen(&mut write, &visit.by(Door::Bench), id, line).await?;
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}#work"), "Opened again.")
}

/// `POST /bench/jobs/{id}/stage`
pub(in crate::web) async fn move_stage(visit: Visit, Id(id): Id<JobId>, form: Typed) -> Result {
    let to: Stage =
        form.value("to").parse().map_err(|()| Error::Unreadable("The form is not whole. Open its page again."))?;
    let mut write = visit.app.db.write().await?;
    // the bench presses forward moves only: they need no reason
    job::press_move(&mut write, &visit.by(Door::Bench), visit.today(), id, form.version()?, to, "").await?;
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}"), &format!("Now {to}."))
}

/// `POST /bench/jobs/{id}/wait`
pub(in crate::web) async fn wait(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let waiting_for: Option<WaitingFor> = form.value("waiting_for").parse().ok();
    let reason = form.line("wait_reason", LINE);
    let waiting = waiting_for.map(|waiting_for| (waiting_for, reason.as_str()));
    let mut write = visit.app.db.write().await?;
    if let Err(error) = job::wait(&mut write, &visit.by(Door::Bench), id, form.version()?, waiting).await {
        drop(write);
        let status = form.note("wait_reason", error)?;
        let bench = Bench::read(&visit, id).await?;
        return page_with(status, &bench_page(&visit, bench, Some(form)).await?);
    }
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}"), &wait_words(waiting_for))
}
