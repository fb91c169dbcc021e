//! The catalogue, edited in place, and what the desk reads and proposes of it.

use axum::http::StatusCode;
use thumbplane::records::{AuditContext, Door, service};
use time::macros::date;

use crate::support::form::form;
use crate::support::{Answer, Shop};

async fn id(shop: &Shop, key: &str) -> String {
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM service WHERE key = ?")
        .bind(key)
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    id.to_string()
}

/// What stands in a field of the table.
fn typed(page: &Answer, name: &str, id: &str) -> String {
    form(page, "/office/services/all").value(&format!("{name}_{id}")).to_owned()
}

#[tokio::test]
async fn of_several_rows_that_were_edited_one_is_saved_and_nothing_typed_is_lost() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let (setup, strings, frets) =
        (id(&shop, "setup").await, id(&shop, "restring").await, id(&shop, "fret-dress").await);
    let page = owner.opens("/office/services").await;
    let edited = form(&page, "/office/services/all")
        .with(&format!("price_{setup}"), "71.50")
        .with(&format!("minutes_{strings}"), "about twenty")
        .without(&format!("active_{frets}"));
    let one = owner.sends_form(&format!("/office/services/{setup}"), &edited, &[]).await;
    assert_eq!(one.status, StatusCode::OK, "{}", one.visible_text());
    assert!(one.visible_text().contains("2 more rows are changed and not saved yet"), "{}", one.visible_text());
    assert_eq!(typed(&one, "price", &setup), "71.50");
    assert_eq!(typed(&one, "minutes", &strings), "about twenty");
    assert_eq!(typed(&one, "active", &frets), "", "the box stays as it was left");
    let price: i64 = sqlx::query_scalar("SELECT price FROM service WHERE key = 'setup'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(price, 7150);
    // all of them: what cannot be read is named at its row, and the others are saved
    let all = form(&one, "/office/services/all").sent_by(&owner).await;
    assert_eq!(all.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        all.has(&format!("#error-minutes_{strings}")) && all.visible_text().contains("is saved."),
        "{}",
        all.visible_text()
    );
    let active: bool = sqlx::query_scalar("SELECT active FROM service WHERE key = 'fret-dress'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert!(!active);
    let mended = form(&all, "/office/services/all").with(&format!("minutes_{strings}"), "20").sent_by(&owner).await;
    assert_eq!(mended.status, StatusCode::SEE_OTHER, "{}", mended.visible_text());
    let events = shop.count("event").await;
    let same = form(&owner.opens("/office/services").await, "/office/services/all").sent_by(&owner).await;
    assert_eq!((same.status, shop.count("event").await), (StatusCode::SEE_OTHER, events), "nothing was changed");
}

#[tokio::test]
async fn a_price_by_the_hour_follows_the_minutes_and_parts_go_onto_the_quote_with_their_price() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    for (key, name, price) in [("p1", "Bone blank", "4.25"), ("p2", "Fret wire", "2.50")] {
        let part = [("form_key", key), ("name", name), ("unit", "piece"), ("price", price)];
        assert_eq!(owner.sends("/office/parts", &part).await.status, StatusCode::SEE_OTHER);
    }
    let nut = id(&shop, "new-nut").await;
    let table = form(&owner.opens("/office/services").await, "/office/services/all")
        .with(&format!("price_{nut}"), "50")
        .with(&format!("minutes_{nut}"), "75")
        .with(&format!("hourly_{nut}"), "yes")
        .with(&format!("told_{nut}"), "Cut from bone and fitted to your neck.")
        .with(&format!("parts_{nut}"), "Bone blank; 2 × fret wire");
    let saved = table.sent_by(&owner).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.visible_text());
    let wrong = form(&owner.opens("/office/services").await, "/office/services/all")
        .with(&format!("parts_{nut}"), "Bone blnk")
        .sent_by(&owner)
        .await;
    assert!(wrong.visible_text().contains("no part called “Bone blnk”"), "{}", wrong.visible_text());
    let prices = desk.opens("/desk/prices").await.visible_text();
    // an hour and a quarter at 50.00, and with a fifth
    for words in ["£50.00 an hour, usually £62.50", "£75.00", "Cut from bone", "Bone blank 0 piece on hand £4.25 £5.10"]
    {
        assert!(prices.contains(words), "{words} in {prices}");
    }
    let job = desk.checks_in("k").await;
    let line = [("form_key", "w"), ("service", &*nut), ("words", ""), ("price", ""), ("minutes", "30")];
    assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
    let wire: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM part WHERE name = 'Fret wire'").fetch_one(shop.app.db.read()).await.unwrap();
    let part = format!("part-{wire}");
    let line = [("form_key", "w2"), ("service", &*part), ("quantity", "3"), ("words", ""), ("price", "")];
    assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
    let lines: Vec<(String, i64)> = sqlx::query_as("SELECT words, price FROM work_line ORDER BY position")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    let prices: Vec<i64> = lines.iter().map(|line| line.1).collect();
    assert_eq!(prices, [2500, 425, 500, 750], "{lines:?}");
    assert_eq!(
        (lines[1].0.as_str(), lines[2].0.as_str(), lines[3].0.as_str()),
        ("Bone blank", "2 × Fret wire", "3 × Fret wire")
    );
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    assert!(desk.opens(&quote).await.visible_text().contains("Cut from bone and fitted to your neck."));
    // dearer from now on: what was quoted stays
    let dearer =
        form(&owner.opens("/office/services").await, "/office/services/all").with(&format!("price_{nut}"), "90");
    assert_eq!(dearer.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    assert!(desk.opens(&quote).await.visible_text().contains("£25.00"));
}

#[tokio::test]
async fn a_price_that_holds_from_a_later_day_waits_for_it_and_an_old_quote_never_changes() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let setup = id(&shop, "setup").await;
    let later = form(&owner.opens("/office/services").await, "/office/services/all")
        .with(&format!("price_{setup}"), "71")
        .with(&format!("name_{setup}"), "Set up whole")
        .with("holds_from", "2027-01-01");
    assert_eq!(later.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    let past = form(&owner.opens("/office/services").await, "/office/services/all")
        .with(&format!("price_{setup}"), "72")
        .with("holds_from", "2026-10-13");
    let refused = past.sent_by(&owner).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(typed(&refused, "price", &setup), "72", "what was typed stands");
    let page = owner.opens("/office/services").await;
    assert!(page.visible_text().contains("From Fri 1 Jan 2027: £71.00, 75 min"), "{}", page.visible_text());
    assert_eq!(
        (typed(&page, "price", &setup).as_str(), typed(&page, "name", &setup).as_str()),
        ("65.00", "Set up whole")
    );
    let job = desk.checks_in("k").await;
    desk.sends(&format!("{job}/work"), &[("form_key", "w"), ("service", &setup), ("words", ""), ("price", "")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let by = AuditContext { staff: None, door: Door::House, at: shop.clock.now() };
    for (day, changed, price) in
        [(date!(2026 - 12 - 31), 0, 6500), (date!(2027 - 01 - 01), 1, 7100), (date!(2027 - 01 - 02), 0, 7100)]
    {
        let mut tx = shop.app.db.write().await.unwrap();
        assert_eq!(service::take_in_due(&mut tx, &by, day).await.unwrap(), changed, "{day}");
        tx.commit().await.unwrap();
        let stands: i64 = sqlx::query_scalar("SELECT price FROM service WHERE key = 'setup'")
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
        assert_eq!(stands, price, "{day}");
    }
    assert!(desk.opens(&quote).await.visible_text().contains("£65.00"));
}
