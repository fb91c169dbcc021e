//! The queue: places given by hand, promises that are moved, forecasts as they were made.

use axum::http::StatusCode;
use futures_util::StreamExt;
use thumbplane::records::promise_forecast::{
    self, ForecastBasis, ForecastDay, ForecastDraws, ForecastWhy, MinutesFrom, NewForecast, NoDayWhy,
};
use thumbplane::records::queue_move::{self, Place, QueuePlace};
use thumbplane::records::{AuditContext, Door, JobId, job, promise};
use time::macros::date;

use crate::support::{MORNING, Shop};

async fn three_jobs(shop: &Shop) -> [JobId; 3] {
    let desk = shop.desk().await;
    let mut jobs = Vec::new();
    for key in ["a", "b", "c"] {
        let path = desk.checks_in(key).await;
        jobs.push(path.rsplit('/').next().unwrap().parse().unwrap());
    }
    jobs.try_into().unwrap()
}

#[tokio::test]
async fn a_place_given_by_hand_holds_while_what_it_stands_beside_is_open_and_is_taken_back() {
    let shop = Shop::open().await;
    let [one, two, three] = three_jobs(&shop).await;
    let by = AuditContext { staff: Some(shop.staff_id("Ivo").await), door: Door::Bench, at: MORNING };
    let mut tx = shop.app.db.write().await.unwrap();
    let before = |job| Place { place: QueuePlace::Before, beside: Some(job) };
    let after = |job| Place { place: QueuePlace::After, beside: Some(job) };
    queue_move::put(&mut tx, &by, three, "k1", before(one), "the same glue").await.unwrap();
    queue_move::put(&mut tx, &by, three, "k1", before(one), "the same glue").await.unwrap();
    queue_move::put(&mut tx, &by, two, "k2", after(three), "it borrows the clamp").await.unwrap();
    // neither would ever be begun
    let circle = queue_move::put(&mut tx, &by, three, "k3", after(two), "…").await.unwrap_err().to_string();
    assert!(circle.contains("26-0002 waits for 26-0003 already"), "{circle}");
    for (key, to, why) in [("k4", before(three), "beside itself"), ("k5", before(one), " ")] {
        assert!(queue_move::put(&mut tx, &by, three, key, to, why.trim()).await.is_err(), "{why}");
    }
    let standing = queue_move::standing(&mut *tx).await.unwrap();
    let told: Vec<_> = standing.iter().map(|moved| (moved.job_id, moved.place, moved.beside_job_id)).collect();
    assert_eq!(told, [(three, QueuePlace::Before, Some(one)), (two, QueuePlace::After, Some(three))]);
    assert_eq!((standing[0].reason.as_str(), standing[0].who.as_str()), ("the same glue", "Ivo"));
    for _ in 0..2 {
        queue_move::take_back(&mut tx, &by, two, "k6").await.unwrap();
    }
    assert_eq!(queue_move::standing(&mut *tx).await.unwrap().len(), 1);
    assert_eq!(queue_move::history(&mut *tx, two).await.unwrap().len(), 2, "the move, and its taking back");
    tx.commit().await.unwrap();
    let mut tx = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE queue_move SET reason = 'x'").execute(&mut *tx).await.is_err());
    assert!(sqlx::query("DELETE FROM queue_move").execute(&mut *tx).await.is_err());
    // once the neighbour has left the house the place means nothing
    sqlx::query("UPDATE job SET stage = 'collected' WHERE id = ?").bind(one).execute(&mut *tx).await.unwrap();
    assert!(queue_move::standing(&mut *tx).await.unwrap().is_empty());
}

