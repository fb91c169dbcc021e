//! Who brings which instrument: nothing is filed under the wrong one, and nothing is written down twice.

use axum::http::StatusCode;
use uuid::Uuid;

use crate::support::{Person, Shop, check_in_form};

async fn ids(shop: &Shop, table: &str) -> Vec<String> {
    let sql = format!("SELECT id FROM {table} ORDER BY created_at, id");
    let ids: Vec<Uuid> = sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_all(shop.app.db.read()).await.unwrap();
    ids.iter().map(ToString::to_string).collect()
}

async fn goes_home(desk: &Person<'_>, job: &str) {
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "Changed her mind.")];
    assert_eq!(desk.sends(&format!("{job}/stage"), &home).await.status, StatusCode::SEE_OTHER);
}

/// The usual form without its answers to the questions, with some fields anew.
fn form<'a>(key: &'a str, anew: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let answers = ["is_new", "another_serial"];
    let kept = check_in_form(key)
        .into_iter()
        .filter(|(field, _)| !answers.contains(field) && anew.iter().all(|(other, _)| other != field));
    anew.iter().copied().chain(kept).collect()
}

#[tokio::test]
async fn enter_on_the_question_who_it_is_files_nothing_under_anybody() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let asked = desk.sends("/desk/check-in", &form("second", &[("serial", "TW-9")])).await;
    // HTML, implicit submission: Enter presses the first submit button of the form
    let buttons = scraper::Selector::parse("form[method=post][action='/desk/check-in'] button[type=submit]").unwrap();
    let page = asked.page();
    let first = page.select(&buttons).next().unwrap().value();
    assert_eq!(
        (first.attr("name"), first.attr("tabindex"), first.attr("aria-hidden")),
        (None, Some("-1"), Some("true"))
    );
    drop(page);
    let sent = asked.form("/desk/check-in");
    let again = desk.sends_form("/desk/check-in", &sent, &[]).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(again.has("#field-same"), "the question again");
    assert_eq!(shop.count("job").await, 1);
}

#[tokio::test]
async fn whoever_turns_out_to_be_known_is_asked_which_of_their_instruments_it_is() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("first").await;
    goes_home(&desk, &job).await;
    let (maren, guitar) = (ids(&shop, "customer").await.remove(0), ids(&shop, "instrument").await.remove(0));
    // “It is Maren” is pressed: the form holds her key, and no instrument was offered yet
    let asked = desk.sends("/desk/check-in", &form("second", &[("customer", &maren)])).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(asked.has(&format!("input[name=instrument][value='{guitar}']")), "{}", asked.visible_text());
    assert!(!asked.has("input[name=instrument][checked]"), "nobody chooses for her");
    assert_eq!(asked.value("complaint"), "It buzzes when I dig in,\nmostly low down.", "nothing typed is lost");
    assert_eq!((shop.count("instrument").await, shop.count("job").await), (1, 1));
    let sent = asked.form("/desk/check-in");
    let known = desk.sends_form("/desk/check-in", &sent, &[("instrument", &guitar)]).await;
    assert_eq!(known.status, StatusCode::SEE_OTHER, "{}", known.text);
    assert_eq!((shop.count("instrument").await, shop.count("job").await), (1, 2));
    // and another one is another one
    let other = [("customer", maren.as_str()), ("instrument", ""), ("serial", "TW-9")];
    assert_eq!(desk.sends("/desk/check-in", &form("third", &other)).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("instrument").await, 2);
}

#[tokio::test]
async fn a_serial_that_somebody_else_brought_is_offered_before_a_second_record_is_made() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("first").await;
    let guitar = ids(&shop, "instrument").await.remove(0);
    let jory = [("name", "Jory Pennock"), ("telephone", ""), ("email", ""), ("serial", "tw 4471")];
    let asked = desk.sends("/desk/check-in", &form("second", &jory)).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        asked.visible_text().contains("of Maren Oakhollow , in the house already, as 26-0001"),
        "{}",
        asked.visible_text()
    );
    assert!(!asked.has("button[name=instrument]"), "what is here cannot come in");
    goes_home(&desk, &job).await;
    // put away since, because she said that it was sold
    assert_eq!(
        desk.sends(&format!("/desk/instruments/{guitar}/archive"), &[("version", "1")]).await.status.as_u16(),
        303
    );
    let asked = desk.sends("/desk/check-in", &form("second", &jory)).await;
    assert!(asked.has(&format!("button[name=instrument][value='{guitar}']")), "{}", asked.visible_text());
    let sent = asked.form("/desk/check-in");
    // the button stands before the fields of the instrument, so its value comes first
    let mut pressed = vec![("instrument".to_owned(), guitar.clone())];
    pressed.extend(sent.to_vec());
    let done = desk.sends_form("/desk/check-in", &pressed, &[]).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    assert_eq!((shop.count("instrument").await, shop.count("change_of_hands").await), (1, 1));
    assert!(
        !desk.opens(&format!("/desk/instruments/{guitar}")).await.visible_text().contains("archived"),
        "it is out again"
    );
    // a maker who counts from one for each model: it is another
    let other = [("name", "Sorrel Weir"), ("telephone", ""), ("email", ""), ("another_serial", "yes")];
    assert_eq!(desk.sends("/desk/check-in", &form("third", &other)).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("instrument").await, 2);
}

#[tokio::test]
async fn a_page_opened_before_two_records_became_one_checks_in_for_the_one_that_stands() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let first = desk.checks_in("first").await;
    desk.checks_in("second").await;
    goes_home(&desk, &first).await;
    let customers = ids(&shop, "customer").await;
    let [kept, lost] = customers.as_slice() else { panic!("{customers:?}") };
    let merge = [("from", lost.as_str()), ("from_version", "1"), ("version", "1")];
    assert_eq!(desk.sends(&format!("/desk/customers/{kept}/merge"), &merge).await.status, StatusCode::SEE_OTHER);
    let late = [("customer", lost.as_str()), ("instrument", ""), ("serial", "TW-9")];
    assert_eq!(desk.sends("/desk/check-in", &form("late", &late)).await.status, StatusCode::SEE_OTHER);
    // an instrument that was handed on to the other record goes to the one that stands, too
    let jory = [("name", "Jory Pennock"), ("telephone", ""), ("email", ""), ("serial", "JP-1")];
    desk.sends("/desk/check-in", &form("jory", &jory)).await;
    let his: Uuid = sqlx::query_scalar("SELECT id FROM instrument WHERE serial = 'JP-1'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let hands = [("version", "1"), ("to", lost.as_str()), ("on_day", "2026-10-01")];
    let handed = desk.sends(&format!("/desk/instruments/{his}/owner"), &hands).await;
    assert_eq!(handed.status, StatusCode::SEE_OTHER, "{}", handed.text);
    let lost: Uuid = lost.parse().unwrap();
    for table in ["job", "instrument"] {
        let sql = format!("SELECT count(*) FROM {table} WHERE customer_id = ?");
        let stray: i64 =
            sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).bind(lost).fetch_one(shop.app.db.read()).await.unwrap();
        assert_eq!(stray, 0, "{table}");
    }
}
