//! What was read while something stood says nothing once it is put right; air and noted words do not disturb what was
//! read.

use axum::http::StatusCode;
use serde_json::Value;
use thumbplane::quantity::Instant;

use super::again::{enters, says_done};
use super::{high_saddle, sends, to_bench};
use crate::support::form::form_by;
use crate::support::{Answer, MORNING, Person, Shop};

const MINUTE: i64 = 60_000_000;

async fn notes(person: &Person<'_>, job: &str, key: &str, fret: &str) {
    let seen = [("form_key", key), ("key", key), ("string", ""), ("fret", fret), ("seen_note", "")];
    let noted = person.sends(&format!("{job}/observations"), &seen).await;
    assert_eq!(noted.status, StatusCode::SEE_OTHER, "{key}: {}", noted.visible_text());
}

/// Presses *Put right*, twice, at everything that stands.
async fn puts_all_right(shop: &Shop, person: &Person<'_>, job: &str) {
    let stand = "SELECT id FROM observation WHERE cleared_at IS NULL";
    let stand: Vec<uuid::Uuid> = sqlx::query_scalar(stand).fetch_all(shop.app.db.read()).await.unwrap();
    assert!(!stand.is_empty());
    for id in stand {
        for _ in 0..2 {
            let done = person.sends(&format!("{job}/observations/{id}/clear"), &[]).await;
            assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
        }
    }
}

