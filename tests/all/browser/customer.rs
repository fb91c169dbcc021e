//! The private page on a telephone: agree, decline, ask, a quote that was replaced, one past its day.

use serde_json::json;
use thumbplane::quantity::Instant;

use super::driver::{Browser, served};
use crate::customer::quoted;
use crate::support::MORNING;

/// A telephone, 390 pixels wide.
async fn telephone() -> Browser {
    let phone = Browser::open(500, 900, &[]).await;
    let size = json!({ "width": 390, "height": 844, "deviceScaleFactor": 2, "mobile": true });
    phone.devtools("Emulation.setDeviceMetricsOverride", size).await;
    phone
}

/// Nothing is wider than the screen, and what is tapped is large enough.
async fn fits(phone: &Browser) {
    let wide: i64 = phone.asks("return document.documentElement.scrollWidth").await;
    assert!(wide <= 390, "{wide} pixels wide");
    let small: Vec<String> = phone
        .asks("return [...document.querySelectorAll('main button, main a.button, main .tile')].filter((tapped) => tapped.offsetParent && tapped.getBoundingClientRect().height < 40).map((tapped) => tapped.textContent.trim())")
        .await;
    assert!(small.is_empty(), "{small:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn on_a_telephone_the_total_follows_the_ticks_and_one_press_agrees() {
    let (shop, origin) = served().await;
    let (_, path, _) = quoted(&shop).await;
    let phone = telephone().await;
    phone.goes_to(&format!("{origin}{path}")).await;
    fits(&phone).await;
    phone.clicks(".tile.priced:nth-of-type(2) input").await;
    phone.until("the total follows", "document.querySelector('[data-total]').textContent === '£72.00'").await;
    phone.types("#field-name", "Maren Oakhollow").await;
    phone.clicks("button[value=agree]").await;
    phone.waits_for(".flash").await;
    let text = phone.text().await;
    assert!(text.contains("2 of 3 agreed") && text.contains("£72.00"), "{text}");
    fits(&phone).await;
    // the shop's name leads nowhere but here
    phone.clicks(".house-name a").await;
    phone.waits_for("#quote").await;
    assert_eq!(phone.path().await, path);
    phone.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn on_a_telephone_a_question_a_no_a_replaced_quote_and_one_past_its_day_each_say_what_is_so() {
    let (shop, origin) = served().await;
    let (job, path, _) = quoted(&shop).await;
    let phone = telephone().await;
    let address = format!("{origin}{path}");
    phone.goes_to(&address).await;
    phone.types("#field-name", "Maren Oakhollow").await;
    phone.clicks("#quote details summary").await;
    phone.types("#field-words", "Must the frets be dressed?").await;
    phone.clicks("button[value=ask]").await;
    phone.waits_for(".flash").await;
    assert!(phone.text().await.contains("Your question is with us"));
    // a new revision while the old one is being read
    phone.types("#field-name", "Maren Oakhollow").await;
    let desk = shop.desk().await;
    let line = [("form_key", "d"), ("service", ""), ("words", "A new nut"), ("price", "60")];
    desk.sends(&format!("{job}/work"), &line).await;
    assert_eq!(desk.sends(&format!("{job}/quote"), &[("form_key", "q2")]).await.status.as_u16(), 303);
    phone.clicks("button[value=agree]").await;
    phone.waits_for("#error-deed").await;
    let text = phone.text().await;
    assert!(text.contains("a new quote while you were reading") && text.contains("A new nut"), "{text}");
    fits(&phone).await;
    // past its day
    shop.clock.set(Instant(MORNING.0 + 400 * 86_400_000_000));
    phone.clicks("button[value=agree]").await;
    phone.waits_for("#quote .message").await;
    let text = phone.text().await;
    assert!(text.contains("that day is past"), "{text}");
    fits(&phone).await;
    // and in time, a no
    shop.clock.set(MORNING);
    phone.goes_to(&address).await;
    phone.types("#field-name", "Maren Oakhollow").await;
    phone.clicks("button[value=decline]").await;
    phone.waits_for(".flash").await;
    assert!(phone.text().await.contains("declined"));
    phone.closes().await;
}
