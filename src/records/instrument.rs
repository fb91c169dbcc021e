//! Instruments and their strings.

mod hands;

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;
use sqlx::types::Json;
use time::Date;

use super::column::as_json;
use super::event::{self, AuditContext, NewEvent};
use super::family::{
    BridgeKind, Family, Handedness, NeckJoint, Nut, StringMaterial, TrussRod, UsualInstrument, instrument_title, usual,
};
use super::fold::canonical;
use super::{CustomerId, Error, InstrumentId, Result, WriteTx};
use crate::quantity::Micrometres;

pub use hands::{FormerlyOwned, PastOwner, SameSerial, change_hands, formerly_of, past_owners, with_serial};
pub(super) use hands::{anonymise_notes, move_all, was_never_theirs};

/// The shortest and the longest scale, micrometres.
pub const SCALE_UM: (i64, i64) = (200_000, 1_500_000);
/// The least and the most height that one full turn of a screw, wheel or post makes, micrometres.
pub const SCREW_PITCH_UM: (i64, i64) = (100, 5_000);
/// Farther from string 1 no post stands, micrometres.
pub const FARTHEST_POST_UM: i64 = 500_000;
/// The last fret at which a short string begins.
pub const LATEST_START: i64 = 9;
/// Courses of one instrument.
pub const MOST_COURSES: i64 = 24;

/// What is written down of an instrument.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct InstrumentEntry {
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub serial: String,
    pub year: Option<i64>,
    pub finish: String,
    pub handedness: Handedness,
    pub scale: Micrometres,
    /// Of the last string of a fanned board; `scale` is then that of string 1.
    pub scale_bass: Option<Micrometres>,
    pub frets: i64,
    pub body_fret: i64,
    /// Radius of the board at the nut and at its end; both or neither.
    pub radius: Option<(Micrometres, Micrometres)>,
    pub courses: i64,
    pub truss_rod: TrussRod,
    /// How the neck is joined; `None` where nobody said.
    pub neck_joint: Option<NeckJoint>,
    pub bridge: String,
    /// What holds the strings' heights there; `None` where nobody said: what is usual for the family.
    pub bridge_kind: Option<BridgeKind>,
    /// Height that one full turn of a screw, wheel or post makes.
    pub screw_pitch: Option<Micrometres>,
    /// Where two posts stand across, treble and bass, from string 1; minus is outside of it.
    pub posts: Option<(Micrometres, Micrometres)>,
    /// What the strings run over at the head; `None` where nobody said: slots.
    pub nut: Option<Nut>,
    pub saddle: String,
    pub nut_material: String,
    pub saddle_material: String,
    pub string_set: String,
    pub top_wood: String,
    pub top_width: Option<Micrometres>,
    pub note: String,
    /// From string 1, the thinnest of a guitar.
    pub strings: Vec<InstrumentString>,
}

/// One string on an instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct InstrumentString {
    pub pitch: String,
    pub gauge: Option<Micrometres>,
    pub core: Option<Micrometres>,
    pub material: Option<StringMaterial>,
    pub wound: bool,
    /// Micrograms per metre: 1 g/m is 1 000 000.
    pub linear_density_ug_per_m: Option<i64>,
    /// Across the saddle, from string 1.
    pub position: Option<Micrometres>,
    /// The fret at which a short string begins.
    #[serde(default)]
    pub starts_at_fret: Option<i64>,
    /// The course it belongs to, from 1; of every string or of none.
    #[serde(default)]
    pub course: Option<i64>,
}

impl InstrumentString {
    /// The string by itself, wherever it is put on.
    pub fn unplaced(&self) -> Self {
        Self { position: None, starts_at_fret: None, course: None, ..self.clone() }
    }
}

/// An instrument.
#[derive(Debug, Clone, Serialize)]
pub struct Instrument {
    /// Key.
    pub id: InstrumentId,
    /// Whose it is now.
    pub customer_id: CustomerId,
    /// What is known of it.
    pub entry: InstrumentEntry,
    /// The day it was put away, if it was.
    pub archived_on: Option<Date>,
    /// For optimistic locking.
    pub version: i64,
}

