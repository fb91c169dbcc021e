//! `/office/telling`: when somebody who was told is due again, and how messages are sent: by the shop's own mail server,
//! off until the owner switches it on.

use askama::Template;

use crate::records::Door;
use crate::records::message::{self, MailSettings, MessageKind, Security};
use crate::records::telling::{self, TellingSettings};
use crate::web::Result;
use crate::web::form::{FormData, LINE, TEXT};
use crate::web::outbox::written::{self, Reads, ToWrite};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/telling.html")]
struct TellingPage {
    layout: Layout,
    /// The days between calls.
    form: FormData,
    /// How the mail server is reached.
    mail: FormData,
    /// Where a test message goes.
    test: FormData,
    has_password: bool,
    stopped_why: String,
}

impl TellingPage {
    fn ways(&self) -> &'static [Security] {
        Security::ALL
    }
    /// The kinds of message whose words the owner may change.
    fn kinds(&self) -> impl Iterator<Item = MessageKind> {
        MessageKind::ALL.iter().copied().filter(|kind| *kind != MessageKind::Test)
    }
}

/// Which of the page's forms goes back as it was typed.
enum Sent {
    None,
    Days(FormData),
    Mail(FormData),
    Test(FormData),
}

fn form_of(settings: &TellingSettings) -> FormData {
    FormData::new()
        .with("version", settings.version.to_string())
        .with("after_told", settings.after_told.to_string())
        .with("after_word_left", settings.after_word_left.to_string())
        .with("after_no_answer", settings.after_no_answer.to_string())
        .with("opening_hours", settings.opening_hours.as_str())
}

fn form_of_mail(settings: &MailSettings) -> FormData {
    let form = FormData::new()
        .with("version", settings.version.to_string())
        .with("host", settings.host.as_str())
        .with("port", settings.port.to_string())
        .with("security", settings.security.key())
        .with("user_name", settings.user_name.as_str())
        .with("from_address", settings.from_address.as_str())
        .with("authority", settings.authority.as_str());
    let ticked = |is: bool, form: FormData, name: &str| if is { form.with(name, "yes") } else { form };
    ticked(settings.by_itself, ticked(settings.is_on, form, "is_on"), "by_itself")
}

async fn telling_page(context: &RequestContext, sent: Sent) -> Result<TellingPage> {
    let reading = context.app.db.read();
    let settings = message::mail_settings(reading).await?;
    let days = form_of(&telling::settings(reading).await?);
    let mail = form_of_mail(&settings);
    let test = FormData::new().with("to", context.settings.email.as_str());
    let (form, mail, test) = match sent {
        Sent::None => (days, mail, test),
        Sent::Days(form) => (form, mail, test),
        Sent::Mail(form) => (days, form, test),
        Sent::Test(form) => (days, mail, form),
    };
    let (mail, test) = (mail.of_row("mail"), test.of_row("test"));
    let has_password = !settings.password.is_empty();
    Ok(TellingPage { layout: context.layout(), form, mail, test, has_password, stopped_why: settings.stopped_why })
}

async fn again(context: &RequestContext, status: axum::http::StatusCode, sent: Sent) -> Result {
    page_with(status, &telling_page(context, sent).await?)
}

/// `GET /office/telling`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&telling_page(&context, Sent::None).await?)
}

/// `POST /office/telling`: the days between calls.
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let mut days = |name: &str| form.required_number(name, 1..=365, "how many days");
    let days = (days("after_told"), days("after_word_left"), days("after_no_answer"));
    let opening_hours = form.area("opening_hours", 1000);
    let (Some(after_told), Some(after_word_left), Some(after_no_answer), false) =
        (days.0, days.1, days.2, form.has_errors())
    else {
        return again(&context, form.status(), Sent::Days(form)).await;
    };
    let new = TellingSettings { after_told, after_word_left, after_no_answer, opening_hours, version: form.version()? };
    let mut tx = context.app.db.write().await?;
    let saved = telling::save_settings(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("after_told", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&telling::settings(context.app.db.read()).await?));
        return again(&context, form.status(), Sent::Days(form)).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/telling", "Saved.")
}

/// `POST /office/telling/mail`: how the mail server is reached. An empty password keeps the one there is.
pub(in crate::web) async fn save_mail(context: RequestContext, mut form: FormData) -> Result {
    let before = message::mail_settings(context.app.db.read()).await?;
    let is_on = form.is("is_on", "yes");
    let host = form.line("host", LINE);
    let port = form.required_number("port", 1..=65535, "the mail server's port");
    let security = form.choice::<Security>("security", "how the way is kept private");
    let user_name = form.line("user_name", LINE);
    let from_address = form.line("from_address", LINE);
    let authority = form.area("authority", 4 * TEXT);
    if is_on && host.is_empty() {
        form.add_error("host", "Type the name of the mail server, such as mail.shop.example.");
    }
    if (is_on || !from_address.is_empty()) && !written::is_address(&from_address) {
        form.add_error("from_address", "Type the shop's e-mail address, such as hello@shop.example.");
    }
    let password = form.value("password").to_owned();
    let password = if user_name.is_empty() || !password.is_empty() { password } else { before.password };
    if security == Some(Security::None) && !password.is_empty() && !form.is("readable", "yes") {
        form.add_error("readable", "Say that others may read the password on the way, or choose TLS.");
    }
    let (Some(port), Some(security), false) = (port, security, form.has_errors()) else {
        return again(&context, form.status(), Sent::Mail(form)).await;
    };
    let by_itself = form.is("by_itself", "yes");
    let new = MailSettings {
        is_on,
        by_itself,
        host,
        port,
        security,
        user_name,
        password,
        from_address,
        authority,
        stopped_why: String::new(),
        version: form.version()?,
    };
    let mut tx = context.app.db.write().await?;
    let saved = message::save_mail_settings(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("host", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of_mail(&message::mail_settings(context.app.db.read()).await?));
        return again(&context, form.status(), Sent::Mail(form)).await;
    }
    tx.commit().await?;
    context.app.message_written.notify_one();
    let words =
        if is_on { "Saved. Send a message to yourself to see that it arrives." } else { "Saved. Messages are off." };
    redirect_with_flash(&context, "/office/telling", words)
}

/// `POST /office/telling/test`: a message to oneself.
pub(in crate::web) async fn test(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let to = form.required_line("to", "where the message goes", LINE);
    if !to.is_empty() && !written::is_address(&to) {
        form.add_error("to", "This is not an e-mail address that every server takes.");
    }
    let mail = message::mail_settings(context.app.db.read()).await?;
    if !mail.is_on {
        form.add_error("to", "Switch messages on first, and save.");
    }
    if form.has_errors() {
        return again(&context, form.status(), Sent::Test(form)).await;
    }
    let reads = Reads {
        subject: format!("A test message from {}", context.settings.shop_name),
        text: "This is how messages of the shop arrive. Nothing is to be done about it.".to_owned(),
    };
    let kind = MessageKind::Test;
    let write = ToWrite { kind, job: None, matter: None, about: format!("test {key}"), to: &to, reads };
    let mut tx = context.app.db.write().await?;
    written::put(&mut tx, &context.audit(Door::Office), &context.settings, &mail, write).await?;
    message::begin_again(&mut tx).await?;
    tx.commit().await?;
    context.app.message_written.notify_one();
    redirect_with_flash(&context, "/desk/messages", "The test message goes out now; its line says what came of it.")
}
