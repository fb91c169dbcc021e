//! `/bench/jobs/{id}/readings`: a reading set is taken down, and the plan that follows is kept.

use axum::http::StatusCode;

use super::grid;
use super::job::{Bench, bench_page};
use crate::quantity::{LengthUnit, Micrometres};
use crate::records::draft::{self, NewEntry};
use crate::records::reading::{self, Circumstances, ReadingStage};
use crate::records::tool::tool;
use crate::records::{Door, JobId, ReadingSetId, Writing, plan as kept};
use crate::web::Result;
use crate::web::form::{Id, LINE, TEXT, Typed};
use crate::web::page::{Visit, page_with, see};
use crate::web::words::length_unit;

/// Fields of the form that are not places of the grid and are kept under way like them.
pub(super) const ALONGSIDE: [&str; 6] = ["stage", "tool", "tuned_to", "temperature", "humidity", "fret_wear"];

/// `POST /bench/jobs/{id}/readings`: that is the set.
pub(in crate::web) async fn take(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let key = form.required_key()?.to_owned();
    let mut write = visit.app.db.write().await?;
    let sent_before = reading::by_form_key(&mut write, &key).await?.is_some();
    let bench = Bench::read_on(&mut write, &visit, id).await?;
    if !sent_before && let Some(status) = met_another(&bench, &visit, &mut form) {
        drop(write);
        return page_with(status, &bench_page(&visit, bench, Some(form)).await?);
    }
    let taken = take_down(&mut write, &visit, &bench, &mut form, &key).await?;
    let Some(count) = taken else {
        drop(write);
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
    };
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}#plan"), &format!("{count} readings saved. The plan follows from them."))
}

/// What somebody else typed or took down since the form was opened, noted at its fields.
fn met_another(bench: &Bench, visit: &Visit, form: &mut Typed) -> Option<StatusCode> {
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
            visit.moment(newest.taken_at)
        );
        form.refuse("height-12_1", words);
        *form = std::mem::take(form).with("after", after);
        return Some(StatusCode::CONFLICT);
    }
    let draft = bench.draft.as_ref()?;
    let unseen = draft.cells.values().filter(|entry| entry.id > seen && entry.typed != form.value(&entry.cell).trim());
    let theirs = unseen.fold(Typed::default(), |theirs, entry| theirs.with(&entry.cell, entry.typed.clone()));
    *form = std::mem::take(form).with("seen", draft.seen.to_string());
    theirs.names().next()?;
    form.conflict(&theirs, bench.job.version);
    Some(StatusCode::CONFLICT)
}

/// Takes a set down from a form and keeps the plan that follows; `None` with the problems noted in the form.
pub(super) async fn take_down(
    write: Writing<'_>,
    visit: &Visit,
    bench: &Bench,
    form: &mut Typed,
    key: &str,
) -> Result<Option<usize>> {
    let id = bench.job.id;
    let instrument = &bench.instrument.entry;
    let circumstances = read_circumstances(form);
    let readings = grid::read(form, instrument, length_unit(&visit.settings), bench.draft.as_ref());
    if readings.is_empty() && !form.refused() {
        form.refuse("height-12_1", "Type at least one reading.");
    }
    let (Some(mut circumstances), false) = (circumstances, form.refused()) else {
        return Ok(None);
    };
    let mut note = vec![circumstances.note];
    note.extend(grid::not_measurable(form, instrument));
    circumstances.note = note.join("\n").trim().to_owned();
    reading::take(&mut *write, &visit.by(Door::Bench), id, key, &circumstances, &readings).await?;
    keep_plan(write, visit, id).await?;
    Ok(Some(readings.len()))
}

