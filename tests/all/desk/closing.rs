//! The day's closing: counted against the book, explained where it differs, and then left as it is; and the journal of it.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use thumbplane::quantity::Instant;

use crate::support::form::form;
use crate::support::{Answer, Person, Shop};

const DAY_US: i64 = 86_400_000_000;

async fn pays(desk: &Person<'_>, job: &str, key: &str, kind: &str, method: &str, amount: &str) {
    let form = [("form_key", key), ("kind", kind), ("method", method), ("amount", amount)];
    let taken = desk.sends(&format!("{job}/payment"), &form).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.visible_text());
}

async fn closes(desk: &Person<'_>, typed: &[(&str, &str)]) -> Answer {
    let mut closing = form(&desk.opens("/desk/closing").await, "/desk/closing");
    for (name, value) in typed {
        closing = closing.with(name, value);
    }
    closing.sent_by(desk).await
}

// A float of 200.00, 152.65 in cash, 20.00 given back and 15.00 taken out leave 317.65; 317.40 is counted. That the
// difference is a row of its own is common practice, no source
#[tokio::test]
async fn the_drawer_is_counted_against_the_book_and_a_difference_is_explained() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    pays(&desk, &job, "a", "deposit", "cash", "152.65").await;
    pays(&desk, &job, "b", "deposit", "card", "80").await;
    pays(&desk, &job, "c", "refund", "cash", "20").await;
    let counted = [("float", "200"), ("paid_out", "15"), ("paid_out_for", "stamps"), ("counted_cash", "317.40")];
    let refused = closes(&desk, &counted).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let seen = refused.visible_text();
    for words in ["£0.25 less than the £317.65 that should be there", "Type what was counted as card"] {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    assert_eq!(refused.value("counted_cash"), "317.40");
    let whole =
        [&counted[..], &[("counted_card", "80"), ("explanation_cash", "A coin short."), ("kept", "200")]].concat();
    let closed = closes(&desk, &whole).await;
    assert_eq!(closed.status, StatusCode::SEE_OTHER, "{}", closed.visible_text());
    let found: Vec<(String, i64, i64)> = sqlx::query_as(
        "SELECT method, expected, counted FROM day_closing_count WHERE method <> 'transfer' ORDER BY method",
    )
    .fetch_all(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(found, [("card".to_owned(), 8000, 8000), ("cash".to_owned(), 31_765, 31_740)]);
    let seen = desk.opens("/desk/closing").await.visible_text();
    for words in
        ["−£0.25: A coin short.", "£15.00 taken out for stamps", "1 to 3", "No payment, since Wed 14 Oct 2026 11:00"]
    {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    // what is closed is corrected no more, not even on its day
    let first: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM payment WHERE number = 1").fetch_one(shop.app.db.read()).await.unwrap();
    let late = [
        ("form_key", "l"),
        ("right_kind", "deposit"),
        ("right_method", "cash"),
        ("right_amount", "150"),
        ("right_reason", "Mistyped."),
    ];
    let refused = desk.sends(&format!("/desk/payments/{first}/correct"), &late).await;
    assert!(refused.visible_text().contains("closed"), "{}", refused.visible_text());
    // the next day begins with what was left
    shop.clock.set(Instant(shop.clock.now().0 + DAY_US));
    let desk = shop.desk().await;
    pays(&desk, &job, "d", "deposit", "cash", "10").await;
    let page = desk.opens("/desk/closing").await;
    assert!(page.visible_text().contains("£200.00 lay in the drawer") && page.visible_text().contains("£210.00"));
    // a payment that came while it was counted is shown first
    let stale = form(&page, "/desk/closing").with("counted_cash", "210");
    pays(&desk, &job, "e", "deposit", "card", "5").await;
    let seen = stale.with("counted_card", "5").sent_by(&desk).await;
    assert_eq!(seen.status, StatusCode::CONFLICT, "{}", seen.visible_text());
    let mut write = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE day_closing SET kept = 1").execute(&mut *write).await.is_err());
    assert!(sqlx::query("DELETE FROM day_closing_count").execute(&mut *write).await.is_err());
}

#[tokio::test]
async fn closings_part_the_payments_among_them_whatever_comes_between() {
    let shop = Shop::open().await;
    let job = shop.desk().await.checks_in("k").await;
    let what = prop::collection::vec((0_u8..5, 1_i64..50_000), 40);
    let history = what.new_tree(&mut TestRunner::default()).unwrap().current();
    for (step, (what, amount)) in history.iter().enumerate() {
        // the day goes on, and sessions end
        let desk = shop.desk().await;
        let (key, typed) = (format!("s{step}"), format!("{}.{:02}", amount / 100, amount % 100));
        match what {
            0 => {
                // before the first closing that is what came today
                let should_be = desk.opens("/desk/closing").await.all("td[data-label='Should be there']");
                let counted = should_be[0].trim_start_matches('£').to_owned();
                let closed = closes(&desk, &[("counted_cash", &counted), ("kept", "0")]).await;
                assert_eq!(closed.status, StatusCode::SEE_OTHER, "{}", closed.visible_text());
            }
            1 => shop.clock.set(Instant(shop.clock.now().0 + DAY_US / 3)),
            _ => pays(&desk, &job, &key, "deposit", "cash", &typed).await,
        }
    }
    let first: i64 = sqlx::query_scalar("SELECT coalesce(min(first_payment), 1) FROM day_closing")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let overlaps: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM payment WHERE number BETWEEN ? AND (SELECT coalesce(max(last_payment), 0) FROM day_closing)
         AND 1 <> (SELECT count(*) FROM day_closing WHERE number BETWEEN 1 AND 1000
                   AND payment.number BETWEEN first_payment AND last_payment)",
    )
    .bind(first)
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(overlaps, 0, "{history:?}");
    let sums: (i64, i64) = sqlx::query_as(
        "SELECT (SELECT coalesce(sum(taken - given_back), 0) FROM day_closing_count),
                (SELECT coalesce(sum(amount), 0) FROM payment
                 WHERE number BETWEEN ? AND (SELECT coalesce(max(last_payment), 0) FROM day_closing))",
    )
    .bind(first)
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(sums.0, sums.1, "{history:?}");
}

/// Rows of a journal, without the headings, by an independent reader of CSV.
fn read(csv: &str) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_reader(csv.trim_start_matches('\u{feff}').as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}

fn minor(typed: &str) -> i64 {
    if typed.is_empty() { 0 } else { typed.replace('.', "").parse().unwrap() }
}

#[tokio::test]
async fn the_journal_holds_each_document_once_and_both_its_sides_are_equal() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let line = [("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65")];
    desk.sends(&format!("{job}/work"), &line).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let yes = [("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    desk.sends(&format!("{quote}/answer"), &yes).await;
    pays(&desk, &job, "a", "deposit", "cash", "30").await;
    let first: uuid::Uuid = sqlx::query_scalar("SELECT id FROM payment").fetch_one(shop.app.db.read()).await.unwrap();
    let right = [
        ("form_key", "r"),
        ("right_kind", "deposit"),
        ("right_method", "card"),
        ("right_amount", "30"),
        ("right_reason", "By card."),
    ];
    assert_eq!(desk.sends(&format!("/desk/payments/{first}/correct"), &right).await.status, StatusCode::SEE_OTHER);
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = 'ready'").execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    let word = [("open_words", "Pays on Friday.")];
    for _ in 0..2 {
        assert_eq!(desk.sends(&format!("{job}/hand-over"), &word).await.status, StatusCode::SEE_OTHER);
        let back = [("back_reason", "The wrong one.")];
        assert_eq!(desk.sends(&format!("{job}/hand-over/take-back"), &back).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(desk.sends(&format!("{job}/hand-over"), &word).await.status, StatusCode::SEE_OTHER);
    pays(&desk, &job, "z", "balance", "cash", "48").await;
    let counted = [("counted_cash", "47.50"), ("counted_card", "30"), ("explanation_cash", "=1+1"), ("kept", "0")];
    assert_eq!(closes(&desk, &counted).await.status, StatusCode::SEE_OTHER);
    let days = [("from", "2026-10-14"), ("until", "2026-10-14")];
    let journal = owner.sends("/office/closings/journal", &days).await;
    assert_eq!(journal.status, StatusCode::OK, "{}", journal.visible_text());
    let rows = read(&journal.text);
    let mut documents: BTreeMap<String, Vec<&Vec<String>>> = BTreeMap::new();
    for row in &rows {
        documents.entry(row[1].clone()).or_default().push(row);
    }
    let names: Vec<&str> = documents.keys().map(String::as_str).collect();
    assert_eq!(names, ["C-1", "P-1", "P-2", "P-3", "P-4", "S-1", "S-1-back", "S-2", "S-2-back", "S-3"]);
    for (name, lines) in &documents {
        let (debit, credit): (i64, i64) =
            lines.iter().fold((0, 0), |(debit, credit), line| (debit + minor(&line[4]), credit + minor(&line[5])));
        assert_eq!(debit, credit, "{name}: {lines:?}");
    }
    // what each account stands at: 65.00 sold, 13.00 of tax, nothing owed, 47.50 and 30.00 there, 0.50 short
    let mut accounts: BTreeMap<&str, i64> = BTreeMap::new();
    for row in &rows {
        *accounts.entry(&row[2]).or_default() += minor(&row[4]) - minor(&row[5]);
    }
    let expected = [
        ("Card", 3000),
        ("Cash", 4750),
        ("Customers", 0),
        ("Difference", 50),
        ("Sales 20 %", -6500),
        ("VAT 20 %", -1300),
    ];
    assert_eq!(accounts.into_iter().collect::<Vec<_>>(), expected);
    assert!(rows.iter().any(|row| row[10] == "P-1" && row[1] == "P-2"), "{rows:?}");
    assert!(journal.text.contains("'=1+1"), "nothing reckons in a spreadsheet: CWE-1236");
    // no other day holds any of them
    let next = [("from", "2026-10-15"), ("until", "2026-10-20")];
    assert!(read(&owner.sends("/office/closings/journal", &next).await.text).is_empty());
    let wrong = [("from", "2026-10-15"), ("until", "2026-10-14")];
    assert_eq!(owner.sends("/office/closings/journal", &wrong).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

// Everything that happens to money in one hour, as the desk does it: the day closes to the penny
#[tokio::test]
async fn an_hour_at_the_counter_closes_to_the_penny() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    // a deposit before anything is quoted is held
    pays(&desk, &job, "deposit", "deposit", "cash", "30").await;
    assert!(desk.opens("/desk/owing").await.visible_text().contains("deposit held"));
    for (key, words, price) in [("w1", "Set it up", "65"), ("w2", "New strings", "18.35"), ("w3", "A new nut", "85")] {
        let line = [("form_key", key), ("service", ""), ("words", words), ("price", price)];
        assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
    }
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let lines: Vec<uuid::Uuid> =
        sqlx::query_scalar("SELECT id FROM work_line ORDER BY position").fetch_all(shop.app.db.read()).await.unwrap();
    let (one, other) = (lines[0].to_string(), lines[1].to_string());
    // by telephone: yes to two of three, 83.35 and a fifth of it, 16.67
    let mut said =
        vec![("answer", "some"), ("how", "telephone"), ("answered_by", "Maren"), ("line", &*one), ("line", &*other)];
    let asked = desk.sends(&format!("{quote}/answer"), &said).await;
    assert!(asked.visible_text().contains("Yes to 2 of 3 lines comes to £100.02 with tax"));
    let shown = asked.value("shown");
    said.push(("shown", &shown));
    assert_eq!(desk.sends(&format!("{quote}/answer"), &said).await.status, StatusCode::SEE_OTHER);
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = 'ready'").execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    // 54.00 is typed for 45.00, and put right
    pays(&desk, &job, "typo", "balance", "cash", "54").await;
    let mistyped: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM payment WHERE amount = 5400").fetch_one(shop.app.db.read()).await.unwrap();
    let page = desk.opens(&format!("{job}/hand-over")).await;
    let right = form(&page, &format!("/desk/payments/{mistyped}/correct"))
        .with("right_amount", "45")
        .with("right_reason", "Figures the wrong way round.");
    assert_eq!(right.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    // out of the door with 25.02 owed, and paid by card afterwards with a coin too much, which is given back
    let page = desk.opens(&format!("{job}/hand-over")).await;
    assert!(page.visible_text().contains("£25.02 is owed."), "{}", page.visible_text());
    let out = form(&page, &format!("{job}/hand-over")).with("open_words", "Pays by card at noon.");
    assert_eq!(out.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    assert!(desk.opens("/desk/owing").await.visible_text().contains("£25.02"));
    pays(&desk, &job, "card", "balance", "card", "26").await;
    pays(&desk, &job, "back", "refund", "cash", "0.98").await;
    assert!(desk.opens("/desk/owing").await.visible_text().contains("Nobody owes anything"));
    // 150.00 lay there; 30.00 and 45.00 came, 0.98 went
    let counted = [("float", "150"), ("counted_cash", "224.02"), ("counted_card", "26"), ("kept", "150")];
    let closed = closes(&desk, &counted).await;
    assert_eq!(closed.status, StatusCode::SEE_OTHER, "{}", closed.visible_text());
    let days = [("from", "2026-10-14"), ("until", "2026-10-14")];
    let mut accounts: BTreeMap<String, i64> = BTreeMap::new();
    for row in read(&owner.sends("/office/closings/journal", &days).await.text) {
        *accounts.entry(row[2].clone()).or_default() += minor(&row[4]) - minor(&row[5]);
    }
    let accounts: Vec<(&str, i64)> = accounts.iter().map(|(account, stands)| (account.as_str(), *stands)).collect();
    let expected = [("Card", 2600), ("Cash", 7402), ("Customers", 0), ("Sales 20 %", -8335), ("VAT 20 %", -1667)];
    assert_eq!(accounts, expected);
}
