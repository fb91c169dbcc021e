//! Messages by the shop's own mail server: read back by a parser that is not ours, tried again as RFC 5321 asks, never
//! twice about the same, and never in plain text where the owner did not say so.

use std::time::Duration;

use axum::http::StatusCode;
use mail_parser::MessageParser;
use thumbplane::quantity::Instant;
use thumbplane::web::Serving;
use thumbplane::web::outbox::{self, Patience};

use crate::support::form::form;
use crate::support::mail_server::{Conduct, Letter, MailServer};
use crate::support::{Answer, HOST, MORNING, Shop};

const MINUTE: i64 = 60_000_000;

/// Long enough for a busy machine.
const PATIENT: Patience = Patience { answer: Duration::from_secs(20), whole: Duration::from_secs(20) };
/// For servers that never answer.
const IMPATIENT: Patience = Patience { answer: Duration::from_millis(800), whole: Duration::from_millis(800) };

async fn changes(shop: &Shop, sql: &'static str) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::raw_sql(sqlx::AssertSqlSafe(sql)).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

/// The owner types how the mail server is reached.
async fn reaches(shop: &Shop, server: &MailServer, typed: &[(&str, &str)]) -> Answer {
    let owner = shop.owner().await;
    let page = owner.opens("/office/telling").await.form("/office/telling/mail");
    let port = server.port.to_string();
    let mut fields = vec![
        ("is_on", "yes"),
        ("host", "127.0.0.1"),
        ("port", port.as_str()),
        ("security", "none"),
        ("from_address", "hello@millrace.example"),
    ];
    fields.retain(|(name, _)| typed.iter().all(|(anew, _)| anew != name));
    fields.extend(typed);
    owner.sends_form("/office/telling/mail", &page, &fields).await
}

/// A shop with one ready instrument of somebody who can be written to, and its job's page.
async fn with_one_ready(server: &MailServer) -> (Shop, String) {
    let shop = Shop::open_as(Serving { public_origin: Some(format!("http://{HOST}")), ..Serving::default() }).await;
    let job = shop.desk().await.checks_in("k").await;
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = 'ready', stage_since = ?").bind(MORNING.0).execute(&mut *write).await.unwrap();
    sqlx::query("UPDATE customer SET name = 'Žofie Müller', version = version + 1").execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    let saved = reaches(&shop, server, &[]).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.visible_text());
    (shop, job)
}

/// The desk presses *Send the e-mail*.
async fn writes(shop: &Shop, job: &str) {
    let subject = format!("ready.{}", job.rsplit('/').next().unwrap());
    let desk = shop.desk().await;
    let page = desk.opens("/desk/to-tell").await;
    assert!(page.has("button[formaction='/desk/messages']"), "{}", page.visible_text());
    let sent = desk.sends("/desk/messages", &[("subject", &subject)]).await;
    assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.visible_text());
}

async fn state(shop: &Shop) -> (String, i64, String) {
    sqlx::query_as("SELECT state, attempts, why FROM message").fetch_one(shop.app.db.read()).await.unwrap()
}

fn message_id(letter: &Letter) -> String {
    MessageParser::default().parse(&letter.raw).unwrap().message_id().unwrap().to_owned()
}

