//! `/desk/instruments/{id}`: everything known of one instrument, its care and its visits.
//!
//! Desk and bench both correct it: the desk knows the maker, the bench measures the scale.

use askama::Template;

use crate::drawing::Svg;
use crate::quantity::{LengthUnit, Micrometres, with_weekday};
use crate::records::caution::{About, Place};
use crate::records::family::{BridgeKind, Family, Handedness, NeckJoint, Nut, StringMaterial, TrussRod};
use crate::records::instrument::{
    self, FARTHEST_POST_UM, Instrument, InstrumentEntry, InstrumentString, LATEST_START, MOST_COURSES, SCALE_UM,
    SCREW_PITCH_UM, courses_count_up, micrograms_per_metre,
};
use crate::records::plan::usual_bridge;
use crate::records::reading::{self, ReadingKind, ReadingSet};
use crate::records::search::{self, CustomerHit};
use crate::records::{CareId, Door, InstrumentId, JobId, care, customer, job, photo};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::{FormData, Id, LINE, Query, TEXT};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::photo::PhotoView;
use crate::web::readings_view::mean_words;
use crate::web::string_grid::{Column, StringGrid};
use crate::web::words::{StageView, StageViews, length_unit, length_words, shown};

/// Rows for strings on the form.
const MOST_STRINGS: usize = 12;
/// Visits shown at once, with their readings.
const MOST_VISITS: i64 = 20;
/// Customers to choose a new owner from.
const MOST_HEIRS: i64 = 8;

#[derive(Template)]
#[template(path = "desk/instrument.html")]
struct InstrumentPage {
    layout: Layout,
    form: FormData,
    id: InstrumentId,
    title: String,
    owner_href: Option<String>,
    owner: String,
    care: Vec<CareRow>,
    visits: Vec<VisitRow>,
    strips: Svg,
    photos: Vec<PhotoView>,
    cautions: Vec<CautionView>,
    reading_sets: Vec<ReadingSetRow>,
    past_owners: Vec<(String, String, String)>,
    is_desk: bool,
    is_archived: bool,
    /// Customers to hand it to, once somebody was looked for.
    heirs: Vec<CustomerHit>,
    rows: usize,
    /// Which visits are shown, and where those before them are.
    older: Option<String>,
    is_older: bool,
    scale_hint: &'static str,
    facts: Vec<(&'static str, String)>,
    strings: Vec<String>,
}

/// One reading set, in a line.
struct ReadingSetRow {
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
    stage: StageView,
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
    fn bridge_kinds(&self) -> &'static [BridgeKind] {
        BridgeKind::ALL
    }
    fn neck_joints(&self) -> &'static [NeckJoint] {
        NeckJoint::ALL
    }
    fn nuts(&self) -> &'static [Nut] {
        Nut::ALL
    }
    fn family(&self) -> Option<Family> {
        self.form.value("family").parse().ok()
    }
    /// What an empty choice means.
    fn usual_bridge(&self) -> String {
        match self.family().and_then(usual_bridge) {
            Some(kind) => format!("as usual for this kind: {kind}"),
            None => "not known: the plan asks".to_owned(),
        }
    }
    fn is_bridge(&self, kinds: &[BridgeKind]) -> bool {
        let stated = self.form.value("bridge_kind").parse().ok();
        stated.or_else(|| self.family().and_then(usual_bridge)).is_some_and(|kind| kinds.contains(&kind))
    }
    /// Where something is turned that has a thread.
    fn asks_pitch(&self) -> bool {
        let threaded = [BridgeKind::ScrewSaddles, BridgeKind::TwoPost, BridgeKind::Sprung];
        self.is_bridge(&threaded) || self.is_filled("screw_pitch")
    }
    fn asks_posts(&self) -> bool {
        let on_posts = [BridgeKind::TwoPost, BridgeKind::Sprung];
        self.is_bridge(&on_posts) || self.is_filled("post_treble") || self.is_filled("post_bass")
    }
    /// Short strings are a banjo's, or of something nobody has a name for.
    fn asks_starts(&self) -> bool {
        matches!(self.family(), Some(Family::Banjo | Family::Other)) || self.is_filled_on_a_string("starts_at_fret")
    }
    /// Where there are fewer courses than strings.
    fn asks_courses(&self) -> bool {
        let strings = (1..=self.rows).filter(|number| !self.form.value(&format!("pitch_{number}")).is_empty()).count();
        let fewer = self.form.value("courses").trim().parse().is_ok_and(|courses: usize| courses < strings);
        fewer || self.is_filled_on_a_string("course")
    }
    fn is_filled(&self, name: &str) -> bool {
        !self.form.value(name).is_empty() || self.form.error(name).is_some()
    }
    fn is_filled_on_a_string(&self, what: &str) -> bool {
        (1..=self.rows).any(|number| self.is_filled(&format!("{what}_{number}")))
    }
    fn grid(&self) -> StringGrid {
        let mut after = vec![Column::DENSITY, POSITION];
        after.extend(self.asks_starts().then_some(START));
        after.extend(self.asks_courses().then_some(COURSE));
        StringGrid::new(self.rows, vec![Column::NOTE, Column::GAUGE, Column::CORE], "Material", after)
    }
}

