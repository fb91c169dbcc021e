//! Two records of one person, an instrument that goes on to somebody else, and a person who wants to be forgotten.

use uuid::Uuid;

use crate::support::{Shop, check_in_form};

async fn customers(shop: &Shop) -> Vec<(Uuid, i64)> {
    sqlx::query_as("SELECT id, version FROM customer ORDER BY created_at, id")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap()
}

#[tokio::test]
async fn merged_records_keep_all_history_and_both_keys_lead_to_the_person() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let mut second = check_in_form("second");
    for (field, value) in &mut second {
        match *field {
            "telephone" => *value = "07700 900555",
            "serial" => *value = "TW-9",
            _ => {}
        }
    }
    desk.sends("/desk/check-in", &second).await;
    let found = customers(&shop).await;
    let [(kept, kept_version), (lost, lost_version)] = found.as_slice() else { panic!("{found:?}") };
    let look = desk.opens(&format!("/desk/customers/{kept}/merge")).await;
    assert!(look.has(&format!("a[href='/desk/customers/{kept}/merge?from={lost}']")), "{}", look.seen());
    let both = desk.opens(&format!("/desk/customers/{kept}/merge?from={lost}")).await;
    assert!(both.seen().contains("Also 07700 900555"), "{}", both.seen());
    let (lost_id, lost_version, kept_version) = (lost.to_string(), lost_version.to_string(), kept_version.to_string());
    let form =
        [("from", lost_id.as_str()), ("from_version", lost_version.as_str()), ("version", kept_version.as_str())];
    let path = format!("/desk/customers/{kept}/merge");
    assert_eq!(desk.sends(&path, &form).await.status.as_u16(), 303);
    assert_eq!(desk.sends(&path, &form).await.status.as_u16(), 303, "pressed twice");
    let page = desk.opens(&format!("/desk/customers/{kept}")).await;
    assert!(page.seen().contains("26-0001") && page.seen().contains("26-0002"), "{}", page.seen());
    assert!(page.value("note").contains("07700 900555"));
    let old = desk.opens(&format!("/desk/customers/{lost}")).await;
    assert_eq!(old.location, Some(format!("/desk/customers/{kept}")));
    let hits = desk.opens("/desk/search?part=hits&q=maren").await;
    assert_eq!(hits.all(".hits strong"), ["Maren Oakhollow"], "found once");
    let deeds: Vec<String> = sqlx::query_scalar("SELECT deed FROM event WHERE record_id = ? ORDER BY id")
        .bind(*lost)
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(deeds, ["customer added", "merged into another record"], "its own events stay");
}

#[tokio::test]
async fn two_people_who_only_look_alike_are_not_merged_behind_a_change() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    desk.checks_in("second").await;
    let found = customers(&shop).await;
    let (kept, lost) = (found[0].0, found[1].0.to_string());
    let stale = [("from", lost.as_str()), ("from_version", "7"), ("version", "1")];
    let answer = desk.sends(&format!("/desk/customers/{kept}/merge"), &stale).await;
    assert_eq!(answer.status.as_u16(), 409);
    let itself = kept.to_string();
    let itself = [("from", itself.as_str()), ("from_version", "1"), ("version", "1")];
    assert_eq!(desk.sends(&format!("/desk/customers/{kept}/merge"), &itself).await.status.as_u16(), 422);
}

#[tokio::test]
async fn an_instrument_changes_hands_on_a_day_and_keeps_its_history() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let mut second = check_in_form("second");
    for (field, value) in &mut second {
        if matches!(*field, "name") {
            *value = "Jory Pennock";
        }
    }
    desk.sends("/desk/check-in", &second).await;
    let instrument: Uuid = sqlx::query_scalar("SELECT id FROM instrument ORDER BY created_at, id LIMIT 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let path = format!("/desk/instruments/{instrument}");
    let page = desk.opens(&format!("{path}?heir=jory")).await;
    let heir = page.value("to");
    let version = page.value("version");
    let tomorrow = [("version", version.as_str()), ("to", heir.as_str()), ("on_day", "2026-10-15")];
    assert_eq!(desk.sends(&format!("{path}/owner"), &tomorrow).await.status.as_u16(), 422);
    let form = [("version", version.as_str()), ("to", heir.as_str()), ("on_day", "2026-10-03")];
    assert_eq!(desk.sends(&format!("{path}/owner"), &form).await.status.as_u16(), 303);
    let page = desk.opens(&path).await;
    assert!(page.seen().contains("before, until Sat 3 Oct 2026, Maren Oakhollow"), "{}", page.seen());
    assert!(page.seen().contains("26-0001"), "its visits stay with it");
    let maren = customers(&shop).await[0].0;
    assert!(desk.opens(&format!("/desk/customers/{maren}")).await.seen().contains("theirs until 2026-10-03"));
}

