//! The bench's page checked by axe-core (WCAG 2.2 A and AA), by keyboard alone, and by the size of its targets.

use std::path::Path;

use super::driver::{Browser, demo};

/// The checker at the version that tests/run fetches by npm. Without it the test fails: what is not checked is not right.
fn axe() -> String {
    let version = include_str!("../../run").lines().find_map(|line| line.strip_prefix("axe=")).unwrap();
    let script =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("target/axe-{version}/node_modules/axe-core/axe.min.js"));
    std::fs::read_to_string(&script)
        .unwrap_or_else(|cause| panic!("{}: {cause}. tests/run fetches it by npm.", script.display()))
}

async fn has_no_violation(browser: &Browser, axe: &str, state: &str) {
    browser.page.execute(axe, vec![]).await.unwrap();
    let found: Vec<String> = browser
        .page
        .execute_async(
            "const [done] = arguments;
             axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }).then(
               result => done(result.violations.map(found => found.id + ': ' + found.nodes.map(node => node.html + ' ' + node.failureSummary).join(' | '))))",
            vec![],
        )
        .await
        .unwrap()
        .convert()
        .unwrap();
    assert!(found.is_empty(), "{state}: {found:#?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_grid_is_free_of_violations_in_every_state_light_and_dark() {
    let axe = axe();
    let (_demo, origin) = demo();
    for dark in [false, true] {
        let bench = Browser::open(1024, 768, &[]).await;
        let scheme = if dark { "dark" } else { "light" };
        let media = serde_json::json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        bench.devtools("Emulation.setEmulatedMedia", media).await;
        bench.signs_in(&origin, "Ivo").await;
        bench.goes_to(&format!("{origin}/bench")).await;
        let jobs: Vec<String> =
            bench.asks("return [...document.querySelectorAll('main td a')].map(link => link.pathname)").await;
        assert!(jobs.len() > 8);
        // jobs measured, under way, stopped and finished; their colours are the same, so a few do in the dark
        for job in jobs.iter().take(if dark { 3 } else { jobs.len() }) {
            bench.goes_to(&format!("{origin}{job}")).await;
            bench.until("the grid is ready", "document.documentElement.dataset.gridReady === 'yes'").await;
            has_no_violation(&bench, &axe, &format!("{scheme} {job}")).await;
        }
        bench.clicks("#field-height-12_1").await;
        bench.keys("0.10\u{e007}").await;
        bench.until("it is questioned", "!document.querySelector('[data-ask]').hidden").await;
        has_no_violation(&bench, &axe, &format!("{scheme}, keypad and question")).await;
        bench.offline(true).await;
        bench.clicks("#field-height-12_2").await;
        bench.keys("2.51\u{e007}").await;
        bench.until("a value waits", "document.querySelector('[data-sending]').dataset.state === 'offline'").await;
        has_no_violation(&bench, &axe, &format!("{scheme}, offline")).await;
        bench.closes().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_queue_and_the_calendar_are_free_of_violations_light_and_dark() {
    let axe = axe();
    let (_demo, origin) = demo();
    for scheme in ["light", "dark"] {
        let owner = Browser::open(1280, 900, &[]).await;
        let media = serde_json::json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        owner.devtools("Emulation.setEmulatedMedia", media).await;
        owner.signs_in(&origin, "Ottilie").await;
        owner.goes_to(&format!("{origin}/office/queue")).await;
        has_no_violation(&owner, &axe, &format!("{scheme} queue")).await;
        owner.clicks("tr[data-job] summary").await;
        has_no_violation(&owner, &axe, &format!("{scheme} queue, a job to move")).await;
        let job: String = owner.asks("return document.querySelector('tr[data-job] a').pathname").await;
        owner.goes_to(&format!("{origin}{job}")).await;
        owner.clicks("details summary").await;
        has_no_violation(&owner, &axe, &format!("{scheme} a job's day")).await;
        owner.goes_to(&format!("{origin}/office/calendar")).await;
        has_no_violation(&owner, &axe, &format!("{scheme} calendar")).await;
        owner.closes().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_grid_works_by_keyboard_alone_and_fingers_find_its_targets() {
    let (_demo, origin) = demo();
    let bench = Browser::of(&origin, "Ivo", (1024, 768), &[]).await;
    bench.goes_to(&format!("{origin}/bench")).await;
    let job: String = bench
        .asks("return [...document.querySelectorAll('section')].find(group => group.textContent.includes('To measure')).querySelector('td a').pathname")
        .await;
    bench.goes_to(&format!("{origin}{job}")).await;
    bench.until("the grid is ready", "document.documentElement.dataset.gridReady === 'yes'").await;
    // Tab reaches the first cell, and each key of the keypad after it
    for _ in 0..40 {
        bench.keys("\u{e004}").await;
        if bench.asks::<bool>("return document.activeElement.id === 'field-height-12_1'").await {
            break;
        }
    }
    assert!(bench.asks::<bool>("return document.activeElement.id === 'field-height-12_1'").await);
    bench.keys("2.5").await;
    for _ in 0..120 {
        bench.keys("\u{e004}").await;
        if bench.asks::<bool>("return document.activeElement.dataset.keyDoes === 'next'").await {
            break;
        }
    }
    assert!(
        bench.asks::<bool>("return document.activeElement.dataset.keyDoes === 'next'").await,
        "the keypad is reached by Tab"
    );
    bench.keys(" ").await;
    // every target is 48 px high, but links within a sentence
    let small: Vec<String> = bench
        .asks(
            "return [...document.querySelectorAll('main input:not([type=hidden]), main button, main select, main summary, main label.tile')]
               .filter(target => target.checkVisibility({ visibilityProperty: true }) && !target.closest('p a'))
               .filter(target => target.type !== 'checkbox')
               .map(target => [target, target.getBoundingClientRect()])
               .filter(([, box]) => box.height > 0 && (box.height < 47.5 || box.width < 47.5))
               .map(([target, box]) => target.outerHTML.slice(0, 90) + ' ' + box.width + ' × ' + box.height)",
        )
        .await;
    assert!(small.is_empty(), "{small:#?}");
    bench.closes().await;
}