const POSITION: Column =
    Column { name: "position", heading: "Across the saddle", words: "position across the saddle", keypad: "decimal" };
const START: Column =
    Column { name: "starts_at_fret", heading: "Begins at fret", words: "begins at fret", keypad: "numeric" };
const COURSE: Column = Column { name: "course", heading: "Course", words: "course", keypad: "numeric" };

fn form_of(instrument: &Instrument, unit: LengthUnit) -> FormData {
    let length = |length| shown(length, unit);
    let count = |count: Option<i64>| count.map(|count| count.to_string()).unwrap_or_default();
    let entry = &instrument.entry;
    let mut form = FormData::new()
        .with("version", instrument.version.to_string())
        .with("family", entry.family.key())
        .with("maker", entry.maker.as_str())
        .with("model", entry.model.as_str())
        .with("serial", entry.serial.as_str())
        .with("year", entry.year.map(|year| year.to_string()).unwrap_or_default())
        .with("finish", entry.finish.as_str())
        .with("handedness", entry.handedness.key())
        .with("scale", length(Some(entry.scale)))
        .with("frets", entry.frets.to_string())
        .with("body_fret", entry.body_fret.to_string())
        .with("radius_nut", length(entry.radius.map(|(nut, _)| nut)))
        .with("radius_end", length(entry.radius.map(|(_, end)| end)))
        .with("courses", entry.courses.to_string())
        .with("truss_rod", entry.truss_rod.key())
        .with("scale_bass", length(entry.scale_bass))
        .with("neck_joint", entry.neck_joint.map(NeckJoint::key).unwrap_or_default())
        .with("bridge_kind", entry.bridge_kind.map(BridgeKind::key).unwrap_or_default())
        .with("screw_pitch", length(entry.screw_pitch))
        .with("post_treble", length(entry.posts.map(|(treble, _)| treble)))
        .with("post_bass", length(entry.posts.map(|(_, bass)| bass)))
        .with("nut", entry.nut.map(Nut::key).unwrap_or_default())
        .with("bridge", entry.bridge.as_str())
        .with("saddle", entry.saddle.as_str())
        .with("nut_material", entry.nut_material.as_str())
        .with("saddle_material", entry.saddle_material.as_str())
        .with("string_set", entry.string_set.as_str())
        .with("top_wood", entry.top_wood.as_str())
        .with("top_width", length(entry.top_width))
        .with("note", entry.note.as_str());
    for (number, string) in (1..).zip(&entry.strings) {
        let density = string
            .linear_density_ug_per_m
            .map(|density| shown(Some(Micrometres(density / 1000)), LengthUnit::Millimetre))
            .unwrap_or_default();
        form = form
            .with(&format!("pitch_{number}"), string.pitch.as_str())
            .with(&format!("gauge_{number}"), length(string.gauge))
            .with(&format!("core_{number}"), length(string.core))
            .with(&format!("material_{number}"), string.material.map(StringMaterial::key).unwrap_or_default())
            .with(&format!("wound_{number}"), if string.wound { "yes" } else { "" })
            .with(&format!("density_{number}"), density)
            .with(&format!("position_{number}"), length(string.position))
            .with(&format!("starts_at_fret_{number}"), count(string.starts_at_fret))
            .with(&format!("course_{number}"), count(string.course));
    }
    form
}

