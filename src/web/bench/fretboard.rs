//! `/bench/jobs/{id}/fretboard`: the places that buzz or choke, tapped on a map. A place tapped again is
//! taken back.

use askama::Template;
use axum::http::StatusCode;
use axum::response::IntoResponse;

use super::readings::keep_plan;
use crate::drawing::Svg;
use crate::drawing::fretboard::{Heard, MARKS_OF_A_GUITAR, MARKS_OF_A_SHORT_NECK, Place, fretboard, mark_to_copy};
use crate::records::family::Family;
use crate::records::instrument::{self, InstrumentEntry};
use crate::records::job::{self, Job};
use crate::records::observation::{self, Observation};
use crate::records::{Door, JobId};
use crate::setup::plan::ObservationKey;
use crate::web::form::{FormData, Id, Query};
use crate::web::page::{Layout, RequestContext, page, redirect_with_flash};
use crate::web::readings_view::string_names;
use crate::web::words::{Promise, StageView};
use crate::web::{Error, Result};

/// What can be tapped.
const HEARD: [ObservationKey; 2] = [ObservationKey::Buzz, ObservationKey::Choke];

#[derive(Template)]
#[template(path = "bench/fretboard.html")]
struct FretboardPage {
    layout: Layout,
    form: FormData,
    job: Job,
    title: String,
    stage: StageView,
    promise: Promise,
    hears: ObservationKey,
    frets: Vec<i64>,
    rows: Vec<Row>,
    map: Svg,
    /// Each mark once, for the page's script to copy.
    marks: Vec<Svg>,
    /// Whose taps wait on a tablet.
    me: String,
    is_open: bool,
    stands: Vec<String>,
}

impl FretboardPage {
    fn choices(&self) -> [ObservationKey; 2] {
        HEARD
    }
}

struct Row {
    name: String,
    cells: Vec<Cell>,
}

struct Cell {
    /// "6-3": where the page is when it comes back.
    anchor: String,
    /// "6:3:note": string, fret, and what pressing does, so that a press sent twice does it once.
    value: String,
    is_noted: bool,
    /// "String 6 E2, fret 3: buzzes. Take back."
    words: String,
}

fn heard(key: ObservationKey) -> Option<Heard> {
    match key {
        ObservationKey::Buzz => Some(Heard::Buzz),
        ObservationKey::Choke => Some(Heard::Choke),
        _ => None,
    }
}

/// What stands on the map; what was seen without a string or a fret stands on the list only.
fn places(observations: &[Observation]) -> Vec<Place> {
    let present = observations.iter().filter(|observation| observation.cleared_at.is_none());
    let mut places: Vec<Place> = present
        .filter_map(|observation| {
            let number = |number: Option<i64>| number.and_then(|number| usize::try_from(number).ok());
            Some(Place {
                string: number(observation.string_number)?,
                fret: number(observation.fret)?,
                heard: heard(observation.key.parse().ok()?)?,
            })
        })
        .collect();
    places.sort_unstable();
    places.dedup();
    places
}

fn place_words(string: &str, fret: i64) -> String {
    if fret == 0 { format!("string {string}, open") } else { format!("string {string}, fret {fret}") }
}

async fn job_and_instrument(context: &RequestContext, id: JobId) -> Result<(Job, InstrumentEntry)> {
    let mut connection = context.app.db.read().acquire().await?;
    let job = job::find(&mut *connection, id).await?;
    let instrument = instrument::find(&mut connection, job.instrument_id).await?;
    Ok((job, instrument.entry))
}

