//! Money month by month, what an hour earns, and who owes: every figure once more, by plain SQL.

use axum::http::StatusCode;
use thumbplane::records::{JobId, balance, job};

use super::figures::{asks, day, generated, pounds, rows};
use crate::support::{Shop, statements};

fn month(instant: &str) -> String {
    format!("strftime('%Y-%m', {})", day(instant).replace("AS INTEGER", "AS REAL"))
}

fn hours(minutes: i64) -> String {
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// The lines done that have the customer's yes, and the minutes of each stretch as corrected.
const DONE: &str = "SELECT * FROM work_line WHERE state = 'done'
    AND id IN (SELECT work_line_id FROM quote_line WHERE answer = 'agreed')";
const STRETCHES: &str = "SELECT entry.*, coalesce(
        (SELECT minutes FROM labour_correction AS one WHERE one.labour_entry_id = entry.id
            AND one.id = (SELECT max(id) FROM labour_correction AS all_of WHERE all_of.labour_entry_id = entry.id)),
        CAST(round((ended_at - started_at) / 60000000.0) AS INTEGER)) AS minutes,
        (SELECT service_id FROM work_line WHERE work_line.id = entry.work_line_id) AS service_id
    FROM labour_entry AS entry WHERE ended_at IS NOT NULL";

#[tokio::test]
async fn every_month_is_that_of_plain_sql() {
    for shop in [generated().await, Shop::with_story().await] {
        let page = shop.owner().await.opens("/office/money?months=24").await;
        assert_eq!(page.status, StatusCode::OK);
        let shown = rows(&page, "#months");
        assert_eq!(shown.len(), 24);
        let mut sums = vec![0_i64; 8];
        for (row, place) in shown.iter().zip(0..) {
            let key = format!("{}-{:02}", 2024 + (10 + place) / 12, (10 + place) % 12 + 1);
            let sum = async |sql: String| -> i64 { asks::<(i64,)>(&shop, &sql).await[0].0 };
            let newest = "revision = (SELECT max(revision) FROM quote AS other WHERE other.job_id = quote.job_id";
            let found = [
                sum(format!(
                    "SELECT coalesce(sum(net), 0) FROM quote WHERE {newest}) AND {} = '{key}'",
                    month("made_at")
                ))
                .await,
                sum(format!(
                    "SELECT coalesce(sum(price), 0) FROM quote_line JOIN quote ON quote.id = quote_id
                     WHERE quote.answer = 'agreed' AND quote_line.answer = 'agreed' AND {newest} AND other.answer = 'agreed')
                       AND {} = '{key}'",
                    month("answered_at")
                ))
                .await,
                sum(format!("SELECT coalesce(sum(price), 0) FROM ({DONE}) WHERE {} = '{key}'", month("done_at"))).await,
                sum(format!(
                    "SELECT coalesce(sum(amount), 0) FROM payment WHERE amount > 0 AND {} = '{key}'",
                    month("taken_at")
                ))
                .await,
                -sum(format!(
                    "SELECT coalesce(sum(amount), 0) FROM payment WHERE amount < 0 AND {} = '{key}'",
                    month("taken_at")
                ))
                .await,
                sum(format!("SELECT coalesce(sum(minutes), 0) FROM ({DONE}) WHERE {} = '{key}'", month("done_at"))).await,
                sum(format!(
                    "SELECT coalesce(sum(minutes), 0) FROM ({STRETCHES}) WHERE {} = '{key}'",
                    month("started_at")
                ))
                .await,
            ];
            let said = [
                pounds(found[0]),
                pounds(found[1]),
                pounds(found[2]),
                pounds(found[3]),
                pounds(found[4]),
                hours(found[5]),
                hours(found[6]),
            ];
            let shown = [&row[1], &row[2], &row[3], &row[4], &row[5], &row[7], &row[8]];
            assert_eq!(shown, said.each_ref(), "{key}: {row:?}");
            sums.iter_mut().zip(found).for_each(|(sum, found)| *sum += found);
        }
        let total = page.all("#months tfoot td");
        assert_eq!(total[1..4], [pounds(sums[0]), pounds(sums[1]), pounds(sums[2])]);
        assert_eq!([&total[7], &total[8]], [&hours(sums[5]), &hours(sums[6])]);
        assert!(sums[3] > 0 && sums[6] > 0, "{sums:?}");

        // by service: what was done, what was worked, and what an hour earned
        let expected: Vec<(String, i64, i64, i64, i64)> = asks(
            &shop,
            &format!(
                "SELECT name, sum(lines), sum(price), sum(sold), sum(worked) FROM (
                     SELECT coalesce((SELECT name FROM service WHERE id = service_id), 'in own words') AS name, 1 AS lines,
                            price, minutes AS sold, 0 AS worked FROM ({DONE}) WHERE {0} >= '2024-11'
                     UNION ALL
                     SELECT coalesce((SELECT name FROM service WHERE id = service_id), 'in own words'), 0, 0, 0, minutes
                     FROM ({STRETCHES}) WHERE {1} >= '2024-11')
                 GROUP BY name ORDER BY name",
                month("done_at"),
                month("started_at")
            ),
        )
        .await;
        let mut shown = rows(&page, "#services");
        shown.sort();
        assert_eq!(shown.len(), expected.len());
        for (row, (name, lines, price, sold, worked)) in shown.iter().zip(expected) {
            let an_hour = if worked > 0 {
                // halves go up, by whole numbers
                pounds((price * 120 + worked) / (2 * worked))
            } else {
                "no time clocked".to_owned()
            };
            assert_eq!(*row, [name, lines.to_string(), pounds(price), hours(sold), hours(worked), an_hour]);
        }
        let people: Vec<(String, i64)> = asks(
            &shop,
            &format!(
                "SELECT staff.name, sum(minutes) FROM ({STRETCHES}) AS stretch JOIN staff ON staff.id = stretch.staff_id
                 WHERE {} >= '2024-11' GROUP BY staff.name ORDER BY staff.name",
                month("started_at")
            ),
        )
        .await;
        let mut shown: Vec<(String, String)> =
            rows(&page, "#people").into_iter().map(|row| (row[0].clone(), row[4].clone())).collect();
        shown.sort();
        assert_eq!(shown, people.into_iter().map(|(name, minutes)| (name, hours(minutes))).collect::<Vec<_>>());
    }
}

