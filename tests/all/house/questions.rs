//! What pages ask the books: how much, and that no question grows with the shop's history.

use std::collections::BTreeSet;

use axum::http::{Method, StatusCode};
use thumbplane::web::router::routes;

use crate::support::form::form;
use crate::support::{Answer, Person, Shop, check_in_form, statements};

#[tokio::test]
async fn a_recording_hears_its_own_statements_alone() {
    let shop = Shop::open().await;
    let db = shop.app.db.clone();
    let count = |table: &'static str| {
        let db = db.clone();
        async move {
            sqlx::query_scalar::<_, i64>(sqlx::AssertSqlSafe(format!("SELECT count(*) FROM {table}")))
                .fetch_one(db.read())
                .await
                .unwrap()
        }
    };
    let (one, other) = tokio::join!(
        statements(async { (count("staff").await, count("job").await) }),
        statements(async { count("customer").await })
    );
    assert_eq!(one, ((3, 0), vec!["SELECT count(*) FROM staff".to_owned(), "SELECT count(*) FROM job".to_owned()]));
    assert_eq!(other, (0, vec!["SELECT count(*) FROM customer".to_owned()]));
}

async fn changes(shop: &Shop, sql: &str) {
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::raw_sql(sqlx::AssertSqlSafe(sql.to_owned())).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
}

async fn key(shop: &Shop, sql: &'static str) -> String {
    let key: uuid::Uuid = sqlx::query_scalar(sql).fetch_one(shop.app.db.read()).await.unwrap();
    key.to_string()
}

#[tokio::test]
async fn a_check_in_asks_little_and_nothing_twice() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    // the settings are read once, and this is not the first page of the day
    desk.opens("/desk").await;
    let (answer, asked) = statements(desk.sends("/desk/check-in", &check_in_form("k"))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    // one of them says that what was typed is a draft no more
    assert!(asked.len() <= 12, "{} statements: {asked:#?}", asked.len());
    let distinct: BTreeSet<&String> = asked.iter().collect();
    assert_eq!(distinct.len(), asked.len(), "none is asked twice but the two events: {asked:#?}");
    // what they leave behind is whole
    let strings: i64 = sqlx::query_scalar("SELECT count(*) FROM instrument_string WHERE pitch <> '' AND gauge_um > 0")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(strings, 6);
    let deeds: Vec<(String, bool)> =
        sqlx::query_as("SELECT deed, json_valid(after_json) FROM event WHERE door = 'desk' ORDER BY id")
            .fetch_all(shop.app.db.read())
            .await
            .unwrap();
    let deeds: Vec<&str> = deeds.iter().map(|(deed, _)| deed.as_str()).collect();
    assert_eq!(
        deeds,
        ["customer added", "instrument added", "condition marked", "checked in", "claim ticket printed"],
        "each deed in the order in which it was done"
    );
}

/// The same page of a shop with a little behind it, and with more: it asks as often.
async fn asks_as_often<'a>(person: &Person<'a>, path: &str, shop: &Shop, more: &str) -> (Answer, usize) {
    let (first, few) = statements(person.opens(path)).await;
    assert_eq!(first.status, StatusCode::OK, "{path}");
    changes(shop, more).await;
    let (then, many) = statements(person.opens(path)).await;
    assert_ne!(first.text, then.text, "{path} shows what came");
    assert_eq!(few.len(), many.len(), "{path}: {few:#?} and then {many:#?}");
    (then, many.len())
}

/// The one job was measured.
const MEASURED_ONCE: &str = "
    INSERT INTO reading_set (id, job_id, stage, taken_at, staff_id, tuned_to, tool, tool_resolution_um, tool_limit_um,
        fret_wear, note, form_key)
    SELECT randomblob(16), id, 'received', checked_in_at, (SELECT id FROM staff WHERE is_bench), 'standard', 'calliper', 10,
        20, '', '', 'first' FROM job;
    INSERT INTO reading (reading_set_id, kind, string_number, repeat, value, typed)
    SELECT id, 'height-12', 1, 1, 2000, '2' FROM reading_set;";

