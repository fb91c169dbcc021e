//! Who is to be told what: one list for the counter, the day and the owner's evening, and when a call is due again.

use axum::http::StatusCode;
use thumbplane::quantity::Instant;

use crate::support::form::{Form, form_by};
use crate::support::{Answer, MORNING, Person, Shop};

const DAY: i64 = 86_400_000_000;

async fn changes(shop: &Shop, sql: &'static str) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::raw_sql(sqlx::AssertSqlSafe(sql)).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

/// Brings every job to *ready* at a moment.
async fn ready(shop: &Shop, at: Instant) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = 'ready', stage_since = ?").bind(at.0).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

async fn list(shop: &Shop, day: i64) -> Answer {
    shop.clock.set(Instant(MORNING.0 + day * DAY));
    shop.desk().await.opens("/desk/to-tell").await
}

/// The form of the first person on the list.
fn first(page: &Answer) -> Form {
    form_by(page, ".telling form")
}

async fn says(desk: &Person<'_>, form: Form, outcome: &str) {
    let answer = form.with("outcome", outcome).sent_by(desk).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.visible_text());
}

#[tokio::test]
async fn a_call_that_was_made_is_not_due_before_the_shops_own_days_and_comes_back_while_it_is_so() {
    let shop = Shop::open().await;
    shop.desk().await.checks_in("k").await;
    ready(&shop, MORNING).await;
    // no answer: tomorrow; word left: in three days; told: in a week
    for (from, outcome, days) in [(0, "no-answer", 1), (1, "left-word", 3), (4, "told", 7)] {
        let page = list(&shop, from).await;
        assert_eq!(page.all(".telling").len(), 1, "day {from}");
        says(&shop.desk().await, first(&page), outcome).await;
        let told = list(&shop, from + days - 1).await;
        assert!(!told.has(".telling"), "{outcome}, on the day before");
        assert!(told.all("#later tbody")[0].contains(outcome.split('-').next_back().unwrap()), "{outcome}");
        assert!(list(&shop, from + days).await.has(".telling"), "{outcome}: due again");
    }
    // the owner's own days
    let owner = shop.owner().await;
    let form = owner.opens("/office/telling").await.form("/office/telling");
    assert_eq!(form.value("after_told"), "7");
    assert!(owner.sends_form("/office/telling", &form, &[("after_told", "0")]).await.has("#error-after_told"));
    let saved = owner.sends_form("/office/telling", &form, &[("after_told", "2")]).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER);
    assert!(list(&shop, 6).await.has(".telling"));
    // once it is handed over nobody is told that it is ready
    changes(&shop, "UPDATE job SET stage = 'collected'").await;
    assert!(!list(&shop, 6).await.has(".telling"));
}

#[tokio::test]
async fn whoever_likes_letters_or_mails_stands_on_the_list_too_and_every_list_says_the_same() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    changes(&shop, "UPDATE customer SET reach_by = 'email'").await;
    ready(&shop, MORNING).await;
    let page = list(&shop, 2).await;
    assert!(
        page.all(".telling")[0].contains("ready for 2 days") && page.has("a[href='mailto:maren@oakhollow.example']")
    );
    assert_eq!(first(&page).value("how"), "email");
    let day = shop.desk().await.opens("/desk/day").await;
    assert!(day.all(".tally li").contains(&"1 to tell".to_owned()) && day.visible_text().contains("ready for 2 days"));
    let evening = shop.owner().await.opens("/office").await;
    assert!(evening.all("#tell")[0].contains("ready for 2 days"), "{:?}", evening.all("#tell"));
    says(&shop.desk().await, first(&page).with("note", "comes on Friday"), "told").await;
    assert!(shop.desk().await.opens("/desk/day").await.all(".tally li").contains(&"0 to tell".to_owned()));
    assert!(!shop.owner().await.opens("/office").await.all("#tell")[0].contains("ready for"));
    // and the job's history keeps it
    let history = shop.desk().await.opens(&job).await.visible_text();
    assert!(
        history.contains("customer told") && history.contains("it is ready, by e-mail: comes on Friday"),
        "{history}"
    );
}

