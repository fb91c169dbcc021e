//! What the shop's file survives: a full disk, bytes that changed, a newer program, a clock that goes back.

use axum::http::StatusCode;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use thumbplane::quantity::Instant;
use thumbplane::records::Db;

use crate::support::{Shop, check_in_form, paired};

/// The file behind the program's back, without its rules.
async fn raw(folder: &std::path::Path) -> sqlx::SqlitePool {
    let options = SqliteConnectOptions::new().filename(folder.join("thumbplane.db")).foreign_keys(false);
    SqlitePoolOptions::new().max_connections(1).connect_with(options).await.unwrap()
}

/// A folder with one job in its file, closed.
async fn closed() -> tempfile::TempDir {
    let shop = Shop::open().await;
    shop.desk().await.checks_in("k").await;
    shop.app.db.close().await;
    let folder = tempfile::TempDir::new().unwrap();
    for name in ["thumbplane.db", "link-secret"] {
        std::fs::copy(shop.folder().join(name), folder.path().join(name)).unwrap();
    }
    folder
}

// RFC 4918, 11.5: 507 Insufficient Storage. SQLite's result code 13, SQLITE_FULL: the transaction is rolled back,
// what was committed before stays; max_page_count makes a file full without a full disk (sqlite.org, PRAGMA)
#[tokio::test]
async fn on_a_full_disk_nothing_is_half_saved_and_with_room_it_goes_on() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("before").await;
    let fill = |pages: i64| {
        let db = shop.app.db.clone();
        async move {
            let mut write = db.write().await.unwrap();
            let sql = format!("PRAGMA max_page_count = {pages}");
            let now: i64 = sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_one(&mut *write).await.unwrap();
            now
        }
    };
    let full = fill(1).await;
    assert!(full > 10, "no fewer pages than there are: {full}");
    let mut kept = 1;
    let mut refused = None;
    for attempt in 0..500 {
        let key = format!("full {attempt}");
        let answer = desk.sends("/desk/check-in", &check_in_form(&key)).await;
        if answer.status == StatusCode::SEE_OTHER {
            kept += 1;
            continue;
        }
        assert_eq!(answer.status, StatusCode::INSUFFICIENT_STORAGE, "{}", answer.visible_text());
        refused = Some((key, answer));
        break;
    }
    let (key, answer) = refused.expect("the file fills up");
    assert!(answer.visible_text().contains("The disk is full") && answer.visible_text().contains("Nothing was saved"));
    for table in ["job", "customer", "instrument"] {
        assert_eq!(shop.count(table).await, kept, "{table}: whole deeds only");
    }
    // reading goes on, and the file is whole
    assert_eq!(desk.opens("/desk").await.status, StatusCode::OK);
    assert!(shop.app.db.check().await.unwrap().faults.is_empty());
    // room again: the same form goes through, once
    fill(1_000_000).await;
    for _ in 0..2 {
        let again = desk.sends("/desk/check-in", &check_in_form(&key)).await;
        assert_eq!(again.status, StatusCode::SEE_OTHER, "{}", again.visible_text());
    }
    assert_eq!(shop.count("job").await, kept + 1);
}

// sqlite.org, PRAGMA integrity_check: it does not look for errors in foreign keys; foreign_key_check does
#[tokio::test]
async fn a_row_that_names_a_missing_row_is_found_though_the_file_is_whole() {
    let folder = closed().await;
    let pool = raw(folder.path()).await;
    sqlx::query("DELETE FROM customer").execute(&pool).await.unwrap();
    let integrity: String = sqlx::query_scalar("PRAGMA integrity_check").fetch_one(&pool).await.unwrap();
    assert_eq!(integrity, "ok");
    pool.close().await;
    let db = Db::open(folder.path()).await.unwrap();
    let faults = db.check().await.unwrap().faults;
    assert!(faults.iter().any(|fault| fault.contains("names a missing row of customer")), "{faults:?}");
    db.close().await;
}

