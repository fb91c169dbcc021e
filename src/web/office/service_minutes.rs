//! `/office/minutes/{id}`: one service: its newest jobs, which of them are unusual, what was left out, and what the
//! price list said when.

use std::collections::BTreeMap;

use askama::Template;

use crate::forecast::minutes::{Scatter, outliers};
use crate::quantity::with_weekday;
use crate::records::clocked::{self, ClockedLine, NEWEST};
use crate::records::family::Family;
use crate::records::{Door, ServiceId, WorkLineId, service};
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::{Error, Result};

use super::minutes::{How, Known, SuggestionView, known, minutes_as_number, minutes_words};

#[derive(Template)]
#[template(path = "office/service_minutes.html")]
struct ServiceMinutesPage {
    layout: Layout,
    /// The line whose form was refused.
    form: FormData,
    id: ServiceId,
    name: String,
    listed: i64,
    version: i64,
    usual: String,
    jobs: usize,
    weight: String,
    suggestion: SuggestionView,
    families: Vec<FamilyRow>,
    lines: Vec<LineRow>,
    left_out: Vec<LineRow>,
    without_time: usize,
    prices: Vec<PriceView>,
    how: How,
    newest: i64,
}

struct FamilyRow {
    name: &'static str,
    jobs: usize,
    usual: String,
    weight: String,
}

struct LineRow {
    id: WorkLineId,
    job: String,
    number: String,
    family: &'static str,
    who: String,
    done_on: String,
    estimate: i64,
    clocked: i64,
    /// "4.2 times as far from the middle as is usual"; empty where it is not unusual.
    unusual: String,
    /// Why it is left out, and by whom.
    left_out: String,
    form: FormData,
}

struct PriceView {
    from: String,
    minutes: i64,
    price: String,
    who: String,
    is_suggested: bool,
}

async fn service_page(context: &RequestContext, id: ServiceId, form: FormData) -> Result<ServiceMinutesPage> {
    let (all, scatter) = known(context).await?;
    let known = all.into_iter().find(|known| known.service.id == id).ok_or(Error::NotFound("service"))?;
    let lines = clocked::of_service(context.app.db.read(), id).await?;
    let prices = service::price_list(context.app.db.read(), id).await?;
    let (left_out, counted): (Vec<ClockedLine>, Vec<ClockedLine>) =
        lines.into_iter().partition(|line| line.left_out.is_some());
    let counted: Vec<ClockedLine> =
        counted.into_iter().filter(|line| line.clocked.is_some_and(|minutes| minutes > 0)).collect();
    let listed = minutes_as_number(known.service.minutes);
    let logs: Vec<f64> = counted.iter().map(|line| (clocked_minutes(line) / listed.max(1.0)).ln()).collect();
    let unusual = outliers(&logs);
    let score = |place: usize| unusual.iter().find(|outlier| outlier.place == place).map(|outlier| outlier.score);
    let mut rows: Vec<LineRow> =
        counted.iter().enumerate().map(|(place, line)| line_row(line, score(place), &form, context)).collect();
    // what somebody should look at comes first
    rows.sort_by_key(|row| row.unusual.is_empty());
    Ok(ServiceMinutesPage {
        layout: context.layout(),
        id,
        name: known.service.name.clone(),
        listed: known.service.minutes,
        version: known.service.version,
        usual: known.usual_words(),
        jobs: known.logs.len(),
        weight: format!("{:.0} %", known.truth.credibility * 100.0),
        suggestion: known.suggestion_view(),
        families: families(&counted, &logs, &known),
        lines: rows,
        left_out: left_out.iter().map(|line| line_row(line, None, &form, context)).collect(),
        without_time: known.without_time,
        prices: prices
            .into_iter()
            .map(|row| PriceView {
                from: row
                    .from_day
                    .map_or_else(|| "from the beginning".to_owned(), |day| format!("from {}", with_weekday(day))),
                minutes: row.minutes,
                price: context.money(row.price),
                who: row.who.unwrap_or_else(|| "as the shop was set up".to_owned()),
                is_suggested: row.is_suggested,
            })
            .collect(),
        how: How::of(&scatter),
        newest: NEWEST,
        form,
    })
}

fn clocked_minutes(line: &ClockedLine) -> f64 {
    minutes_as_number(line.clocked.unwrap_or(0))
}

