//! How far each tool scatters in this shop's hands, pooled over every place that was read more than once with it.
//!
//! Pooled variance as in `setup::reading`: JCGM 100:2008 (GUM) 4.2.4. The sums are kept beside the readings and grow
//! with each set. Repeats further apart than [`APART_UM`] are a misreading, not scatter: chosen here.

use std::collections::BTreeMap;

use serde::Deserialize;
use sqlx::SqliteConnection;

use super::{ReadingKind, ReadingSet};
use crate::quantity::Micrometres;
use crate::records::{ReadingSetId, Result, WriteTx};
use crate::setup::reading::Repeatability;

/// Repeats of one place within this count as scatter, micrometres. The statements here say the same.
const APART_UM: i64 = 300;
/// From here on the shop's own figure replaces the usual one.
pub const ENOUGH_DEGREES_OF_FREEDOM: i64 = 10;
/// Beyond this more repeats tell nothing new, and every set would change every plan by a hair.
const MOST_DEGREES_OF_FREEDOM: i64 = 200;
/// What a computer's rounding may make of a whole micrometre.
const HAIR: f64 = 1e-6;
/// Heights, read over a fret or a bridge with the tool of the set.
const KINDS: [ReadingKind; 6] = [
    ReadingKind::Height12,
    ReadingKind::Height1,
    ReadingKind::Gap1Stopped3,
    ReadingKind::Relief,
    ReadingKind::SaddleTreble,
    ReadingKind::SaddleBass,
];

/// What the repeats with one tool say.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ToolScatter {
    /// The tool's key.
    pub tool: String,
    /// Squared distances from the means of their places, summed, square micrometres.
    pub squares: f64,
    /// Repeats beyond the first of each place.
    pub degrees_of_freedom: i64,
}

impl ToolScatter {
    /// The scatter of one reading, in whole micrometres, upwards; `None` below ten degrees of freedom.
    pub fn repeatability(&self) -> Option<Repeatability> {
        if self.degrees_of_freedom < ENOUGH_DEGREES_OF_FREEDOM {
            return None;
        }
        let freedom = as_number(self.degrees_of_freedom);
        let deviation_um = ((self.squares.max(0.0) / freedom).sqrt() - HAIR).ceil().max(0.0);
        Some(Repeatability {
            standard_deviation_mm: deviation_um / 1000.0,
            degrees_of_freedom: as_number(self.degrees_of_freedom.min(MOST_DEGREES_OF_FREEDOM)),
        })
    }
}

/// Adds the repeats of a set that was just written to what its tool is known by.
pub(super) async fn learn(tx: &mut WriteTx, set: ReadingSetId, tool: &str) -> Result<()> {
    sqlx::query!(
        "INSERT INTO tool_scatter (tool, squares, degrees_of_freedom)
         SELECT ?1, sum(squares), sum(degrees_of_freedom)
         FROM (SELECT max(0.0, sum(value * value) - 1.0 * sum(value) * sum(value) / count(*)) AS squares,
                      count(*) - 1 AS degrees_of_freedom
               FROM reading
               WHERE reading_set_id = ?2 AND carried_from IS NULL
                 AND kind IN ('height-12', 'height-1', 'gap-1-stopped-3', 'relief', 'saddle-treble', 'saddle-bass')
               GROUP BY kind, string_number
               HAVING count(*) > 1 AND max(value) - min(value) <= 300)
         HAVING count(*) > 0
         ON CONFLICT (tool) DO UPDATE SET squares = squares + excluded.squares,
             degrees_of_freedom = degrees_of_freedom + excluded.degrees_of_freedom",
        tool,
        set,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Every tool that was read with more than once at some place.
pub async fn of_all_tools(connection: &mut SqliteConnection) -> Result<Vec<ToolScatter>> {
    Ok(sqlx::query_as!(ToolScatter, "SELECT tool, squares, degrees_of_freedom FROM tool_scatter ORDER BY tool")
        .fetch_all(connection)
        .await?)
}

/// The scatter of what a set was read with, from all other sets: its own repeats are pooled with it by the plan. Of
/// several tools the one that scatters most; `None` where one of them is not known well enough. `is_kept` says whether
/// the set itself is among those that were learnt from.
pub fn of_set(scatters: &[ToolScatter], set: &ReadingSet, is_kept: bool) -> Option<Repeatability> {
    let mut own: BTreeMap<&str, ToolScatter> = BTreeMap::new();
    let mut places: BTreeMap<(ReadingKind, i64), (&str, bool, Vec<i64>)> = BTreeMap::new();
    own.entry(&set.circumstances.tool).or_insert_with(|| nothing(&set.circumstances.tool));
    for reading in &set.readings {
        let tool = reading.carried.as_ref().map_or(set.circumstances.tool.as_str(), |from| &from.tool);
        own.entry(tool).or_insert_with(|| nothing(tool));
        if KINDS.contains(&reading.kind) {
            let was_learnt = is_kept || reading.carried.is_some();
            let place = places.entry((reading.kind, reading.string_number));
            place.or_insert_with(|| (tool, was_learnt, Vec::new())).2.push(reading.value);
        }
    }
    for (tool, _, values) in places.into_values().filter(|(_, was_learnt, _)| *was_learnt) {
        if let (Some(found), Some((squares, degrees_of_freedom))) = (own.get_mut(tool), scatter(&values)) {
            found.squares += squares;
            found.degrees_of_freedom += degrees_of_freedom;
        }
    }
    let others = own.into_values().map(|own| {
        let known = scatters.iter().find(|known| known.tool == own.tool)?;
        let rest = ToolScatter {
            squares: known.squares - own.squares,
            degrees_of_freedom: known.degrees_of_freedom - own.degrees_of_freedom,
            ..own
        };
        rest.repeatability()
    });
    let others: Option<Vec<Repeatability>> = others.collect();
    others?.into_iter().max_by(|one, other| one.standard_deviation_mm.total_cmp(&other.standard_deviation_mm))
}

fn nothing(tool: &str) -> ToolScatter {
    ToolScatter { tool: tool.to_owned(), squares: 0.0, degrees_of_freedom: 0 }
}

/// Squared distances from their mean and degrees of freedom of the repeats of one place; `None` where they tell nothing.
fn scatter(values: &[i64]) -> Option<(f64, i64)> {
    let apart = values.iter().max()? - values.iter().min()?;
    let freedom = i64::try_from(values.len()).ok()? - 1;
    if freedom < 1 || apart > APART_UM {
        return None;
    }
    let mean = as_number(values.iter().sum()) / as_number(freedom + 1);
    Some((values.iter().map(|value| (as_number(*value) - mean).powi(2)).sum(), freedom))
}

/// Counts and micrometres as a number.
fn as_number(count: i64) -> f64 {
    // a thousandth of it, and back: the one conversion of integers that the house has
    Micrometres(count).mm() * 1000.0
}
