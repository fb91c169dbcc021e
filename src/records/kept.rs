//! What became of what was said: forecasts and told days against the days on which jobs were ready, and jobs that came
//! back.

use serde::Deserialize;
use sqlx::types::Json;
use time::Date;

use super::Result;
use crate::quantity::{Instant, parse_day};

/// A day as it stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Day(pub Date);

impl TryFrom<String> for Day {
    type Error = String;

    fn try_from(text: String) -> std::result::Result<Self, String> {
        parse_day(&text).map(Self)
    }
}

/// A forecast that was made at a check-in, and what became of its job.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Foretold {
    /// The shop's day on which it was made.
    pub made_on: Day,
    /// How sure it was to be at least, thousandths.
    pub confidence: u32,
    /// How sure it was, thousandths.
    pub share: u32,
    /// The day of half of the draws.
    pub median_day: Day,
    /// The day forecast.
    pub day: Day,
    /// The day the customer was told.
    pub told_day: Option<Day>,
    /// When the job was ready, if it is.
    pub ready_at: Option<Instant>,
}

/// The forecasts of check-ins since a day, without those of jobs that went home as they came: nobody kept or broke
/// these. They come as one row: there may be ten thousand.
pub async fn foretold_since(executor: impl sqlx::SqliteExecutor<'_>, since: Date) -> Result<Vec<Foretold>> {
    let found = sqlx::query_scalar!(
        r#"SELECT json_group_array(json_array(made.made_on, made.confidence, made.share, made.median_day, made.day,
                      made.told_day, coalesce(job.ready_at, iif(job.stage = 'collected', job.stage_since, NULL))))
               AS "found!: Json<Vec<Foretold>>"
           FROM promise_forecast AS made CROSS JOIN job ON job.id = made.job_id
           WHERE made.why = 'check-in' AND made.made_on >= ? AND made.day IS NOT NULL AND job.stage <> 'closed-unrepaired'"#,
        since,
    );
    Ok(found.fetch_one(executor).await?.0)
}

/// Jobs of one service, or with work by one person, that were collected, and how many of them came back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CameBack {
    /// The service, or the person.
    pub name: String,
    /// Jobs collected.
    pub jobs: i64,
    /// Jobs that came back: a later job names them as the earlier one.
    pub came_back: i64,
}

/// Jobs collected since a moment by a column of their lines, and how many came back; `$name` says what it is called.
macro_rules! came_back {
    ($executor:expr, $since:expr, $by:literal, $name:literal) => {
        Ok(sqlx::query_as!(
            CameBack,
            "SELECT " + $name + r#" AS "name!: String", count(*) AS "jobs!: i64", sum(one.came_back) AS "came_back!: i64"
               FROM (
                   SELECT DISTINCT line.job_id, line."# + $by + r#" AS by_whom,
                          EXISTS (SELECT 1 FROM job AS again
                                  WHERE again.earlier_job_id = job.id AND again.earlier_job_id IS NOT NULL) AS came_back
                   FROM job CROSS JOIN work_line AS line ON line.job_id = job.id
                   WHERE job.is_open = 0 AND job.stage_since >= ? AND job.stage = 'collected' AND line.state = 'done'
               ) AS one
               GROUP BY one.by_whom ORDER BY count(*) DESC"#,
            $since,
        )
        .fetch_all($executor)
        .await?)
    };
}

/// Of the jobs collected since a moment, by service, how many came back.
pub async fn came_back_by_service(executor: impl sqlx::SqliteExecutor<'_>, since: Instant) -> Result<Vec<CameBack>> {
    came_back!(
        executor,
        since,
        "service_id",
        "coalesce((SELECT name FROM service WHERE id = one.by_whom), 'in own words')"
    )
}

/// The same by who did some of the work.
pub async fn came_back_by_person(executor: impl sqlx::SqliteExecutor<'_>, since: Instant) -> Result<Vec<CameBack>> {
    came_back!(executor, since, "done_by", "(SELECT name FROM staff WHERE id = one.by_whom)")
}
