//! The queue: places given by hand, promises that are moved, forecasts as they were made.

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
    assert_eq!(said, [asked.clone(), made], "newest first");
    assert_eq!(kept[0].engine_version, env!("CARGO_PKG_VERSION"));
    let newest: Vec<_> =
        promise_forecast::newest_of_open_jobs(read).await.unwrap().into_iter().map(|forecast| forecast.said).collect();
    assert_eq!(newest.len(), 2);
    assert!(newest.contains(&asked) && newest.contains(&none));
    let mut tx = shop.app.db.write().await.unwrap();
    for change in ["UPDATE promise_forecast SET share = 1000", "DELETE FROM promise_forecast"] {
        assert!(sqlx::query(change).execute(&mut *tx).await.is_err(), "{change}");
    }
}
