//! Two people, one record: nothing is lost, and each sees what the other did.

use axum::http::StatusCode;

use crate::support::Shop;
use crate::support::form::form;

#[tokio::test]
async fn what_only_the_other_changed_is_taken_over_and_what_both_changed_stands_side_by_side() {
    let shop = Shop::open().await;
    let (mirel, ottilie) = (shop.desk().await, shop.owner().await);
    mirel.checks_in("k").await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let path = format!("/desk/customers/{id}");
    let opened = mirel.opens(&format!("{path}/change")).await;
    let first = form(&opened, &path)
        .with("telephone", "07700 900999")
        .with("address", "1 Weir Row\r\nNetherford")
        .without("reminders");
    assert_eq!(first.sent_by(&ottilie).await.status, StatusCode::SEE_OTHER);
    let second = form(&opened, &path).with("note", "Rings at noon.").with("telephone", "01632 960555");
    let second = second.sent_by(&mirel).await;
    assert_eq!(second.status, StatusCode::CONFLICT);
    assert!(second.all(".problems")[0].contains("both of you changed the same"), "{:?}", second.all(".problems"));
    assert!(second.all("#theirs-telephone")[0].contains("07700 900999"));
    assert_eq!(second.value("telephone"), "01632 960555");
    assert_eq!(second.value("note"), "Rings at noon.");
    assert!(!second.has("#theirs-note") && !second.has("#theirs-address"));
    // theirs alone: taken over, also the box they took the tick from
    let merged = form(&second, &path);
    assert_eq!(merged.value("address"), "1 Weir Row\nNetherford");
    assert_eq!(merged.value("reminders"), "");
    assert_eq!(merged.sent_by(&mirel).await.status, StatusCode::SEE_OTHER);
    let page = form(&mirel.opens(&format!("{path}/change")).await, &path);
    assert_eq!((page.value("telephone"), page.value("note")), ("01632 960555", "Rings at noon."));
    assert_eq!((page.value("address"), page.value("reminders")), ("1 Weir Row\nNetherford", ""));
}

#[tokio::test]
async fn a_conflict_without_a_clash_says_so() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let settings = owner.opens("/office/settings").await;
    // the target values are kept in the same row: its version rises, no field of this form differs
    let targets = form(&owner.opens("/office/targets").await, "/office/targets");
    let lower = targets.value("targets").replacen("action_12_treble_mm = 1.90", "action_12_treble_mm = 1.80", 1);
    assert_eq!(targets.with("targets", &lower).sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    let late = form(&settings, "/office/settings").with("shop_name", "Millrace & Daughter").sent_by(&owner).await;
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert!(late.all(".problems h2")[0].contains("Somebody else saved this meanwhile"));
    assert!(!late.has(".theirs"));
    assert_eq!(form(&late, "/office/settings").sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    assert!(owner.opens("/office").await.visible_text().contains("Millrace & Daughter"));
}

#[tokio::test]
async fn a_choice_written_by_hand_shows_theirs_too() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let (ivo, ottilie) = (shop.staff_id("Ivo").await.to_string(), shop.staff_id("Ottilie").await.to_string());
    let details = format!("{job}/details");
    let opened = desk.opens(&details).await;
    form(&opened, &details).with("staff", &ivo).sent_by(&owner).await;
    let second = form(&opened, &details).with("staff", &ottilie).sent_by(&desk).await;
    assert_eq!(second.status, StatusCode::CONFLICT);
    assert_eq!(second.all(".theirs"), ["Saved by somebody else: Ivo"]);

    let settings = owner.opens("/office/settings").await;
    form(&settings, "/office/settings").with("currency", "EUR").sent_by(&owner).await;
    let second = form(&settings, "/office/settings").with("currency", "USD").sent_by(&owner).await;
    assert!(second.all("#theirs-currency")[0].contains("EUR"));

    let id: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM service WHERE key = 'setup'").fetch_one(shop.app.db.read()).await.unwrap();
    let (path, class) = ("/office/services/all", format!("tax_class_{id}"));
    let services = owner.opens("/office/services").await;
    form(&services, path).with(&class, "reduced").sent_by(&owner).await;
    let second = form(&services, path).with(&class, "none").sent_by(&owner).await;
    assert_eq!(second.status, StatusCode::CONFLICT);
    assert!(second.all(".theirs")[0].contains("reduced"), "{:?}", second.all(".theirs"));

    let id: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM string_set LIMIT 1").fetch_one(shop.app.db.read()).await.unwrap();
    let path = format!("/office/string-sets/{id}");
    let set = owner.opens(&path).await;
    form(&set, &path).with("material_1", "nylon").sent_by(&owner).await;
    let second = form(&set, &path).with("material_1", "gut").sent_by(&owner).await;
    assert!(second.all(".string-grid .theirs")[0].contains("nylon"), "{:?}", second.visible_text());

    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    let path = format!("/desk/instruments/{id}");
    let opened = desk.opens(&path).await;
    form(&opened, &path).with("material_1", "nylon").with("wound_1", "yes").sent_by(&owner).await;
    let second = form(&opened, &path).with("material_1", "gut").sent_by(&desk).await;
    assert_eq!(second.status, StatusCode::CONFLICT);
    assert!(second.all(".string-grid .theirs")[0].contains("nylon"), "{:?}", second.all(".theirs"));
    assert_eq!(form(&second, &path).value("wound_1"), "yes", "taken over");
}

#[tokio::test]
async fn whoever_is_on_a_job_stays_on_it_after_they_left_the_shop() {
    let shop = Shop::open().await;
    let (desk, owner, ivo) = (shop.desk().await, shop.owner().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    ivo.sends(&format!("{}/take-on", job.replace("/desk/", "/bench/")), &[]).await;
    let id = shop.staff_id("Ivo").await;
    owner.sends(&format!("/office/staff/{id}"), &[("version", "1"), ("role", "bench")]).await;
    let details = format!("{job}/details");
    let saved = form(&desk.opens(&details).await, &details).with("rack", "C1").sent_by(&desk).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.visible_text());
    assert!(desk.opens(&job).await.visible_text().contains("On it Ivo"));
}
