//! The queue in the words of its page.

use crate::drawing::Svg;
use crate::forecast::calendar::NoHours;
use crate::forecast::queue::{Place, WeekLoad};
use crate::forecast::simulation::QUESTIONED_MINUTES;
use crate::quantity::with_weekday;
use crate::records::JobId;
use crate::records::promise_forecast::{MinutesFrom, NewForecast};
use crate::records::queue_move::QueuePlace;
use crate::web::form::FormData;
use crate::web::outlook::{Entry, Outlook, hours, reason};
use crate::web::words::{Promise, StageView, StageViews, dial, instrument_title};

/// A promise is in danger when it is kept less often than this, thousandths. Our own choice.
const IN_DANGER: i64 = 700;

/// The days of the jobs as the queue stands.
pub(in crate::web::office) struct Forecasts(pub(in crate::web::office) Vec<NewForecast>);

impl Forecasts {
    /// Of one job.
    pub(in crate::web::office) fn of(&self, job: JobId) -> Option<&NewForecast> {
        self.0.iter().find(|forecast| forecast.job_id == job)
    }

    /// How likely a job is done by its promise, thousandths; `None` without a promise or a forecast.
    pub(in crate::web::office) fn chance(&self, entry: &Entry) -> Option<i64> {
        let promised = entry.row.promised_on?;
        let said = self.of(entry.row.id)?;
        let day = said.day.as_ref().ok()?;
        Some(share_by(&day.done_by, (promised - said.made_on).whole_days()))
    }

    /// Whether a promise is broken, likely to be, or nobody can say.
    pub(in crate::web::office) fn is_in_danger(&self, entry: &Entry, today: time::Date) -> bool {
        let is_late = entry.row.promised_on.is_some_and(|day| day < today);
        let has_no_day =
            entry.row.promised_on.and_then(|_| self.of(entry.row.id)).is_some_and(|said| said.day.is_err());
        is_late || has_no_day || self.chance(entry).is_some_and(|chance| chance < IN_DANGER)
    }
}

/// The share done by a day, thousandths.
fn share_by(done_by: &[(i64, i64)], day: i64) -> i64 {
    done_by.iter().take_while(|(ahead, _)| *ahead <= day).last().map_or(0, |(_, share)| *share)
}

/// Something that nobody has entered yet, and where it is.
pub(in crate::web::office) struct Missing {
    pub(in crate::web::office) words: String,
    pub(in crate::web::office) href: String,
    pub(in crate::web::office) link: &'static str,
}

/// A place of the queue.
pub(in crate::web::office) struct Row {
    pub(in crate::web::office) id: JobId,
    pub(in crate::web::office) place: usize,
    pub(in crate::web::office) href: String,
    pub(in crate::web::office) number: String,
    pub(in crate::web::office) stage: StageView,
    pub(in crate::web::office) instrument: String,
    pub(in crate::web::office) customer: String,
    pub(in crate::web::office) who: String,
    pub(in crate::web::office) reason: String,
    pub(in crate::web::office) is_moved: bool,
    pub(in crate::web::office) minutes: String,
    pub(in crate::web::office) promise: Promise,
    pub(in crate::web::office) is_in_danger: bool,
    /// The day it can be expected, as far as one can.
    pub(in crate::web::office) expected: String,
    /// "Thu 29 Oct 2026, 92 %".
    pub(in crate::web::office) likely: String,
    pub(in crate::web::office) form_key: String,
    /// The jobs in front of it and behind it.
    pub(in crate::web::office) before: Option<JobId>,
    pub(in crate::web::office) behind: Option<JobId>,
}

/// A promise that is broken or likely to be, with whom to tell.
pub(in crate::web::office) struct Danger {
    pub(in crate::web::office) id: JobId,
    pub(in crate::web::office) href: String,
    pub(in crate::web::office) number: String,
    pub(in crate::web::office) instrument: String,
    pub(in crate::web::office) customer: String,
    pub(in crate::web::office) telephone: String,
    pub(in crate::web::office) dial: Option<String>,
    pub(in crate::web::office) promise: Promise,
    pub(in crate::web::office) chance: String,
    /// The day that can be promised instead: as it is read, and as it is sent.
    pub(in crate::web::office) instead: Option<(String, String)>,
    /// Why there is none.
    pub(in crate::web::office) why_not: String,
    pub(in crate::web::office) version: i64,
    pub(in crate::web::office) form_key: String,
    /// To be telephoned first: their broken promises spare most others.
    pub(in crate::web::office) is_first: bool,
}