/// `POST /bench/jobs/{id}/readings/keep`: what was typed so far, without taking the set down. Pages with
/// scripts send each value by itself instead.
pub(in crate::web) async fn keep(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let key = form.required_key()?.to_owned();
    let bench = Bench::read(&visit, id).await?;
    read_circumstances(&mut form);
    grid::read(&mut form, &bench.instrument.entry, length_unit(&visit.settings), bench.draft.as_ref());
    if form.refused() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
    }
    let seen: i64 = form.value("seen").parse().unwrap_or(0);
    let shown = bench.fresh_form();
    let places = grid::places(&bench.instrument.entry).into_iter().map(|(kind, string)| grid::field(kind, string));
    let cells: Vec<String> = places.chain(ALONGSIDE.map(str::to_owned)).collect();
    let mut write = visit.app.db.write().await?;
    for cell in cells {
        let typed = form.value(&cell).trim();
        if typed == shown.value(&cell) || !form.has(&cell) {
            continue;
        }
        let standing = bench.draft.as_ref().and_then(|draft| draft.cells.get(&cell));
        let entry = NewEntry {
            cell: &cell,
            typed,
            is_sure: form.is("sure", "yes"),
            key: &format!("{key}:{cell}"),
            replaces: standing.filter(|entry| entry.id <= seen).map_or("", |entry| &entry.key),
            settles: seen,
            after: form.value("after").parse().ok().map(ReadingSetId),
        };
        draft::enter(&mut write, &visit.by(Door::Bench), id, &entry).await?;
    }
    write.commit().await?;
    see(&visit, &format!("/bench/jobs/{id}#plan"), "Kept. The plan follows from what was typed so far.")
}

/// Keeps the plan that follows from what the books hold now.
pub(super) async fn keep_plan(write: &mut sqlx::SqliteConnection, visit: &Visit, id: JobId) -> Result<()> {
    let bench = Bench::read_on(&mut *write, visit, id).await?;
    if let Some((set, input, output)) = bench.plan() {
        kept::keep(write, &visit.by(Door::Bench), id, set.id, &input, &output).await?;
    }
    Ok(())
}

/// What is wrong with one field of [`ALONGSIDE`].
pub(super) fn objection_alongside(name: &str, typed: &str) -> Option<String> {
    let mut form = Typed::default().with("stage", "during").with("tool", "dial").with(name, typed);
    read_circumstances(&mut form);
    form.error(name).map(str::to_owned)
}

pub(super) fn read_circumstances(form: &mut Typed) -> Option<Circumstances> {
    let stage = form.choice::<ReadingStage>("stage", "when these were read");
    let tool_key = form.value("tool").to_owned();
    let found = tool(&tool_key);
    if found.is_none() {
        form.refuse("tool", "Choose what you read with: its step decides how sure a cut is.");
    }
    let temperature = within(form, "temperature", -40_000, 60_000, "Type the temperature in °C, from -40 to 60.");
    let humidity = within(form, "humidity", 0, 100_000, "Type the relative humidity in %, from 0 to 100.");
    let tuned_to = form.line("tuned_to", 60);
    let fret_wear = form.line("fret_wear", LINE);
    let note = form.area("note", TEXT);
    Some(Circumstances {
        stage: stage?,
        tuned_to,
        temperature_millicelsius: temperature,
        // percent with three decimals to tenths of a percent
        humidity_permille: humidity.map(|humidity| (humidity + 50) / 100),
        tool: tool_key,
        tool_resolution: found.and_then(|tool| Micrometres::from_mm(tool.step_mm))?,
        tool_limit: found.and_then(|tool| Micrometres::from_mm(tool.limit_mm))?,
        fret_wear,
        note,
    })
}

/// A number with decimals, in thousandths; `None` where the field is empty.
fn within(form: &mut Typed, name: &str, least: i64, most: i64, words: &str) -> Option<i64> {
    let typed = form.value(name).trim().trim_end_matches(['%', 'C', '°']).trim().to_owned();
    if typed.is_empty() {
        return None;
    }
    match Micrometres::parse_signed(&typed, LengthUnit::Millimetre) {
        Ok(value) if (least..=most).contains(&value.0) => Some(value.0),
        _ => {
            form.refuse(name, words);
            None
        }
    }
}
