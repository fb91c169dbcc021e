//! Each instrument is asked only for what it has, and its plan is done with what it has.

use axum::http::StatusCode;

use super::sends;
use crate::support::{Answer, Person, Shop, check_in_form};

/// A new job of an instrument of a family, built as typed on the instrument's own page.
async fn comes_in(shop: &Shop, family: &str, built: &[(&str, &str)]) -> String {
    let desk = shop.desk().await;
    let mut form = check_in_form("job");
    form.iter_mut().filter(|(name, _)| *name == "family").for_each(|(_, value)| *value = family);
    let answer = desk.sends("/desk/check-in", &form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    let path = instrument_path(shop).await;
    let saved = desk.sends_form(&path, &desk.opens(&path).await.form(&path), built).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    answer.location.unwrap().trim_end_matches("/ticket").replace("/desk/", "/bench/")
}

async fn instrument_path(shop: &Shop) -> String {
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    format!("/desk/instruments/{id}")
}

/// Readings of so many strings, three repeats each: heights at the 12th, gaps at the nut, a good relief and good air.
fn readings(heights: &[f64], more: &[(&str, &str)]) -> Vec<(String, String)> {
    let mut form: Vec<(String, String)> = [
        ("form_key", "r1"),
        ("stage", "received"),
        ("tool", "dial"),
        ("tuned_to", "standard"),
        ("temperature", "20"),
        ("humidity", "48"),
    ]
    .into_iter()
    .chain(more.iter().copied())
    .map(|(name, value)| (name.to_owned(), value.to_owned()))
    .collect();
    for (number, height) in (1..).zip(heights) {
        let repeats = format!("{height:.2}; {:.2}; {:.2}", height + 0.01, height - 0.01);
        form.push((format!("height-12_{number}"), repeats));
    }
    form
}

async fn reads(ivo: &Person<'_>, job: &str, form: &[(String, String)]) -> Answer {
    let saved = sends(ivo, &format!("{job}/readings"), form).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    ivo.opens(job).await
}

#[tokio::test]
async fn a_bass_is_not_asked_for_its_saddle_and_its_screws_are_told_in_turns() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "bass", &[("screw_pitch", "0.5")]).await;
    let ivo = shop.bench().await;
    let page = ivo.opens(&job).await;
    assert!(page.has("#field-from-12-to-saddle_1"), "{}", page.visible_text());
    // nothing shows of a saddle there; how far the screws can still go down may be read
    let once = page.visible_text();
    assert!(once.contains("Travel left, treble") && !once.contains("Saddle showing"), "{once}");
    let mut form = readings(&[2.90, 3.00, 3.10, 3.20], &[("relief_0", "0.30; 0.30; 0.31")]);
    form.extend((1..=4).map(|number| (format!("gap-1-stopped-3_{number}"), "0.12; 0.12; 0.13".to_owned())));
    let page = reads(&ivo, &job, &form).await;
    let turns = page.all(".step.now .in-hand td");
    assert!(
        turns.iter().any(|cell| cell.contains("turn") && cell.ends_with("down")),
        "{turns:?}: {}",
        page.visible_text()
    );
    // a screw that makes half a millimetre a turn: the turns are twice the millimetres, to the eighth
    let plan: String = sqlx::query_scalar("SELECT output_json FROM plan ORDER BY made_at DESC LIMIT 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let plan: serde_json::Value = serde_json::from_str(&plan).unwrap();
    let step = plan["steps"].as_array().unwrap().iter().find(|step| !step["turns"].is_null()).unwrap();
    for (turns, mm) in step["turns"].as_array().unwrap().iter().zip(step["turn_down_mm"].as_array().unwrap()) {
        assert!((turns.as_f64().unwrap() - mm.as_f64().unwrap() * 2.0).abs() <= 1.0 / 16.0 + 1e-9, "{step}");
    }
    // the card on paper says the same
    let card = ivo.opens(&format!("{job}/card")).await;
    assert!(card.all(".amounts td").iter().any(|cell| cell.contains("turn")), "{}", card.visible_text());
    let working = ivo.opens(&format!("{job}/working")).await;
    for link in page.page().select(&scraper::Selector::parse("#plan .amounts a.how").unwrap()) {
        let anchor = link.value().attr("href").unwrap().split_once('#').unwrap().1.to_owned();
        assert!(working.has(&format!("[id='{anchor}']")), "{anchor}");
    }
}

