//! The counter's day: what came in, what is late, who is asked, and no link into a closed door.

use thumbplane::quantity::Instant;

use crate::support::form::form;
use crate::support::{MORNING, Shop};

const DAY: i64 = 86_400_000_000;

async fn stage(shop: &Shop, stage: &str) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = ?").bind(stage).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

#[tokio::test]
async fn what_came_in_and_left_again_today_came_in_today() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "closed-unrepaired"), ("reason", "Too dear.")])
        .await;
    let today = desk.opens("/desk/day").await;
    assert!(today.all(".tally li").contains(&"1 came in".to_owned()), "{:?}", today.all(".tally li"));
    assert!(today.has(&format!("a[href='{job}']")));
    shop.clock.set(Instant(MORNING.0 + DAY));
    let next = shop.desk().await.opens("/desk/day").await;
    assert!(next.all(".tally li").contains(&"0 came in".to_owned()));
}

#[tokio::test]
async fn what_is_ready_is_late_on_no_list() {
    let shop = Shop::open().await;
    shop.desk().await.checks_in("k").await;
    // promised for 28 October
    shop.clock.set(Instant(MORNING.0 + 20 * DAY));
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let late = |page: &crate::support::Answer, words: &str| page.all(".tally li").contains(&words.to_owned());
    assert!(late(&desk.opens("/desk").await, "1 late"));
    assert!(late(&owner.opens("/office").await, "1 past their promise"));
    stage(&shop, "ready").await;
    let queue = desk.opens("/desk").await;
    assert!(late(&queue, "0 late") && !queue.has(".promise.late") && !queue.has(".promise small"));
    assert!(late(&owner.opens("/office").await, "0 past their promise"));
    assert!(late(&desk.opens("/desk/day").await, "0 promised or late"));
}

#[tokio::test]
async fn nobody_is_led_to_a_door_that_is_closed_to_them() {
    let shop = Shop::open().await;
    let (desk, ivo, owner) = (shop.desk().await, shop.bench().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let bench = job.replace("/desk/", "/bench/");
    for page in [job.clone(), format!("{job}/photos")] {
        assert!(!desk.opens(&page).await.has(&format!("a[href='{bench}']")), "{page}");
        assert!(owner.opens(&page).await.has(&format!("a[href='{bench}']")), "{page}");
    }
    let sheet = ivo.opens(&format!("{job}/sheet")).await;
    assert!(sheet.has(&format!("a[href='{bench}']")) && !sheet.has(&format!("a[href='{job}']")));
    assert!(desk.opens(&format!("{job}/sheet")).await.has(&format!("a[href='{job}']")));
}

#[tokio::test]
async fn a_known_customer_who_was_never_asked_about_reminders_is_asked_at_the_next_check_in() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut first = crate::support::check_in_form("k");
    first.retain(|(name, _)| *name != "reminders");
    desk.sends("/desk/check-in", &first).await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let path = format!("/desk/check-in?customer={id}");
    let page = desk.opens(&path).await;
    assert!(page.has("input[type=checkbox][name=reminders]") && page.visible_text().contains("May we write to you"));
    let next = form(&page, "/desk/check-in")
        .with("instrument", "")
        .with("family", "ukulele")
        .with("complaint", "It is dull.")
        .with("reminders", "yes");
    for _ in 0..2 {
        assert_eq!(next.sent_by(&desk).await.status.as_u16(), 303);
    }
    let agreed: (String, i64) = sqlx::query_as("SELECT reminders_agreed_on, version FROM customer")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(agreed, ("2026-10-14".to_owned(), 2));
    assert!(!desk.opens(&path).await.has("input[name=reminders]"), "asked once");
}

#[tokio::test]
async fn the_desk_reads_the_benchs_notes_on_the_job() {
    let shop = Shop::open().await;
    let (desk, ivo) = (shop.desk().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    let note = [("form_key", "n"), ("hands", "Second tuner slips: ask before stringing.")];
    assert_eq!(ivo.sends(&format!("{}/notes", job.replace("/desk/", "/bench/")), &note).await.status.as_u16(), 303);
    assert!(desk.opens(&job).await.all("#notes")[0].contains("Second tuner slips"));
}

#[tokio::test]
async fn an_instrument_that_is_in_the_house_is_refused_at_the_instrument() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let (customer, instrument): (uuid::Uuid, uuid::Uuid) =
        sqlx::query_as("SELECT customer_id, id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    let page = desk.opens(&format!("/desk/check-in?customer={customer}")).await;
    let again = form(&page, "/desk/check-in")
        .with("instrument", &instrument.to_string())
        .with("complaint", "Still buzzes.")
        .sent_by(&desk)
        .await;
    assert_eq!(again.status.as_u16(), 422);
    assert!(again.all("#error-instrument")[0].contains("in the house already, as 26-0001"));
    assert!(!again.has("#error-complaint"));
}