#[tokio::test]
async fn whoever_asks_is_forgotten_and_the_money_stays() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "20")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    desk.sends(&format!("{job}/signature"), &[("form_key", "s"), ("purpose", "condition"), ("strokes", "M1,1L2,2")])
        .await;
    let id = customers(&shop).await[0].0;
    let path = format!("/desk/customers/{id}/anonymise");
    let sure = [("version", "1"), ("sure", "yes")];
    assert_eq!(desk.sends(&path, &sure).await.status.as_u16(), 403, "the owner decides");
    assert_eq!(owner.sends(&path, &[("version", "1")]).await.status.as_u16(), 422, "not without the tick");
    assert_eq!(owner.sends(&path, &sure).await.status.as_u16(), 409, "not while an instrument is in the house");
    desk.sends(
        &format!("{job}/stage"),
        &[("version", "1"), ("to", "closed-unrepaired"), ("reason", "Changed her mind.")],
    )
    .await;
    assert_eq!(owner.sends(&path, &sure).await.status.as_u16(), 303);
    assert_eq!((shop.count("payment").await, shop.count("job").await, shop.count("signature").await), (1, 1, 0));
    // nowhere in the file does her name or number stand
    for table in ["customer", "event", "search_entry", "job", "payment"] {
        let columns: Vec<String> =
            sqlx::query_scalar(sqlx::AssertSqlSafe(format!("SELECT name FROM pragma_table_info('{table}')")))
                .fetch_all(shop.app.db.read())
                .await
                .unwrap();
        for column in columns {
            let sql = format!(
                "SELECT count(*) FROM {table} WHERE CAST(\"{column}\" AS TEXT) LIKE '%oakhollow%' OR CAST(\"{column}\" AS TEXT) LIKE '%960101%'"
            );
            let found: i64 = sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_one(shop.app.db.read()).await.unwrap();
            assert_eq!(found, 0, "{table}.{column}");
        }
    }
    // and the record of deeds still refuses every other change
    let mut write = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE event SET deed = 'x'").execute(&mut *write).await.is_err());
    assert!(sqlx::query("UPDATE event SET after_json = '{}'").execute(&mut *write).await.is_err());
}

#[tokio::test]
async fn a_customer_is_given_everything_the_shop_holds_about_them() {
    let shop = Shop::with_story().await;
    let desk = shop.desk().await;
    let id: Uuid = sqlx::query_scalar("SELECT id FROM customer WHERE name LIKE 'Maren%'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let answer = desk.sends(&format!("/desk/customers/{id}/export"), &[]).await;
    assert!(answer.headers["content-disposition"].to_str().unwrap().starts_with("attachment"));
    let all: serde_json::Value = serde_json::from_str(&answer.text).unwrap();
    assert_eq!(all["customer"]["name"], "Maren Oakhollow");
    let jobs: i64 = sqlx::query_scalar("SELECT count(*) FROM job WHERE customer_id = ?")
        .bind(id)
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(all["jobs"].as_array().unwrap().len(), usize::try_from(jobs).unwrap());
    assert!(all["jobs"][0]["readings"][0]["readings"].as_array().is_some_and(|readings| !readings.is_empty()));
}

#[tokio::test]
async fn what_is_archived_is_no_longer_offered_and_still_found() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let (customer, _) = customers(&shop).await[0];
    let instrument: Uuid = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    let archive = format!("/desk/instruments/{instrument}/archive");
    assert_eq!(desk.sends(&archive, &[("version", "1")]).await.status.as_u16(), 409, "it is in the house");
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")]).await;
    assert_eq!(desk.sends(&archive, &[("version", "1")]).await.status.as_u16(), 303);
    assert_eq!(
        desk.sends(&format!("/desk/customers/{customer}/archive"), &[("version", "1")]).await.status.as_u16(),
        303
    );
    let check_in = desk.opens(&format!("/desk/check-in?customer={customer}")).await;
    assert!(!check_in.has("input[name=instrument]"));
    assert!(desk.opens("/desk/search?part=hits&q=maren").await.seen().contains("archived"));
    assert!(desk.opens("/desk/search?part=hits&q=tw-4471").await.seen().contains("archived"));
}
