//! Work at the bench: numbers that are asked for, time, parts, and notes.

use axum::http::StatusCode;
use thumbplane::quantity::Instant;

use super::{high_saddle, sends, to_bench};
use crate::support::{MORNING, Shop};

const MINUTE: i64 = 60_000_000;

/// A measured job with two lines that the owner allowed: the rod (asks for a turn) and the saddle.
async fn allowed(shop: &Shop, key: &str) -> (String, Vec<uuid::Uuid>) {
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    let job = match key {
        "first" => to_bench(shop).await,
        _ => {
            let mut form = crate::support::check_in_form(key);
            form.retain(|(name, _)| *name != "serial" && *name != "name");
            form.extend([("serial", "TW-2"), ("name", "Sorrel Weir")]);
            let desk = shop.desk().await;
            let ticket = desk.sends("/desk/check-in", &form).await.location.unwrap();
            ticket.trim_end_matches("/ticket").replace("/desk/", "/bench/")
        }
    };
    let (readings, proposal) = (format!("r-{key}"), format!("p-{key}"));
    sends(&ivo, &format!("{job}/readings"), &high_saddle(&readings)).await;
    let lines = [("form_key", proposal.as_str()), ("line", "truss-rod:x"), ("line", "saddle-lower:saddle-high")];
    ivo.sends(&format!("{job}/propose"), &lines).await;
    let id: uuid::Uuid = job.rsplit('/').next().unwrap().parse().unwrap();
    let lines: Vec<uuid::Uuid> = sqlx::query_scalar("SELECT id FROM work_line WHERE job_id = ? ORDER BY position")
        .bind(id)
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    let desk_job = job.replace("/bench/", "/desk/");
    for line in &lines {
        let reason = [("overrule_reason", "Asked on the telephone.")];
        let answer = owner.sends(&format!("{desk_job}/work/{line}/overrule"), &reason).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    }
    (job, lines)
}