/// A job that stands still.
pub(in crate::web::office) struct Still {
    pub(in crate::web::office) href: String,
    pub(in crate::web::office) number: String,
    pub(in crate::web::office) instrument: String,
    pub(in crate::web::office) what: String,
    /// Who can help.
    pub(in crate::web::office) who: String,
    /// "8 days"; empty where another job is waited for.
    pub(in crate::web::office) since: String,
}

/// One week of the load.
pub(in crate::web::office) struct Week {
    pub(in crate::web::office) monday: String,
    pub(in crate::web::office) benches: Vec<Bench>,
}

/// The hours of a bench in one week, or of the house.
pub(in crate::web::office) struct Bench {
    pub(in crate::web::office) promised: String,
    pub(in crate::web::office) capacity: String,
    /// What is missing of all that was promised until then; empty where nothing is.
    pub(in crate::web::office) short: String,
}

/// Says the jobs of a queue; the strips of their stages are drawn once.
pub(in crate::web::office) struct View<'a> {
    outlook: &'a Outlook,
    forecasts: &'a Forecasts,
    stages: StageViews,
}

impl<'a> View<'a> {
    pub(in crate::web::office) fn new(outlook: &'a Outlook, forecasts: &'a Forecasts) -> Self {
        Self { outlook, forecasts, stages: StageViews::default() }
    }

    pub(in crate::web::office) fn strips(&self) -> Svg {
        self.stages.drawn()
    }

    /// The job at a place of the queue, from 0.
    pub(in crate::web::office) fn row(&mut self, at: usize, place: &Place) -> Option<Row> {
        let entry = self.outlook.entry(place.job)?;
        let neighbour = |at: usize| {
            let place = self.outlook.queue.places.get(at)?;
            self.outlook.entry(place.job).map(|entry| entry.row.id)
        };
        let row = &entry.row;
        let forecast = self.forecasts.of(row.id);
        Some(Row {
            id: row.id,
            place: at + 1,
            href: format!("/office/queue/{}", row.id),
            number: row.number.clone(),
            stage: self.stages.of(row.stage, row.waiting_for),
            instrument: title(entry),
            customer: row.customer.clone(),
            who: row.staff.clone().unwrap_or_else(|| "nobody yet".to_owned()),
            reason: reason(self.outlook, place),
            is_moved: self.outlook.move_of(row.id).is_some(),
            minutes: entry.minutes().map_or_else(|| "not said".to_owned(), hours),
            promise: Promise::as_of(row.stage, row.promised_on, self.outlook.today),
            is_in_danger: self.forecasts.is_in_danger(entry, self.outlook.today),
            expected: place.done_on.map(with_weekday).unwrap_or_default(),
            likely: forecast.map(likely).unwrap_or_default(),
            form_key: FormData::new().key().to_owned(),
            before: at.checked_sub(1).and_then(neighbour),
            behind: neighbour(at + 1),
        })
    }

    /// The promises that are broken or likely to be, the worst first.
    pub(in crate::web::office) fn danger(&self) -> Vec<Danger> {
        let is_in_danger = |entry: &&Entry| self.forecasts.is_in_danger(entry, self.outlook.today);
        let mut entries: Vec<(usize, &Entry)> =
            self.outlook.entries.iter().enumerate().filter(|(_, entry)| is_in_danger(entry)).collect();
        let first = |job: usize| self.outlook.queue.telephone_first.iter().position(|first| *first == job);
        entries.sort_by_key(|(job, entry)| (first(*job).unwrap_or(usize::MAX), entry.row.promised_on));
        entries.into_iter().map(|(job, entry)| self.in_danger(entry, first(job).is_some())).collect()
    }