#[tokio::test]
async fn a_moved_promise_stands_on_the_list_until_its_customer_was_told() {
    let shop = Shop::open().await;
    let [one, two, _] = three_jobs(&shop).await;
    let by = AuditContext { staff: Some(shop.staff_id("Ottilie").await), door: Door::Office, at: MORNING };
    let today = date!(2026 - 10 - 14);
    let mut tx = shop.app.db.write().await.unwrap();
    let read = job::find(&mut *tx, one).await.unwrap();
    let first = date!(2026 - 11 - 05);
    promise::move_to(&mut tx, &by, today, one, read.version, "m1", first).await.unwrap();
    promise::move_to(&mut tx, &by, today, one, read.version, "m1", first).await.unwrap();
    // whoever read the older promise does not overwrite the new one
    assert!(promise::move_to(&mut tx, &by, today, one, read.version, "m2", date!(2026 - 11 - 09)).await.is_err());
    let second = date!(2026 - 11 - 12);
    promise::move_to(&mut tx, &by, today, one, read.version + 1, "m3", second).await.unwrap();
    let past = promise::move_to(&mut tx, &by, today, two, 1, "m4", date!(2026 - 10 - 13)).await;
    assert!(past.unwrap_err().to_string().contains("past"));
    // told once, from the day the customer knows to the one that holds
    let to_tell = promise::to_tell(&mut *tx).await.unwrap();
    let told: Vec<_> = to_tell.iter().map(|of| (of.job_id, of.from_day, of.to_day)).collect();
    assert_eq!(told, [(one, Some(date!(2026 - 10 - 28)), second)]);
    assert_eq!(job::find(&mut *tx, one).await.unwrap().promised_on, Some(second));
    for _ in 0..2 {
        promise::told(&mut tx, &by, one).await.unwrap();
    }
    assert!(promise::to_tell(&mut *tx).await.unwrap().is_empty());
    tx.commit().await.unwrap();
    let mut tx = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE promise_move SET told_at = NULL, told_by = NULL").execute(&mut *tx).await.is_err());
}

#[tokio::test]
async fn a_forecast_is_kept_exactly_as_it_was_made() {
    let shop = Shop::open().await;
    let [one, two, _] = three_jobs(&shop).await;
    assert_eq!(thumbplane::web::forecast_newcomers(&shop.app).await.unwrap(), 3);
    let by = AuditContext { staff: None, door: Door::House, at: MORNING };
    let day = ForecastDay {
        day: date!(2026 - 10 - 23),
        share: 912,
        median_day: date!(2026 - 10 - 20),
        done_by: vec![(5, 400), (6, 612), (9, 912), (13, 1000)],
    };
    let basis = ForecastBasis {
        jobs_ahead: 3,
        minutes_ahead: 420,
        own_minutes: 95,
        minutes_from: MinutesFrom::Clocked,
        jobs_known: 12,
        waits_known: Some(7),
        ahead_without_minutes: 1,
    };
    let made = NewForecast {
        job_id: one,
        made_on: date!(2026 - 10 - 14),
        why: ForecastWhy::Night,
        confidence: 900,
        day: Ok(day),
        told_day: None,
        basis,
        draws: ForecastDraws { seed: -7, draws: 2000 },
    };
    let none = NewForecast { job_id: two, day: Err(NoDayWhy::NoMinutes), ..made.clone() };
    let mut tx = shop.app.db.write().await.unwrap();
    assert!(!promise_forecast::was_night(&mut *tx, made.made_on).await.unwrap());
    promise_forecast::keep(&mut tx, &by, &[made.clone(), none.clone()]).await.unwrap();
    let asked = NewForecast { why: ForecastWhy::OnDemand, confidence: 800, ..made.clone() };
    promise_forecast::keep(&mut tx, &by, std::slice::from_ref(&asked)).await.unwrap();
    assert!(promise_forecast::was_night(&mut *tx, made.made_on).await.unwrap());
    tx.commit().await.unwrap();
    let read = shop.app.db.read();
    let kept = promise_forecast::of_job(read, one, 10).await.unwrap();
    let said: Vec<_> = kept.iter().map(|forecast| forecast.said.clone()).collect();
    assert_eq!(said[..2], [asked.clone(), made], "newest first");
    assert_eq!((said.len(), said[2].why), (3, ForecastWhy::CheckIn), "and the one of its check-in");
    assert_eq!(kept[0].engine_version, env!("CARGO_PKG_VERSION"));
    let of_two = promise_forecast::of_job(read, two, 1).await.unwrap();
    assert_eq!(of_two.into_iter().map(|forecast| forecast.said).collect::<Vec<_>>(), [none]);
    let mut tx = shop.app.db.write().await.unwrap();
    for change in ["UPDATE promise_forecast SET share = 1000", "DELETE FROM promise_forecast"] {
        assert!(sqlx::query(change).execute(&mut *tx).await.is_err(), "{change}");
    }
}

