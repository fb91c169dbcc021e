//! A file that an older program filled is brought forward with every row, and its pages open.
//!
//! Each `tests/old-files/*.sql` is a shop's file as the program of its day wrote it. The file is made again with the
//! migrations that program had, so one that was edited after it landed shows here as it would in a shop: by its checksum.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use axum::http::StatusCode;
use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use sqlx::{AssertSqlSafe, SqlitePool};
use tempfile::TempDir;
use thumbplane::quantity::Instant;

use crate::support::{MORNING, Shop};

/// Columns whose values a later migration changes by right: `table.column`, with why beside it.
const CHANGED_SINCE: &[&str] = &[];
/// Tables that a later migration takes away or fills anew by right, with why beside each.
const GONE_SINCE: &[&str] = &[
    // their versions grow with each migration
    "_sqlx_migrations",
    // what is found is drawn from the records
    "search_entry",
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/old-files")
}

/// The dumps, oldest first.
fn dumps() -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path());
    let mut dumps: Vec<PathBuf> = entries.filter(|path| path.extension().is_some_and(|kind| kind == "sql")).collect();
    dumps.sort();
    dumps
}

/// The newest migration that a dump's program had.
fn newest_of(dump: &str) -> i64 {
    let rows = dump.split("INSERT OR REPLACE INTO _sqlx_migrations").nth(1).unwrap().split(";\n").next().unwrap();
    let versions = rows.lines().filter_map(|row| row.strip_prefix('(')?.split(',').next()?.parse::<i64>().ok());
    versions.max().unwrap()
}

/// The shop's file as it was, closed.
async fn made_again(dump: &Path) -> TempDir {
    let text = std::fs::read_to_string(dump).unwrap();
    let shop = TempDir::new().unwrap();
    let options = SqliteConnectOptions::new()
        .filename(shop.path().join("thumbplane.db"))
        .create_if_missing(true)
        .foreign_keys(false);
    let file = SqlitePoolOptions::new().max_connections(1).connect_with(options).await.unwrap();
    let mut migrator = Migrator::new(Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations")).await.unwrap();
    let newest = newest_of(&text);
    migrator.migrations.to_mut().retain(|migration| migration.version <= newest);
    migrator.run(&file).await.unwrap();
    sqlx::raw_sql(AssertSqlSafe(text)).execute(&file).await.unwrap();
    // the application's mark, "Thmb"
    sqlx::query("PRAGMA application_id = 1416129890").execute(&file).await.unwrap();
    let dangling: Vec<(String,)> =
        sqlx::query_as("SELECT DISTINCT \"table\" FROM pragma_foreign_key_check").fetch_all(&file).await.unwrap();
    assert!(dangling.is_empty(), "the dump itself names missing rows: {dangling:?}");
    file.close().await;
    copied(&folder().join("photos"), &shop.path().join("photos"));
    shop
}

fn copied(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        if entry.path().is_dir() {
            copied(&entry.path(), &to.join(entry.file_name()));
        } else {
            std::fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
        }
    }
}

