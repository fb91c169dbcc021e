//! Are promises kept: bands, told days, losses and what came back, once more by plain SQL.

use axum::http::StatusCode;

use super::figures::{asks, day, generated, rows};
use crate::support::{Shop, statements};

/// Each forecast since November 2024 with the day on which its job was ready; without what went home as it came.
fn foretold() -> String {
    format!(
        "SELECT made.*, CAST(julianday(made_on) AS INTEGER) AS made_day, CAST(julianday(made.day) AS INTEGER) AS promised_day,
                CAST(julianday(median_day) AS INTEGER) AS middle_day, CAST(julianday(told_day) AS INTEGER) AS told,
                iif(job.ready_at IS NULL, NULL, {}) AS done_day, CAST(julianday('2026-10-14') AS INTEGER) AS today
         FROM promise_forecast AS made JOIN job ON job.id = made.job_id
         WHERE why = 'check-in' AND made_on >= '2024-11-01' AND stage <> 'closed-unrepaired'",
        day("job.ready_at")
    )
}

#[tokio::test]
async fn every_band_is_that_of_plain_sql() {
    let shop = generated().await;
    let page = shop.owner().await.opens("/office/promises?months=24").await;
    assert_eq!(page.status, StatusCode::OK);
    let expected: Vec<(i64, i64, i64, f64, f64)> = asks(
        &shop,
        &format!(
            "SELECT confidence, sum(coalesce(done_day <= promised_day, 0)), count(*), avg(promised_day - made_day),
                    avg(promised_day - middle_day)
             FROM ({}) WHERE done_day IS NOT NULL OR today > promised_day GROUP BY confidence ORDER BY confidence",
            foretold()
        ),
    )
    .await;
    assert_eq!(expected.len(), 2);
    let shown = rows(&page, "#bands");
    for (row, (confidence, kept, of, days, width)) in shown.iter().zip(&expected) {
        let stated = if *confidence == 800 { "81 %" } else { "92 %" };
        let band = if *confidence == 800 { "80 % to 85 %" } else { "90 % to 95 %" };
        // Wilson (1927), as the handbook has it
        let (k, n, z) = (*kept as f64, *of as f64, 1.959_964_f64);
        let (middle, half) = (k + z * z / 2.0, z * (k * (n - k) / n + z * z / 4.0).sqrt());
        let limits =
            format!("{:.0} %–{:.0} %", (middle - half) / (n + z * z) * 100.0, (middle + half) / (n + z * z) * 100.0);
        assert_eq!(
            [&row[0], &row[1], &row[2], &row[3], &row[4], &row[6], &row[7]],
            [
                band,
                stated,
                &format!("{kept} of {of}"),
                &format!("{:.0} %", k / n * 100.0),
                &limits,
                &format!("{days:.1}"),
                &format!("{width:.1}")
            ]
        );
        // a half kept where nine of ten were said does not hold
        assert_eq!(row[5], "no", "{row:?}");
    }
    let told: (i64, i64) = asks(
        &shop,
        &format!(
            "SELECT sum(coalesce(done_day <= told, 0)), count(*) FROM ({})
             WHERE told IS NOT NULL AND (done_day IS NOT NULL OR today > told)",
            foretold()
        ),
    )
    .await[0];
    let words = page.all("#bands > p").join(" ");
    assert!(words.contains(&format!("{} of {} were kept", told.0, told.1)), "{words}");
}

#[tokio::test]
async fn losses_and_plain_rules_are_those_of_plain_sql() {
    let shop = generated().await;
    let page = shop.owner().await.opens("/office/promises?months=24").await;
    // the nearest rank: the smallest that has such a share at or below it
    let past = "past.done_day >= made.made_day - 30 AND past.done_day < made.made_day";
    let rank = |share: &str| {
        let below = past.replace("past.", "other.");
        format!(
            "(SELECT min(past.done_day - past.made_day) FROM made AS past WHERE {past} AND
                (SELECT count(*) FROM made AS other WHERE {below}
                    AND other.done_day - other.made_day <= past.done_day - past.made_day) >= {share} *
                (SELECT count(*) FROM made AS other WHERE {below}) - 0.000001)"
        )
    };
    let loss = |chosen: &str| {
        format!(
            "avg(iif(lasted >= {chosen}, (lasted - {chosen}) * share_asked, ({chosen} - lasted) * (1 - share_asked)))"
        )
    };
    let sql = format!(
        "WITH made AS MATERIALIZED ({}), ruled AS MATERIALIZED (
             SELECT promised_day - made_day AS ours, 14 AS weeks, {} AS median, {} AS asked, confidence / 1000.0 AS share_asked,
                    coalesce(done_day, today) - made_day AS lasted, done_day IS NULL AS is_open
             FROM made WHERE (SELECT count(*) FROM made AS past WHERE {past}) >= 5)
         SELECT count(*), {}, {}, {}, {} FROM ruled
         WHERE NOT (is_open AND (lasted < ours OR lasted < weeks OR lasted < median OR lasted < asked))",
        foretold(),
        rank("0.5"),
        rank("made.confidence / 1000.0"),
        loss("ours"),
        loss("weeks"),
        loss("median"),
        loss("asked"),
    );
    let (compared, ours, weeks, median, asked): (i64, f64, f64, f64, f64) = asks(&shop, &sql).await[0];
    assert!(compared > 400, "{compared}");
    assert!(
        page.all("#rules caption")[0].contains(&format!("of {compared} promises")),
        "{:?}",
        page.all("#rules caption")
    );
    let shown: Vec<String> = rows(&page, "#rules").into_iter().map(|row| row[1].clone()).collect();
    assert_eq!(shown, [ours, weeks, median, asked].map(|loss| format!("{loss:.2}")));
}

