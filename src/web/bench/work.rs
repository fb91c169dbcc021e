//! `/bench/jobs/{id}/…`: lines proposed from findings, ticked off, and the job moved on.

use super::bench_job::BenchJob;
use super::job::{again, again_with};
use super::labour::{minutes_words, offer};
use super::past_stop::ask_before_a_stop;
use crate::quantity::{LengthUnit, Micrometres, Thousandths};
use crate::records::service;
use crate::records::stage::Stage;
use crate::records::work::{self, Proposal, WorkLine};
use crate::records::{Door, JobId, WorkLineId, job, labour, moves};
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{RequestContext, redirect_with_flash};
use crate::web::words::{length_unit, wait_words, waiting_for};
use crate::web::{Error, Result};

/// `POST /bench/jobs/{id}/take-on`
pub(in crate::web) async fn take_on(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let mut tx = context.app.db.write().await?;
    job::take_on(&mut tx, &context.audit(Door::Bench), id).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}"), "It is yours.")
}

/// `POST /bench/jobs/{id}/propose`: `line` is "service key:finding key", once for each ticked line.
pub(in crate::web) async fn propose(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let catalogue = service::all(context.app.db.read()).await?;
    let mut proposals = Vec::new();
    for chosen in form.values("line") {
        let (service_key, finding) =
            chosen.split_once(':').ok_or(Error::Unreadable("The form is not whole. Open its page again."))?;
        let found = catalogue.iter().find(|service| service.key == service_key).ok_or(Error::NotFound("service"))?;
        proposals.push(Proposal::of_service(found, Some(finding.chars().take(40).collect())));
    }
    if proposals.is_empty() {
        return Err(Error::Refused("Tick at least one line to propose.".to_owned()));
    }
    let mut tx = context.app.db.write().await?;
    work::propose(&mut tx, &context.audit(Door::Bench), id, &key, &proposals).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/bench/jobs/{id}#work"),
        "Proposed. The desk quotes it, and work starts once the customer agrees.",
    )
}

/// `POST /bench/jobs/{id}/work/{line}/start`: `past` is the stop of the plan that the person goes past, once told of it.
pub(in crate::web) async fn start(
    context: RequestContext,
    Id((id, line)): Id<(JobId, WorkLineId)>,
    mut form: FormData,
) -> Result {
    let bench = BenchJob::load(&context, id).await?;
    let past = ask_before_a_stop(&bench, line, &mut form);
    if form.has_errors() {
        return again_with(&context, bench, form).await;
    }
    let mut tx = context.app.db.write().await?;
    if let Some(stop) = past {
        work::go_past(&mut tx, &context.audit(Door::Bench), id, line, &stop).await?;
    }
    let stopped = work::start(&mut tx, &context.audit(Door::Bench), id, line).await?;
    tx.commit().await?;
    let words = stopped.map_or_else(
        || "The clock runs.".to_owned(),
        |before| {
            format!(
                "The clock runs. “{}” on {} was stopped after {}.{}",
                before.words,
                before.number,
                minutes_words(before.minutes(context.now())),
                offer(&context, &before)
            )
        },
    );
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#work"), &words)
}

/// `POST /bench/jobs/{id}/work/{line}/done`: `past` is the stop of the plan that the person goes past, once told of it.
pub(in crate::web) async fn done(
    context: RequestContext,
    Id((id, line)): Id<(JobId, WorkLineId)>,
    mut form: FormData,
) -> Result {
    let result = form.line("result", LINE);
    let bench = BenchJob::load(&context, id).await?;
    let found = bench.lines.iter().find(|known| known.id == line).ok_or(Error::NotFound("work line"))?;
    let field = format!("result_{line}");
    form.set(&field, result.as_str());
    // a line that nobody agreed to is refused before its number is asked for
    let number =
        if found.may_start() { read_asked(&mut form, &field, found, length_unit(&context.settings)) } else { None };
    let past = if form.has_errors() { None } else { ask_before_a_stop(&bench, line, &mut form) };
    if form.has_errors() {
        return again_with(&context, bench, form).await;
    }
    let mut tx = context.app.db.write().await?;
    if let Some(stop) = past {
        work::go_past(&mut tx, &context.audit(Door::Bench), id, line, &stop).await?;
    }
    let running = labour::all_running(&mut *tx).await?;
    work::done(&mut tx, &context.audit(Door::Bench), id, line, &result, number).await?;
    tx.commit().await?;
    let stopped = running.iter().filter(|entry| entry.work_line_id == line);
    let offered = stopped.map(|entry| offer(&context, entry)).find(|words| !words.is_empty()).unwrap_or("");
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#work"), &format!("Ticked off.{offered}"))
}

/// The number that a line's service asks for. Millimetres may be typed as any length.
fn read_asked(form: &mut FormData, field: &str, line: &WorkLine, unit: LengthUnit) -> Option<Thousandths> {
    if !line.asks() {
        return None;
    }
    let typed = form.value(field).trim().to_owned();
    if typed.is_empty() {
        form.add_error(field, format!("“{}” asks for: {}, in {}.", line.words, line.asks_for, line.asks_unit));
        return None;
    }
    let parsed = if line.asks_unit == "mm" {
        Micrometres::parse_signed(&typed, unit).map(|length| Thousandths(length.0))
    } else {
        Thousandths::parse(typed.strip_suffix(line.asks_unit.as_str()).unwrap_or(&typed))
    };
    match parsed {
        Ok(number) => Some(number),
        Err(words) => {
            form.add_error(field, format!("{}, in {}: {words}", line.asks_for, line.asks_unit));
            None
        }
    }
}

/// `POST /bench/jobs/{id}/work/{line}/reopen`
pub(in crate::web) async fn reopen(context: RequestContext, Id((id, line)): Id<(JobId, WorkLineId)>) -> Result {
    let mut tx = context.app.db.write().await?;
    work::reopen(&mut tx, &context.audit(Door::Bench), id, line).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#work"), "Opened again.")
}

/// `POST /bench/jobs/{id}/stage`
pub(in crate::web) async fn move_stage(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let to: Stage =
        form.value("to").parse().map_err(|()| Error::Unreadable("The form is not whole. Open its page again."))?;
    let mut tx = context.app.db.write().await?;
    // the bench presses forward moves only: they need no reason
    moves::press_move(&mut tx, &context.audit(Door::Bench), context.today(), id, form.version()?, to, "").await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}"), &format!("Now {to}."))
}

/// `POST /bench/jobs/{id}/wait`
pub(in crate::web) async fn wait(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let waiting_for = waiting_for(&form)?;
    let reason = form.line("wait_reason", LINE);
    let waiting = waiting_for.map(|waiting_for| (waiting_for, reason.as_str()));
    let mut tx = context.app.db.write().await?;
    let waits = job::wait(&mut tx, &context.audit(Door::Bench), id, form.version()?, waiting).await;
    if form.accept("wait_reason", waits)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}"), &wait_words(waiting_for))
}