#[tokio::test]
async fn a_banjo_moves_its_bridge_and_its_short_string_is_read_over_its_own_frets() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "banjo", &[]).await;
    let ivo = shop.bench().await;
    let page = ivo.opens(&job).await;
    let begins = page.all("tr.begins");
    assert_eq!(begins.len(), 1, "{begins:?}");
    assert!(begins[0].contains("its 1st is fret 6, its 3rd fret 8"), "{begins:?}");
    // nothing can be seen on a short string before it begins
    let seen = [("form_key", "o"), ("key", "buzz"), ("string", "5"), ("fret", "3"), ("seen_note", "")];
    let refused = ivo.sends(&format!("{job}/observations"), &seen).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.visible_text().contains("begins further up"), "{}", refused.visible_text());

    // set as it should be: the short string lies on the bridge of the others, and lower over the 12th fret
    let heights = [2.40, 2.45, 2.50, 2.55, 1.77];
    let mut form = readings(&heights, &[("relief_0", "0.15; 0.15; 0.16")]);
    for number in 1..=5 {
        form.push((format!("gap-1-stopped-3_{number}"), "0.10; 0.10; 0.11".to_owned()));
        form.push((format!("cents-12_{number}"), "8; 8.2; 7.8".to_owned()));
    }
    let page = reads(&ivo, &job, &form).await;
    let moved = page.all(".step.now .in-hand td");
    assert!(
        moved.iter().any(|cell| cell.ends_with("away")),
        "sharp strings are lengthened: {moved:?} {}",
        page.visible_text()
    );
}

#[tokio::test]
async fn a_mandolin_turns_two_posts_and_its_strings_stand_in_courses() {
    let shop = Shop::open().await;
    let built = [("bridge_kind", "two-post"), ("screw_pitch", "0.7"), ("post_treble", "-12"), ("post_bass", "54")];
    let job = comes_in(&shop, "mandolin", &built).await;
    let courses: String = sqlx::query_scalar(
        "SELECT group_concat(course, ' ') FROM (SELECT course FROM instrument_string ORDER BY number)",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(courses, "1 1 2 2 3 3 4 4");
    let ivo = shop.bench().await;
    let mut form = readings(&[2.3, 2.3, 2.4, 2.4, 2.5, 2.5, 2.6, 2.6], &[("relief_0", "0.10; 0.10; 0.11")]);
    form.extend((1..=8).map(|number| (format!("gap-1-stopped-3_{number}"), "0.08; 0.08; 0.09".to_owned())));
    let page = reads(&ivo, &job, &form).await;
    let rows = page.all(".step.now .in-hand tbody th");
    assert_eq!(rows, ["treble post", "bass post"], "{}", page.visible_text());
    let title = page.all(".step.now h3").remove(0);
    assert!(title.starts_with("Bring the strings down at the bridge"), "posts are no saddle: {title}");
    assert!(page.all(".step.now .in-hand td").iter().any(|cell| cell.ends_with("down")), "{}", page.visible_text());
}

#[tokio::test]
async fn before_a_zero_fret_nothing_is_asked_of_the_nut_and_the_drawings_stand_all_the_same() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "steel-string", &[("nut", "zero-fret")]).await;
    let ivo = shop.bench().await;
    let page = ivo.opens(&job).await;
    assert!(!page.has("#field-gap-1-stopped-3_1") && !page.has("#field-height-1_1"), "{}", page.visible_text());
    assert!(page.has("#field-saddle-treble_0") && !page.has("#field-from-12-to-saddle_1"));
    let more = [("relief_0", "0.15; 0.15; 0.16"), ("saddle-treble_0", "3.6"), ("saddle-bass_0", "4.4")];
    let page = reads(&ivo, &job, &readings(&[2.5, 2.6, 2.7, 2.8, 2.9, 3.0], &more)).await;
    assert!(!page.visible_text().contains("stopped at the 3rd"), "{}", page.visible_text());
    assert!(page.has("svg"), "side view and clearance follow from the zero fret");
}

