//! The customer's door.

use axum::http::StatusCode;
use thumbplane::web::Serving;

use crate::support::form::{Form, form};
use crate::support::{HOST, MORNING, Shop};

const DAY: i64 = 86_400_000_000;

/// A shop whose customers can reach it: only then a ticket bears a link.
async fn shop_with_an_address() -> Shop {
    Shop::open_as(Serving { public_origin: Some(format!("http://{HOST}")), ..Serving::default() }).await
}

/// The private link as the ticket prints it.
async fn link(shop: &Shop, job: &str) -> String {
    let ticket = shop.desk().await.opens(&format!("{job}/ticket")).await;
    let link = ticket.visible_text().split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();
    link[link.find("/s/").unwrap()..].to_owned()
}

#[tokio::test]
async fn the_link_on_the_ticket_shows_the_job_and_nobodys_address() {
    let shop = shop_with_an_address().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    let link = ticket.visible_text().split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();
    let path = &link[link.find("/s/").unwrap()..];
    assert_eq!(path.len(), "/s/".len() + 22, "128 bits in base64url");

    let page = shop.stranger().opens(path).await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.visible_text().contains("26-0001") && page.visible_text().contains("Thistlewade OM-2"));
    for private in ["Oakhollow", "01632 960101", "maren@"] {
        assert!(!page.text.contains(private), "{private}");
    }
    // no other house learns of the link; without any referrer browsers hide where the answer comes from, too
    assert_eq!(page.headers["referrer-policy"], "same-origin");
    assert_eq!(page.headers["x-robots-tag"], "noindex, nofollow");
    assert_eq!(page.headers["cache-control"], "no-store");
    let guessed = shop.stranger().opens("/s/AAAAAAAAAAAAAAAAAAAAAA").await;
    assert_eq!(guessed.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn opening_the_link_changes_nothing() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let id = job.rsplit('/').next().unwrap().parse().unwrap();
    let before = shop.count("event").await;
    let token = shop.app.db.link_secret().token(id, 0);
    let page = shop.stranger().opens(&format!("/s/{token}")).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(shop.count("event").await, before);
}

