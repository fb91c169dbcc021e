//! `/bench/jobs/{id}/final-check`: the list of the trade before *ready*, item by item, with who and when.

use askama::Template;

use crate::records::final_check::{self, CheckAnswer, Checked, FinalCheck, Given};
use crate::records::job::{self, Job};
use crate::records::observation::Observation;
use crate::records::stage::Stage;
use crate::records::{Door, JobId, ObservationId, instrument};
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::{Promise, StageView};
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "bench/final_check.html")]
struct FinalCheckPage {
    layout: Layout,
    form: FormData,
    job: Job,
    title: String,
    stage: StageView,
    promise: Promise,
    rows: Vec<Row>,
    observations: Vec<ObservationRow>,
    /// Clocks that still run, in words.
    running: Vec<String>,
    open: usize,
    is_here: bool,
    /// The job has not come this far yet.
    is_still_to_come: bool,
}

/// What was noted and not put right.
struct ObservationRow {
    words: String,
    /// "Ivo, Wed 14 Oct 2026 10:00"; empty while nobody said why it is left.
    given: String,
    field: String,
    label: String,
}

/// One item on the page.
struct Row {
    words: String,
    hint: String,
    /// "Ivo, Wed 14 Oct 2026 10:00"; empty while open.
    given: String,
    /// The readings answered it: nothing to press.
    is_read: bool,
    /// What the readings say, where they are to answer.
    readings: Option<String>,
    answers: &'static [CheckAnswer],
    answer_field: String,
    reason_field: String,
    reason_label: String,
}

impl Row {
    fn is_open(&self) -> bool {
        self.given.is_empty()
    }
}

async fn check_page(context: &RequestContext, id: JobId, form: FormData) -> Result<FinalCheckPage> {
    let mut reading = context.app.db.read().acquire().await?;
    let job = job::find(&mut *reading, id).await?;
    let check = final_check::of_job(&mut reading, &job).await?;
    let readings = readings_words(&check);
    let form = prefilled(form, &check);
    let title = instrument::find(&mut reading, job.instrument_id).await?.entry.title();
    Ok(FinalCheckPage {
        layout: context.layout(),
        title,
        stage: StageView::of(job.stage, job.waiting_for),
        promise: Promise::as_of(job.stage, job.promised_on, context.today()),
        open: check.open_words().len(),
        observations: check
            .unresolved
            .iter()
            .map(|(observation, given)| observation_row(context, observation, given.as_ref()))
            .collect(),
        running: check.running.iter().map(|entry| format!("{}’s clock runs on “{}”", entry.who, entry.words)).collect(),
        rows: check.items.iter().map(|checked| row(context, checked, &readings)).collect(),
        is_here: job.stage == Stage::FinalCheck,
        is_still_to_come: job.stage.index() < Stage::FinalCheck.index(),
        form,
        job,
    })
}

/// The form with what was answered before in the fields that nobody typed into.
fn prefilled(form: FormData, check: &FinalCheck) -> FormData {
    let mut form = form;
    for (item, given) in check.items.iter().filter_map(|checked| Some((&checked.item, checked.given.as_ref()?))) {
        for (field, value) in [("answer", given.answer.key()), ("reason", given.reason.as_str())] {
            let field = format!("{field}_{}", item.id);
            if form.value(&field).is_empty() {
                form.set(&field, value);
            }
        }
    }
    for (observation, given) in &check.unresolved {
        let field = format!("left_{}", observation.id);
        if !form.has(&field) {
            form.set(&field, given.as_ref().map_or("", |given| &given.reason));
        }
    }
    form
}

fn observation_row(context: &RequestContext, observation: &Observation, given: Option<&Given>) -> ObservationRow {
    ObservationRow {
        words: observation.in_words(),
        given: given.map(|given| format!("{}, {}", given.who, context.moment(given.at))).unwrap_or_default(),
        field: format!("left_{}", observation.id),
        label: format!("{}: why it leaves like that", observation.in_words()),
    }
}

