//! The one table of moves, and migrations from an empty folder.

use axum::http::StatusCode;
use thumbplane::records::stage::{How, MOVES, Stage};

use crate::support::Shop;

#[test]
fn the_table_of_moves_is_the_trades_own() {
    use Stage::{Agreed, CheckedIn, ClosedUnrepaired, Collected, FinalCheck, Measured, OnTheBench, Quoted, Ready};
    let line = [CheckedIn, Measured, Quoted, Agreed, OnTheBench, FinalCheck, Ready, Collected];
    for from in Stage::ALL {
        for to in Stage::ALL {
            let place = |stage: &Stage| line.iter().position(|known| known == stage);
            let forward = place(from).zip(place(to)).is_some_and(|(from, to)| to == from + 1);
            let back = place(from).zip(place(to)).is_some_and(|(from, to)| to + 1 == from && line[from] != Collected);
            let closed = *to == ClosedUnrepaired && from.is_open();
            // a line chosen at the counter is quoted before anything is measured; a mistaken hand-over is taken back
            let follows = [(CheckedIn, Quoted), (Collected, Ready)].contains(&(*from, *to));
            assert_eq!(from.move_to(*to).is_some(), forward || back || closed || follows, "{from} to {to}");
            if follows {
                assert_eq!(from.move_to(*to).unwrap().how, How::Follows, "{from} to {to}");
            }
            if back || closed {
                assert_eq!(from.move_to(*to).unwrap().how, How::PressedWithReason, "{from} to {to}");
            }
        }
    }
    assert_eq!(MOVES.len(), 7 + 6 + 7 + 2);
}

#[tokio::test]
async fn a_stage_cannot_be_skipped_or_pressed_when_it_follows_from_a_deed() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    for to in ["quoted", "agreed", "on-the-bench", "ready", "collected"] {
        let answer = desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", to)]).await;
        assert_eq!(answer.status, StatusCode::CONFLICT, "{to}");
    }
    let silent =
        desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "closed-unrepaired"), ("reason", " ")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(silent.all("#error-reason")[0].contains("Say why"));
    let stale = desk.sends(&format!("{job}/stage"), &[("version", "7"), ("to", "measured")]).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert!(stale.visible_text().contains("Somebody else changed this job"));
    // a page of several forms comes back whole, with what was typed
    let sideways = [("version", "1"), ("waiting_for", "part"), ("wait_reason", " ")];
    let refused = desk.sends(&format!("{job}/wait"), &sideways).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.has(".problems a[href='#field-wait_reason']") && refused.has("#field-wait_reason"));
    let unpriced = [("form_key", "w"), ("service", ""), ("words", "Polish the frets"), ("price", "cheap")];
    let refused = desk.sends(&format!("{job}/work"), &unpriced).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!((refused.value("words").as_str(), refused.value("price").as_str()), ("Polish the frets", "cheap"));
    assert_eq!(shop.count("work_line").await, 0);
}

