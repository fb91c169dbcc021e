//! What services truly take: the shrinkage once more by plain SQL, what is left out, and an estimate that is taken.

use axum::http::StatusCode;

use super::figures::{asks, generated, rows};
use crate::support::Shop;

/// Of each service the listed minutes and those clocked on each line done that is not left out, newest first.
const CLOCKED: &str = "SELECT service.name, service.minutes, (
        SELECT sum(coalesce(
            (SELECT minutes FROM labour_correction AS one WHERE one.labour_entry_id = entry.id ORDER BY id DESC LIMIT 1),
            CAST(round((ended_at - started_at) / 60000000.0) AS INTEGER)))
        FROM labour_entry AS entry WHERE entry.work_line_id = line.id AND ended_at IS NOT NULL) AS clocked
    FROM service JOIN work_line AS line ON line.service_id = service.id
    WHERE line.state = 'done' AND line.id NOT IN (SELECT work_line_id FROM minutes_left_out WHERE taken_back_at IS NULL)
    ORDER BY service.name";

/// Bühlmann's estimators as the textbook has them, over (service, listed, clocked).
fn true_minutes(lines: &[(String, i64, Option<i64>)]) -> Vec<(String, i64, usize, f64, f64)> {
    let mut names: Vec<&str> = lines.iter().map(|(name, ..)| name.as_str()).collect();
    names.dedup();
    let groups: Vec<(&str, i64, Vec<f64>)> = names
        .iter()
        .map(|name| {
            let own = || lines.iter().filter(|line| line.0 == *name);
            let logs = own().filter_map(|line| Some((line.2? as f64 / line.1 as f64).ln())).collect();
            (*name, own().next().unwrap().1, logs)
        })
        .collect();
    let known: Vec<&Vec<f64>> = groups.iter().map(|group| &group.2).filter(|logs| !logs.is_empty()).collect();
    let (g, n): (f64, f64) = (known.len() as f64, known.iter().map(|logs| logs.len() as f64).sum());
    let mean = |logs: &[f64]| logs.iter().sum::<f64>() / logs.len() as f64;
    let (within, between, house) = if known.len() < 5 || n < g + 10.0 {
        (0.12, 0.04, 0.0)
    } else {
        let grand = known.iter().flat_map(|logs| logs.iter()).sum::<f64>() / n;
        let ssw: f64 = known.iter().map(|logs| logs.iter().map(|log| (log - mean(logs)).powi(2)).sum::<f64>()).sum();
        let ssb: f64 = known.iter().map(|logs| logs.len() as f64 * (mean(logs) - grand).powi(2)).sum();
        let within = ssw / (n - g);
        let n0 = (n - known.iter().map(|logs| (logs.len() as f64).powi(2)).sum::<f64>() / n) / (g - 1.0);
        let between = ((ssb / (g - 1.0) - within) / n0).max(0.0);
        assert!(between > 0.0);
        let z = |logs: &[f64]| logs.len() as f64 / (logs.len() as f64 + within / between);
        let weights: f64 = known.iter().map(|logs| z(logs)).sum();
        (within, between, known.iter().map(|logs| z(logs) * mean(logs)).sum::<f64>() / weights)
    };
    groups
        .into_iter()
        .map(|(name, listed, logs)| {
            let z = logs.len() as f64 / (logs.len() as f64 + within / between);
            let own = if logs.is_empty() { house } else { mean(&logs) };
            (name.to_owned(), listed, logs.len(), z, listed as f64 * (house + z * (own - house)).exp())
        })
        .collect()
}

#[tokio::test]
async fn true_minutes_are_those_of_the_stated_formula() {
    for shop in [generated().await, Shop::with_story().await] {
        let page = shop.owner().await.opens("/office/minutes").await;
        assert_eq!(page.status, StatusCode::OK);
        let lines: Vec<(String, i64, Option<i64>)> = asks(&shop, CLOCKED).await;
        let mut shown = rows(&page, "main > .scroll table");
        shown.sort();
        let expected = true_minutes(&lines);
        assert_eq!(shown.len(), expected.len());
        for (row, (name, listed, jobs, z, minutes)) in shown.iter().zip(&expected) {
            assert!(row[0].starts_with(name.as_str()), "{row:?}");
            assert_eq!(row[1], format!("{listed} min"));
            assert_eq!(row[2], format!("{minutes:.0} min"), "{name}");
            assert_eq!(row[5].split(' ').next().unwrap(), jobs.to_string(), "{name}");
            assert_eq!(row[6], format!("{:.0} %", z * 100.0), "{name}");
            let without = lines.iter().filter(|line| line.0 == *name && line.2.is_none()).count();
            assert_eq!(row[5].contains("without time"), without > 0, "{row:?}");
        }
        // services that nobody did are named, and no number is made up for them
        let never = page.all("main > p.small").join(" ");
        assert!(never.contains("Never done yet"), "{never}");
    }
}

