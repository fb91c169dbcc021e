//! How a message is written: the owner's words with the blanks filled in, as plain text and as HTML, with a Message-ID of
//! its own (RFC 5322), once.

use std::time::{Duration, UNIX_EPOCH};

use askama::Template;
use lettre::message::{Mailbox, MultiPart};
use lettre::{Address, Message};

use crate::quantity::{Instant, with_weekday};
use crate::records::customer::ReachBy;
use crate::records::message::{self, MailSettings, MessageKind, NewMessage, Words};
use crate::records::settings::Settings;
use crate::records::telling::{self, Matter, ToTell};
use crate::records::{AuditContext, Door, JobId, MessageId, WriteTx, job};
use crate::web::app::App;
use crate::web::words::currency;
use crate::web::{Error, Result};

/// What fills the blanks of the owner's words. A line whose blanks are all empty is left out.
#[derive(Debug, Clone, Default)]
pub(in crate::web) struct Blanks {
    pub(in crate::web) name: String,
    pub(in crate::web) number: String,
    pub(in crate::web) instrument: String,
    pub(in crate::web) day: String,
    pub(in crate::web) amount: String,
    pub(in crate::web) link: String,
    pub(in crate::web) answer: String,
}

/// A message as it reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::web) struct Reads {
    pub(in crate::web) subject: String,
    pub(in crate::web) text: String,
}

/// The owner's words with the blanks filled in.
pub(in crate::web) fn fill(words: &Words, blanks: &Blanks, settings: &Settings) -> Reads {
    let known = [
        ("{name}", blanks.name.as_str()),
        ("{number}", &blanks.number),
        ("{instrument}", &blanks.instrument),
        ("{day}", &blanks.day),
        ("{amount}", &blanks.amount),
        ("{link}", &blanks.link),
        ("{answer}", &blanks.answer),
        ("{telephone}", &settings.telephone),
        ("{shop}", &settings.shop_name),
    ];
    let filled = |line: &str| -> Option<String> {
        let mut named = known.iter().filter(|(blank, _)| line.contains(blank)).peekable();
        if named.peek().is_some() && named.all(|(_, value)| value.is_empty()) {
            return None;
        }
        Some(filled_in(line, &known))
    };
    let lines: Vec<String> = words.words.lines().filter_map(filled).collect();
    let mut text = String::new();
    for line in lines {
        // a line that was left out leaves no hole
        if !(line.trim().is_empty() && (text.is_empty() || text.ends_with("\n\n"))) {
            text.push_str(line.trim_end());
            text.push('\n');
        }
    }
    Reads { subject: filled_in(&words.subject, &known), text: text.trim_end().to_owned() }
}

/// Each blank once, from the left: what is filled in is not read again.
fn filled_in(line: &str, known: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let mut rest = line;
    while let Some(at) = rest.find('{') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        match known.iter().find(|(blank, _)| rest.starts_with(blank)) {
            Some((blank, value)) => {
                out.push_str(value);
                rest = &rest[blank.len()..];
            }
            None => {
                out.push('{');
                rest = &rest[1..];
            }
        }
    }
    out + rest
}

#[derive(Template)]
#[template(path = "message.html")]
struct Html<'a> {
    subject: &'a str,
    paragraphs: Vec<Vec<Line<'a>>>,
    shop_name: &'a str,
    foot: Vec<&'a str>,
}

/// A line of a paragraph, with a link in it.
struct Line<'a> {
    before: &'a str,
    link: &'a str,
    after: &'a str,
}

fn line(text: &str) -> Line<'_> {
    let is_link = |word: &&str| word.starts_with("http://") || word.starts_with("https://");
    let Some(link) = text.split_whitespace().find(is_link) else { return Line { before: text, link: "", after: "" } };
    let (before, after) = text.split_once(link).unwrap_or((text, ""));
    Line { before, link, after }
}

/// The message with its head, as it is sent: text and HTML say the same.
fn mime(
    settings: &Settings,
    mail: &MailSettings,
    to: &str,
    reads: &Reads,
    id: MessageId,
    at: Instant,
) -> Result<Vec<u8>> {
    let from: Address = mail.from_address.parse().map_err(Error::internal)?;
    let id = format!("<{}@{}>", id.simple(), from.domain());
    let foot: Vec<&str> =
        settings.address.lines().chain([settings.telephone.as_str()]).filter(|line| !line.is_empty()).collect();
    let text = format!("{}\n\n-- \n{}\n{}\n", reads.text, settings.shop_name, foot.join("\n"));
    let paragraphs = reads.text.split("\n\n").map(|paragraph| paragraph.lines().map(line).collect()).collect();
    let html = Html { subject: &reads.subject, paragraphs, shop_name: &settings.shop_name, foot };
    let html = html.render().map_err(Error::internal)?;
    let moment = UNIX_EPOCH + Duration::from_micros(u64::try_from(at.0).unwrap_or(0));
    let message = Message::builder()
        .from(Mailbox::new(Some(settings.shop_name.clone()), from))
        .to(Mailbox::new(None, to.parse().map_err(Error::internal)?))
        .subject(reads.subject.as_str())
        .date(moment)
        .message_id(Some(id))
        .multipart(MultiPart::alternative_plain_html(text, html))
        .map_err(Error::internal)?;
    Ok(message.formatted())
}

