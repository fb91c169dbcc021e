//! `/office/calendar`: who is at the bench when: hours by weekday, closed days, absences, the week as it comes out; and
//! holidays out of a calendar file.

use askama::Template;
use axum::extract::Multipart;
use axum::extract::multipart::MultipartRejection;
use time::{Date, Duration};

use crate::forecast::calendar::holidays::read;
use crate::forecast::calendar::{Because, BenchCalendar, DayMinutes};
use crate::quantity::{parse_day, with_weekday};
use crate::records::bench_calendar::{self, Calendar, ClosedWhy, Hours, NewClosedDays, Person};
use crate::records::{AbsenceId, ClosedDaysId, Door, StaffId};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Id, LINE, Query};
use crate::web::outlook::{calendar_of, hours};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::upload::Upload;

/// A file of holidays, at most; what it may hold is `forecast`'s.
pub(in crate::web) const LARGEST_FILE: usize = 1024 * 1024;
/// Years ahead for which a file's holidays are taken.
const YEARS: i64 = 3;
/// Hours of the weekdays, in their order.
const WEEKDAYS: [(&str, &str); 7] = [
    ("monday", "Monday"),
    ("tuesday", "Tuesday"),
    ("wednesday", "Wednesday"),
    ("thursday", "Thursday"),
    ("friday", "Friday"),
    ("saturday", "Saturday"),
    ("sunday", "Sunday"),
];
const FILE: Upload = Upload {
    field: "file",
    most_files: 1,
    too_many: "One calendar file at a time.",
    largest_file: LARGEST_FILE,
    broken: "The file did not arrive whole. Bring it again.",
};

#[derive(Template)]
#[template(path = "office/calendar.html")]
struct CalendarPage {
    layout: Layout,
    form: FormData,
    absence: FormData,
    week: WeekView,
    people: Vec<PersonView>,
    choices: Vec<Choice>,
    closed: Vec<Stretch<ClosedDaysId>>,
    absences: Vec<Stretch<AbsenceId>>,
}

#[derive(Template)]
#[template(path = "office/calendar_holidays.html")]
struct HolidaysPage {
    layout: Layout,
    form: FormData,
    name: String,
    until: String,
    /// What is sent for each, and how it is read.
    found: Vec<(String, String)>,
    known: usize,
    left_out: Vec<String>,
    why_not: Option<String>,
}

struct WeekView {
    title: String,
    /// The week before and the one behind, as they stand in the address.
    before: String,
    behind: String,
    days: Vec<String>,
    rows: Vec<WeekRow>,
    /// Of all, by day, and altogether.
    sums: Vec<String>,
    total: String,
    words: String,
}

struct WeekRow {
    name: String,
    cells: Vec<Cell>,
    total: String,
}

struct Cell {
    hours: String,
    because: String,
    is_none: bool,
}

struct PersonView {
    id: StaffId,
    name: String,
    is_active: bool,
    has_hours: bool,
    week: String,
    form: FormData,
}

/// Days that are not as usual.
struct Stretch<K> {
    id: K,
    words: String,
    name: String,
}

impl CalendarPage {
    fn weekdays(&self) -> &'static [(&'static str, &'static str)] {
        &WEEKDAYS
    }
    fn whys(&self) -> &'static [ClosedWhy] {
        &[ClosedWhy::Closure, ClosedWhy::Holiday]
    }
}

/// What is shown again of a form that was refused.
#[derive(Default)]
struct Refused {
    closed: Option<FormData>,
    absence: Option<FormData>,
    hours: Option<(StaffId, FormData)>,
}

fn monday_of(day: Date) -> Date {
    day - Duration::days(i64::from(day.weekday().number_days_from_monday()))
}