#[tokio::test]
async fn a_line_is_left_out_with_a_reason_kept_and_counted_again() {
    let shop = generated().await;
    let owner = shop.owner().await;
    let list = owner.opens("/office/minutes").await;
    assert!(list.has(".badge.waiting"), "a clock that was forgotten is called unusual");
    // the service with the most unusual of all lines
    let (service, line): (uuid::Uuid, uuid::Uuid) = asks(
        &shop,
        "SELECT service_id, work_line.id FROM work_line JOIN labour_entry ON work_line_id = work_line.id
         WHERE service_id IS NOT NULL AND labour_entry.id NOT IN (SELECT labour_entry_id FROM labour_correction)
         ORDER BY 1.0 * (ended_at - started_at) / minutes DESC LIMIT 1",
    )
    .await[0];
    let path = format!("/office/minutes/{service}");
    let page = owner.opens(&path).await;
    let table = rows(&page, "#lines table");
    assert!(table[0][3].contains("unusually long, score"), "unusual ones first: {:?}", table[0]);
    let (lines, weight) = (table.len(), page.all("#suggestion li")[2].clone());

    // without a reason it is not left out, and the form comes back
    let out = format!("/office/minutes/lines/{line}/leave-out");
    let service = service.to_string();
    let refused = owner.sends(&out, &[("service", &service), ("reason", " ")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.has(&format!("#error-reason_{line}")), "{}", refused.visible_text());
    for _ in 0..2 {
        let done = owner.sends(&out, &[("service", &service), ("reason", "The clock ran over lunch.")]).await;
        assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
    }
    let page = owner.opens(&path).await;
    assert_eq!(rows(&page, "#lines table").len(), lines - 1);
    assert_ne!(page.all("#suggestion li")[2], weight);
    let left_out = rows(&page, "#left-out table");
    assert!(left_out.len() == 1 && left_out[0][3] == "The clock ran over lunch. – Ottilie", "{left_out:?}");
    // what is left out weighs nothing, and its time still counts as worked
    let lines_now: Vec<(String, i64, Option<i64>)> = asks(&shop, CLOCKED).await;
    let expected = true_minutes(&lines_now);
    let shown = rows(&owner.opens("/office/minutes").await, "main > .scroll table");
    for (name, _, jobs, _, minutes) in expected {
        let row = shown.iter().find(|row| row[0].starts_with(&name)).unwrap();
        assert_eq!(
            (row[2].clone(), row[5].split(' ').next().unwrap()),
            (format!("{minutes:.0} min"), &*jobs.to_string())
        );
    }

    let back = format!("/office/minutes/lines/{line}/take-back");
    for _ in 0..2 {
        assert_eq!(owner.sends(&back, &[]).await.status, StatusCode::SEE_OTHER);
    }
    let page = owner.opens(&path).await;
    assert_eq!((rows(&page, "#lines table").len(), page.all("#suggestion li")[2].clone()), (lines, weight));
    // who did it stands in the books: once each
    let kept: Vec<(String, i64)> =
        asks(&shop, "SELECT deed, count(*) FROM event WHERE deed LIKE 'minutes %' GROUP BY deed ORDER BY deed").await;
    assert_eq!(kept, [("minutes counted again".to_owned(), 1), ("minutes left out".to_owned(), 1)]);
}

/// Thirty lines of a service that is listed at an hour, each clocked at an hour and a half.
async fn slow_service(shop: &Shop) -> (uuid::Uuid, String) {
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let mut tx = shop.app.db.write().await.unwrap();
    let sql = "
        UPDATE service SET minutes = 60 WHERE key = 'setup';
        CREATE TEMP TABLE thirty (i INTEGER PRIMARY KEY);
        WITH RECURSIVE counted (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM counted WHERE i < 29) INSERT INTO thirty SELECT i FROM counted;
        INSERT INTO work_line (id, job_id, service_id, position, words, minutes, price, tax_class, state, done_by, done_at, form_key)
        SELECT unhex(printf('%032x', 900 + i)), (SELECT id FROM job), (SELECT id FROM service WHERE key = 'setup'), 10 + i, 'Set up', 60,
               6500, 'standard', 'done', (SELECT id FROM staff WHERE is_bench), 1791900000000000 + i, 'slow'
        FROM thirty;
        INSERT INTO labour_entry (id, job_id, work_line_id, staff_id, started_at, ended_at)
        SELECT unhex(printf('%032x', 900 + i)), (SELECT id FROM job), unhex(printf('%032x', 900 + i)),
               (SELECT id FROM staff WHERE is_bench), 1791800000000000, 1791800000000000 + 90 * 60000000
        FROM thirty;
        DROP TABLE thirty;";
    sqlx::raw_sql(sql).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    (asks::<(uuid::Uuid,)>(shop, "SELECT id FROM service WHERE key = 'setup'").await[0].0, job)
}

#[tokio::test]
async fn a_suggested_estimate_is_taken_by_one_press_and_old_quotes_stay() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let (service, job) = slow_service(&shop).await;
    // quoted by the old list
    let line = [("form_key", "w"), ("service", &*service.to_string())];
    assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let quoted = async || {
        asks::<(i64, i64, String)>(&shop, "SELECT minutes, price, words FROM quote_line ORDER BY position").await
    };
    let (before, paper) = (quoted().await, desk.opens(&quote).await.all("main.sheet").join(" "));

    let path = format!("/office/minutes/{service}");
    let page = owner.opens(&path).await;
    // by hand: Z = 30/(30 + 3), 60·exp(Z·ln 1.5) = 86.7, to the next five minutes 85
    assert_eq!(page.all("#suggestion .button"), ["Estimate 85 minutes from today on"]);
    let stale = owner.sends(&format!("{path}/take"), &[("version", "1"), ("minutes", "80")]).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    let taken = page.form(&format!("{path}/take")).sent_by(&owner).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.visible_text());
    let again = page.form(&format!("{path}/take")).sent_by(&owner).await;
    assert_eq!(again.status, StatusCode::CONFLICT, "a second press changes nothing");

    let list: Vec<(Option<String>, i64, i64, i64)> = asks(
        &shop,
        "SELECT from_day, minutes, price, is_suggested FROM service_price
         WHERE service_id = (SELECT id FROM service WHERE key = 'setup') ORDER BY id",
    )
    .await;
    assert_eq!(list.len(), 2, "a new row, no rewrite: {list:?}");
    assert_eq!((list[1].0.as_deref(), list[1].1, list[1].2, list[1].3), (Some("2026-10-14"), 85, list[0].2, 1));
    assert_eq!(quoted().await, before);
    assert_eq!(desk.opens(&quote).await.all("main.sheet").join(" "), paper);
    let page = owner.opens(&path).await;
    assert!(page.all("#prices li")[0].starts_with("from Wed 14 Oct 2026: 85 min"), "{:?}", page.all("#prices li"));
    // against the list as it stands now nothing more is to be changed
    assert!(page.visible_text().contains("Suggested: keep it."), "{}", page.visible_text());
    // and the next line is proposed by it
    let line = [("form_key", "w2"), ("service", &*service.to_string())];
    desk.sends(&format!("{job}/work"), &line).await;
    let newest: i64 = asks::<(i64,)>(&shop, "SELECT minutes FROM work_line ORDER BY position DESC LIMIT 1").await[0].0;
    assert_eq!(newest, 85);
}

