//! A step is done: what was shown when somebody said so, what is read again, and what is carried over.

use axum::http::StatusCode;
use serde_json::Value;
use thumbplane::quantity::Instant;
use thumbplane::records::{AuditContext, Door, reading};

use super::{high_saddle, sends, to_bench};
use crate::support::form::form_by;
use crate::support::{Answer, MORNING, Person, Shop};

const HOUR: i64 = 3_600_000_000;

/// What the page says to the button "Done: measure again".
fn shown(page: &Answer) -> Vec<(String, String)> {
    ["after", "seen", "steps"].map(|name| (name.to_owned(), page.value(name))).to_vec()
}

pub(super) async fn says_done(person: &Person<'_>, job: &str) -> Answer {
    let page = person.opens(job).await;
    sends(person, &format!("{job}/measure-again"), &shown(&page)).await
}

pub(super) async fn enters(person: &Person<'_>, job: &str, [key, cell, typed, after]: [&str; 4]) -> Value {
    let fields = [("key", key), ("cell", cell), ("typed", typed), ("replaces", ""), ("after", after), ("since", "0")];
    let answer = person.sends(&format!("{job}/cells"), &fields).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    serde_json::from_str(&answer.text).unwrap()
}

/// The form of the grid as the page shows it, with a key of its own.
fn grid(page: &Answer, key: &str) -> Vec<(String, String)> {
    form_by(page, "form[data-grid]").with("form_key", key).with("stage", "during").with("tool", "dial").to_vec()
}

#[tokio::test]
async fn a_step_is_done_by_the_plan_that_was_shown_and_by_no_other() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    let page = ivo.opens(&job).await;
    assert!(page.all(".step.now h3")[0].contains("Bring the strings down at the bridge"));
    // the plan changes while he stands at the saddle: the nut is the wrong way round
    let seen = [("form_key", "o"), ("key", "nut-reversed"), ("string", ""), ("fret", ""), ("seen_note", "")];
    owner.sends(&format!("{job}/observations"), &seen).await;
    let met = sends(&ivo, &format!("{job}/measure-again"), &shown(&page)).await;
    assert_eq!(met.status, StatusCode::CONFLICT, "{}", met.text);
    assert!(
        met.visible_text().contains("The plan has changed since you saw it. Now: Nut the right way round"),
        "{}",
        met.visible_text()
    );
    assert!(met.has("#field-plan"), "the problem leads to the plan");
    assert_eq!(shop.count("reading_draft").await, 0, "nothing is done");
    // a value that he has not seen
    let page = ivo.opens(&job).await;
    let set = page.value("after");
    enters(&owner, &job, ["o1", "humidity", "47", &set]).await;
    let met = sends(&ivo, &format!("{job}/measure-again"), &shown(&page)).await;
    assert_eq!(met.status, StatusCode::CONFLICT, "{}", met.text);
    assert!(met.visible_text().contains("Values came that you had not seen: 47 by Ottilie"), "{}", met.visible_text());
    // a set that he has not seen
    let page = ivo.opens(&job).await;
    sends(&owner, &format!("{job}/readings"), &high_saddle("r2")).await;
    let met = sends(&ivo, &format!("{job}/measure-again"), &shown(&page)).await;
    assert_eq!(met.status, StatusCode::CONFLICT, "{}", met.text);
    assert!(met.visible_text().contains("A set was taken down meanwhile"), "{}", met.visible_text());
    assert_eq!(ivo.sends(&format!("{job}/measure-again"), &[]).await.status, StatusCode::BAD_REQUEST);
    // looked at again it is his word; pressed twice it is said once
    let page = ivo.opens(&job).await;
    for _ in 0..2 {
        let done = sends(&ivo, &format!("{job}/measure-again"), &shown(&page)).await;
        assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    }
    let deeds: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE deed = 'step done'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(deeds, 1);
}