#[tokio::test]
async fn a_message_arrives_whole_and_the_customer_is_told_by_it() {
    let server = MailServer::open(Conduct::Accepts).await;
    let (shop, job) = with_one_ready(&server).await;
    // a line that is a single dot would end the message (RFC 5321, 4.5.2); a line without anything to say is left out
    let words = "Hello {name},\n\nyour {instrument} is ready.\n.\n..two dots\n\nStill to pay: {amount}.\n\nAll about it: {link}";
    let owner = shop.owner().await;
    let page = owner.opens("/office/telling/words/ready").await;
    assert!(
        page.all("#preview")[0].contains("Thistlewade OM-2 is ready and waits for you"),
        "{:?}",
        page.all("#preview")
    );
    let kept = form(&page, "/office/telling/words/ready").with("words", words);
    let look = kept.sent_by(&owner).await;
    assert_eq!(look.status, StatusCode::SEE_OTHER, "{}", look.visible_text());
    writes(&shop, &job).await;
    assert!(server.letters().is_empty(), "nothing is sent while a page waits");
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    let letters = server.letters();
    assert_eq!(letters.len(), 1, "{:?}", state(&shop).await);
    assert_eq!(
        (letters[0].from.as_str(), &letters[0].to[..]),
        ("hello@millrace.example", &["maren@oakhollow.example".to_owned()][..])
    );
    let read = MessageParser::default().parse(&letters[0].raw).unwrap();
    assert_eq!(read.subject(), Some("Your Thistlewade OM-2 is ready, 26-0001"));
    let from = read.from().unwrap().first().unwrap();
    assert_eq!((from.name(), from.address()), (Some("Millrace Strings"), Some("hello@millrace.example")));
    assert_eq!(read.to().unwrap().first().unwrap().address(), Some("maren@oakhollow.example"));
    assert!(read.message_id().unwrap().ends_with("@millrace.example") && read.date().is_some());
    assert_eq!(read.date().unwrap().to_timestamp(), MORNING.0 / 1_000_000);
    let (text, html) = (read.body_text(0).unwrap(), read.body_html(0).unwrap());
    let text = text.replace("\r\n", "\n");
    assert!(
        text.starts_with(
            "Hello Žofie Müller,\n\nyour Thistlewade OM-2 is ready.\n.\n..two dots\n\nAll about it: http://"
        ),
        "{text}"
    );
    assert!(text.contains("Millrace Strings"), "{text}");
    let link = text.split_whitespace().find(|word| word.contains("/s/")).unwrap();
    assert!(html.contains("Žofie Müller") && html.contains(&format!("<a href=\"{link}\">")), "{html}");
    assert!(letters[0].raw.is_ascii(), "any server takes it, whether or not it knows 8BITMIME (RFC 6152)");
    let path = &link[link.find("/s/").unwrap()..];
    assert_eq!(shop.stranger().opens(path).await.status, StatusCode::OK, "and its link leads there");
    // what was sent was told
    let desk = shop.desk().await;
    let list = desk.opens("/desk/to-tell").await;
    assert!(
        !list.has(".telling") && list.all("#later tbody")[0].contains("word left by e-mail"),
        "{}",
        list.visible_text()
    );
    assert!(desk.opens(&job).await.visible_text().contains("message sent"));
    assert!(desk.opens("/desk/messages").await.all("#others tbody")[0].contains("sent Wed 14 Oct 2026"));
    // and not once more
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(server.letters().len(), 1);
}

#[tokio::test]
async fn what_the_server_refuses_for_good_is_shown_with_its_words_and_sent_again_by_a_press() {
    let server = MailServer::open(Conduct::Refuses).await;
    let (shop, job) = with_one_ready(&server).await;
    writes(&shop, &job).await;
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    let (stands, attempts, why) = state(&shop).await;
    assert_eq!((stands.as_str(), attempts), ("refused", 1));
    assert!(why.contains("550") && why.contains("Mailbox unavailable"), "{why}");
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(state(&shop).await.1, 1, "for good");
    let desk = shop.desk().await;
    let list = desk.opens("/desk/to-tell").await;
    assert!(
        list.visible_text().contains("A message did not arrive.") && list.has(".telling"),
        "{}",
        list.visible_text()
    );
    let page = desk.opens("/desk/messages").await;
    assert!(page.all("#failed tbody")[0].contains("Mailbox unavailable"), "{}", page.visible_text());
    server.becomes(Conduct::Accepts);
    let action = page.page();
    let again = scraper::Selector::parse("#failed form").unwrap();
    let again = action.select(&again).next().unwrap().attr("action").unwrap().to_owned();
    assert_eq!(desk.sends(&again, &[]).await.status, StatusCode::SEE_OTHER);
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!((state(&shop).await.0.as_str(), server.letters().len()), ("sent", 1));
    let refused = desk.sends(&again, &[]).await;
    assert_eq!(refused.status, StatusCode::CONFLICT, "what was sent is not sent again");
}

