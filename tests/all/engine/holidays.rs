//! Holidays out of calendar files, against the examples of RFC 5545 and whatever else such files hold.

use proptest::prelude::*;
use thumbplane::forecast::calendar::holidays::{Holiday, Holidays, Refused, Unusable, read};
use time::{Date, Month, macros::date};

const FROM: Date = date!(1996 - 01 - 01);
const UNTIL: Date = date!(2010 - 12 - 31);

/// A calendar with one event of these lines.
fn file(lines: &[&str]) -> String {
    let event = lines.join("\r\n");
    format!(
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Millrace//EN\r\nBEGIN:VEVENT\r\n{event}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    )
}

#[track_caller]
fn holidays(lines: &[&str]) -> Holidays {
    read(file(lines).as_bytes(), FROM, UNTIL).unwrap_or_else(|refused| panic!("{lines:?}: {refused}"))
}

/// The first days of an event's repeats.
#[track_caller]
fn days(lines: &[&str]) -> Vec<Date> {
    let found = holidays(lines);
    assert!(found.left_out.is_empty(), "{found:?}");
    found.holidays.iter().map(|holiday| holiday.first_day).collect()
}

#[track_caller]
fn left_out(lines: &[&str]) -> Unusable {
    let found = holidays(lines);
    assert!(found.holidays.is_empty(), "{found:?}");
    found.left_out.into_iter().next().expect("an event that was left out").why
}

fn refused(text: &str) -> Refused {
    read(text.as_bytes(), FROM, UNTIL).expect_err("refused")
}

fn day(year: i32, month: u8, day: u8) -> Date {
    Date::from_calendar_date(year, Month::try_from(month).expect("a month"), day).expect("a day")
}

/// RFC 5545, 3.6.1: a yearly anniversary, and an event of several days, whose end is the day after.
#[test]
fn whole_days_are_read_as_the_standard_shows_them() {
    let yearly = days(&[
        "UID:19970901T130000Z-123403@millrace.example",
        "DTSTAMP:19970901T130000Z",
        "DTSTART;VALUE=DATE:19971102",
        "SUMMARY:Weir Day",
        "TRANSP:TRANSPARENT",
        "RRULE:FREQ=YEARLY",
    ]);
    assert_eq!(yearly.len(), 14);
    assert_eq!((yearly[0], yearly[13]), (date!(1997 - 11 - 02), date!(2010 - 11 - 02)));
    let several = holidays(&["DTSTART;VALUE=DATE:20070628", "DTEND;VALUE=DATE:20070709", "SUMMARY:River festival"]);
    assert_eq!(
        several.holidays,
        [Holiday {
            first_day: date!(2007 - 06 - 28),
            last_day: date!(2007 - 07 - 08),
            name: "River festival".to_owned()
        }]
    );
}

/// The examples of RFC 5545, 3.8.5.3, that are yearly and by date or weekday, as printed there.
#[test]
fn yearly_rules_come_out_as_printed_in_the_standard() {
    let june_and_july = days(&["DTSTART;VALUE=DATE:19970610", "RRULE:FREQ=YEARLY;COUNT=10;BYMONTH=6,7"]);
    let expected: Vec<Date> = (1997..=2001).flat_map(|year| [day(year, 6, 10), day(year, 7, 10)]).collect();
    assert_eq!(june_and_july, expected);

    let every_other = days(&["DTSTART;VALUE=DATE:19970310", "RRULE:FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3"]);
    let later = [1999, 2001, 2003].into_iter().flat_map(|year| (1..=3).map(move |month| day(year, month, 10)));
    assert_eq!(every_other, [day(1997, 3, 10)].into_iter().chain(later).collect::<Vec<Date>>());

    let twentieth_monday = days(&["DTSTART;VALUE=DATE:19970519", "RRULE:FREQ=YEARLY;BYDAY=20MO"]);
    assert_eq!(twentieth_monday[..3], [day(1997, 5, 19), day(1998, 5, 18), day(1999, 5, 17)]);

    let march = days(&["DTSTART;VALUE=DATE:19970313", "RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=TH"]);
    let expected = [(1997, 13), (1997, 20), (1997, 27), (1998, 5), (1998, 12), (1998, 19), (1998, 26)];
    assert_eq!(march[..7], expected.map(|(year, of_month)| day(year, 3, of_month)));

    let election = days(&[
        "DTSTART;VALUE=DATE:19961105",
        "RRULE:FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
    ]);
    assert_eq!(election[..3], [day(1996, 11, 5), day(2000, 11, 7), day(2004, 11, 2)]);

    let until = days(&["DTSTART;VALUE=DATE:19970902", "RRULE:FREQ=YEARLY;UNTIL=20000902T000000Z"]);
    assert_eq!(until.len(), 4);
}

/// Leap days come only in leap years, unless the rule says the last day of February (RFC 5545, 3.3.10).
#[test]
fn a_leap_day_waits_for_its_year() {
    let read = |rule: &str| {
        let file = file(&["DTSTART;VALUE=DATE:20280229", rule]);
        let found = read(file.as_bytes(), date!(2028 - 01 - 01), date!(2036 - 12 - 31)).expect("a calendar");
        found.holidays.into_iter().map(|holiday| holiday.first_day).collect::<Vec<_>>()
    };
    assert_eq!(read("RRULE:FREQ=YEARLY"), [day(2028, 2, 29), day(2032, 2, 29), day(2036, 2, 29)]);
    let last = read("RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=-1");
    assert_eq!(last[..3], [day(2028, 2, 29), day(2029, 2, 28), day(2030, 2, 28)]);
}

/// The last Monday of May, and the fourth Thursday of November: facts of the calendar, no source.
#[test]
fn weekdays_are_counted_from_either_end() {
    let last = days(&["DTSTART;VALUE=DATE:20000529", "RRULE:FREQ=YEARLY;BYMONTH=5;BYDAY=-1MO;COUNT=3"]);
    assert_eq!(last, [day(2000, 5, 29), day(2001, 5, 28), day(2002, 5, 27)]);
    let fourth = days(&["DTSTART;VALUE=DATE:20001123", "RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=4TH;COUNT=3"]);
    assert_eq!(fourth, [day(2000, 11, 23), day(2001, 11, 22), day(2002, 11, 28)]);
    let year_end = days(&["DTSTART;VALUE=DATE:20001231", "RRULE:FREQ=YEARLY;BYDAY=-1SU;COUNT=2"]);
    assert_eq!(year_end, [day(2000, 12, 31), day(2001, 12, 30)]);
}

#[test]
fn days_are_added_taken_away_and_moved() {
    let listed = days(&[
        "DTSTART;VALUE=DATE:20000501",
        "RRULE:FREQ=YEARLY;COUNT=3",
        "RDATE;VALUE=DATE:20000601,20000701",
        "EXDATE;VALUE=DATE:20010501",
    ]);
    assert_eq!(listed, [day(2000, 5, 1), day(2000, 6, 1), day(2000, 7, 1), day(2002, 5, 1)]);
    // one of the series is moved by an event of its own, another is called off
    let moved = "BEGIN:VCALENDAR\nVERSION:2.0\n\
        BEGIN:VEVENT\nUID:weir\nDTSTART;VALUE=DATE:20000501\nRRULE:FREQ=YEARLY;COUNT=4\nSUMMARY:Weir Day\nEND:VEVENT\n\
        BEGIN:VEVENT\nUID:weir\nRECURRENCE-ID;VALUE=DATE:20010501\nDTSTART;VALUE=DATE:20010507\nSUMMARY:Weir Day, late\nEND:VEVENT\n\
        BEGIN:VEVENT\nUID:weir\nRECURRENCE-ID;VALUE=DATE:20020501\nDTSTART;VALUE=DATE:20020501\nSTATUS:CANCELLED\nEND:VEVENT\n\
        END:VCALENDAR";
    let found = read(moved.as_bytes(), FROM, UNTIL).expect("a calendar");
    let days: Vec<Date> = found.holidays.iter().map(|holiday| holiday.first_day).collect();
    assert_eq!(days, [day(2000, 5, 1), day(2001, 5, 7), day(2003, 5, 1)]);
    assert_eq!((found.left_out[0].line, &found.left_out[0].why), (15, &Unusable::Cancelled));
}

/// RFC 5545, 3.1: the example of a folded line; folds that cut a letter in two; and a fold with a tab.
#[test]
fn lines_are_unfolded_octet_by_octet() {
    let name = |summary: &[u8]| {
        let mut file = b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART;VALUE=DATE:20000501\r\n".to_vec();
        file.extend_from_slice(summary);
        file.extend_from_slice(b"\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n");
        read(&file, FROM, UNTIL).expect("a calendar").holidays[0].name.clone()
    };
    assert_eq!(
        name(b"SUMMARY:This is a lo\r\n ng description\r\n  that exists on a long line."),
        "This is a long description that exists on a long line."
    );
    assert_eq!(name(b"SUMMARY:Fr\xc3\r\n \xbchling"), "Frühling");
    assert_eq!(name(b"SUMMARY:Fr\xc3\n\t\xbchling"), "Frühling");
    // escapes (3.3.11): backslash, comma, semicolon, line break
    assert_eq!(
        name(b"SUMMARY;LANGUAGE=en;X-NOTE=\"a;b:c\":Wood\\, glue\\; and \\\\ wire\\nagain"),
        "Wood, glue; and \\ wire again"
    );
    assert_eq!(name(b"summary:Lower case"), "Lower case");
}

#[test]
fn what_does_not_close_the_shop_is_named_and_left_out() {
    assert_eq!(left_out(&["DTSTART:20000501T090000Z", "SUMMARY:Delivery"]), Unusable::HasATime);
    assert_eq!(left_out(&["DTSTART;TZID=Europe/Lisbon:20000501T090000"]), Unusable::HasATime);
    assert_eq!(left_out(&["DTSTART;VALUE=DATE:20000501", "DURATION:PT2H"]), Unusable::HasATime);
    assert_eq!(left_out(&["SUMMARY:Whenever"]), Unusable::NoDay);
    assert_eq!(left_out(&["DTSTART;VALUE=DATE:20010229"]), Unusable::NoDay);
    assert_eq!(left_out(&["DTSTART;VALUE=DATE:20000501", "DTEND;VALUE=DATE:20000401"]), Unusable::EndsBeforeItBegins);
    assert_eq!(left_out(&["DTSTART;VALUE=DATE:20000501", "DTEND;VALUE=DATE:20200401"]), Unusable::TooLong);
    assert_eq!(left_out(&["DTSTART;VALUE=DATE:20000501", "STATUS:CANCELLED"]), Unusable::Cancelled);
    assert_eq!(left_out(&["DTSTART;VALUE=DATE:20000501", "RRULE:FREQ=WEEKLY"]), Unusable::NotYearly);
    assert_eq!(
        left_out(&["DTSTART;VALUE=DATE:20000501", "RRULE:FREQ=YEARLY;BYWEEKNO=20"]),
        Unusable::RulePart("BYWEEKNO=20".to_owned())
    );
    assert_eq!(
        left_out(&["DTSTART;VALUE=DATE:20000501", "RRULE:FREQ=YEARLY;BYMONTH=13"]),
        Unusable::RulePart("BYMONTH=13".to_owned())
    );
    // the words go on after the event's name
    let found = holidays(&["SUMMARY:Delivery", "DTSTART:20000501T090000Z"]);
    assert_eq!((found.left_out[0].line, found.left_out[0].name.as_str()), (4, "Delivery"));
    assert_eq!(found.left_out[0].why.to_string(), "has a time of day; only whole days close the shop");
}

/// A whole day may be written several ways (3.6.1); many programs write the day itself as its end.
#[test]
fn one_day_may_be_written_in_several_ways() {
    for lines in [
        &["DTSTART;VALUE=DATE:20000501"][..],
        &["DTSTART:20000501"],
        &["DTSTART;VALUE=DATE:20000501", "DTEND;VALUE=DATE:20000502"],
        &["DTSTART;VALUE=DATE:20000501", "DTEND;VALUE=DATE:20000501"],
        &["DTSTART;VALUE=DATE:20000501", "DURATION:P1D"],
    ] {
        let found = holidays(lines).holidays;
        assert_eq!((found[0].first_day, found[0].last_day), (day(2000, 5, 1), day(2000, 5, 1)), "{lines:?}");
    }
    let week = holidays(&["DTSTART;VALUE=DATE:20000501", "DURATION:P1W"]).holidays;
    assert_eq!(week[0].last_day, day(2000, 5, 7));
}

#[test]
fn only_what_touches_the_days_asked_for_is_taken() {
    let asked = |from: Date, until: Date| {
        let file = file(&["DTSTART;VALUE=DATE:19501230", "DTEND;VALUE=DATE:19510103", "RRULE:FREQ=YEARLY"]);
        read(file.as_bytes(), from, until).expect("a calendar").holidays
    };
    let turns = asked(date!(2026 - 01 - 02), date!(2026 - 12 - 30));
    let first: Vec<Date> = turns.iter().map(|holiday| holiday.first_day).collect();
    assert_eq!(first, [day(2025, 12, 30), day(2026, 12, 30)]);
    assert!(asked(date!(2026 - 01 - 03), date!(2026 - 12 - 29)).is_empty());
    assert!(asked(date!(1940 - 01 - 01), date!(1950 - 12 - 29)).is_empty());
}

#[test]
fn a_damaged_file_is_refused_with_its_line() {
    let good = file(&["DTSTART;VALUE=DATE:20000501"]);
    for (text, expected) in [
        (String::new(), Refused::NoCalendar),
        ("Dear all, the holidays are: none.".to_owned(), Refused::NoContentLine(1)),
        ("DTSTART:20000501".to_owned(), Refused::NoCalendar),
        ("BEGIN:VCARD\nEND:VCARD".to_owned(), Refused::OutsideACalendar(1)),
        (good.replace("END:VEVENT\r\nEND:VCALENDAR\r\n", ""), Refused::Unfinished),
        (good.replace("END:VEVENT", "END:VTODO"), Refused::WrongEnd(6)),
        (good.replace("VERSION:2.0", "VERSION:1.0"), Refused::OlderVersion(2)),
        (format!("{good}SUMMARY:after"), Refused::OutsideACalendar(8)),
        (good.replace("DTSTART", "SUMMARY:raw\r\nline break\r\nDTSTART"), Refused::NoContentLine(6)),
        (good.replace("DTSTART", "SUMMARY:bell\u{7}\r\nDTSTART"), Refused::ControlCharacter(5)),
        (good.replace("DTSTART", "SUMMARY;=x:y\r\nDTSTART"), Refused::NoContentLine(5)),
        (good.replace("DTSTART", "SUMMARY;X=\"open:y\r\nDTSTART"), Refused::NoContentLine(5)),
        (good.replace("DTSTART", &format!("SUMMARY:{}\r\nDTSTART", "x".repeat(40_000))), Refused::TooLongLine(5)),
        (good.replace("DTSTART", &format!("SUMMARY:{}\r\nDTSTART", "x\r\n ".repeat(40_000))), Refused::TooLongLine(5)),
        (good.replace("DTSTART", &format!("{}DTSTART", "BEGIN:VALARM\r\n".repeat(20))), Refused::TooDeep(13)),
        ("x".repeat(2 << 20), Refused::TooLarge),
    ] {
        let found = refused(&text);
        assert_eq!(found, expected, "{}", text.chars().take(200).collect::<String>());
        assert!(found.to_string().ends_with('.'), "{found}");
    }
    let latin = read(b"BEGIN:VCALENDAR\nX-WR-CALNAME:F\xfcr\nEND:VCALENDAR", FROM, UNTIL);
    assert_eq!(latin, Err(Refused::NotUtf8(2)));
    let many = "BEGIN:VEVENT\nEND:VEVENT\n".repeat(2001);
    assert_eq!(refused(&format!("BEGIN:VCALENDAR\n{many}END:VCALENDAR")), Refused::TooManyEvents);
    let daily = "BEGIN:VEVENT\nDTSTART:19960101\nRRULE:FREQ=YEARLY;BYDAY=MO,TU,WE,TH,FR,SA,SU\nEND:VEVENT\n";
    assert_eq!(refused(&format!("BEGIN:VCALENDAR\n{daily}END:VCALENDAR")), Refused::TooManyHolidays);
    // a byte order mark in front is overlooked, and an empty calendar has no holidays
    let marked = format!("\u{feff}{good}");
    assert_eq!(read(marked.as_bytes(), FROM, UNTIL).map(|found| found.holidays.len()), Ok(1));
    assert_eq!(read(b"BEGIN:VCALENDAR\nEND:VCALENDAR\n", FROM, UNTIL), Ok(Holidays::default()));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(super::fuzz_cases(500)))]

    /// Whatever stands in a file, it is read or refused, and no holiday lies outside the days asked for.
    #[test]
    fn no_file_breaks_the_reader(
        mut octets in prop::collection::vec(any::<u8>(), 0..40), at in any::<prop::sample::Index>(),
        rule in "[A-Z=;,0-9+-]{0,40}",
    ) {
        let whole = file(&["DTSTART;VALUE=DATE:20000229", &format!("RRULE:FREQ=YEARLY;{rule}"), "SUMMARY:Weir Day"]);
        let mut text = whole.into_bytes();
        let place = at.index(text.len());
        text.splice(place..place, octets.drain(..));
        match read(&text, FROM, UNTIL) {
            Ok(found) => for holiday in found.holidays {
                prop_assert!(holiday.first_day <= UNTIL && holiday.last_day >= FROM && holiday.first_day <= holiday.last_day);
            },
            Err(refused) => prop_assert!(refused.to_string().ends_with('.')),
        }
    }
}