#[tokio::test]
async fn a_service_that_asks_for_a_number_is_not_done_without_it_and_says_so_at_the_field() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let ivo = shop.bench().await;
    let rod = lines[0];
    for typed in ["", "a bit"] {
        let refused = ivo.sends(&format!("{job}/work/{rod}/done"), &[("result", typed)]).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{typed}");
        assert!(refused.all(&format!("#error-result_{rod}"))[0].contains("turn of the rod"), "{typed}");
        assert!(refused.has(&format!(".problems a[href='#field-result_{rod}']")));
    }
    let page = ivo.sends(&format!("{job}/work/{rod}/done"), &[("result", "a bit")]).await;
    assert!(page.has(&format!("#field-result_{rod}[value='a bit']")), "what was typed comes back");
    let done = ivo.sends(&format!("{job}/work/{rod}/done"), &[("result", "0,25 turns")]).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    let kept: (i64, String) = sqlx::query_as("SELECT result_thousandths, result FROM work_line WHERE state = 'done'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(kept, (250, "turn of the rod, tighter positive: 0.25 turns".to_owned()));
    // the saddle asks for nothing: words, or none
    let free = ivo.sends(&format!("{job}/work/{}/done", lines[1]), &[("result", "")]).await;
    assert_eq!(free.status, StatusCode::SEE_OTHER);
    // an owner who asks says in which unit
    let owner = shop.owner().await;
    let half =
        [("key", "k"), ("name", "n"), ("minutes", "1"), ("price", "1"), ("tax_class", "none"), ("asks_for", "depth")];
    assert_eq!(owner.sends("/office/services", &half).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn one_clock_runs_a_person_and_starting_another_stops_the_first_and_says_so() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let (other_job, other_lines) = allowed(&shop, "second").await;
    let ivo = shop.bench().await;
    let started = ivo.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    assert_eq!(started.status, StatusCode::SEE_OTHER, "{}", started.text);
    // where time is looked at it can be stopped too, by whose it is
    assert!(ivo.opens("/bench/labour").await.has("form[action='/bench/labour/stop'] button"));
    assert!(!shop.owner().await.opens("/bench/labour").await.has("form[action='/bench/labour/stop']"));
    // pressed twice it goes on
    ivo.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    assert_eq!(shop.count("labour_entry").await, 1);
    shop.clock.set(Instant(MORNING.0 + 25 * MINUTE));
    let second = ivo.sends(&format!("{other_job}/work/{}/start", other_lines[1]), &[]).await;
    assert_eq!(second.status, StatusCode::SEE_OTHER);
    let deed = "SELECT count(*) FROM event WHERE deed = 'labour stopped'";
    let stopped: i64 = sqlx::query_scalar(deed).fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(stopped, 1);
    assert!(
        ivo.opens(&job).await.visible_text().contains("25 min of 20 min"),
        "{}",
        ivo.opens(&job).await.visible_text()
    );
    // the file itself allows one clock a person
    let mut write = shop.app.db.write().await.unwrap();
    let twice = sqlx::query(
        "INSERT INTO labour_entry (id, job_id, work_line_id, staff_id, started_at)
         SELECT randomblob(16), job_id, work_line_id, staff_id, started_at FROM labour_entry WHERE ended_at IS NULL",
    );
    assert!(twice.execute(&mut *write).await.is_err());
    drop(write);
    // a line that is done stops its clock
    shop.clock.set(Instant(MORNING.0 + 40 * MINUTE));
    ivo.sends(&format!("{other_job}/work/{}/done", other_lines[1]), &[("result", "")]).await;
    let page = ivo.opens(&other_job).await;
    assert!(
        page.visible_text().contains("15 min of 30 min") && !page.visible_text().contains("Stop the clock"),
        "{}",
        page.visible_text()
    );
    assert_eq!(ivo.sends("/bench/labour/stop", &[]).await.location.as_deref(), Some("/bench"), "nothing runs");
}

// The European Union's Directive 2000/84/EC, followed by the United Kingdom: summer time ends on the last Sunday of
// October and begins on the last Sunday of March, each at 01:00 UTC. 2026: 25 October, 29 March
#[tokio::test]
async fn a_clock_that_runs_over_the_change_of_time_counts_real_minutes() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    // Sun 25 Oct 2026 00:30 UTC is 01:30 in summer time; an hour on it is 01:30 again
    let night = MORNING.0 + (10 * 24 * 60 + 14 * 60 + 30) * MINUTE;
    shop.clock.set(Instant(night));
    let (today, wall) = (shop.clock.today(), shop.clock.local_time(Instant(night)));
    assert_eq!(wall, time::macros::datetime!(2026 - 10 - 25 01:30));
    let ivo = shop.bench().await;
    ivo.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    shop.clock.set(Instant(night + 60 * MINUTE));
    assert_eq!((shop.clock.today(), shop.clock.local_time(shop.clock.now())), (today, wall), "the hour comes twice");
    ivo.sends("/bench/labour/stop", &[]).await;
    assert!(ivo.opens(&job).await.visible_text().contains("1 h of 20 min"), "{}", ivo.opens(&job).await.visible_text());
    // a day of 25 hours is one day: from the midnight before to the midnight after
    let midnight = night - 90 * MINUTE;
    assert_eq!(shop.clock.local_date(Instant(midnight)), time::macros::date!(2026 - 10 - 25));
    assert_eq!(shop.clock.local_date(Instant(midnight - 1)), time::macros::date!(2026 - 10 - 24));
    assert_eq!(shop.clock.local_date(Instant(midnight + 25 * 60 * MINUTE - 1)), time::macros::date!(2026 - 10 - 25));
    assert_eq!(shop.clock.local_date(Instant(midnight + 25 * 60 * MINUTE)), time::macros::date!(2026 - 10 - 26));
    // and in spring the hour from one to two is missing, and the day has 23
    let spring = time::macros::datetime!(2026 - 03 - 29 01:00 UTC).unix_timestamp() * 1_000_000;
    assert_eq!(shop.clock.local_time(Instant(spring)), time::macros::datetime!(2026 - 03 - 29 02:00));
    assert_eq!(shop.clock.local_time(Instant(spring - 1)).hour(), 0);
    assert_eq!(shop.clock.local_date(Instant(spring - 60 * MINUTE + 23 * 60 * MINUTE - 1)).day(), 29);
    assert_eq!(shop.clock.local_date(Instant(spring - 60 * MINUTE + 23 * 60 * MINUTE)).day(), 30);
}