fn row(context: &RequestContext, checked: &Checked, readings: &str) -> Row {
    let item = &checked.item;
    let given = checked.given.as_ref();
    Row {
        words: item.words.clone(),
        hint: item.hint.clone(),
        given: given.map(|given| format!("{}, {}", given.who, context.moment(given.at))).unwrap_or_default(),
        is_read: item.by_readings && given.is_some_and(|given| given.answer == CheckAnswer::Yes),
        readings: item.by_readings.then(|| readings.to_owned()),
        answers: if item.by_readings { &[CheckAnswer::Reason] } else { CheckAnswer::ALL },
        answer_field: format!("answer_{}", item.id),
        reason_field: format!("reason_{}", item.id),
        reason_label: format!("Reason: {}", item.words),
    }
}

/// What the final readings say of themselves.
fn readings_words(check: &FinalCheck) -> String {
    let (places, off) = check.places();
    let unread = match check.after_work.as_ref().map_or(0, |found| found.unread) {
        0 => String::new(),
        1 => " One place that was read as received was not read again.".to_owned(),
        count => format!(" {count} places that were read as received were not read again."),
    };
    match (places, off) {
        (0, _) => "No final readings since the last work.".to_owned(),
        (places, 0) => format!("All {places} places that were read are proved.{unread}"),
        (places, off) => format!("{off} of {places} places are off.{unread}"),
    }
}

/// `GET /bench/jobs/{id}/final-check`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    page(&check_page(&context, id, FormData::default()).await?)
}

/// `POST /bench/jobs/{id}/final-check`: `answer_ITEM` and `reason_ITEM` for each item that was answered. An
/// item left alone stays open.
pub(in crate::web) async fn answer(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let mut answers = Vec::new();
    let listed = final_check::items(context.app.db.read()).await?;
    for item in &listed {
        let (answer_field, reason_field) = (format!("answer_{}", item.id), format!("reason_{}", item.id));
        let reason = form.line(&reason_field, LINE);
        let chosen: Option<CheckAnswer> = form.value(&answer_field).parse().ok();
        // a reason that was typed and not chosen is meant
        let chosen = chosen.or((!reason.is_empty()).then_some(CheckAnswer::Reason));
        let Some(chosen) = chosen else {
            continue;
        };
        if chosen == CheckAnswer::Reason && reason.is_empty() {
            form.add_error(&reason_field, format!("“{}”: say why it is right as it is.", item.words));
        }
        answers.push((item.id, chosen, reason));
    }
    let names: Vec<String> = form.names().filter(|name| name.starts_with("left_")).map(str::to_owned).collect();
    let mut left = Vec::new();
    for name in names {
        let reason = form.line(&name, LINE);
        let whole = Error::Unreadable("The form is not whole. Open its page again.");
        let observation: ObservationId = name.trim_start_matches("left_").parse().map_err(|_| whole)?;
        if !reason.is_empty() {
            left.push((observation, reason));
        }
    }
    if form.has_errors() {
        return page_with(form.status(), &check_page(&context, id, form).await?);
    }
    let mut tx = context.app.db.write().await?;
    final_check::answer(&mut tx, &context.audit(Door::Bench), id, &answers).await?;
    final_check::leave(&mut tx, &context.audit(Door::Bench), id, &left).await?;
    tx.commit().await?;
    let mut reading_side = context.app.db.read().acquire().await?;
    let job = job::find(&mut *reading_side, id).await?;
    let open = final_check::of_job(&mut reading_side, &job).await?.open_words().len();
    let words = match open {
        0 => "The final check is complete.".to_owned(),
        1 => "Written down. One item is still open.".to_owned(),
        count => format!("Written down. {count} items are still open."),
    };
    redirect_with_flash(&context, &format!("/bench/jobs/{id}/final-check"), &words)
}