// RFC 5321, 4.5.4.1: the first pause at least 30 minutes, and given up after 4 to 5 days
#[tokio::test]
async fn what_the_server_defers_is_tried_again_with_growing_pauses_and_given_up_after_days() {
    let server = MailServer::open(Conduct::Defers).await;
    let (shop, job) = with_one_ready(&server).await;
    writes(&shop, &job).await;
    let mut now = MORNING.0;
    let mut pauses = Vec::new();
    for attempt in 1..=23 {
        outbox::send_due(&shop.app, PATIENT).await.unwrap();
        assert_eq!(state(&shop).await.1, attempt);
        if state(&shop).await.0 == "given-up" {
            break;
        }
        let next: i64 =
            sqlx::query_scalar("SELECT next_try_at FROM message").fetch_one(shop.app.db.read()).await.unwrap();
        pauses.push((next - now) / MINUTE);
        shop.clock.set(Instant(next - 1));
        outbox::send_due(&shop.app, PATIENT).await.unwrap();
        assert_eq!(state(&shop).await.1, attempt, "not before its time");
        now = next;
        shop.clock.set(Instant(now));
    }
    assert_eq!(pauses[..6], [30, 60, 120, 240, 360, 360]);
    let (stands, attempts, why) = state(&shop).await;
    assert_eq!((stands.as_str(), attempts), ("given-up", 23));
    assert!(why.contains("451"), "{why}");
    let days = (now - MORNING.0) / (24 * 60 * MINUTE);
    assert!((4..=5).contains(&days), "{days}");
}

#[tokio::test]
async fn a_server_that_falls_silent_after_the_whole_message_gets_it_once_more_at_most_under_the_same_name() {
    for conduct in [Conduct::HangsUpAfterData, Conduct::SilentAfterData] {
        let server = MailServer::open(conduct).await;
        let (shop, job) = with_one_ready(&server).await;
        writes(&shop, &job).await;
        outbox::send_due(&shop.app, IMPATIENT).await.unwrap();
        let (stands, _, why) = state(&shop).await;
        assert_eq!(stands, "waiting", "{conduct:?}: {why}");
        assert!(why.contains("it may have arrived"), "{why}");
        for minutes in [30, 90, 5000] {
            shop.clock.set(Instant(MORNING.0 + minutes * MINUTE));
            outbox::send_due(&shop.app, IMPATIENT).await.unwrap();
        }
        let letters = server.letters();
        assert_eq!((letters.len(), state(&shop).await.0.as_str()), (2, "given-up"), "{conduct:?}");
        assert_eq!(message_id(&letters[0]), message_id(&letters[1]));
        assert_eq!(letters[0], letters[1], "the same bytes");
    }
}

#[tokio::test]
async fn a_program_that_ends_between_sending_and_marking_sends_at_most_once_more_under_the_same_name() {
    let server = MailServer::open(Conduct::SilentAfterData).await;
    let (shop, job) = with_one_ready(&server).await;
    writes(&shop, &job).await;
    let app = shop.app.clone();
    let sending = tokio::spawn(async move { outbox::send_due(&app, PATIENT).await });
    server.has_arrived(1).await;
    sending.abort();
    assert!(sending.await.is_err_and(|gone| gone.is_cancelled()));
    assert_eq!(state(&shop).await.0, "sending");
    server.becomes(Conduct::Accepts);
    let shop = shop.again().await;
    outbox::begin(&shop.app).await.unwrap();
    for _ in 0..2 {
        outbox::send_due(&shop.app, PATIENT).await.unwrap();
    }
    let letters = server.letters();
    assert_eq!((letters.len(), state(&shop).await.0.as_str()), (2, "sent"));
    assert_eq!(message_id(&letters[0]), message_id(&letters[1]));
    assert_eq!(letters[0], letters[1]);
}

#[tokio::test]
async fn a_server_that_never_answers_holds_nothing_up_and_is_tried_again() {
    let server = MailServer::open(Conduct::Hangs).await;
    let (shop, job) = with_one_ready(&server).await;
    writes(&shop, &job).await;
    outbox::send_due(&shop.app, IMPATIENT).await.unwrap();
    let (stands, attempts, why) = state(&shop).await;
    assert_eq!((stands.as_str(), attempts), ("waiting", 1));
    assert!(why.contains("does not answer"), "{why}");
    server.becomes(Conduct::Accepts);
    shop.clock.set(Instant(MORNING.0 + 30 * MINUTE));
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(server.letters().len(), 1);
}