async fn scalar(shop: &Shop, sql: &'static str) -> i64 {
    sqlx::query_scalar(sql).fetch_one(shop.app.db.read()).await.unwrap()
}

/// Ivo works five hours a day from Monday to Friday.
async fn with_hours(shop: &Shop) {
    let owner = shop.owner().await;
    let path = format!("/office/calendar/hours/{}", shop.staff_id("Ivo").await);
    let hours =
        [("read", ""), ("monday", "5"), ("tuesday", "5:00"), ("wednesday", "5"), ("thursday", "5"), ("friday", "5")];
    let set = owner.sends(&path, &hours).await;
    assert_eq!(set.status, StatusCode::SEE_OTHER, "{}", set.visible_text());
}

/// Lines of so many minutes that are agreed to, in own words.
async fn with_work(shop: &Shop, job: JobId, minutes: &[i64]) {
    let mut tx = shop.app.db.write().await.unwrap();
    for (place, minutes) in (1_i64..).zip(minutes) {
        sqlx::query(
            "INSERT INTO work_line (id, job_id, position, words, minutes, price, tax_class, state, form_key)
             VALUES (randomblob(16), ?, ?, 'Work', ?, 100, 'standard', 'agreed', ?)",
        )
        .bind(job)
        .bind(place)
        .bind(minutes)
        .bind(format!("{job}-{place}"))
        .execute(&mut *tx)
        .await
        .unwrap();
    }
    sqlx::query("UPDATE job SET stage = 'agreed' WHERE id = ?").bind(job).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
}