#[tokio::test]
async fn what_a_job_waits_for_is_one_of_three_things_and_pressing_twice_writes_once() {
    let shop = Shop::open().await;
    let (desk, ivo) = (shop.desk().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    let events = shop.count("event").await;
    for (person, path) in [(&desk, job.clone()), (&ivo, job.replace("/desk/", "/bench/"))] {
        let weather = [("version", "1"), ("waiting_for", "weather"), ("wait_reason", "It rains.")];
        assert_eq!(person.sends(&format!("{path}/wait"), &weather).await.status, StatusCode::BAD_REQUEST);
        // nothing is taken up that does not wait
        assert_eq!(person.sends(&format!("{path}/wait"), &[("version", "1")]).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(shop.count("event").await, events);
    let aside = [("version", "1"), ("waiting_for", "part"), ("wait_reason", "A blank.")];
    for _ in 0..2 {
        assert_eq!(desk.sends(&format!("{job}/wait"), &aside).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!((shop.count("event").await, shop.count("job_wait").await), (events + 1, 1));
    // somebody else says otherwise, by what they saw
    let other = [("version", "1"), ("waiting_for", "wood"), ("wait_reason", "It is dry.")];
    assert_eq!(desk.sends(&format!("{job}/wait"), &other).await.status, StatusCode::CONFLICT);
    // a job that leaves waits no more
    let home = [("version", "2"), ("to", "closed-unrepaired"), ("reason", "No.")];
    assert_eq!(desk.sends(&format!("{job}/stage"), &home).await.status, StatusCode::SEE_OTHER);
    let ended: i64 = sqlx::query_scalar("SELECT count(*) FROM job_wait WHERE ended_at IS NOT NULL")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!((ended, shop.count("job_move").await), (1, 1));
}

#[tokio::test]
async fn an_empty_folder_becomes_a_strict_durable_shop() {
    let shop = Shop::open().await;
    let read = shop.app.db.read();
    let loose: Vec<String> = sqlx::query_scalar("SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict = 0 AND name NOT LIKE 'sqlite%' AND name <> '_sqlx_migrations'")
        .fetch_all(read)
        .await
        .unwrap();
    assert!(loose.is_empty(), "{loose:?}");
    let journal: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(read).await.unwrap();
    let mut write = shop.app.db.write().await.unwrap();
    let synchronous: i64 = sqlx::query_scalar("PRAGMA synchronous").fetch_one(&mut *write).await.unwrap();
    let foreign_keys: i64 = sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(&mut *write).await.unwrap();
    assert_eq!((journal.as_str(), synchronous, foreign_keys), ("wal", 2, 1));
    drop(write);
    assert!(shop.app.db.check().await.unwrap().faults.is_empty());
    assert!(thumbplane::records::Db::open(shop.folder()).await.unwrap_err().to_string().contains("another Thumbplane"));
}

#[tokio::test]
async fn a_file_that_is_empty_is_taken_and_one_that_is_somebody_elses_is_refused_by_name() {
    let folder = tempfile::TempDir::new().unwrap();
    std::fs::write(folder.path().join("thumbplane.db"), []).unwrap();
    let ours = thumbplane::records::Db::open(folder.path()).await.unwrap();
    ours.close().await;
    drop(ours);
    assert!(thumbplane::records::Db::open(folder.path()).await.is_ok(), "and opened again");

    let folder = tempfile::TempDir::new().unwrap();
    let file = folder.path().join("thumbplane.db");
    let other = sqlx::SqlitePool::connect(&format!("sqlite://{}?mode=rwc", file.display())).await.unwrap();
    sqlx::query("CREATE TABLE recipe (name TEXT)").execute(&other).await.unwrap();
    other.close().await;
    let refused = thumbplane::records::Db::open(folder.path()).await.unwrap_err().to_string();
    assert!(refused.contains("is not a Thumbplane file"), "{refused}");
}

#[tokio::test]
async fn events_and_kept_plans_cannot_be_rewritten() {
    let shop = Shop::with_story().await;
    // a check-in prints its ticket
    shop.desk().await.checks_in("k").await;
    let mut write = shop.app.db.write().await.unwrap();
    for forbidden in [
        "UPDATE event SET deed = 'x'",
        "DELETE FROM event",
        "UPDATE plan SET output_json = '{}'",
        "UPDATE job_move SET moved_at = 0",
        "DELETE FROM job_move",
        "UPDATE job_wait SET begun_at = 0",
        "DELETE FROM job_wait",
        "UPDATE paper_print SET printed_at = 0",
        "DELETE FROM paper_print",
    ] {
        assert!(sqlx::query(sqlx::AssertSqlSafe(forbidden)).execute(&mut *write).await.is_err(), "{forbidden}");
    }
}

#[tokio::test]
async fn the_story_of_millrace_strings_has_every_stage_and_checks_out() {
    let shop = Shop::with_story().await;
    let counts = [shop.count("customer").await, shop.count("instrument").await, shop.count("job").await];
    assert_eq!(counts, [25, 35, 61]);
    let stages: i64 =
        sqlx::query_scalar("SELECT count(DISTINCT stage) FROM job").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(stages, 9);
    let families: i64 = sqlx::query_scalar("SELECT count(DISTINCT family) FROM instrument")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(families, 8);
    let future: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE at > ?")
        .bind(crate::support::MORNING.0)
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(future, 0, "nothing in the story lies ahead");
    assert!(shop.app.db.check().await.unwrap().faults.is_empty());
}
