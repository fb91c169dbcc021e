//! `/s/{token}/care.ics`: the next care of the instrument, for the customer's own calendar (RFC 5545).

use axum::http::header;
use axum::response::IntoResponse;
use time::Date;

use super::link::{Opened, opened};
use crate::quantity::Instant;
use crate::records::care::{self, CarePlan};
use crate::records::{instrument, job};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::RequestContext;

/// `GET /s/{token}/care.ics`
pub(in crate::web) async fn show(context: RequestContext, Id(token): Id<String>) -> Result {
    let id = match opened(&context, &token).await? {
        Opened::Job(id) => id,
        Opened::Ended(ended) => return Ok(*ended),
    };
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?.entry.title();
    let plan = care::of_instrument(reading, job.instrument_id).await?;
    let next: Vec<&CarePlan> = plan.iter().filter(|line| !line.paused).collect();
    let shop = &context.settings;
    let contact = [shop.shop_name.as_str(), &shop.telephone].join(", ");
    let file = calendar(&next, &instrument, &contact, context.now());
    let headers = [
        (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"care.ics\""),
    ];
    Ok((headers, file).into_response())
}

/// A calendar with one all-day event for each care.
fn calendar(plan: &[&CarePlan], instrument: &str, contact: &str, now: Instant) -> String {
    let mut lines =
        vec!["BEGIN:VCALENDAR".to_owned(), "VERSION:2.0".to_owned(), "PRODID:-//Thumbplane//care//EN".to_owned()];
    for line in plan {
        lines.extend([
            "BEGIN:VEVENT".to_owned(),
            format!("UID:{}@thumbplane.invalid", line.id),
            format!("DTSTAMP:{}", stamp(now)),
            format!("DTSTART;VALUE=DATE:{}", day(line.next_due_on)),
            format!("SUMMARY:{}", escaped(&format!("{instrument}: {}", line.kind))),
            format!("DESCRIPTION:{}", escaped(contact)),
            "TRANSP:TRANSPARENT".to_owned(),
            "END:VEVENT".to_owned(),
        ]);
    }
    lines.push("END:VCALENDAR".to_owned());
    lines.iter().map(|line| folded(line)).collect()
}

fn day(day: Date) -> String {
    format!("{:04}{:02}{:02}", day.year(), u8::from(day.month()), day.day())
}

/// A moment in UTC (RFC 5545, 3.3.5, form 2).
fn stamp(at: Instant) -> String {
    let at = at.utc().unwrap_or(time::OffsetDateTime::UNIX_EPOCH);
    format!("{}T{:02}{:02}{:02}Z", day(at.date()), at.hour(), at.minute(), at.second())
}

/// RFC 5545, 3.3.11.
fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace(';', "\\;").replace(',', "\\,").replace('\n', "\\n")
}

/// RFC 5545, 3.1: no line is longer than 75 octets; it goes on after a line break and a blank.
fn folded(line: &str) -> String {
    const MOST: usize = 75;
    let mut out = String::new();
    let mut length = 0;
    for letter in line.chars() {
        if length + letter.len_utf8() > MOST {
            out.push_str("\r\n ");
            length = 1;
        }
        out.push(letter);
        length += letter.len_utf8();
    }
    out + "\r\n"
}

#[cfg(test)]
mod tests {
    use super::{escaped, folded};

    #[test]
    fn long_lines_are_folded_between_letters_and_come_back_whole() {
        let line = format!("SUMMARY:{}é{}", "x".repeat(66), "y".repeat(90));
        let written = folded(&line);
        assert!(written.split("\r\n").all(|part| part.len() <= 75));
        assert_eq!(written.replace("\r\n ", "").trim_end(), line);
        assert_eq!(folded(&format!("SUMMARY:{}", "x".repeat(67))).len(), 77, "75 octets stay whole");
    }

    #[test]
    fn what_means_something_in_a_calendar_is_escaped() {
        assert_eq!(escaped("a; b, c\\d\ne"), "a\\; b\\, c\\\\d\\ne");
    }
}