impl InstrumentEntry {
    /// A usual instrument of a family, to be corrected.
    pub fn usual(family: Family) -> Self {
        let usual = usual(family);
        let radius = usual.radius_mm.and_then(Micrometres::from_mm);
        Self {
            family,
            maker: String::new(),
            model: String::new(),
            serial: String::new(),
            year: None,
            finish: String::new(),
            handedness: Handedness::Right,
            // the start has seen that it is a length
            scale: Micrometres::from_mm(usual.scale_mm).unwrap_or(Micrometres(0)),
            scale_bass: None,
            frets: usual.frets,
            body_fret: usual.body_fret,
            radius: radius.map(|radius| (radius, radius)),
            courses: usual.courses,
            truss_rod: usual.truss_rod,
            neck_joint: None,
            bridge: usual.bridge.clone(),
            bridge_kind: None,
            screw_pitch: None,
            posts: None,
            nut: None,
            saddle: usual.saddle.clone(),
            nut_material: usual.nut_material.clone(),
            saddle_material: usual.saddle_material.clone(),
            string_set: usual.string_set.clone(),
            top_wood: String::new(),
            top_width: None,
            note: String::new(),
            strings: usual_strings(usual),
        }
    }

    /// "Alderbrook OM-2, 2014": what tells it from its neighbours on the rack.
    pub fn title(&self) -> String {
        instrument_title(self.family, &self.maker, &self.model)
    }
}

/// Outer strings at the spread, the others with equal steps between centres.
fn usual_strings(usual: &UsualInstrument) -> Vec<InstrumentString> {
    let gaps = f64::from(u32::try_from(usual.strings.len().saturating_sub(1)).unwrap_or(0)).max(1.0);
    let places = (0_u32..).map(f64::from);
    let strings = usual.strings.iter().zip(places).map(|(string, place)| InstrumentString {
        pitch: string.pitch.clone(),
        gauge: Micrometres::from_mm(string.gauge_mm),
        core: string.core_mm.and_then(Micrometres::from_mm),
        material: Some(string.material),
        wound: string.wound,
        linear_density_ug_per_m: string.linear_density_g_m.and_then(micrograms_per_metre),
        position: Micrometres::from_mm(usual.spread_at_saddle_mm * place / gaps),
        starts_at_fret: string.starts_at_fret,
        course: string.course,
    });
    strings.collect()
}

/// g/m to the integer the books keep, to the milligram; `None` where that is not a mass per length.
pub fn micrograms_per_metre(g_m: f64) -> Option<i64> {
    // thousandths, as of a millimetre: a length in micrograms would end at ten grams
    Micrometres::from_mm(g_m).map(|milligrams| milligrams.0 * 1000).filter(|found| *found > 0)
}

/// Adds an instrument; the same form sent twice adds one.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    customer: CustomerId,
    form_key: &str,
    entry: &InstrumentEntry,
) -> Result<InstrumentId> {
    if let Some(id) =
        sqlx::query_scalar!(r#"SELECT id AS "id: InstrumentId" FROM instrument WHERE form_key = ?"#, form_key)
            .fetch_optional(&mut **tx)
            .await?
    {
        return Ok(id);
    }
    let (id, added) = insert(tx, by, customer, form_key, entry).await?;
    event::write_all(tx, by, &[added]).await?;
    Ok(id)
}

/// The rows of a new instrument; the event that tells of it is the caller's to write, with others.
pub(super) async fn insert(
    tx: &mut WriteTx,
    by: &AuditContext,
    customer: CustomerId,
    form_key: &str,
    entry: &InstrumentEntry,
) -> Result<(InstrumentId, NewEvent)> {
    let id = InstrumentId::new();
    let entry = tidy(entry)?;
    let (radius_nut, radius_end) = entry.radius.unzip();
    let (post_treble, post_bass) = entry.posts.unzip();
    sqlx::query!(
        "INSERT INTO instrument (id, customer_id, family, maker, model, serial, year, finish, handedness, scale_um, frets,
             body_fret, radius_nut_um, radius_end_um, courses, truss_rod, bridge, saddle, nut_material, saddle_material,
             string_set, top_wood, top_width_um, note, created_at, form_key, scale_bass_um, neck_joint, bridge_kind,
             screw_pitch_um, post_treble_um, post_bass_um, nut)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        customer,
        entry.family,
        entry.maker,
        entry.model,
        entry.serial,
        entry.year,
        entry.finish,
        entry.handedness,
        entry.scale,
        entry.frets,
        entry.body_fret,
        radius_nut,
        radius_end,
        entry.courses,
        entry.truss_rod,
        entry.bridge,
        entry.saddle,
        entry.nut_material,
        entry.saddle_material,
        entry.string_set,
        entry.top_wood,
        entry.top_width,
        entry.note,
        by.at,
        form_key,
        entry.scale_bass,
        entry.neck_joint,
        entry.bridge_kind,
        entry.screw_pitch,
        post_treble,
        post_bass,
        entry.nut,
    )
    .execute(&mut **tx)
    .await?;
    write_strings(tx, id, &entry.strings).await?;
    Ok((id, NewEvent::made("instrument added", "instrument", id.0, &entry)?))
}