#[tokio::test]
async fn bytes_that_changed_and_pages_that_are_gone_are_noticed() {
    let whole = closed().await;
    let bytes = std::fs::read(whole.path().join("thumbplane.db")).unwrap();
    // the file format says its page size in bytes 16 and 17 (sqlite.org, fileformat2, 1.3.2)
    let page = usize::from(u16::from_be_bytes([bytes[16], bytes[17]]));
    assert!(page >= 512 && bytes.len() > 30 * page);
    let mut noticed = 0;
    let pages = bytes.len() / page;
    for place in (1..pages).step_by(pages / 12) {
        let mut damaged = bytes.clone();
        damaged[place * page..(place + 1) * page].fill(0xA5);
        noticed += usize::from(is_noticed(&damaged).await);
    }
    assert!(noticed >= 12, "{noticed} of {}", (1..pages).step_by(pages / 12).count());
    for length in [0, 10, page / 2, 5 * page, bytes.len() - page] {
        // an empty file is a new shop
        assert_eq!(is_noticed(&bytes[..length]).await, length > 0, "cut at {length} of {}", bytes.len());
    }
    assert!(!is_noticed(&bytes).await, "the whole one is whole");
}

/// Whether a file is refused at opening, or its check finds faults.
async fn is_noticed(bytes: &[u8]) -> bool {
    let folder = tempfile::TempDir::new().unwrap();
    std::fs::write(folder.path().join("thumbplane.db"), bytes).unwrap();
    match Db::open(folder.path()).await {
        Err(refused) => {
            assert!(refused.to_string().len() > 20, "in words: {refused}");
            true
        }
        Ok(db) => {
            let report = db.check().await;
            db.close().await;
            report.map_or(true, |report| !report.faults.is_empty())
        }
    }
}

#[tokio::test]
async fn a_file_of_a_newer_program_is_refused_by_its_number_and_left_as_it_was() {
    let folder = closed().await;
    let pool = raw(folder.path()).await;
    sqlx::query(
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
         VALUES (99990101000000, 'from the future', 1, x'00', 0)",
    )
    .execute(&pool)
    .await
    .unwrap();
    pool.close().await;
    let before = std::fs::read(folder.path().join("thumbplane.db")).unwrap();
    let refused = Db::open(folder.path()).await.unwrap_err().to_string();
    assert!(refused.contains("99990101000000") && refused.contains("left as it was"), "{refused}");
    assert!(std::fs::read(folder.path().join("thumbplane.db")).unwrap() == before);
}

// sqlite.org, WAL: the reset bug of 3.7.0 to 3.51.2, fixed in 3.51.3; pragmas as the manual says they are read back
#[tokio::test]
async fn the_sqlite_inside_keeps_what_it_acknowledged() {
    let shop = Shop::open().await;
    let version: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(shop.app.db.read()).await.unwrap();
    let numbers: Vec<u32> = version.split('.').map(|part| part.parse().unwrap()).collect();
    assert!(numbers >= vec![3, 51, 3], "{version}");
    assert_ne!(numbers, [3, 52, 0], "withdrawn");
    let mut write = shop.app.db.write().await.unwrap();
    let wait: i64 = sqlx::query_scalar("PRAGMA busy_timeout").fetch_one(&mut *write).await.unwrap();
    assert!(wait >= 1000, "{wait}");
    // a reader cannot write by mistake
    drop(write);
    assert!(sqlx::query("DELETE FROM first_start").execute(shop.app.db.read()).await.is_err());
}

// a deferred transaction that reads and then writes fails at once when another wrote (sqlite.org, lang_transaction):
// ours are immediate, so that every one of many at once gets its turn
#[tokio::test]
async fn many_who_save_at_one_moment_each_get_their_turn() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let keys: Vec<String> = (0..12).map(|number| format!("at once {}", number / 2)).collect();
    let forms: Vec<Vec<(&str, &str)>> = keys.iter().map(|key| check_in_form(key)).collect();
    let mut waiting: Vec<_> = forms.iter().map(|form| Box::pin(desk.sends("/desk/check-in", form))).collect();
    let mut answers: Vec<Option<crate::support::Answer>> = waiting.iter().map(|_| None).collect();
    // all are begun before the first is answered, and go on side by side
    std::future::poll_fn(|context| {
        for (one, answer) in paired(&mut waiting, &mut answers) {
            if answer.is_none()
                && let std::task::Poll::Ready(found) = one.as_mut().poll(context)
            {
                *answer = Some(found);
            }
        }
        if answers.iter().all(Option::is_some) { std::task::Poll::Ready(()) } else { std::task::Poll::Pending }
    })
    .await;
    drop(waiting);
    let answers: Vec<_> = answers.into_iter().flatten().collect();
    for pair in answers.chunks(2) {
        assert_eq!(pair[0].status, StatusCode::SEE_OTHER, "{}", pair[0].visible_text());
        assert_eq!(pair[0].location, pair[1].location, "a double press at the same moment makes one job");
    }
    assert_eq!(shop.count("job").await, 6);
}

