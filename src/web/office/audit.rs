//! `/office/audit`: who did what when, through which door, before and after in words. It can be read and exported;
//! there is nothing on it that changes a deed.

mod said;

use askama::Template;
use axum::response::IntoResponse;
use time::{Date, Duration};

use crate::quantity::{Instant, parse_day, with_weekday};
use crate::records::audit::{self, Deed, Wanted};
use crate::records::{Door, StaffId, export, job, staff};
use crate::web::form::{Choice, FormData, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::{Error, Result};

use super::import::csv_headers;
use said::said;

/// Deeds of one page.
const MOST: i64 = 100;
/// Deeds of one list that is exported.
const MOST_EXPORTED: i64 = 50_000;
/// Days that are shown where nobody chose.
const USUAL_DAYS: i64 = 30;
/// Days that can be asked for at once.
const MOST_DAYS: i64 = 366;
/// Kinds of records that can be asked for, and how they are called.
const RECORDS: [(&str, &str); 10] = [
    ("job", "jobs"),
    ("customer", "customers"),
    ("instrument", "instruments"),
    ("service", "services and prices"),
    ("part", "parts"),
    ("staff", "staff"),
    ("settings", "settings"),
    ("string_set", "string sets"),
    ("import", "imports"),
    ("export", "exports"),
];

#[derive(Template)]
#[template(path = "office/audit.html")]
struct AuditPage {
    layout: Layout,
    form: FormData,
    people: Vec<Choice>,
    doors: &'static [Door],
    records: Vec<Choice>,
    rows: Vec<Row>,
    /// What was asked for, in words.
    asked: String,
    /// Where the page goes on.
    earlier: Option<String>,
}

struct Row {
    at: String,
    who: String,
    door: Door,
    deed: String,
    about: String,
    /// Where what it is about is found.
    href: Option<String>,
    /// What changed, line by line.
    said: Vec<String>,
}

/// What was typed into the filter, read.
struct Asked {
    first_day: Date,
    last_day: Date,
    staff: Option<StaffId>,
    door: Option<Door>,
    record: Option<String>,
    find: String,
    before: Option<(Instant, i64)>,
    /// "26-0017", found: the whole story of a job.
    job: Option<crate::records::JobId>,
}

impl Asked {
    async fn of(context: &RequestContext, form: &mut FormData) -> Result<Self> {
        let today = context.today();
        let day = |form: &mut FormData, name: &str| match form.value(name).trim() {
            "" => None,
            typed => match parse_day(typed) {
                Ok(day) => Some(day),
                Err(words) => {
                    form.add_error(name, words);
                    None
                }
            },
        };
        let last_day = day(form, "until").unwrap_or(today);
        let mut first_day = day(form, "from").unwrap_or(last_day - Duration::days(USUAL_DAYS));
        if first_day > last_day {
            form.add_error("from", "The first day lies after the last one.");
        }
        if (last_day - first_day).whole_days() > MOST_DAYS {
            form.add_error(
                "from",
                format!("At most {MOST_DAYS} days are shown at once: these begin with the last of them."),
            );
            first_day = last_day - Duration::days(MOST_DAYS);
        }
        let find = form.line("find", 80);
        let before = form.value("before").split_once('-');
        Ok(Self {
            first_day,
            last_day,
            staff: form.value("who").parse().ok(),
            door: form.value("door").parse().ok(),
            record: RECORDS.iter().find(|(key, _)| form.is("about", key)).map(|(key, _)| (*key).to_owned()),
            before: before.and_then(|(at, id)| Some((Instant(at.parse().ok()?), id.parse().ok()?))),
            job: job::by_number(context.app.db.read(), &find).await?,
            find,
        })
    }

    fn wanted(&self, context: &RequestContext, most: i64) -> Wanted<'_> {
        let start = |day| context.app.clock.start_of(day);
        Wanted {
            from: start(self.first_day),
            until: start(self.last_day.next_day().unwrap_or(self.last_day)),
            staff: self.staff,
            door: self.door,
            record: self.record.as_deref(),
            record_id: self.job.map(|job| job.0),
            words: (self.job.is_none() && !self.find.is_empty()).then_some(self.find.as_str()),
            before: self.before,
            most,
        }
    }
}

