//! How long it takes: every figure of the page once more, by plain SQL.

use axum::http::StatusCode;
use sqlx::AssertSqlSafe;

use super::figures::{asks, day, generated, rows};
use crate::support::{MORNING, Shop};

/// Followed stays as SQL: group, days, whether it came to the end that is asked for.
fn stays(group: &str, joined: &str, since: &str, until: &str) -> String {
    let end = match until {
        "ready" => "coalesce(ready_at, iif(stage = 'collected', stage_since, NULL))",
        _ => "iif(stage = 'collected', stage_since, NULL)",
    };
    let last = format!(
        "coalesce({end}, iif(stage = 'closed-unrepaired' OR stage = 'collected', stage_since, NULL), {})",
        MORNING.0
    );
    format!(
        "SELECT {group} AS name, {} - {} AS days, ({end}) IS NOT NULL AS ended FROM job {joined}
         WHERE {} >= CAST(julianday('{since}') AS INTEGER)",
        day(&last),
        day("checked_in_at"),
        day("checked_in_at"),
    )
}

/// Kaplan and Meier in SQL: of each group the jobs, how many ended, and the first days with a half, a fifth and a tenth
/// at most still open.
fn percentiles(stays: &str) -> String {
    format!(
        "WITH RECURSIVE stay AS ({stays}), closing AS (
             SELECT name, days, sum(ended) AS d, (SELECT count(*) FROM stay AS open WHERE open.name = stay.name AND open.days >= stay.days) AS n,
                    row_number() OVER (PARTITION BY name ORDER BY days) AS step
             FROM stay GROUP BY name, days HAVING sum(ended) > 0
         ), curve (name, step, days, share) AS (
             SELECT name, step, days, 1.0 - 1.0 * d / n FROM closing WHERE step = 1
             UNION ALL
             SELECT closing.name, closing.step, closing.days, share * (1.0 - 1.0 * d / n)
             FROM curve JOIN closing ON closing.name = curve.name AND closing.step = curve.step + 1
         ), jobs AS (SELECT name, count(*) AS jobs, sum(ended) AS ended FROM stay GROUP BY name)
         SELECT name, jobs, ended, (SELECT min(days) FROM curve WHERE curve.name = jobs.name AND share <= 0.5 + 1e-9),
                (SELECT min(days) FROM curve WHERE curve.name = jobs.name AND share <= 0.2 + 1e-9),
                (SELECT min(days) FROM curve WHERE curve.name = jobs.name AND share <= 0.1 + 1e-9)
         FROM jobs ORDER BY name"
    )
}

type Percentiles = (String, i64, i64, Option<i64>, Option<i64>, Option<i64>);

fn said(days: Option<i64>) -> String {
    days.map_or_else(|| "–".to_owned(), |days| days.to_string())
}

