//! `/office/queue/{id}`: one job's day with its spread and what it rests on, its place, and what was done with both.

use askama::Template;
use time::Duration;

use super::view::{per_cent, place_words};
use crate::drawing::Svg;
use crate::drawing::day_shares::{self, DayBar, day_shares};
use crate::quantity::with_weekday;
use crate::records::promise_forecast::{self, Forecast, ForecastDay, ForecastWhy};
use crate::records::queue_move::{self, Place, QueuePlace};
use crate::records::{Door, JobId, job, promise};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Id, LINE};
use crate::web::outlook::{self, hours, reason};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::{Promise, instrument_title};

/// Forecasts that are listed.
const MOST: i64 = 30;

/// A promise further away than this is asked about. Our own choice.
const FAR_DAYS: i64 = 366;

#[derive(Template)]
#[template(path = "office/queue_job.html")]
struct QueueJobPage {
    layout: Layout,
    form: FormData,
    id: JobId,
    number: String,
    title: String,
    promise: Promise,
    version: i64,
    /// Its place and why; empty once it is ready.
    place: String,
    reason: String,
    is_moved: bool,
    others: Vec<Choice>,
    newest: Option<Newest>,
    forecasts: Vec<Past>,
    moves: Vec<PastPlace>,
}

/// The newest forecast.
struct Newest {
    made: String,
    /// The day, how sure, and the day of half; `None` says why there is none.
    day: Option<(String, String, String)>,
    why_not: String,
    chart: Svg,
    table: Vec<(String, String)>,
    rests_on: Vec<String>,
}

/// An earlier forecast.
struct Past {
    made: String,
    why: &'static str,
    day: String,
    told: String,
}

/// An earlier place.
struct PastPlace {
    at: String,
    who: String,
    what: String,
    reason: String,
}

impl QueueJobPage {
    fn places(&self) -> &'static [Choice] {
        static PLACES: std::sync::LazyLock<Vec<Choice>> = std::sync::LazyLock::new(|| {
            vec![
                Choice::new("first", "to the front"),
                Choice::new("before", "before"),
                Choice::new("behind", "behind"),
                Choice::new("after", "not begun before it is done:"),
            ]
        });
        &PLACES
    }
}

async fn queue_job_page(context: &RequestContext, id: JobId, form: FormData) -> Result<QueueJobPage> {
    let read = context.app.db.read();
    let job = job::find(read, id).await?;
    let outlook = outlook::read(&context.app, &context.settings).await?;
    let forecasts = promise_forecast::of_job(read, id, MOST).await?;
    let history = queue_move::history(read, id).await?;
    let at =
        outlook.queue.places.iter().position(|place| outlook.entry(place.job).is_some_and(|entry| entry.row.id == id));
    let here = at.and_then(|at| outlook.queue.places.get(at));
    let entry = here.and_then(|place| outlook.entry(place.job));
    let others = outlook.queue.places.iter().filter_map(|place| outlook.entry(place.job));
    let others = others.filter(|other| other.row.id != id).map(|other| {
        let name = instrument_title(other.row.family, &other.row.maker, &other.row.model);
        Choice::new(other.row.id, format!("{} {name}", other.row.number))
    });
    Ok(QueueJobPage {
        layout: context.layout(),
        id,
        title: entry
            .map(|entry| instrument_title(entry.row.family, &entry.row.maker, &entry.row.model))
            .unwrap_or_else(|| job.stage.spoken().to_owned()),
        promise: Promise::as_of(job.stage, job.promised_on, outlook.today),
        version: job.version,
        place: at.map(|at| format!("Place {} of {}", at + 1, outlook.entries.len())).unwrap_or_default(),
        reason: here.map(|place| reason(&outlook, place)).unwrap_or_default(),
        is_moved: outlook.move_of(id).is_some(),
        others: others.collect(),
        newest: forecasts.first().map(|forecast| newest(context, forecast)),
        forecasts: forecasts.iter().map(|forecast| past(context, forecast)).collect(),
        moves: history
            .into_iter()
            .map(|moved| PastPlace {
                at: context.moment(moved.moved_at),
                what: place_words(moved.place, moved.beside.as_deref()),
                who: moved.who,
                reason: moved.reason,
            })
            .collect(),
        number: job.number,
        form,
    })
}