/// `GET /bench/jobs/{id}/fretboard?hears=buzz`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>, query: Query) -> Result {
    let (job, entry) = job_and_instrument(&context, id).await?;
    let observations = observation::of_job(context.app.db.read(), id).await?;
    let hears = query.value("hears").parse().ok().filter(|key| HEARD.contains(key)).unwrap_or(ObservationKey::Buzz);
    let names = string_names(&entry);
    let places = places(&observations);
    let is_noted = |string: i64, fret: i64| {
        places.iter().any(|place| {
            (i64::try_from(place.string), i64::try_from(place.fret)) == (Ok(string), Ok(fret))
                && Some(place.heard) == heard(hears)
        })
    };
    let cell = |string: i64, name: &str, fret: i64| {
        let is_noted = is_noted(string, fret);
        let place = place_words(name, fret);
        Cell {
            anchor: format!("{string}-{fret}"),
            value: format!("{string}:{fret}:{}", if is_noted { "take-back" } else { "note" }),
            words: match is_noted {
                true => format!("{place}: {}. Take back", hears.spoken()),
                false => format!("{place}: {}", hears.spoken()),
            },
            is_noted,
        }
    };
    let rows = (1_i64..).zip(&names).map(|(string, name)| Row {
        cells: (0..=entry.frets).map(|fret| cell(string, name, fret)).collect(),
        name: name.clone(),
    });
    let marks: &[usize] = match entry.family {
        Family::Ukulele | Family::Mandolin | Family::Banjo => &MARKS_OF_A_SHORT_NECK,
        _ => &MARKS_OF_A_GUITAR,
    };
    let in_words = |place: &Place| {
        let name = names.get(place.string.wrapping_sub(1)).cloned().unwrap_or_else(|| place.string.to_string());
        let word = if place.heard == Heard::Buzz { ObservationKey::Buzz } else { ObservationKey::Choke };
        format!("{}: {}", place_words(&name, i64::try_from(place.fret).unwrap_or(0)), word.spoken())
    };
    page(&FretboardPage {
        layout: context.layout(),
        form: FormData::new(),
        title: entry.title(),
        stage: StageView::of(job.stage, job.waiting_for),
        promise: Promise::as_of(job.stage, job.promised_on, context.today()),
        hears,
        frets: (1..=entry.frets).collect(),
        map: fretboard(usize::try_from(entry.frets).unwrap_or(0), marks, &names, &places),
        marks: [Heard::Buzz, Heard::Choke].map(mark_to_copy).to_vec(),
        me: context.session.as_ref().map(|session| session.staff.id.to_string()).unwrap_or_default(),
        rows: rows.collect(),
        is_open: job.stage.is_open(),
        stands: places.iter().map(in_words).collect(),
        job,
    })
}

/// `POST /bench/jobs/{id}/fretboard`: `hears` and `place`, which is "string:fret:note" or "string:fret:take-back". A page
/// that has drawn the mark itself sends `quiet` and is answered without a page.
pub(in crate::web) async fn tap(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let whole = || Error::Unreadable("The form is not whole. Open its page again.");
    let hears: ObservationKey = form.value("hears").parse().map_err(|()| whole())?;
    let mut place = form.value("place").split(':');
    let mut number = || place.next().and_then(|number| number.parse::<i64>().ok()).ok_or_else(whole);
    let (string, fret) = (number()?, number()?);
    let takes_back = place.next() == Some("take-back");
    let (_, entry) = job_and_instrument(&context, id).await?;
    let is_on_the_board = usize::try_from(string).is_ok_and(|string| (1..=entry.strings.len()).contains(&string))
        && (0..=entry.frets).contains(&fret);
    if !is_on_the_board || heard(hears).is_none() {
        return Err(Error::Refused("That place is not on this instrument's board.".to_owned()));
    }
    let key = format!("{}-{}-{string}-{fret}", form.required_key()?, hears.key());
    let by = context.audit(Door::Bench);
    let mut tx = context.app.db.write().await?;
    if takes_back {
        observation::take_back(&mut tx, &by, id, hears.key(), (string, fret)).await?;
    } else {
        observation::note(&mut tx, &by, id, &key, hears.key(), (Some(string), Some(fret)), "").await?;
    }
    tx.commit().await?;
    keep_plan(&context, id).await?;
    if form.is("quiet", "yes") {
        return Ok(StatusCode::NO_CONTENT.into_response());
    }
    let name = string_names(&entry).get(usize::try_from(string - 1).unwrap_or(0)).cloned().unwrap_or_default();
    let deed = if takes_back { "Taken back" } else { "Noted" };
    let words = format!("{deed}: {}, {}.", hears.spoken(), place_words(&name, fret));
    redirect_with_flash(
        &context,
        &format!("/bench/jobs/{id}/fretboard?hears={}#place-{string}-{fret}", hears.key()),
        &words,
    )
}