/// Five more visits of the one instrument, each measured twice, quoted, paid, noted and drawn.
const FIVE_VISITS: &str = "
    CREATE TEMP TABLE five (i INTEGER);
    INSERT INTO five VALUES (1), (2), (3), (4), (5);
    INSERT INTO job (id, year, serial, number, customer_id, instrument_id, complaint, style, brought_with, rack, stage,
        stage_since, checked_in_at, link_hash, form_key)
    SELECT unhex(printf('%032x', i)), 25, i, printf('25-%04d', i), customer_id, instrument_id, 'It buzzes.', 'medium', '',
        '', 'collected', i, i * 86400000000000, randomblob(32), 'visit' || i FROM job, five WHERE number = '26-0001';
    INSERT INTO reading_set (id, job_id, stage, taken_at, staff_id, tuned_to, temperature_millicelsius,
        humidity_permille, tool, tool_resolution_um, tool_limit_um, fret_wear, note, form_key)
    SELECT unhex(printf('%030x%02x', i, stage.key)), unhex(printf('%032x', i)), stage.value,
        i * 86400000000000 + stage.key, (SELECT id FROM staff WHERE is_bench), 'standard', 20500, 470, 'calliper', 10, 20,
        '', '', 'set' || i || stage.value FROM five, json_each('[\"received\",\"final\"]') AS stage;
    INSERT INTO reading (reading_set_id, kind, string_number, repeat, value, typed)
    SELECT reading_set.id, 'height-12', string.value, 1, 2000, '2' FROM reading_set, json_each('[1,2,3,4,5,6]') AS string
    WHERE reading_set.form_key LIKE 'set%';
    INSERT INTO job_note (id, job_id, words, staff_id, written_at, form_key)
    SELECT randomblob(16), unhex(printf('%032x', i)), 'Note ' || i, (SELECT id FROM staff WHERE is_bench), 1, 'note' || i FROM five;
    INSERT INTO work_line (id, job_id, position, words, minutes, price, tax_class, state, form_key)
    SELECT unhex(printf('%032x', 100 + i)), unhex(printf('%032x', i)), 1, 'Set up', 60, 6500, 'standard', 'agreed', 'w' FROM five;
    INSERT INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding, tax_level,
        net, tax, total, note, answer, answered_at, form_key)
    SELECT unhex(printf('%032x', 200 + i)), unhex(printf('%032x', i)), 1, 1, (SELECT id FROM staff WHERE is_desk), '2026-10-14', 'GBP',
        'VAT', 'half-up', 'on-total', 6500, 0, 6500, '', 'agreed', 1, 'quote' || i FROM five;
    INSERT INTO quote_line (quote_id, position, work_line_id, words, minutes, price, tax_class, tax_rate, answer)
    SELECT unhex(printf('%032x', 200 + i)), 1, unhex(printf('%032x', 100 + i)), 'Set up', 60, 6500, 'standard', 0, 'agreed' FROM five;
    DROP TABLE five;";

#[tokio::test]
async fn an_instruments_pages_ask_as_often_after_many_visits_as_after_one() {
    for page in ["", "/history"] {
        let shop = Shop::open().await;
        let desk = shop.desk().await;
        desk.checks_in("k").await;
        // one visit that was measured stands on the page before
        let instrument = key(&shop, "SELECT id FROM instrument").await;
        changes(&shop, MEASURED_ONCE).await;
        let path = format!("/desk/instruments/{instrument}{page}");
        let (_, asked) = asks_as_often(&desk, &path, &shop, FIVE_VISITS).await;
        assert!(asked <= 14, "{path}: {asked}");
    }
}