fn newest(context: &RequestContext, forecast: &Forecast) -> Newest {
    let said = &forecast.said;
    let day = said.day.as_ref().ok();
    let (chart, table) = day.map(|day| spread(forecast, day)).unwrap_or_default();
    Newest {
        made: format!("{}, {}", context.moment(forecast.made_at), said.why),
        day: day.map(|day| (with_weekday(day.day), per_cent(day.share), with_weekday(day.median_day))),
        why_not: said.day.as_ref().err().map(|why| format!("No day can be said: {why}.")).unwrap_or_default(),
        chart,
        table,
        rests_on: rests_on(forecast),
    }
}

/// The spread as a drawing and as a table: each day's own share.
fn spread(forecast: &Forecast, day: &ForecastDay) -> (Svg, Vec<(String, String)>) {
    let made_on = forecast.said.made_on;
    let (mut before, mut own) = (0, Vec::new());
    for (ahead, share) in &day.done_by {
        own.push((made_on + Duration::days(*ahead), share - before, *share));
        before = *share;
    }
    let seldom = own.len() > 14;
    let bars = own.iter().enumerate().map(|(at, (date, share, _))| DayBar {
        words: if seldom && at % 3 != 0 { String::new() } else { format!("{} {}", date.day(), short_month(*date)) },
        share: f64::from(i32::try_from(*share).unwrap_or(0)) / 1000.0,
        is_by_then: *date <= day.day,
        is_promised: *date == day.day,
    });
    let bars: Vec<DayBar> = bars.take(day_shares::MOST).collect();
    let words = format!(
        "Ready by {} in {} of the draws, by {} in half of them. The table has each day.",
        with_weekday(day.day),
        per_cent(day.share),
        with_weekday(day.median_day)
    );
    let table = own.iter().map(|(date, _, share)| (with_weekday(*date), per_cent(*share)));
    (day_shares(&bars, &words), table.collect())
}

fn short_month(day: time::Date) -> String {
    day.month().to_string().chars().take(3).collect()
}

fn rests_on(forecast: &Forecast) -> Vec<String> {
    let basis = &forecast.said.basis;
    let minutes = |minutes: i64| hours(f64::from(i32::try_from(minutes).unwrap_or(0)));
    let mut words = Vec::new();
    if forecast.said.day.is_ok() {
        words.push(match basis.jobs_ahead {
            0 => "No job stands in front of it.".to_owned(),
            1 => format!("One job stands in front of it, {} on average.", minutes(basis.minutes_ahead)),
            jobs => format!("{jobs} jobs stand in front of it, {} on average.", minutes(basis.minutes_ahead)),
        });
        words.push(format!(
            "Its own work takes {} on average: by {}, from {} jobs.",
            minutes(basis.own_minutes),
            basis.minutes_from,
            basis.jobs_known
        ));
    } else {
        words.push(format!("Its minutes come from {}.", basis.minutes_from));
    }
    if let Some(waits) = basis.waits_known {
        words.push(format!("What it waits for lasted as long as {waits} waits of the past."));
    }
    if basis.ahead_without_minutes > 0 {
        words.push(format!("Of {} in front of it nobody has said what is to be done.", basis.ahead_without_minutes));
    }
    words.push(format!(
        "{} draws; asked for {}; Thumbplane {}.",
        forecast.said.draws.draws,
        per_cent(forecast.said.confidence),
        forecast.engine_version
    ));
    words
}

fn past(context: &RequestContext, forecast: &Forecast) -> Past {
    Past {
        made: context.moment(forecast.made_at),
        why: forecast.said.why.spoken(),
        day: super::view::likely(&forecast.said),
        told: forecast.said.told_day.map(with_weekday).unwrap_or_default(),
    }
}