#[tokio::test]
async fn a_clock_that_goes_back_takes_no_time_away() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let ivo = shop.bench().await;
    ivo.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    shop.clock.set(Instant(MORNING.0 - 30 * MINUTE));
    let page = ivo.opens(&job).await;
    assert!(
        page.visible_text().contains("0 min of 20 min") && !page.visible_text().contains("-30"),
        "{}",
        page.visible_text()
    );
    let stopped = ivo.sends("/bench/labour/stop", &[]).await;
    assert_eq!(stopped.status, StatusCode::SEE_OTHER, "{}", stopped.visible_text());
    let page = ivo.opens(&job).await;
    assert!(
        page.visible_text().contains("0 min of 20 min") && !page.visible_text().contains("-30"),
        "{}",
        page.visible_text()
    );
    assert_eq!(ivo.opens("/bench").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_forgotten_clock_is_noticed_on_the_list_and_corrected_with_a_reason() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    ivo.sends(&format!("{job}/work/{}/start", lines[1]), &[]).await;
    shop.clock.set(Instant(MORNING.0 + 3 * 60 * MINUTE));
    assert!(!ivo.opens("/bench").await.visible_text().contains("likely forgotten"));
    shop.clock.set(Instant(MORNING.0 + 5 * 60 * MINUTE));
    let list = ivo.opens("/bench").await;
    assert!(
        list.visible_text().contains("likely forgotten") && list.has("a.button[href='/bench/labour']"),
        "{}",
        list.visible_text()
    );
    let page = ivo.opens("/bench/labour").await;
    let action = page.page();
    let form = scraper::Selector::parse("form[action$='/correct']").unwrap();
    let path = action.select(&form).next().unwrap().attr("action").unwrap().to_owned();
    let id = path.trim_start_matches("/bench/labour/").trim_end_matches("/correct").to_owned();
    let (minutes, reason) = (format!("minutes_{id}"), format!("reason_{id}"));
    let silent = ivo.sends(&path, &[("form_key", "c"), (minutes.as_str(), "40"), (reason.as_str(), "")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(silent.value(&minutes), "40");
    let said = [("form_key", "c"), (minutes.as_str(), "40"), (reason.as_str(), "Called to the counter.")];
    assert_eq!(ivo.sends(&path, &said).await.status, StatusCode::SEE_OTHER);
    ivo.sends(&path, &said).await;
    assert_eq!(shop.count("labour_correction").await, 1, "sent twice is said once");
    assert!(ivo.opens(&job).await.visible_text().contains("40 min of 30 min"));
    assert!(!ivo.opens("/bench").await.visible_text().contains("likely forgotten"));
    // the owner may, too; what the clock said stays beside it
    let again = [("form_key", "d"), (minutes.as_str(), "35"), (reason.as_str(), "He was back sooner.")];
    assert_eq!(owner.sends(&path, &again).await.status, StatusCode::SEE_OTHER);
    let mut write = shop.app.db.write().await.unwrap();
    for forbidden in [
        "UPDATE labour_entry SET ended_at = ended_at + 1",
        "DELETE FROM labour_entry",
        "UPDATE labour_correction SET minutes = 0",
    ] {
        assert!(sqlx::query(sqlx::AssertSqlSafe(forbidden)).execute(&mut *write).await.is_err(), "{forbidden}");
    }
}

#[tokio::test]
async fn parts_are_taken_for_a_line_and_the_shelf_may_go_below_nothing_with_a_warning() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    let new = [
        ("form_key", "n"),
        ("name", "Bone saddle blank"),
        ("unit", "piece"),
        ("reorder_at", "1"),
        ("cost", "3.80"),
        ("price", "9"),
    ];
    let page = owner.sends("/office/parts", &new).await.location.unwrap();
    let same =
        owner.sends("/office/parts", &[("form_key", "m"), ("name", "bone Saddle Blank"), ("unit", "piece")]).await;
    assert_eq!(same.status, StatusCode::UNPROCESSABLE_ENTITY, "the same name twice is a slip");
    owner.sends(&format!("{page}/count"), &[("form_key", "c"), ("counted", "2")]).await;
    owner.sends(&format!("{page}/receive"), &[("form_key", "d"), ("received", "1"), ("received_note", "post")]).await;
    owner.sends(&format!("{page}/receive"), &[("form_key", "d"), ("received", "1"), ("received_note", "post")]).await;
    let id = page.rsplit('/').next().unwrap();
    let line = lines[1].to_string();
    let take = |key: &'static str, many: &'static str| {
        vec![("form_key", key), ("part", id), ("part_quantity", many), ("part_line", line.as_str())]
    };
    let on_hand =
        async || -> i64 { sqlx::query_scalar("SELECT on_hand FROM part").fetch_one(shop.app.db.read()).await.unwrap() };
    assert_eq!(on_hand().await, 3000, "received once");
    let taken = ivo.sends(&format!("{job}/parts"), &take("t1", "")).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text);
    ivo.sends(&format!("{job}/parts"), &take("t1", "")).await;
    assert_eq!(on_hand().await, 2000, "an empty field takes one; the same form twice takes one");
    let seen = ivo.opens(&job).await.all("#parts").join(" ");
    assert!(
        seen.contains("1 piece: Bone saddle blank") && seen.contains("for Lower and fit the saddle; Ivo"),
        "{seen}"
    );
    for (typed, status) in [("0", 422), ("many", 422), ("4", 303)] {
        let key = if typed == "4" { "t2" } else { "t3" };
        let answer = ivo.sends(&format!("{job}/parts"), &take(key, typed)).await;
        assert_eq!(answer.status.as_u16(), status, "{typed}: {}", answer.text);
    }
    assert_eq!(on_hand().await, -2000);
    assert!(owner.opens("/office/parts").await.visible_text().contains("count the shelf"));
    // a mistake is put back, once
    let movement: uuid::Uuid = sqlx::query_scalar("SELECT id FROM part_movement WHERE quantity = -4000")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    for _ in 0..2 {
        let back = ivo.sends(&format!("{job}/parts/{movement}/back"), &[]).await;
        assert_eq!(back.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(on_hand().await, 2000);
    let sum: i64 =
        sqlx::query_scalar("SELECT sum(quantity) FROM part_movement").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(sum, 2000, "what lies there is the sum of what moved");
    // a line that parts went into cannot be taken off any more
    let desk_job = job.replace("/bench/", "/desk/");
    let off = shop.desk().await.sends(&format!("{desk_job}/work/{line}/withdraw"), &[]).await;
    assert_eq!(off.status, StatusCode::CONFLICT);
    assert!(off.visible_text().contains("Time or parts went into this line"), "{}", off.visible_text());
    let mut write = shop.app.db.write().await.unwrap();
    for forbidden in ["UPDATE part_movement SET quantity = -1", "DELETE FROM part_movement"] {
        assert!(sqlx::query(sqlx::AssertSqlSafe(forbidden)).execute(&mut *write).await.is_err(), "{forbidden}");
    }
}

#[tokio::test]
async fn a_note_waits_for_the_next_pair_of_hands_newest_on_top_and_on_the_card() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    let empty = ivo.sends(&format!("{job}/notes"), &[("form_key", "n0"), ("hands", "  ")]).await;
    assert_eq!(empty.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(empty.has("#error-hands"));
    for (key, words, after) in [
        ("n1", "Rod is stiff: quarter turns only.", 1),
        ("n1", "Rod is stiff: quarter turns only.", 1),
        ("n2", "Glue sets until four.", 2),
    ] {
        shop.clock.set(Instant(MORNING.0 + after * MINUTE));
        let written = ivo.sends(&format!("{job}/notes"), &[("form_key", key), ("hands", words)]).await;
        assert_eq!(written.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(shop.count("job_note").await, 2);
    assert_eq!(
        ivo.opens(&job).await.all("#notes .said"),
        ["Glue sets until four.", "Rod is stiff: quarter turns only."]
    );
    let card = ivo.opens(&format!("{job}/card")).await.visible_text();
    assert!(card.contains("Glue sets until four.") && card.contains("Ivo, Wed 14 Oct 2026 11:02"), "{card}");
}

#[tokio::test]
async fn on_what_has_left_the_house_nothing_is_worked_seen_or_answered_and_its_clock_stops() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let (ivo, desk) = (shop.bench().await, shop.desk().await);
    let at_desk = job.replace("/bench/", "/desk/");
    let quote = desk.sends(&format!("{at_desk}/quote"), &[("form_key", "q")]).await.location.unwrap();
    ivo.sends(&format!("{job}/work/{}/start", lines[1]), &[]).await;
    let running = "SELECT count(*) FROM labour_entry WHERE ended_at IS NULL";
    let count: i64 = sqlx::query_scalar(running).fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(count, 1);
    shop.clock.set(Instant(MORNING.0 + 30 * MINUTE));
    let version = desk.opens(&at_desk).await.value("version");
    let home = [("version", version.as_str()), ("to", "closed-unrepaired"), ("reason", "She took it home.")];
    assert_eq!(desk.sends(&format!("{at_desk}/stage"), &home).await.status, StatusCode::SEE_OTHER);
    let ended: i64 =
        sqlx::query_scalar("SELECT ended_at FROM labour_entry").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(ended, MORNING.0 + 30 * MINUTE);

    let refused = ivo.sends(&format!("{job}/work/{}/done", lines[1]), &[("result", "")]).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.visible_text().contains("26-0001 has left the house"), "{}", refused.visible_text());
    assert_eq!(ivo.sends(&format!("{job}/work/{}/start", lines[1]), &[]).await.status, StatusCode::CONFLICT);
    let yes = [("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    assert_eq!(desk.sends(&format!("{quote}/answer"), &yes).await.status, StatusCode::CONFLICT);
    let seen = [("form_key", "o"), ("key", "crack"), ("seen_note", "by the bridge")];
    let seen = ivo.sends(&format!("{job}/observations"), &seen).await;
    assert_eq!(seen.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(seen.visible_text().contains("26-0001 has left the house"), "{}", seen.visible_text());
    let still: i64 = sqlx::query_scalar(running).fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!((still, shop.count("observation").await), (0, 0));
}

#[tokio::test]
async fn a_clock_that_was_forgotten_and_then_stopped_stays_flagged_until_it_is_corrected() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let ivo = shop.bench().await;
    ivo.sends(&format!("{job}/work/{}/start", lines[1]), &[]).await;
    shop.clock.set(Instant(MORNING.0 + 9 * 60 * MINUTE));
    let stopped = ivo.sends("/bench/labour/stop", &[]).await;
    assert_eq!(stopped.location.as_deref(), Some("/bench/labour"), "to where it is corrected");
    let page = ivo.opens("/bench/labour").await;
    assert!(
        page.visible_text().contains("likely forgotten") && page.has("details[open] form[action$='/correct']"),
        "{}",
        page.visible_text()
    );
    // ticked off after a night: the same is offered
    ivo.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    shop.clock.set(Instant(MORNING.0 + 24 * 60 * MINUTE));
    let ivo = shop.bench().await;
    let done = ivo.sends(&format!("{job}/work/{}/done", lines[0]), &[("result", "0.25")]).await;
    let cookie = done.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
    let flash = ivo.opens_with_cookie(&job, &cookie).await.all(".flash").join(" ");
    assert!(flash.contains("Ticked off. That is long for one go"), "{flash}");
    assert_eq!(ivo.opens("/bench/labour").await.all(".badge.late").len(), 2);
    // a stretch of an ordinary length says nothing
    ivo.sends(&format!("{job}/work/{}/start", lines[1]), &[]).await;
    shop.clock.set(Instant(MORNING.0 + 25 * 60 * MINUTE));
    let stopped = ivo.sends("/bench/labour/stop", &[]).await;
    assert!(stopped.location.unwrap().ends_with("#work"));
}

#[tokio::test]
async fn somebody_elses_time_is_corrected_by_the_owner_alone() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    owner.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    owner.sends("/bench/labour/stop", &[]).await;
    let stretch: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM labour_entry").fetch_one(shop.app.db.read()).await.unwrap();
    let (minutes, reason) = (format!("minutes_{stretch}"), format!("reason_{stretch}"));
    let correction = [("form_key", "c"), (minutes.as_str(), "20"), (reason.as_str(), "Lunch.")];
    let path = format!("/bench/labour/{stretch}/correct");
    let refused = ivo.sends(&path, &correction).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.visible_text().contains("ask Ottilie, or the owner"), "{}", refused.visible_text());
    assert_eq!(shop.count("labour_correction").await, 0);
    assert_eq!(owner.sends(&path, &correction).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("labour_correction").await, 1);
}

#[tokio::test]
async fn no_stretch_of_a_busy_week_is_left_out() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let ivo = shop.bench().await;
    ivo.sends(&format!("{job}/work/{}/start", lines[0]), &[]).await;
    ivo.sends("/bench/labour/stop", &[]).await;
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query(
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 69)
         INSERT INTO labour_entry (id, job_id, work_line_id, staff_id, started_at, ended_at)
         SELECT randomblob(16), job_id, work_line_id, staff_id, started_at - i * 3600000000, started_at - i * 3600000000 + 60000000
         FROM labour_entry, n",
    )
    .execute(&mut *write)
    .await
    .unwrap();
    write.commit().await.unwrap();
    let newest = ivo.opens("/bench/labour").await;
    assert_eq!(newest.all("section.card").len(), 60);
    let link = scraper::Selector::parse("a[href^='/bench/labour?before=']").unwrap();
    let earlier = newest.page().select(&link).next().unwrap().attr("href").unwrap().to_owned();
    let earlier = ivo.opens(&earlier).await;
    assert_eq!(earlier.all("section.card").len(), 10);
    assert!(earlier.has("a[href='/bench/labour']") && !earlier.has("a[href^='/bench/labour?']"));
}

