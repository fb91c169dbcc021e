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
    assert!(look.has(&format!("a[href='/desk/customers/{kept}/merge?from={lost}']")), "{}", look.visible_text());
    let both = desk.opens(&format!("/desk/customers/{kept}/merge?from={lost}")).await;
    assert!(both.visible_text().contains("07700 900555"), "{}", both.visible_text());
    let (lost_id, lost_version, kept_version) = (lost.to_string(), lost_version.to_string(), kept_version.to_string());
    let form =
        [("from", lost_id.as_str()), ("from_version", lost_version.as_str()), ("version", kept_version.as_str())];
    let path = format!("/desk/customers/{kept}/merge");
    assert_eq!(desk.sends(&path, &form).await.status.as_u16(), 303);
    assert_eq!(desk.sends(&path, &form).await.status.as_u16(), 303, "pressed twice");
    let page = desk.opens(&format!("/desk/customers/{kept}")).await;
    assert!(
        page.visible_text().contains("26-0001") && page.visible_text().contains("26-0002"),
        "{}",
        page.visible_text()
    );
    assert!(page.visible_text().contains("07700 900555"), "the other number is one more");
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

/// Merges the second customer into the first, as the page shows them.
async fn become_one(shop: &Shop) {
    let found = customers(shop).await;
    let [(kept, kept_version), (lost, lost_version)] = found.as_slice() else { panic!("{found:?}") };
    let (from, from_version, version) = (lost.to_string(), lost_version.to_string(), kept_version.to_string());
    let form = [("from", from.as_str()), ("from_version", from_version.as_str()), ("version", version.as_str())];
    let merged = shop.desk().await.sends(&format!("/desk/customers/{kept}/merge"), &form).await;
    assert_eq!(merged.status.as_u16(), 303, "{}", merged.text);
}

#[tokio::test]
async fn after_a_merge_the_person_is_found_by_what_stood_in_either_record_until_they_are_forgotten() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let first = desk.checks_in("first").await;
    let mut second = check_in_form("second");
    for (field, value) in &mut second {
        match *field {
            "name" => *value = "M. Pennock",
            "telephone" => *value = "07700 900555",
            "email" => *value = "pennock@weir.example",
            _ => {}
        }
    }
    let second = desk.sends("/desk/check-in", &second).await.location.unwrap();
    become_one(&shop).await;
    for typed in ["pennock", "900555", "+447700900555", "pennock@weir", "oakhollow", "960101"] {
        let encoded: String = form_urlencoded::byte_serialize(typed.as_bytes()).collect();
        let hits = desk.opens(&format!("/desk/search?part=hits&for=check-in&q={encoded}")).await;
        assert_eq!(hits.all(".hits strong"), ["Maren Oakhollow"], "{typed}");
    }
    // and no second record is made of the other name, number or address
    for (name, telephone, email) in
        [("m. PENNOCK", "", ""), ("A", "07700 900555", ""), ("B", "", "Pennock@weir.example")]
    {
        let mut form = check_in_form("third");
        form.retain(|(field, _)| !matches!(*field, "is_new" | "name" | "telephone" | "email"));
        form.extend([("name", name), ("telephone", telephone), ("email", email)]);
        let asked = desk.sends("/desk/check-in", &form).await;
        assert!(
            asked.has("#field-same") && asked.visible_text().contains("It is Maren Oakhollow"),
            "{name}{telephone}{email}"
        );
    }
    for job in [&first, second.trim_end_matches("/ticket")] {
        let version = desk.opens(job).await.value("version");
        let home = [("version", version.as_str()), ("to", "closed-unrepaired"), ("reason", "No.")];
        assert_eq!(desk.sends(&format!("{job}/stage"), &home).await.status.as_u16(), 303);
    }
    let (kept, version) = customers(&shop).await[0];
    let sure = [("version", &*version.to_string()), ("sure", "yes")];
    assert_eq!(owner.sends(&format!("/desk/customers/{kept}/anonymise"), &sure).await.status.as_u16(), 303);
    let left: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM search_entry WHERE words LIKE '%pennock%' OR words LIKE '%900555%' OR words LIKE '%oakhollow%'",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(left, 0);
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("INSERT INTO customer_search (customer_search, rank) VALUES ('integrity-check', 1)")
        .execute(&mut *write)
        .await
        .unwrap();
}