#[tokio::test]
async fn the_account_of_a_job_is_its_balance_however_it_came_about() {
    // of an old file, worked out by the migration; and of the story, kept deed by deed
    for shop in [generated().await, Shop::with_story().await] {
        let jobs: Vec<(uuid::Uuid, Option<i64>)> =
            asks(&shop, "SELECT job.id, owed FROM job LEFT JOIN job_account ON job_account.job_id = job.id").await;
        let mut owing = 0;
        for (id, kept) in &jobs {
            let job = job::find(shop.app.db.read(), JobId(*id)).await.unwrap();
            let balance = balance::load(shop.app.db.read(), &job).await.unwrap();
            let owed = match balance.due {
                balance::Due::Owed(amount) => amount.0,
                _ => 0,
            };
            assert_eq!(kept.unwrap_or(0), owed, "{}", job.number);
            owing += i64::from(owed > 0);
        }
        let page = shop.owner().await.opens("/office/money").await;
        let shown = rows(&page, "#owing");
        assert_eq!(shown.len(), usize::try_from(owing.min(60)).unwrap());
        let (now, later): (i64, i64) = asks(
            &shop,
            "SELECT coalesce(sum(iif(stage IN ('ready', 'collected', 'closed-unrepaired'), owed, 0)), 0),
                    coalesce(sum(iif(stage IN ('ready', 'collected', 'closed-unrepaired'), 0, owed)), 0)
             FROM job_account JOIN job ON job.id = job_id",
        )
        .await[0];
        let words = page.all("#owing > p")[0].clone();
        assert!(words.starts_with(&pounds(now)) && words.contains(&pounds(later)), "{words}");
    }
}

#[tokio::test]
async fn a_yes_a_no_and_a_payment_change_what_is_owed_at_once() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let owes = async || rows(&owner.opens("/office/money").await, "#owing");
    for (key, words, price) in [("w1", "Set up", "65"), ("w2", "New strings", "20.05")] {
        let line = [("form_key", key), ("service", ""), ("words", words), ("price", price)];
        assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
    }
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    assert!(owes().await.is_empty(), "nothing is agreed");
    let yes = [("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    assert_eq!(desk.sends(&format!("{quote}/answer"), &yes).await.status, StatusCode::SEE_OTHER);
    // 85.05 and a fifth of it, 17.01
    assert_eq!(owes().await[0][4], "£102.06");
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "20")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    assert_eq!(owes().await[0][4], "£82.06");
    let line: uuid::Uuid =
        asks::<(uuid::Uuid,)>(&shop, "SELECT id FROM work_line WHERE words = 'New strings'").await[0].0;
    let no = [("reason", "Maren rang: no strings.")];
    let declined = desk.sends(&format!("{job}/work/{line}/decline"), &no).await;
    assert_eq!(declined.status, StatusCode::SEE_OTHER, "{}", declined.visible_text());
    assert_eq!(owes().await[0][4], "£58.00");
    let rest = [("form_key", "r"), ("kind", "balance"), ("method", "card"), ("amount", "58")];
    desk.sends(&format!("{job}/payment"), &rest).await;
    assert!(owes().await.is_empty());
}

#[tokio::test]
async fn the_page_asks_as_much_of_two_years_as_of_three_months() {
    let shop = generated().await;
    let owner = shop.owner().await;
    owner.opens("/office/money").await;
    let (_, few) = statements(owner.opens("/office/money?months=3")).await;
    let (_, many) = statements(owner.opens("/office/money?months=36")).await;
    assert_eq!(few.len(), many.len());
    assert!(many.len() <= 10, "{many:#?}");
}

#[tokio::test]
async fn what_is_to_be_ordered_is_a_list_on_paper() {
    let shop = Shop::with_story().await;
    let owner = shop.owner().await;
    let page = owner.opens("/office/to-order").await;
    assert!(page.has("main.sheet"));
    let expected: Vec<(String, i64, i64)> = asks(
        &shop,
        "SELECT name, on_hand / 1000, reorder_at / 1000 FROM part WHERE archived = 0 AND on_hand <= reorder_at ORDER BY name_folded",
    )
    .await;
    assert!(!expected.is_empty());
    let shown = rows(&page, "table");
    assert_eq!(shown.len(), expected.len());
    for (row, (name, there, least)) in shown.iter().zip(expected) {
        let order: i64 = row[3].split(' ').next().unwrap().parse().unwrap();
        assert_eq!((row[0].as_str(), order), (name.as_str(), (2 * least - there).max(1)), "{row:?}");
    }
}
