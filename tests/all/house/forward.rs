//! A shop's file of an earlier version is brought forward: what stood in the words of the events stands in columns.

use std::path::Path;

use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use tempfile::TempDir;
use thumbplane::quantity::Instant;
use thumbplane::records::Db;
use thumbplane::records::customer;
use thumbplane::records::job;
use thumbplane::records::paper::{PaperKind, prints};
use uuid::Uuid;

/// The last migration of the version before.
const BEFORE: i64 = 20_261_127_170_000;
const STAFF: Uuid = Uuid::from_u128(1);
const MAREN: Uuid = Uuid::from_u128(2);
const TOBIT: Uuid = Uuid::from_u128(3);
const FORGOTTEN: Uuid = Uuid::from_u128(4);
const GUITAR: Uuid = Uuid::from_u128(5);
/// On the bench, and set aside now.
const WAITS: Uuid = Uuid::from_u128(6);
/// Collected long ago, by somebody who was forgotten since.
const GONE: Uuid = Uuid::from_u128(7);
const QUOTE: Uuid = Uuid::from_u128(8);
const SET: Uuid = Uuid::from_u128(9);
const BANJO: Uuid = Uuid::from_u128(10);
const MANDOLIN: Uuid = Uuid::from_u128(11);

/// A file as the version before left it, with one of everything that is read elsewhere now.
async fn file_of_the_version_before(folder: &Path) {
    let mut migrations = Migrator::new(Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations")).await.unwrap();
    migrations.migrations.to_mut().retain(|migration| migration.version <= BEFORE);
    let options = SqliteConnectOptions::new().filename(folder.join("thumbplane.db")).create_if_missing(true);
    let old = SqlitePoolOptions::new().max_connections(1).connect_with(options).await.unwrap();
    sqlx::query("PRAGMA application_id = 1416129890").execute(&old).await.unwrap();
    migrations.run(&old).await.unwrap();
    let run = async |sql: &str, keys: &[Uuid]| {
        let mut query = sqlx::query(sqlx::AssertSqlSafe(sql.to_owned()));
        for key in keys {
            query = query.bind(*key);
        }
        query.execute(&old).await.unwrap_or_else(|cause| panic!("{sql}: {cause}"));
    };
    run(
        "INSERT INTO staff (id, name, name_folded, is_desk, is_bench, is_owner, password_hash, active, created_at)
         VALUES (?, 'Ivo', 'ivo', 0, 1, 0, 'none', 1, 0)",
        &[STAFF],
    )
    .await;
    for (id, name, agreed) in
        [(MAREN, "Maren", "NULL"), (TOBIT, "Tobit", "'2026-03-01'"), (FORGOTTEN, "Anonymised", "NULL")]
    {
        run(
            &format!(
                "INSERT INTO customer (id, name, name_folded, telephone, telephone_digits, email, address, reach_by,
                 reminders_agreed_on, note, created_at, form_key)
             VALUES (?, '{name}', lower('{name}'), '', '', '', '', 'letter', {agreed}, '', 0, '{name}')"
            ),
            &[id],
        )
        .await;
    }
    run("UPDATE customer SET anonymised_on = '2026-09-01' WHERE id = ?", &[FORGOTTEN]).await;
    run(
        "INSERT INTO instrument (id, customer_id, family, maker, model, serial, finish, handedness, scale_um, frets,
             body_fret, courses, truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, note,
             created_at, form_key)
         VALUES (?, ?, 'steel-string', 'Thistlewade', 'OM-2', '', '', 'right', 645000, 20, 14, 6, 'two-way', '', '', '',
             '', '', '', '', 0, 'g')",
        &[GUITAR, MAREN],
    )
    .await;
    for (id, serial, customer, stage, waiting) in
        [(WAITS, 1, MAREN, "on-the-bench", "'part', 'A blank.'"), (GONE, 2, FORGOTTEN, "collected", "NULL, NULL")]
    {
        run(&format!("INSERT INTO job (id, year, serial, number, customer_id, instrument_id, complaint, style,
                 brought_with, rack, stage, stage_since, waiting_for, waiting_reason, checked_in_at, link_hash, form_key)
             VALUES (?, 26, {serial}, '26-{serial:04}', ?, ?, 'It buzzes.', 'medium', '', '', '{stage}', 60, {waiting}, 1,
                 randomblob(32), 'j{serial}')"), &[id, customer, GUITAR]).await;
    }
    run(
        "INSERT INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding,
             tax_level, net, tax, total, note, form_key)
         VALUES (?, ?, 1, 1, ?, '2026-12-01', 'GBP', 'VAT', 'half-up', 'on-total', 0, 0, 0, '', 'q')",
        &[QUOTE, WAITS, STAFF],
    )
    .await;
    run(
        "INSERT INTO reading_set (id, job_id, stage, taken_at, staff_id, tuned_to, tool, tool_resolution_um,
             tool_limit_um, fret_wear, note, form_key)
         VALUES (?, ?, 'during', 5, ?, 'standard', 'dial', 10, 20, '', '', 's')",
        &[SET, WAITS, STAFF],
    )
    .await;
    for (repeat, value, carried) in [
        (1, 1_800, "NULL, NULL, NULL, NULL, NULL"),
        (2, 1_810, "NULL, NULL, NULL, NULL, NULL"),
        (3, 1_790, "?, 4, 'feelers', 50, 10"),
    ] {
        let keys = if carried.starts_with('?') { vec![SET, SET] } else { vec![SET] };
        run(
            &format!(
                "INSERT INTO reading (reading_set_id, kind, string_number, repeat, value, typed, carried_from, read_at, tool,
                     tool_resolution_um, tool_limit_um)
                 VALUES (?, 'height-12', 1, {repeat}, {value}, 'as typed', {carried})"
            ),
            &keys,
        )
        .await;
    }
    for (id, family, courses, strings) in [(BANJO, "banjo", 5, 5), (MANDOLIN, "mandolin", 4, 8)] {
        run(
            &format!(
                "INSERT INTO instrument (id, customer_id, family, maker, model, serial, finish, handedness, scale_um, frets,
                     body_fret, courses, truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, note,
                     created_at, form_key)
                 VALUES (?, ?, '{family}', '', '', '', '', 'right', 400000, 20, 12, {courses}, 'none', '', '', '', '', '', '',
                     '', 0, '{family}')"
            ),
            &[id, MAREN],
        )
        .await;
        for number in 1..=strings {
            run(
                &format!(
                    "INSERT INTO instrument_string (instrument_id, number, pitch, wound) VALUES (?, {number}, 'G4', 0)"
                ),
                &[id],
            )
            .await;
        }
    }
    for (steps, after) in [("[\"relief-too-much\"]", "NULL"), ("[\"relief-too-much\",\"action-high\"]", "?")] {
        let keys = if after == "?" { vec![WAITS, SET, STAFF] } else { vec![WAITS, STAFF] };
        run(
            &format!(
                "INSERT INTO reading_draft (id, job_id, after_set_id, done_steps, opened_at, staff_id)
             VALUES (randomblob(16), ?, {after}, '{steps}', 5, ?)"
            ),
            &keys,
        )
        .await;
    }
    let moved = |from: &str, to: &str| {
        (format!("{{\"stage\":\"{from}\"}}"), format!("{{\"stage\":\"{to}\",\"reason\":\"so\"}}"))
    };
    let event = async |at: i64, deed: &str, record: &str, id: Uuid, before: Option<String>, after: Option<String>| {
        sqlx::query(
            "INSERT INTO event (at, staff_id, door, deed, record, record_id, before_json, after_json)
                     VALUES (?, ?, 'bench', ?, ?, ?, ?, ?)",
        )
        .bind(at)
        .bind(STAFF)
        .bind(deed)
        .bind(record)
        .bind(id)
        .bind(before)
        .bind(after)
        .execute(&old)
        .await
        .unwrap();
    };
    let wait = |kind: &str| (Some("[null,null]".to_owned()), Some(format!("[\"{kind}\",\"why\"]")));
    let (none, part) = wait("part");
    let (_, wood) = wait("wood");
    event(10, "set aside to wait", "job", WAITS, none.clone(), wood).await;
    event(20, "taken up again", "job", WAITS, None, none.clone()).await;
    event(25, "set aside to wait", "job", WAITS, none.clone(), wait("customer").1).await;
    let (before, after) = moved("agreed", "on-the-bench");
    event(30, "stage moved", "job", WAITS, Some(before), Some(after)).await;
    event(40, "set aside to wait", "job", WAITS, none, part).await;
    event(50, "work line opened again", "job", WAITS, Some("{}".to_owned()), None).await;
    event(45, "work line opened again", "job", WAITS, Some("{}".to_owned()), None).await;
    // of somebody forgotten the stages are left and the words are not
    let (before, after) = moved("ready", "collected");
    event(10, "set aside to wait", "job", GONE, Some("\"anonymised\"".to_owned()), Some("\"anonymised\"".to_owned()))
        .await;
    event(60, "stage moved", "job", GONE, Some(before), Some(after.replace(",\"reason\":\"so\"", ""))).await;
    event(11, "claim ticket printed", "job", WAITS, None, None).await;
    event(12, "claim ticket printed", "job", WAITS, None, None).await;
    event(13, "collection letter printed", "job", WAITS, None, None).await;
    event(14, "quote printed", "quote", QUOTE, None, None).await;
    event(15, "care letter printed", "instrument", GUITAR, None, None).await;
    let agreed = |day: &str| Some(format!("{{\"name\":\"x\",\"reminders_agreed_on\":{day}}}"));
    event(70, "customer changed", "customer", MAREN, agreed("\"2026-01-01\""), agreed("null")).await;
    event(71, "customer changed", "customer", MAREN, agreed("null"), agreed("null")).await;
    event(72, "customer changed", "customer", TOBIT, agreed("\"2026-01-01\""), agreed("null")).await;
    event(73, "customer changed", "customer", TOBIT, agreed("null"), agreed("\"2026-03-01\"")).await;
    old.close().await;
}

