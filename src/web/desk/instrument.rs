//! `/desk/instruments/{id}`: everything known of one instrument, its care and its visits.
//!
//! Desk and bench both correct it: the desk knows the maker, the bench measures the scale.

use askama::Template;
use axum::http::StatusCode;

use crate::quantity::{Micrometres, with_weekday};
use crate::records::caution::{About, Place};
use crate::records::family::{Family, Handedness, StringMaterial, TrussRod};
use crate::records::instrument::{self, Instrument, InstrumentEntry, InstrumentString, micrograms_per_metre};
use crate::records::reading::{self, ReadingKind, ReadingSet};
use crate::records::search::{self, CustomerHit};
use crate::records::{CareId, CustomerId, Door, InstrumentId, care, customer, job, photo};
use crate::web::caution_view::CautionSeen;
use crate::web::form::{Asked, Id, LINE, TEXT, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};
use crate::web::photo::PhotoSeen;
use crate::web::readings_view::mean_words;
use crate::web::words::{StageSeen, length_unit};
use crate::web::{Error, Result};

/// Rows for strings on the form.
const MOST_STRINGS: usize = 12;
/// Visits whose readings are listed.
const MOST_VISITS_READ: usize = 20;
/// Customers to choose a new owner from.
const MOST_HEIRS: i64 = 8;

#[derive(Template)]
#[template(path = "desk/instrument.html")]
struct InstrumentPage {
    layout: Layout,
    form: Typed,
    id: InstrumentId,
    title: String,
    owner_href: Option<String>,
    owner: String,
    care: Vec<CareRow>,
    visits: Vec<VisitRow>,
    photos: Vec<PhotoSeen>,
    cautions: Vec<CautionSeen>,
    read: Vec<ReadRow>,
    past_owners: Vec<(String, String, String)>,
    is_desk: bool,
    is_archived: bool,
    /// Customers to hand it to, once somebody was looked for.
    heirs: Vec<CustomerHit>,
    rows: usize,
}

/// One reading set, in a line.
struct ReadRow {
    href: String,
    number: String,
    day: String,
    stage: &'static str,
    relief: String,
    treble: String,
    bass: String,
    air: String,
}

struct CareRow {
    id: CareId,
    kind: String,
    last_done: String,
    next_due: String,
    paused: bool,
}

struct VisitRow {
    href: String,
    number: String,
    stage: StageSeen,
    complaint: String,
    day: String,
}

impl InstrumentPage {
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
    fn hands(&self) -> &'static [Handedness] {
        Handedness::ALL
    }
    fn rods(&self) -> &'static [TrussRod] {
        TrussRod::ALL
    }
    fn materials(&self) -> &'static [StringMaterial] {
        StringMaterial::ALL
    }
    fn string_numbers(&self) -> std::ops::RangeInclusive<usize> {
        1..=self.rows
    }
    fn cell<'a>(&'a self, what: &str, number: &usize) -> &'a str {
        self.form.value(&format!("{what}_{number}"))
    }
    fn cell_theirs<'a>(&'a self, what: &str, number: &usize) -> Option<&'a str> {
        self.form.theirs(&format!("{what}_{number}"))
    }
    fn cell_error<'a>(&'a self, what: &str, number: &usize) -> Option<&'a str> {
        self.form.error(&format!("{what}_{number}"))
    }
}

fn mm(length: Option<Micrometres>) -> String {
    length.map(|length| length.in_mm().trim_end_matches(" mm").to_owned()).unwrap_or_default()
}

