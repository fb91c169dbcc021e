//! Taps on the fretboard: they answer at once, each where it was meant, and none is lost.

use sqlx::sqlite::{SqliteConnectOptions, SqlitePool};

use super::driver::Browser;
use super::grid::{ENTER, a_shop_with_a_job_to_measure, tablet};

const SAVED: &str = "document.querySelector('[data-sending]').dataset.state === 'saved'";

async fn heard(folder: &std::path::Path) -> Vec<(i64, i64)> {
    let options = SqliteConnectOptions::new().filename(folder.join("thumbplane.db")).read_only(true);
    let books = SqlitePool::connect_with(options).await.unwrap();
    sqlx::query_as(
        "SELECT string_number, fret FROM observation JOIN job ON job.id = job_id
         WHERE key = 'choke' AND cleared_at IS NULL AND stage = 'checked-in' ORDER BY string_number, fret",
    )
    .fetch_all(&books)
    .await
    .unwrap()
}

async fn pressed(bench: &Browser) -> Vec<String> {
    bench.asks("return [...document.querySelectorAll('[aria-pressed=true]')].map(button => button.id)").await
}

#[tokio::test(flavor = "multi_thread")]
async fn five_taps_in_half_a_second_are_five_marks_each_where_it_was_meant() {
    let (folder, _running, origin, job) = a_shop_with_a_job_to_measure().await;
    let before = heard(folder.path()).await;
    let bench = tablet().await;
    bench.signs_in(&origin, "Ivo").await;
    bench.goes_to(&format!("{origin}{job}/fretboard?hears=choke")).await;
    bench.until("taps are taken", "document.documentElement.dataset.tapsReady === 'yes'").await;
    let (shown, milliseconds, moved): (usize, f64, bool) = bench
        .asks(
            "window.stays = true;
             const begun = performance.now(), at = place => document.querySelector(`#place-${place}`);
             const before = at('6-3').getBoundingClientRect();
             for (const place of ['6-3', '5-3', '4-3', '1-12', '1-0']) at(place).click();
             const after = at('6-3').getBoundingClientRect();
             return [document.querySelectorAll('svg.fretboard [data-place$=choke]').length, performance.now() - begun,
                 before.x !== after.x || before.y !== after.y]",
        )
        .await;
    assert_eq!((shown, moved), (5, false), "each mark stands there at once, and nothing moves");
    assert!(milliseconds < 500.0, "{milliseconds}");
    bench.until("all is saved", SAVED).await;
    let all = ["place-1-0", "place-1-12", "place-4-3", "place-5-3", "place-6-3"];
    assert_eq!(pressed(&bench).await, all);
    let of_taps = |all: Vec<(i64, i64)>| all.into_iter().filter(|place| !before.contains(place)).collect::<Vec<_>>();
    assert_eq!(of_taps(heard(folder.path()).await), [(1, 0), (1, 12), (4, 3), (5, 3), (6, 3)]);
    assert!(bench.asks::<bool>("return window.stays === true").await, "the page was not loaded again");

    // the last one is taken back, and by keyboard another noted
    bench.clicks("[data-undo]").await;
    bench.asks::<()>("document.querySelector('#place-4-3').focus(); return null").await;
    bench.keys("\u{e014}").await;
    bench.keys(ENTER).await;
    bench.until("all is saved", SAVED).await;
    bench.until("it is there", "document.querySelector('#place-4-4').ariaPressed === 'true'").await;
    bench.until("the list says so", "document.querySelector('[data-stands]').textContent.includes('fret 4')").await;
    assert_eq!(of_taps(heard(folder.path()).await), [(1, 12), (4, 3), (4, 4), (5, 3), (6, 3)]);

    // without a connection they wait on the tablet, and go out by themselves
    bench.offline(true).await;
    bench.clicks("#place-2-7").await;
    bench.until("it waits", "document.querySelector('[data-sending]').textContent.includes('1 tap waits')").await;
    bench.offline(false).await;
    bench.until("all is saved", SAVED).await;
    assert_eq!(of_taps(heard(folder.path()).await), [(1, 12), (2, 7), (4, 3), (4, 4), (5, 3), (6, 3)]);
    bench.closes().await;
}
