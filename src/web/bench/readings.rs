//! `/bench/jobs/{id}/readings`: a reading set is taken down, and the plan that follows is kept.

use super::bench_job::BenchJob;
use super::circumstances::{ALONGSIDE, read_circumstances};
use super::grid;
use super::job::again_with;
use crate::records::draft::{self, Draft, NewEntry};
use crate::records::reading::{self, CARRIED_HOURS, Circumstances, Reading};
use crate::records::{Door, JobId, ReadingSetId, WriteTx, plan as kept};
use crate::web::form::{FormData, Id};
use crate::web::page::{RequestContext, redirect_with_flash};
use crate::web::words::length_unit;
use crate::web::{Error, Result};

/// How often a press is worked out anew because somebody wrote about the same job at the same moment.
pub(super) const TRIES: usize = 5;

/// `POST /bench/jobs/{id}/readings`: that is the set. It is read and questioned without holding anybody up; the books
/// are written where nothing has moved meanwhile, else it is looked at anew.
pub(in crate::web) async fn take(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    for _ in 0..TRIES {
        let mut form = form.clone();
        let bench = BenchJob::load(&context, id).await?;
        let sent_before = reading::by_form_key(&mut *context.app.db.read().acquire().await?, &key).await?.is_some();
        if !sent_before && (met_another(&bench, &context, &mut form) || outlived(&bench, &context, &mut form)) {
            return again_with(&context, bench, form).await;
        }
        let Some(set) = read_set(&context, &bench, &mut form) else {
            return again_with(&context, bench, form).await;
        };
        if !take_down(&context, &bench, &form, &key, &set).await? {
            continue;
        }
        keep_plan(&context, id).await?;
        return redirect_with_flash(
            &context,
            &format!("/bench/jobs/{id}#plan"),
            &format!("{} readings saved. The plan follows from them.", set.readings.len()),
        );
    }
    Err(moved_on())
}

/// Somebody wrote about the same job each time a press was worked out.
pub(super) fn moved_on() -> Error {
    Error::Refused(
        "Others are writing about this job at the same moment. Nothing of yours was lost: go back and press again."
            .to_owned(),
    )
}

/// Whether somebody else typed or took something down since the form was opened, noted at its fields.
fn met_another(bench: &BenchJob, context: &RequestContext, form: &mut FormData) -> bool {
    let newest = bench.sets.last();
    let after = newest.map(|set| set.id.to_string()).unwrap_or_default();
    let seen: i64 = form.value("seen").parse().unwrap_or(i64::MAX);
    let follows = form.value("after").to_owned();
    if !form.value("seen").is_empty()
        && follows != after
        && let Some(newest) = newest
    {
        let words = format!(
            "A set was taken down meanwhile ({}). Nothing of yours was lost: look at both, then save yours as a further set.",
            context.moment(newest.taken_at)
        );
        form.add_outdated("height-12_1", words);
        form.set("after", after);
        return true;
    }
    let Some(draft) = &bench.draft else {
        return false;
    };
    let unseen = draft.cells.values().filter(|entry| entry.id > seen && entry.typed != form.value(&entry.cell).trim());
    let theirs = unseen.fold(FormData::default(), |theirs, entry| theirs.with(&entry.cell, entry.typed.clone()));
    form.set("seen", draft.seen.to_string());
    if theirs.names().next().is_some() {
        form.merge(&theirs);
    }
    unsettled(draft, form);
    form.is_conflict()
}

/// Values that met another one and that nobody has settled, noted at their fields. The form remembers that it showed
/// them: what it holds when it is sent again is the answer.
pub(super) fn unsettled(draft: &Draft, form: &mut FormData) {
    let shown: i64 = form.value("settles").parse().unwrap_or(0);
    let open = draft.disputes.values().filter(|dispute| dispute.id > shown);
    let theirs = open.fold(FormData::default(), |theirs, dispute| {
        let present = draft.cells.get(&dispute.cell).map_or("", |entry| entry.typed.as_str());
        let is_here = form.value(&dispute.cell).trim() == dispute.typed;
        theirs.with(&dispute.cell, if is_here { present } else { &dispute.typed })
    });
    if theirs.names().next().is_some() {
        form.merge(&theirs);
    }
    let newest = draft.disputes.values().map(|dispute| dispute.id).max().unwrap_or(shown);
    form.set("settles", newest.max(shown).to_string());
}

/// Writes down what a form answered to the disputes it had shown.
async fn settle(
    tx: &mut WriteTx,
    context: &RequestContext,
    bench: &BenchJob,
    form: &FormData,
    key: &str,
) -> Result<()> {
    let shown: i64 = form.value("settles").parse().unwrap_or(0);
    let Some(draft) = &bench.draft else {
        return Ok(());
    };
    for dispute in draft.disputes.values().filter(|dispute| dispute.id <= shown) {
        let entry = NewEntry {
            cell: &dispute.cell,
            typed: form.value(&dispute.cell).trim(),
            is_sure: true,
            key: &format!("{key}:{}", dispute.id),
            replaces: draft.cells.get(&dispute.cell).map_or("", |entry| &entry.key),
            settles: dispute.id,
            after: bench.sets.last().map(|set| set.id),
        };
        draft::enter(tx, &context.audit(Door::Bench), bench.job.id, &entry).await?;
    }
    Ok(())
}

