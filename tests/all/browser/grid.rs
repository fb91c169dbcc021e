//! The reading grid on a shop tablet: touch, calliper, a connection that drops, a server and a tablet that die.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Instant;

use serde_json::json;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePool};
use tempfile::TempDir;
use thumbplane::clock::Clock;
use thumbplane::records::Db;

use super::driver::Browser;
use crate::command::Running;

pub(super) const ENTER: &str = "\u{e007}";
const READY: &str = "document.documentElement.dataset.gridReady === 'yes'";
pub(super) const NOTHING_WAITS: &str = "document.querySelector('[data-sending]').dataset.state === 'saved' \
     && !document.querySelector('input[data-state=waiting], input[data-state=keeping]')";
/// What the page says it has kept, here or in the books.
const KEPT: &str = "return Object.fromEntries([...document.querySelectorAll('input[data-cell]')]
     .filter(cell => ['waiting', 'saved'].includes(cell.dataset.state)).map(cell => [cell.name, cell.value]))";

/// A folder with the whole story of Millrace Strings, for a server that may die.
pub(super) async fn story() -> TempDir {
    let folder = TempDir::new().unwrap();
    let db = Db::open(folder.path()).await.unwrap();
    thumbplane::command::fill_demo(&db, &Clock::system("Europe/London").unwrap()).await.unwrap();
    db.close().await;
    folder
}

async fn books(folder: &Path) -> SqlitePool {
    let options = SqliteConnectOptions::new().filename(folder.join("thumbplane.db")).read_only(true);
    SqlitePool::connect_with(options).await.unwrap()
}

/// A six-string that nobody has measured yet.
pub(super) async fn unmeasured(folder: &Path) -> String {
    let id: uuid::Uuid = sqlx::query_scalar(
        "SELECT job.id FROM job WHERE stage = 'checked-in'
           AND (SELECT count(*) FROM instrument_string WHERE instrument_id = job.instrument_id) = 6 LIMIT 1",
    )
    .fetch_one(&books(folder).await)
    .await
    .unwrap();
    format!("/bench/jobs/{id}")
}

/// What stands in the books, cell by cell, and that nothing is there twice.
pub(super) async fn values_in_books(folder: &Path) -> BTreeMap<String, String> {
    let books = books(folder).await;
    let twice: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM (SELECT 1 FROM reading_entry GROUP BY draft_id, cell, typed, staff_id HAVING count(*) > 1)",
    )
    .fetch_one(&books)
    .await
    .unwrap();
    assert_eq!(twice, 0, "a value is there once");
    let rows: Vec<(String, String)> =
        sqlx::query_as("SELECT cell, typed FROM reading_entry WHERE is_disputed = 0 ORDER BY id")
            .fetch_all(&books)
            .await
            .unwrap();
    rows.into_iter().collect()
}

/// A shop that runs, its address, and a job nobody has measured yet.
pub(super) async fn a_shop_with_a_job_to_measure() -> (TempDir, Running, String, String) {
    let folder = story().await;
    let running = Running::shop(folder.path(), "127.0.0.1:0");
    let origin = format!("http://{}", running.address);
    let job = unmeasured(folder.path()).await;
    (folder, running, origin, job)
}

/// The same, with the job's page open on Ivo's tablet.
pub(super) async fn a_tablet_at_the_bench() -> (TempDir, Running, String, String, Browser) {
    let (folder, running, origin, job) = a_shop_with_a_job_to_measure().await;
    let bench = tablet().await;
    bench.signs_in(&origin, "Ivo").await;
    opens(&bench, &origin, &job).await;
    (folder, running, origin, job, bench)
}

pub(super) async fn opens(browser: &Browser, origin: &str, job: &str) {
    browser.goes_to(&format!("{origin}{job}")).await;
    browser.until("the grid is ready", READY).await;
}

pub(super) async fn tablet() -> Browser {
    let browser = Browser::open(1024, 768, &["--touch-events=enabled"]).await;
    // presses are fingers
    browser.devtools("Emulation.setTouchEmulationEnabled", json!({"enabled": true})).await;
    browser
}

