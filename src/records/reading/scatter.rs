//! How far each tool scatters in this shop's hands, pooled over every place that was read more than once with it.
//!
//! Pooled variance as in `setup::reading`: JCGM 100:2008 (GUM) 4.2.4. The sums are kept beside the readings and grow
//! with each set. Repeats further apart than 0.3 mm are a misreading, not scatter: chosen here.

use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::quantity::Micrometres;
use crate::records::{ReadingSetId, Result, WriteTx};
use crate::setup::reading::Repeatability;

/// From here on the shop's own figure replaces the usual one.
pub const ENOUGH_DEGREES_OF_FREEDOM: i64 = 10;
/// Beyond this more repeats tell nothing new, and every set would change every plan by a hair.
const MOST_DEGREES_OF_FREEDOM: i64 = 200;
/// What a computer's rounding may make of a whole micrometre.
const HAIR: f64 = 1e-6;

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

/// Counts and micrometres as a number.
pub(in crate::records) fn as_number(count: i64) -> f64 {
    // a thousandth of it, and back: the one conversion of integers that the house has
    Micrometres(count).mm() * 1000.0
}