    fn in_danger(&self, entry: &Entry, is_first: bool) -> Danger {
        let row = &entry.row;
        let day = self.forecasts.of(row.id).map(|said| &said.day);
        let instead = day.and_then(|day| day.as_ref().ok()).map(|day| day.day.max(self.outlook.today));
        Danger {
            id: row.id,
            href: format!("/office/queue/{}", row.id),
            number: row.number.clone(),
            instrument: title(entry),
            customer: row.customer.clone(),
            telephone: row.telephone.clone(),
            dial: dial(row.telephone_e164.as_deref()),
            promise: Promise::as_of(row.stage, row.promised_on, self.outlook.today),
            chance: self.forecasts.chance(entry).map_or_else(|| "no day can be said".to_owned(), of_a_hundred),
            instead: instead
                .filter(|day| row.promised_on.is_none_or(|promised| *day > promised))
                .map(|day| (with_weekday(day), day.to_string())),
            why_not: match day {
                Some(Err(why)) => format!("No day can be said: {why}."),
                Some(Ok(_)) | None => String::new(),
            },
            version: row.version,
            form_key: FormData::new().key().to_owned(),
            is_first,
        }
    }

    /// The jobs that stand still, the longest first.
    pub(in crate::web::office) fn still(&self) -> Vec<Still> {
        let mut found: Vec<(Option<time::Date>, Still)> =
            self.outlook.entries.iter().filter_map(|entry| Some((entry.waits_since(), self.stands(entry)?))).collect();
        found.sort_by_key(|(since, _)| *since);
        found.into_iter().map(|(_, still)| still).collect()
    }

    fn stands(&self, entry: &Entry) -> Option<Still> {
        use crate::records::stage::WaitingFor;
        let row = &entry.row;
        let (what, who) = match (row.waiting_for, entry.waits_since(), entry.after()) {
            (Some(waiting), ..) => {
                let who = match waiting {
                    WaitingFor::Part => "whoever sends the part".to_owned(),
                    WaitingFor::Customer => row.customer.clone(),
                    WaitingFor::Wood => "the air of the shop".to_owned(),
                };
                (format!("{waiting}: {}", row.waiting_reason.as_deref().unwrap_or_default()), who)
            }
            (None, Some(_), _) => ("an answer to the quote".to_owned(), row.customer.clone()),
            (None, None, Some(before)) => {
                let before = self.outlook.entry(before)?;
                let who = before.row.staff.clone().unwrap_or_else(|| "nobody yet".to_owned());
                (format!("{} to be done", before.row.number), who)
            }
            (None, None, None) => return None,
        };
        let since = entry.waits_since().map(|since| {
            let days = (self.outlook.today - since).whole_days();
            if days == 1 { "1 day".to_owned() } else { format!("{days} days") }
        });
        Some(Still {
            href: format!("/office/queue/{}", row.id),
            number: row.number.clone(),
            instrument: title(entry),
            what,
            who,
            since: since.unwrap_or_default(),
        })
    }
}

fn title(entry: &Entry) -> String {
    instrument_title(entry.row.family, &entry.row.maker, &entry.row.model)
}

/// "92 %".
pub(in crate::web::office) fn per_cent(thousandths: i64) -> String {
    format!("{} %", (thousandths + 5) / 10)
}

fn of_a_hundred(thousandths: i64) -> String {
    format!("kept in {} of 100", (thousandths + 5) / 10)
}

/// "Thu 29 Oct 2026, 92 %", or why there is no day.
pub(in crate::web::office) fn likely(said: &NewForecast) -> String {
    match &said.day {
        Ok(day) => format!("{}, {}", with_weekday(day.day), per_cent(day.share)),
        Err(why) => format!("no day: {why}"),
    }
}