#[tokio::test]
async fn a_customer_with_many_instruments_is_checked_in_with_as_few_questions() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let customer = key(&shop, "SELECT id FROM customer").await;
    let path = format!("/desk/check-in?customer={customer}");
    let (_, few) = statements(desk.opens(&path)).await;
    for number in 1..4 {
        let another = form(&desk.opens(&path).await, "/desk/check-in")
            .with("form_key", &format!("more-{number}"))
            .with("instrument", "")
            .with("family", "ukulele")
            .with("complaint", "It is dull.");
        assert_eq!(another.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    }
    let (page, many) = statements(desk.opens(&path)).await;
    assert_eq!(page.all("input[name=instrument]").len(), 5, "four, and another one");
    assert_eq!(few.len(), many.len(), "{few:#?} and then {many:#?}");
    // what the person typed and did not send, what stands on the rack, and what was free lately; and for the day that can
    // be promised the queue and what it rests on
    assert!(many.len() <= 24, "{many:#?}");
}

#[tokio::test]
async fn what_nobody_collects_and_what_a_customer_is_given_is_asked_for_at_once() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    changes(&shop, MEASURED_ONCE).await;
    let customer = key(&shop, "SELECT id FROM customer").await;
    let export = format!("/desk/customers/{customer}/export");
    let (one, few) = statements(desk.sends(&export, &[])).await;
    changes(&shop, FIVE_VISITS).await;
    let (six, many) = statements(desk.sends(&export, &[])).await;
    let jobs = |given: &Answer| serde_json::from_str::<serde_json::Value>(&given.text).unwrap()["jobs"].clone();
    assert_eq!((jobs(&one).as_array().unwrap().len(), jobs(&six).as_array().unwrap().len()), (1, 6));
    assert_eq!(few.len(), many.len(), "{few:#?} and then {many:#?}");
    // each row at its own job
    let visits: Vec<serde_json::Value> =
        jobs(&six).as_array().unwrap().iter().filter(|job| job["job"]["number"] != "26-0001").cloned().collect();
    for (number, job) in (1..).zip(&visits) {
        assert_eq!(job["job"]["number"], format!("25-{number:04}"));
        assert_eq!(job["notes"][0]["words"], format!("Note {number}"));
        assert_eq!(job["readings"].as_array().unwrap().len(), 2);
        assert_eq!(job["readings"][1]["readings"].as_array().unwrap().len(), 6);
        assert_eq!(job["quotes"][0]["lines"][0]["words"], "Set up");
        assert_eq!(job["work"].as_array().unwrap().len(), 1);
        assert_eq!(job["condition"].as_array().unwrap().len(), 0);
    }
    assert_eq!(jobs(&six)[5]["condition"].as_array().unwrap().len(), 1);

    changes(&shop, "UPDATE job SET stage = 'ready' WHERE number = '26-0001'").await;
    let more = "UPDATE job SET stage = 'ready' WHERE number <> '26-0001'";
    let (page, asked) = asks_as_often(&desk, "/desk/uncollected", &shop, more).await;
    assert_eq!(page.all("tbody tr").len(), 6);
    assert!(asked <= 4, "{asked}");
}

#[tokio::test]
async fn sixty_open_jobs_fit_into_forty_kilobytes() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for number in 0..60 {
        desk.checks_in(&format!("k{number}")).await;
    }
    // every stage is there, and every third job waits
    changes(
        &shop,
        "UPDATE job SET stage = json_extract('[\"checked-in\",\"measured\",\"quoted\",\"agreed\",\"on-the-bench\",\"final-check\",
             \"ready\"]', '$[' || (serial % 7) || ']'),
             waiting_for = iif(serial % 3 = 0, 'part', NULL), waiting_reason = iif(serial % 3 = 0, 'strings on order', NULL)",
    )
    .await;
    let page = desk.opens("/desk").await;
    assert_eq!(page.all("tbody tr").len(), 60);
    let first_row = page.text.split("<tr").nth(2).unwrap();
    assert!(page.text.len() < 40_000, "{} bytes, a row of them: {first_row}", page.text.len());
    // each strip that is shown is drawn, once
    let html = page.page();
    let of = |words: &str| scraper::Selector::parse(words).unwrap();
    let drawn: Vec<&str> = html.select(&of("svg.inlays symbol")).map(|symbol| symbol.attr("id").unwrap()).collect();
    let shown: BTreeSet<&str> = html.select(&of("td use")).map(|shown| &shown.attr("href").unwrap()[1..]).collect();
    assert_eq!(drawn.len(), shown.len() + 1, "and the board they lie on");
    assert!(shown.iter().all(|shown| drawn.contains(shown)), "{shown:?} of {drawn:?}");
    assert_eq!(html.select(&of("td svg.inlay")).count(), 60);
}

