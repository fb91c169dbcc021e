//! `/desk/messages`: what was written to customers, what did not arrive and why; and the deeds that write.

use askama::Template;

use crate::records::message::{self, Message, MessageKind};
use crate::records::telling::{self, Subject};
use crate::records::{Door, JobId, MessageId, balance, instrument, job, payment};
use crate::web::form::{FormData, Id};
use crate::web::outbox::written::{self, Blanks, ToWrite};
use crate::web::page::{Layout, RequestContext, page, redirect_with_flash};
use crate::web::words::BalanceView;
use crate::web::{Error, Result};

/// Why nothing is written.
const OFF: &str = "Messages are switched off: the owner says under Office, Telling people, how they are sent. Nothing was \
                   written.";

#[derive(Template)]
#[template(path = "desk/messages.html")]
struct MessagesPage {
    layout: Layout,
    failed: Vec<Row>,
    others: Vec<Row>,
    is_on: bool,
    stopped_why: String,
}

struct Row {
    message: Message,
    made: String,
    /// "sent Wed 14 Oct 2026 10:02", "waits to be sent, next at …".
    state: String,
    may_send_again: bool,
}

/// `GET /desk/messages`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let reading = context.app.db.read();
    let settings = message::mail_settings(reading).await?;
    let row = |message: Message| Row {
        made: context.moment(message.made_at),
        state: match message.sent_at {
            Some(at) => format!("sent {}", context.moment(at)),
            None if message.attempts == 0 || message.is_failed() => message.state.spoken().to_owned(),
            None => format!("{}, next at {}", message.state, context.clock_words(message.next_try_at)),
        },
        may_send_again: message.sent_at.is_none() && (message.is_failed() || message.attempts > 0),
        message,
    };
    page(&MessagesPage {
        layout: context.layout(),
        failed: message::failed(reading).await?.into_iter().map(row).collect(),
        others: message::newest(reading).await?.into_iter().filter(|message| !message.is_failed()).map(row).collect(),
        is_on: settings.is_on,
        stopped_why: settings.stopped_why,
    })
}

/// `POST /desk/messages`: writes to a customer what is ticked of them on the list of who is to be told.
pub(in crate::web) async fn write(context: RequestContext, form: FormData) -> Result {
    let reading = context.app.db.read();
    let mail = message::mail_settings(reading).await?;
    if !mail.is_on {
        return redirect_with_flash(&context, "/desk/to-tell", OFF);
    }
    let subjects: Option<Vec<Subject>> = form.values("subject").map(|subject| subject.parse().ok()).collect();
    let subjects = subjects.ok_or(Error::Unreadable("The form is not whole. Open its page again."))?;
    let mut connection = reading.acquire().await.map_err(crate::records::Error::from)?;
    let lines = telling::to_tell(&mut connection, context.today(), |at| context.app.clock.local_date(at)).await?;
    drop(connection);
    let mut written = 0_u32;
    for line in lines.iter().filter(|line| subjects.contains(&line.subject)) {
        let by = context.audit(Door::Desk);
        written += u32::from(written::write_line(&context.app, &by, &context.settings, &mail, line).await?);
    }
    context.app.message_written.notify_one();
    let words = match written {
        0 => "Nothing was written: it stands in the outbox already, or it is nothing that is written by e-mail.",
        1 => "The message is written and goes out now.",
        _ => "The messages are written and go out now.",
    };
    redirect_with_flash(&context, "/desk/to-tell", words)
}

/// `POST /desk/messages/{id}/again`
pub(in crate::web) async fn send_again(context: RequestContext, Id(id): Id<MessageId>) -> Result {
    let mut tx = context.app.db.write().await?;
    message::send_again(&mut tx, &context.audit(Door::Desk), id).await?;
    message::begin_again(&mut tx).await?;
    tx.commit().await?;
    context.app.message_written.notify_one();
    redirect_with_flash(&context, "/desk/messages", "It is tried again now.")
}

/// `POST /desk/jobs/{id}/receipt/message`: what was paid, by e-mail.
pub(in crate::web) async fn write_receipt(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let back = format!("/desk/jobs/{id}/receipt");
    let mail = message::mail_settings(reading).await?;
    if !mail.is_on {
        return redirect_with_flash(&context, &back, OFF);
    }
    let Some((name, to)) = message::address_of(reading, id).await?.filter(|(_, to)| written::is_address(to)) else {
        return redirect_with_flash(&context, &back, "No e-mail address that could be written to is written down.");
    };
    let mut payments = payment::of_job(reading, id).await?;
    payments.retain(|paid| !paid.is_corrected && paid.corrects.is_none());
    let money = BalanceView::of(&context, &balance::load(reading, &job).await?);
    let lines = payments.iter().map(|paid| {
        format!("{}: {}, {}, {}", context.day_of(paid.taken_at), paid.kind, paid.method, context.money(paid.amount))
    });
    let mut lines: Vec<String> = lines.collect();
    lines.push(format!("Paid in all: {}. {}", money.paid, money.for_customer()));
    let blanks = Blanks {
        name,
        number: job.number.clone(),
        instrument: instrument::load(reading, job.instrument_id).await?.entry.title(),
        amount: money.paid.clone(),
        link: written::link(&context.app, &context.settings, id).await?,
        answer: lines.join("\n"),
        ..Blanks::default()
    };
    let kind = MessageKind::Receipt;
    let reads = written::fill(&message::words_of(reading, kind).await?, &blanks, &context.settings);
    let newest = payments.last().map_or_else(|| "nothing".to_owned(), |paid| paid.id.to_string());
    let about = format!("receipt {id} {newest}");
    let write = ToWrite { kind, job: Some(id), matter: None, about, to: to.trim(), reads };
    let mut tx = context.app.db.write().await?;
    let is_new = written::put(&mut tx, &context.audit(Door::Desk), &context.settings, &mail, write).await?;
    tx.commit().await?;
    context.app.message_written.notify_one();
    let words = if is_new {
        "The receipt is written and goes out now."
    } else {
        "This receipt was written before; it stands under Messages."
    };
    redirect_with_flash(&context, &back, words)
}