async fn instrument_page(context: &RequestContext, instrument: &Instrument, form: FormData) -> Result<InstrumentPage> {
    let books = context.app.db.read();
    let is_desk = context.may_act_as(crate::records::staff::Role::Desk);
    let owner = customer::find(books, instrument.customer_id).await?;
    let before: Option<JobId> = form.value("older").parse().ok();
    let mut visits = job::visits(books, job::Visits::With(instrument.id), before, MOST_VISITS + 1).await?;
    let older = older_visits(&mut visits, MOST_VISITS, &format!("/desk/instruments/{}", instrument.id));
    let care = care::of_instrument(books, instrument.id).await?;
    let door = if is_desk { "desk" } else { "bench" };
    let keys: Vec<JobId> = visits.iter().map(|visited| visited.id).collect();
    let sets = reading::of_jobs(&mut *books.acquire().await?, &keys).await?;
    let reading_sets = visits.iter().flat_map(|visited| {
        let sets = sets.get(&visited.id).into_iter().flatten().rev();
        sets.map(|set| reading_set_row(context, instrument, door, &visited.number, set))
    });
    let reading_sets = reading_sets.collect();
    let mut stages = StageViews::default();
    let visits: Vec<VisitRow> = visits
        .into_iter()
        .map(|row| VisitRow {
            href: format!("/{door}/jobs/{}", row.id),
            number: row.number,
            stage: stages.of(row.stage, None),
            complaint: row.complaint,
            day: context.day_of(row.checked_in_at),
        })
        .collect();
    let asked_rows = form.value("rows").parse().unwrap_or(0);
    let heir = form.value("heir").to_owned();
    let heirs = if is_desk { search::customers(books, &heir, MOST_HEIRS).await? } else { Vec::new() };
    let past = instrument::past_owners(books, instrument.id).await?;
    Ok(InstrumentPage {
        cautions: context.cautions(Place::Instrument, &About::instrument(&instrument.entry), &[]),
        reading_sets,
        past_owners: past
            .into_iter()
            .map(|past| (format!("/desk/customers/{}", past.customer_id), past.name, with_weekday(past.until)))
            .collect(),
        is_desk,
        is_archived: instrument.archived_on.is_some(),
        heirs: heirs.into_iter().filter(|heir| heir.id != instrument.customer_id).collect(),
        layout: context.layout(),
        photos: PhotoView::row(&photo::of_instrument(books, instrument.id).await?, "/photos"),
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
        visits,
        strips: stages.drawn(),
        rows: asked_rows.max(instrument.entry.strings.len() + 1).clamp(6, MOST_STRINGS),
        older,
        is_older: before.is_some(),
        facts: facts_of(&instrument.entry, length_unit(&context.settings)),
        strings: instrument
            .entry
            .strings
            .iter()
            .map(|string| string_words(string, length_unit(&context.settings)))
            .collect(),
        scale_hint: match length_unit(&context.settings) {
            LengthUnit::Millimetre => "Nut to saddle; mm, or add in.",
            LengthUnit::Inch => "Nut to saddle; inches, or add mm.",
        },
    })
}

/// What is known of it, to be read; what nobody said is left out.
fn facts_of(entry: &InstrumentEntry, unit: LengthUnit) -> Vec<(&'static str, String)> {
    let length = |length: Option<Micrometres>| length.map(|length| length_words(length, unit)).unwrap_or_default();
    let scale = match entry.scale_bass {
        Some(bass) => format!("{} to {}", length(Some(entry.scale)), length(Some(bass))),
        None => length(Some(entry.scale)),
    };
    let radius = match entry.radius {
        None => "flat".to_owned(),
        Some((nut, end)) if nut == end => length(Some(nut)),
        Some((nut, end)) => format!("{} at the nut, {} at its end", length(Some(nut)), length(Some(end))),
    };
    let facts = [
        ("It is", entry.family.spoken().to_owned()),
        ("Serial", entry.serial.clone()),
        ("Year", entry.year.map(|year| year.to_string()).unwrap_or_default()),
        ("Finish", entry.finish.clone()),
        ("Hand", entry.handedness.spoken().to_owned()),
        ("Scale", scale),
        ("Frets", format!("{}, body joint at the {}th", entry.frets, entry.body_fret)),
        ("Board radius", radius),
        ("Truss rod", entry.truss_rod.spoken().to_owned()),
        ("Neck joint", entry.neck_joint.map(|joint| joint.spoken().to_owned()).unwrap_or_default()),
        ("Bridge", entry.bridge.clone()),
        ("Saddle", [entry.saddle.as_str(), entry.saddle_material.as_str()].join(" ").trim().to_owned()),
        ("Nut", entry.nut_material.clone()),
        ("Top", [entry.top_wood.clone(), length(entry.top_width)].join(" ").trim().to_owned()),
        ("String set", entry.string_set.clone()),
        ("Note", entry.note.clone()),
    ];
    facts.into_iter().filter(|(_, said)| !said.is_empty()).collect()
}