/// Whether an address can be written to: one that every server takes.
pub(in crate::web) fn is_address(typed: &str) -> bool {
    typed.is_ascii() && typed.parse::<Address>().is_ok()
}

/// What is to be written, to whom.
pub(in crate::web) struct ToWrite<'a> {
    pub(in crate::web) kind: MessageKind,
    pub(in crate::web) job: Option<JobId>,
    pub(in crate::web) matter: Option<Matter>,
    pub(in crate::web) about: String,
    pub(in crate::web) to: &'a str,
    pub(in crate::web) reads: Reads,
}

/// Puts a message into the outbox; `false` where one about the same is there.
pub(in crate::web) async fn put(
    tx: &mut WriteTx,
    by: &AuditContext,
    settings: &Settings,
    mail: &MailSettings,
    write: ToWrite<'_>,
) -> Result<bool> {
    let id = MessageId::new();
    let raw = mime(settings, mail, write.to, &write.reads, id, by.at)?;
    let ToWrite { kind, job, matter, about, to, reads } = write;
    let new = NewMessage { kind, job, matter, about, to: to.to_owned(), subject: reads.subject, raw };
    Ok(message::write(tx, by, &new).await?.is_some())
}

/// What a message to somebody on the telling list would be: its kind, and what it is about.
pub(in crate::web) fn of_line(line: &ToTell) -> Option<(MessageKind, String)> {
    let kind = match line.subject.matter {
        Matter::Quote => MessageKind::Quote,
        Matter::Ready => MessageKind::Ready,
        Matter::Promise => MessageKind::Delayed,
        Matter::Question | Matter::Late | Matter::Answer | Matter::Money | Matter::Care => return None,
    };
    if line.person.email.is_empty() {
        return None;
    }
    // told again after the shop's own days it is another message
    let times = line.last.as_ref().map_or(0, |last| last.at.0);
    let of = line.quote.map_or_else(|| line.subject.of.to_string(), |quote| quote.to_string());
    Some((kind, format!("{} {of} {} {times}", kind.key(), line.day.map(|day| day.to_string()).unwrap_or_default())))
}

/// The private page of a job, where customers' telephones reach this computer.
pub(in crate::web) async fn link(app: &App, settings: &Settings, id: JobId) -> Result<String> {
    let said = Some(settings.public_address.as_str()).filter(|said| !said.is_empty());
    let Some(origin) = app.serving.public_origin.as_deref().or(said) else { return Ok(String::new()) };
    let job = job::find(app.db.read(), id).await?;
    Ok(format!("{origin}/s/{}", app.db.link_secret().token(id, job.link_number)))
}

/// Writes to somebody what stands of them on the telling list; `false` where that is nothing that is written, or was.
pub(in crate::web) async fn write_line(
    app: &App,
    by: &AuditContext,
    settings: &Settings,
    mail: &MailSettings,
    line: &ToTell,
) -> Result<bool> {
    let (Some((kind, about)), Some(id)) = (of_line(line), line.job()) else { return Ok(false) };
    let to = line.person.email.trim();
    if !is_address(to) || message::is_written(app.db.read(), &about).await? {
        return Ok(false);
    }
    let words = message::words_of(app.db.read(), kind).await?;
    let blanks = Blanks {
        name: line.person.name.clone(),
        number: line.number.clone(),
        instrument: line.instrument.clone(),
        day: line.day.map(with_weekday).unwrap_or_default(),
        amount: line.amount.map(|amount| amount.with_symbol(&currency(settings))).unwrap_or_default(),
        link: link(app, settings, id).await?,
        answer: String::new(),
    };
    let reads = fill(&words, &blanks, settings);
    let mut tx = app.db.write().await?;
    let write = ToWrite { kind, job: Some(id), matter: Some(line.subject.matter), about, to, reads };
    let is_new = put(&mut tx, by, settings, mail, write).await?;
    tx.commit().await?;
    Ok(is_new)
}

/// Writes to whoever likes e-mail and is to be told something today.
pub(super) async fn by_itself(app: &App) -> Result<()> {
    let settings = app.settings.current(&app.db).await?;
    let mail = message::mail_settings(app.db.read()).await?;
    let today = app.clock.today();
    let mut connection = app.db.read().acquire().await.map_err(crate::records::Error::from)?;
    let lines = telling::to_tell(&mut connection, today, |at| app.clock.local_date(at)).await?;
    drop(connection);
    let theirs = lines.iter().filter(|line| line.is_due(today) && line.person.reach_by == ReachBy::Email);
    for line in theirs.filter(|line| line.last.is_none()) {
        write_line(app, &house(app), &settings, &mail, line).await?;
    }
    Ok(())
}

/// Who the house is when it writes by itself.
fn house(app: &App) -> AuditContext {
    AuditContext { staff: None, door: Door::House, at: app.clock.now() }
}

#[cfg(test)]
mod tests {
    use super::filled_in;

    #[test]
    fn what_is_filled_in_is_not_read_again() {
        let known = [("{name}", "Maren {day}"), ("{day}", "Monday")];
        assert_eq!(filled_in("{name}: {day}, {else} {", &known), "Maren {day}: Monday, {else} {");
    }
}