async fn calendar_page(context: &RequestContext, asked: Option<Date>, refused: Refused) -> Result<CalendarPage> {
    let today = context.today();
    let monday = monday_of(asked.unwrap_or(today));
    let mut connection = context.app.db.read().acquire().await.map_err(crate::records::Error::from)?;
    let calendar = bench_calendar::calendar(&mut connection, today, monday.min(today)).await?;
    drop(connection);
    let bench = calendar_of(&calendar, today);
    let absences = calendar.absences.iter().filter(|absence| absence.last_day >= today).map(|absence| Stretch {
        id: absence.id,
        name: absence.name.clone(),
        words: match absence.minutes_left {
            0 => days_words(absence.first_day, absence.last_day),
            left => {
                format!("{}, {} left of a day", days_words(absence.first_day, absence.last_day), hours(f64::from(left)))
            }
        },
    });
    let closed = calendar.closed.iter().filter(|closed| closed.last_day >= today).map(|closed| Stretch {
        id: closed.id,
        name: format!("{} ({})", closed.name, closed.why),
        words: days_words(closed.first_day, closed.last_day),
    });
    let people = calendar.people.iter().map(|person| {
        let refused = refused.hours.as_ref().filter(|(id, _)| *id == person.staff_id).map(|(_, form)| form.clone());
        PersonView {
            id: person.staff_id,
            name: person.name.clone(),
            is_active: person.is_active,
            has_hours: person.hours.is_some(),
            week: person.hours.as_ref().map(week_words).unwrap_or_default(),
            form: refused.unwrap_or_else(|| form_of(person)).of_row(person.staff_id),
        }
    });
    Ok(CalendarPage {
        layout: context.layout(),
        form: refused.closed.unwrap_or_else(|| FormData::new().with("why", ClosedWhy::Closure.key())),
        absence: refused.absence.unwrap_or_default(),
        week: week_view(&calendar, &bench, monday),
        people: people.collect(),
        choices: calendar.people.iter().map(|person| Choice::new(person.staff_id, person.name.clone())).collect(),
        closed: closed.collect(),
        absences: absences.collect(),
    })
}

fn form_of(person: &Person) -> FormData {
    let mut form = FormData::default().with("read", person.hours_id.map(|id| id.to_string()).unwrap_or_default());
    if let Some(set) = &person.hours {
        for ((field, _), minutes) in WEEKDAYS.iter().zip(set.week_minutes) {
            form.set(field, typed_hours(minutes));
        }
        form.set("first_day", set.first_day.map(|day| day.to_string()).unwrap_or_default());
        form.set("last_day", set.last_day.map(|day| day.to_string()).unwrap_or_default());
    }
    form
}

/// "5:30", as it is typed.
fn typed_hours(minutes: u32) -> String {
    if minutes == 0 { String::new() } else { format!("{}:{:02}", minutes / 60, minutes % 60) }
}