/// Saves a changed instrument with its strings. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: InstrumentId,
    version: i64,
    entry: &InstrumentEntry,
) -> Result<()> {
    let before = find(tx, id).await?;
    let entry = tidy(entry)?;
    let (radius_nut, radius_end) = entry.radius.unzip();
    let (post_treble, post_bass) = entry.posts.unzip();
    let done = sqlx::query!(
        "UPDATE instrument SET family = ?, maker = ?, model = ?, serial = ?, year = ?, finish = ?, handedness = ?,
             scale_um = ?, frets = ?, body_fret = ?, radius_nut_um = ?, radius_end_um = ?, courses = ?, truss_rod = ?,
             bridge = ?, saddle = ?, nut_material = ?, saddle_material = ?, string_set = ?, top_wood = ?,
             top_width_um = ?, note = ?, scale_bass_um = ?, neck_joint = ?, bridge_kind = ?, screw_pitch_um = ?,
             post_treble_um = ?, post_bass_um = ?, nut = ?, version = version + 1
         WHERE id = ? AND version = ?",
        entry.family,
        entry.maker,
        entry.model,
        entry.serial,
        entry.year,
        entry.finish,
        entry.handedness,
        entry.scale,
        entry.frets,
        entry.body_fret,
        radius_nut,
        radius_end,
        entry.courses,
        entry.truss_rod,
        entry.bridge,
        entry.saddle,
        entry.nut_material,
        entry.saddle_material,
        entry.string_set,
        entry.top_wood,
        entry.top_width,
        entry.note,
        entry.scale_bass,
        entry.neck_joint,
        entry.bridge_kind,
        entry.screw_pitch,
        post_treble,
        post_bass,
        entry.nut,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "instrument")?;
    sqlx::query!("DELETE FROM instrument_string WHERE instrument_id = ?", id).execute(&mut **tx).await?;
    write_strings(tx, id, &entry.strings).await?;
    event::write(tx, by, "instrument changed", "instrument", id.0, Some(&before.entry), Some(&entry)).await
}

/// Other strings are on it now. Where each lies across the saddle, begins and belongs stays. `version` is the one that
/// was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn put_strings_on(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: InstrumentId,
    version: i64,
    set_name: &str,
    strings: &[InstrumentString],
) -> Result<()> {
    let before = find(tx, id).await?;
    let name = canonical(set_name);
    let done = sqlx::query!(
        "UPDATE instrument SET string_set = ?, version = version + 1 WHERE id = ? AND version = ?",
        name,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "instrument")?;
    let strings = in_the_places_of(&before.entry.strings, strings);
    sqlx::query!("DELETE FROM instrument_string WHERE instrument_id = ?", id).execute(&mut **tx).await?;
    write_strings(tx, id, &strings).await?;
    let worn = (&before.entry.string_set, &before.entry.strings);
    event::write(tx, by, "strings put on", "instrument", id.0, Some(&worn), Some(&(&name, &strings))).await
}

/// Puts an instrument away (sold, scrapped), or takes it out again (`None`). It is still found.
///
/// # Errors
/// Refused while it is in the house; [`Error::ChangedMeanwhile`].
pub async fn archive(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: InstrumentId,
    version: i64,
    day: Option<Date>,
) -> Result<()> {
    let open = sqlx::query_scalar!("SELECT number FROM job WHERE instrument_id = ? AND is_open = 1 LIMIT 1", id)
        .fetch_optional(&mut **tx)
        .await?;
    if let (Some(number), true) = (open, day.is_some()) {
        return Err(Error::refused(format!("It is in the house, as {number}. Hand it over first.")));
    }
    let done = sqlx::query!(
        "UPDATE instrument SET archived_on = ?, version = version + 1 WHERE id = ? AND version = ?",
        day,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "instrument")?;
    let deed = if day.is_some() { "instrument archived" } else { "instrument taken out of the archive" };
    event::write(tx, by, deed, "instrument", id.0, None, Some(&day)).await
}