/// What the books' newest plan says is to be done now.
async fn kept_now(shop: &Shop) -> Vec<String> {
    let plan: String = sqlx::query_scalar("SELECT output_json FROM plan ORDER BY made_at DESC, id DESC LIMIT 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let plan: Value = serde_json::from_str(&plan).unwrap();
    let steps = plan["steps"].as_array().unwrap().iter().filter(|step| step["state"] == "now");
    steps.map(|step| step["key"].as_str().unwrap().to_owned()).collect()
}

fn steps_now(page: &Answer) -> String {
    page.all(".step.now h3").join(" | ")
}

// common practice, no source: what was measured on a slack head, a loose brace or a high fret is measured again
#[tokio::test]
async fn nothing_is_cut_by_readings_that_were_taken_while_something_stood() {
    for (key, fret) in [("brace-loose", ""), ("fret-high", "8"), ("nut-reversed", ""), ("strings-old", "")] {
        let shop = Shop::open().await;
        let job = to_bench(&shop).await;
        let ivo = shop.bench().await;
        sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
        assert_eq!(kept_now(&shop).await, ["saddle-high"], "{key}");
        notes(&ivo, &job, key, fret).await;
        assert!(!kept_now(&shop).await.contains(&"saddle-high".to_owned()), "{key}");
        shop.clock.set(Instant(MORNING.0 + 5 * MINUTE));
        puts_all_right(&shop, &ivo, &job).await;
        let page = ivo.opens(&job).await;
        assert!(!steps_now(&page).contains("Bring the strings down"), "{key}: {}", steps_now(&page));
        assert!(page.visible_text().contains("What it made stale is struck through"), "{key}");
        assert_eq!(page.value("height-12_1"), "", "{key}: read again");
        assert!(!kept_now(&shop).await.contains(&"saddle-high".to_owned()), "{key}: nor by the plan that is kept");
        // read again it counts
        let set = page.value("after");
        let places = |name: &str| ["height", "gap", "relief", "saddle"].iter().any(|place| name.starts_with(place));
        for (cell, typed) in high_saddle("r2").iter().filter(|(name, _)| places(name)) {
            enters(&ivo, &job, [cell, cell, typed, &set]).await;
        }
        let page = ivo.opens(&job).await;
        let form =
            form_by(&page, "form[data-grid]").with("form_key", "r2").with("stage", "during").with("tool", "dial");
        let taken = form.sent_by(&ivo).await;
        assert_eq!(taken.status, StatusCode::SEE_OTHER, "{key}: {}", taken.visible_text());
        let page = ivo.opens(&job).await;
        assert!(steps_now(&page).contains("Bring the strings down"), "{key}: {}", steps_now(&page));
    }
}

#[tokio::test]
async fn the_air_of_an_hour_ago_is_not_asked_again_and_that_of_yesterday_is() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert_eq!(says_done(&ivo, &job).await.status, StatusCode::SEE_OTHER);
    shop.clock.set(Instant(MORNING.0 + 60 * MINUTE));
    let page = ivo.opens(&job).await;
    assert!(page.visible_text().contains("was 20.0; empty: the same"), "{}", page.visible_text());
    // after a first pass: still high, and no air typed
    let set = page.value("after");
    for string in 1..=6_u8 {
        let height = format!("{0:.2}; {0:.2}; {0:.2}", 2.2 + 0.08 * f64::from(string - 1));
        let cell = format!("height-12_{string}");
        enters(&ivo, &job, [&cell, &cell, &height, &set]).await;
    }
    for (cell, value) in [("saddle-treble_0", "3.0"), ("saddle-bass_0", "3.8")] {
        enters(&ivo, &job, [cell, cell, value, &set]).await;
    }
    let page = ivo.opens(&job).await;
    assert!(steps_now(&page).contains("Bring the strings down"), "under way: {}", page.visible_text());
    let form = form_by(&page, "form[data-grid]").with("form_key", "r2").with("stage", "during").with("tool", "dial");
    assert_eq!(form.sent_by(&ivo).await.status, StatusCode::SEE_OTHER);
    let page = ivo.opens(&job).await;
    assert!(steps_now(&page).contains("Bring the strings down"), "taken down: {}", page.visible_text());
    assert!(!page.visible_text().contains("The air was not read"), "{}", page.visible_text());

    // a day later the air may be another
    shop.clock.set(Instant(MORNING.0 + 26 * 60 * MINUTE));
    let ivo = shop.bench().await;
    let page = ivo.opens(&job).await;
    assert!(!page.visible_text().contains("empty: the same"), "{}", page.visible_text());
    let mut form = high_saddle("r3");
    form.retain(|(name, _)| !["temperature", "humidity"].contains(&name.as_str()));
    form.push(("after".to_owned(), page.value("after")));
    form.push(("seen".to_owned(), page.value("seen")));
    let taken = sends(&ivo, &format!("{job}/readings"), &form).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.visible_text());
    let page = ivo.opens(&job).await;
    assert!(!steps_now(&page).contains("Bring the strings down"), "{}", steps_now(&page));
}

#[tokio::test]
async fn what_is_noted_after_a_step_changes_nothing_of_what_the_step_was_expected_to_do() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert_eq!(says_done(&ivo, &job).await.status, StatusCode::SEE_OTHER);
    shop.clock.set(Instant(MORNING.0 + 30 * MINUTE));
    let page = ivo.opens(&job).await;
    let mut form =
        form_by(&page, "form[data-grid]").with("form_key", "r2").with("stage", "during").with("tool", "dial");
    for string in 1..=6_u8 {
        let height = format!("{0:.2}; {0:.2}; {0:.2}", 1.9 + 0.08 * f64::from(string - 1));
        form = form.with(&format!("height-12_{string}"), &height);
    }
    let form = form.with("saddle-treble_0", "2.4").with("saddle-bass_0", "3.2");
    assert_eq!(form.sent_by(&ivo).await.status, StatusCode::SEE_OTHER);
    let expected = |page: &Answer| page.all(".moved td, .moved th").join(" ");
    let before = expected(&ivo.opens(&job).await);
    assert!(before.contains(" to "), "the page shows what was expected: {before}");
    notes(&ivo, &job, "strings-old", "").await;
    notes(&ivo, &job, "buzz", "3").await;
    assert_eq!(expected(&ivo.opens(&job).await), before);
}
