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
    assert!(!asked.has("button[name=it_is]"), "what is here cannot come in");
    goes_home(&desk, &job).await;
    // put away since, because she said that it was sold
    assert_eq!(
        desk.sends(&format!("/desk/instruments/{guitar}/archive"), &[("version", "1")]).await.status.as_u16(),
        303
    );
    let asked = desk.sends("/desk/check-in", &form("second", &jory)).await;
    assert!(asked.has(&format!("button[name=it_is][value='{guitar}']")), "{}", asked.visible_text());
    let sent = asked.form("/desk/check-in");
    let done = desk.sends_form("/desk/check-in", &sent, &[("it_is", &guitar)]).await;
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

#[tokio::test]
async fn what_is_chosen_and_what_is_typed_disagree_and_nobody_guesses() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("first").await;
    goes_home(&desk, &job).await;
    let (maren, guitar) = (ids(&shop, "customer").await.remove(0), ids(&shop, "instrument").await.remove(0));
    let both = [("customer", maren.as_str()), ("instrument", &guitar), ("maker", "Quillfeather"), ("serial", "Q-7")];
    let asked = desk.sends("/desk/check-in", &form("second", &both)).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    let words = asked.all("#field-which").join(" ");
    assert!(words.contains("Thistlewade OM-2") && words.contains("Quillfeather OM-2"), "both are named: {words}");
    assert_eq!((shop.count("instrument").await, shop.count("job").await), (1, 1));
    // either answer is one press, and nothing typed is lost on the way
    let sent = asked.form("/desk/check-in");
    let known = desk.sends_form("/desk/check-in", &sent, &[("it_is", &guitar)]).await;
    assert_eq!(known.status, StatusCode::SEE_OTHER, "{}", known.text);
    assert_eq!((shop.count("instrument").await, shop.count("job").await), (1, 2));
    let asked = desk.sends("/desk/check-in", &form("third", &both)).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY, "also of one that is in the house");
    let sent = asked.form("/desk/check-in");
    let new = desk.sends_form("/desk/check-in", &sent, &[("it_is", "new")]).await;
    assert_eq!(new.status, StatusCode::SEE_OTHER, "{}", new.text);
    let maker: String = sqlx::query_scalar("SELECT maker FROM instrument WHERE serial = 'Q-7'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!((maker.as_str(), shop.count("job").await), ("Quillfeather", 3));
}

#[tokio::test]
async fn another_of_theirs_is_not_asked_for_where_all_we_know_stands_in_the_house() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let maren = ids(&shop, "customer").await.remove(0);
    let page = desk.opens(&format!("/desk/check-in?customer={maren}&visit=whole")).await;
    assert!(page.has("input[name=instrument][value=''][checked]"));
    let sent = page.form("/desk/check-in");
    let typed = [("family", "ukulele"), ("maker", "Quillfeather"), ("complaint", "A string broke.")];
    let done = desk.sends_form("/desk/check-in", &sent, &typed).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
}

#[tokio::test]
async fn one_line_above_the_button_says_who_brings_what_and_why() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("first").await;
    goes_home(&desk, &job).await;
    let maren = ids(&shop, "customer").await.remove(0);
    let page = desk.opens(&format!("/desk/check-in?customer={maren}")).await;
    let line = page.all(".what-happens").join(" ");
    assert!(line.contains("Maren Oakhollow") && line.contains("Thistlewade OM-2"), "{line}");
    let new =
        [("name", "Jory Pennock"), ("telephone", ""), ("email", ""), ("serial", ""), ("promised_on", "2026-01-01")];
    let refused = desk.sends("/desk/check-in", &form("second", &new)).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let line = refused.all(".what-happens").join(" ");
    for words in ["Jory Pennock", "new", "Thistlewade OM-2", "It buzzes when I dig in"] {
        assert!(line.contains(words), "{words} in {line}");
    }
}

#[tokio::test]
async fn a_place_on_the_rack_that_is_taken_is_questioned_and_a_free_one_is_proposed() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let gone = desk.sends("/desk/check-in", &form("gone", &[("rack", "A10"), ("serial", "1")])).await.location.unwrap();
    goes_home(&desk, gone.trim_end_matches("/ticket")).await;
    let other = [("name", "Jory Pennock"), ("telephone", ""), ("email", ""), ("serial", "2"), ("rack", "B3")];
    assert_eq!(desk.sends("/desk/check-in", &form("one", &other)).await.status, StatusCode::SEE_OTHER);
    // however it is typed
    let same = [
        ("name", "Sorrel Weir"),
        ("telephone", ""),
        ("email", ""),
        ("serial", "3"),
        ("rack", " b3"),
        ("same_rack", ""),
    ];
    let asked = desk.sends("/desk/check-in", &form("two", &same)).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    let words = asked.all("#field-same_rack").join(" ");
    assert!(words.contains("26-0002") && words.contains("Jory Pennock") && words.contains("A10"), "{words}");
    assert_eq!(shop.count("job").await, 2);
    let sent = asked.form("/desk/check-in");
    let moved = desk.sends_form("/desk/check-in", &sent, &[("rack_at", "A10")]).await;
    assert_eq!(moved.status, StatusCode::SEE_OTHER, "{}", moved.visible_text());
    let rack: Option<String> = sqlx::query_scalar("SELECT rack FROM job WHERE number = '26-0003'")
        .fetch_optional(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(rack.as_deref(), Some("A10"));
    // two ukuleles share a hook where somebody says so
    let both = [
        ("name", "Wren Hollow"),
        ("telephone", ""),
        ("email", ""),
        ("serial", "4"),
        ("rack", "B3"),
        ("same_rack", "yes"),
    ];
    assert_eq!(desk.sends("/desk/check-in", &form("three", &both)).await.status, StatusCode::SEE_OTHER);
    // a correction is asked the same, but not of the place where the job stands already
    let third = moved.location.unwrap().trim_end_matches("/ticket").to_owned();
    let details = desk.opens(&format!("{third}/details")).await;
    let kept = details.form(&format!("{third}/details"));
    assert_eq!(kept.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    let details = desk.opens(&format!("{third}/details")).await;
    let taken = details.form(&format!("{third}/details")).with("rack", "B3").sent_by(&desk).await;
    assert_eq!(taken.status, StatusCode::UNPROCESSABLE_ENTITY);
    let told = taken.all("#field-same_rack").join(" ");
    assert!(told.contains("26-0002"), "{told}");
    let sure = taken.form(&format!("{third}/details")).with("same_rack", "yes").sent_by(&desk).await;
    assert_eq!(sure.status, StatusCode::SEE_OTHER, "{}", sure.visible_text());
}