/// "E4, 0.30 mm, wound".
fn string_words(string: &InstrumentString, unit: LengthUnit) -> String {
    let gauge = string.gauge.map(|gauge| length_words(gauge, unit));
    let wound = string.wound.then(|| "wound".to_owned());
    [Some(string.pitch.clone()), gauge, wound].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// Cuts a list of visits that was asked for with one too many; answers where those before the last shown are.
pub(super) fn older_visits(visits: &mut Vec<job::PastVisit>, most: i64, path: &str) -> Option<String> {
    let most = usize::try_from(most).unwrap_or(usize::MAX);
    if visits.len() <= most {
        return None;
    }
    visits.truncate(most);
    visits.last().map(|last| format!("{path}?older={}", last.id))
}

fn reading_set_row(
    context: &RequestContext,
    instrument: &Instrument,
    door: &str,
    number: &str,
    set: &ReadingSet,
) -> ReadingSetRow {
    let unit = length_unit(&context.settings);
    let last = i64::try_from(instrument.entry.strings.len()).unwrap_or(1).max(1);
    let mean = |kind, string| mean_words(Some(set), kind, string, unit);
    let humidity = set.circumstances.humidity_permille.map(|permille| format!("{} %", permille / 10));
    ReadingSetRow {
        href: format!("/{door}/jobs/{}", set.job_id),
        number: number.to_owned(),
        day: context.day_of(set.taken_at),
        stage: set.circumstances.stage.spoken(),
        relief: mean(ReadingKind::Relief, 0),
        treble: mean(ReadingKind::Height12, 1),
        bass: mean(ReadingKind::Height12, last),
        air: humidity.unwrap_or_else(|| "–".to_owned()),
    }
}

/// `GET /desk/instruments/{id}`; `heir` looks for whom it goes to.
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<InstrumentId>, query: Query) -> Result {
    let instrument = instrument::load(context.app.db.read(), id).await?;
    let heir: String = query.value("heir").chars().take(100).collect();
    let form = form_of(&instrument, length_unit(&context.settings))
        .with("heir", heir)
        .with("older", query.value("older"))
        .with("on_day", context.today().to_string());
    page(&instrument_page(&context, &instrument, form).await?)
}