#[tokio::test]
async fn a_clock_that_goes_back_brings_no_session_back_and_breaks_no_page() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let hour = 3_600_000_000;
    let morning = shop.clock.now().0;
    shop.clock.set(Instant(morning + 13 * hour));
    assert_eq!(desk.opens("/desk").await.status, StatusCode::SEE_OTHER, "idle too long");
    shop.clock.set(Instant(morning + hour));
    assert_eq!(desk.opens("/desk").await.status, StatusCode::SEE_OTHER, "what ended stays ended");
    // one that nobody showed again is gone with the next sign-in
    let quiet = shop.person("Mirel").await;
    shop.clock.set(Instant(morning + 15 * hour));
    let desk = shop.desk().await;
    shop.clock.set(Instant(morning + 2 * hour));
    assert_eq!(quiet.opens("/desk").await.status, StatusCode::SEE_OTHER);
    // two days back: pages open, nothing is said to have happened a negative time ago, deeds keep their order
    shop.clock.set(Instant(morning - 48 * hour));
    let desk_again = shop.desk().await;
    for path in ["/desk".to_owned(), "/desk/day".to_owned(), job.clone(), format!("{job}/ticket")] {
        let page = desk_again.opens(&path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        assert!(
            !page.visible_text().contains("-1 ") && !page.visible_text().contains("−1 "),
            "{path}: {}",
            page.visible_text()
        );
    }
    desk_again.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let deeds: Vec<(i64, i64)> =
        sqlx::query_as("SELECT id, at FROM event ORDER BY id").fetch_all(shop.app.db.read()).await.unwrap();
    assert!(deeds.last().unwrap().1 < deeds[deeds.len() - 2].1, "the clock went back");
    assert!(desk_again.opens(&job).await.visible_text().contains("measured"));
    drop(desk);
}

#[cfg(unix)]
#[tokio::test]
async fn nobody_else_of_the_machine_reads_the_books() {
    use std::os::unix::fs::PermissionsExt;
    let within = tempfile::TempDir::new().unwrap();
    let folder = within.path().join("shop");
    let db = Db::open(&folder).await.unwrap();
    let tx = db.write().await.unwrap();
    tx.commit().await.unwrap();
    for (name, mode) in [("", 0o700), ("thumbplane.db", 0o600), ("thumbplane.db-wal", 0o600), ("link-secret", 0o600)] {
        let found = std::fs::metadata(folder.join(name)).unwrap().permissions().mode() & 0o777;
        assert_eq!(found, mode, "{name}: {found:o}");
    }
    db.close().await;
}

// sqlite.org, fileformat2, 1.3.5: opening a file for a write-ahead log changes its bytes 18 and 19
#[tokio::test]
async fn another_programs_file_is_refused_and_not_one_byte_of_it_is_changed() {
    let folder = tempfile::TempDir::new().unwrap();
    let file = folder.path().join("thumbplane.db");
    for made in ["PRAGMA application_id = 77; CREATE TABLE plant (name TEXT)", "CREATE TABLE recipe (name TEXT)"] {
        let options = SqliteConnectOptions::new().filename(&file).create_if_missing(true);
        let other = SqlitePoolOptions::new().connect_with(options).await.unwrap();
        sqlx::raw_sql(made).execute(&other).await.unwrap();
        other.close().await;
        let before = std::fs::read(&file).unwrap();
        let refused = Db::open(folder.path()).await.unwrap_err().to_string();
        assert!(refused.contains("is not a Thumbplane file"), "{refused}");
        assert!(std::fs::read(&file).unwrap() == before, "{made}");
        std::fs::remove_file(&file).unwrap();
    }
    std::fs::write(&file, "Dear diary").unwrap();
    let refused = Db::open(folder.path()).await.unwrap_err().to_string();
    assert!(refused.contains("is not a Thumbplane file"), "{refused}");
    assert_eq!(std::fs::read(&file).unwrap(), b"Dear diary");
}
