//! Places on the rack: who stands where, and what is free.

use super::family::{Family, instrument_title};
use super::fold::folded;
use super::{JobId, Result};
use crate::quantity::Instant;

/// Jobs and days looked back on for the places that the shop has.
const LOOKED_BACK: i64 = 300;
const DAYS_LOOKED_BACK: i64 = 400;
const MICROSECONDS_PER_DAY: i64 = 86_400_000_000;

/// What stands at a place.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for the one explained")]
pub struct Standing {
    pub id: JobId,
    pub number: String,
    /// The place as it was written.
    pub rack: String,
    pub customer: String,
    pub family: Family,
    pub maker: String,
    pub model: String,
}

impl Standing {
    /// The instrument's name.
    pub fn title(&self) -> String {
        instrument_title(self.family, &self.maker, &self.model)
    }
}

/// Everything in the house that has a place.
pub async fn standing(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Standing>> {
    Ok(sqlx::query_as!(
        Standing,
        r#"SELECT job.id AS "id: JobId", job.number, job.rack, customer.name AS customer,
                  instrument.family AS "family: Family", instrument.maker, instrument.model
           FROM job INDEXED BY job_open
           JOIN customer ON customer.id = job.customer_id
           JOIN instrument ON instrument.id = job.instrument_id
           WHERE job.is_open = 1 AND job.rack <> ''"#
    )
    .fetch_all(executor)
    .await?)
}

/// Which of them stand at a place, however it is typed, but for one job itself.
pub fn at_place<'a>(standing: &'a [Standing], place: &str, but: Option<JobId>) -> Vec<&'a Standing> {
    let place = folded(place);
    let there = standing.iter().filter(|there| !place.is_empty() && folded(&there.rack) == place);
    there.filter(|there| Some(there.id) != but).collect()
}

/// Places that were used lately and are empty now, in the order in which one walks along them.
pub async fn free(
    executor: impl sqlx::SqliteExecutor<'_>,
    standing: &[Standing],
    now: Instant,
    most: usize,
) -> Result<Vec<String>> {
    let since = Instant(now.0.saturating_sub(DAYS_LOOKED_BACK * MICROSECONDS_PER_DAY));
    let used = sqlx::query_scalar!(
        "SELECT rack FROM job WHERE checked_in_at >= ? AND rack <> '' ORDER BY checked_in_at DESC LIMIT ?",
        since,
        LOOKED_BACK,
    )
    .fetch_all(executor)
    .await?;
    let mut free: Vec<String> = Vec::new();
    for place in used {
        let is_known = free.iter().any(|known| folded(known) == folded(&place));
        if !is_known && at_place(standing, &place, None).is_empty() {
            free.push(place);
        }
    }
    free.sort_by_key(|place| along_the_rack(place));
    free.truncate(most);
    Ok(free)
}

/// "B10" stands behind "B9": words by their letters, numbers by their size.
fn along_the_rack(place: &str) -> Vec<(String, u64)> {
    let mut parts: Vec<(String, u64)> = vec![(String::new(), 0)];
    let mut was_digit = false;
    for c in folded(place).chars() {
        match (c.to_digit(10), parts.last_mut()) {
            (Some(digit), Some(part)) => {
                part.1 = part.1.saturating_mul(10).saturating_add(u64::from(digit));
                was_digit = true;
            }
            (None, Some(part)) if !was_digit => part.0.push(c),
            _ => {
                parts.push((c.to_string(), 0));
                was_digit = false;
            }
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::along_the_rack;

    #[test]
    fn places_stand_in_the_order_in_which_one_walks_along_them() {
        let mut places = ["B10", "A2", "b9", "wall 1", "A10"];
        places.sort_by_key(|place| along_the_rack(place));
        assert_eq!(places, ["A2", "A10", "b9", "B10", "wall 1"]);
    }
}