/// Strings in the places of those they are put on for. With another number of strings the courses are others too.
fn in_the_places_of(before: &[InstrumentString], strings: &[InstrumentString]) -> Vec<InstrumentString> {
    let as_many = before.len() == strings.len();
    let placed = strings.iter().enumerate().map(|(place, string)| {
        let there = before.get(place);
        InstrumentString {
            position: there.and_then(|there| there.position),
            starts_at_fret: there.and_then(|there| there.starts_at_fret),
            course: there.and_then(|there| there.course).filter(|_| as_many),
            ..string.clone()
        }
    });
    placed.collect()
}

async fn write_strings(tx: &mut WriteTx, id: InstrumentId, strings: &[InstrumentString]) -> Result<()> {
    // one statement for them all, from string 1
    let strings = as_json(strings)?;
    sqlx::query!(
        "INSERT INTO instrument_string (instrument_id, number, pitch, gauge_um, core_um, material, wound,
             linear_density_ug_per_m, position_um, starts_at_fret, course)
         SELECT ?, key + 1, value ->> 'pitch', value ->> 'gauge', value ->> 'core', value ->> 'material',
                value ->> 'wound', value ->> 'linear_density_ug_per_m', value ->> 'position',
                value ->> 'starts_at_fret', value ->> 'course'
         FROM json_each(?)",
        id,
        strings,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// One instrument with its strings.
pub async fn find(connection: &mut SqliteConnection, id: InstrumentId) -> Result<Instrument> {
    find_all(connection, &[id]).await?.pop().ok_or(Error::NotFound("instrument"))
}

/// Some instruments with their strings, in the order of their keys. One statement, however many they are.
pub(super) async fn find_all(connection: &mut SqliteConnection, ids: &[InstrumentId]) -> Result<Vec<Instrument>> {
    let ids = as_json(ids)?;
    let rows = sqlx::query!(
        r#"SELECT id AS "id: InstrumentId", customer_id AS "customer_id: CustomerId", family AS "family: Family", maker, model, serial, year, finish,
                  handedness AS "handedness: Handedness", scale_um AS "scale: Micrometres", frets, body_fret,
                  radius_nut_um AS "radius_nut: Micrometres", radius_end_um AS "radius_end: Micrometres", courses,
                  truss_rod AS "truss_rod: TrussRod", bridge, saddle, nut_material, saddle_material, string_set, top_wood,
                  top_width_um AS "top_width: Micrometres", note, scale_bass_um AS "scale_bass: Micrometres",
                  neck_joint AS "neck_joint: NeckJoint", bridge_kind AS "bridge_kind: BridgeKind",
                  screw_pitch_um AS "screw_pitch: Micrometres", post_treble_um AS "post_treble: Micrometres",
                  post_bass_um AS "post_bass: Micrometres", nut AS "nut: Nut", archived_on AS "archived_on: Date", version,
                  (SELECT json_group_array(json_object('pitch', pitch, 'gauge', gauge_um, 'core', core_um, 'material', material,
                              'wound', json(iif(wound, 'true', 'false')), 'linear_density_ug_per_m', linear_density_ug_per_m,
                              'position', position_um, 'starts_at_fret', starts_at_fret, 'course', course) ORDER BY number)
                   FROM instrument_string WHERE instrument_id = instrument.id) AS "strings!: Json<Vec<InstrumentString>>"
           FROM instrument WHERE id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY id"#,
        ids,
    )
    .fetch_all(&mut *connection)
    .await?;
    let found = rows.into_iter().map(|row| Instrument {
        id: row.id,
        customer_id: row.customer_id,
        entry: InstrumentEntry {
            family: row.family,
            maker: row.maker,
            model: row.model,
            serial: row.serial,
            year: row.year,
            finish: row.finish,
            handedness: row.handedness,
            scale: row.scale,
            scale_bass: row.scale_bass,
            frets: row.frets,
            body_fret: row.body_fret,
            radius: row.radius_nut.zip(row.radius_end),
            courses: row.courses,
            truss_rod: row.truss_rod,
            neck_joint: row.neck_joint,
            bridge: row.bridge,
            bridge_kind: row.bridge_kind,
            screw_pitch: row.screw_pitch,
            posts: row.post_treble.zip(row.post_bass),
            nut: row.nut,
            saddle: row.saddle,
            nut_material: row.nut_material,
            saddle_material: row.saddle_material,
            string_set: row.string_set,
            top_wood: row.top_wood,
            top_width: row.top_width,
            note: row.note,
            strings: row.strings.0,
        },
        archived_on: row.archived_on,
        version: row.version,
    });
    Ok(found.collect())
}

/// The same, from the reading side.
pub async fn load(pool: &sqlx::SqlitePool, id: InstrumentId) -> Result<Instrument> {
    let mut connection = pool.acquire().await?;
    find(&mut connection, id).await
}

/// An instrument in a list.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct InstrumentSummary {
    pub id: InstrumentId,
    pub family: Family,
    pub maker: String,
    pub model: String,
    pub serial: String,
    pub year: Option<i64>,
    pub archived_on: Option<Date>,
    /// The number of its latest job.
    pub latest_job: Option<String>,
    /// The number under which it is in the house now.
    pub open_job: Option<String>,
    /// How many strings it wears.
    pub strings: i64,
}

