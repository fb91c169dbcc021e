//! The bench's page as one screen of work, as the tablet hangs: lying and standing.

use serde_json::json;

use super::grid::{a_tablet_at_the_bench, opens};

#[tokio::test(flavor = "multi_thread")]
async fn one_screen_holds_the_strings_the_plan_and_the_next_action_lying_and_standing() {
    let (_folder, _running, origin, job, bench) = a_tablet_at_the_bench().await;
    for (width, height) in [(1024, 768), (768, 1024)] {
        let size = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        bench.devtools("Emulation.setDeviceMetricsOverride", size).await;
        opens(&bench, &origin, &job).await;
        bench.clicks("[data-place=readings]").await;
        // nothing of the page lies beyond the screen, and the six strings with what is read once are seen as they are
        let outside: Vec<String> = bench
            .asks(
                "const seen = element => { const box = element.getBoundingClientRect();
                     return box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight && box.right <= innerWidth; };
                 const page = document.documentElement;
                 return [...document.querySelectorAll('input[data-cell], #field-temperature, #field-humidity, .places a, .next-action .button, .plan-told')]
                     .filter(element => !seen(element)).map(element => element.id || element.className)
                     .concat(page.scrollHeight > innerHeight || page.scrollWidth > innerWidth ? ['the page itself'] : [])",
            )
            .await;
        assert!(outside.is_empty(), "{width} by {height}: {outside:?}");
        // exactly one part beside the plan; the next action stays where it is
        let place =
            "const box = document.querySelector('.next-action .button').getBoundingClientRect(); return [box.x, box.y]";
        let stands: (f64, f64) = bench.asks(place).await;
        for part in ["seen", "work", "drawings", "notes", "readings"] {
            bench.clicks(&format!("[data-place={part}]")).await;
            let shown: Vec<String> = bench
                .asks("return [...document.querySelectorAll('[data-pane]')].filter(part => part.checkVisibility()).map(part => part.dataset.pane)")
                .await;
            assert_eq!(shown, [part]);
            assert_eq!(bench.asks::<(f64, f64)>(place).await, stands, "{part}");
        }
        // with a cell in hand it stays there too
        bench.clicks("#field-height-12_6").await;
        bench.rests().await;
        if width > height {
            assert_eq!(bench.asks::<(f64, f64)>(place).await, stands, "the keypad moves it nowhere");
        }
    }
    // the part is kept for the next job that is opened; an address leads to its own
    bench.clicks("[data-place=work]").await;
    opens(&bench, &origin, &job).await;
    let shown = "return document.querySelector('[data-pane]:not([hidden])').dataset.pane";
    assert_eq!(bench.asks::<String>(shown).await, "work");
    // what is to be measured is one press away
    bench.clicks(".next-action a").await;
    bench.until("the first cell is in hand", "document.activeElement.id === 'field-height-12_1'").await;
    bench.closes().await;
}