/// A form that was opened while readings could be carried over, and came when they could not any more: they are no
/// readings of this set.
fn outlived(bench: &BenchJob, context: &RequestContext, form: &mut FormData) -> bool {
    let Some(last) = bench.sets.last().filter(|_| form.is("carried", "yes")) else {
        return false;
    };
    for (kind, string) in grid::places(&bench.instrument.entry) {
        let name = grid::field(kind, string);
        let was = grid::carried_text(&last.readings, kind, string);
        let typed_anew = bench.draft.as_ref().is_some_and(|draft| draft.cells.contains_key(&name));
        let is_carried = !grid::carried_text(&bench.carried, kind, string).is_empty();
        if !was.is_empty() && form.value(&name).trim() == was && !typed_anew && !is_carried {
            let words = format!(
                "This is the reading of {}. After {CARRIED_HOURS} hours, or once the job was set aside, it is read again.",
                context.moment(last.taken_at)
            );
            form.add_error(&name, words);
        }
    }
    // looked at and sent again, it was read again
    form.set("carried", "");
    form.has_errors()
}

/// A set as a form has it.
pub(super) struct NewSet {
    circumstances: Circumstances,
    readings: Vec<Reading>,
}

/// Reads a set from a form; `None` with the problems noted in the form.
pub(super) fn read_set(context: &RequestContext, bench: &BenchJob, form: &mut FormData) -> Option<NewSet> {
    let instrument = &bench.instrument.entry;
    let circumstances = read_circumstances(form);
    let unit = length_unit(&context.settings);
    let readings = grid::readings_from_form(form, instrument, unit, bench.draft.as_ref(), &bench.carried);
    if readings.is_empty() && !form.has_errors() {
        form.add_error("height-12_1", "Type at least one reading.");
    }
    let mut circumstances = circumstances.filter(|_| !form.has_errors())?;
    let mut note = vec![circumstances.note];
    note.extend(grid::not_measurable(form, instrument));
    circumstances.note = note.join("\n").trim().to_owned();
    Some(NewSet { circumstances, readings })
}

/// Takes a set down, unless something has moved since the job was read: then `false`, and nothing is written.
pub(super) async fn take_down(
    context: &RequestContext,
    bench: &BenchJob,
    form: &FormData,
    key: &str,
    set: &NewSet,
) -> Result<bool> {
    let mut tx = context.app.db.write().await?;
    if bench.has_moved(&mut tx).await? {
        return Ok(false);
    }
    settle(&mut tx, context, bench, form, key).await?;
    reading::take(&mut tx, &context.audit(Door::Bench), bench.job.id, key, &set.circumstances, &set.readings).await?;
    tx.commit().await?;
    Ok(true)
}

/// `POST /bench/jobs/{id}/readings/keep`: what was typed so far, without taking the set down. Pages with
/// scripts send each value by itself instead.
pub(in crate::web) async fn keep(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let bench = BenchJob::load(&context, id).await?;
    read_circumstances(&mut form);
    let unit = length_unit(&context.settings);
    grid::readings_from_form(&mut form, &bench.instrument.entry, unit, bench.draft.as_ref(), &bench.carried);
    if form.has_errors() {
        return again_with(&context, bench, form).await;
    }
    let seen: i64 = form.value("seen").parse().unwrap_or(0);
    let shown = bench.fresh_form();
    let places = grid::places(&bench.instrument.entry).into_iter().map(|(kind, string)| grid::field(kind, string));
    let settles: i64 = form.value("settles").parse().unwrap_or(0);
    let disputes = bench.draft.as_ref().map(|draft| &draft.disputes);
    let cells: Vec<String> = places.chain(ALONGSIDE.map(str::to_owned)).collect();
    let mut tx = context.app.db.write().await?;
    for cell in cells {
        let typed = form.value(&cell).trim();
        let is_asked = disputes.and_then(|open| open.get(&cell)).is_some_and(|dispute| dispute.id <= settles);
        if (typed == shown.value(&cell) && !is_asked) || !form.has(&cell) {
            continue;
        }
        let present = bench.draft.as_ref().and_then(|draft| draft.cells.get(&cell));
        let entry = NewEntry {
            cell: &cell,
            typed,
            is_sure: form.is("sure", "yes"),
            key: &format!("{key}:{cell}"),
            replaces: present.filter(|entry| entry.id <= seen).map_or("", |entry| &entry.key),
            settles: seen,
            after: form.value("after").parse().ok().map(ReadingSetId),
        };
        draft::enter(&mut tx, &context.audit(Door::Bench), id, &entry).await?;
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/bench/jobs/{id}#plan"),
        "Kept. The plan follows from what was typed so far.",
    )
}

/// Keeps the plan that follows from what the books hold now. It is worked out without holding anybody up, and written
/// where nothing has moved meanwhile; whoever moved it last keeps the plan that follows from that.
pub(super) async fn keep_plan(context: &RequestContext, id: JobId) -> Result<()> {
    for _ in 0..TRIES {
        let bench = BenchJob::load(context, id).await?;
        let (Some(set), Some(planned)) = (bench.sets.last(), &bench.planned) else {
            return Ok(());
        };
        let mut tx = context.app.db.write().await?;
        if bench.has_moved(&mut tx).await? {
            continue;
        }
        kept::keep(&mut tx, &context.audit(Door::Bench), id, set.id, &planned.input, &planned.output).await?;
        tx.commit().await?;
        return Ok(());
    }
    Ok(())
}