/// `GET /office/queue/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    page(&queue_job_page(&context, id, FormData::new().with("place", "before")).await?)
}

/// `POST /office/queue/{id}/move`: puts the job somewhere by hand.
pub(in crate::web) async fn put(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    // a button of the list says both in one
    let (place, beside) = match form.value("to").split_once(':') {
        Some((place, beside)) => (place.to_owned(), beside.to_owned()),
        None if form.has("to") => (form.value("to").to_owned(), String::new()),
        None => (form.value("place").to_owned(), form.value("beside").to_owned()),
    };
    let place = place.parse::<QueuePlace>().ok();
    let place = form.require("place", place, "Choose where the job is put.");
    let reason = form.required_line("reason", "why it is moved", LINE);
    let to = place.map(|place| Place { place, beside: beside.parse().ok() });
    let Some(to) = to.filter(|_| !form.has_errors()) else {
        return page_with(form.status(), &queue_job_page(&context, id, form).await?);
    };
    let mut tx = context.app.db.write().await?;
    let done = queue_move::put(&mut tx, &context.audit(Door::Office), id, &key, to, &reason).await;
    if form.accept("beside", done)?.is_none() {
        drop(tx);
        return page_with(form.status(), &queue_job_page(&context, id, form).await?);
    }
    let number = job::find(&mut *tx, id).await?.number;
    tx.commit().await?;
    redirect_with_flash(&context, "/office/queue", &format!("{number} stands where you put it, with the reason."))
}

/// `POST /office/queue/{id}/take-back`: the job stands where the rule puts it.
pub(in crate::web) async fn take_back(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    queue_move::take_back(&mut tx, &context.audit(Door::Office), id, &key).await?;
    let number = job::find(&mut *tx, id).await?.number;
    tx.commit().await?;
    redirect_with_flash(&context, "/office/queue", &format!("{number} stands where the rule puts it."))
}

/// What is asked before a day is promised on which nobody works, or so far away that a digit may be wrong.
async fn question_of(context: &RequestContext, day: time::Date) -> Result<Option<String>> {
    if day > context.today() + time::Duration::days(FAR_DAYS) {
        return Ok(Some(format!("{} is more than a year away. Is that the day?", with_weekday(day))));
    }
    let outlook = outlook::read(&context.app, &context.settings).await?;
    // without any hours at all the queue says so on every page
    let is_asked = day >= context.today() && outlook.next_working_day().is_some() && !outlook.works_on(day);
    Ok(is_asked.then(|| format!("Nobody works on {}. Promise it all the same?", with_weekday(day))))
}

/// `POST /office/queue/{id}/promise`: moves the promise and puts the telling on the desk's list.
pub(in crate::web) async fn move_promise(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let day = form.day("day");
    let day = form.require("day", day, "Choose the day that is promised.");
    let question = match day {
        Some(day) if !form.is("sure", "yes") => question_of(&context, day).await?,
        _ => None,
    };
    if let Some(words) = question {
        form.add_error("day", words);
        form = form.with("asked", "yes");
    }
    let (Some(day), false) = (day, form.has_errors()) else {
        return page_with(form.status(), &queue_job_page(&context, id, form).await?);
    };
    let by = context.audit(Door::Office);
    let mut tx = context.app.db.write().await?;
    let version = form.version()?;
    let moved = promise::move_to(&mut tx, &by, context.today(), id, version, &key, day).await;
    if form.accept("day", moved)?.is_none() {
        drop(tx);
        return page_with(form.status(), &queue_job_page(&context, id, form).await?);
    }
    let number = job::find(&mut *tx, id).await?.number;
    tx.commit().await?;
    // what the new promise rests on is kept as it stands now
    outlook::work_out(&context.app, &by, ForecastWhy::Moved, Some(&[(id, Some(day))])).await?;
    let words = format!("{number} is promised for {}. The desk finds it under “To call”.", with_weekday(day));
    redirect_with_flash(&context, "/office/queue", &words)
}
