//! `/desk/jobs/{id}/put-right`: a job that was written down for the wrong customer or instrument.

use axum::http::StatusCode;
use uuid::Uuid;

use crate::support::{Shop, check_in_form};

async fn id(shop: &Shop, sql: &'static str) -> String {
    sqlx::query_scalar::<_, Uuid>(sql).fetch_one(shop.app.db.read()).await.unwrap().to_string()
}

async fn number(shop: &Shop, sql: &'static str) -> i64 {
    sqlx::query_scalar(sql).fetch_one(shop.app.db.read()).await.unwrap()
}

/// Maren's job, and Jory with a ukulele of his own that was here and went home.
async fn two_customers(shop: &Shop) -> (String, String) {
    let desk = shop.desk().await;
    let mut jory = check_in_form("jory");
    jory.retain(|(name, _)| {
        !["name", "telephone", "email", "family", "maker", "model", "serial", "rack"].contains(name)
    });
    jory.extend([("name", "Jory Pennock"), ("family", "ukulele"), ("maker", "Quillfeather"), ("serial", "Q-7")]);
    let his = desk.sends("/desk/check-in", &jory).await.location.unwrap();
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "Changed his mind.")];
    desk.sends(&format!("{}/stage", his.trim_end_matches("/ticket")), &home).await;
    let job = desk.checks_in("maren").await;
    (job, id(shop, "SELECT id FROM customer WHERE name = 'Jory Pennock'").await)
}

#[tokio::test]
async fn a_job_under_the_wrong_name_goes_to_the_right_one_and_says_so_on_paper() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let (job, jory) = two_customers(&shop).await;
    let path = format!("{job}/put-right");
    assert!(desk.opens(&job).await.has(&format!("a[href='{path}']")), "the job's page leads there");
    let found = desk.opens(&format!("{path}?find=pennock")).await;
    assert!(found.has(&format!("a[href*='customer={jory}']")), "{}", found.visible_text());
    let page = desk.opens(&format!("{path}?customer={jory}")).await;
    let form = page.form(&path);
    let silent = desk.sends_form(&path, &form, &[("instrument", "along"), ("reason", "")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY);
    let done = desk.sends_form(&path, &form, &[("instrument", "along"), ("reason", "Two in one morning.")]).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
    let right = "SELECT count(*) FROM job JOIN instrument ON instrument.id = job.instrument_id
                 JOIN customer ON customer.id = job.customer_id AND customer.id = instrument.customer_id
                 WHERE job.number = '26-0002' AND customer.name = 'Jory Pennock' AND instrument.serial = 'TW-4471'";
    assert_eq!(number(&shop, right).await, 1);
    assert_eq!(shop.count("change_of_hands").await, 0, "it was never hers");
    assert_eq!(
        number(&shop, "SELECT link_number FROM job WHERE number = '26-0002'").await,
        1,
        "her paper opens nothing of his"
    );
    let ticket = desk.opens(&format!("{job}/ticket")).await.visible_text();
    assert!(ticket.contains("Corrected on Wed 14 Oct 2026") && ticket.contains("Jory Pennock"), "{ticket}");
    let history = desk.opens(&job).await.visible_text();
    assert!(history.contains("from Maren Oakhollow to Jory Pennock: Two in one morning."), "{history}");
}

#[tokio::test]
async fn a_job_with_the_wrong_instrument_gets_the_right_one() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let (job, jory) = two_customers(&shop).await;
    let (path, ukulele) =
        (format!("{job}/put-right"), id(&shop, "SELECT id FROM instrument WHERE serial = 'Q-7'").await);
    let page = desk.opens(&format!("{path}?customer={jory}")).await;
    let form = page.form(&path);
    let done = desk.sends_form(&path, &form, &[("instrument", &ukulele), ("reason", "Wrong line pressed.")]).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
    let his = "SELECT count(*) FROM job JOIN instrument ON instrument.id = job.instrument_id
               WHERE job.number = '26-0002' AND instrument.serial = 'Q-7'";
    assert_eq!(number(&shop, his).await, 1);
    // its earlier stay is now the ukulele's
    assert_eq!(
        number(&shop, "SELECT count(*) FROM job WHERE number = '26-0002' AND earlier_job_id IS NOT NULL").await,
        1
    );
    // a new one of hers: what we do not know yet is written down there
    let maren = id(&shop, "SELECT id FROM customer WHERE name = 'Maren Oakhollow'").await;
    let page = desk.opens(&format!("{path}?customer={maren}")).await;
    let form = page.form(&path);
    let typed = [
        ("instrument", "new"),
        ("family", "mandolin"),
        ("maker", "Weirside"),
        ("serial", "M-1"),
        ("reason", "Hers after all."),
    ];
    let done = desk.sends_form(&path, &form, &typed).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
    let hers = "SELECT count(*) FROM job JOIN instrument ON instrument.id = job.instrument_id
                JOIN customer ON customer.id = job.customer_id AND customer.id = instrument.customer_id
                WHERE job.number = '26-0002' AND instrument.serial = 'M-1' AND customer.name = 'Maren Oakhollow'";
    assert_eq!(number(&shop, hers).await, 1);
}

#[tokio::test]
async fn what_is_in_the_house_under_another_number_is_not_put_on_a_second_job() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let (job, _) = two_customers(&shop).await;
    let other = desk.checks_in("again").await;
    let path = format!("{other}/put-right");
    let theirs = id(&shop, "SELECT instrument_id FROM job WHERE number = '26-0002'").await;
    let maren = id(&shop, "SELECT customer_id FROM job WHERE number = '26-0002'").await;
    let fields = [("version", "1"), ("customer", maren.as_str()), ("instrument", &theirs), ("reason", "Slip.")];
    let refused = desk.sends(&path, &fields).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.visible_text().contains("26-0002"), "{}", refused.visible_text());
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "Gone.")];
    desk.sends(&format!("{job}/stage"), &home).await;
    let left = desk
        .sends(
            &format!("{job}/put-right"),
            &[("version", "2"), ("customer", &maren), ("instrument", "along"), ("reason", "Slip.")],
        )
        .await;
    assert_eq!(left.status, StatusCode::UNPROCESSABLE_ENTITY, "what has left is history: {}", left.visible_text());
}