/// A table's columns, and each of its rows as SQLite's own literals, sorted.
struct Rows {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// The tables that are not derived from others.
async fn tables(file: &SqlitePool) -> Vec<String> {
    let all: Vec<String> =
        sqlx::query_scalar("SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table'")
            .fetch_all(file)
            .await
            .unwrap();
    all.into_iter().filter(|name| !name.starts_with("sqlite_") && !GONE_SINCE.contains(&name.as_str())).collect()
}

async fn rows(file: &SqlitePool, table: &str, columns: &[String]) -> Vec<Vec<String>> {
    let literals: Vec<String> = columns.iter().map(|column| format!("quote(\"{column}\")")).collect();
    let one = literals.join(" || char(31) || ");
    let sql = format!("SELECT {one} FROM \"{table}\" ORDER BY 1");
    let found: Vec<String> = sqlx::query_scalar(AssertSqlSafe(sql)).fetch_all(file).await.unwrap();
    found.into_iter().map(|row| row.split('\u{1f}').map(str::to_owned).collect()).collect()
}

async fn columns(file: &SqlitePool, table: &str) -> Vec<String> {
    let sql = format!("SELECT name FROM pragma_table_info('{table}')");
    sqlx::query_scalar(AssertSqlSafe(sql)).fetch_all(file).await.unwrap()
}

async fn everything(folder: &Path) -> BTreeMap<String, Rows> {
    let options = SqliteConnectOptions::new().filename(folder.join("thumbplane.db")).read_only(true);
    let file = SqlitePoolOptions::new().max_connections(1).connect_with(options).await.unwrap();
    let mut found = BTreeMap::new();
    for table in tables(&file).await {
        let columns = columns(&file, &table).await;
        let rows = rows(&file, &table, &columns).await;
        found.insert(table, Rows { columns, rows });
    }
    file.close().await;
    found
}

#[tokio::test]
async fn an_old_shops_file_is_brought_forward_with_every_row() {
    let dumps = dumps();
    assert!(!dumps.is_empty());
    for dump in dumps {
        let said = dump.display();
        let folder = made_again(&dump).await;
        let before = everything(folder.path()).await;
        let shop = Shop::of(folder).await;
        let report = shop.app.db.check().await.unwrap();
        assert!(report.faults.is_empty(), "{said}: {:?}", report.faults);
        let mut compared = 0;
        for (table, Rows { columns: old, rows: old_rows }) in &before {
            let now = columns(shop.app.db.read(), table).await;
            assert!(!now.is_empty(), "{said}: {table} is gone");
            let kept: Vec<String> = old
                .iter()
                .filter(|column| now.contains(column) && !CHANGED_SINCE.contains(&format!("{table}.{column}").as_str()))
                .cloned()
                .collect();
            let places: Vec<usize> = kept.iter().map(|name| old.iter().position(|own| own == name).unwrap()).collect();
            let mut expected: Vec<Vec<String>> =
                old_rows.iter().map(|row| places.iter().map(|place| row[*place].clone()).collect()).collect();
            expected.sort();
            let mut found = rows(shop.app.db.read(), table, &kept).await;
            found.sort();
            // a migration may add rows of its own, and takes none
            let missing: Vec<_> = expected.iter().filter(|row| found.binary_search(row).is_err()).collect();
            assert!(missing.is_empty(), "{said}: {table} lost {missing:?}");
            assert!(found.len() >= expected.len(), "{said}: {table}");
            compared += expected.len();
        }
        assert!(compared > 250, "{said}: {compared} rows");
        // one of everything: only who is signed in, and a first start, are of the moment
        let empty: Vec<&str> =
            before.iter().filter(|(_, found)| found.rows.is_empty()).map(|(name, _)| name.as_str()).collect();
        assert_eq!(empty, ["first_start", "session"], "{said}");
    }
}

#[tokio::test]
async fn the_pages_of_an_old_shops_file_open() {
    for dump in dumps() {
        let shop = Shop::of(made_again(&dump).await).await;
        // two months on, after whatever the file tells of
        shop.clock.set(Instant(MORNING.0 + 60 * 86_400_000_000));
        let owner = shop.owner().await;
        let read = shop.app.db.read();
        let mut paths: Vec<String> =
            ["/desk", "/desk/day", "/desk/care", "/bench", "/bench/labour", "/office", "/office/settings"]
                .map(str::to_owned)
                .to_vec();
        paths.extend(["/office/parts", "/office/tokens", "/office/import", "/office/final-check"].map(str::to_owned));
        let jobs: Vec<uuid::Uuid> = sqlx::query_scalar("SELECT id FROM job").fetch_all(read).await.unwrap();
        for job in &jobs {
            for page in ["", "/ticket", "/sheet", "/details", "/condition", "/photos", "/receipt"] {
                paths.push(format!("/desk/jobs/{job}{page}"));
            }
            paths.extend(["", "/card", "/final-check"].map(|page| format!("/bench/jobs/{job}{page}")));
        }
        let instruments: Vec<uuid::Uuid> =
            sqlx::query_scalar("SELECT id FROM instrument").fetch_all(read).await.unwrap();
        for instrument in &instruments {
            paths.extend(["", "/history"].map(|page| format!("/desk/instruments/{instrument}{page}")));
        }
        let quotes: Vec<uuid::Uuid> = sqlx::query_scalar("SELECT id FROM quote").fetch_all(read).await.unwrap();
        paths.extend(quotes.iter().map(|quote| format!("/desk/quotes/{quote}")));
        assert!(jobs.len() > 3 && instruments.len() > 3 && !quotes.is_empty());
        for path in paths {
            let page = owner.opens(&path).await;
            assert_eq!(page.status, StatusCode::OK, "{}: {path}: {}", dump.display(), page.visible_text());
        }
        let hits = owner.opens("/desk/search?part=hits&q=oakhollow").await;
        assert_eq!(hits.all(".hits strong"), ["Maren Oakhollow"], "what was kept is found");
        let photo: uuid::Uuid = sqlx::query_scalar("SELECT id FROM photo").fetch_one(read).await.unwrap();
        assert_eq!(owner.opens(&format!("/photos/{photo}")).await.status, StatusCode::OK);
    }
}