#[tokio::test]
async fn every_figure_of_turnaround_is_that_of_plain_sql() {
    for (shop, months) in [(generated().await, 24), (Shop::with_story().await, 12)] {
        let owner = shop.owner().await;
        let since = if months == 24 { "2024-11-01" } else { "2025-11-01" };
        for (by, group, joined) in [
            ("all", "''", ""),
            ("family", "family", "JOIN instrument ON instrument.id = job.instrument_id"),
            (
                "person",
                "coalesce(staff.name, 'nobody yet') || iif(staff.active = 0, ' (no longer here)', '')",
                "LEFT JOIN staff ON staff.id = job.staff_id",
            ),
            (
                "service",
                "coalesce(line.name, 'no work agreed yet')",
                "LEFT JOIN (SELECT DISTINCT job_id, coalesce(service.name, 'in own words') AS name FROM work_line
                            LEFT JOIN service ON service.id = service_id WHERE state IN ('agreed', 'done')) AS line
                    ON line.job_id = job.id",
            ),
        ] {
            for until in ["ready", "collected"] {
                let page = owner.opens(&format!("/office/turnaround?months={months}&until={until}&by={by}")).await;
                assert_eq!(page.status, StatusCode::OK);
                let expected: Vec<Percentiles> = asks(&shop, &percentiles(&stays(group, joined, since, until))).await;
                assert!(!expected.is_empty(), "{by}");
                if by == "all" {
                    let (_, jobs, ended, half, fifth, tenth) = expected[0].clone();
                    let figures = page.all("#days .tally strong");
                    for (figure, days) in figures.iter().zip([half, fifth, tenth]) {
                        match days {
                            Some(1) => assert_eq!(figure, "1 day"),
                            Some(days) => assert_eq!(*figure, format!("{days} days")),
                            None => assert!(figure.starts_with("more than"), "{figure}"),
                        }
                    }
                    let words = page.all("#days > p")[0].clone();
                    assert!(words.starts_with(&format!("{jobs} jobs checked in")), "{words}");
                    assert!(words.contains(&format!("{ended} {until},")), "{words}");
                    continue;
                }
                let mut shown: Vec<Vec<String>> =
                    rows(&page, "#days").into_iter().map(|row| row[1..8].to_vec()).collect();
                shown.iter_mut().for_each(|row| drop(row.remove(4)));
                shown.sort();
                let name = |name: &str| match name {
                    "steel-string" => "steel-string guitar".to_owned(),
                    "classical" => "classical guitar".to_owned(),
                    "electric" => "electric guitar".to_owned(),
                    "bass" => "bass guitar".to_owned(),
                    "other" => "other fretted instrument".to_owned(),
                    other => other.to_owned(),
                };
                let mut expected: Vec<Vec<String>> = expected
                    .into_iter()
                    .map(|(group, jobs, ended, half, fifth, tenth)| {
                        vec![name(&group), jobs.to_string(), ended.to_string(), said(half), said(fifth), said(tenth)]
                    })
                    .collect();
                expected.sort();
                assert_eq!(shown, expected, "{by} until {until}");
            }
        }

        let page = owner.opens(&format!("/office/turnaround?months={months}")).await;
        // month by month of check-in: a group of its own each
        let month = format!("strftime('%Y-%m', {})", day("checked_in_at").replace("AS INTEGER", "AS REAL"));
        let expected: Vec<Percentiles> = asks(&shop, &percentiles(&stays(&month, "", since, "ready"))).await;
        let shown = rows(&page, "#months");
        assert_eq!(shown.len(), months);
        let shown: Vec<Vec<String>> = shown.into_iter().filter(|row| row[1] != "0").collect();
        assert_eq!(shown.len(), expected.len());
        for (row, (_, jobs, ended, half, _, tenth)) in shown.iter().zip(&expected) {
            let not_yet = |days: &Option<i64>| days.map_or_else(|| "not yet".to_owned(), |days| days.to_string());
            assert_eq!(
                [&row[1], &row[2], &row[3], &row[5]],
                [&jobs.to_string(), &ended.to_string(), &not_yet(half), &not_yet(tenth)],
                "{row:?}"
            );
        }

        // where the days go: each stay from the move before, or from check-in
        let begin = format!("CAST(strftime('%s', '{since}') AS INTEGER) * 1000000");
        let stages: Vec<(String, i64, f64)> = asks(
            &shop,
            &format!(
                "SELECT replace(from_stage, '-', ' '), count(*), avg(stayed) / 86400000000.0 FROM (
                     SELECT from_stage, moved_at, moved_at - coalesce(
                         (SELECT moved_at FROM job_move AS earlier WHERE earlier.job_id = move.job_id AND earlier.moved_at < move.moved_at
                          ORDER BY moved_at DESC, id DESC LIMIT 1),
                         (SELECT checked_in_at FROM job WHERE job.id = move.job_id)) AS stayed
                     FROM job_move AS move)
                 WHERE moved_at >= {begin} GROUP BY from_stage ORDER BY 1"
            ),
        )
        .await;
        if months == 24 {
            let mut shown: Vec<Vec<String>> =
                rows(&page, "#stages table:first-child").into_iter().map(|row| row[..3].to_vec()).collect();
            shown.sort();
            let expected: Vec<Vec<String>> = stages
                .into_iter()
                .map(|(stage, times, days)| vec![stage, times.to_string(), format!("{days:.1}")])
                .collect();
            assert_eq!(shown, expected);
            let waits: Vec<(String, i64, f64)> = asks(
                &shop,
                &format!(
                    "SELECT waiting_for, count(*), avg(ended_at - begun_at) / 86400000000.0 FROM job_wait
                     WHERE ended_at >= {begin} GROUP BY waiting_for ORDER BY waiting_for"
                ),
            )
            .await;
            let mut shown: Vec<Vec<String>> =
                rows(&page, "#stages table:nth-child(2)").into_iter().map(|row| row[1..3].to_vec()).collect();
            shown.sort();
            let mut expected: Vec<Vec<String>> =
                waits.into_iter().map(|(_, times, days)| vec![times.to_string(), format!("{days:.1}")]).collect();
            expected.sort();
            assert_eq!(shown, expected);
        }

        // Little's law: thirteen weeks, counted day by day in fractions of days
        let (from, now) = (1_784_070_000_000_000_i64, MORNING.0); // Wed 15 Jul 2026 00:00 in London
        let law: Vec<(f64, i64, f64)> = asks(
            &shop,
            &format!(
                "SELECT sum(max(min(coalesce(gone, {now}), {now}) - max(checked_in_at, {from}), 0)) / 1.0 / ({now} - {from}),
                        sum(gone IS NOT NULL AND gone >= {from}),
                        sum(iif(gone IS NOT NULL AND gone >= {from}, gone - checked_in_at, 0)) / 86400000000.0
                 FROM (SELECT checked_in_at, iif(stage IN ('collected', 'closed-unrepaired'), stage_since, NULL) AS gone FROM job)"
            ),
        )
        .await;
        let (mean_open, left, their_days) = law[0];
        let weeks = (now - from) as f64 / 86_400_000_000.0 / 7.0;
        let words = page.all("#law p")[0].clone();
        for figure in [
            format!("{:.1} jobs a week", left as f64 / weeks),
            format!("after {:.1} days", their_days / left as f64),
            format!("there were {mean_open:.1}"),
        ] {
            assert!(words.contains(&figure), "{figure} in {words}");
        }
    }
}