fn typed(instrument: &Instrument) -> Typed {
    let entry = &instrument.entry;
    let mut form = Typed::fresh()
        .with("version", instrument.version.to_string())
        .with("family", entry.family.key())
        .with("maker", entry.maker.as_str())
        .with("model", entry.model.as_str())
        .with("serial", entry.serial.as_str())
        .with("year", entry.year.map(|year| year.to_string()).unwrap_or_default())
        .with("finish", entry.finish.as_str())
        .with("handedness", entry.handedness.key())
        .with("scale", mm(Some(entry.scale)))
        .with("frets", entry.frets.to_string())
        .with("body_fret", entry.body_fret.to_string())
        .with("radius_nut", mm(entry.radius.map(|(nut, _)| nut)))
        .with("radius_end", mm(entry.radius.map(|(_, end)| end)))
        .with("courses", entry.courses.to_string())
        .with("truss_rod", entry.truss_rod.key())
        .with("bridge", entry.bridge.as_str())
        .with("saddle", entry.saddle.as_str())
        .with("nut_material", entry.nut_material.as_str())
        .with("saddle_material", entry.saddle_material.as_str())
        .with("string_set", entry.string_set.as_str())
        .with("top_wood", entry.top_wood.as_str())
        .with("top_width", mm(entry.top_width))
        .with("note", entry.note.as_str());
    for (number, string) in (1..).zip(&entry.strings) {
        let density =
            string.linear_density_ug_per_m.map(|density| mm(Some(Micrometres(density / 1000)))).unwrap_or_default();
        form = form
            .with(&format!("pitch_{number}"), string.pitch.as_str())
            .with(&format!("gauge_{number}"), mm(string.gauge))
            .with(&format!("core_{number}"), mm(string.core))
            .with(&format!("material_{number}"), string.material.map(StringMaterial::key).unwrap_or_default())
            .with(&format!("wound_{number}"), if string.wound { "yes" } else { "" })
            .with(&format!("density_{number}"), density)
            .with(&format!("position_{number}"), mm(string.position));
    }
    form
}

async fn instrument_page(visit: &Visit, instrument: &Instrument, form: Typed) -> Result<InstrumentPage> {
    let books = visit.app.db.read();
    let is_desk = visit.may_act_as(crate::records::staff::Role::Desk);
    let owner = customer::find(books, instrument.customer_id).await?;
    let visits = job::visits(books, None, Some(instrument.id)).await?;
    let care = care::of_instrument(books, instrument.id).await?;
    let door = if is_desk { "desk" } else { "bench" };
    let mut read = Vec::new();
    {
        let mut connection = books.acquire().await?;
        for visited in visits.iter().take(MOST_VISITS_READ) {
            let sets = reading::of_job(&mut connection, visited.id).await?;
            read.extend(sets.iter().rev().map(|set| read_row(visit, instrument, door, &visited.number, set)));
        }
    }
    let heir = form.value("heir").to_owned();
    let heirs = if is_desk { search::customers(books, &heir, MOST_HEIRS).await? } else { Vec::new() };
    let past = instrument::past_owners(books, instrument.id).await?;
    Ok(InstrumentPage {
        cautions: visit.cautions(Place::Instrument, &About::instrument(&instrument.entry), &[]),
        read,
        past_owners: past
            .into_iter()
            .map(|past| (format!("/desk/customers/{}", past.customer_id), past.name, with_weekday(past.until)))
            .collect(),
        is_desk,
        is_archived: instrument.archived_on.is_some(),
        heirs: heirs.into_iter().filter(|heir| heir.id != instrument.customer_id).collect(),
        layout: visit.layout(),
        photos: PhotoSeen::row(&photo::of_instrument(books, instrument.id).await?, "/photos"),
        form,
        id: instrument.id,
        title: instrument.entry.title(),
        owner_href: is_desk.then(|| format!("/desk/customers/{}", owner.id)),
        owner: owner.name,
        care: care
            .into_iter()
            .map(|line| CareRow {
                id: line.id,
                kind: line.kind.spoken().to_owned(),
                last_done: line.last_done_on.map_or_else(|| "not yet".to_owned(), with_weekday),
                next_due: with_weekday(line.next_due_on),
                paused: line.paused,
            })
            .collect(),
        visits: visits
            .into_iter()
            .map(|row| VisitRow {
                href: format!("/{door}/jobs/{}", row.id),
                number: row.number,
                stage: StageSeen::of(row.stage, None),
                complaint: row.complaint,
                day: visit.day_of(row.checked_in_at),
            })
            .collect(),
        rows: (instrument.entry.strings.len() + 1).clamp(6, MOST_STRINGS),
    })
}