#[tokio::test]
async fn the_settings_are_read_once_until_somebody_changes_them() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let reads = |asked: &[String]| asked.iter().filter(|asked| asked.contains("FROM settings")).count();
    desk.opens("/desk").await;
    let (_, asked) = statements(desk.opens("/desk")).await;
    assert_eq!(reads(&asked), 0, "{asked:#?}");

    // what the owner saves stands on the next page of everybody
    let saved = form(&owner.opens("/office/settings").await, "/office/settings").with("shop_name", "Weir Strings");
    assert_eq!(saved.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    let (page, asked) = statements(desk.opens("/desk")).await;
    assert!(page.visible_text().contains("Weir Strings"), "{}", page.visible_text());
    assert_eq!(reads(&asked), 1);
    assert_eq!(reads(&statements(desk.opens("/desk")).await.1), 0);

    // while somebody is writing them, others see what stands, and nobody keeps it
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE settings SET shop_name = 'Taken back'").execute(&mut *tx).await.unwrap();
    let (page, asked) = statements(desk.opens("/desk")).await;
    assert!(page.visible_text().contains("Weir Strings") && reads(&asked) == 1, "{}", page.visible_text());
    tx.rollback().await.unwrap();
    assert!(desk.opens("/desk").await.visible_text().contains("Weir Strings"));

    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE settings SET shop_name = 'Sluice Strings'").execute(&mut *tx).await.unwrap();
    assert!(desk.opens("/desk").await.visible_text().contains("Weir Strings"));
    tx.commit().await.unwrap();
    assert!(desk.opens("/desk").await.visible_text().contains("Sluice Strings"));

    // who goes away in the middle of a write leaves nothing behind that is not so
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE settings SET shop_name = 'Given up'").execute(&mut *tx).await.unwrap();
    drop(tx);
    for _ in 0..2 {
        assert!(desk.opens("/desk").await.visible_text().contains("Sluice Strings"));
    }
    desk.checks_in("k").await;
    desk.opens("/desk").await;
    assert_eq!(reads(&statements(desk.opens("/desk")).await.1), 0);
}

/// Tables that hold a few rows, however long the shop has been there, and what a statement brings along itself.
const SMALL: [&str; 28] = [
    "stretch",
    "kind",
    "untold",
    "closed_days",
    "absence",
    "service_price",
    "month",
    "tool_scatter",
    "staff",
    "settings",
    "paper_settings",
    "telling_settings",
    "mail_settings",
    "message_words",
    "service",
    "part",
    "check_item",
    "string_set",
    "string_set_string",
    "api_token",
    "import_run",
    "first_start",
    "bench_habit",
    "json_each",
    "value",
    "session",
    "sqlite_schema",
    "CONSTANT",
];

/// Walks that end early or go over a few rows of a large table, by what they say: the open jobs, the clocks that run,
/// pictures still to be deleted, files not yet thrown away; and the newest of all, which is the first of its index.
const SHORT_WALKS: [&str; 12] = [
    // messages that did not arrive
    "USING INDEX message_failed",
    // moves the customer was not told of yet
    "INDEX promise_move_to_tell",
    "USING INDEX job_account_owed",
    "USING INDEX promise_move_to_tell",
    "SCAN untold",
    "USING INDEX labour_entry_clocks",
    "SCAN job USING INDEX job_open",
    "USING INDEX labour_entry_running",
    "USING COVERING INDEX labour_entry_running",
    "USING INDEX photo_to_remove",
    "USING INDEX import_kept",
    "USING COVERING INDEX import_kept",
];