/// `GET /office/audit`
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let mut form = (*query).clone();
    let asked = Asked::of(&context, &mut form).await?;
    let mut deeds = audit::deeds(context.app.db.read(), &asked.wanted(&context, MOST + 1)).await?;
    let most = usize::try_from(MOST).unwrap_or(0);
    let is_more = deeds.len() > most;
    deeds.truncate(most);
    let earlier = deeds.last().filter(|_| is_more).map(|last| {
        let mut address = form_urlencoded::Serializer::new(String::new());
        for name in ["from", "until", "who", "door", "about", "find"] {
            address.append_pair(name, form.value(name));
        }
        address.append_pair("before", &format!("{}-{}", last.at.0, last.id));
        format!("/office/audit?{}", address.finish())
    });
    let people = staff::all(context.app.db.read()).await?;
    let days = format!("{} to {}", with_weekday(asked.first_day), with_weekday(asked.last_day));
    form.set("from", asked.first_day.to_string());
    form.set("until", asked.last_day.to_string());
    page(&AuditPage {
        layout: context.layout(),
        asked: match asked.job {
            Some(_) => format!("Everything about {}, whenever it was.", asked.find.trim()),
            None => format!("What was done from {days}."),
        },
        form,
        people: people.into_iter().map(|person| Choice::new(person.id, person.name)).collect(),
        doors: Door::ALL,
        records: RECORDS.iter().map(|(key, words)| Choice::new(key, *words)).collect(),
        rows: deeds.into_iter().map(|deed| row(deed, &context)).collect(),
        earlier,
    })
}

/// `POST /office/audit/export`: what the filter finds, as a file. That it left the house is itself a deed.
pub(in crate::web) async fn export(context: RequestContext, mut form: FormData) -> Result {
    let asked = Asked::of(&context, &mut form).await?;
    let deeds = audit::deeds(context.app.db.read(), &asked.wanted(&context, MOST_EXPORTED)).await?;
    let rows: Vec<[String; 6]> = deeds.into_iter().map(|deed| row(deed, &context)).map(cells).collect();
    let heading = ["When", "Who", "Door", "What", "About", "Before and after"];
    let lines =
        std::iter::once(heading.to_vec()).chain(rows.iter().map(|row| row.iter().map(String::as_str).collect()));
    let csv = export::csv_of_text(lines).map_err(Error::from)?;
    audit::exported(&context.app.db, &context.audit(Door::Office), rows.len()).await?;
    Ok((csv_headers(&format!("deeds-{}", context.today()))?, csv).into_response())
}

fn cells(row: Row) -> [String; 6] {
    [row.at, row.who, row.door.to_string(), row.deed, row.about, row.said.join("; ")]
}

fn row(deed: Deed, context: &RequestContext) -> Row {
    let said = said(&deed.deed, deed.before_json.as_deref(), deed.after_json.as_deref(), context);
    let href = deed.record_id.and_then(|id| match deed.record.as_str() {
        "job" => Some(format!("/desk/jobs/{id}")),
        "customer" => Some(format!("/desk/customers/{id}")),
        "instrument" => Some(format!("/desk/instruments/{id}")),
        "part" => Some(format!("/office/parts/{id}")),
        _ => None,
    });
    let about = deed.about.filter(|about| !about.is_empty());
    Row {
        at: context.moment(deed.at),
        who: deed
            .who
            .unwrap_or_else(|| if deed.door == Door::Customer { "the customer" } else { "the program" }.to_owned()),
        door: deed.door,
        href: href.filter(|_| about.is_some()),
        about: about.unwrap_or_else(|| deed.record.replace('_', " ")),
        deed: deed.deed,
        said,
    }
}
