//! The list of the trade before *ready*.

use axum::http::StatusCode;
use thumbplane::quantity::Instant;

use super::{high_saddle, sends, to_bench};
use crate::support::{MORNING, Person, Shop};

/// Final readings of the same instrument with its saddle lowered; `off` leaves the heights as they came.
fn finals(key: &str, off: bool) -> Vec<(String, String)> {
    let mut form = high_saddle(key);
    for (name, value) in &mut form {
        match name.as_str() {
            "stage" => *value = "final".to_owned(),
            "saddle-treble_0" => *value = "2.4".to_owned(),
            "saddle-bass_0" => *value = "3.2".to_owned(),
            _ => {
                let string = name.strip_prefix("height-12_").and_then(|string| string.parse::<u8>().ok());
                if let (Some(string), false) = (string, off) {
                    *value = format!("{:.2}", 1.91 + 0.08 * f64::from(string - 1));
                }
            }
        }
    }
    form
}

/// Measured, agreed, done and measured again: the job stands at the final check.
pub(super) async fn at_the_final_check(shop: &Shop, off: bool) -> String {
    let job = to_bench(shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    ivo.sends(&format!("{job}/propose"), &[("form_key", "p"), ("line", "saddle-lower:saddle-high")]).await;
    let desk_job = job.replace("/bench/", "/desk/");
    let quote = owner.sends(&format!("{desk_job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let agreed = [("version", "1"), ("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    owner.sends(&format!("{quote}/answer"), &agreed).await;
    let line: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    ivo.sends(&format!("{job}/work/{line}/done"), &[("result", "")]).await;
    let taken = sends(&ivo, &format!("{job}/readings"), &finals("r2", off)).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text);
    assert!(ivo.opens(&job).await.all(".stage")[0].contains("final check"));
    job
}

async fn version(shop: &Shop) -> String {
    let version: i64 = sqlx::query_scalar("SELECT version FROM job").fetch_one(shop.app.db.read()).await.unwrap();
    version.to_string()
}

async fn calls_it_ready(shop: &Shop, person: &Person<'_>, job: &str) -> crate::support::Answer {
    person.sends(&format!("{job}/stage"), &[("version", &version(shop).await), ("to", "ready")]).await
}

/// The fields of one item, found by its words.
async fn fields(shop: &Shop, words: &str) -> (String, String) {
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM check_item WHERE words LIKE ?")
        .bind(format!("%{words}%"))
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    (format!("answer_{id}"), format!("reason_{id}"))
}

#[tokio::test]
async fn nothing_is_ready_before_the_list_is_answered_and_desk_and_bench_are_told_what_is_open() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let (ivo, desk) = (shop.bench().await, shop.desk().await);
    for (person, path) in [(&ivo, job.clone()), (&desk, job.replace("/bench/", "/desk/"))] {
        let early = calls_it_ready(&shop, person, &path).await;
        assert_eq!(early.status, StatusCode::CONFLICT);
        assert!(early.visible_text().contains("“Every fret sounded on every string”"), "{}", early.visible_text());
        assert!(!early.visible_text().contains("Final readings"), "the readings have answered for themselves");
    }
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check").len(), 7);
    assert_eq!(page.all(".check.open").len(), 6);
    // relief, six heights, six gaps
    assert!(page.visible_text().contains("All 13 places that were read are proved."), "{}", page.visible_text());
    // some now, the rest later; who and when stand beside each
    let (oil, _) = fields(&shop, "drop of oil").await;
    let some = ivo.sends(&format!("{job}/final-check"), &[(oil.as_str(), "not-applicable")]).await;
    assert_eq!(some.status, StatusCode::SEE_OTHER);
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check.open").len(), 5);
    assert!(page.all(".check .badge.done").iter().any(|words| words.contains("Ivo, Wed 14 Oct 2026 11:00")));
    assert!(!page.has("form[action$='/stage']"), "no button for what is refused");
    assert_eq!(calls_it_ready(&shop, &ivo, &job).await.status, StatusCode::CONFLICT);
    ivo.passes_the_final_check(&job).await;
    assert!(ivo.opens(&format!("{job}/final-check")).await.has("form[action$='/stage'] button.primary"));
    assert_eq!(calls_it_ready(&shop, &ivo, &job).await.status, StatusCode::SEE_OTHER);
    assert!(ivo.opens(&job).await.all(".stage")[0].contains("ready"));
}

#[tokio::test]
async fn a_reading_that_is_off_asks_for_a_reason_and_says_so_at_the_field() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, true).await;
    let ivo = shop.bench().await;
    ivo.passes_the_final_check(&job).await;
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert!(page.visible_text().contains("6 of 13 places are off."), "{}", page.visible_text());
    assert_eq!(page.all(".check.open").len(), 1);
    let (answer, reason) = fields(&shop, "Final readings").await;
    // it cannot be waved through
    let waved = ivo.sends(&format!("{job}/final-check"), &[(answer.as_str(), "yes")]).await;
    assert_eq!(waved.status, StatusCode::CONFLICT);
    let silent = ivo.sends(&format!("{job}/final-check"), &[(answer.as_str(), "reason"), (reason.as_str(), " ")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(silent.has(&format!("#error-{reason}")) && silent.has(&format!(".problems a[href='#field-{reason}']")));
    let said = [(answer.as_str(), "reason"), (reason.as_str(), "She plays slide and wants it high.")];
    assert_eq!(ivo.sends(&format!("{job}/final-check"), &said).await.status, StatusCode::SEE_OTHER);
    assert_eq!(calls_it_ready(&shop, &ivo, &job).await.status, StatusCode::SEE_OTHER);
    let kept: String = sqlx::query_scalar("SELECT reason FROM check_answer WHERE answer = 'reason'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(kept, "She plays slide and wants it high.");
}

#[tokio::test]
async fn a_job_that_comes_back_from_ready_or_from_the_bench_is_checked_afresh() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let (ivo, desk) = (shop.bench().await, shop.desk().await);
    ivo.passes_the_final_check(&job).await;
    let hour = 3_600_000_000;
    shop.clock.set(Instant(MORNING.0 + hour));
    calls_it_ready(&shop, &ivo, &job).await;
    let desk_job = job.replace("/bench/", "/desk/");
    shop.clock.set(Instant(MORNING.0 + 2 * hour));
    let back = [("version", &*version(&shop).await), ("to", "final-check"), ("reason", "A buzz at the counter.")];
    assert_eq!(desk.sends(&format!("{desk_job}/stage"), &back).await.status, StatusCode::SEE_OTHER);
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check.open").len(), 6, "nothing was cut since: the readings stand");
    // back on the bench: what was read before it proves nothing any more
    shop.clock.set(Instant(MORNING.0 + 3 * hour));
    let back = [("version", &*version(&shop).await), ("to", "on-the-bench"), ("reason", "A high fret.")];
    assert_eq!(desk.sends(&format!("{desk_job}/stage"), &back).await.status, StatusCode::SEE_OTHER);
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check.open").len(), 7);
    assert!(page.visible_text().contains("No final readings since the last work."), "{}", page.visible_text());
    let (oil, _) = fields(&shop, "drop of oil").await;
    let early = ivo.sends(&format!("{job}/final-check"), &[(oil.as_str(), "yes")]).await;
    assert_eq!(early.status, StatusCode::CONFLICT, "the list is answered at the final check");
}

#[tokio::test]
async fn the_owner_keeps_the_list_and_what_was_answered_stays() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    let (oil, _) = fields(&shop, "drop of oil").await;
    ivo.sends(&format!("{job}/final-check"), &[(oil.as_str(), "yes")]).await;
    let add = |key: &'static str, words: &'static str, family: &'static str| {
        [("form_key", key), ("place", "1"), ("words", words), ("hint", ""), ("family", family)]
    };
    for form in [
        add("a", "The pickup is quiet", "electric"),
        add("b", "The bridge plate was looked at", "steel-string"),
        add("b", "The bridge plate was looked at", "steel-string"),
    ] {
        assert_eq!(owner.sends("/office/final-check", &form).await.status, StatusCode::SEE_OTHER);
    }
    let words = |page: &crate::support::Answer| page.all(".check legend");
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check").len(), 8, "what is for electrics is not asked here; sent twice is added once");
    assert!(words(&page)[0].starts_with("The bridge plate"), "{:?}", words(&page));
    // archived: no longer asked, never deleted
    let id = oil.trim_start_matches("answer_");
    let archived = [("version", "1"), ("place", "3"), ("words", "A drop of oil"), ("hint", ""), ("archived", "yes")];
    assert_eq!(owner.sends(&format!("/office/final-check/{id}"), &archived).await.status, StatusCode::SEE_OTHER);
    let stale = owner.sends(&format!("/office/final-check/{id}"), &archived).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert_eq!(ivo.opens(&format!("{job}/final-check")).await.all(".check").len(), 7);
    assert_eq!((shop.count("check_item").await, shop.count("check_answer").await), (9, 1));
    let empty = owner.sends("/office/final-check", &[("form_key", "c"), ("place", ""), ("words", "")]).await;
    assert_eq!(empty.status, StatusCode::UNPROCESSABLE_ENTITY);
    let mut write = shop.app.db.write().await.unwrap();
    for forbidden in ["UPDATE check_answer SET answer = 'yes'", "DELETE FROM check_answer"] {
        assert!(sqlx::query(sqlx::AssertSqlSafe(forbidden)).execute(&mut *write).await.is_err(), "{forbidden}");
    }
}

