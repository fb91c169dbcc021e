//! The bench calendar: who works when.

use thumbplane::records::bench_calendar::{self, ClosedWhy, Hours, NewClosedDays};
use thumbplane::records::{AuditContext, Door, Error};
use time::macros::date;

use crate::support::{MORNING, Shop};

#[tokio::test]
async fn hours_hold_from_a_day_on_and_what_they_were_before_stays() {
    let shop = Shop::open().await;
    let ivo = shop.staff_id("Ivo").await;
    let by = AuditContext { staff: Some(shop.staff_id("Ottilie").await), door: Door::Office, at: MORNING };
    let hours = |minutes: [u32; 7]| Hours { week_minutes: minutes, first_day: None, last_day: None };
    let (autumn, winter) = (date!(2026 - 10 - 14), date!(2026 - 12 - 01));
    let mut tx = shop.app.db.write().await.unwrap();
    let five = hours([300, 300, 300, 300, 240, 0, 0]);
    bench_calendar::set_hours(&mut tx, &by, autumn, ivo, None, &five).await.unwrap();
    let read = bench_calendar::people(&mut *tx, autumn).await.unwrap();
    assert_eq!((read.len(), read[0].name.as_str(), read[0].hours.as_ref()), (1, "Ivo", Some(&five)));
    let four = hours([300, 300, 300, 300, 0, 0, 0]);
    // whoever read nothing does not overwrite what somebody entered meanwhile
    let blind = bench_calendar::set_hours(&mut tx, &by, winter, ivo, None, &four).await;
    assert!(matches!(blind, Err(Error::ChangedMeanwhile(_))), "{blind:?}");
    bench_calendar::set_hours(&mut tx, &by, winter, ivo, read[0].hours_id, &four).await.unwrap();
    bench_calendar::set_hours(&mut tx, &by, winter, ivo, read[0].hours_id, &four).await.unwrap();
    let then = async |tx: &mut _, day| bench_calendar::people(tx, day).await.unwrap()[0].hours.clone().unwrap();
    assert_eq!(then(&mut *tx, date!(2026 - 11 - 30)).await, five);
    assert_eq!(then(&mut *tx, winter).await, four);
    let too_long = hours([1441, 0, 0, 0, 0, 0, 0]);
    let latest = bench_calendar::people(&mut *tx, winter).await.unwrap()[0].hours_id;
    assert!(bench_calendar::set_hours(&mut tx, &by, winter, ivo, latest, &too_long).await.is_err());
    tx.commit().await.unwrap();
    assert_eq!(shop.count("bench_week").await, 2);
    let mut tx = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE bench_week SET monday_minutes = 0").execute(&mut *tx).await.is_err());
}

#[tokio::test]
async fn a_day_is_closed_once_and_opened_again() {
    let shop = Shop::open().await;
    let by = AuditContext { staff: Some(shop.staff_id("Ottilie").await), door: Door::Office, at: MORNING };
    let stocktaking = |first_day, last_day| NewClosedDays {
        first_day,
        last_day,
        why: ClosedWhy::Closure,
        name: "Stocktaking".to_owned(),
        is_imported: false,
    };
    let days = [stocktaking(date!(2026 - 12 - 30), date!(2026 - 12 - 31))];
    let mut tx = shop.app.db.write().await.unwrap();
    assert_eq!(bench_calendar::close(&mut tx, &by, &days).await.unwrap(), 1);
    assert_eq!(bench_calendar::close(&mut tx, &by, &days).await.unwrap(), 0, "the same again");
    let backwards = [stocktaking(date!(2026 - 12 - 31), date!(2026 - 12 - 30))];
    assert!(bench_calendar::close(&mut tx, &by, &backwards).await.is_err());
    let ivo = shop.staff_id("Ivo").await;
    let away = (date!(2026 - 10 - 20), date!(2026 - 10 - 24));
    bench_calendar::be_absent(&mut tx, &by, ivo, away, 0).await.unwrap();
    bench_calendar::be_absent(&mut tx, &by, ivo, away, 0).await.unwrap();
    let calendar = bench_calendar::calendar(&mut tx, date!(2026 - 10 - 14), date!(2026 - 10 - 14)).await.unwrap();
    assert_eq!((calendar.people.len(), calendar.closed.len(), calendar.absences.len()), (1, 1, 1));
    // what is over is not asked for
    let later = bench_calendar::calendar(&mut tx, date!(2027 - 01 - 01), date!(2027 - 01 - 01)).await.unwrap();
    assert_eq!((later.closed.len(), later.absences.len()), (0, 0));
    for _ in 0..2 {
        bench_calendar::open_again(&mut tx, &by, calendar.closed[0].id).await.unwrap();
        bench_calendar::be_back(&mut tx, &by, calendar.absences[0].id).await.unwrap();
    }
    let calendar = bench_calendar::calendar(&mut tx, date!(2026 - 10 - 14), date!(2026 - 10 - 14)).await.unwrap();
    assert_eq!((calendar.closed.len(), calendar.absences.len()), (0, 0));
    // and can be closed anew
    assert_eq!(bench_calendar::close(&mut tx, &by, &days).await.unwrap(), 1);
    tx.commit().await.unwrap();
    let deeds: Vec<String> = sqlx::query_scalar("SELECT deed FROM event WHERE door = 'office' ORDER BY id")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    let expected =
        ["days closed", "absence written down", "closed days taken back", "absence taken back", "days closed"];
    assert_eq!(deeds, expected);
}