fn line_row(line: &ClockedLine, score: Option<f64>, form: &FormData, context: &RequestContext) -> LineRow {
    let own = form.is("line", &line.id.to_string());
    LineRow {
        id: line.id,
        job: format!("/desk/jobs/{}", line.job_id),
        number: line.number.clone(),
        family: line.family.spoken(),
        who: line.who.clone(),
        done_on: context.day_of(line.done_at),
        estimate: line.estimate,
        clocked: line.clocked.unwrap_or(0),
        unusual: score.map(unusual_words).unwrap_or_default(),
        left_out: match (&line.left_out, &line.left_out_by) {
            (Some(reason), Some(who)) => format!("{reason} – {who}"),
            (reason, _) => reason.clone().unwrap_or_default(),
        },
        form: if own { form.clone() } else { FormData::default() }.of_row(line.id),
    }
}

fn unusual_words(score: f64) -> String {
    format!("unusually {}, score {:.1}", if score < 0.0 { "short" } else { "long" }, score.abs())
}

/// The same for each family: drawn toward the service as the service is toward the price list.
fn families(lines: &[ClockedLine], logs: &[f64], known: &Known) -> Vec<FamilyRow> {
    let mut of: BTreeMap<Family, Vec<f64>> = BTreeMap::new();
    for (line, log) in lines.iter().zip(logs) {
        of.entry(line.family).or_default().push(*log);
    }
    let scatter = Scatter { house: known.truth.factor.ln(), ..known.scatter };
    let mut rows: Vec<FamilyRow> = of
        .into_iter()
        .map(|(family, logs)| {
            let truth = scatter.true_minutes(&logs);
            FamilyRow {
                name: family.spoken(),
                jobs: logs.len(),
                usual: minutes_words(truth.usual_minutes(minutes_as_number(known.service.minutes))),
                weight: format!("{:.0} %", truth.credibility * 100.0),
            }
        })
        .collect();
    rows.sort_by_key(|row| std::cmp::Reverse(row.jobs));
    rows
}

/// `GET /office/minutes/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<ServiceId>) -> Result {
    page(&service_page(&context, id, FormData::default()).await?)
}

/// `POST /office/minutes/{id}/take`: the suggested minutes become the estimate from today on.
pub(in crate::web) async fn take(context: RequestContext, Id(id): Id<ServiceId>, mut form: FormData) -> Result {
    let (all, _) = known(&context).await?;
    let known = all.into_iter().find(|known| known.service.id == id).ok_or(Error::NotFound("service"))?;
    let suggested = known.suggestion_view().minutes;
    let Some(minutes) = suggested.filter(|minutes| form.is("minutes", &minutes.to_string())) else {
        form.add_outdated("take", "What is suggested has changed meanwhile. Look at it below, then take it.");
        return page_with(form.status(), &service_page(&context, id, form).await?);
    };
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Office);
    let taken = service::take_suggestion(&mut tx, &by, context.today(), id, form.version()?, minutes).await;
    if form.accept("take", taken)?.is_none() {
        drop(tx);
        return page_with(form.status(), &service_page(&context, id, form).await?);
    }
    tx.commit().await?;
    let words =
        format!("“{}” is estimated at {minutes} minutes from today on. What was quoted stays.", known.service.name);
    redirect_with_flash(&context, &format!("/office/minutes/{id}"), &words)
}

/// `POST /office/minutes/lines/{line}/leave-out`
pub(in crate::web) async fn leave_out(context: RequestContext, Id(line): Id<WorkLineId>, mut form: FormData) -> Result {
    let service = form.required_id::<ServiceId>("service", "Open the service again.");
    let reason = form.required_line("reason", "why this time says nothing of the service", LINE);
    form.set("line", line.to_string());
    let Some(service) = service else {
        return Err(Error::Unreadable("The form is not whole. Open its page again."));
    };
    if form.has_errors() {
        return page_with(form.status(), &service_page(&context, service, form).await?);
    }
    let mut tx = context.app.db.write().await?;
    let left_out = clocked::leave_out(&mut tx, &context.audit(Door::Office), line, &reason).await;
    if form.accept("reason", left_out)?.is_none() {
        drop(tx);
        return page_with(form.status(), &service_page(&context, service, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/office/minutes/{service}"),
        "It is left out. The time itself stays in the books.",
    )
}

/// `POST /office/minutes/lines/{line}/take-back`
pub(in crate::web) async fn take_back(context: RequestContext, Id(line): Id<WorkLineId>) -> Result {
    let mut tx = context.app.db.write().await?;
    let service = clocked::take_back(&mut tx, &context.audit(Door::Office), line).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/office/minutes/{service}"), "It counts again.")
}
