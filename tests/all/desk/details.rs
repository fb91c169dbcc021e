//! What was written down at the counter is corrected: a promise keeps what it was before, and the history reads as
//! sentences.

use axum::http::StatusCode;

use crate::support::Shop;

#[tokio::test]
async fn a_promise_that_moves_keeps_the_old_day_who_moved_it_and_why() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("one").await;
    let details = format!("{job}/details");
    // each time as the page gives it
    let changed = async |typed: &[(&str, &str)]| {
        let form = desk.opens(&details).await.form(&details);
        desk.sends_form(&details, &form, typed).await
    };
    let past = changed(&[("promised_on", "2026-10-13"), ("promise_reason", "It is late.")]).await;
    assert_eq!(past.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(past.has("#error-promised_on"), "the day before the shop's today: {}", past.visible_text());
    let silent = changed(&[("promised_on", "2026-11-02")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(silent.has("#error-promise_reason"), "{}", silent.visible_text());
    let told =
        changed(&[("promised_on", "2026-11-02"), ("promise_reason", "The fret wire is late."), ("rack", "C1")]).await;
    assert_eq!(told.status, StatusCode::SEE_OTHER, "{}", told.visible_text());
    // the day stays where nobody touched it, also once it has passed
    shop.clock.set(thumbplane::quantity::Instant(crate::support::MORNING.0 + 30 * 86_400_000_000));
    let desk = shop.desk().await;
    let form = desk.opens(&details).await.form(&details);
    let later = desk.sends_form(&details, &form, &[("brought_with", "gig bag")]).await;
    assert_eq!(later.status, StatusCode::SEE_OTHER, "{}", later.visible_text());
    let page = desk.opens(&job).await.visible_text();
    for words in [
        "promised for Wed 28 Oct 2026 until then, now for Mon 2 Nov 2026: The fret wire is late.",
        "Rack place: B3, now C1",
        "Came with: hard case, strap, now gig bag",
        "Mirel",
    ] {
        assert!(page.contains(words), "{words} in {page}");
    }
}