async fn promises(shop: &Shop, job: JobId, day: &str) {
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET promised_on = ? WHERE id = ?").bind(day).bind(job).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn the_owner_sees_what_next_and_why_moves_a_job_with_a_reason_and_puts_it_back() {
    let shop = Shop::open().await;
    let [one, two, three] = three_jobs(&shop).await;
    with_hours(&shop).await;
    for (job, minutes, day) in [(one, 60, "2026-10-19"), (two, 90, "2026-10-20"), (three, 120, "2026-10-21")] {
        with_work(&shop, job, &[minutes]).await;
        promises(&shop, job, day).await;
    }
    let owner = shop.owner().await;
    let numbers = async || owner.opens("/office/queue").await.all("table.next td:nth-child(2) a");
    assert_eq!(numbers().await, ["26-0001", "26-0002", "26-0003"], "the earliest promise first");
    let page = owner.opens("/office/queue").await.visible_text();
    assert!(page.contains("Promised in 5 days."), "{page}");
    // without a reason nothing moves, and the page says so
    let to = format!("before:{one}");
    let path = format!("/office/queue/{three}/move");
    let refused = owner.sends(&path, &[("form_key", "a"), ("to", &to), ("reason", "")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(numbers().await, ["26-0001", "26-0002", "26-0003"]);
    let moved = owner.sends(&path, &[("form_key", "a"), ("to", &to), ("reason", "The same clamp.")]).await;
    assert_eq!(moved.location.as_deref(), Some("/office/queue"), "{}", moved.visible_text());
    assert_eq!(numbers().await, ["26-0003", "26-0001", "26-0002"]);
    let page = owner.opens("/office/queue").await.visible_text();
    assert!(page.contains("Put before 26-0001 by Ottilie: The same clamp."), "{page}");
    // the bench has the same order, and says the same
    let bench = shop.bench().await.opens("/bench").await;
    let at = |number: &str| bench.text.find(number).unwrap();
    assert!(at("26-0003") < at("26-0001") && at("26-0001") < at("26-0002"));
    assert!(bench.visible_text().contains("The same clamp."));
    let back = owner.sends(&format!("/office/queue/{three}/take-back"), &[("form_key", "b")]).await;
    assert_eq!(back.status, StatusCode::SEE_OTHER);
    assert_eq!(numbers().await, ["26-0001", "26-0002", "26-0003"]);
    let history = owner.opens(&format!("/office/queue/{three}")).await.visible_text();
    assert!(history.contains("Before 26-0001: The same clamp.") && history.contains("Back to where the rule puts it"));
    // what stands in the address narrows the list
    for (query, shown) in [
        ("stage=agreed", 3),
        ("stage=measured", 0),
        ("family=steel-string", 3),
        ("person=nobody", 3),
        ("waiting=part", 0),
    ] {
        let page = owner.opens(&format!("/office/queue?{query}")).await;
        assert_eq!(page.all("table.next tbody tr").len(), shown, "{query}");
    }
}

#[tokio::test]
async fn each_figure_of_the_queue_is_what_plain_questions_to_the_file_say() {
    let shop = Shop::open().await;
    let [one, two, three] = three_jobs(&shop).await;
    with_hours(&shop).await;
    with_work(&shop, one, &[60, 45]).await;
    with_work(&shop, two, &[600]).await;
    with_work(&shop, three, &[30]).await;
    promises(&shop, one, "2026-10-16").await;
    promises(&shop, two, "2026-10-22").await;
    promises(&shop, three, "2026-10-30").await;
    let owner = shop.owner().await;
    let page = owner.opens("/office/queue").await;
    // nothing is clocked: a log-normal line of variance 0.12 + 0.04 takes e^0.08 times its estimate on average
    let expected = |minutes: i64| f64::from(i32::try_from(minutes).unwrap()) * 0.08_f64.exp();
    let said = |minutes: i64| {
        let whole = expected(minutes).round();
        match (whole < 60.0, whole < 600.0) {
            (true, _) => format!("{whole:.0} min"),
            (false, true) => format!("{:.0} h {:.0} min", (whole / 60.0).floor(), whole % 60.0),
            (false, false) => format!("{:.0} h", whole / 60.0),
        }
    };
    let of =
        "SELECT sum(minutes) FROM work_line WHERE state = 'agreed' AND job_id IN (SELECT id FROM job WHERE number = ?)";
    for (number, words) in [("26-0001", "1 h 54 min"), ("26-0002", "11 h"), ("26-0003", "32 min")] {
        let minutes: i64 = sqlx::query_scalar(of).bind(number).fetch_one(shop.app.db.read()).await.unwrap();
        let rows = page.all("table.next tbody tr");
        let row = rows.iter().find(|row| row.contains(number)).unwrap();
        assert_eq!(said(minutes), words);
        assert!(row.contains(words), "{row}: {words}");
    }
    // Wednesday 14 October: of this week Wednesday to Friday are left, of the next five days
    let load = page.all("#load tbody tr");
    let promised = "SELECT coalesce(sum(work_line.minutes), 0) FROM work_line JOIN job ON job.id = work_line.job_id
         WHERE job.promised_on BETWEEN ? AND ? AND work_line.state = 'agreed'";
    for (row, from, until, hours) in [(0, "2026-10-12", "2026-10-18", 15), (1, "2026-10-19", "2026-10-25", 25)] {
        let minutes: i64 =
            sqlx::query_scalar(promised).bind(from).bind(until).fetch_one(shop.app.db.read()).await.unwrap();
        let weekdays: i64 = sqlx::query_scalar(
            "SELECT monday_minutes + tuesday_minutes + wednesday_minutes + thursday_minutes + friday_minutes FROM bench_week",
        )
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
        assert_eq!(weekdays * if row == 0 { 3 } else { 5 } / 5 / 60, hours);
        assert!(load[row].contains(&format!("of {hours} h")), "{}", load[row]);
        assert!(load[row].contains(&format!("{} of", said(minutes))), "{}: {}", load[row], said(minutes));
    }
    let rows = i64::try_from(page.all("table.next tbody tr").len()).unwrap();
    assert_eq!(rows, scalar(&shop, "SELECT count(*) FROM job WHERE is_open").await);
}

#[tokio::test]
async fn a_promise_in_danger_is_moved_by_one_press_and_its_customer_stands_on_the_desks_list() {
    let shop = Shop::open().await;
    let [one, two, _] = three_jobs(&shop).await;
    with_hours(&shop).await;
    with_work(&shop, one, &[60]).await;
    with_work(&shop, two, &[1500]).await;
    promises(&shop, one, "2026-10-30").await;
    promises(&shop, two, "2026-10-16").await;
    let (owner, desk) = (shop.owner().await, shop.desk().await);
    let worked = owner.sends("/office/queue/forecasts", &[]).await;
    assert_eq!(worked.status, StatusCode::SEE_OTHER, "{}", worked.visible_text());
    let page = owner.opens("/office/queue").await;
    let danger = page.all("#danger tbody tr");
    assert_eq!(danger.len(), 1, "{danger:?}");
    assert!(
        danger[0].contains("26-0002") && danger[0].contains("Maren Oakhollow") && danger[0].contains("01632 960101")
    );
    // 25 hours in three days of five, of which 85 of 100 count: less than half as long as is usual
    let kept = danger[0].split("kept in ").nth(1).unwrap().split(' ').next().unwrap().parse::<i64>().unwrap();
    assert!((1..=10).contains(&kept), "{}", danger[0]);
    let path = format!("/office/queue/{two}/promise");
    let form = page.form(&path);
    let moved = owner.sends_form(&path, &form, &[]).await;
    assert_eq!(moved.location.as_deref(), Some("/office/queue"), "{}", moved.visible_text());
    let day = form.iter().find(|(name, _)| name == "day").unwrap().1.clone();
    let held: String = sqlx::query_scalar("SELECT promised_on FROM job WHERE number = '26-0002'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(held, day);
    assert!(owner.opens("/office/queue").await.all("#danger tbody tr").is_empty());
    let to_call = desk.opens("/desk/day").await;
    assert!(to_call.visible_text().contains("instead of Fri 16 Oct 2026"), "{}", to_call.visible_text());
    let subject = format!("promise.{two}");
    let said = [("form_key", "t"), ("subject", subject.as_str()), ("how", "telephone"), ("outcome", "told")];
    let told = desk.sends("/desk/to-tell", &said).await;
    assert_eq!(told.status, StatusCode::SEE_OTHER);
    assert!(!desk.opens("/desk/day").await.visible_text().contains("instead of"));
    // each forecast is kept: those that were asked for, and the one that the promise was moved by
    let why: Vec<String> = sqlx::query_scalar(
        "SELECT why FROM promise_forecast WHERE why <> 'check-in' AND job_id IN (SELECT id FROM job WHERE number = '26-0002')
         ORDER BY id",
    )
    .fetch_all(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(why, ["on-demand", "moved"]);
    let page = owner.opens(&format!("/office/queue/{two}")).await;
    let text = page.visible_text();
    assert!(text.contains("What it rests on") && text.contains("when the promise was moved"), "{text}");
    // the drawing has its table: the shares rise to the whole
    let shares = page.all("details table tbody td.figure");
    assert_eq!(shares.last().map(String::as_str), Some("100 %"));
}

#[tokio::test]
async fn the_evening_page_answers_what_next_and_what_is_in_danger_as_the_queue_does() {
    let shop = Shop::open().await;
    let [one, two, three] = three_jobs(&shop).await;
    with_hours(&shop).await;
    // 25 hours by Thursday of next week cannot be done, though no day of it is near
    for (job, minutes, day) in [(one, 60, "2026-10-30"), (two, 1500, "2026-10-20"), (three, 45, "2026-10-16")] {
        with_work(&shop, job, &[minutes]).await;
        promises(&shop, job, day).await;
    }
    let owner = shop.owner().await;
    let moved = [("form_key", "a"), ("to", "first"), ("reason", "Its clamp is free.")];
    assert_eq!(owner.sends(&format!("/office/queue/{one}/move"), &moved).await.status, StatusCode::SEE_OTHER);
    assert_eq!(owner.sends("/office/queue/forecasts", &[]).await.status, StatusCode::SEE_OTHER);
    let (evening, queue) = (owner.opens("/office").await, owner.opens("/office/queue").await);
    let numbers = |said: Vec<String>| -> Vec<String> { said.iter().map(|said| said[..7].to_owned()).collect() };
    let order = queue.all("table.next td:nth-child(2) a");
    assert_eq!(order[0], "26-0001", "moved to the front");
    assert_eq!(numbers(evening.all("#first li a")), order);
    assert!(evening.all("#first li")[0].contains("Its clamp is free."));
    let danger = numbers(queue.all("#danger tbody tr"));
    assert!(danger.contains(&"26-0002".to_owned()), "{danger:?}");
    assert_eq!(numbers(evening.all("#danger li a")), danger);
    assert_eq!(evening.all("#first h2"), ["Tomorrow’s first five"]);
    // what was measured is to be quoted, and stands in its place
    changes(&shop, "UPDATE job SET stage = 'measured' WHERE number = '26-0001'").await;
    let measured = owner.opens("/office").await;
    assert_eq!(numbers(measured.all("#first li a"))[0], "26-0001");
    assert!(measured.all("#first li")[0].contains("measured, to be quoted"), "{:?}", measured.all("#first li"));
    // a Friday's evening does not speak of a Saturday on which nobody works
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 2 * 86_400_000_000));
    assert_eq!(shop.owner().await.opens("/office").await.all("#first h2"), ["The first five of Mon 19 Oct 2026"]);
    shop.clock.set(MORNING);
    let owner = shop.owner().await;
    // what has no hours is said to make the days unsure
    assert!(!evening.visible_text().contains("The queue lacks"));
    let hours = format!("/office/calendar/hours/{}", shop.staff_id("Ivo").await);
    let none = owner.opens("/office/calendar").await.form(&hours);
    let emptied: Vec<(&str, &str)> = none
        .iter()
        .map(|(name, value)| (name.as_str(), if name.ends_with("day") { "" } else { value.as_str() }))
        .collect();
    assert_eq!(owner.sends(&hours, &emptied).await.status, StatusCode::SEE_OTHER);
    let (evening, queue) = (owner.opens("/office").await, owner.opens("/office/queue").await);
    assert!(evening.visible_text().contains("The queue lacks 1 thing"), "{}", evening.visible_text());
    assert_eq!(evening.all("#first h2"), ["Next, once somebody works"]);
    // a promise of which no day can be said is no safe one
    assert_eq!(queue.all("#danger tbody tr").len(), 3);
    assert!(queue.all("#danger tbody tr").iter().all(|row| row.contains("no day can be said")));
    assert_eq!(evening.all("#danger li").len(), 3);
}

async fn changes(shop: &Shop, change: &'static str) {
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query(change).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn a_day_on_which_nobody_works_or_far_away_is_asked_about_before_it_is_promised() {
    let shop = Shop::open().await;
    let [one, ..] = three_jobs(&shop).await;
    with_hours(&shop).await;
    let owner = shop.owner().await;
    let path = format!("/office/queue/{one}/promise");
    let page = owner.opens(&format!("/office/queue/{one}")).await;
    for (day, question) in [
        ("2026-10-24", "Nobody works on Sat 24 Oct 2026. Promise it all the same?"),
        ("2036-01-02", "Wed 2 Jan 2036 is more than a year away. Is that the day?"),
    ] {
        let asked = owner.sends_form(&path, &page.form(&path), &[("day", day)]).await;
        assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(asked.visible_text().contains(question), "{}", asked.visible_text());
        assert_eq!(scalar(&shop, "SELECT count(*) FROM job WHERE promised_on > '2026-10-28'").await, 0);
    }
    let weekday = owner.sends_form(&path, &page.form(&path), &[("day", "2026-10-30")]).await;
    assert_eq!(weekday.status, StatusCode::SEE_OTHER, "{}", weekday.visible_text());
    let page = owner.opens(&format!("/office/queue/{one}")).await;
    let saturday = owner.sends_form(&path, &page.form(&path), &[("day", "2026-10-31"), ("sure", "yes")]).await;
    assert_eq!(saturday.status, StatusCode::SEE_OTHER, "{}", saturday.visible_text());
}

#[tokio::test]
async fn what_is_missing_is_said_in_words_and_the_rest_is_worked_out() {
    let shop = Shop::open().await;
    let [one, two, three] = three_jobs(&shop).await;
    let owner = shop.owner().await;
    // a calendar without hours
    let page = owner.opens("/office/queue").await.visible_text();
    assert!(page.contains("Nobody has hours on any weekday: no day can be said."), "{page}");
    assert!(page.contains("Ivo has no hours in the calendar"), "{page}");
    let check_in = shop.desk().await.opens("/desk/check-in").await.visible_text();
    assert!(check_in.contains("The queue can say no day: the bench calendar has no hours."), "{check_in}");
    with_hours(&shop).await;
    // one job of five hundred hours is asked about, and the others have their days
    with_work(&shop, one, &[30_000]).await;
    with_work(&shop, two, &[60]).await;
    promises(&shop, one, "2026-12-30").await;
    let page = owner.opens("/office/queue").await.visible_text();
    assert!(page.contains("26-0001 still takes 542 h. Is that meant?"), "{page}");
    assert!(page.contains("Nobody has said yet what is to be done on 26-0003"), "{page}");
    // whoever left works no more: the job says whom it is with
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET staff_id = (SELECT id FROM staff WHERE name = 'Ivo') WHERE id = ?")
        .bind(three)
        .execute(&mut *tx)
        .await
        .unwrap();
    sqlx::query("UPDATE staff SET active = 0 WHERE name = 'Ivo'").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    owner.sends("/office/queue/forecasts", &[]).await;
    let page = owner.opens("/office/queue").await.visible_text();
    assert!(page.contains("26-0003 is with Ivo, who has no hours: give it to somebody else."), "{page}");
    assert!(page.contains("nobody works: no day can be said.") || page.contains("no day: "), "{page}");
}

#[tokio::test]
async fn each_check_in_keeps_what_could_be_said_of_its_day() {
    let shop = Shop::open().await;
    with_hours(&shop).await;
    let desk = shop.desk().await;
    let form = desk.opens("/desk/check-in").await;
    assert!(form.visible_text().contains("The queue can keep"), "{}", form.visible_text());
    desk.checks_in("k").await;
    // the running program does so after each check-in; once is enough
    assert_eq!(thumbplane::web::forecast_newcomers(&shop.app).await.unwrap(), 1);
    assert_eq!(thumbplane::web::forecast_newcomers(&shop.app).await.unwrap(), 0);
    let (why, told_day, made_on): (String, String, String) =
        sqlx::query_as("SELECT why, told_day, made_on FROM promise_forecast")
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
    assert_eq!((why.as_str(), told_day.as_str(), made_on.as_str()), ("check-in", "2026-10-28", "2026-10-14"));
}

/// The events of a stream, one after the other.
struct Stream(axum::body::BodyDataStream);

impl Stream {
    async fn open(person: &crate::support::Person<'_>) -> Self {
        Self(person.streams("/changes").await.into_data_stream())
    }

    /// The next event that says something; `None` once the stream has ended.
    async fn next(&mut self) -> Option<String> {
        loop {
            let text = String::from_utf8(self.0.next().await?.unwrap().to_vec()).unwrap();
            if text.starts_with("event: queue") {
                return Some(text);
            }
        }
    }
}

#[tokio::test]
async fn an_open_page_hears_of_each_change_and_hears_no_more_once_its_person_signed_out() {
    let shop = Shop::open().await;
    let [one, ..] = three_jobs(&shop).await;
    let (owner, ivo) = (shop.owner().await, shop.bench().await);
    let (mut first, mut second) = (Stream::open(&owner).await, Stream::open(&ivo).await);
    let stands = first.next().await.unwrap();
    assert_eq!(second.next().await.as_deref(), Some(stands.as_str()), "what stands is told first");
    let page = owner.opens("/office/queue").await;
    let version = page
        .page()
        .select(&scraper::Selector::parse("[data-renews]").unwrap())
        .next()
        .unwrap()
        .attr("data-renews")
        .unwrap()
        .to_owned();
    assert!(stands.contains(&version), "{stands}: {version}");
    let form = [("form_key", "a"), ("to", "first"), ("reason", "It travels.")];
    assert_eq!(owner.sends(&format!("/office/queue/{one}/move"), &form).await.status, StatusCode::SEE_OTHER);
    let changed = first.next().await.unwrap();
    assert_ne!(changed, stands);
    assert_eq!(second.next().await, Some(changed));
    assert_eq!(ivo.sends("/sign-out", &[]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(second.next().await, None, "the stream ended with the session");
    let form = [("form_key", "b")];
    owner.sends(&format!("/office/queue/{one}/take-back"), &form).await;
    assert!(first.next().await.is_some(), "the other goes on");
    assert_eq!(
        shop.stranger().opens("/changes").await.status,
        StatusCode::SEE_OTHER,
        "nobody hears without signing in"
    );
}