/// Hours as people type them: "5:30", "5.5", "5,5", "6"; nothing is none.
pub(super) fn read_hours(typed: &str) -> std::result::Result<u32, String> {
    const WORDS: &str = "Type hours such as 6, 5:30 or 5.5; leave the field empty where nobody works.";
    let typed = typed.trim().trim_end_matches('h').trim();
    if typed.is_empty() {
        return Ok(0);
    }
    let minutes = match typed.split_once(':') {
        Some((hours, minutes)) => {
            let (hours, minutes) = (hours.trim().parse::<u32>(), minutes.trim().parse::<u32>());
            hours
                .ok()
                .zip(minutes.ok().filter(|minutes| *minutes < 60))
                .map(|(hours, minutes)| hours.min(1000) * 60 + minutes)
        }
        None => {
            let hours = typed.replace(',', ".").parse::<f64>().ok().filter(|hours| (0.0..=1000.0).contains(hours));
            hours.map(whole_minutes)
        }
    };
    match minutes {
        Some(minutes) if minutes <= 24 * 60 => Ok(minutes),
        Some(_) => Err("A day has 24 hours: type at most that.".to_owned()),
        None => Err(WORDS.to_owned()),
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most a thousand hours, not negative")]
fn whole_minutes(hours: f64) -> u32 {
    (hours * 60.0).round() as u32
}

fn week_words(set: &Hours) -> String {
    let minutes: u32 = set.week_minutes.iter().sum();
    let span = match (set.first_day, set.last_day) {
        (None, None) => String::new(),
        (Some(first), None) => format!(", from {}", with_weekday(first)),
        (None, Some(last)) => format!(", until {}", with_weekday(last)),
        (Some(first), Some(last)) => format!(", from {} until {}", with_weekday(first), with_weekday(last)),
    };
    format!("{} a week{span}", hours(f64::from(minutes)))
}

fn days_words(first: Date, last: Date) -> String {
    if first == last { with_weekday(first) } else { format!("{} to {}", with_weekday(first), with_weekday(last)) }
}

fn week_view(calendar: &Calendar, bench: &BenchCalendar, monday: Date) -> WeekView {
    let minutes = bench.week(monday);
    let rows = calendar.people.iter().zip(&minutes).map(|(person, days)| WeekRow {
        name: person.name.clone(),
        cells: days.iter().map(cell).collect(),
        total: hours(sum(days.iter())),
    });
    let day = |ahead: usize| minutes.iter().filter_map(move |days| days.get(ahead));
    let total = sum(minutes.iter().flatten());
    WeekView {
        title: format!("{} to {}", with_weekday(monday), with_weekday(monday + Duration::days(6))),
        before: (monday - Duration::days(7)).to_string(),
        behind: (monday + Duration::days(7)).to_string(),
        days: (0..7).map(|ahead| with_weekday(monday + Duration::days(ahead))).collect(),
        rows: rows.collect(),
        sums: (0..7).map(|ahead| hours(sum(day(ahead)))).collect(),
        total: hours(total),
        words: if total > 0.0 { String::new() } else { "Nobody works in this week.".to_owned() },
    }
}

fn sum<'a>(days: impl Iterator<Item = &'a DayMinutes>) -> f64 {
    days.map(|day| f64::from(day.minutes)).sum()
}

fn cell(day: &DayMinutes) -> Cell {
    let because = match &day.because {
        None => String::new(),
        Some(Because::Closed(_, name)) => name.clone(),
        Some(Because::Absent) if day.minutes > 0 => "partly away".to_owned(),
        Some(Because::Absent) => "away".to_owned(),
        Some(Because::NotEmployed) => "not here".to_owned(),
    };
    let is_none = day.minutes == 0;
    Cell { hours: if is_none { "–".to_owned() } else { hours(f64::from(day.minutes)) }, because, is_none }
}

/// `GET /office/calendar`; `week` is a day of the week that is shown.
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    page(&calendar_page(&context, parse_day(query.value("week")).ok(), Refused::default()).await?)
}

async fn again(context: &RequestContext, form: FormData, refused: impl FnOnce(FormData) -> Refused) -> Result {
    let status = form.status();
    page_with(status, &calendar_page(context, None, refused(form)).await?)
}