#[tokio::test]
async fn from_the_12th_to_the_saddle_is_near_half_the_scale_or_it_is_refused_with_what_was_typed() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "electric", &[]).await;
    let ivo = shop.bench().await;
    let form = readings(&[1.8; 6], &[("from-12-to-saddle_1", "32.55")]);
    let refused = sends(&ivo, &format!("{job}/readings"), &form).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.value("from-12-to-saddle_1"), "32.55");
    assert!(refused.all("#error-from-12-to-saddle_1")[0].contains("not near half of this scale"));
    // everything else stands as the house wishes it, so that the intonation is in hand
    let targets = thumbplane::setup::plan::HouseTargets::read(include_str!("../../../seed-data/targets.toml")).unwrap();
    let wished = targets.of(thumbplane::setup::plan::PlanFamily::Electric, thumbplane::setup::plan::PlanStyle::Medium);
    let wished = wished.unwrap();
    let relief = f64::midpoint(wished.relief_least_mm, wished.relief_most_mm);
    let (treble, bass) = (wished.action_12_treble_mm, wished.action_12_bass_mm);
    let heights: Vec<f64> = (0..6).map(|place| treble + (bass - treble) * f64::from(place) / 5.0).collect();
    let relief = format!("{relief:.2}; {relief:.2}; {relief:.2}");
    let mut form = readings(&heights, &[("relief_0", relief.as_str())]);
    for number in 1..=6 {
        form.push((format!("from-12-to-saddle_{number}"), "325.5; 325.6; 325.5".to_owned()));
        form.push((format!("gap-1-stopped-3_{number}"), format!("{0:.2}; {0:.2}; {0:.2}", wished.gap_mm)));
        form.push((format!("cents-12_{number}"), if number == 6 { "9; 9.1; 9" } else { "0; 0.1; 0" }.to_owned()));
    }
    let page = reads(&ivo, &job, &form).await;
    assert!(page.all("details .amounts th, .in-hand th").contains(&"stands now".to_owned()), "{}", page.visible_text());
    let kept: i64 = sqlx::query_scalar("SELECT count(*) FROM reading WHERE kind = 'from-12-to-saddle'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(kept, 18);
}

