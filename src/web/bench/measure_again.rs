//! `/bench/jobs/{id}/measure-again`: the step in hand is done; what it made stale is read again.

use sqlx::SqliteConnection;

use super::bench_job::{BenchJob, Planned};
use super::grid;
use super::job::{again, again_with};
use super::plan::in_hand_keys;
use super::readings::{TRIES, keep_plan, moved_on, read_set, take_down, unsettled};
use crate::records::{Door, DraftId, JobId, ReadingSetId, draft, reading};
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{RequestContext, redirect_with_flash};
use crate::web::plan_view::titles;
use crate::web::{Error, Result};

/// `POST /bench/jobs/{id}/measure-again`: readings still under way become a set first, because the step was done by
/// them. `after`, `seen` and `steps` say what was shown: what has changed since is looked at first.
pub(in crate::web) async fn done(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    if !["after", "seen", "steps"].iter().all(|name| form.has(name)) {
        return Err(Error::Unreadable("The form is not whole. Open its page again."));
    }
    let done_words = "Done. What is struck through is read again.";
    let page_of = |bench: &BenchJob| format!("/bench/jobs/{id}{}", first_to_read(bench));
    for _ in 0..TRIES {
        let bench = BenchJob::load(&context, id).await?;
        if was_done(&mut *context.app.db.read().acquire().await?, &bench, &form).await? {
            return redirect_with_flash(&context, &page_of(&bench), done_words);
        }
        if let Some(told) = changed_since(&bench, &context, &form) {
            return again_with(&context, bench, told).await;
        }
        let Some(draft) = bench.draft.as_ref().filter(|draft| !draft.cells.is_empty()) else {
            match step_done(&context, &bench).await? {
                true => return redirect_with_flash(&context, &page_of(&bench), done_words),
                false => continue,
            }
        };
        let mut form = bench.fresh_form();
        let key = format!("draft:{}", draft.id);
        let Some(set) = read_set(&context, &bench, &mut form) else {
            return again_with(&context, bench, form).await;
        };
        if !take_down(&context, &bench, &form, &key, &set).await? {
            continue;
        }
        keep_plan(&context, id).await?;
        for _ in 0..TRIES {
            let bench = BenchJob::load(&context, id).await?;
            if step_done(&context, &bench).await? {
                return redirect_with_flash(&context, &page_of(&bench), done_words);
            }
        }
    }
    Err(moved_on())
}

/// `POST /bench/jobs/{id}/measure-again/take-back`: what was said to be done was not. Once something was read since,
/// `words` say what was done instead.
pub(in crate::web) async fn take_back(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let draft: DraftId =
        form.value("draft").parse().map_err(|_| Error::Unreadable("The form is not whole. Open its page again."))?;
    let words = form.line("words", LINE);
    let field = format!("words_{draft}");
    form.set(&field, words.as_str());
    let mut tx = context.app.db.write().await?;
    let taken_back = draft::take_back(&mut tx, &context.audit(Door::Bench), id, draft, &words).await;
    if form.accept(&field, taken_back)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}"), "Taken back: the readings before it count again.")
}

/// Writes down that the plan's step in hand is done, unless something has moved since the job was read: then `false`.
async fn step_done(context: &RequestContext, bench: &BenchJob) -> Result<bool> {
    let Some(Planned { output, .. }) = &bench.planned else {
        return Ok(true);
    };
    let mut tx = context.app.db.write().await?;
    if bench.has_moved(&mut tx).await? {
        return Ok(false);
    }
    draft::step_done(&mut tx, &context.audit(Door::Bench), bench.job.id, &in_hand_keys(output)).await?;
    tx.commit().await?;
    Ok(true)
}

/// Where the first reading stands that the plan's steps make stale.
fn first_to_read(bench: &BenchJob) -> String {
    let mut places = grid::places(&bench.instrument.entry).into_iter();
    let stale = places.find(|(kind, _)| kind.is_among(&bench.void));
    stale.map(|(kind, string)| format!("#field-{}", grid::field(kind, string))).unwrap_or_default()
}

/// Whether the same was sent before: the steps it names are done, since the set it names or since the one that its
/// readings under way became.
async fn was_done(connection: &mut SqliteConnection, bench: &BenchJob, form: &FormData) -> Result<bool> {
    let newest = bench.sets.last().map(|set| set.id);
    let done = bench.done_steps();
    if done.is_empty() || done.join(" ") != form.value("steps") {
        return Ok(false);
    }
    let after: Option<ReadingSetId> = form.value("after").parse().ok();
    if after == newest {
        return Ok(true);
    }
    let Some(draft) = draft::after(&mut *connection, bench.job.id, after).await? else {
        return Ok(false);
    };
    Ok(reading::by_form_key(connection, &format!("draft:{}", draft.id)).await? == newest)
}

/// What has changed since the page was shown, in words at the plan or at its fields; `None` where nothing has.
fn changed_since(bench: &BenchJob, context: &RequestContext, form: &FormData) -> Option<FormData> {
    let newest = bench.sets.last();
    let mut told = bench.fresh_form();
    if form.value("after") != newest.map(|set| set.id.to_string()).unwrap_or_default() {
        let when = newest.map(|set| context.moment(set.taken_at)).unwrap_or_default();
        let words = format!(
            "A set was taken down meanwhile ({when}). Look at the plan that follows from it before you say what is done."
        );
        told.add_outdated("plan", words);
        return Some(told);
    }
    if let Some(draft) = &bench.draft {
        unsettled(draft, &mut told);
        if told.is_conflict() {
            return Some(told);
        }
        let seen: i64 = form.value("seen").parse().unwrap_or(0);
        let unseen: Vec<String> = draft
            .cells
            .values()
            .filter(|entry| entry.id > seen)
            .map(|entry| format!("{} by {}", entry.typed, entry.who))
            .collect();
        if !unseen.is_empty() {
            let words = format!(
                "Values came that you had not seen: {}. Look at the plan again before you say what is done.",
                unseen.join(", ")
            );
            told.add_outdated("plan", words);
            return Some(told);
        }
    }
    let current = bench.current(&told);
    let planned = current.as_ref().and_then(|current| current.planned.as_deref());
    let now = planned.map(|planned| in_hand_keys(&planned.output)).unwrap_or_default();
    if now.is_empty() || now.join(" ") != form.value("steps") {
        let now = titles(&now);
        let says = if now.is_empty() { "nothing in hand changes a reading".to_owned() } else { now };
        told.add_outdated(
            "plan",
            format!("The plan has changed since you saw it. Now: {says}. Look at it again first."),
        );
        return Some(told);
    }
    None
}