#[tokio::test]
async fn a_merge_says_what_it_moved_and_what_was_once_theirs_stays_theirs() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let mut second = check_in_form("second");
    second.iter_mut().find(|(field, _)| *field == "serial").unwrap().1 = "TW-9";
    desk.sends("/desk/check-in", &second).await;
    let lost = customers(&shop).await[1].0;
    // the second record had another one, which went on to Jory
    let mut jory = check_in_form("third");
    jory.iter_mut().find(|(field, _)| *field == "name").unwrap().1 = "Jory Pennock";
    desk.sends("/desk/check-in", &jory).await;
    let (jory, _) = customers(&shop).await[2];
    let sold: Uuid = sqlx::query_scalar("SELECT id FROM instrument WHERE serial = 'TW-9'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let to = jory.to_string();
    let hands = [("version", "1"), ("to", to.as_str()), ("on_day", "2026-10-03")];
    assert_eq!(desk.sends(&format!("/desk/instruments/{sold}/owner"), &hands).await.status.as_u16(), 303);
    let (kept, _) = customers(&shop).await[0];
    let from = lost.to_string();
    let merge = [("from", from.as_str()), ("from_version", "1"), ("version", "1")];
    assert_eq!(desk.sends(&format!("/desk/customers/{kept}/merge"), &merge).await.status.as_u16(), 303);
    let page = desk.opens(&format!("/desk/customers/{kept}")).await;
    assert!(page.visible_text().contains("theirs until 2026-10-03"), "{}", page.visible_text());
    let owner = desk.opens(&format!("/desk/instruments/{sold}")).await;
    assert!(owner.has(&format!("a[href='/desk/customers/{kept}']")), "the past owner is the record that stands");
    let told: String = sqlx::query_scalar("SELECT after_json FROM event WHERE deed = 'another record merged in'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    let job: Uuid =
        sqlx::query_scalar("SELECT id FROM job WHERE number = '26-0002'").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(told["jobs"], serde_json::json!([job]), "so that it could be put asunder by hand");
    assert_eq!(told["instruments"], serde_json::json!([]));
    // all of it is in what she is given
    let given = desk.sends(&format!("/desk/customers/{kept}/export"), &[]).await;
    let given: serde_json::Value = serde_json::from_str(&given.text).unwrap();
    assert_eq!(given["records_merged_into_it"][0]["id"], serde_json::json!(lost));
    assert_eq!(given["instruments_formerly_theirs"][0]["id"], serde_json::json!(sold));
}

#[tokio::test]
async fn a_yes_to_reminders_that_was_taken_back_is_not_revived_by_a_merge() {
    for withdrawn in [0, 1] {
        let shop = Shop::open().await;
        let desk = shop.desk().await;
        desk.checks_in("first").await;
        desk.checks_in("second").await;
        let (who, version) = customers(&shop).await[withdrawn];
        let no_more = [
            ("version", &*version.to_string()),
            ("name", "Maren Oakhollow"),
            ("telephone", "01632 960101"),
            ("email", "maren@oakhollow.example"),
            ("reach_by", "telephone"),
        ];
        assert_eq!(desk.sends(&format!("/desk/customers/{who}"), &no_more).await.status.as_u16(), 303);
        become_one(&shop).await;
        let agreed: Option<String> =
            sqlx::query_scalar("SELECT reminders_agreed_on FROM customer WHERE merged_into IS NULL")
                .fetch_one(shop.app.db.read())
                .await
                .unwrap();
        assert_eq!(agreed, None, "record {withdrawn}");
    }
    // where nobody ever took it back, the first yes stands
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let mut second = check_in_form("second");
    second.retain(|(field, _)| *field != "reminders");
    desk.sends("/desk/check-in", &second).await;
    become_one(&shop).await;
    let agreed: Option<String> =
        sqlx::query_scalar("SELECT reminders_agreed_on FROM customer WHERE merged_into IS NULL")
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
    assert_eq!(agreed.as_deref(), Some("2026-10-14"));
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
    assert!(page.visible_text().contains("before, until Sat 3 Oct 2026, Maren Oakhollow"), "{}", page.visible_text());
    assert!(page.visible_text().contains("26-0001"), "its visits stay with it");
    let maren = customers(&shop).await[0].0;
    assert!(desk.opens(&format!("/desk/customers/{maren}")).await.visible_text().contains("theirs until 2026-10-03"));
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
    assert!(jobs > 0);
    assert_eq!(all["jobs"].as_array().unwrap().len(), usize::try_from(jobs).unwrap());
    assert!(all["jobs"][0]["readings"][0]["readings"].as_array().is_some_and(|readings| !readings.is_empty()));
    for kind in ["notes", "photographs", "signatures", "labour", "parts", "payments", "quotes", "condition"] {
        assert!(all["jobs"].as_array().unwrap().iter().all(|job| job[kind].is_array()), "{kind}");
    }
    // and what is written now, of the job that is in the house
    let instrument: Uuid = sqlx::query_scalar("SELECT id FROM instrument WHERE customer_id = ? LIMIT 1")
        .bind(id)
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let (id_text, instrument) = (id.to_string(), instrument.to_string());
    let again = [
        ("form_key", "again"),
        ("customer", id_text.as_str()),
        ("instrument", instrument.as_str()),
        ("complaint", "It buzzes again."),
        ("style", "light"),
    ];
    assert_eq!(desk.sends("/desk/check-in", &again).await.status.as_u16(), 303);
    let job: Uuid = sqlx::query_scalar("SELECT id FROM job WHERE customer_id = ? AND is_open = 1")
        .bind(id)
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let path = format!("/bench/jobs/{job}/notes");
    shop.bench().await.sends(&path, &[("form_key", "n"), ("hands", "She will call at noon.")]).await;
    let signed = [("form_key", "s"), ("purpose", "condition"), ("strokes", "M1,1L2,2")];
    desk.sends(&format!("/desk/jobs/{job}/signature"), &signed).await;
    let given = desk.sends(&format!("/desk/customers/{id}/export"), &[]).await.text;
    assert!(given.contains("She will call at noon.") && given.contains("M1,1L2,2"));
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
    assert!(desk.opens("/desk/search?part=hits&q=maren").await.visible_text().contains("archived"));
    assert!(desk.opens("/desk/search?part=hits&q=tw-4471").await.visible_text().contains("archived"));
}