#[tokio::test]
async fn days_are_those_of_the_calendar_also_when_the_clocks_change() {
    // (came, ready, days): evening of Sat 28 Mar 2026 to just after midnight of Mon 30 Mar, an hour short; the same
    // over the last Sunday of October, an hour long; in at 23:30 and ready at 00:30 is the next day
    for (came, ready, days) in [
        (1_774_740_600_000_000_i64, 1_774_827_000_000_000_i64, "2"), // 28 Mar 23:30 GMT … 30 Mar 00:30 BST
        (1_761_431_400_000_000, 1_761_525_000_000_000, "2"),         // 25 Oct 2025 23:30 BST … 27 Oct 00:30 GMT
        (1_780_352_100_000_000, 1_780_356_600_000_000, "1"),         // 1 Jun 23:15 … 2 Jun 00:30 BST
    ] {
        let shop = Shop::open().await;
        shop.desk().await.checks_in("k").await;
        let sql = format!(
            "UPDATE job SET checked_in_at = {came}, stage = 'ready', stage_since = {ready}, ready_at = {ready}"
        );
        let mut tx = shop.app.db.write().await.unwrap();
        sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut *tx).await.unwrap();
        tx.commit().await.unwrap();
        let page = shop.owner().await.opens("/office/turnaround?months=24").await;
        let words = if days == "1" { "1 day".to_owned() } else { format!("{days} days") };
        assert_eq!(page.all("#days .tally strong")[0], words);
    }
}

#[tokio::test]
async fn what_is_missing_is_said_and_the_rest_is_worked_out() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    assert!(owner.opens("/office/turnaround").await.visible_text().contains("Nothing was checked in since"));
    // one job that is still here: no number is made up
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let page = owner.opens("/office/turnaround?by=service").await;
    assert_eq!(page.status, StatusCode::OK);
    let text = page.visible_text();
    assert!(text.contains("more than half still open after 0 days"), "{text}");
    assert!(text.contains("no work agreed yet") && text.contains("nothing to compare"), "{text}");
    assert!(text.contains("Nothing left the house in the last thirteen weeks"), "{text}");
    // what is no choice of ours is the usual one
    let page = owner.opens("/office/turnaround?months=900&until=never&by=moon").await;
    assert_eq!((page.status, page.value("months").as_str()), (StatusCode::OK, ""));
}

#[tokio::test]
async fn one_group_is_compared_with_all_the_others_and_chance_is_named() {
    let shop = generated().await;
    let page = shop.owner().await.opens("/office/turnaround?months=24&by=family").await;
    let table = rows(&page, "#days");
    assert_eq!(table.len(), 4);
    // electric guitars were given six days more
    let electric = table.iter().find(|row| row[1] == "electric guitar").unwrap();
    assert!(electric[8].contains("days longer, beyond chance log-rank χ²"), "{electric:?}");
    assert!(electric[8].contains("allowing for 4 comparisons"), "{electric:?}");
    assert!(page.all("svg.curves").len() == 2 && page.has("svg.curves .curve-4"));
}
