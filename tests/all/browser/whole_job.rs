//! One instrument from the counter to the bench and back, as desk and as bench.

use super::driver::{Browser, demo};

#[tokio::test(flavor = "multi_thread")]
async fn one_instrument_goes_from_the_counter_to_the_bench_and_back() {
    let (_demo, origin) = demo();
    let desk = Browser::open(1280, 900, &[]).await;
    let bench = Browser::open(1024, 768, &[]).await;

    // in at the counter
    desk.signs_in(&origin, "Mirel").await;
    desk.goes_to(&format!("{origin}/desk/check-in")).await;
    desk.types("[data-search-as-typed]", "wierzb").await;
    let hit = desk.waits_for("#hits .hits strong").await;
    assert_eq!(hit.text().await.unwrap(), "Żaneta Wierzbówka", "found as typed, without accents");
    desk.types("#field-name", "Linnea Brook").await;
    desk.types("#field-telephone", "07700 900321").await;
    desk.chooses("family", "steel-string").await;
    desk.types("#field-maker", "Thistlewade").await;
    desk.types("#field-model", "Dreadnought").await;
    desk.types("#field-complaint", "The action is too high.").await;
    desk.types("#field-brought_with", "hard case").await;
    desk.types("#field-rack", "A1").await;
    desk.clicks("form[action='/desk/check-in'][method=post] button.primary").await;
    let number = desk.waits_for(".sheet .big").await.text().await.unwrap();
    assert!(desk.path().await.ends_with("/ticket"));
    let job = desk.path().await.trim_end_matches("/ticket").trim_start_matches("/desk/jobs/").to_owned();

    // measured at the bench: a calliper types and sends Enter, and the page goes to the next cell
    bench.signs_in(&origin, "Ivo").await;
    bench.goes_to(&format!("{origin}/bench/jobs/{job}")).await;
    let mut cell = bench.finds("#field-height-12_1").await;
    for string in 1..=6 {
        let action = format!("{:.2}", 2.5 + 0.08 * f64::from(string - 1));
        cell.send_keys(format!("{action}\u{e007}")).await.unwrap();
        cell = bench.page.active_element().await.unwrap();
        assert_eq!(
            cell.attr("id").await.unwrap().as_deref(),
            Some(format!("field-height-1_{string}").as_str()),
            "Enter moves on"
        );
        if string < 6 {
            cell = bench.finds(&format!("#field-height-12_{}", string + 1)).await;
        }
        bench.types(&format!("#field-gap-1-stopped-3_{string}"), "0.07; 0.08; 0.07").await;
    }
    for (field, value) in [
        ("relief_0", "0.15; 0.16"),
        ("saddle-treble_0", "3.6"),
        ("saddle-bass_0", "4.4"),
        ("temperature", "20"),
        ("humidity", "48"),
    ] {
        bench.types(&format!("#field-{field}"), value).await;
    }
    bench.clicks("#field-tool option[value=dial]").await;
    bench.waits_for(".step.now").await;
    bench.clicks("form[action$='/readings'] button.primary").await;
    bench.waits_for(".flash").await;
    assert!(bench.text().await.contains("Bring the strings down at the bridge"), "{}", bench.text().await);
    bench.clicks("form[action$='/propose'] button").await;
    bench.waits_for("#work .badge.proposed").await;

    // quoted and agreed at the counter
    desk.goes_to(&format!("{origin}/desk/jobs/{job}")).await;
    desk.clicks("form[action$='/quote'] button").await;
    desk.waits_for("form[action$='/answer']").await;
    desk.chooses("answer", "agreed").await;
    desk.clicks("form[action$='/answer'] button.primary").await;
    desk.waits_for("#work .badge.agreed").await;

    // worked on and proved
    bench.goes_to(&format!("{origin}/bench/jobs/{job}")).await;
    while let Ok(button) = bench.page.find(thirtyfour::By::Css("form[action$='/done'] button")).await {
        button.scroll_into_view().await.unwrap();
        button.click().await.unwrap();
        bench.waits_for(".flash").await;
    }
    bench.chooses("stage", "final").await;
    for string in 1..=6 {
        bench
            .types(&format!("#field-height-12_{string}"), &format!("{:.2}", 1.91 + 0.08 * f64::from(string - 1)))
            .await;
        bench.types(&format!("#field-gap-1-stopped-3_{string}"), "0.07").await;
    }
    bench.types("#field-relief_0", "0.15").await;
    bench.clicks("form[action$='/readings'] button.primary").await;
    bench.waits_for("#proof").await;
    assert!(!bench.text().await.contains("▲ off"), "{}", bench.text().await);

    // the list of the trade: the readings answer for themselves, the rest is looked at
    bench.clicks("a[href$='/final-check']").await;
    bench.waits_for(".check.open").await;
    for yes in bench.page.find_all(thirtyfour::By::Css(".check.open input[value=yes]")).await.unwrap() {
        yes.scroll_into_view().await.unwrap();
        yes.click().await.unwrap();
    }
    bench.clicks("form[action$='/final-check'] button.primary").await;
    bench.waits_for("form[action$='/stage'] button.primary").await;
    bench.clicks("form[action$='/stage'] button.primary").await;
    bench.waits_for(".flash").await;

    // the sheet's numbers are the readings typed
    desk.goes_to(&format!("{origin}/desk/jobs/{job}/sheet")).await;
    let sheet = desk.text().await;
    for string in 0..6 {
        let (before, after) = (2.5 + 0.08 * f64::from(string), 1.91 + 0.08 * f64::from(string));
        let words = format!("{before:.2} mm → {after:.2} mm");
        assert!(sheet.contains(&words), "{words} in {sheet}");
    }
    assert!(sheet.contains(&number) && sheet.contains("Linnea Brook"));

    // paid and out
    desk.goes_to(&format!("{origin}/desk/jobs/{job}/hand-over")).await;
    desk.clicks("form[action$='/payment'] button").await;
    desk.waits_for(".flash").await;
    assert!(desk.text().await.contains("Nothing is owed"), "{}", desk.text().await);
    desk.clicks("form[action$='/hand-over'] button").await;
    desk.waits_for(".flash").await;
    assert!(desk.text().await.contains("collected"));

    desk.closes().await;
    bench.closes().await;
}