#[tokio::test]
async fn work_that_comes_after_a_stop_of_the_plan_is_asked_about_once_and_the_person_decides() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let ivo = shop.bench().await;
    let (rod, saddle) = (lines[0], lines[1]);
    let mut dry = high_saddle("dry");
    for (name, value) in &mut dry {
        if name == "humidity" {
            *value = "29".to_owned();
        }
    }
    assert_eq!(sends(&ivo, &format!("{job}/readings"), &dry).await.status, StatusCode::SEE_OTHER);
    assert!(ivo.opens(&job).await.all("#work .small").iter().any(|words| words.contains("stops before this")));
    // said once, with what the plan says, and nothing has begun
    let start = format!("{job}/work/{saddle}/start");
    let asked = ivo.sends(&start, &[]).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", asked.visible_text());
    let words = asked.all(&format!("#field-past_{saddle}"))[0].clone();
    assert!(words.starts_with("The plan stops before this:") && words.contains("29 %"), "{words}");
    assert!(asked.has(&format!("form[action='{start}'] input[name='past'][value='air-dry']")));
    assert!(asked.visible_text().contains("Start all the same"));
    assert_eq!(shop.count("labour_entry").await, 0);
    // pressed again it goes on, and is kept; it is not asked again
    assert_eq!(ivo.sends(&start, &[("past", "air-dry")]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("labour_entry").await, 1);
    ivo.sends("/bench/labour/stop", &[]).await;
    assert_eq!(ivo.sends(&start, &[]).await.status, StatusCode::SEE_OTHER);
    let kept: (i64, i64) = sqlx::query_as(
        "SELECT (SELECT count(*) FROM work_past_stop WHERE stop = 'air-dry'),
                (SELECT count(*) FROM event WHERE deed = 'work begun past a stop of the plan')",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(kept, (1, 1));
    // ticked off at once it is asked too, and what was typed stays
    let done = format!("{job}/work/{rod}/done");
    let asked = ivo.sends(&done, &[("result", "0.25")]).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(asked.has(&format!("#field-result_{rod}[value='0.25']")), "{}", asked.visible_text());
    assert_eq!(ivo.sends(&done, &[("result", "0.25"), ("past", "air-dry")]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("work_past_stop").await, 2);
}

#[tokio::test]
async fn the_sheet_calls_nothing_performed_that_was_not() {
    let shop = Shop::open().await;
    let (job, lines) = allowed(&shop, "first").await;
    let ivo = shop.bench().await;
    let sheet = format!("{}/sheet", job.replace("/bench/", "/desk/"));
    let page = ivo.opens(&sheet).await;
    assert_eq!(page.all("h1"), ["Nothing done yet"]);
    assert!(page.visible_text().contains("Still to be done"), "{}", page.visible_text());
    ivo.sends(&format!("{job}/work/{}/done", lines[0]), &[("result", "0.25")]).await;
    let page = ivo.opens(&sheet).await;
    assert_eq!(page.all("h1"), ["Work so far"]);
    assert_eq!(page.all("h2 + ul li").len(), 1, "{}", page.visible_text());
    ivo.sends(&format!("{job}/work/{}/done", lines[1]), &[("result", "")]).await;
    assert_eq!(ivo.opens(&sheet).await.all("h1"), ["Work performed"]);
}