#[tokio::test]
async fn the_shops_own_scatter_counts_from_ten_repeats_on_and_never_twice() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "steel-string", &[]).await;
    let ivo = shop.bench().await;
    let input = async || -> serde_json::Value {
        let kept: String = sqlx::query_scalar("SELECT input_json FROM plan ORDER BY made_at DESC, id DESC LIMIT 1")
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
        serde_json::from_str(&kept).unwrap()
    };
    // six places read three times: twelve degrees of freedom, but all of them this set's own
    reads(&ivo, &job, &readings(&[2.5; 6], &[])).await;
    assert!(input().await["tool"]["repeatability_mm"].is_null(), "{}", input().await["tool"]);
    shop.clock.set(thumbplane::quantity::Instant(shop.clock.now().0 + 3_600_000_000));
    // other values: the same ones would be carried over, and no readings of this set
    let mut again = readings(&[2.6; 6], &[]);
    again[0].1 = "r2".to_owned();
    reads(&shop.bench().await, &job, &again).await;
    // each place x, x + 0.01, x − 0.01: the squares are 2·0.01² with two degrees of freedom, so s is 0.010 mm (GUM 4.2.4)
    let tool = input().await["tool"].clone();
    assert_eq!(
        (tool["repeatability_mm"].as_f64(), tool["repeatability_degrees_of_freedom"].as_f64()),
        (Some(0.01), Some(12.0))
    );
    let office = shop.owner().await.opens("/office/targets").await;
    let row = office.all("#tools tr").into_iter().find(|row| row.contains("dial indicator")).unwrap();
    assert!(row.contains("0.010 mm") && row.contains("24") && row.contains("the shop's own"), "{row}");
    // repeats far apart are a misreading and teach nothing
    shop.clock.set(thumbplane::quantity::Instant(shop.clock.now().0 + 3_600_000_000));
    let apart = vec![
        ("form_key".to_owned(), "r3".to_owned()),
        ("stage".to_owned(), "during".to_owned()),
        ("tool".to_owned(), "dial".to_owned()),
        ("tuned_to".to_owned(), "standard".to_owned()),
        ("height-12_1".to_owned(), "2.40; 4.20".to_owned()),
    ];
    reads(&shop.bench().await, &job, &apart).await;
    let freedom: i64 = sqlx::query_scalar("SELECT degrees_of_freedom FROM tool_scatter WHERE tool = 'dial'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(freedom, 24);
}

#[tokio::test]
async fn screws_at_the_end_of_their_travel_lead_to_the_neck() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "bass", &[("screw_pitch", "0.5"), ("neck_joint", "bolted")]).await;
    let ivo = shop.bench().await;
    // a tenth of a millimetre is no misreading of what screws have left, nor is none at all
    let travel = [("relief_0", "0.30; 0.30; 0.31"), ("saddle-treble_0", "0.1; 0.1"), ("saddle-bass_0", "0; 0")];
    let mut form = readings(&[3.40, 3.50, 3.60, 3.70], &travel);
    form.extend((1..=4).map(|number| (format!("gap-1-stopped-3_{number}"), "0.12; 0.12; 0.13".to_owned())));
    let page = reads(&ivo, &job, &form).await;
    let plan = page.visible_text();
    assert!(plan.contains("its travel ends before") && plan.contains("Quote a shim under the neck"), "{plan}");
    // and what screws have left is no saddle that is worn down over the years
    let history = shop.desk().await.opens(&format!("{}/history", instrument_path(&shop).await)).await;
    assert!(!history.visible_text().contains("years of lowering"), "{}", history.visible_text());
}

#[tokio::test]
async fn a_set_whose_plan_was_not_kept_is_planned_anew() {
    let shop = Shop::open().await;
    let job = comes_in(&shop, "bass", &[("screw_pitch", "0.5")]).await;
    let ivo = shop.bench().await;
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("CREATE TRIGGER power_cut BEFORE INSERT ON plan BEGIN SELECT RAISE(ABORT, 'the power went'); END")
        .execute(&mut *write)
        .await
        .unwrap();
    write.commit().await.unwrap();
    let form = readings(&[2.90, 3.00, 3.10, 3.20], &[("relief_0", "0.30; 0.30; 0.31")]);
    let cut = sends(&ivo, &format!("{job}/readings"), &form).await;
    assert_eq!(cut.status, StatusCode::INTERNAL_SERVER_ERROR);
    assert_eq!((shop.count("reading_set").await, shop.count("plan").await), (1, 0));
    // the set is there, and its plan is worked out from it
    let page = ivo.opens(&job).await;
    assert!(
        page.has(".step.now") && page.visible_text().contains("From the set as received"),
        "{}",
        page.visible_text()
    );
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("DROP TRIGGER power_cut").execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    // the same press sent again is the same set, and the plan is kept
    let again = sends(&ivo, &format!("{job}/readings"), &form).await;
    assert_eq!(again.status, StatusCode::SEE_OTHER, "{}", again.text);
    assert_eq!((shop.count("reading_set").await, shop.count("plan").await), (1, 1));
}
