//! Places that buzz or choke, tapped on the map.

use axum::http::StatusCode;

use super::{high_saddle, sends, to_bench};
use crate::support::Shop;

#[tokio::test]
async fn a_place_is_tapped_noted_and_taken_back_by_the_second_tap() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    let map = format!("{job}/fretboard");
    let page = ivo.opens(&map).await;
    // six strings, twenty frets and the open string: each place is a button with words
    let buttons = page.all(".fretboard-taps button");
    assert_eq!(buttons.len(), 6 * 21);
    assert!(buttons.iter().all(|words| words.starts_with("string ")), "{buttons:?}");
    let tap = |place: &'static str, hears: &'static str| [("form_key", "k"), ("hears", hears), ("place", place)];
    let tapped = ivo.sends(&map, &tap("6:3:note", "buzz")).await;
    assert_eq!(tapped.status, StatusCode::SEE_OTHER, "{}", tapped.text);
    assert!(tapped.location.unwrap().ends_with("/fretboard?hears=buzz#place-6-3"));
    ivo.sends(&map, &tap("6:3:note", "buzz")).await;
    assert_eq!(shop.count("observation").await, 1, "a press sent twice is one");
    ivo.sends(&map, &tap("1:0:note", "choke")).await;
    let page = ivo.opens(&map).await;
    assert_eq!(page.all("[aria-pressed=true]").len(), 1, "chokes stand on their own page");
    let said = page.page();
    let svg = scraper::Selector::parse("svg.fretboard").unwrap();
    let said = said.select(&svg).next().unwrap().attr("aria-label").unwrap().to_owned();
    assert!(said.contains("string 1 E4 chokes open") && said.contains("string 6 E2 buzzes at fret 3"), "{said}");
    // the plan hears of it at once
    let plan: String = sqlx::query_scalar("SELECT input_json FROM plan ORDER BY made_at DESC, id DESC LIMIT 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert!(plan.contains("\"buzz\"") && plan.contains("\"choke\""), "{plan}");
    // the second tap
    let value = page.page();
    let button = scraper::Selector::parse("#place-6-3").unwrap();
    assert_eq!(value.select(&button).next().unwrap().attr("value"), Some("6:3:take-back"));
    for _ in 0..2 {
        assert_eq!(ivo.sends(&map, &tap("6:3:take-back", "buzz")).await.status, StatusCode::SEE_OTHER);
    }
    assert!(!ivo.opens(&map).await.has("[aria-pressed=true]"));
    assert!(ivo.opens(&job).await.visible_text().contains("(taken back)"), "kept on record");
    for outside in ["7:3:note", "6:21:note", "0:1:note", "6:-1:note"] {
        assert_eq!(ivo.sends(&map, &tap(outside, "buzz")).await.status, StatusCode::CONFLICT, "{outside}");
    }
    assert_eq!(ivo.sends(&map, &tap("6:3", "crack")).await.status, StatusCode::CONFLICT);
    assert_eq!(ivo.sends(&map, &tap("x", "buzz")).await.status, StatusCode::BAD_REQUEST);
}