/// Statements that take the first row of an index and stop.
const FIRST_ONLY: [&str; 4] = [
    "ORDER BY answered_at DESC LIMIT ?",
    "FROM quote ORDER BY id DESC LIMIT 1",
    "ORDER BY checked_in_at DESC LIMIT 1",
    "FROM import ORDER BY made_at DESC",
];

/// Since a day, a week, or the first of a month: as many rows as the shop has in that time.
const OF_SOME_DAYS: [&str; 9] = [
    "job.checked_in_at >= ?",
    "entry.started_at >= ",
    "WHERE checked_in_at >= ?",
    "WHERE moved_at >= ?",
    "WHERE ended_at >= ?",
    "job.stage_since >= ?",
    "stage_since >= ?1 AND stage_since <= ?2",
    "FROM json_each(?1) AS month",
    "is_open = 1 AND checked_in_at <= ?2",
];

/// How SQLite goes about a statement: nothing is read through that grows with the shop, and what is sorted was found
/// by a key. Answers what is wrong.
async fn grows(shop: &Shop, statement: &str) -> Vec<String> {
    let plan = format!("EXPLAIN QUERY PLAN {statement}");
    let steps: Vec<(i64, i64, i64, String)> =
        sqlx::query_as(sqlx::AssertSqlSafe(plan)).fetch_all(shop.app.db.read()).await.unwrap();
    let mut wrong = Vec::new();
    let folded = statement.split_whitespace().collect::<Vec<_>>().join(" ");
    let stops_early = FIRST_ONLY.iter().any(|known| folded.contains(known));
    let is_bounded = |step: &str| {
        let of_a_key = step.starts_with("SEARCH ") && step.contains("=?");
        let table = step.split_whitespace().nth(1).unwrap_or("");
        of_a_key || SMALL.contains(&table) || SHORT_WALKS.iter().any(|known| step.contains(known))
    };
    for (id, parent, _, step) in &steps {
        let table = step.split_whitespace().nth(1).unwrap_or("");
        if step.starts_with("SCAN ") {
            // a name given to a sub-select holds what that found
            let is_own = step.starts_with("SCAN (")
                || steps.iter().any(|(.., other)| {
                    ["MATERIALIZE", "CO-ROUTINE"].iter().any(|made| *other == format!("{made} {table}"))
                });
            let is_full_text = step.contains("VIRTUAL TABLE INDEX") && folded.contains(" MATCH ");
            if !(is_bounded(step) || is_own || is_full_text || stops_early) {
                wrong.push(step.clone());
            }
        }
        let is_range =
            step.starts_with("SEARCH ") && !step.contains("=?") && (step.contains(">?") || step.contains("<?"));
        let is_of_days = OF_SOME_DAYS.iter().any(|known| folded.contains(known));
        if is_range && !is_bounded(step) && !folded.contains(" LIMIT ") && !is_of_days {
            wrong.push(format!("{step}, without an end"));
        }
        if step.starts_with("USE TEMP B-TREE FOR ORDER BY") {
            let first = steps.iter().find(|(other, above, _, walk)| {
                above == parent && other < id && (walk.starts_with("SCAN ") || walk.starts_with("SEARCH "))
            });
            if !first.is_some_and(|(.., walk)| is_bounded(walk)) && !is_of_days {
                wrong.push(format!("{step} after {:?}", first.map(|(.., walk)| walk)));
            }
        }
    }
    wrong
}