fn read_row(visit: &Visit, instrument: &Instrument, door: &str, number: &str, set: &ReadingSet) -> ReadRow {
    let unit = length_unit(&visit.settings);
    let last = i64::try_from(instrument.entry.strings.len()).unwrap_or(1).max(1);
    let said = |kind, string| mean_words(Some(set), kind, string, unit);
    let humidity = set.circumstances.humidity_permille.map(|permille| format!("{} %", permille / 10));
    ReadRow {
        href: format!("/{door}/jobs/{}", set.job_id),
        number: number.to_owned(),
        day: visit.day_of(set.taken_at),
        stage: set.circumstances.stage.spoken(),
        relief: said(ReadingKind::Relief, 0),
        treble: said(ReadingKind::Height12, 1),
        bass: said(ReadingKind::Height12, last),
        air: humidity.unwrap_or_else(|| "–".to_owned()),
    }
}

/// `GET /desk/instruments/{id}`; `heir` looks for whom it goes to.
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<InstrumentId>, asked: Asked) -> Result {
    let instrument = instrument::read(visit.app.db.read(), id).await?;
    let heir: String = asked.value("heir").chars().take(100).collect();
    let form = typed(&instrument).with("heir", heir).with("on_day", visit.today().to_string());
    page(&instrument_page(&visit, &instrument, form).await?)
}

/// `POST /desk/instruments/{id}/owner`: it changes hands on a day.
pub(in crate::web) async fn change_hands(visit: Visit, Id(id): Id<InstrumentId>, mut form: Typed) -> Result {
    let present = instrument::read(visit.app.db.read(), id).await?;
    let to = form.id::<CustomerId>("to");
    if to.is_none() && form.error("to").is_none() {
        form.refuse("to", "Look for the new owner and choose them; somebody new is added at check-in.");
    }
    let on_day = form.day("on_day").unwrap_or_else(|| visit.today());
    if on_day > visit.today() {
        form.refuse("on_day", "This day is still to come.");
    }
    let (Some(to), false) = (to, form.refused()) else {
        let shown = typed(&present).under(form);
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &instrument_page(&visit, &present, shown).await?);
    };
    let mut write = visit.app.db.write().await?;
    let by = visit.by(Door::Desk);
    if let Err(error) = instrument::change_hands(&mut write, &by, id, form.version()?, to, on_day).await {
        drop(write);
        let status = form.note("to", error)?;
        let shown = typed(&present).under(form);
        return page_with(status, &instrument_page(&visit, &present, shown).await?);
    }
    write.commit().await?;
    see(&visit, &format!("/desk/instruments/{id}"), "It has changed hands. Its history stays with it.")
}

/// `POST /desk/instruments/{id}/archive`
pub(in crate::web) async fn archive(visit: Visit, Id(id): Id<InstrumentId>, form: Typed) -> Result {
    let day = (!form.is("archived", "no")).then(|| visit.today());
    let mut write = visit.app.db.write().await?;
    instrument::archive(&mut write, &visit.by(Door::Desk), id, form.version()?, day).await?;
    write.commit().await?;
    let words = if day.is_some() {
        "Archived: no longer offered at check-in, and nothing is lost."
    } else {
        "Taken out of the archive."
    };
    see(&visit, &format!("/desk/instruments/{id}"), words)
}

/// `POST /desk/instruments/{id}`
pub(in crate::web) async fn save(visit: Visit, Id(id): Id<InstrumentId>, mut form: Typed) -> Result {
    let present = instrument::read(visit.app.db.read(), id).await?;
    let Some(entry) = read(&mut form, &visit) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &instrument_page(&visit, &present, form).await?);
    };
    let mut write = visit.app.db.write().await?;
    match instrument::save(&mut write, &visit.by(Door::Desk), id, form.version()?, &entry).await {
        Ok(()) => {
            write.commit().await?;
            see(&visit, &format!("/desk/instruments/{id}"), &format!("{} is saved.", entry.title()))
        }
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(write);
            let present = instrument::read(visit.app.db.read(), id).await?;
            form.conflict(&typed(&present), present.version);
            page_with(StatusCode::CONFLICT, &instrument_page(&visit, &present, form).await?)
        }
        Err(crate::records::Error::Refused(words)) => {
            drop(write);
            form.refuse("body_fret", words);
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &instrument_page(&visit, &present, form).await?)
        }
        Err(other) => Err(Error::from(other)),
    }
}