#[tokio::test]
async fn what_stood_in_the_words_of_the_events_of_an_older_file_stands_in_columns() {
    let folder = TempDir::new().unwrap();
    file_of_the_version_before(folder.path()).await;
    let db = Db::open(folder.path()).await.unwrap();
    assert!(db.check().await.unwrap().faults.is_empty());
    let rows = async |sql: &'static str| -> Vec<String> { sqlx::query_scalar(sql).fetch_all(db.read()).await.unwrap() };
    assert_eq!(
        rows(
            "SELECT job.number || ' ' || from_stage || ' ' || to_stage || ' ' || moved_at
              FROM job_move JOIN job ON job.id = job_id ORDER BY moved_at"
        )
        .await,
        ["26-0001 agreed on-the-bench 30", "26-0002 ready collected 60"]
    );
    assert_eq!(
        rows(
            "SELECT job.number || ' ' || coalesce(job_wait.waiting_for, 'unknown') || ' ' || begun_at || ' '
                  || coalesce(ended_at, 'still') FROM job_wait JOIN job ON job.id = job_id
              ORDER BY job.number, begun_at"
        )
        .await,
        ["26-0001 wood 10 20", "26-0001 customer 25 30", "26-0001 part 40 still", "26-0002 unknown 10 60"]
    );
    let waits = job::find(db.read(), thumbplane::records::JobId(WAITS)).await.unwrap();
    assert_eq!(waits.work_reopened_at, Some(Instant(50)));
    let gone = job::find(db.read(), thumbplane::records::JobId(GONE)).await.unwrap();
    assert_eq!(gone.work_reopened_at, None);
    for (kind, id, printed) in [
        (PaperKind::ClaimTicket, WAITS, vec![12, 11]),
        (PaperKind::CollectionLetter, WAITS, vec![13]),
        (PaperKind::Tag, WAITS, vec![]),
        (PaperKind::Quote, QUOTE, vec![14]),
        (PaperKind::CareLetter, GUITAR, vec![15]),
    ] {
        let found: Vec<i64> = prints(db.read(), kind, id).await.unwrap().iter().map(|at| at.0).collect();
        assert_eq!(found, printed, "{kind}");
    }
    for (who, withdrew) in [(MAREN, true), (TOBIT, false), (FORGOTTEN, false)] {
        let found = customer::withdrew_reminders(db.read(), thumbplane::records::CustomerId(who)).await.unwrap();
        assert_eq!(found, withdrew);
    }
    // the table of readings was built anew: every one is there as it was typed and carried
    assert_eq!(
        rows(
            "SELECT concat_ws(' ', kind, string_number, repeat, value, typed, hex(carried_from) = hex(reading_set_id), read_at,
                 tool, tool_resolution_um, tool_limit_um) FROM reading ORDER BY repeat"
        )
        .await,
        [
            "height-12 1 1 1800 as typed 0",
            "height-12 1 2 1810 as typed 0",
            "height-12 1 3 1790 as typed 1 4 feelers 50 10"
        ]
    );
    // two repeats 0.01 mm apart: ½·10² µm² with one degree of freedom (GUM 4.2.4); the carried one is another tool's
    assert_eq!(
        rows("SELECT tool || ' ' || squares || ' ' || degrees_of_freedom FROM tool_scatter").await,
        ["dial 50.0 1"]
    );
    // a banjo's fifth begins at the fifth fret, and eight strings in four courses are pairs
    assert_eq!(
        rows(
            "SELECT family || ' ' || group_concat(coalesce(starts_at_fret, 0) || '/' || coalesce(course, 0), ' ' ORDER BY number)
             FROM instrument JOIN instrument_string ON instrument_id = instrument.id GROUP BY family ORDER BY family"
        )
        .await,
        ["banjo 0/0 0/0 0/0 0/0 5/0", "mandolin 0/1 0/1 0/2 0/2 0/3 0/3 0/4 0/4"]
    );
    assert_eq!(rows("SELECT done_steps FROM reading_draft WHERE is_rod_alone = 1").await, ["[\"relief-too-much\"]"]);
    db.close().await;
}