/// Where a place given by hand is, for sentences: "before 26-0003".
pub(in crate::web::office) fn place_words(place: Option<QueuePlace>, beside: Option<&str>) -> String {
    match (place, beside) {
        (None, _) => "Back to where the rule puts it".to_owned(),
        (Some(QueuePlace::First), _) | (Some(_), None) => "To the front".to_owned(),
        (Some(QueuePlace::Before), Some(beside)) => format!("Before {beside}"),
        (Some(QueuePlace::Behind), Some(beside)) => format!("Behind {beside}"),
        (Some(QueuePlace::After), Some(beside)) => format!("Not begun before {beside} is done"),
    }
}

/// What is missing, each with where it is entered.
pub(in crate::web::office) fn missing(outlook: &Outlook) -> Vec<Missing> {
    let calendar = |words: String| Missing { words, href: "/office/calendar".to_owned(), link: "Bench calendar" };
    let job = |entry: &Entry, words: String| Missing {
        words,
        href: format!("/desk/jobs/{}", entry.row.id),
        link: "Open the job",
    };
    let mut missing = Vec::new();
    match outlook.queue.no_hours {
        Some(NoHours::NoPeople) => missing.push(calendar("Nobody works at the bench: no day can be said.".to_owned())),
        Some(NoHours::EmptyWeeks) => {
            missing.push(calendar("Nobody has hours on any weekday: no day can be said.".to_owned()));
        }
        Some(NoHours::NobodyFrom(day)) => {
            let words = format!("From {} on nobody works: no day can be said.", with_weekday(day));
            missing.push(calendar(words));
        }
        None => {}
    }
    let without = outlook.calendar.people.iter().filter(|person| person.is_active && person.hours.is_none());
    missing.extend(without.map(|person| {
        calendar(format!("{} has no hours in the calendar: the others are counted without them.", person.name))
    }));
    for entry in &outlook.entries {
        let number = &entry.row.number;
        if entry.is_whose_away {
            let who = entry.row.staff.as_deref().unwrap_or("Whoever does it");
            missing.push(job(entry, format!("{number} is with {who}, who has no hours: give it to somebody else.")));
        }
        if entry.minutes_from == MinutesFrom::Nothing {
            missing.push(job(entry, format!("Of {number} nobody has said what is to be done: it has no day.")));
        }
        if entry.minutes().is_some_and(|minutes| minutes > QUESTIONED_MINUTES) {
            let minutes = hours(entry.minutes().unwrap_or_default());
            missing.push(job(
                entry,
                format!("{number} still takes {minutes}. Is that meant? What stands behind it waits as long."),
            ));
        }
    }
    let guessed = |from: MinutesFrom| {
        let of = outlook.entries.iter().filter(move |entry| entry.minutes_from == from);
        of.map(|entry| entry.row.number.as_str()).collect::<Vec<_>>()
    };
    for from in [MinutesFrom::Family, MinutesFrom::PriceList] {
        let numbers = guessed(from);
        if !numbers.is_empty() {
            missing.push(Missing {
                words: format!("Nobody has said yet what is to be done on {}: counted by {from}.", numbers.join(", ")),
                href: "/bench".to_owned(),
                link: "Measure and propose",
            });
        }
    }
    missing
}

/// The load, a row a week. The house comes first, then each of the people.
pub(in crate::web::office) fn weeks(load: &[WeekLoad], people: usize) -> Vec<Week> {
    let in_week = load.len() / (people + 1).max(1);
    let week = |number: usize| {
        let benches = load.iter().skip(number).step_by(in_week.max(1));
        Some(Week {
            monday: with_weekday(load.get(number)?.monday),
            benches: benches
                .map(|load| Bench {
                    promised: hours(load.promised_minutes),
                    capacity: hours(load.capacity_minutes),
                    short: if load.short_minutes > 0.5 { hours(load.short_minutes) } else { String::new() },
                })
                .collect(),
        })
    };
    (0..in_week).map_while(week).collect()
}

/// How much of the calendar's minutes counts.
pub(in crate::web::office) fn worked(outlook: &Outlook) -> String {
    match outlook.weeks_worked {
        0 => "Of the calendar’s hours 85 of 100 count as worked on jobs: too little was clocked to know it better."
            .to_owned(),
        weeks => format!("The calendar’s hours count as far as they were clocked in {weeks} of the past weeks."),
    }
}