fn read(form: &mut Typed, visit: &Visit) -> Option<InstrumentEntry> {
    let unit = length_unit(&visit.settings);
    let family = form.choice("family", "what kind of instrument it is");
    let handedness = form.choice("handedness", "which hand it is for");
    let truss_rod = form.choice("truss_rod", "what rod the neck has");
    let scale = form.length("scale", unit);
    if let Some(scale) = scale
        && !(200_000..=1_500_000).contains(&scale.0)
    {
        form.refuse("scale", format!("{} cannot be a scale length; they run from 200 to 1500 mm.", scale.in_mm()));
    } else if scale.is_none() && form.error("scale").is_none() {
        form.refuse("scale", "Type the scale length, nut to saddle.");
    }
    let frets = form.number("frets", 5..=40);
    let body_fret = form.number("body_fret", 3..=40);
    let courses = form.number("courses", 1..=24);
    for (name, value, what) in [
        ("frets", frets, "how many frets it has"),
        ("body_fret", body_fret, "the fret at the body joint"),
        ("courses", courses, "how many courses it has"),
    ] {
        if value.is_none() && form.error(name).is_none() {
            form.refuse(name, format!("Type {what}."));
        }
    }
    let radius = match (form.length("radius_nut", unit), form.length("radius_end", unit)) {
        (Some(nut), end) => Some((nut, end.unwrap_or(nut))),
        (None, Some(_)) => {
            form.refuse("radius_nut", "Type the radius at the nut too, or leave both empty for a flat board.");
            None
        }
        (None, None) => None,
    };
    let entry = InstrumentEntry {
        family: family.unwrap_or(Family::Other),
        maker: form.line("maker", LINE),
        model: form.line("model", LINE),
        serial: form.line("serial", LINE),
        year: form.number("year", 1500..=2200),
        finish: form.line("finish", LINE),
        handedness: handedness.unwrap_or(Handedness::Right),
        scale: scale.unwrap_or(Micrometres(0)),
        frets: frets.unwrap_or(0),
        body_fret: body_fret.unwrap_or(0),
        radius,
        courses: courses.unwrap_or(0),
        truss_rod: truss_rod.unwrap_or(TrussRod::None),
        bridge: form.line("bridge", LINE),
        saddle: form.line("saddle", LINE),
        nut_material: form.line("nut_material", LINE),
        saddle_material: form.line("saddle_material", LINE),
        string_set: form.line("string_set", LINE),
        top_wood: form.line("top_wood", LINE),
        top_width: form.length("top_width", unit),
        note: form.area("note", TEXT),
        strings: read_strings(form, visit),
    };
    (!form.refused()).then_some(entry)
}

fn read_strings(form: &mut Typed, visit: &Visit) -> Vec<InstrumentString> {
    let unit = length_unit(&visit.settings);
    let mut strings = Vec::new();
    for number in 1..=MOST_STRINGS {
        let pitch = form.line(&format!("pitch_{number}"), 8);
        if pitch.is_empty() {
            continue;
        }
        let pitch_field = format!("pitch_{number}");
        if crate::setup::tension::pitch_hz(&pitch, 440.0).is_none() {
            form.refuse(&pitch_field, "Type a note name with its octave, such as E4, F#3 or Bb1.");
        }
        let density_field = format!("density_{number}");
        // read as a length in mm to share its decimal comma; the unit beside the field is g/m
        let density = form.length(&density_field, crate::quantity::LengthUnit::Millimetre).map(Micrometres::mm);
        let material_field = format!("material_{number}");
        let gauge = form.length(&format!("gauge_{number}"), unit);
        if gauge.is_some_and(|gauge| !(100..=5000).contains(&gauge.0)) {
            form.refuse(&format!("gauge_{number}"), "A string is between 0.1 and 5 mm thick.");
        }
        let core = form.length(&format!("core_{number}"), unit);
        if core.is_some_and(|core| !(100..=5000).contains(&core.0) || gauge.is_some_and(|gauge| core > gauge)) {
            form.refuse(&format!("core_{number}"), "A core is at least 0.1 mm thick, and no thicker than its string.");
        }
        strings.push(InstrumentString {
            pitch,
            gauge,
            core,
            material: form.value(&material_field).parse().ok(),
            wound: form.is(&format!("wound_{number}"), "yes"),
            linear_density_ug_per_m: density.and_then(micrograms_per_metre),
            position: form.length(&format!("position_{number}"), unit),
        });
    }
    if strings.is_empty() {
        form.refuse("pitch_1", "An instrument has at least one string: type its note.");
    }
    strings
}