#[tokio::test]
async fn an_older_shop_gets_the_services_that_findings_name_by_now_and_keeps_its_own() {
    let shop = crate::support::Shop::open().await;
    let rows = async |sql: &'static str| -> Vec<String> {
        sqlx::query_scalar(sql).fetch_all(shop.app.db.read()).await.unwrap()
    };
    let all = rows("SELECT key FROM service ORDER BY key").await;
    let mut write = shop.app.db.write().await.unwrap();
    for sql in [
        // a shop of that time had neither the services nor their rows of the price list
        "DROP TRIGGER service_price_is_never_deleted",
        "DELETE FROM service_price WHERE service_id IN
             (SELECT id FROM service WHERE key IN ('neck-shim', 'bridge-height', 'head-tension'))",
        "DELETE FROM service WHERE key IN ('neck-shim', 'bridge-height', 'head-tension')",
        "UPDATE service SET name = 'My setup', price = 1, version = version + 1 WHERE key = 'setup'",
        "UPDATE service SET active = 0 WHERE key = 'humidify'",
    ] {
        sqlx::query(sql).execute(&mut *write).await.unwrap();
    }
    write.commit().await.unwrap();
    let sets = rows("SELECT name FROM string_set ORDER BY name").await;
    for _ in 0..2 {
        let mut write = shop.app.db.write().await.unwrap();
        thumbplane::command::furnish(&mut write, Instant(7)).await.unwrap();
        write.commit().await.unwrap();
    }
    assert_eq!(rows("SELECT key FROM service ORDER BY key").await, all);
    assert_eq!(
        rows("SELECT name || ' ' || price || ' ' || version FROM service WHERE key = 'setup'").await,
        ["My setup 1 2"]
    );
    assert_eq!(rows("SELECT '' || active FROM service WHERE key = 'humidify'").await, ["0"]);
    assert_eq!(rows("SELECT name FROM string_set ORDER BY name").await, sets);
}
