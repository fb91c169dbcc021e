//! Who did what: found, read in words, exported, and never changed.

use axum::http::StatusCode;

use super::figures::{asks, rows};
use crate::support::{Shop, check_in_form, statements};

#[tokio::test]
async fn every_deed_stands_there_with_who_and_through_which_door() {
    let shop = Shop::with_story().await;
    let owner = shop.owner().await;
    // page by page, until nothing is left
    let (mut path, mut shown) = ("/office/audit?from=2025-10-14&until=2026-10-14".to_owned(), Vec::new());
    loop {
        let page = owner.opens(&path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        shown.extend(rows(&page, "table.deeds"));
        let html = page.page();
        let next = scraper::Selector::parse("main > p > a[href^='/office/audit?']").unwrap();
        let Some(link) = html.select(&next).next() else { break };
        path = link.attr("href").unwrap().to_owned();
    }
    // 14 Oct 2025 and 15 Oct 2026, midnight in London
    let expected: Vec<(String, String, String)> = asks(
        &shop,
        "SELECT coalesce(staff.name, 'the program'), deed, replace(door, 'command', 'command line') FROM event
         LEFT JOIN staff ON staff.id = staff_id WHERE at >= 1760396400000000 AND at < 1792018800000000
         ORDER BY at DESC, event.id DESC",
    )
    .await;
    assert_eq!(shown.len(), expected.len());
    for (row, (who, deed, door)) in shown.iter().zip(expected) {
        assert_eq!((row[1].clone(), row[2].clone()), (format!("{who} {door}"), deed), "{row:?}");
    }
}

#[tokio::test]
async fn before_and_after_are_said_in_words() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let service: uuid::Uuid = asks::<(uuid::Uuid,)>(&shop, "SELECT id FROM service WHERE key = 'setup'").await[0].0;
    let page = owner.opens("/office/services").await;
    let whole = page.form("/office/services/all").with(&format!("minutes_{service}"), "85");
    whole.with(&format!("price_{service}"), "71.5").sent_by(&owner).await;
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "20"), ("note", "a note")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let said = async |address: &str, deed: &str| {
        let table = rows(&owner.opens(&format!("/office/audit{address}")).await, "table.deeds");
        table.into_iter().find(|row| row[2] == deed).unwrap_or_else(|| panic!("{deed} at {address}"))
    };
    let changed = said("", "service changed").await;
    let (was, price): (i64, i64) = asks(&shop, "SELECT minutes, price FROM service_price ORDER BY id LIMIT 1").await[0];
    let _ = (was, price);
    assert!(changed[4].contains("→ 85") && changed[4].contains("→ £71.50"), "{changed:?}");
    assert!(!changed[4].contains("version"), "{changed:?}");
    assert_eq!(said("", "payment taken").await[4], "for: deposit by: cash amount: £20.00 note: a note");
    assert_eq!(said("", "stage moved").await[4], "stage: checked in → measured");
    // narrowed: each filter alone, and a job's whole story by its number
    let about = |table: &[Vec<String>], place: usize, words: &str| table.iter().all(|row| row[place].contains(words));
    for (filter, place, words) in [
        ("?door=office", 1, "office"),
        ("?about=service", 2, "service"),
        ("?find=26-0001", 3, "26-0001"),
        ("?find=a+note", 2, "payment taken"),
    ] {
        let table = rows(&owner.opens(&format!("/office/audit{filter}")).await, "table.deeds");
        assert!(!table.is_empty() && about(&table, place, words), "{filter}: {table:?}");
    }
    let mirel = shop.staff_id("Mirel").await;
    let table = rows(&owner.opens(&format!("/office/audit?who={mirel}")).await, "table.deeds");
    assert!(!table.is_empty() && about(&table, 1, "Mirel"));
    // signs of the search language are letters like others
    assert!(owner.opens("/office/audit?find=%25%25%25").await.visible_text().contains("Nothing that was done fits"));
    assert!(owner.opens("/office/audit?find=__________").await.visible_text().contains("Nothing that was done fits"));
    let wrong = owner.opens("/office/audit?from=2026-10-20&until=2026-10-01").await;
    assert!(wrong.has("#error-from"), "{}", wrong.visible_text());
}

#[tokio::test]
async fn what_is_found_leaves_as_a_list_and_that_is_a_deed_itself() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let mut form = check_in_form("k");
    form.iter_mut().filter(|(name, _)| *name == "name").for_each(|(_, name)| *name = "=HYPERLINK(1)");
    desk.sends("/desk/check-in", &form).await;
    let page = owner.opens("/office/audit?door=desk").await;
    let file = page.form("/office/audit/export").sent_by(&owner).await;
    assert!(file.headers["content-type"].to_str().unwrap().starts_with("text/csv"));
    assert!(file.headers["content-disposition"].to_str().unwrap().contains("deeds-2026-10-14.csv"));
    let deeds: i64 = asks::<(i64,)>(&shop, "SELECT count(*) FROM event WHERE door = 'desk'").await[0].0;
    assert_eq!(csv_rows(&file.text), deeds + 1, "a heading and a row each");
    assert!(file.text.contains("'=HYPERLINK(1)"), "no cell becomes a formula: {}", file.text);
    let last: (String, String) =
        asks::<(String, String)>(&shop, "SELECT deed, after_json FROM event ORDER BY id DESC LIMIT 1").await[0].clone();
    assert_eq!(last, ("list exported".to_owned(), format!("[\"deeds\",{deeds}]")));
}

fn csv_rows(text: &str) -> i64 {
    i64::try_from(
        csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes()).records().count(),
    )
    .unwrap()
}

#[tokio::test]
async fn nobody_changes_a_deed_and_no_address_would() {
    let shop = Shop::open().await;
    shop.desk().await.checks_in("k").await;
    let mut tx = shop.app.db.write().await.unwrap();
    for change in ["UPDATE event SET at = 1", "UPDATE event SET deed = 'nothing'", "DELETE FROM event"] {
        let refused = sqlx::query(change).execute(&mut *tx).await.unwrap_err().to_string();
        assert!(refused.contains("append-only"), "{change}: {refused}");
    }
    drop(tx);
    let below: Vec<String> = thumbplane::web::router::routes(&shop.app)
        .into_iter()
        .filter(|route| route.path.starts_with("/office/audit"))
        .map(|route| format!("{} {}", route.method, route.path))
        .collect();
    assert_eq!(below, ["GET /office/audit", "POST /office/audit/export"]);
}

#[tokio::test]
async fn a_page_of_deeds_asks_a_handful_of_questions() {
    let shop = Shop::with_story().await;
    let owner = shop.owner().await;
    owner.opens("/office/audit").await;
    let (_, asked) = statements(owner.opens("/office/audit")).await;
    assert!(asked.len() <= 5, "{asked:#?}");
}
