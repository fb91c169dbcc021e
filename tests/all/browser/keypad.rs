//! The bench's keypad and callipers in every posture of the tablet: what is in hand is seen, what is asked stands at its
//! cell, and one value fills one cell.

use serde_json::json;

use super::driver::Browser;
use super::grid::{ENTER, NOTHING_WAITS, a_tablet_at_the_bench, opens, values_in_books};

/// Return, as a calliper sends a carriage return (W3C WebDriver, keyboard actions).
const RETURN: &str = "\u{e006}";
const TAB: &str = "\u{e004}";

async fn stands(bench: &Browser, (width, height): (u32, u32)) {
    let size = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
    bench.devtools("Emulation.setDeviceMetricsOverride", size).await;
}

async fn at(bench: &Browser) -> String {
    bench.asks("return document.activeElement.name || document.activeElement.textContent.trim()").await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_cell_in_hand_is_seen_on_each_of_forty_moves_in_every_posture() {
    let (_folder, _running, origin, job, bench) = a_tablet_at_the_bench().await;
    for size in [(1024, 768), (768, 1024), (390, 844)] {
        stands(&bench, size).await;
        opens(&bench, &origin, &job).await;
        for places in [["by-string", "#field-height-12_1"], ["by-place", "#field-height-12_1"]] {
            bench.clicks(&format!(".travel input[value={}]", places[0])).await;
            bench.clicks(places[1]).await;
            for step in 0..20 {
                let seen: (bool, String, String) = bench
                    .asks(
                        "const cell = document.activeElement, at = cell.getBoundingClientRect();
                         const top = document.elementFromPoint(at.x + at.width / 2, at.y + at.height / 2);
                         return [at.top >= 0 && at.bottom <= innerHeight && top === cell, cell.name,
                             JSON.stringify(at) + (top?.className ?? '')]",
                    )
                    .await;
                assert!(seen.0, "{size:?}, move {step}: {seen:?}");
                bench.asks::<()>("document.querySelector('[data-key-does=skip]').click(); return null").await;
                bench.rests().await;
            }
        }
    }
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_digit_is_in_reach_at_four_times_the_size() {
    let (_folder, _running, origin, job, bench) = a_tablet_at_the_bench().await;
    // 1024 by 768 at 400 % (WCAG 2.2, 1.4.10: reflow is judged so)
    stands(&bench, (256, 192)).await;
    opens(&bench, &origin, &job).await;
    bench.clicks("#field-height-12_1").await;
    for key in ["2", ".", "5", "0", "8"] {
        bench.clicks(&format!("[data-key-types='{key}']")).await;
    }
    let typed: (String, String) = bench
        .asks("return [document.activeElement.value, document.querySelector('[data-keypad-figure]').textContent]")
        .await;
    assert_eq!(typed, ("2.508".to_owned(), "2.508".to_owned()), "the keypad itself shows the figure in hand");
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_asked_stands_at_its_cell_and_is_answered_by_a_digit_or_by_next() {
    let (folder, _running, _origin, _job, bench) = a_tablet_at_the_bench().await;
    let presses = async |keys: &[&str]| {
        for key in keys {
            bench.clicks(&format!("[data-key-{key}]")).await;
        }
    };
    bench.clicks("#field-height-12_2").await;
    presses(&["types='2'", "types='8'", "does=next"]).await;
    bench.until("it is asked", "!document.querySelector('[data-ask]').hidden").await;
    let stands_there: bool = bench
        .asks(
            "return document.querySelector('[data-ask]').closest('tr').previousElementSibling
                 .contains(document.querySelector('#field-height-12_2'))",
        )
        .await;
    assert!(stands_there, "the question stands under the row of its cell");
    // the next digit replaces it, and the question is gone
    presses(&["types='3'"]).await;
    let now: (String, bool) = bench
        .asks(
            "return [document.querySelector('#field-height-12_2').value, document.querySelector('[data-ask]').hidden]",
        )
        .await;
    assert_eq!(now, ("3".to_owned(), true));
    presses(&["types='3'", "does=next"]).await;
    bench.until("it is asked again", "!document.querySelector('[data-ask]').hidden").await;
    let next: String = bench.asks("return document.querySelector('[data-key-does=next]').textContent").await;
    assert_eq!(next, "Yes, 3.30 mm");
    presses(&["does=next"]).await;
    bench.until("all is saved", NOTHING_WAITS).await;
    assert_eq!(values_in_books(folder.path()).await["height-12_2"], "3.30 mm");
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_calliper_fills_one_cell_whatever_it_sends_behind_a_value() {
    let (folder, _running, _origin, _job, bench) = a_tablet_at_the_bench().await;
    bench.clicks(".travel input[value=by-place]").await;
    bench.clicks("#field-height-12_1").await;
    for (string, end) in
        (1..=4).zip([RETURN.to_owned(), ENTER.to_owned(), format!("{RETURN}{ENTER}"), format!("{ENTER}{ENTER}")])
    {
        assert_eq!(at(&bench).await, format!("height-12_{string}"));
        bench.keys(&format!("2.5{string}{end}")).await;
        bench.rests().await;
    }
    assert_eq!(at(&bench).await, "height-12_5", "one value, one cell");
    bench.keys(&format!("2.55{TAB}")).await;
    assert_eq!(at(&bench).await, "height-1_5", "Tab goes on in the order of the page");
    // behind the last cell Enter goes to the button, and a line feed does not press it
    bench.clicks("#field-humidity").await;
    bench.keys(&format!("48{RETURN}{ENTER}")).await;
    bench.until("all is saved", NOTHING_WAITS).await;
    assert_eq!(at(&bench).await, "That is the set: save and plan");
    let sets: bool = bench.asks("return document.querySelector('.flash') !== null").await;
    assert!(!sets, "nothing was pressed");
    let books = values_in_books(folder.path()).await;
    let expected: Vec<String> = (1..=5).map(|string| format!("2.5{string} mm")).collect();
    let read: Vec<String> = (1..=5).map(|string| books[&format!("height-12_{string}")].clone()).collect();
    assert_eq!(read, expected);
    bench.closes().await;
}
