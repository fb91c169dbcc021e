//! The owner's evening.

mod audit;
mod calendar;
mod catalogue;
mod figures;
mod first_hour;
mod house;
mod import;
mod minutes;
mod money;
mod promises;
mod queue;
mod turnaround;

use axum::http::StatusCode;

use crate::support::Shop;

#[tokio::test]
async fn the_shop_keeps_an_owner_who_can_sign_in() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let id = shop.staff_id("Ottilie").await;
    let demoted =
        owner.sends(&format!("/office/staff/{id}"), &[("version", "1"), ("role", "desk"), ("active", "yes")]).await;
    assert_eq!(demoted.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(demoted.visible_text().contains("at least one owner"));
    assert_eq!(owner.opens("/office").await.status, StatusCode::OK);
}

#[tokio::test]
async fn whoever_may_no_longer_sign_in_is_out_at_once() {
    let shop = Shop::open().await;
    let (owner, ivo) = (shop.owner().await, shop.bench().await);
    assert_eq!(ivo.opens("/bench").await.status, StatusCode::OK);
    let id = shop.staff_id("Ivo").await;
    owner.sends(&format!("/office/staff/{id}"), &[("version", "1"), ("role", "bench")]).await;
    let after = ivo.opens("/bench").await;
    assert_eq!((after.status, after.location.as_deref()), (StatusCode::SEE_OTHER, Some("/sign-in?then=%2Fbench")));
}

#[tokio::test]
async fn settings_are_checked_and_a_second_save_sees_the_first() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let page = owner.opens("/office/settings").await;
    let names = [
        "version",
        "shop_name",
        "address",
        "telephone",
        "email",
        "tax_name",
        "standard_tax_rate",
        "reduced_tax_rate",
        "quote_valid_days",
        "promise_days",
        "promise_confidence",
        "claim_terms",
        "quote_terms",
        "care_advice",
    ];
    let mut form: Vec<(&str, String)> = names.iter().map(|name| (*name, page.value(name))).collect();
    form.extend(
        [
            ("time_zone", "Europe/London"),
            ("country", "GB"),
            ("currency", "GBP"),
            ("paper", "letter"),
            ("length_unit", "mm"),
            ("tax_rounding", "half-up"),
            ("tax_level", "on-total"),
            ("link_days", "90"),
        ]
        .map(|(name, value)| (name, value.to_owned())),
    );
    let fields = |form: &[(&'static str, String)]| -> Vec<(&'static str, String)> { form.to_vec() };
    let send = |form: Vec<(&'static str, String)>| {
        let owner = &owner;
        async move {
            let borrowed: Vec<(&str, &str)> = form.iter().map(|(name, value)| (*name, value.as_str())).collect();
            owner.sends("/office/settings", &borrowed).await
        }
    };
    let mut wrong = fields(&form);
    for (name, value) in &mut wrong {
        match *name {
            "time_zone" => *value = "Europe/Netherford".to_owned(),
            "standard_tax_rate" => *value = "a fifth".to_owned(),
            _ => {}
        }
    }
    let refused = send(wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.all(".problems a").len(), 2);
    assert_eq!(refused.value("standard_tax_rate"), "a fifth");
    assert_eq!(send(fields(&form)).await.status, StatusCode::SEE_OTHER);
    for (name, value) in &mut form {
        if *name == "shop_name" {
            *value = "Millrace & Daughter".to_owned();
        }
    }
    let late = send(form).await;
    assert_eq!(late.status, StatusCode::CONFLICT, "the version read is the one before");
    assert_eq!(late.value("shop_name"), "Millrace & Daughter");
}

#[tokio::test]
async fn target_values_that_make_no_sense_are_not_saved() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let page = owner.opens("/office/targets").await;
    let text = page.value("targets");
    let broken = text.replacen("relief_most_mm = 0.25", "relief_most_mm = -0.25", 1);
    assert_ne!(broken, text);
    let refused = owner.sends("/office/targets", &[("version", "1"), ("targets", &broken)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.all(".message")[0].contains("relief"), "{:?}", refused.all(".message"));
    let lower = text.replacen("action_12_treble_mm = 1.90", "action_12_treble_mm = 1.80", 1);
    assert_eq!(
        owner.sends("/office/targets", &[("version", "1"), ("targets", &lower)]).await.status,
        StatusCode::SEE_OTHER
    );
}

#[tokio::test]
async fn a_price_changed_later_leaves_written_lines_alone() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let id: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM service WHERE key = 'setup'").fetch_one(shop.app.db.read()).await.unwrap();
    desk.sends(
        &format!("{job}/work"),
        &[("form_key", "w"), ("service", &id.to_string()), ("words", ""), ("price", "")],
    )
    .await;
    let whole = owner.opens("/office/services").await.form("/office/services/all");
    let dearer = whole.with(&format!("minutes_{id}"), "75").with(&format!("price_{id}"), "99.00");
    assert_eq!(dearer.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    let page = desk.opens(&job).await;
    assert!(page.all("#work td").contains(&"£65.00".to_owned()), "{:?}", page.all("#work td"));
}
