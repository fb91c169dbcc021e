//! `/s/{token}/answer`: the customer agrees, declines or asks; and `/s/{token}/total`, what is ticked comes to.

use axum::response::{IntoResponse, Response};

use super::job::job_page;
use super::link::{Opened, bare, opened};
use super::quote_view::{Present, present};
use crate::quantity::{Money, with_weekday};
use crate::records::message::{self, MessageKind};
use crate::records::quote::{self, Answer, AnsweredHow, QuoteAnswer};
use crate::records::{self, Door, JobId, QuoteId, WorkLineId, instrument, job};
use crate::web::form::{FormData, Id, LINE, Query};
use crate::web::outbox::written::{self, Blanks, ToWrite};
use crate::web::page::{RequestContext, page_with, redirect_with_flash};
use crate::web::{Error, Result};

/// The longest question.
const QUESTION: usize = 1000;

/// `GET /s/{token}/total`: what the ticked lines come to with tax, in words and as the form says that it was shown.
/// Answers nothing.
pub(in crate::web) async fn total(context: RequestContext, Id(token): Id<String>, query: Query) -> Result {
    let id = match opened(&context, &token).await? {
        Opened::Job(id) => id,
        Opened::Ended(ended) => return Ok(*ended),
    };
    let present = present(&context, id).await?.ok_or(Error::NotFound("quote"))?;
    let total = present.total_of(&present.yes_to(&query))?;
    Ok(format!("{} {}", total.0, context.money(total)).into_response())
}

/// `POST /s/{token}/answer`
pub(in crate::web) async fn answer(context: RequestContext, Id(token): Id<String>, mut form: FormData) -> Result {
    let id = match opened(&context, &token).await? {
        Opened::Job(id) => id,
        Opened::Ended(ended) => return Ok(*ended),
    };
    let Some(present) = present(&context, id).await? else { return Err(Error::NotFound("quote")) };
    let page = format!("/s/{token}");
    // the revision that was read may not be the newest any more
    if form.value("quote").parse::<QuoteId>() != Ok(present.quote.id) {
        let kept = FormData::new().with("name", form.value("name")).with("words", form.value("words"));
        let words =
            "We made a new quote while you were reading the one before. Nothing was answered: this is the new one.";
        return back(&context, &token, id, with_error(kept, "deed", words)).await;
    }
    let name = form.required_line("name", "your name: it stands as your signature", LINE);
    let words = form.area("words", QUESTION);
    let deed = form.value("deed").to_owned();
    if deed == "ask" {
        if words.is_empty() {
            form.add_error("words", "Type what you would like to know.");
        }
        if form.has_errors() {
            return back(&context, &token, id, form).await;
        }
        let mut tx = context.app.db.write().await?;
        let by = context.audit(Door::Customer);
        let asked = quote::ask(&mut tx, &by, present.quote.id, AnsweredHow::Link, &name, &words).await;
        if form.accept("words", asked)?.is_none() {
            drop(tx);
            return back(&context, &token, id, form).await;
        }
        tx.commit().await?;
        return redirect_with_flash(&context, &page, "Your question is with us. We call or write to you.");
    }
    let yes_to = match deed.as_str() {
        "agree" => present.yes_to(&form),
        "decline" => Vec::new(),
        _ => return Err(Error::Unreadable("The form is not whole. Open its page again.")),
    };
    let total = present.total_of(&yes_to)?;
    if deed == "agree" && yes_to.is_empty() {
        form.add_error("deed", "Tick what you agree to, or press No to all of it.");
    }
    let is_answered = is_answered_otherwise(&present, &yes_to);
    if deed == "agree" && !is_answered && form.value("shown") != total.0.to_string() && form.error("deed").is_none() {
        form.set("shown", total.0.to_string());
        let words =
            format!("What you ticked comes to {} with tax. Press once more to agree to that.", context.money(total));
        form.add_error("deed", words);
    }
    if form.has_errors() {
        return back(&context, &token, id, form).await;
    }
    let said = QuoteAnswer {
        yes_to: &yes_to,
        how: AnsweredHow::Link,
        answered_by: &name,
        words: &words,
        shown_total: (!yes_to.is_empty()).then_some(total),
        today: context.today(),
    };
    let mut tx = context.app.db.write().await?;
    let answered = quote::answer(&mut tx, &context.audit(Door::Customer), present.quote.id, said).await;
    let answered = match answered {
        Err(records::Error::Refused(_)) if is_answered => {
            let day = present.quote.answered_at.map(|at| context.day_of(at)).unwrap_or_default();
            Err(records::Error::refused(format!(
                "This quote was answered already, on {day}, and that answer stands. Call us if you have changed your mind."
            )))
        }
        other => other,
    };
    if form.accept("deed", answered)?.is_none() {
        drop(tx);
        return back(&context, &token, id, form).await;
    }
    confirm(&context, &mut tx, id, &present, &yes_to, total).await?;
    tx.commit().await?;
    context.app.message_written.notify_one();
    let words = if yes_to.is_empty() {
        "Thank you. We have your answer: nothing is done, and we call you about what comes next."
    } else {
        "Thank you. We have your answer; it stands below."
    };
    redirect_with_flash(&context, &page, words)
}

