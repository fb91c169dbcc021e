//! What the tests of the office's figures share: a shop of six hundred jobs that no code of ours made, the shop's day in
//! plain SQL, and the cells of a table.

use scraper::Selector;

use crate::support::{Answer, Shop};

/// The shop's day of an instant, as a Julian day: London's summers, by hand (Summer Time Order 2002: last Sundays of
/// March and October, 01:00 UTC).
pub(crate) fn day(instant: &str) -> String {
    format!(
        "CAST(julianday(date(({instant}) / 1000000 + 3600 * (
             (({instant}) >= 1711846800000000 AND ({instant}) < 1729990800000000)
             OR (({instant}) >= 1743296400000000 AND ({instant}) < 1761440400000000)
             OR (({instant}) >= 1774746000000000 AND ({instant}) < 1792890000000000)), 'unixepoch')) AS INTEGER)"
    )
}

/// A shop whose books were filled by SQL alone. Tamsa, who did a third of it, is no longer here.
pub(crate) async fn generated() -> Shop {
    let shop = Shop::open().await;
    let mut tx = shop.app.db.write().await.unwrap();
    let tamsa = "INSERT INTO staff (id, name, name_folded, is_desk, is_bench, is_owner, password_hash, created_at)
                 VALUES (randomblob(16), 'Tamsa', 'tamsa', 0, 1, 0, 'x', 1)";
    sqlx::raw_sql(tamsa).execute(&mut *tx).await.unwrap();
    sqlx::raw_sql(include_str!("generated.sql")).execute(&mut *tx).await.unwrap();
    // the accounts are those that an old file would be given
    let migration = include_str!("../../../migrations/20261128165000_figures_of_the_office.sql");
    let from = migration.find("INSERT INTO job_account").unwrap();
    let accounts = &migration[from..from + migration[from..].find(';').unwrap()];
    sqlx::raw_sql(sqlx::AssertSqlSafe(accounts.to_owned())).execute(&mut *tx).await.unwrap();
    // a forecast at each check-in, at 80 or 90 %, half of them told
    let made_on = format!("date({})", day("job.checked_in_at").replace("AS INTEGER", "AS REAL"));
    let forecasts = format!(
        "INSERT INTO promise_forecast (job_id, made_at, made_on, why, confidence, day, share, median_day, done_by, told_day,
             jobs_ahead, minutes_ahead, own_minutes, minutes_from, jobs_known, ahead_without_minutes, engine_version, seed, draws)
         SELECT id, checked_in_at, {made_on}, 'check-in', iif(serial % 4 = 0, 800, 900), date({made_on}, '+' || (9 + serial % 17) || ' days'),
             iif(serial % 4 = 0, 810, 915), date({made_on}, '+' || (5 + serial % 9) || ' days'), '[[1,500]]',
             iif(serial % 2 = 0, date({made_on}, '+' || (10 + serial % 17) || ' days'), NULL), 0, 0, 60, 'clocked', 1, 0, 'x', 1, 1
         FROM job ORDER BY serial"
    );
    sqlx::raw_sql(sqlx::AssertSqlSafe(forecasts)).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    shop
}

/// The rows of a table of a page, cell by cell, blanks folded.
pub(crate) fn rows(page: &Answer, table: &str) -> Vec<Vec<String>> {
    let html = page.page();
    let (row, cell) = (Selector::parse(&format!("{table} tbody tr")).unwrap(), Selector::parse("td").unwrap());
    let cells = |row: scraper::ElementRef<'_>| {
        row.select(&cell).map(|cell| folded(&cell.text().collect::<Vec<_>>().join(" "))).collect()
    };
    html.select(&row).map(cells).collect()
}

fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a statement of plain SQL answers.
pub(crate) async fn asks<T>(shop: &Shop, sql: &str) -> Vec<T>
where
    T: for<'r> sqlx::FromRow<'r, sqlx::sqlite::SqliteRow> + Send + Unpin,
{
    sqlx::query_as(sqlx::AssertSqlSafe(sql.to_owned())).fetch_all(shop.app.db.read()).await.unwrap()
}

/// "£65.00" of minor units.
pub(crate) fn pounds(minor: i64) -> String {
    // thousands with a comma, as in Britain
    let (whole, behind) = (minor.abs() / 100, minor.abs() % 100);
    let whole = match (whole / 1_000_000, whole / 1000 % 1000, whole % 1000) {
        (0, 0, rest) => rest.to_string(),
        (0, thousands, rest) => format!("{thousands},{rest:03}"),
        (millions, thousands, rest) => format!("{millions},{thousands:03},{rest:03}"),
    };
    format!("{}£{whole}.{behind:02}", if minor < 0 { "−" } else { "" })
}
