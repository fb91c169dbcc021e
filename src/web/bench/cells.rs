//! `/bench/jobs/{id}/cells`: the grid's values one by one, for pages with scripts. JSON out.
//!
//! The tablet keeps a value first and sends it then, as often as it takes: its key makes the second time
//! harmless. What met somebody else's value is kept too, and both stand in the answer.

use axum::http::header;
use axum::response::IntoResponse;
use serde::Serialize;
use sqlx::SqliteConnection;

use super::circumstances::{ALONGSIDE, objection_alongside};
use super::grid::{self, Refusal};
use crate::quantity::{LengthUnit, Micrometres};
use crate::records::draft::{self, Draft, Entered, Entry, Habit, HabitUnit, NewEntry, Travel};
use crate::records::instrument::{self, InstrumentEntry};
use crate::records::{Door, JobId, ReadingSetId, job, plan as kept};
use crate::web::form::{FormData, Id, Query};
use crate::web::page::{RequestContext, redirect_with_flash};
use crate::web::plan_view::titles;
use crate::web::words::length_unit;
use crate::web::{Error, Result};

/// Where the grid stands.
#[derive(Serialize)]
struct GridState {
    /// What became of the value sent: `stands`, `disputed`, `late`, `questioned`, `unreadable`; `asked` for a look.
    outcome: &'static str,
    /// What is wrong with it, in words.
    words: String,
    /// What was probably meant, as it may be typed.
    likely: String,
    /// The newest set; the page's own is older when somebody took one down.
    after: String,
    /// The newest entry.
    seen: i64,
    /// What stands and is newer than the caller has seen.
    cells: Vec<CellView>,
    /// What nobody has settled yet.
    disputes: Vec<CellView>,
    /// The steps done since the newest set, in words; "" for none.
    done: String,
    /// The newest plan kept.
    plan: String,
}

/// One entry as a tablet sees it.
#[derive(Serialize)]
struct CellView {
    id: i64,
    cell: String,
    key: String,
    typed: String,
    who: String,
    at: String,
    mine: bool,
}

/// `GET /bench/jobs/{id}/cells?since=`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>, query: Query) -> Result {
    let mut connection = context.app.db.read().acquire().await?;
    job::find(&mut *connection, id).await?;
    let since = query.value("since").parse().unwrap_or(0);
    json(&grid_state(&mut connection, &context, id, since, "asked").await?)
}

/// `POST /bench/jobs/{id}/cells`: one value.
pub(in crate::web) async fn enter(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let key = form.value("key");
    let (cell, typed) = (form.value("cell"), form.value("typed").trim());
    if key.is_empty() || key.len() > 64 || typed.len() > 400 {
        return Err(Error::Unreadable("The value did not arrive whole."));
    }
    let unit = length_unit(&context.settings);
    // read on the reading side: nobody waits for the books while a value is made out
    let mut reading_side = context.app.db.read().acquire().await?;
    let instrument = instrument_of(&mut reading_side, id).await?;
    let is_sure = form.is("sure", "yes");
    let since = form.value("since").parse().unwrap_or(0);
    if let Some(refusal) = refusal(cell, typed, &instrument, unit, is_sure)? {
        let mut answer = grid_state(&mut reading_side, &context, id, since, "unreadable").await?;
        if let Some(likely) = refusal.question {
            answer.outcome = "questioned";
            answer.likely = likely.map(Micrometres::in_mm).unwrap_or_default();
        }
        answer.words = refusal.words;
        return json(&answer);
    }
    let entry = NewEntry {
        cell,
        typed,
        is_sure,
        key,
        replaces: form.value("replaces"),
        settles: form.value("settles").parse().unwrap_or(0),
        after: form.value("after").parse().ok().map(ReadingSetId),
    };
    drop(reading_side);
    let mut tx = context.app.db.write().await?;
    let outcome = match draft::enter(&mut tx, &context.audit(Door::Bench), id, &entry).await? {
        Entered::Stands => "stands",
        Entered::Disputed => "disputed",
        Entered::Late => "late",
    };
    tx.commit().await?;
    let mut reading_side = context.app.db.read().acquire().await?;
    json(&grid_state(&mut reading_side, &context, id, since, outcome).await?)
}

/// `POST /bench/habit`: the order of travel and the unit a person likes.
pub(in crate::web) async fn remember_habit(context: RequestContext, form: FormData) -> Result {
    let broken = |()| Error::Unreadable("The form is not whole. Open its page again.");
    let travel: Travel = form.value("travel").parse().map_err(broken)?;
    let unit: HabitUnit = form.value("unit").parse().map_err(broken)?;
    let mut tx = context.app.db.write().await?;
    draft::remember_habit(&mut tx, &context.audit(Door::Bench), Habit { travel, unit }).await?;
    tx.commit().await?;
    let job: Option<JobId> = form.value("job").parse().ok();
    let back = job.map_or_else(|| "/bench".to_owned(), |job| format!("/bench/jobs/{job}"));
    redirect_with_flash(&context, &back, "Remembered.")
}

async fn instrument_of(connection: &mut SqliteConnection, id: JobId) -> Result<InstrumentEntry> {
    let job = job::find(&mut *connection, id).await?;
    Ok(instrument::find(connection, job.instrument_id).await?.entry)
}

fn refusal(
    cell: &str,
    typed: &str,
    instrument: &InstrumentEntry,
    unit: LengthUnit,
    is_sure: bool,
) -> Result<Option<Refusal>> {
    if ALONGSIDE.contains(&cell) {
        return Ok(objection_alongside(cell, typed).map(|words| Refusal { words, question: None }));
    }
    let place = grid::place_of(cell, instrument).ok_or(Error::Unreadable("There is no such cell."))?;
    Ok(grid::read_cell(typed, place, instrument, unit, is_sure).err())
}

async fn grid_state(
    connection: &mut SqliteConnection,
    context: &RequestContext,
    id: JobId,
    since: i64,
    outcome: &'static str,
) -> Result<GridState> {
    let newest = draft::newest_set(&mut *connection, id).await?;
    let draft = draft::after(&mut *connection, id, newest).await?;
    let plan = kept::newest(connection, id).await?;
    let of = |entries: &std::collections::BTreeMap<String, Entry>, since: i64| -> Vec<CellView> {
        let newer = entries.values().filter(|entry| entry.id > since);
        newer.map(|entry| cell_view(context, entry)).collect()
    };
    let empty = || (0, Vec::new(), Vec::new());
    let from = |draft: &Draft| (draft.seen, of(&draft.cells, since), of(&draft.disputes, 0));
    let (newest_entry, cells, disputes) = draft.as_ref().map_or_else(empty, from);
    Ok(GridState {
        outcome,
        words: String::new(),
        likely: String::new(),
        after: newest.map(|newest| newest.to_string()).unwrap_or_default(),
        seen: newest_entry,
        cells,
        disputes,
        done: draft.map(|draft| titles(&draft.done_steps)).unwrap_or_default(),
        plan: plan.map(|plan| plan.to_string()).unwrap_or_default(),
    })
}

fn cell_view(context: &RequestContext, entry: &Entry) -> CellView {
    CellView {
        id: entry.id,
        cell: entry.cell.clone(),
        key: entry.key.clone(),
        typed: entry.typed.clone(),
        who: entry.who.clone(),
        at: context.clock_words(entry.at),
        mine: context.session.as_ref().is_some_and(|session| session.staff.id == entry.staff_id),
    }
}

fn json(value: &impl Serialize) -> Result {
    let text = serde_json::to_string(value).map_err(Error::internal)?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text).into_response())
}