#[tokio::test]
async fn a_value_that_met_another_is_settled_before_the_set_is_taken_or_a_step_is_done() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    for (name, typed) in high_saddle("r1").iter().filter(|(name, _)| name != "form_key") {
        enters(&ivo, &job, [&format!("i-{name}"), name, typed, ""]).await;
    }
    assert_eq!(enters(&owner, &job, ["o1", "height-12_3", "2.15", ""]).await["outcome"], "disputed");
    let held = says_done(&ivo, &job).await;
    assert_eq!(held.status, StatusCode::CONFLICT, "{}", held.text);
    assert!(held.visible_text().contains("Saved by somebody else: 2.15"), "{}", held.visible_text());
    let page = ivo.opens(&job).await;
    let held = sends(&ivo, &format!("{job}/readings"), &grid(&page, "set")).await;
    assert_eq!(held.status, StatusCode::CONFLICT, "{}", held.text);
    assert!(held.visible_text().contains("Saved by somebody else: 2.15"), "{}", held.visible_text());
    assert_eq!(shop.count("reading_set").await, 0);
    // seen at its field and sent again, what stands there is the answer, and it is written down as one
    let mut form = grid(&page, "set");
    for (name, value) in &mut form {
        if ["settles", "seen"].contains(&name.as_str()) {
            *value = held.value(name);
        }
    }
    assert_eq!(sends(&ivo, &format!("{job}/readings"), &form).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("reading_set").await, 1);
    let settled: i64 = sqlx::query_scalar("SELECT count(*) FROM reading_entry WHERE settles > 0 AND is_disputed = 0")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(settled, 1);
    assert!(!ivo.opens(&job).await.visible_text().contains("Kept, but in no set"));
}

#[tokio::test]
async fn a_value_that_nobody_settled_is_named_beside_the_next_readings() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    enters(&ivo, &job, ["i1", "height-12_3", "2.20", ""]).await;
    enters(&owner, &job, ["o1", "height-12_3", "2.15", ""]).await;
    // a set comes by another way an hour later
    let by = AuditContext { staff: Some(shop.staff_id("Ivo").await), door: Door::Bench, at: Instant(MORNING.0 + HOUR) };
    let mut write = shop.app.db.write().await.unwrap();
    let circumstances = reading::Circumstances {
        stage: reading::ReadingStage::During,
        tuned_to: "standard".to_owned(),
        temperature_millicelsius: None,
        humidity_permille: None,
        tool: "dial".to_owned(),
        tool_resolution: thumbplane::quantity::Micrometres(10),
        tool_limit: thumbplane::quantity::Micrometres(20),
        fret_wear: String::new(),
        note: String::new(),
    };
    let read = reading::Reading {
        kind: reading::ReadingKind::Height12,
        string_number: 3,
        repeat: 1,
        value: 2200,
        typed: "2.20".to_owned(),
        carried: None,
    };
    let id = job.rsplit('/').next().unwrap().parse().unwrap();
    reading::take(&mut write, &by, id, "elsewhere", &circumstances, &[read]).await.unwrap();
    write.commit().await.unwrap();
    let page = ivo.opens(&job).await.visible_text();
    assert!(page.contains("Kept, but in no set") && page.contains("2.15 by Ottilie at"), "{page}");
}

