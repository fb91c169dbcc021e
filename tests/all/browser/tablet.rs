//! What a shop tablet never does with a value: reads it in another unit, loses it, or takes half of it for the whole.

use serde_json::json;

use super::driver::Browser;
use super::grid::{
    ENTER, NOTHING_WAITS, a_shop_with_a_job_to_measure, a_tablet_at_the_bench, opens, tablet, values_in_books,
};

/// Sends a form of the page's own, as another tablet of the same person would.
async fn posts(bench: &Browser, path: &str, fields: &[(&str, &str)]) {
    let script = "const [path, fields, done] = arguments;
         fetch(path, { method: 'POST', body: new URLSearchParams(fields) }).then(answer => done(answer.ok));";
    let sent = bench.page.execute_async(script, vec![json!(path), json!(fields)]).await.unwrap();
    assert!(sent.convert::<bool>().unwrap(), "{path}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_filled_cell_is_not_read_again_in_another_persons_unit() {
    let (folder, _running, origin, job) = a_shop_with_a_job_to_measure().await;
    let bench = tablet().await;
    bench.signs_in(&origin, "Ivo").await;
    // typed without a unit, which here means millimetres; the calliper of who comes next shows inches
    let bare = [("key", "bare"), ("cell", "relief_0"), ("typed", "0.12"), ("replaces", ""), ("after", "")];
    posts(&bench, &format!("{job}/cells"), &bare).await;
    posts(&bench, "/bench/habit", &[("travel", "by-string"), ("unit", "inch")]).await;
    opens(&bench, &origin, &job).await;
    let echo = "document.querySelector('#about-relief_0 [data-echo]').textContent";
    bench.until("it is read in mm", &format!("{echo}.startsWith('0.12\\u00a0mm')")).await;
    for key in ["next", "again", "skip"] {
        bench.clicks("#field-relief_0").await;
        bench.clicks(&format!("[data-key-does={key}]")).await;
    }
    bench.clicks("#field-relief_0").await;
    bench.keys(ENTER).await;
    bench.clicks("#field-height-12_1").await;
    bench.keys(&format!("0.098{ENTER}")).await;
    bench.until("all is saved", NOTHING_WAITS).await;
    let books = values_in_books(folder.path()).await;
    assert_eq!((books["relief_0"].as_str(), books["height-12_1"].as_str()), ("0.12", "0.098 in"));
    // a repeat is in her unit, and what stood there is in the shop's
    bench.clicks("#field-relief_0").await;
    bench.clicks("[data-key-does=again]").await;
    bench.keys(&format!("0.005{ENTER}")).await;
    bench.until("all is saved", NOTHING_WAITS).await;
    assert_eq!(values_in_books(folder.path()).await["relief_0"], "0.12 mm; 0.005 in");
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_step_done_on_one_tablet_is_told_on_the_other() {
    let (_folder, _running, origin, job) = a_shop_with_a_job_to_measure().await;
    let (one, other) = (tablet().await, tablet().await);
    one.signs_in(&origin, "Ivo").await;
    other.signs_in(&origin, "Tamsa").await;
    let heights: Vec<String> = (1..=6).map(|string| format!("height-12_{string}")).collect();
    let gaps: Vec<String> = (1..=6).map(|string| format!("gap-1-stopped-3_{string}")).collect();
    let mut form = vec![("form_key", "set"), ("stage", "received"), ("tool", "dial"), ("tuned_to", "standard")];
    form.extend([("temperature", "20"), ("humidity", "48"), ("relief_0", "0.15")]);
    form.extend([("saddle-treble_0", "5.6"), ("saddle-bass_0", "6.4")]);
    form.extend(heights.iter().map(|name| (name.as_str(), "3.20")));
    form.extend(gaps.iter().map(|name| (name.as_str(), "0.08")));
    posts(&one, &format!("{job}/readings"), &form).await;
    opens(&one, &origin, &job).await;
    opens(&other, &origin, &job).await;
    one.clicks("#plan form[action$='/measure-again'] button").await;
    other
        .until(
            "she is told",
            "document.querySelector('[data-done]').textContent.startsWith('Done on another tablet: ')",
        )
        .await;
    other
        .until(
            "her plan says: read first",
            "document.querySelector('#plan .step.now h3').textContent.includes('Read first')",
        )
        .await;
    one.closes().await;
    other.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_browser_without_room_saves_with_the_button() {
    let (_folder, _running, origin, job) = a_shop_with_a_job_to_measure().await;
    let bench = tablet().await;
    let full = "IDBFactory.prototype.open = () => { throw new DOMException('full', 'QuotaExceededError'); };";
    bench.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": full })).await;
    bench.signs_in(&origin, "Ivo").await;
    opens(&bench, &origin, &job).await;
    bench.until("it says so", "document.querySelector('[data-sending]').dataset.state === 'no-room'").await;
    bench.clicks("#field-height-12_1").await;
    bench.keys(&format!("2.50{ENTER}")).await;
    bench.until("it is not kept", "document.querySelector('#field-height-12_1').dataset.state === 'problem'").await;
    bench.clicks("form[data-grid] button.primary").await;
    bench.waits_for(".flash").await;
    assert!(bench.text().await.contains("1 readings saved"), "{}", bench.text().await);
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_books_did_not_take_stands_at_its_cell_until_it_is_typed_anew() {
    let (_folder, _running, origin, job, bench) = a_tablet_at_the_bench().await;
    bench.clicks("#field-height-12_2").await;
    bench.keys(&format!("two{ENTER}")).await;
    let problem = "document.querySelector('#field-height-12_2').dataset.state === 'problem'
         && document.querySelector('#field-height-12_2').value === 'two'";
    bench.until("it is not taken", problem).await;
    for _ in 0..2 {
        opens(&bench, &origin, &job).await;
        bench.until("it still stands there", problem).await;
    }
    bench.types("#field-height-12_2", &format!("2.58{ENTER}")).await;
    bench.until("all is saved", NOTHING_WAITS).await;
    opens(&bench, &origin, &job).await;
    let now: (String, bool) = bench
        .asks("const cell = document.querySelector('#field-height-12_2'); return [cell.value, cell.dataset.state === 'problem']")
        .await;
    assert_eq!(now, ("2.58 mm".to_owned(), false));
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_leaves_past_an_open_question() {
    let (folder, _running, _origin, _job, bench) = a_tablet_at_the_bench().await;
    bench.clicks("#field-height-12_1").await;
    bench.keys(&format!("0.10{ENTER}")).await;
    bench.until("it is questioned", "!document.querySelector('[data-ask]').hidden").await;
    let (line, asked): (String, String) = bench
        .asks("return ['[data-sending]', '[data-ask-words]'].map(place => document.querySelector(place).textContent)")
        .await;
    assert_eq!(line, "▲ 1 value is not saved yet: answer the question first.");
    assert!(asked.ends_with("0.10 mm is far too little here. Did you mean 2.54 mm?"), "{asked}");
    bench.asks::<()>("document.querySelector('#notes details').open = true; return null").await;
    bench.types("#field-hands", "Glue sets until four.").await;
    bench.clicks("form[action$='/notes'] button").await;
    bench.until("the question leads", "document.activeElement.closest('[data-ask-answers]')").await;
    bench.clicks("[data-ask-answers] button:first-child").await;
    bench.until("all is saved", NOTHING_WAITS).await;
    bench.clicks("form[action$='/notes'] button").await;
    bench.waits_for(".flash").await;
    assert!(bench.text().await.contains("The note is written."));
    assert_eq!(values_in_books(folder.path()).await["height-12_1"], "2.54 mm");
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn half_a_figure_is_no_reading_and_is_asked_about_on_waking() {
    let (folder, _running, origin, job, bench) = a_tablet_at_the_bench().await;
    bench.clicks("#field-height-12_1").await;
    bench.clicks("[data-key-types='2']").await;
    let asked =
        "document.querySelector('[data-ask-words]').textContent.includes('you had typed 2 when the tablet went to sleep. Is that all of it')
         && !document.querySelector('[data-ask]').hidden";
    let sleeps = |asleep: bool| {
        format!(
            "Object.defineProperty(document, 'hidden', {{ value: {asleep}, configurable: true }});
             document.dispatchEvent(new Event('visibilitychange')); return null"
        )
    };
    bench.asks::<()>(&sleeps(true)).await;
    bench.asks::<()>(&sleeps(false)).await;
    bench.until("it is asked about", asked).await;
    // the page is left, and comes back
    opens(&bench, &origin, &job).await;
    bench.until("it is asked about again", asked).await;
    assert!(!values_in_books(folder.path()).await.contains_key("height-12_1"));
    bench.clicks("[data-ask-answers] button:nth-child(2)").await;
    for key in ["types='.'", "types='5'", "does=next"] {
        bench.clicks(&format!("[data-key-{key}]")).await;
    }
    bench.until("all is saved", NOTHING_WAITS).await;
    assert_eq!(values_in_books(folder.path()).await["height-12_1"], "2.5 mm");
    bench.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_figure_of_the_grid_is_clipped_on_any_screen() {
    let (_folder, _running, origin, job) = a_shop_with_a_job_to_measure().await;
    let bench = tablet().await;
    bench.signs_in(&origin, "Ivo").await;
    let cells: Vec<String> = ["height-12", "height-1", "gap-1-stopped-3"]
        .into_iter()
        .flat_map(|kind| (1..=6).map(move |string| format!("{kind}_{string}")))
        .collect();
    let once = ["relief_0", "saddle-treble_0", "saddle-bass_0"].map(str::to_owned);
    for cell in once.iter().chain(&cells) {
        let typed = if cell.ends_with('2') { "3.45 mm; 3.46 mm" } else { "3.45 mm" };
        let value = [
            ("key", cell.as_str()),
            ("cell", cell),
            ("typed", typed),
            ("replaces", ""),
            ("sure", "yes"),
            ("after", ""),
        ];
        posts(&bench, &format!("{job}/cells"), &value).await;
    }
    for (width, height) in [(1024, 768), (768, 1024), (390, 844)] {
        let size = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        bench.devtools("Emulation.setDeviceMetricsOverride", size).await;
        opens(&bench, &origin, &job).await;
        let clipped: Vec<String> = bench
            .asks(
                "return [...document.querySelectorAll('input[data-cell]')]
                     .filter(cell => cell.scrollWidth > cell.clientWidth
                         && cell.parentElement.querySelector('[data-whole]').textContent !== cell.value)
                     .map(cell => `${cell.name} ${cell.value}: ${cell.scrollWidth} in ${cell.clientWidth}`)",
            )
            .await;
        assert!(clipped.is_empty(), "{width}: {clipped:?}");
        let shown: usize = bench
            .asks("return [...document.querySelectorAll('input[data-cell]')].filter(cell => cell.value === '3.45 mm').length")
            .await;
        assert!(shown >= 10, "{shown} values stand there");
    }
    bench.closes().await;
}
