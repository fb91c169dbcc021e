//! What the owner decides: money, people, services, and how papers look.

use axum::http::StatusCode;

use crate::support::Shop;
use crate::support::form::form;

#[tokio::test]
async fn the_currency_stays_once_money_is_in_the_books() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let settings = |currency: &'static str| {
        let owner = &owner;
        async move {
            let page = form(&owner.opens("/office/settings").await, "/office/settings");
            page.with("currency", currency).with("telephone", "01632 960444").sent_by(owner).await
        }
    };
    // a new shop chooses, though its catalogue has prices
    assert_eq!(settings("EUR").await.status, StatusCode::SEE_OTHER);
    let job = desk.checks_in("k").await;
    assert_eq!(settings("USD").await.status, StatusCode::SEE_OTHER);
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "20")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    let refused = settings("JPY").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.all("#error-currency")[0].contains("amounts in USD"), "{:?}", refused.all(".message"));
    assert_eq!(form(&refused, "/office/settings").value("currency"), "JPY");
    assert!(
        desk.opens(&format!("{job}/hand-over")).await.visible_text().contains("US$20.00")
            || desk.opens(&format!("{job}/hand-over")).await.visible_text().contains("$20.00")
    );
    assert_eq!(settings("USD").await.status, StatusCode::SEE_OTHER, "everything else can still be changed");
}

#[tokio::test]
async fn a_refused_password_and_a_refused_change_stand_at_the_person_they_are_about() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let (ivo, ottilie) = (shop.staff_id("Ivo").await, shop.staff_id("Ottilie").await);
    let short = owner.sends(&format!("/office/staff/{ivo}/password"), &[("password", "short")]).await;
    assert_eq!(short.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(short.has(&format!("#error-password_{ivo}")) && !short.has("#error-password"));
    assert!(short.has(&format!(".problems a[href='#field-password_{ivo}']")));
    assert!(!short.text.contains("value=\"short\""), "a password is never shown");
    let path = format!("/office/staff/{ottilie}");
    let opened = form(&owner.opens("/office/staff").await, &path);
    let refused = opened.with("role", "desk").sent_by(&owner).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.all(&format!("#error-person_{ottilie}"))[0].contains("at least one owner"));
    assert_eq!(form(&refused, &path).value("role"), "desk", "the ticks come back");
    // somebody else changed the person meanwhile: what stands is said, and the next press counts
    let path = format!("/office/staff/{ivo}");
    let opened = form(&owner.opens("/office/staff").await, &path);
    owner.sends(&path, &[("version", "1"), ("role", "bench"), ("role", "desk"), ("active", "yes")]).await;
    let late = opened.with("role", "owner").sent_by(&owner).await;
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert!(late.visible_text().contains("Now: front desk, bench; may sign in."), "{}", late.visible_text());
    assert_eq!(form(&late, &path).sent_by(&owner).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_person_and_a_service_added_by_two_presses_are_there_once() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let (people, services) = (shop.count("staff").await, shop.count("service").await);
    let person = form(&owner.opens("/office/staff").await, "/office/staff")
        .with("name", "Tamsa")
        .with("password", "low water at the weir")
        .with("role", "bench");
    let service = form(&owner.opens("/office/services").await, "/office/services")
        .with("key", "brace-glue")
        .with("name", "Glue a brace")
        .with("minutes", "40")
        .with("price", "35");
    for _ in 0..2 {
        let added = person.sent_by(&owner).await;
        assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.visible_text());
        let added = service.sent_by(&owner).await;
        assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.visible_text());
    }
    assert_eq!((shop.count("staff").await, shop.count("service").await), (people + 1, services + 1));
}

#[tokio::test]
async fn where_the_owner_writes_the_shops_words_each_paper_can_be_looked_at() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    assert!(owner.opens("/office/papers").await.all("#looks")[0].contains("No job yet"));
    let job = desk.checks_in("k").await;
    desk.sends(&format!("{job}/work"), &[("form_key", "w"), ("service", ""), ("words", "Set up"), ("price", "65")])
        .await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await;
    let events = shop.count("event").await;
    for page in ["/office/papers", "/office/settings"] {
        let page = owner.opens(page).await;
        let links = scraper::Selector::parse("#looks a").unwrap();
        let links: Vec<String> = page.page().select(&links).map(|link| link.attr("href").unwrap().to_owned()).collect();
        assert_eq!(links.len(), 8, "{links:?}");
        for link in links {
            let paper = owner.opens(&link).await;
            assert!(paper.status == StatusCode::OK && paper.has("main.sheet"), "{link}");
        }
    }
    assert_eq!(shop.count("event").await, events, "looking counts as nothing");
}

#[tokio::test]
async fn a_form_that_brings_a_file_is_not_held_back_after_the_first_press() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    desk.checks_in("k").await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let export = owner.opens("/office/export").await;
    let forms = |words: &str| export.page().select(&scraper::Selector::parse(words).unwrap()).count();
    assert_eq!(forms("main form[data-download]"), forms("main form"));
    assert!(desk.opens(&format!("/desk/customers/{id}")).await.has("form[action$='/export'][data-download]"));
    for (path, kind) in
        [("/office/export/jobs".to_owned(), "text/csv"), (format!("/desk/customers/{id}/export"), "application/json")]
    {
        for _ in 0..2 {
            let file = owner.sends(&path, &[]).await;
            assert!(file.headers["content-type"].to_str().unwrap().starts_with(kind), "{path}");
        }
    }
}

#[tokio::test]
async fn everybodys_time_of_a_week_is_found_without_reading_all_of_it() {
    let shop = Shop::open().await;
    let plan: Vec<(i64, i64, i64, String)> = sqlx::query_as(
        "EXPLAIN QUERY PLAN SELECT id FROM labour_entry WHERE started_at >= 1 ORDER BY started_at DESC, id DESC LIMIT 60",
    )
    .fetch_all(shop.app.db.read())
    .await
    .unwrap();
    assert!(plan.iter().any(|(.., how)| how.contains("labour_entry_started")), "{plan:?}");
}
