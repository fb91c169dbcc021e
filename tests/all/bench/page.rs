//! What a look at the bench costs: few statements and one plan, however much was measured and noted.

use super::again::{enters, says_done};
use super::final_check::at_the_final_check;
use super::{high_saddle, sends, to_bench};
use crate::support::Shop;
use crate::support::log::listen;

/// Statements of one page, with those that find out who asks and how the shop is set up.
const MOST_STATEMENTS: usize = 10;

/// Opens a page and answers how many plans were worked out for it.
async fn opened(shop: &Shop, path: &str, when: &str) -> usize {
    let ivo = shop.bench().await;
    // the settings are read once until they change
    ivo.opens("/bench").await;
    let (page, logged) = listen(ivo.opens(path)).await;
    assert!(page.status.is_success(), "{when}: {}", page.text);
    let statements = &logged.statements;
    // the look itself: whose session, the job and its instrument
    assert!(statements.len() >= 3, "{when}: the log was not heard: {statements:#?}");
    assert!(statements.len() <= MOST_STATEMENTS, "{when}: {} statements: {statements:#?}", statements.len());
    logged.lines.iter().filter(|line| line.contains("plan.worked_out")).count()
}

#[tokio::test]
async fn the_bench_page_costs_ten_statements_and_one_plan_from_the_first_look_to_the_last() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    assert_eq!(opened(&shop, &job, "before the first reading").await, 0);
    enters(&ivo, &job, ["e1", "height-12_1", "2.50", ""]).await;
    assert_eq!(opened(&shop, &job, "a first value").await, 1);
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert_eq!(opened(&shop, &job, "a set").await, 1);
    says_done(&ivo, &job).await;
    assert_eq!(opened(&shop, &job, "a step is done").await, 1);
    let page = ivo.opens(&job).await;
    enters(&ivo, &job, ["e2", "height-12_1", "1.92", &page.value("after")]).await;
    assert_eq!(opened(&shop, &job, "a value after the step").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/plan"), "the plan by itself").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/card"), "the card").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/saddle"), "the saddle").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/working"), "the workings").await, 1);
}

#[tokio::test]
async fn a_job_with_final_readings_notes_parts_and_photographs_costs_no_more() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let ivo = shop.bench().await;
    ivo.sends(&format!("{job}/notes"), &[("form_key", "n"), ("hands", "The nut is soft.")]).await;
    assert_eq!(opened(&shop, &job, "measured twice").await, 1);
    let shop = Shop::with_story().await;
    let jobs: Vec<uuid::Uuid> = sqlx::query_scalar("SELECT id FROM job").fetch_all(shop.app.db.read()).await.unwrap();
    assert!(jobs.len() > 10);
    for job in jobs {
        assert!(opened(&shop, &format!("/bench/jobs/{job}"), &job.to_string()).await <= 1);
    }
}

#[tokio::test]
async fn a_plan_under_way_follows_an_instrument_that_was_corrected_meanwhile() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    says_done(&ivo, &job).await;
    assert_eq!(opened(&shop, &job, "as it was asked").await, 1);
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE instrument SET body_fret = 12").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    // the set was planned for another neck: its plan is worked out anew, and that of what is under way
    assert_eq!(opened(&shop, &job, "another body joint").await, 2);
}