#[tokio::test]
async fn where_tls_is_wanted_and_not_offered_nothing_is_said_and_the_owner_is_told() {
    let server = MailServer::open(Conduct::Accepts).await;
    let (shop, job) = with_one_ready(&server).await;
    let login = [("security", "starttls"), ("user_name", "millrace"), ("password", "by the weir")];
    assert_eq!(reaches(&shop, &server, &login).await.status, StatusCode::SEE_OTHER);
    writes(&shop, &job).await;
    for _ in 0..2 {
        outbox::send_due(&shop.app, PATIENT).await.unwrap();
    }
    let said = server.lines();
    assert!(said.iter().all(|line| line.starts_with("EHLO") || line == "QUIT"), "{said:?}");
    assert_eq!(said.iter().filter(|line| line.starts_with("EHLO")).count(), 1, "it is not tried again by itself");
    assert_eq!((state(&shop).await.0.as_str(), state(&shop).await.1), ("waiting", 0), "and the attempt does not count");
    let owner = shop.owner().await;
    for page in ["/office/telling", "/desk/messages"] {
        let shown = owner.opens(page).await;
        assert!(shown.visible_text().contains("offers no encryption, so nothing was sent"), "{}", shown.visible_text());
    }
    // without TLS only where the owner says that others may read the password
    let plain = [("security", "none"), ("user_name", "millrace"), ("password", "by the weir")];
    let asked = reaches(&shop, &server, &plain).await;
    assert!(asked.has("#error-readable_mail"), "{}", asked.visible_text());
    server.becomes(Conduct::WantsPassword);
    let said = [("security", "none"), ("user_name", "millrace"), ("password", "by the weir"), ("readable", "yes")];
    assert_eq!(reaches(&shop, &server, &said).await.status, StatusCode::SEE_OTHER);
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(server.letters().len(), 1, "{:?}", state(&shop).await);
}

#[tokio::test]
async fn a_certificate_must_be_the_servers_own_and_one_of_an_authority_of_ones_own_can_be_given() {
    let server = MailServer::open_with_tls(Conduct::Accepts).await;
    let (shop, job) = with_one_ready(&server).await;
    let tls = [("security", "tls"), ("host", "localhost")];
    assert_eq!(reaches(&shop, &server, &tls).await.status, StatusCode::SEE_OTHER);
    writes(&shop, &job).await;
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert!(server.lines().is_empty(), "not a word");
    assert!(state(&shop).await.2.contains("cannot be trusted"), "{:?}", state(&shop).await);
    let own = [("security", "tls"), ("host", "localhost"), ("authority", server.certificate.as_str())];
    assert_eq!(reaches(&shop, &server, &own).await.status, StatusCode::SEE_OTHER);
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(server.letters().len(), 1, "{:?}", state(&shop).await);
}

#[tokio::test]
async fn a_wrong_password_stops_the_outbox_until_somebody_has_looked() {
    let server = MailServer::open(Conduct::WantsPassword).await;
    let (shop, job) = with_one_ready(&server).await;
    let wrong = [("user_name", "millrace"), ("password", "guess"), ("readable", "yes")];
    assert_eq!(reaches(&shop, &server, &wrong).await.status, StatusCode::SEE_OTHER);
    writes(&shop, &job).await;
    for _ in 0..3 {
        outbox::send_due(&shop.app, PATIENT).await.unwrap();
    }
    let tries = server.lines().iter().filter(|line| line.starts_with("AUTH")).count();
    assert_eq!(tries, 1, "{:?}", server.lines());
    let page = shop.owner().await.opens("/office/telling").await;
    assert!(page.visible_text().contains("takes neither name nor password") && !page.text.contains("guess"));
    let right = [("user_name", "millrace"), ("password", "by the weir"), ("readable", "yes")];
    assert_eq!(reaches(&shop, &server, &right).await.status, StatusCode::SEE_OTHER);
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(server.letters().len(), 1);
    // saved again without a password it stays as it is, and stands in no event
    assert_eq!(
        reaches(&shop, &server, &[("user_name", "millrace"), ("readable", "yes")]).await.status,
        StatusCode::SEE_OTHER
    );
    let kept: String =
        sqlx::query_scalar("SELECT password FROM mail_settings").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(kept, "by the weir");
    let events: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE after_json LIKE '%by the weir%'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(events, 0);
}

