//! The bench calendar: who works when.

use axum::http::StatusCode;
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

const HOLIDAYS: &str = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Weir//EN\r\n\
    BEGIN:VEVENT\r\nUID:1\r\nDTSTART;VALUE=DATE:20261225\r\nDTEND;VALUE=DATE:20261226\r\nRRULE:FREQ=YEARLY\r\nSUMMARY:Christmas Day\r\nEND:VEVENT\r\n\
    BEGIN:VEVENT\r\nUID:2\r\nDTSTART:20261102T190000Z\r\nSUMMARY:Band practice\r\nEND:VEVENT\r\n\
    END:VCALENDAR\r\n";

#[tokio::test]
async fn the_week_comes_out_as_the_file_says_also_where_the_clocks_change() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let path = format!("/office/calendar/hours/{}", shop.staff_id("Ivo").await);
    let hours = [("read", ""), ("monday", "5:30"), ("wednesday", "4,5"), ("sunday", "3")];
    assert_eq!(owner.sends(&path, &hours).await.status, StatusCode::SEE_OTHER);
    // the same form again, which knows nothing of what stands now
    let blind = owner.sends(&path, &[("read", ""), ("monday", "2")]).await;
    assert_eq!(blind.status, StatusCode::CONFLICT);
    assert!(blind.visible_text().contains("Now: 13 h a week"), "{}", blind.visible_text());
    for (field, typed) in [("monday", "five"), ("tuesday", "25")] {
        let refused = owner.sends(&path, &[("read", "1"), (field, typed)]).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{typed}");
        assert!(refused.text.contains(&format!("value=\"{typed}\"")), "what was typed comes back");
    }
    // on Sunday 25 October 2026 the clocks of London go back: the day has its three hours all the same
    let page = owner.opens("/office/calendar?week=2026-10-25").await;
    let total: i64 = sqlx::query_scalar(
        "SELECT monday_minutes + tuesday_minutes + wednesday_minutes + thursday_minutes + friday_minutes + saturday_minutes
             + sunday_minutes FROM bench_week ORDER BY id DESC LIMIT 1",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(total, 780);
    assert_eq!(
        page.all("table.week tfoot td"),
        ["5 h 30 min", "0 min", "4 h 30 min", "0 min", "0 min", "0 min", "3 h", "13 h"]
    );
    // closed on Monday, away on Wednesday but for an hour
    let close = [("name", "Stocktaking"), ("why", "closure"), ("first_day", "2026-10-19")];
    assert_eq!(owner.sends("/office/calendar/closed", &close).await.status, StatusCode::SEE_OTHER);
    let ivo = shop.staff_id("Ivo").await.to_string();
    let away = [("person", ivo.as_str()), ("away_from", "2026-10-21"), ("hours_left", "1")];
    assert_eq!(owner.sends("/office/calendar/absences", &away).await.status, StatusCode::SEE_OTHER);
    let page = owner.opens("/office/calendar?week=2026-10-25").await;
    assert_eq!(page.all("table.week tfoot td"), ["0 min", "0 min", "1 h", "0 min", "0 min", "0 min", "3 h", "4 h"]);
    assert!(page.visible_text().contains("Stocktaking") && page.visible_text().contains("partly away"));
    // a form that says nothing is refused whole, and a last day before the first
    for (path, form) in [
        ("/office/calendar/closed", vec![("name", ""), ("first_day", ""), ("why", "closure")]),
        (
            "/office/calendar/closed",
            vec![("name", "x"), ("first_day", "2026-11-02"), ("last_day", "2026-11-01"), ("why", "holiday")],
        ),
        ("/office/calendar/absences", vec![("person", ""), ("away_from", "")]),
    ] {
        let refused = owner.sends(path, &form).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{path}");
    }
}

#[tokio::test]
async fn holidays_out_of_a_file_are_looked_at_first_and_then_taken() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let looked = owner.brings("/office/calendar/holidays", "k", "holidays.ics", HOLIDAYS.as_bytes()).await;
    let text = looked.visible_text();
    assert!(
        text.contains("Fri 25 Dec 2026: Christmas Day") && text.contains("Sat 25 Dec 2027: Christmas Day"),
        "{text}"
    );
    assert!(text.contains("“Band practice” has a time of day"), "{text}");
    assert_eq!(shop.count("closed_days").await, 0, "nothing is taken yet");
    let days: Vec<String> = looked
        .page()
        .select(&scraper::Selector::parse("input[name=day]").unwrap())
        .map(|input| input.attr("value").unwrap().to_owned())
        .collect();
    assert_eq!(days.len(), 3);
    let ticked: Vec<(&str, &str)> = days.iter().take(2).map(|day| ("day", day.as_str())).collect();
    for _ in 0..2 {
        assert_eq!(owner.sends("/office/calendar/holidays/take", &ticked).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(shop.count("closed_days").await, 2, "taken once");
    let again = owner.brings("/office/calendar/holidays", "k", "holidays.ics", HOLIDAYS.as_bytes()).await;
    assert!(again.visible_text().contains("2 are in the calendar already."), "{}", again.visible_text());
    let broken = owner.brings("/office/calendar/holidays", "k", "a.ics", b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n").await;
    assert_eq!(broken.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(shop.count("closed_days").await, 2);
}