#[tokio::test]
async fn no_page_goes_through_all_that_the_shop_ever_did() {
    let shop = Shop::with_story().await;
    let owner = shop.owner().await;
    let one = async |sql: &'static str| key(&shop, sql).await;
    let jobs = [
        one("SELECT id FROM job WHERE is_open = 1 AND stage = 'on-the-bench' LIMIT 1").await,
        one("SELECT id FROM job WHERE stage = 'collected' LIMIT 1").await,
    ];
    let mut asked = BTreeSet::new();
    let mut opened = 0;
    for job in &jobs {
        // a stream does not end by itself
        let pages =
            routes(&shop.app).into_iter().filter(|route| route.method == Method::GET && route.path != "/changes");
        for route in pages {
            let id = match route.path {
                path if path.starts_with("/desk/customers") => one("SELECT customer_id FROM job LIMIT 1").await,
                path if path.starts_with("/desk/instruments") => one("SELECT instrument_id FROM job LIMIT 1").await,
                path if path.starts_with("/desk/quotes") => one("SELECT id FROM quote LIMIT 1").await,
                path if path.starts_with("/desk/care") => one("SELECT id FROM care_plan LIMIT 1").await,
                path if path.starts_with("/office/string-sets") => one("SELECT id FROM string_set LIMIT 1").await,
                path if path.starts_with("/office/parts") => one("SELECT id FROM part LIMIT 1").await,
                path if path.starts_with("/office/minutes") => one("SELECT id FROM service LIMIT 1").await,
                _ => job.clone(),
            };
            let token = shop.app.db.link_secret().token(job.parse().unwrap(), 0);
            let path = route.path.replace("{id}", &id).replace("{token}", &token).replace("{name}", "frets");
            let (answer, heard) = statements(owner.opens(&path)).await;
            opened += u32::from(answer.status == StatusCode::OK);
            asked.extend(heard);
        }
    }
    assert!(opened > 100, "{opened}");
    let customer = one("SELECT customer_id FROM job LIMIT 1").await;
    for path in [
        "/office/queue?person=nobody&stage=agreed&danger=yes".to_owned(),
        "/office/calendar?week=2026-10-26".to_owned(),
        "/office/turnaround?by=family".to_owned(),
        "/office/turnaround?by=service".to_owned(),
        "/office/turnaround?by=person".to_owned(),
        "/office/audit?find=26-0001".to_owned(),
        "/office/audit?find=note&door=desk&about=job".to_owned(),
        format!("/desk/check-in?customer={customer}"),
        "/desk/search?part=hits&q=maren".to_owned(),
        "/desk/search?part=hits&q=maren+oakh".to_owned(),
        "/desk/search?part=hits&q=01632+960".to_owned(),
        "/desk/check-in?find=26-0001".to_owned(),
    ] {
        asked.extend(statements(owner.opens(&path)).await.1);
    }
    let mut asks = check_in_form("k");
    asks.retain(|(name, _)| !matches!(*name, "is_new" | "another_serial"));
    asked.extend(statements(owner.sends("/desk/check-in", &asks)).await.1);
    asked.extend(statements(owner.sends("/desk/check-in", &check_in_form("k"))).await.1);
    for (path, fields) in [
        (format!("/bench/jobs/{}/cells", jobs[0]), vec![("key", "a"), ("cell", "height-12_1"), ("typed", "2.3")]),
        (format!("/desk/customers/{customer}/export"), Vec::new()),
    ] {
        asked.extend(statements(owner.sends(&path, &fields)).await.1);
    }
    asked.extend(statements(thumbplane::records::photo::remove_forgotten(&shop.app.db)).await.1);

    let mut wrong = Vec::new();
    let questions: Vec<&String> = asked
        .iter()
        // of a row that is added SQLite lists the tables that may name it, and goes through them only where a constraint
        // was put off, which none is
        .filter(|asked| !asked.starts_with("INSERT"))
        .collect();
    assert!(questions.len() > 90, "{}", questions.len());
    for statement in questions {
        for step in grows(&shop, statement).await {
            wrong.push(format!("{step}\n  in {}", statement.split_whitespace().collect::<Vec<_>>().join(" ")));
        }
    }
    assert!(wrong.is_empty(), "{} questions grow:\n{}", wrong.len(), wrong.join("\n"));
    // it would be seen
    for growing in ["SELECT id FROM job WHERE complaint = 'x'", "SELECT id FROM quote ORDER BY made_at LIMIT 1"] {
        assert!(!grows(&shop, growing).await.is_empty(), "{growing}");
    }
}