#[tokio::test]
async fn by_itself_the_house_writes_once_to_whoever_likes_mail_and_to_nobody_else() {
    let server = MailServer::open(Conduct::Accepts).await;
    let (shop, _) = with_one_ready(&server).await;
    assert_eq!(reaches(&shop, &server, &[("by_itself", "yes")]).await.status, StatusCode::SEE_OTHER);
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert!(server.letters().is_empty(), "she likes to be called");
    changes(&shop, "UPDATE customer SET reach_by = 'email', version = version + 1").await;
    for _ in 0..3 {
        outbox::send_due(&shop.app, PATIENT).await.unwrap();
    }
    assert_eq!(server.letters().len(), 1);
    // off is off
    assert_eq!(reaches(&shop, &server, &[("is_on", "no")]).await.status, StatusCode::SEE_OTHER);
    changes(
        &shop,
        "UPDATE job SET stage = 'final-check'; UPDATE job SET stage = 'ready', stage_since = stage_since + 1",
    )
    .await;
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    assert_eq!(server.letters().len(), 1);
}

#[tokio::test]
async fn the_owner_sends_a_message_to_themselves_and_a_receipt_goes_out_once() {
    let server = MailServer::open(Conduct::Accepts).await;
    let (shop, job) = with_one_ready(&server).await;
    let owner = shop.owner().await;
    let test = owner.opens("/office/telling").await;
    let bad = form(&test, "/office/telling/test").with("to", "nobody").sent_by(&owner).await;
    assert!(bad.has("#error-to_test"), "{}", bad.visible_text());
    let good = form(&test, "/office/telling/test").with("to", "ottilie@millrace.example");
    for _ in 0..2 {
        assert_eq!(good.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    }
    let pay = [("form_key", "m"), ("kind", "deposit"), ("method", "cash"), ("amount", "20")];
    assert_eq!(owner.sends(&format!("{job}/payment"), &pay).await.status, StatusCode::SEE_OTHER);
    let receipt = format!("{job}/receipt/message");
    assert!(owner.opens(&format!("{job}/receipt")).await.has(&format!("form[action='{receipt}']")));
    for _ in 0..2 {
        assert_eq!(owner.sends(&receipt, &[]).await.status, StatusCode::SEE_OTHER);
    }
    outbox::send_due(&shop.app, PATIENT).await.unwrap();
    let letters = server.letters();
    assert_eq!(letters.len(), 2, "pressed twice each went once");
    let read = |place: usize| {
        let read = MessageParser::default().parse(&letters[place].raw).unwrap();
        (read.subject().unwrap().to_owned(), read.body_text(0).unwrap().into_owned())
    };
    assert_eq!(read(0).0, "A test message from Millrace Strings");
    let (subject, text) = read(1);
    assert!(subject == "Your receipt, 26-0001" && text.contains("Paid in all: £20.00"), "{subject}: {text}");
    // whoever is forgotten takes their messages along
    changes(&shop, "UPDATE job SET stage = 'collected'").await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let version: i64 = sqlx::query_scalar("SELECT version FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let forget = [("version", version.to_string()), ("sure", "yes".to_owned())];
    let forget: Vec<(&str, &str)> = forget.iter().map(|(name, value)| (*name, value.as_str())).collect();
    assert_eq!(owner.sends(&format!("/desk/customers/{id}/anonymise"), &forget).await.status, StatusCode::SEE_OTHER);
    let left: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM message WHERE job_id IS NOT NULL AND (to_address <> '' OR length(raw) > 0 OR subject <> '')",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(left, 0);
}