impl InstrumentSummary {
    /// What it is called.
    pub fn title(&self) -> String {
        instrument_title(self.family, &self.maker, &self.model)
    }
}

impl FormerlyOwned {
    /// What it is called.
    pub fn title(&self) -> String {
        instrument_title(self.family, &self.maker, &self.model)
    }
}

/// The instruments of one customer.
pub async fn of_customer(
    executor: impl sqlx::SqliteExecutor<'_>,
    customer: CustomerId,
) -> Result<Vec<InstrumentSummary>> {
    Ok(sqlx::query_as!(
        InstrumentSummary,
        r#"SELECT id AS "id: InstrumentId", family AS "family: Family", maker, model, serial, year,
                  archived_on AS "archived_on: Date",
                  (SELECT job.number FROM job WHERE job.instrument_id = instrument.id
                   ORDER BY job.checked_in_at DESC LIMIT 1) AS "latest_job?: String",
                  (SELECT job.number FROM job WHERE job.instrument_id = instrument.id AND job.is_open = 1
                   LIMIT 1) AS "open_job?: String",
                  (SELECT count(*) FROM instrument_string WHERE instrument_id = instrument.id) AS "strings!: i64"
           FROM instrument WHERE customer_id = ? ORDER BY archived_on IS NOT NULL, maker, model"#,
        customer,
    )
    .fetch_all(executor)
    .await?)
}

/// Whether the courses are such that the plan can go by them.
pub fn courses_count_up(strings: &[InstrumentString]) -> bool {
    let given: Vec<i64> = strings.iter().filter_map(|string| string.course).collect();
    let in_order = given.first() == Some(&1) && given.windows(2).all(|pair| (0..=1).contains(&(pair[1] - pair[0])));
    given.is_empty() || (given.len() == strings.len() && in_order)
}

fn tidy(entry: &InstrumentEntry) -> Result<InstrumentEntry> {
    if entry.body_fret > entry.frets {
        return Err(Error::refused("The body-joint fret cannot lie beyond the last fret: correct one of the two."));
    }
    if let Some((nut, end)) = entry.radius
        && nut > end
    {
        return Err(Error::refused(
            "The board's radius at the nut cannot be larger than at its end: correct one of the two.",
        ));
    }
    if !courses_count_up(&entry.strings) {
        return Err(Error::refused(
            "Courses are given of every string or of none, and count up from 1: 1, 1, 2, 2, 3, 3.",
        ));
    }
    Ok(InstrumentEntry {
        maker: canonical(&entry.maker),
        model: canonical(&entry.model),
        serial: canonical(&entry.serial),
        finish: canonical(&entry.finish),
        bridge: canonical(&entry.bridge),
        saddle: canonical(&entry.saddle),
        nut_material: canonical(&entry.nut_material),
        saddle_material: canonical(&entry.saddle_material),
        string_set: canonical(&entry.string_set),
        top_wood: canonical(&entry.top_wood),
        note: canonical(&entry.note),
        ..entry.clone()
    })
}