fn values() -> Vec<String> {
    let of = |string: u8| {
        let add = f64::from(string);
        vec![format!("{:.2}", 2.5 + 0.08 * add), format!("{:.2}", 0.6 + 0.03 * add), "0.08".to_owned()]
    };
    (0..6).flat_map(of).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_whole_set_is_typed_in_two_minutes_by_calliper_and_by_keypad() {
    let (folder, running, _origin, _job, bench) = a_tablet_at_the_bench().await;
    // every interaction from the press to the next paint, and our own share of it (W3C Event Timing)
    bench
        .asks::<()>(
            "window.presses = {};
             new PerformanceObserver(list => { for (const entry of list.getEntries()) {
                 if (!entry.interactionId) continue;
                 const [paint, own] = window.presses[entry.interactionId] ?? [0, 0];
                 window.presses[entry.interactionId] =
                     [Math.max(paint, entry.duration), Math.max(own, entry.processingEnd - entry.processingStart)];
             } }).observe({ type: 'event', durationThreshold: 16, buffered: true });
             return null",
        )
        .await;
    let begun = Instant::now();
    // the pace of a person: the next press comes when the page has come to rest
    let press = async |selector: &str| {
        bench.clicks(selector).await;
        bench.rests().await;
    };

    // the order of travel is chosen: place by place; a calliper types and sends Enter
    bench.clicks(".travel input[value=by-place]").await;
    bench.clicks("#field-height-12_1").await;
    for string in 0..6 {
        // each twice, because a single reading is not enough to cut by
        let height = format!("{:.2}", 2.5 + 0.08 * f64::from(string));
        bench.keys(&format!("{height};{height}{ENTER}")).await;
        bench.rests().await;
    }
    let at: String = bench.asks("return document.activeElement.id").await;
    assert_eq!(at, "field-height-1_1", "after the last string comes the next place");

    // the gaps and what is read once by the keypad, pressed with a finger
    bench.clicks("#field-gap-1-stopped-3_1").await;
    for _ in 0..6 {
        for key in ["0", ".", "0", "8"] {
            press(&format!("[data-key-types='{key}']")).await;
        }
        press("[data-key-does=next]").await;
    }
    bench.clicks("#field-relief_0").await;
    for key in [
        "types='0'",
        "types='.'",
        "types='1'",
        "types='5'",
        "does=again",
        "types='0'",
        "types='.'",
        "types='1'",
        "types='6'",
        "does=next",
    ] {
        press(&format!("[data-key-{key}]")).await;
    }
    for value in ["3.6", "4.4"] {
        bench.keys(&format!("{value}{ENTER}")).await;
        bench.rests().await;
    }
    bench.clicks("#field-height-1_2").await;
    bench.clicks(".cannot summary").await;
    bench.clicks("[data-cannot='tool does not reach']").await;
    bench.types("#field-temperature", "20").await;
    bench.types("#field-humidity", "48").await;
    bench.clicks("#field-tool option[value=dial]").await;
    bench.until("all is saved", NOTHING_WAITS).await;
    let seconds = begun.elapsed().as_secs_f64();

    let presses: Vec<(f64, f64)> = bench.asks("return Object.values(window.presses)").await;
    assert!(presses.len() > 40, "{presses:?}");
    let share = |of: fn(&(f64, f64)) -> f64, percent: usize| {
        let mut sorted: Vec<f64> = presses.iter().map(of).collect();
        sorted.sort_by(f64::total_cmp);
        sorted[(sorted.len() - 1) * percent / 100]
    };
    let (paint, own) = (share(|press| press.0, 75), share(|press| press.1, 98));
    eprintln!(
        "a whole set in {seconds:.0} s; press to next paint: median {} ms, three of four within {paint} ms, 98 % within {} ms; \
         of it the page's own work, 98 % within {own:.0} ms",
        share(|press| press.0, 50),
        share(|press| press.0, 98),
    );
    assert!(seconds < 120.0, "{seconds}");
    // the slowest few tell more of the machine the test runs on than of the page
    assert!(paint < 100.0 && own < 100.0, "{presses:?}");

    let books = values_in_books(folder.path()).await;
    assert_eq!(books["height-12_6"], "2.90 mm; 2.90 mm");
    assert_eq!(books["gap-1-stopped-3_6"], "0.08 mm");
    assert_eq!(books["relief_0"], "0.15 mm; 0.16 mm");
    assert_eq!(books["height-1_2"], "not measurable: tool does not reach");
    // and the plan stands beside it without a reload; done, it leads straight to the first cell to read again
    bench.until("the plan follows", "document.querySelector('#plan [data-after-sending]')").await;
    bench.clicks("#plan [data-after-sending] button").await;
    bench.until("it goes there", "document.activeElement.closest('td')?.querySelector('s')").await;
    bench.closes().await;
    drop(running);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dropped_connection_a_dead_server_and_a_reload_lose_nothing() {
    let folder = story().await;
    let running = Running::shop(folder.path(), "127.0.0.1:0");
    let address = running.address.clone();
    let origin = format!("http://{address}");
    let job = unmeasured(folder.path()).await;
    let bench = tablet().await;
    bench.signs_in(&origin, "Ivo").await;
    opens(&bench, &origin, &job).await;
    bench.until("the worker holds the page", "navigator.serviceWorker.controller").await;
    bench
        .page
        .execute_async(
            "const [done] = arguments; const look = async () => (await caches.match(location.pathname)) ? done(true) : setTimeout(look, 20); look();",
            vec![],
        )
        .await
        .unwrap();
    bench.clicks("#field-height-12_1").await;
    let values = values();
    for (place, value) in values.iter().enumerate() {
        match place {
            4 => bench.offline(true).await,
            8 => bench.offline(false).await,
            _ => {}
        }
        bench.keys(&format!("{value}{ENTER}")).await;
        if place % 3 == 2 {
            // cents are not read today
            bench.clicks("[data-key-does=skip]").await;
        }
        if place == 7 {
            bench
                .until(
                    "the page says how many wait",
                    "document.querySelector('[data-sending]').textContent.includes('4 values wait')",
                )
                .await;
        }
        if place == 10 {
            break;
        }
    }
    bench.until("all is saved", NOTHING_WAITS).await;
    // the power goes, and the bench goes on
    running.dies();
    for value in &values[11..14] {
        bench.keys(&format!("{value}{ENTER}")).await;
        let skip: bool = bench.asks("return document.activeElement.name.startsWith('cents')").await;
        if skip {
            bench.clicks("[data-key-does=skip]").await;
        }
    }
    bench.until("three wait", "document.querySelectorAll('input[data-state=waiting]').length === 3").await;
    let said: BTreeMap<String, String> = bench.asks(KEPT).await;
    assert_eq!(said.len(), 14, "{said:?}");
    // opened again without a server: the page is there, and every value
    opens(&bench, &origin, &job).await;
    let again: BTreeMap<String, String> = bench.asks(KEPT).await;
    assert_eq!(again, said);
    bench.until("the plan is marked as an older one", "document.querySelector('#plan[data-old]')").await;
    let stands = values_in_books(folder.path()).await;
    assert_eq!(stands.len(), 11, "{stands:?}");
    // and back: what waited goes out by itself
    let running = Running::shop(folder.path(), &address);
    bench.until("all is saved", NOTHING_WAITS).await;
    assert_eq!(values_in_books(folder.path()).await, said);
    bench.until("the plan is today's", "!document.querySelector('#plan[data-old]')").await;
    bench.closes().await;
    drop(running);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tablet_that_dies_keeps_what_it_said_it_kept() {
    let (folder, _running, origin, job) = a_shop_with_a_job_to_measure().await;
    let profile = TempDir::new().unwrap();
    let own = format!("--user-data-dir={}", profile.path().display());
    let bench = Browser::of(&origin, "Ivo", (1024, 768), &[&own]).await;
    opens(&bench, &origin, &job).await;
    bench.offline(true).await;
    bench.clicks("#field-height-12_1").await;
    for value in ["2.50", "0.61", "0.08"] {
        bench.keys(&format!("{value}{ENTER}")).await;
    }
    bench.until("three are kept", "document.querySelectorAll('input[data-state=waiting]').length === 3").await;
    bench.dies().await;

    let bench = Browser::open(1024, 768, &[&own]).await;
    bench.goes_to(&format!("{origin}{job}")).await;
    if bench.path().await == "/sign-in" {
        bench.signs_in(&origin, "Ivo").await;
    }
    opens(&bench, &origin, &job).await;
    bench.until("all is saved", NOTHING_WAITS).await;
    let stands = values_in_books(folder.path()).await;
    let expected = [("gap-1-stopped-3_1", "0.08 mm"), ("height-12_1", "2.50 mm"), ("height-1_1", "0.61 mm")];
    assert_eq!(stands, expected.map(|(cell, typed)| (cell.to_owned(), typed.to_owned())).into_iter().collect());
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_tablets_on_one_job_merge_by_cell_and_ask_which() {
    let (folder, running, origin, job) = a_shop_with_a_job_to_measure().await;
    let (one, other) = (tablet().await, tablet().await);
    one.signs_in(&origin, "Ivo").await;
    other.signs_in(&origin, "Tamsa").await;
    opens(&one, &origin, &job).await;
    opens(&other, &origin, &job).await;
    one.offline(true).await;
    one.clicks("#field-height-12_1").await;
    one.keys(&format!("2.15{ENTER}0.60{ENTER}")).await;
    other.clicks("#field-height-12_1").await;
    other.keys(&format!("2.20{ENTER}")).await;
    other.clicks("#field-relief_0").await;
    other.keys(&format!("0.15{ENTER}")).await;
    other.until("all is saved", NOTHING_WAITS).await;
    one.offline(false).await;
    one.until("it is asked about", "!document.querySelector('[data-ask]').hidden").await;
    let question: String = one.asks("return document.querySelector('[data-ask-words]').textContent").await;
    assert!(question.contains("2.15 mm here, 2.20 mm by Tamsa at ") && question.ends_with("which?"), "{question}");
    // what did not clash has merged
    one.until("her relief is here", "document.querySelector('#field-relief_0').value === '0.15 mm'").await;
    other.until("his height is there", "document.querySelector('#field-height-1_1').value === '0.60 mm'").await;
    assert_eq!(values_in_books(folder.path()).await["height-12_1"], "2.20 mm", "nothing was overwritten");
    other.until("she is asked too", "!document.querySelector('[data-ask]').hidden").await;
    one.clicks("[data-ask-answers] button:first-child").await;
    other.until("it is settled there", "document.querySelector('[data-ask]').hidden && document.querySelector('#field-height-12_1').value === '2.15 mm'").await;
    one.until("all is saved", NOTHING_WAITS).await;
    let said: BTreeMap<String, String> = one.asks(KEPT).await;
    let books = books(folder.path()).await;
    let all: i64 = sqlx::query_scalar("SELECT count(*) FROM reading_entry WHERE cell = 'height-12_1'")
        .fetch_one(&books)
        .await
        .unwrap();
    assert_eq!(all, 3, "both values and the answer are on record");
    let rows: Vec<(String, String)> =
        sqlx::query_as("SELECT cell, typed FROM reading_entry WHERE is_disputed = 0 ORDER BY id")
            .fetch_all(&books)
            .await
            .unwrap();
    assert_eq!(rows.into_iter().collect::<BTreeMap<_, _>>(), said);
    one.closes().await;
    other.closes().await;
    drop(running);
}

#[tokio::test(flavor = "multi_thread")]
async fn signing_out_leaves_no_page_behind() {
    let (_folder, running, origin, job, bench) = a_tablet_at_the_bench().await;
    bench
        .page
        .execute_async(
            "const [done] = arguments; const look = async () => (await caches.match(location.pathname)) ? done(true) : setTimeout(look, 20); look();",
            vec![],
        )
        .await
        .unwrap();
    bench.clicks("form[action='/sign-out'] button").await;
    bench.waits_for("#field-password").await;
    let left = bench
        .page
        .execute_async("const [done, path] = arguments; caches.keys().then(keys => done(keys.length))", vec![])
        .await
        .unwrap();
    assert_eq!(left.convert::<u32>().unwrap(), 0);
    running.dies();
    assert!(bench.page.goto(format!("{origin}{job}")).await.is_err(), "nothing of the job can be opened");
    bench.closes().await;
}