#[tokio::test]
async fn the_link_ends_some_days_after_the_instrument_went_home_and_says_whom_to_call() {
    let shop = shop_with_an_address().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let path = link(&shop, &job).await;
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "Changed her mind.")];
    desk.sends(&format!("{job}/stage"), &home).await;
    let ninety_days_less_a_moment = thumbplane::quantity::Instant(MORNING.0 + 90 * DAY - 1);
    shop.clock.set(ninety_days_less_a_moment);
    assert_eq!(shop.stranger().opens(&path).await.status, StatusCode::OK);
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 90 * DAY));
    let ended = shop.stranger().opens(&path).await;
    assert_eq!(ended.status, StatusCode::NOT_FOUND);
    assert!(
        ended.visible_text().contains("This link has ended") && ended.visible_text().contains("call us"),
        "{}",
        ended.visible_text()
    );
    let telephone: String =
        sqlx::query_scalar("SELECT telephone FROM settings").fetch_one(shop.app.db.read()).await.unwrap();
    assert!(ended.visible_text().contains(&telephone) && !ended.text.contains("26-0001"));
    assert_eq!(ended.headers["x-robots-tag"], "noindex, nofollow");
    // a guessed one is told the same
    let guessed = shop.stranger().opens("/s/AAAAAAAAAAAAAAAAAAAAAA").await;
    assert_eq!((guessed.status, guessed.all("main")), (ended.status, ended.all("main")));
    // the shop's own scanner still finds the job, and a new link holds again
    let desk = shop.desk().await;
    let scanned: String = form_urlencoded::byte_serialize(format!("http://x{path}").as_bytes()).collect();
    assert_eq!(desk.opens(&format!("/desk/search?q={scanned}")).await.location.as_deref(), Some(job.as_str()));
    let version = desk.opens(&job).await.value("version");
    assert_eq!(desk.sends(&format!("{job}/link"), &[("version", &version)]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.stranger().opens(&link(&shop, &job).await).await.status, StatusCode::OK);
    // the owner decides how long
    let settings = shop.owner().await;
    let page = settings.opens("/office/settings").await;
    assert_eq!(page.value("link_days"), "90");
    let form = page.form("/office/settings");
    let none = settings.sends_form("/office/settings", &form, &[("link_days", "0")]).await;
    assert!(none.has("#error-link_days"));
    let one = settings.sends_form("/office/settings", &form, &[("link_days", "1")]).await;
    assert_eq!(one.status, StatusCode::SEE_OTHER, "{}", one.text);
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 91 * DAY));
    assert_eq!(shop.stranger().opens(&link(&shop, &job).await).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_new_link_makes_the_old_one_lead_nowhere() {
    let shop = shop_with_an_address().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let old = link(&shop, &job).await;
    assert!(desk.opens(&job).await.has(&format!("form[action='{job}/link']")));
    let made = desk.sends(&format!("{job}/link"), &[("version", "1")]).await;
    assert_eq!(made.location, Some(format!("{job}/ticket")), "{}", made.text);
    let new = link(&shop, &job).await;
    assert_ne!(old, new);
    assert_eq!(shop.stranger().opens(&old).await.status, StatusCode::NOT_FOUND);
    assert_eq!(shop.stranger().opens(&new).await.status, StatusCode::OK);
    let stale = desk.sends(&format!("{job}/link"), &[("version", "1")]).await;
    assert_eq!(stale.status, StatusCode::CONFLICT, "a second press does not revoke what the first one made");
    assert_eq!(shop.stranger().opens(&new).await.status, StatusCode::OK);
}

#[tokio::test]
async fn only_guessing_a_link_is_slowed_down_and_a_trusted_proxy_tells_guessers_apart() {
    use axum::body::Body;
    use axum::extract::ConnectInfo;
    use axum::http::{Request, header};
    use std::net::SocketAddr;

    let serving = Serving {
        public_origin: Some(format!("http://{HOST}")),
        trusted_proxies: vec!["192.0.2.1".parse().unwrap()],
        ..Serving::default()
    };
    let shop = Shop::open_as(serving).await;
    let job = shop.desk().await.checks_in("k").await;
    let path = link(&shop, &job).await;
    let opens = async |path: &str, forwarded: &'static str| {
        let request = Request::get(path)
            .header(header::HOST, crate::support::HOST)
            .header("x-forwarded-for", forwarded)
            .extension(ConnectInfo(SocketAddr::from(([192, 0, 2, 1], 40000))))
            .body(Body::empty())
            .unwrap();
        shop.answer(request).await.status
    };
    for _ in 0..100 {
        assert_eq!(opens(&path, "203.0.113.7").await, StatusCode::OK, "looking is no guessing");
    }
    let guesses = async |from| {
        let mut last = StatusCode::OK;
        for _ in 0..61 {
            last = opens("/s/AAAAAAAAAAAAAAAAAAAAAA", from).await;
        }
        last
    };
    assert_eq!(guesses("198.51.100.1, 203.0.113.8").await, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(opens("/s/AAAAAAAAAAAAAAAAAAAAAA", "203.0.113.7").await, StatusCode::NOT_FOUND, "somebody else");
    assert_eq!(opens("/s/AAAAAAAAAAAAAAAAAAAAAA", "203.0.113.99, 203.0.113.8").await, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(opens(&path, "203.0.113.8").await, StatusCode::OK, "whoever holds the link gets in all the same");
}

/// A quote of three lines on a measured job: the job's page, the private page, and the quote's.
pub(crate) async fn quoted(shop: &Shop) -> (String, String, String) {
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    sql(shop, "UPDATE job SET stage = 'measured'").await;
    for (key, words, price) in
        [("a", "Lower the saddle", "45"), ("b", "Dress the frets", "120"), ("c", "Clean it", "15")]
    {
        let line = [("form_key", key), ("service", ""), ("words", words), ("price", price)];
        assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
    }
    let made = desk.sends(&format!("{job}/quote"), &[("form_key", "q1")]).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.visible_text());
    let page = link(shop, &job).await;
    (job, page, made.location.unwrap())
}

async fn sql(shop: &Shop, sql: &'static str) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::raw_sql(sqlx::AssertSqlSafe(sql)).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

fn answer_form(page: &crate::support::Answer, path: &str) -> Form {
    form(page, &format!("{path}/answer")).with("name", "Maren Oakhollow")
}

async fn count(shop: &Shop, sql: &'static str) -> i64 {
    sqlx::query_scalar(sql).fetch_one(shop.app.db.read()).await.unwrap()
}

#[tokio::test]
async fn the_customer_agrees_on_the_page_to_some_lines_sees_the_total_and_it_is_kept_as_shown() {
    let shop = shop_with_an_address().await;
    let (job, path, _) = quoted(&shop).await;
    let stranger = shop.stranger();
    let page = stranger.opens(&path).await;
    assert!(page.has(&format!("a[href='{path}'][href^='/s/']")), "the shop's name leads nowhere but here");
    assert!(!page.has("a[href='/']") && page.has("a[href^='tel:+44']"), "{}", page.visible_text());
    assert_eq!(page.all("input[name=line]").len(), 3);
    // 180 and 20 % of tax
    assert!(page.all("output")[0].contains("£216.00"), "{:?}", page.all("output"));
    let lines: Vec<String> =
        answer_form(&page, &path).iter().filter(|(name, _)| name == "line").map(|(_, id)| id.clone()).collect();
    // what is ticked is added up by the shop, and adding up answers nothing
    let asked = stranger.opens(&format!("{path}/total?line={}&line={}", lines[0], lines[2])).await;
    assert_eq!(asked.text, "7200 £72.00");
    assert_eq!(count(&shop, "SELECT count(*) FROM quote WHERE answer IS NOT NULL").await, 0);
    let mut some: Vec<(String, String)> = answer_form(&page, &path).to_vec();
    some.retain(|(name, value)| name != "line" || *value != lines[1]);
    some.push(("deed".to_owned(), "agree".to_owned()));
    let first = stranger.sends_form(&format!("{path}/answer"), &some, &[]).await;
    assert_eq!(first.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(first.all("#error-deed")[0].contains("comes to £72.00 with tax"), "{:?}", first.all("#error-deed"));
    assert_eq!(first.value("name"), "Maren Oakhollow");
    assert_eq!(
        count(&shop, "SELECT count(*) FROM quote WHERE answer IS NOT NULL").await,
        0,
        "nothing before it was shown"
    );
    let again = answer_form(&first, &path).with("deed", "agree");
    for _ in 0..2 {
        let said = again.sent_by(&stranger).await;
        assert_eq!(said.location.as_deref(), Some(path.as_str()), "pressed twice: {}", said.visible_text());
    }
    let (said, how, by, total): (String, String, String, i64) =
        sqlx::query_as("SELECT said, how, answered_by, shown_total FROM quote_answer")
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
    assert_eq!((said.as_str(), how.as_str(), by.as_str(), total), ("agreed", "link", "Maren Oakhollow", 7200));
    let page = stranger.opens(&path).await;
    assert!(page.all("#quote")[0].contains("2 of 3 agreed") && page.all("#quote s")[0].contains("Dress the frets"));
    assert!(
        page.all("#quote")[0].contains("£72.00") && page.all("#money")[0].contains("£72.00"),
        "{}",
        page.visible_text()
    );
    assert!(!page.has("form[action$='/answer']"));
    let history = shop.desk().await.opens(&job).await.visible_text();
    assert!(history.contains("quote answered (customer)"), "{history}");
    // somebody else with the ticket says otherwise: the answer stands, and they are told
    let second = again.with("deed", "decline").sent_by(&stranger).await;
    assert_eq!(second.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(second.visible_text().contains("answered already, on Wed 14 Oct 2026"), "{}", second.visible_text());
    assert_eq!(shop.count("quote_answer").await, 1);
}

#[tokio::test]
async fn a_no_a_question_and_a_form_without_a_name_each_do_the_right_thing() {
    let shop = shop_with_an_address().await;
    let (_, path, _) = quoted(&shop).await;
    let stranger = shop.stranger();
    let page = stranger.opens(&path).await;
    let nameless = answer_form(&page, &path).with("name", " ").with("deed", "agree").sent_by(&stranger).await;
    assert!(nameless.has("#error-name"), "{}", nameless.visible_text());
    let nothing = answer_form(&page, &path).without("line").with("deed", "agree").sent_by(&stranger).await;
    assert!(nothing.all("#error-deed")[0].contains("Tick what you agree to"));
    let silent = answer_form(&page, &path).with("deed", "ask").sent_by(&stranger).await;
    assert!(silent.has("#error-words"));
    let asked = answer_form(&page, &path).with("words", "Must the frets be dressed?").with("deed", "ask");
    for _ in 0..2 {
        assert_eq!(asked.sent_by(&stranger).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(count(&shop, "SELECT count(*) FROM quote_answer WHERE said = 'asked'").await, 1);
    let list = shop.desk().await.opens("/desk/to-tell").await;
    assert!(list.visible_text().contains("asked: Must the frets be dressed?"), "{}", list.visible_text());
    assert_eq!(
        count(&shop, "SELECT count(*) FROM quote WHERE answer IS NOT NULL").await,
        0,
        "a question answers nothing"
    );
    let no = answer_form(&page, &path).with("deed", "decline");
    assert_eq!(no.sent_by(&stranger).await.status, StatusCode::SEE_OTHER);
    assert!(stranger.opens(&path).await.all("#quote")[0].contains("declined"));
    assert_eq!(count(&shop, "SELECT count(*) FROM quote WHERE answer = 'declined'").await, 1);
}

#[tokio::test]
async fn a_stale_revision_and_a_quote_past_its_day_are_answered_by_nobody() {
    let shop = shop_with_an_address().await;
    let (job, path, _) = quoted(&shop).await;
    let stranger = shop.stranger();
    let page = stranger.opens(&path).await;
    let old = answer_form(&page, &path).with("deed", "agree");
    let desk = shop.desk().await;
    let line = [("form_key", "d"), ("service", ""), ("words", "A new nut"), ("price", "60")];
    desk.sends(&format!("{job}/work"), &line).await;
    assert_eq!(desk.sends(&format!("{job}/quote"), &[("form_key", "q2")]).await.status, StatusCode::SEE_OTHER);
    let stale = old.sent_by(&stranger).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert!(stale.visible_text().contains("a new quote while you were reading"), "{}", stale.visible_text());
    assert!(stale.all("#quote")[0].contains("A new nut") && stale.value("name") == "Maren Oakhollow");
    assert_eq!(count(&shop, "SELECT count(*) FROM quote WHERE answer IN ('agreed', 'declined')").await, 0);
    // the quote holds through its last day in the shop's zone: 23:59 in London is 22:59 UTC in summer time
    let last: String = sqlx::query_scalar("SELECT valid_until FROM quote WHERE answer IS NULL")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let days = (thumbplane::quantity::parse_day(&last).unwrap() - time::macros::date!(2026 - 10 - 14)).whole_days();
    let fresh = answer_form(&stale, &path).with("deed", "agree");
    // midnight in London at the end of that day; the clocks went back on 25 October
    let midnight = MORNING.0 - 10 * 3_600_000_000 + (days + 1) * DAY;
    shop.clock.set(thumbplane::quantity::Instant(midnight));
    let late = fresh.sent_by(&stranger).await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", late.visible_text());
    let page = stranger.opens(&path).await;
    assert!(
        page.all("#quote")[0].contains("that day is past") && !page.has("form[action$='/answer']"),
        "{}",
        page.visible_text()
    );
    shop.clock.set(thumbplane::quantity::Instant(midnight - 1));
    assert_eq!(fresh.sent_by(&stranger).await.status, StatusCode::SEE_OTHER);
}

// RFC 5545, read by icalendar, which is not ours
#[tokio::test]
async fn the_next_care_goes_into_any_calendar() {
    use icalendar::{Calendar, CalendarComponent, Component};
    let shop = shop_with_an_address().await;
    let job = shop.desk().await.checks_in("k").await;
    let path = link(&shop, &job).await;
    sql(
        &shop,
        "UPDATE job SET stage = 'ready';
         UPDATE instrument SET maker = 'Thistlewade; Söhne, Werkstatt für besonders lange Namen am Wehr', model = 'OM\\2';
         INSERT INTO care_plan (id, instrument_id, kind, every_months, last_done_on, next_due_on)
         SELECT randomblob(16), id, 'oil-tuners', 12, '2026-10-14', '2027-10-14' FROM instrument;
         INSERT INTO care_plan (id, instrument_id, kind, every_months, last_done_on, next_due_on)
         SELECT randomblob(16), id, 'rehydrate', 12, '2026-10-14', '2027-10-01' FROM instrument",
    )
    .await;
    let stranger = shop.stranger();
    let page = stranger.opens(&path).await;
    assert!(page.has(&format!("a[href='{path}/care.ics']")) && page.all("#care")[0].contains("Thu 14 Oct 2027"));
    let file = stranger.opens(&format!("{path}/care.ics")).await;
    assert_eq!(file.headers["content-type"], "text/calendar; charset=utf-8");
    assert!(file.text.split("\r\n").all(|line| line.len() <= 75) && !file.text.replace("\r\n", "").contains('\n'));
    let read: Calendar = file.text.parse().unwrap();
    let events: Vec<_> = read.components.iter().filter_map(CalendarComponent::as_event).collect();
    assert_eq!(events.len(), 2);
    let mut uids: Vec<&str> = events.iter().map(|event| event.get_uid().unwrap()).collect();
    uids.dedup();
    assert_eq!(uids.len(), 2);
    let oil = events.iter().find(|event| event.get_summary().unwrap().contains("oil")).unwrap();
    let summary = oil.get_summary().unwrap().replace("\\;", ";").replace("\\,", ",").replace("\\\\", "\\");
    assert!(
        summary.starts_with("Thistlewade; Söhne, Werkstatt für besonders lange Namen am Wehr OM\\2: "),
        "{summary}"
    );
    assert_eq!(oil.property_value("DTSTART"), Some("20271014"));
    assert_eq!(oil.property_value("DTSTAMP"), Some("20261014T100000Z"));
    assert_eq!(stranger.opens("/s/AAAAAAAAAAAAAAAAAAAAAA/care.ics").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_moved_promise_says_what_it_means_and_the_page_how_sure_the_day_is() {
    let shop = shop_with_an_address().await;
    let job = shop.desk().await.checks_in("k").await;
    let path = link(&shop, &job).await;
    let page = shop.stranger().opens(&path).await;
    assert!(page.visible_text().contains("at least 90 of 100 are kept") && !page.visible_text().contains("Until then"));
    let owner = shop.owner().await;
    let days = owner.opens("/office/telling").await.form("/office/telling");
    let hours = [("opening_hours", "Tue to Fri 10–18\nSat 10–14")];
    assert_eq!(owner.sends_form("/office/telling", &days, &hours).await.status, StatusCode::SEE_OTHER);
    let version = owner.opens(&job).await.value("version");
    let day = [("form_key", "d"), ("version", version.as_str()), ("day", "2026-11-05")];
    owner.sends(&format!("{}/promise", job.replace("/desk/jobs/", "/office/queue/")), &day).await;
    let moved = shop.stranger().opens(&path).await.visible_text();
    assert!(
        moved.contains("Promised for Thu 5 Nov 2026")
            && moved.contains("Until then it was promised for Wed 28 Oct 2026"),
        "{moved}"
    );
    assert!(moved.contains("Tue to Fri 10–18"), "{moved}");
}