#[tokio::test]
async fn what_is_carried_over_keeps_its_tool_and_its_hour_and_is_read_again_the_next_day() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    let mut first = high_saddle("r1");
    for (name, value) in &mut first {
        if name == "tool" {
            *value = "calliper".to_owned();
        }
    }
    sends(&ivo, &format!("{job}/readings"), &first).await;
    assert_eq!(says_done(&ivo, &job).await.status, StatusCode::SEE_OTHER);
    shop.clock.set(Instant(MORNING.0 + 2 * HOUR));
    let page = ivo.opens(&job).await;
    assert!(
        page.all("#about-relief_0 .last")[0].contains("carried over, read 11:00"),
        "{:?}",
        page.all("#about-relief_0")
    );
    assert!(
        page.visible_text().contains("is carried over") || page.visible_text().contains("What it made stale"),
        "{}",
        page.visible_text()
    );
    let mut form = grid(&page, "r2");
    for (name, value) in &mut form {
        if let Some(string) = name.strip_prefix("height-12_").and_then(|string| string.parse::<u8>().ok()) {
            *value = format!("{:.2}", 1.95 + 0.08 * f64::from(string - 1));
        }
    }
    let taken = sends(&ivo, &format!("{job}/readings"), &form).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text);
    let rows: Vec<(String, Option<String>, Option<i64>)> = sqlx::query_as(
        "SELECT kind, reading.tool, read_at FROM reading JOIN reading_set ON reading_set.id = reading_set_id
         WHERE form_key = 'r2' AND repeat = 1 AND string_number < 2 AND kind IN ('relief', 'height-12') ORDER BY kind",
    )
    .fetch_all(shop.app.db.read())
    .await
    .unwrap();
    let expected =
        [("height-12".to_owned(), None, None), ("relief".to_owned(), Some("calliper".to_owned()), Some(MORNING.0))];
    assert_eq!(rows, expected);
    // the plan is no surer than the coarser of the two: the depth rod's limit, not the dial's
    let plan: String = sqlx::query_scalar("SELECT input_json FROM plan ORDER BY made_at DESC, id DESC LIMIT 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let plan: Value = serde_json::from_str(&plan).unwrap();
    assert_eq!(plan["tool"]["limit_mm"], 0.04);

    // twenty-four hours count from the reading, through every set it was carried into
    let page = ivo.opens(&job).await;
    assert_ne!(page.value("relief_0"), "");
    let mut left_open = grid(&page, "r3");
    shop.clock.set(Instant(MORNING.0 + 25 * HOUR));
    let ivo = shop.bench().await;
    let next_day = ivo.opens(&job).await;
    assert_eq!(next_day.value("relief_0"), "");
    assert_ne!(next_day.value("height-12_1"), "", "it was read twenty-three hours ago");
    // a form that lay open over night is told so at the field; said again, it was read again
    let old = sends(&ivo, &format!("{job}/readings"), &left_open).await;
    assert_eq!(old.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", old.text);
    assert!(old.all("#error-relief_0")[0].contains("After 24 hours"), "{:?}", old.all(".message"));
    for (name, value) in &mut left_open {
        if name == "carried" {
            *value = old.value(name);
        }
    }
    assert_eq!(sends(&ivo, &format!("{job}/readings"), &left_open).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_job_that_was_set_aside_is_read_afresh() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert_ne!(ivo.opens(&job).await.value("relief_0"), "");
    shop.clock.set(Instant(MORNING.0 + HOUR));
    let version = async || -> String {
        let version: i64 = sqlx::query_scalar("SELECT version FROM job").fetch_one(shop.app.db.read()).await.unwrap();
        version.to_string()
    };
    let aside = [("version", &*version().await), ("waiting_for", "part"), ("wait_reason", "A saddle blank.")];
    assert_eq!(ivo.sends(&format!("{job}/wait"), &aside).await.status, StatusCode::SEE_OTHER);
    assert_eq!(ivo.opens(&job).await.value("relief_0"), "");
    assert_eq!(
        ivo.sends(&format!("{job}/wait"), &[("version", &*version().await)]).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(ivo.opens(&job).await.value("relief_0"), "");
}

#[tokio::test]
async fn papers_and_workings_say_measure_again_while_a_done_step_left_stale_readings() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert!(ivo.opens(&format!("{job}/saddle")).await.has("svg.actual-size"));
    assert_eq!(says_done(&ivo, &job).await.status, StatusCode::SEE_OTHER);
    let words =
        "Done since the last set: Bring the strings down at the bridge. Measure again first: heights at the 12th";
    for page in ["card", "saddle", "working"] {
        let paper = ivo.opens(&format!("{job}/{page}")).await;
        assert!(paper.visible_text().contains(words), "{page}: {}", paper.visible_text());
        assert!(!paper.has("svg.actual-size") && !paper.has(".amounts"), "{page}: nothing is cut by stale heights");
    }
    let card = ivo.opens(&format!("{job}/card")).await;
    assert!(card.all("tbody tr")[0].starts_with("1 E4 – –"), "{:?}", card.all("tbody tr"));
    // read again, the paper follows as the page does
    let set = ivo.opens(&job).await.value("after");
    for (name, typed) in high_saddle("r2")
        .iter()
        .filter(|(name, _)| ["height", "saddle", "temperature", "humidity"].iter().any(|kind| name.starts_with(kind)))
    {
        enters(&ivo, &job, [&format!("again-{name}"), name, typed, &set]).await;
    }
    let paper = ivo.opens(&format!("{job}/saddle")).await;
    assert!(paper.has("svg.actual-size") && paper.visible_text().contains("under way"), "{}", paper.visible_text());
    assert_eq!(paper.all(".amounts td"), ivo.opens(&job).await.all(".step.now .amounts td"));
}

#[tokio::test]
async fn what_was_said_to_be_done_is_taken_back_until_something_is_read_and_corrected_with_a_word_afterwards() {
    const STEP: &str = "Bring the strings down at the bridge";
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    let path = format!("{job}/measure-again/take-back");
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    // before it is said, the page says what it means
    assert!(ivo.opens(&job).await.visible_text().contains("Then read: heights at the 12th"));
    says_done(&ivo, &job).await;
    let done = ivo.opens(&job).await;
    assert!(done.has("#readings s"), "what the step made stale is struck through");
    let back = done.form(&path).to_vec();
    for _ in 0..2 {
        assert_eq!(sends(&ivo, &path, &back).await.status, StatusCode::SEE_OTHER, "pressed twice is once");
    }
    assert_eq!(shop.count("step_correction").await, 1);
    let page = ivo.opens(&job).await;
    assert!(!page.has("#readings s") && page.all(".step.now h3")[0].contains(STEP), "{}", page.visible_text());
    assert!(page.visible_text().contains(&format!("Taken back: {STEP} (Ivo")), "{}", page.visible_text());

    // once something was read it takes a word, and what was read stays
    says_done(&ivo, &job).await;
    let set = ivo.opens(&job).await.value("after");
    enters(&ivo, &job, ["e1", "height-12_1", "1.92", &set]).await;
    let back = ivo.opens(&job).await.form(&path).to_vec();
    let refused = sends(&ivo, &path, &back).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", refused.visible_text());
    assert!(refused.all("#done .message")[0].contains("Say what was done instead"), "{:?}", refused.all(".message"));
    let with_word = |back: &[(String, String)], words: &str| {
        let mut form: Vec<(String, String)> = back.iter().filter(|(name, _)| name != "words").cloned().collect();
        form.push(("words".to_owned(), words.to_owned()));
        form
    };
    let corrected = sends(&ivo, &path, &with_word(&back, "Only string 1 was shimmed.")).await;
    assert_eq!(corrected.status, StatusCode::SEE_OTHER, "{}", corrected.text);
    let page = ivo.opens(&job).await;
    assert!(page.visible_text().contains("Only string 1 was shimmed.") && page.value("height-12_1") == "1.92");

    // and so after the next set; whoever works elsewhere reads the same on paper and in the history
    assert_eq!(sends(&ivo, &format!("{job}/readings"), &high_saddle("r2")).await.status, StatusCode::SEE_OTHER);
    says_done(&ivo, &job).await;
    assert_eq!(sends(&ivo, &format!("{job}/readings"), &high_saddle("r3")).await.status, StatusCode::SEE_OTHER);
    let history: String = format!("/desk/instruments/{}/history", instrument(&shop).await);
    for page in [job.clone(), format!("{job}/card"), history] {
        let page = ivo.opens(&page).await;
        let text = page.visible_text();
        assert!(text.contains("first pass") && text.contains("stop at, showing"), "{text}");
        // the heights it was done by, as they were read before
        assert!(page.all("td").iter().any(|cell| cell == "2.50 mm"), "{text}");
    }
    let back = ivo.opens(&job).await.form(&path).to_vec();
    let corrected = sends(&ivo, &path, &with_word(&back, "It was the other guitar.")).await;
    assert_eq!(corrected.status, StatusCode::SEE_OTHER, "{}", corrected.text);
    assert!(ivo.opens(&job).await.visible_text().contains("was not done as said (Ivo"));
    assert_eq!(shop.count("step_correction").await, 3);
}

async fn instrument(shop: &Shop) -> uuid::Uuid {
    sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap()
}