fn with_error(mut form: FormData, field: &str, words: &str) -> FormData {
    form.add_outdated(field, words);
    form
}

/// Whether somebody answered it before, and otherwise.
fn is_answered_otherwise(present: &Present, yes_to: &[WorkLineId]) -> bool {
    let is_yes = |line: &quote::QuoteLine| line.answer == Some(Answer::Agreed);
    present.quote.answer.is_some()
        && present.lines.iter().any(|line| is_yes(line) != yes_to.contains(&line.work_line_id))
}

/// The page again, with what was typed and what is wrong with it.
async fn back(context: &RequestContext, token: &str, id: JobId, form: FormData) -> Result<Response> {
    let status = form.status();
    page_with(status, &job_page(context, bare(context, token), token, id, form).await?)
}

/// A message that says what was answered, where messages are sent and there is an address: once.
async fn confirm(
    context: &RequestContext,
    tx: &mut records::WriteTx,
    id: JobId,
    present: &Present,
    yes_to: &[WorkLineId],
    total: Money,
) -> Result<()> {
    let reading = context.app.db.read();
    let mail = message::mail_settings(reading).await?;
    let Some((name, to)) = message::address_of(reading, id).await?.filter(|(_, to)| written::is_address(to.trim()))
    else {
        return Ok(());
    };
    if !mail.is_on {
        return Ok(());
    }
    let job = job::find(reading, id).await?;
    let said = |wanted: bool| {
        let lines = present.lines.iter().filter(move |line| yes_to.contains(&line.work_line_id) == wanted);
        lines.map(|line| format!("- {}, {}", line.words, context.money(line.charged()))).collect::<Vec<_>>()
    };
    let mut answer = Vec::new();
    for (heading, lines) in [("Agreed:", said(true)), ("Not agreed:", said(false))] {
        if !lines.is_empty() {
            answer.push(heading.to_owned());
            answer.extend(lines);
        }
    }
    if !yes_to.is_empty() {
        answer.push(format!("Together with tax: {}", context.money(total)));
    }
    let blanks = Blanks {
        name,
        number: job.number.clone(),
        instrument: instrument::load(reading, job.instrument_id).await?.entry.title(),
        day: job.promised_on.map(with_weekday).unwrap_or_default(),
        amount: if yes_to.is_empty() { String::new() } else { context.money(total) },
        link: written::link(&context.app, &context.settings, id).await?,
        answer: answer.join("\n"),
    };
    let kind = MessageKind::Answer;
    let reads = written::fill(&message::words_of(reading, kind).await?, &blanks, &context.settings);
    let about = format!("answer {}", present.quote.id);
    let write = ToWrite { kind, job: Some(id), matter: None, about, to: to.trim(), reads };
    written::put(tx, &context.audit(Door::Customer), &context.settings, &mail, write).await?;
    Ok(())
}