#[tokio::test]
async fn the_price_list_is_kept_row_by_row_and_never_rewritten() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let in_force = "SELECT count(*) FROM service WHERE (minutes, price, tax_class) IS NOT
        (SELECT minutes, price, tax_class FROM service_price WHERE service_id = service.id ORDER BY id DESC LIMIT 1)";
    assert_eq!(asks::<(i64,)>(&shop, in_force).await[0].0, 0, "a new shop's list is whole");
    let (id, rows_before): (uuid::Uuid, i64) =
        asks(&shop, "SELECT id, (SELECT count(*) FROM service_price) FROM service WHERE key = 'setup'").await[0];
    let path = "/office/services/all";
    let page = owner.opens("/office/services").await;
    let saved = page.form(path).with(&format!("price_{id}"), "71.50").sent_by(&owner).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.visible_text());
    // another name is no other price
    let page = owner.opens("/office/services").await;
    page.form(path).with(&format!("name_{id}"), "Set up whole").sent_by(&owner).await;
    assert_eq!(shop.count("service_price").await, rows_before + 1);
    assert_eq!(asks::<(i64,)>(&shop, in_force).await[0].0, 0);
    for change in ["UPDATE service_price SET price = 1", "DELETE FROM service_price", "DELETE FROM minutes_left_out"] {
        let mut tx = shop.app.db.write().await.unwrap();
        let refused = sqlx::query(change).execute(&mut *tx).await;
        assert!(refused.is_err() || change.contains("left_out"), "{change}");
    }
}
