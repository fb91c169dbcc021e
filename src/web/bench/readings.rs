//! `POST /bench/jobs/{id}/readings`: a reading set is taken down, and the plan that follows is kept.

use axum::http::StatusCode;

use super::grid;
use super::job::{Bench, bench_page};
use crate::quantity::{LengthUnit, Micrometres};
use crate::records::reading::{self, Circumstances, ReadingStage};
use crate::records::tool::tool;
use crate::records::{Door, JobId, plan as kept};
use crate::web::Result;
use crate::web::form::{Id, LINE, TEXT, Typed};
use crate::web::page::{Visit, page_with, see};
use crate::web::words::length_unit;

/// `POST /bench/jobs/{id}/readings`
pub(in crate::web) async fn take(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let bench = Bench::read(&visit, id).await?;
    let circumstances = read_circumstances(&mut form);
    let readings = grid::read(&mut form, &bench.instrument.entry, length_unit(&visit.settings));
    if readings.is_empty() && !form.refused() {
        form.refuse("height-12_1", "Type at least one reading.");
    }
    let (Some(circumstances), false) = (circumstances, form.refused()) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &bench_page(&visit, bench, Some(form)).await?);
    };
    let key = form.required_key()?.to_owned();
    let by = visit.by(Door::Bench);
    let mut write = visit.app.db.write().await?;
    reading::take(&mut write, &by, id, &key, &circumstances, &readings).await?;
    keep_plan(&mut write, &visit, id).await?;
    write.commit().await?;
    see(
        &visit,
        &format!("/bench/jobs/{id}#plan"),
        &format!("{} readings saved. The plan follows from them.", readings.len()),
    )
}

/// Keeps the plan that follows from what the books hold now.
pub(super) async fn keep_plan(write: &mut sqlx::SqliteConnection, visit: &Visit, id: JobId) -> Result<()> {
    let bench = Bench::read_on(&mut *write, visit, id).await?;
    if let Some((set, input, output)) = bench.plan() {
        kept::keep(write, &visit.by(Door::Bench), id, set.id, &input, &output).await?;
    }
    Ok(())
}

fn read_circumstances(form: &mut Typed) -> Option<Circumstances> {
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