#[tokio::test]
async fn what_came_back_is_counted_by_service_and_by_person() {
    let shop = generated().await;
    let page = shop.owner().await.opens("/office/promises?months=12").await;
    for (column, name, table) in [
        (
            "service_id",
            "coalesce((SELECT name FROM service WHERE id = service_id), 'in own words')",
            "#back table:nth-child(1)",
        ),
        ("done_by", "(SELECT name FROM staff WHERE id = done_by)", "#back table:nth-child(2)"),
    ] {
        // 1 Nov 2025, midnight in London
        let mut expected: Vec<(String, i64, i64)> = asks(
            &shop,
            &format!(
                "SELECT {name}, count(DISTINCT job.id), count(DISTINCT iif(job.id IN (SELECT earlier_job_id FROM job), job.id, NULL))
                 FROM job JOIN work_line ON job_id = job.id AND state = 'done'
                 WHERE stage = 'collected' AND stage_since >= 1761955200000000 GROUP BY {column}"
            ),
        )
        .await;
        expected.sort();
        let mut shown: Vec<(String, String)> =
            rows(&page, table).into_iter().map(|row| (row[0].clone(), row[1].clone())).collect();
        shown.sort();
        assert!(expected.iter().any(|(_, _, back)| *back > 0));
        let expected: Vec<(String, String)> =
            expected.into_iter().map(|(name, of, back)| (name, format!("{back} of {of}"))).collect();
        assert_eq!(shown, expected);
    }
}

#[tokio::test]
async fn estimates_stand_against_the_clock() {
    let shop = generated().await;
    let page = shop.owner().await.opens("/office/promises").await;
    let lines: Vec<(String, i64, i64)> = asks(
        &shop,
        "SELECT * FROM (SELECT service.name, line.minutes, (SELECT sum(coalesce(
                 (SELECT minutes FROM labour_correction WHERE labour_entry_id = entry.id ORDER BY id DESC LIMIT 1),
                 CAST(round((ended_at - started_at) / 60000000.0) AS INTEGER)))
             FROM labour_entry AS entry WHERE work_line_id = line.id) AS clocked
         FROM work_line AS line JOIN service ON service.id = service_id WHERE state = 'done') WHERE clocked > 0",
    )
    .await;
    let shown = rows(&page, "#estimates");
    assert!(shown.len() >= 9);
    for row in shown {
        let logs: Vec<f64> =
            lines.iter().filter(|line| line.0 == row[0]).map(|line| (line.2 as f64 / line.1 as f64).ln()).collect();
        let factor = (logs.iter().sum::<f64>() / logs.len() as f64).exp();
        let near = logs.iter().filter(|log| log.abs() <= 1.2_f64.ln()).count();
        assert_eq!(
            [&row[1], &row[2], &row[4]],
            [
                &logs.len().to_string(),
                &format!("{factor:.2}"),
                &format!("{:.0} %", near as f64 / logs.len() as f64 * 100.0)
            ],
            "{row:?}"
        );
    }
}

#[tokio::test]
async fn a_shop_that_promised_nothing_yet_is_told_so() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let (page, asked) = statements(owner.opens("/office/promises")).await;
    let text = page.visible_text();
    for words in
        ["No forecast made at a check-in", "Too few jobs are done", "Nothing was collected", "No line was clocked yet"]
    {
        assert!(text.contains(words), "{words}: {text}");
    }
    assert!(asked.len() <= 9, "{asked:#?}");
}
