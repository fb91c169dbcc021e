//! The shop's string sets, and what another set would do to an instrument.

use sqlx::SqliteConnection;
use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use super::event::{self, AuditContext};
use super::family::{Family, StringMaterial, UsualString, usual};
use super::fold::canonical;
use super::instrument::{InstrumentEntry, InstrumentString, micrograms_per_metre};
use super::plan::{engine_family, engine_material};
use super::reading::{ReadingKind, ReadingSet};
use super::seed_data::{self, UnusableSeedData};
use super::{Error, Result, StringSetId, WriteTx};
use crate::quantity::Micrometres;
use crate::setup::clearance::StringHeights;
use crate::setup::frame::ratio;
use crate::setup::string_change::{ChangeString, StringChangeInput, WrapMetal};

/// Strings of one set, at most.
pub const MOST_STRINGS: usize = 12;

/// What is written down of a set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StringSetEntry {
    /// As the shop calls it.
    pub name: String,
    /// For what it is made.
    pub family: Family,
    /// No longer offered.
    pub archived: bool,
    /// From string 1, the thinnest of a guitar.
    pub strings: Vec<SetString>,
}

/// One string of a set.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct SetString {
    pub pitch: String,
    pub material: StringMaterial,
    pub gauge: Micrometres,
    pub wound: bool,
    pub core: Option<Micrometres>,
    pub wrap: Option<Micrometres>,
    /// Micrograms per metre: 1 g/m is 1 000 000.
    pub linear_density_ug_per_m: Option<i64>,
}

/// A set.
#[derive(Debug, Clone, Serialize)]
pub struct StringSet {
    /// Key.
    pub id: StringSetId,
    /// What is known of it.
    pub entry: StringSetEntry,
    /// For optimistic locking.
    pub version: i64,
}

/// `seed-data/string-sets.toml`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct UsualSets {
    set: Vec<UsualSet>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct UsualSet {
    key: String,
    name: String,
    family: Family,
    strings: Vec<UsualString>,
}

static USUAL: LazyLock<std::result::Result<UsualSets, UnusableSeedData>> = LazyLock::new(|| {
    seed_data::read("string-sets.toml", include_str!("../../seed-data/string-sets.toml"), |sets: &UsualSets| {
        let lacking = sets.set.iter().find(|set| set.strings.iter().filter_map(from_usual).count() == 0);
        lacking.map(|set| format!("“{}” has no strings", set.key))
    })
});

/// Whether the usual sets can be read.
pub(super) fn check() -> std::result::Result<(), UnusableSeedData> {
    USUAL.as_ref().map(|_| ()).map_err(Clone::clone)
}

/// All sets with their strings: those offered first, by family and name.
pub async fn all(connection: &mut SqliteConnection) -> Result<Vec<StringSet>> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id: StringSetId", name, family AS "family: Family", archived AS "archived: bool", version
           FROM string_set ORDER BY archived, family, name"#
    )
    .fetch_all(&mut *connection)
    .await?;
    let strings = sqlx::query!(
        r#"SELECT string_set_id AS "string_set_id: StringSetId", pitch, material AS "material: StringMaterial",
                  gauge_um AS "gauge: Micrometres", wound AS "wound: bool", core_um AS "core: Micrometres",
                  wrap_um AS "wrap: Micrometres", linear_density_ug_per_m
           FROM string_set_string ORDER BY string_set_id, number"#
    )
    .fetch_all(&mut *connection)
    .await?;
    let mut of_set: BTreeMap<StringSetId, Vec<SetString>> = BTreeMap::new();
    for row in strings {
        of_set.entry(row.string_set_id).or_default().push(SetString {
            pitch: row.pitch,
            material: row.material,
            gauge: row.gauge,
            wound: row.wound,
            core: row.core,
            wrap: row.wrap,
            linear_density_ug_per_m: row.linear_density_ug_per_m,
        });
    }
    let sets = rows.into_iter().map(|row| StringSet {
        id: row.id,
        entry: StringSetEntry {
            name: row.name,
            family: row.family,
            archived: row.archived,
            strings: of_set.remove(&row.id).unwrap_or_default(),
        },
        version: row.version,
    });
    Ok(sets.collect())
}

/// The same, from the reading side.
pub async fn read_all(pool: &sqlx::SqlitePool) -> Result<Vec<StringSet>> {
    let mut connection = pool.acquire().await?;
    all(&mut connection).await
}