#[tokio::test]
async fn a_reason_given_for_other_readings_does_not_cover_newer_ones() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, true).await;
    let ivo = shop.bench().await;
    let (answer, reason) = fields(&shop, "Final readings").await;
    let said = [(answer.as_str(), "reason"), (reason.as_str(), "She plays slide and wants it high.")];
    assert_eq!(ivo.sends(&format!("{job}/final-check"), &said).await.status, StatusCode::SEE_OTHER);
    assert_eq!(ivo.opens(&format!("{job}/final-check")).await.all(".check.open").len(), 6);
    // read once more an hour later, and worse
    shop.clock.set(Instant(MORNING.0 + 3_600_000_000));
    assert_eq!(sends(&ivo, &format!("{job}/readings"), &finals("r3", true)).await.status, StatusCode::SEE_OTHER);
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check.open").len(), 7, "{}", page.visible_text());
    assert!(calls_it_ready(&shop, &ivo, &job).await.visible_text().contains("Final readings"));
}

#[tokio::test]
async fn a_buzz_that_stands_and_a_clock_that_runs_hold_the_job_until_they_are_looked_at() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let ivo = shop.bench().await;
    ivo.passes_the_final_check(&job).await;
    for (key, what, fret) in [("b", "buzz", "3"), ("c", "crack", ""), ("d", "frets-worn", "")] {
        let seen = [("form_key", key), ("key", what), ("string", ""), ("fret", fret), ("seen_note", "")];
        assert_eq!(ivo.sends(&format!("{job}/observations"), &seen).await.status, StatusCode::SEE_OTHER);
    }
    let line: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    ivo.sends(&format!("{job}/work/{line}/reopen"), &[]).await;
    // the crack stops the plan: he was told so, and goes on
    ivo.sends(&format!("{job}/work/{line}/start"), &[("past", "crack")]).await;
    let early = calls_it_ready(&shop, &ivo, &job).await;
    assert_eq!(early.status, StatusCode::CONFLICT);
    for words in ["buzzes, fret 3", "crack", "Ivo’s clock on “Lower and fit the saddle” still runs"] {
        assert!(early.visible_text().contains(words), "{words}: {}", early.visible_text());
    }
    assert!(
        !early.visible_text().contains("frets are worn"),
        "what is only worn holds nothing: {}",
        early.visible_text()
    );
    ivo.sends(&format!("{job}/work/{line}/done"), &[("result", "")]).await;
    // the buzz is put right; the crack stays, and somebody says why
    let id = async |key: &str| -> uuid::Uuid {
        sqlx::query_scalar("SELECT id FROM observation WHERE key = ?")
            .bind(key)
            .fetch_one(shop.app.db.read())
            .await
            .unwrap()
    };
    ivo.sends(&format!("{job}/observations/{}/clear", id("buzz").await), &[]).await;
    let left = format!("left_{}", id("crack").await);
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert!(page.has(&format!("input[name='{left}']")), "{}", page.visible_text());
    let said = [(left.as_str(), "Old and glued; he knows of it.")];
    for _ in 0..2 {
        assert_eq!(ivo.sends(&format!("{job}/final-check"), &said).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(shop.count("observation_left").await, 1, "sent twice is said once");
    assert!(
        ivo.opens(&format!("{job}/final-check"))
            .await
            .all(".check .badge.done")
            .iter()
            .any(|by| by.starts_with("Ivo,"))
    );
    assert_eq!(calls_it_ready(&shop, &ivo, &job).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn work_that_is_opened_again_at_the_final_check_asks_the_list_anew() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let ivo = shop.bench().await;
    ivo.passes_the_final_check(&job).await;
    assert!(!ivo.opens(&format!("{job}/final-check")).await.has(".check.open"));
    shop.clock.set(Instant(MORNING.0 + 3_600_000_000));
    let line: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    ivo.sends(&format!("{job}/work/{line}/reopen"), &[]).await;
    let page = ivo.opens(&format!("{job}/final-check")).await;
    assert_eq!(page.all(".check.open").len(), 7, "{}", page.visible_text());
    assert!(page.visible_text().contains("No final readings since the last work."), "{}", page.visible_text());
    assert_eq!(calls_it_ready(&shop, &ivo, &job).await.status, StatusCode::CONFLICT);
}

/// What the page says once after a press.
async fn said_after(person: &Person<'_>, pressed: &crate::support::Answer) -> String {
    let cookie = pressed.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
    person.opens_with_cookie(pressed.location.as_ref().unwrap(), &cookie).await.visible_text()
}

#[tokio::test]
async fn yearly_care_is_promised_after_hand_over_only_where_it_was_written() {
    const PROMISE: &str = "The yearly care is on the list.";
    const ON_THE_SHEET: &str = "the sheet carries the care advice and the next care due";
    // a setup that was proved writes the care
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let (ivo, desk) = (shop.bench().await, shop.desk().await);
    ivo.passes_the_final_check(&job).await;
    let desk_job = job.replace("/bench/", "/desk/");
    assert_eq!(calls_it_ready(&shop, &desk, &desk_job).await.status, StatusCode::SEE_OTHER);
    assert!(desk.opens(&format!("{desk_job}/hand-over")).await.visible_text().contains(ON_THE_SHEET));
    let handed = desk.sends(&format!("{desk_job}/hand-over"), &[("open_words", "Pays on Friday.")]).await;
    let said = said_after(&desk, &handed).await;
    assert!(said.contains("Handed over.") && said.contains(PROMISE), "{said}");
    // a string put on writes none
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("job").await;
    let line = [("form_key", "w"), ("service", ""), ("words", "A new first string"), ("price", "5")];
    desk.sends(&format!("{job}/work"), &line).await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    desk.sends(&format!("{quote}/answer"), &[("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")]).await;
    let line: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    let (bench, ivo) = (job.replace("/desk/", "/bench/"), shop.bench().await);
    ivo.sends(&format!("{bench}/work/{line}/done"), &[("result", "")]).await;
    ivo.sends(&format!("{bench}/stage"), &[("version", &version(&shop).await), ("to", "final-check")]).await;
    ivo.passes_the_final_check(&bench).await;
    let by_readings = "SELECT id FROM check_item WHERE by_readings = 1";
    let item: uuid::Uuid = sqlx::query_scalar(by_readings).fetch_one(shop.app.db.read()).await.unwrap();
    ivo.sends(&format!("{bench}/final-check"), &[(&*format!("reason_{item}"), "No heights changed.")]).await;
    let ready = calls_it_ready(&shop, &desk, &job).await;
    assert_eq!(ready.status, StatusCode::SEE_OTHER, "{}", ready.visible_text());
    assert!(!desk.opens(&format!("{job}/hand-over")).await.visible_text().contains(ON_THE_SHEET));
    let handed = desk.sends(&format!("{job}/hand-over"), &[("open_words", "Pays on Friday.")]).await;
    assert_eq!(handed.status, StatusCode::SEE_OTHER, "{}", handed.visible_text());
    let said = said_after(&desk, &handed).await;
    assert!(said.contains("Handed over.") && !said.contains("yearly care"), "{said}");
    assert_eq!(shop.count("care_plan").await, 0);
}