/// `POST /office/calendar/hours/{id}`: a person's hours from today on.
pub(in crate::web) async fn set_hours(context: RequestContext, Id(id): Id<StaffId>, mut form: FormData) -> Result {
    let mut week_minutes = [0; 7];
    for ((field, _), minutes) in WEEKDAYS.iter().zip(&mut week_minutes) {
        match read_hours(form.value(field)) {
            Ok(read) => *minutes = read,
            Err(words) => form.add_error(field, words),
        }
    }
    let (first_day, last_day) = (form.day("first_day"), form.day("last_day"));
    if form.has_errors() {
        return again(&context, form, |form| Refused { hours: Some((id, form)), ..Refused::default() }).await;
    }
    let read = form.value("read").parse().ok();
    let mut tx = context.app.db.write().await?;
    let set = Hours { week_minutes, first_day, last_day };
    let done = bench_calendar::set_hours(&mut tx, &context.audit(Door::Office), context.today(), id, read, &set).await;
    if form.accept("last_day", done)?.is_none() {
        drop(tx);
        if form.is_outdated() {
            let present = bench_calendar::people(context.app.db.read(), context.today()).await?;
            let present = present.into_iter().find(|person| person.staff_id == id);
            let stands = present.as_ref().and_then(|person| person.hours.as_ref()).map(week_words).unwrap_or_default();
            form.add_error("last_day", format!("Now: {stands}."));
            let read = present.and_then(|person| person.hours_id).map(|id| id.to_string());
            form.set("read", read.unwrap_or_default());
        }
        return again(&context, form, |form| Refused { hours: Some((id, form)), ..Refused::default() }).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/calendar", "The hours hold from today on, and the queue counts by them.")
}

/// `POST /office/calendar/closed`: days on which nobody works.
pub(in crate::web) async fn close(context: RequestContext, mut form: FormData) -> Result {
    let first = form.day("first_day");
    let first = form.require("first_day", first, "Choose the first day.");
    let last = form.day("last_day").or(first);
    let why = form.choice::<ClosedWhy>("why", "why the shop is closed");
    let name = form.required_line("name", "what the day is called, such as “stocktaking”", LINE);
    let (Some(first_day), Some(last_day), Some(why), false) = (first, last, why, form.has_errors()) else {
        return again(&context, form, |form| Refused { closed: Some(form), ..Refused::default() }).await;
    };
    let mut tx = context.app.db.write().await?;
    let days = [NewClosedDays { first_day, last_day, why, name, is_imported: false }];
    let done = bench_calendar::close(&mut tx, &context.audit(Door::Office), &days).await;
    if form.accept("last_day", done)?.is_none() {
        drop(tx);
        return again(&context, form, |form| Refused { closed: Some(form), ..Refused::default() }).await;
    }
    tx.commit().await?;
    let words = format!("Closed: {}.", days_words(first_day, last_day));
    redirect_with_flash(&context, "/office/calendar", &words)
}

/// `POST /office/calendar/closed/{id}/take-back`
pub(in crate::web) async fn open_again(context: RequestContext, Id(id): Id<ClosedDaysId>, _: FormData) -> Result {
    let mut tx = context.app.db.write().await?;
    bench_calendar::open_again(&mut tx, &context.audit(Door::Office), id).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/office/calendar", "These days are days like others again.")
}

/// `POST /office/calendar/absences`: days on which one person does not work, or less.
pub(in crate::web) async fn be_absent(context: RequestContext, mut form: FormData) -> Result {
    let staff = form.required_id::<StaffId>("person", "Choose who is away.");
    let first = form.day("away_from");
    let first = form.require("away_from", first, "Choose the first day.");
    let last = form.day("away_until").or(first);
    let left = match read_hours(form.value("hours_left")) {
        Ok(left) => left,
        Err(words) => {
            form.add_error("hours_left", words);
            0
        }
    };
    let (Some(staff), Some(first), Some(last), false) = (staff, first, last, form.has_errors()) else {
        return again(&context, form, |form| Refused { absence: Some(form), ..Refused::default() }).await;
    };
    let mut tx = context.app.db.write().await?;
    let done = bench_calendar::be_absent(&mut tx, &context.audit(Door::Office), staff, (first, last), left).await;
    if form.accept("away_until", done)?.is_none() {
        drop(tx);
        return again(&context, form, |form| Refused { absence: Some(form), ..Refused::default() }).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/calendar", &format!("Written down: away {}.", days_words(first, last)))
}

/// `POST /office/calendar/absences/{id}/take-back`
pub(in crate::web) async fn be_back(context: RequestContext, Id(id): Id<AbsenceId>, _: FormData) -> Result {
    let mut tx = context.app.db.write().await?;
    bench_calendar::be_back(&mut tx, &context.audit(Door::Office), id).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/office/calendar", "The absence is taken back.")
}

/// `POST /office/calendar/holidays`: looks into a calendar file; nothing is taken yet.
pub(in crate::web) async fn look(
    context: RequestContext,
    parts: std::result::Result<Multipart, MultipartRejection>,
) -> Result {
    let (form, files) = FILE.receive(parts).await?;
    let today = context.today();
    let until = today + Duration::days(YEARS * 365);
    let mut looked = HolidaysPage {
        layout: context.layout(),
        form,
        name: String::new(),
        until: with_weekday(until),
        found: Vec::new(),
        known: 0,
        left_out: Vec::new(),
        why_not: None,
    };
    let Some(file) = files.into_iter().next() else {
        looked.form.add_error("file", "Choose a calendar file: its name ends in .ics.");
        looked.why_not = Some("No file came.".to_owned());
        return page_with(looked.form.status(), &looked);
    };
    looked.name = file.name;
    match read(&file.bytes, today, until) {
        Err(why) => {
            looked.form.add_error("file", why.to_string());
            looked.why_not = Some(why.to_string());
        }
        Ok(found) => {
            let closed = bench_calendar::closed_days(context.app.db.read(), today).await?;
            let is_known = |first: Date, last: Date, name: &str| {
                closed.iter().any(|day| {
                    day.first_day == first && day.last_day == last && day.name == name && day.why == ClosedWhy::Holiday
                })
            };
            for holiday in found.holidays {
                let name = if holiday.name.is_empty() { "Holiday".to_owned() } else { holiday.name };
                if is_known(holiday.first_day, holiday.last_day, &name) {
                    looked.known += 1;
                    continue;
                }
                let words = format!("{}: {name}", days_words(holiday.first_day, holiday.last_day));
                looked.found.push((format!("{}|{}|{name}", holiday.first_day, holiday.last_day), words));
            }
            looked.left_out = found
                .left_out
                .into_iter()
                .map(|event| format!("Line {}: “{}” {}.", event.line, event.name, event.why))
                .collect();
        }
    }
    page_with(looked.form.status(), &looked)
}

/// `POST /office/calendar/holidays/take`: closes the shop on the days that are ticked.
pub(in crate::web) async fn take(context: RequestContext, form: FormData) -> Result {
    let days = form.values("day").filter_map(|value| {
        let mut parts = value.splitn(3, '|');
        let (first, last, name) = (parts.next()?, parts.next()?, parts.next()?);
        Some(NewClosedDays {
            first_day: parse_day(first).ok()?,
            last_day: parse_day(last).ok()?,
            why: ClosedWhy::Holiday,
            name: name.to_owned(),
            is_imported: true,
        })
    });
    let days: Vec<NewClosedDays> = days.collect();
    let mut tx = context.app.db.write().await?;
    let new = bench_calendar::close(&mut tx, &context.audit(Door::Office), &days).await?;
    tx.commit().await?;
    let words = match new {
        0 => "No holiday was taken: none was ticked that is not there already.".to_owned(),
        1 => "One holiday is taken.".to_owned(),
        _ => format!("{new} holidays are taken."),
    };
    redirect_with_flash(&context, "/office/calendar", &words)
}

#[cfg(test)]
mod tests {
    use super::{read_hours, typed_hours};

    #[test]
    fn hours_are_read_as_people_type_them() {
        for (typed, minutes) in
            [("", 0), ("6", 360), ("5:30", 330), ("5.5", 330), ("5,5 h", 330), (" 0:45 ", 45), ("24", 1440)]
        {
            assert_eq!(read_hours(typed), Ok(minutes), "{typed}");
            assert_eq!(read_hours(&typed_hours(minutes)), Ok(minutes), "{typed}");
        }
        for typed in ["five", "-1", "5:75", "5:", "1e9", "NaN", "24:01"] {
            assert!(read_hours(typed).is_err(), "{typed}");
        }
    }
}