/// `POST /desk/instruments/{id}/owner`: it changes hands on a day.
pub(in crate::web) async fn change_hands(
    context: RequestContext,
    Id(id): Id<InstrumentId>,
    mut form: FormData,
) -> Result {
    let present = instrument::load(context.app.db.read(), id).await?;
    let to = form.required_id("to", "Look for the new owner and choose them; somebody new is added at check-in.");
    let on_day = form.day("on_day").unwrap_or_else(|| context.today());
    if on_day > context.today() {
        form.add_error("on_day", "This day is still to come.");
    }
    let (Some(to), false) = (to, form.has_errors()) else {
        let form = form_of(&present, length_unit(&context.settings)).overlaid_with(form);
        return page_with(form.status(), &instrument_page(&context, &present, form).await?);
    };
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let changed = instrument::change_hands(&mut tx, &by, id, form.version()?, to, on_day).await;
    if form.accept("to", changed)?.is_none() {
        drop(tx);
        let form = form_of(&present, length_unit(&context.settings)).overlaid_with(form);
        return page_with(form.status(), &instrument_page(&context, &present, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/instruments/{id}"),
        "It has changed hands. Its history stays with it.",
    )
}

/// `POST /desk/instruments/{id}/archive`
pub(in crate::web) async fn archive(context: RequestContext, Id(id): Id<InstrumentId>, form: FormData) -> Result {
    let day = (!form.is("archived", "no")).then(|| context.today());
    let mut tx = context.app.db.write().await?;
    instrument::archive(&mut tx, &context.audit(Door::Desk), id, form.version()?, day).await?;
    tx.commit().await?;
    let words = if day.is_some() {
        "Archived: no longer offered at check-in, and nothing is lost."
    } else {
        "Taken out of the archive."
    };
    redirect_with_flash(&context, &format!("/desk/instruments/{id}"), words)
}

/// `POST /desk/instruments/{id}`; `then=rows` only asks for more rows, and nothing typed is lost.
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<InstrumentId>, mut form: FormData) -> Result {
    let present = instrument::load(context.app.db.read(), id).await?;
    if form.is("then", "rows") {
        form.number("rows", 1..=i64::try_from(MOST_STRINGS).unwrap_or(i64::MAX));
        return page(&instrument_page(&context, &present, form).await?);
    }
    let Some(entry) = instrument_entry(&mut form, &context) else {
        return page_with(form.status(), &instrument_page(&context, &present, form).await?);
    };
    let mut tx = context.app.db.write().await?;
    let saved = instrument::save(&mut tx, &context.audit(Door::Desk), id, form.version()?, &entry).await;
    if form.accept_save("body_fret", saved)?.is_none() {
        drop(tx);
        let present = instrument::load(context.app.db.read(), id).await?;
        form.merge_on_conflict(&form_of(&present, length_unit(&context.settings)));
        return page_with(form.status(), &instrument_page(&context, &present, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/instruments/{id}"), &format!("{} is saved.", entry.title()))
}

fn instrument_entry(form: &mut FormData, context: &RequestContext) -> Option<InstrumentEntry> {
    let unit = length_unit(&context.settings);
    let family = form.choice("family", "what kind of instrument it is");
    let handedness = form.choice("handedness", "which hand it is for");
    let truss_rod = form.choice("truss_rod", "what rod the neck has");
    let scale = form.required_length("scale", unit, "the scale length, nut to saddle");
    if let Some(scale) = scale.filter(|scale| !(SCALE_UM.0..=SCALE_UM.1).contains(&scale.0)) {
        form.add_error("scale", format!("{} cannot be a scale length; they run from 200 to 1500 mm.", scale.in_mm()));
    }
    let frets = form.required_number("frets", 5..=40, "how many frets it has");
    let body_fret = form.required_number("body_fret", 3..=40, "the fret at the body joint");
    let courses = form.required_number("courses", 1..=24, "how many courses it has");
    let radius = match (form.length("radius_nut", unit), form.length("radius_end", unit)) {
        (Some(nut), end) => Some((nut, end.unwrap_or(nut))),
        (None, Some(_)) => {
            form.add_error("radius_nut", "Type the radius at the nut too, or leave both empty for a flat board.");
            None
        }
        (None, None) => None,
    };
    if radius.is_some_and(|(nut, end)| nut > end) {
        form.add_error(
            "radius_end",
            "The board is no rounder at its end than at the nut: this radius is the larger one.",
        );
    }
    if body_fret > frets {
        form.add_error("body_fret", "The body-joint fret cannot lie beyond the last fret.");
    }
    let scale_bass = form.length("scale_bass", unit);
    if let Some(bass) = scale_bass
        && !(SCALE_UM.0..=SCALE_UM.1).contains(&bass.0)
    {
        let words = format!("{} cannot be a scale length; leave it empty where all strings have one.", bass.in_mm());
        form.add_error("scale_bass", words);
    }
    let screw_pitch = form.length("screw_pitch", unit);
    if screw_pitch.is_some_and(|pitch| !(SCREW_PITCH_UM.0..=SCREW_PITCH_UM.1).contains(&pitch.0)) {
        form.add_error("screw_pitch", "A full turn makes between 0.1 and 5 mm of height. Leave it empty if not known.");
    }
    let posts = posts(form, unit);
    let top_width = form.length("top_width", unit);
    for (name, length, what) in [
        ("radius_nut", radius.map(|(nut, _)| nut), "A radius is more than nothing. Leave it empty for a flat board."),
        ("radius_end", radius.map(|(_, end)| end), "A radius is more than nothing. Leave it empty for the same."),
        ("top_width", top_width, "A top is wider than nothing. Leave it empty where it is not known."),
    ] {
        if length.is_some_and(|length| length.0 <= 0) && form.error(name).is_none() {
            form.add_error(name, what);
        }
    }
    let entry = InstrumentEntry {
        family: family.unwrap_or(Family::Other),
        maker: form.line("maker", LINE),
        model: form.line("model", LINE),
        serial: form.line("serial", LINE),
        year: form.number("year", 1500..=2200),
        finish: form.line("finish", LINE),
        handedness: handedness.unwrap_or(Handedness::Right),
        scale: scale.unwrap_or(Micrometres(0)),
        scale_bass,
        frets: frets.unwrap_or(0),
        body_fret: body_fret.unwrap_or(0),
        radius,
        courses: courses.unwrap_or(0),
        truss_rod: truss_rod.unwrap_or(TrussRod::None),
        neck_joint: form.id("neck_joint"),
        bridge: form.line("bridge", LINE),
        bridge_kind: form.id("bridge_kind"),
        screw_pitch,
        posts,
        nut: form.id("nut"),
        saddle: form.line("saddle", LINE),
        nut_material: form.line("nut_material", LINE),
        saddle_material: form.line("saddle_material", LINE),
        string_set: form.line("string_set", LINE),
        top_wood: form.line("top_wood", LINE),
        top_width,
        note: form.area("note", TEXT),
        strings: read_strings(form, context),
    };
    (!form.has_errors()).then_some(entry)
}

/// Both posts, the treble one first, or none.
fn posts(form: &mut FormData, unit: LengthUnit) -> Option<(Micrometres, Micrometres)> {
    let (treble, bass) = (form.signed_length("post_treble", unit), form.signed_length("post_bass", unit));
    for (name, post) in [("post_treble", treble), ("post_bass", bass)] {
        if post.is_some_and(|post| post.0.abs() > FARTHEST_POST_UM) {
            form.add_error(name, "No post stands farther than half a metre from string 1.");
        }
    }
    let named = |name: &str| !form.value(name).trim().is_empty();
    match (treble, bass) {
        (Some(treble), Some(bass)) if treble < bass => Some((treble, bass)),
        (Some(_), Some(_)) => {
            form.add_error("post_bass", "The bass post stands farther from string 1 than the treble post.");
            None
        }
        (Some(_), None) if !named("post_bass") => {
            form.add_error("post_bass", "Type where the bass post stands too, or leave both empty.");
            None
        }
        (None, Some(_)) if !named("post_treble") => {
            form.add_error("post_treble", "Type where the treble post stands too, or leave both empty.");
            None
        }
        _ => None,
    }
}

fn read_strings(form: &mut FormData, context: &RequestContext) -> Vec<InstrumentString> {
    let unit = length_unit(&context.settings);
    let mut strings = Vec::new();
    for number in 1..=MOST_STRINGS {
        let pitch = form.line(&format!("pitch_{number}"), 8);
        if pitch.is_empty() {
            continue;
        }
        let pitch_field = format!("pitch_{number}");
        if crate::setup::tension::pitch_hz(&pitch, 440.0).is_none() {
            form.add_error(&pitch_field, "Type a note name with its octave, such as E4, F#3 or Bb1.");
        }
        let density_field = format!("density_{number}");
        // read as a length in mm to share its decimal comma; the unit beside the field is g/m
        let density = form.length(&density_field, crate::quantity::LengthUnit::Millimetre).map(Micrometres::mm);
        let material_field = format!("material_{number}");
        let gauge = form.length(&format!("gauge_{number}"), unit);
        if gauge.is_some_and(|gauge| !(100..=5000).contains(&gauge.0)) {
            form.add_error(&format!("gauge_{number}"), "A string is between 0.1 and 5 mm thick.");
        }
        let core = form.length(&format!("core_{number}"), unit);
        if core.is_some_and(|core| !(100..=5000).contains(&core.0) || gauge.is_some_and(|gauge| core > gauge)) {
            form.add_error(
                &format!("core_{number}"),
                "A core is at least 0.1 mm thick, and no thicker than its string.",
            );
        }
        strings.push(InstrumentString {
            pitch,
            gauge,
            core,
            material: form.value(&material_field).parse().ok(),
            wound: form.is(&format!("wound_{number}"), "yes"),
            linear_density_ug_per_m: density.and_then(micrograms_per_metre),
            position: form.length(&format!("position_{number}"), unit),
            starts_at_fret: form.number(&format!("starts_at_fret_{number}"), 1..=LATEST_START),
            course: form.number(&format!("course_{number}"), 1..=MOST_COURSES),
        });
    }
    if !courses_count_up(&strings) && !form.has_errors() {
        form.add_error(
            "course_1",
            "Give every string its course, counting up from 1 (1, 1, 2, 2, 3, 3), or none of them.",
        );
    }
    if strings.is_empty() {
        form.add_error("pitch_1", "An instrument has at least one string: type its note.");
    }
    strings
}