/// One set.
pub async fn find(connection: &mut SqliteConnection, id: StringSetId) -> Result<StringSet> {
    all(connection).await?.into_iter().find(|set| set.id == id).ok_or(Error::NotFound("string set"))
}

/// The same, from the reading side.
pub async fn load(pool: &sqlx::SqlitePool, id: StringSetId) -> Result<StringSet> {
    let mut connection = pool.acquire().await?;
    find(&mut connection, id).await
}

/// Adds a set; the same form sent twice adds one.
pub async fn add(tx: &mut WriteTx, by: &AuditContext, form_key: &str, entry: &StringSetEntry) -> Result<StringSetId> {
    if let Some(id) =
        sqlx::query_scalar!(r#"SELECT id AS "id: StringSetId" FROM string_set WHERE form_key = ?"#, form_key)
            .fetch_optional(&mut **tx)
            .await?
    {
        return Ok(id);
    }
    let id = StringSetId::new();
    let name = canonical(&entry.name);
    sqlx::query!(
        "INSERT INTO string_set (id, name, family, archived, created_at, form_key) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        name,
        entry.family,
        entry.archived,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    write_strings(tx, id, &entry.strings).await?;
    event::write(tx, by, "string set added", "string_set", id.0, None, Some(entry)).await?;
    Ok(id)
}

/// Saves a changed set. Instruments keep the strings that were put on them. `version` is the one that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: StringSetId,
    version: i64,
    entry: &StringSetEntry,
) -> Result<()> {
    let before = find(tx, id).await?;
    let name = canonical(&entry.name);
    let done = sqlx::query!(
        "UPDATE string_set SET name = ?, family = ?, archived = ?, version = version + 1 WHERE id = ? AND version = ?",
        name,
        entry.family,
        entry.archived,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "string set")?;
    sqlx::query!("DELETE FROM string_set_string WHERE string_set_id = ?", id).execute(&mut **tx).await?;
    write_strings(tx, id, &entry.strings).await?;
    event::write(tx, by, "string set changed", "string_set", id.0, Some(&before.entry), Some(entry)).await
}

/// Loads the usual sets that this shop has never had; those it changed or archived are left alone. Answers
/// how many were added.
pub async fn load_usual(tx: &mut WriteTx, by: &AuditContext) -> Result<usize> {
    let mut added = 0;
    for set in &seed_data::compiled_in(&USUAL).set {
        let form_key = format!("usual-{}", set.key);
        let known = sqlx::query_scalar!("SELECT count(*) FROM string_set WHERE form_key = ?", form_key)
            .fetch_one(&mut **tx)
            .await?;
        if known == 0 {
            let strings = set.strings.iter().filter_map(from_usual).collect();
            let entry = StringSetEntry { name: set.name.clone(), family: set.family, archived: false, strings };
            add(tx, by, &form_key, &entry).await?;
            added += 1;
        }
    }
    Ok(added)
}

/// The usual strings of a family: what a new set begins with.
pub fn usual_strings(family: Family) -> Vec<SetString> {
    usual(family).strings.iter().filter_map(from_usual).collect()
}

fn from_usual(string: &UsualString) -> Option<SetString> {
    Some(SetString {
        pitch: string.pitch.clone(),
        material: string.material,
        gauge: Micrometres::from_mm(string.gauge_mm)?,
        wound: string.wound,
        core: string.core_mm.and_then(Micrometres::from_mm),
        wrap: None,
        linear_density_ug_per_m: string.linear_density_g_m.and_then(micrograms_per_metre),
    })
}

async fn write_strings(tx: &mut WriteTx, id: StringSetId, strings: &[SetString]) -> Result<()> {
    for (number, string) in (1_i64..).zip(strings) {
        sqlx::query!(
            "INSERT INTO string_set_string (string_set_id, number, pitch, material, gauge_um, wound, core_um, wrap_um,
                 linear_density_ug_per_m)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            id,
            number,
            string.pitch,
            string.material,
            string.gauge,
            string.wound,
            string.core,
            string.wrap,
            string.linear_density_ug_per_m,
        )
        .execute(&mut **tx)
        .await?;
    }
    Ok(())
}