#[tokio::test]
async fn a_quote_a_moved_promise_a_late_job_and_money_owed_each_stand_there_until_it_is_otherwise() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let lines = |page: &Answer| page.all(".telling-line");
    assert!(lines(&list(&shop, 0).await).is_empty());
    // a quote
    changes(&shop, "UPDATE job SET stage = 'measured'").await;
    desk.sends(&format!("{job}/work"), &[("form_key", "w"), ("service", ""), ("words", "Set up"), ("price", "45")])
        .await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    assert!(lines(&list(&shop, 0).await)[0].contains("the quote of"));
    let yes = [("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    desk.sends(&format!("{quote}/answer"), &yes).await;
    assert!(lines(&list(&shop, 0).await).is_empty());
    // the promise, moved from the queue
    let queue = job.replace("/desk/jobs/", "/office/queue/");
    let version = desk.opens(&job).await.value("version");
    let day = [("form_key", "d"), ("version", version.as_str()), ("day", "2026-11-05")];
    assert_eq!(owner.sends(&format!("{queue}/promise"), &day).await.status, StatusCode::SEE_OTHER);
    let moved = list(&shop, 0).await;
    assert!(
        lines(&moved)[0].contains("promised for Thu 5 Nov 2026 now, instead of Wed 28 Oct 2026"),
        "{:?}",
        lines(&moved)
    );
    says(&desk, first(&moved), "no-answer").await;
    assert!(!list(&shop, 0).await.has(".telling"));
    let again = list(&shop, 1).await;
    says(&shop.desk().await, first(&again), "told").await;
    assert!(lines(&list(&shop, 15).await).is_empty(), "a day is told once");
    // 5 November is past
    let late = list(&shop, 23).await;
    assert!(lines(&late)[0].contains("was promised for Thu 5 Nov 2026 and is not ready"), "{:?}", lines(&late));
    // home, and not paid
    changes(&shop, "UPDATE job SET stage = 'collected', stage_since = stage_since + 23 * 86400000000").await;
    assert!(lines(&list(&shop, 24).await).is_empty(), "not on the day after");
    let owed = list(&shop, 30).await;
    assert!(lines(&owed)[0].contains("is owed since it went home"), "{:?}", lines(&owed));
    let pay = [("form_key", "m"), ("kind", "balance"), ("method", "card"), ("amount", "54")];
    assert_eq!(shop.desk().await.sends(&format!("{job}/payment"), &pay).await.status, StatusCode::SEE_OTHER);
    assert!(lines(&list(&shop, 31).await).is_empty());
}

#[tokio::test]
async fn care_is_told_once_a_time_it_is_due_and_only_to_whoever_agreed() {
    let shop = Shop::open().await;
    shop.desk().await.checks_in("k").await;
    changes(
        &shop,
        "UPDATE job SET stage = 'collected';
         INSERT INTO care_plan (id, instrument_id, kind, every_months, last_done_on, next_due_on)
         SELECT randomblob(16), id, 'oil-tuners', 12, '2025-10-20', '2026-10-20' FROM instrument",
    )
    .await;
    let page = list(&shop, 0).await;
    assert!(page.all(".telling-line")[0].contains("care due on Tue 20 Oct 2026"), "{:?}", page.all(".telling-line"));
    changes(&shop, "UPDATE customer SET reminders_agreed_on = NULL").await;
    assert!(!list(&shop, 0).await.has(".telling"));
    changes(&shop, "UPDATE customer SET reminders_agreed_on = '2026-10-14'").await;
    says(&shop.desk().await, first(&list(&shop, 0).await), "no-answer").await;
    assert!(!list(&shop, 0).await.has(".telling"));
    let again = list(&shop, 1).await;
    says(&shop.desk().await, first(&again), "told").await;
    assert!(!list(&shop, 100).await.has(".telling"), "told once");
    changes(&shop, "UPDATE care_plan SET next_due_on = '2027-10-20'").await;
    assert!(list(&shop, 365).await.has(".telling"), "a year later it is another time");
}

#[tokio::test]
async fn a_wrong_number_stays_on_the_list_until_the_customers_record_is_another() {
    let shop = Shop::open().await;
    shop.desk().await.checks_in("k").await;
    ready(&shop, MORNING).await;
    says(&shop.desk().await, first(&list(&shop, 0).await), "wrong-number").await;
    let page = list(&shop, 0).await;
    assert!(page.all(".telling .bad")[0].contains("this was a wrong number"), "{}", page.visible_text());
    changes(&shop, "UPDATE customer SET telephone = '01632 960222', version = version + 1").await;
    let mended = list(&shop, 0).await;
    assert!(mended.has(".telling") && !mended.has(".telling .bad"));
}

#[tokio::test]
async fn two_who_call_at_once_write_one_line_each_and_a_form_that_says_nothing_comes_back_whole() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    ready(&shop, MORNING).await;
    let page = list(&shop, 0).await;
    let none = first(&page).without("subject").with("note", "her son answered").with("outcome", "told");
    let back = none.sent_by(&desk).await;
    assert_eq!(back.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(back.visible_text().contains("Tick what it was about.") && back.value("note") == "her son answered");
    let form = first(&page).with("outcome", "told");
    for _ in 0..2 {
        assert_eq!(form.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(shop.count("telling").await, 1, "pressed twice");
    let mut tx = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE telling SET outcome = 'no-answer'").execute(&mut *tx).await.is_err());
    assert!(sqlx::query("DELETE FROM telling").execute(&mut *tx).await.is_err());
    drop(tx);
    changes(&shop, "UPDATE job SET stage = 'final-check'").await;
    let page_of_before = first(&page).with("form_key", "other").with("outcome", "told").sent_by(&desk).await;
    assert_eq!(page_of_before.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page_of_before.visible_text().contains("stands on the list no more"));
}