impl SetString {
    /// The string as it stands on an instrument; of a wound one the weight as the engine reckoned it, g/m.
    pub fn on_instrument(&self, linear_density_g_m: f64) -> InstrumentString {
        let reckoned = || self.wound.then(|| micrograms_per_metre(linear_density_g_m)).flatten();
        InstrumentString {
            pitch: self.pitch.clone(),
            gauge: Some(self.gauge),
            core: self.core,
            material: Some(self.material),
            wound: self.wound,
            linear_density_ug_per_m: self.linear_density_ug_per_m.or_else(reckoned),
            position: None,
            starts_at_fret: None,
            course: None,
        }
    }

    /// The string as the engine takes it.
    pub fn for_engine(&self, family: Family) -> ChangeString {
        ChangeString {
            pitch: self.pitch.clone(),
            material: Some(engine_material(self.material)),
            diameter_mm: Some(self.gauge.mm()),
            wound: self.wound,
            core_diameter_mm: self.core.map(Micrometres::mm),
            wrap_diameter_mm: self.wrap.map(Micrometres::mm),
            wrap_metal: self.wound.then(|| wrap_metal(family)),
            linear_density_g_m: self.linear_density_ug_per_m.map(g_m),
            scale_mm: None,
        }
    }
}

fn g_m(micrograms: i64) -> f64 {
    Micrometres(micrograms / 1000).mm()
}

/// Steel under pickups, bronze elsewhere: common practice, no source.
fn wrap_metal(family: Family) -> WrapMetal {
    match family {
        Family::Electric | Family::Bass => WrapMetal::Steel,
        _ => WrapMetal::Bronze,
    }
}

/// What the engine is asked: an instrument with the strings on it, a set to come, and the newest readings.
pub fn change_input(
    instrument: &InstrumentEntry,
    next: &[SetString],
    newest: Option<&ReadingSet>,
) -> StringChangeInput {
    let scale_mm = instrument.scale.mm();
    let scaled = |(place, string): (usize, ChangeString)| ChangeString {
        scale_mm: sounding_scale_mm(instrument, place),
        ..string
    };
    let heights: Option<Vec<StringHeights>> = newest.and_then(|set| {
        let rows = (1_i64..).zip(&instrument.strings).map(|(number, _)| {
            Some(StringHeights {
                first_fret_mm: set.mean(ReadingKind::Height1, number)?,
                action_12_mm: set.mean(ReadingKind::Height12, number)?,
            })
        });
        rows.collect()
    });
    let now = instrument.strings.iter().map(|string| ChangeString {
        pitch: string.pitch.clone(),
        material: string.material.map(engine_material),
        diameter_mm: string.gauge.map(Micrometres::mm),
        wound: string.wound,
        core_diameter_mm: string.core.map(Micrometres::mm),
        wrap_diameter_mm: None,
        wrap_metal: string.wound.then(|| wrap_metal(instrument.family)),
        linear_density_g_m: string.linear_density_ug_per_m.map(g_m),
        scale_mm: None,
    });
    StringChangeInput {
        scale_mm,
        frets: usize::try_from(instrument.frets).unwrap_or(0),
        a4_hz: 440.0,
        family: Some(engine_family(instrument.family)),
        now: now.enumerate().map(scaled).collect(),
        next: next.iter().map(|string| string.for_engine(instrument.family)).enumerate().map(scaled).collect(),
        heights,
        relief_mm: newest.and_then(|set| set.mean(ReadingKind::Relief, 0)).unwrap_or(0.0),
        body_fret: usize::try_from(instrument.body_fret).ok(),
        relief_pairs: Vec::new(),
        break_angle: None,
        height_over_top_mm: None,
    }
}

/// From where a short string begins to the saddle, mm; `None` where a string runs the whole scale.
fn sounding_scale_mm(instrument: &InstrumentEntry, place: usize) -> Option<f64> {
    let start = instrument.strings.get(place)?.starts_at_fret?;
    Some(instrument.scale.mm() / ratio(usize::try_from(start).ok()?))
}

#[cfg(test)]
mod tests {
    use super::{USUAL, from_usual};
    use crate::records::family::{Family, usual};
    use crate::records::seed_data::compiled_in;

    #[test]
    fn every_family_has_usual_sets_of_its_number_of_strings() {
        for family in Family::ALL.iter().filter(|family| **family != Family::Other) {
            let strings = usual(*family).strings.len();
            let sets: Vec<_> = compiled_in(&USUAL).set.iter().filter(|set| set.family == *family).collect();
            assert!(sets.len() >= 2, "{family}");
            for set in sets {
                assert_eq!(set.strings.iter().filter_map(from_usual).count(), strings, "{}", set.key);
            }
        }
    }
}
