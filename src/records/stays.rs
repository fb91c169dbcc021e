//! How long instruments stayed: from check-in to ready and to collected, at each stage, and waiting for what. Read by
//! moments, as they were written down; what day a moment was in the shop, the caller knows.

use serde::Deserialize;
use sqlx::SqliteConnection;
use sqlx::types::Json;

use super::Result;
use super::column::words;
use super::stage::{Stage, WaitingFor};
use crate::quantity::Instant;

words! {
    /// By what stays are told apart.
    StaysBy {
        /// Not at all.
        All = "all" => "all jobs",
        /// The instrument's family.
        Family = "family" => "family",
        /// What was agreed or done: a job counts at each of its services.
        Service = "service" => "service",
        /// Who was on it last.
        Person = "person" => "person",
    }
}

/// One stay. A job of two services is two of them where stays are told apart by service.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Stay {
    /// When it came.
    pub checked_in_at: Instant,
    /// When it was ready, if it is.
    pub ready_at: Option<Instant>,
    /// When it left the house, if it has.
    pub left_at: Option<Instant>,
    /// 1 where it went home as it came.
    is_unrepaired: u8,
    /// Which row of the table it is.
    row: i64,
    /// Its family's key, its service, its person; "" where there is none, or stays are not told apart.
    pub group: String,
}

impl Stay {
    /// Whether it went home as it came.
    pub fn is_unrepaired(&self) -> bool {
        self.is_unrepaired == 1
    }
}

/// The stays that began since a moment. They come as one row: there may be ten thousand.
macro_rules! stays {
    ($group:literal, $joined:literal, $since:expr) => {
        sqlx::query_scalar!(
            r#"SELECT json_group_array(json_array(checked_in_at,
                          coalesce(ready_at, iif(stage = 'collected', stage_since, NULL)),
                          iif(stage IN ('collected', 'closed-unrepaired'), stage_since, NULL),
                          stage = 'closed-unrepaired', job.rowid, "#
                + $group
                + r#")) AS "stays!: Json<Vec<Stay>>" FROM job "#
                + $joined
                + " WHERE checked_in_at >= ?1",
            $since
        )
    };
}

/// The stays that began since a moment.
pub async fn since(executor: impl sqlx::SqliteExecutor<'_>, since: Instant, by: StaysBy) -> Result<Vec<Stay>> {
    let found = match by {
        StaysBy::All => stays!("''", "", since).fetch_one(executor).await?.0,
        StaysBy::Family => {
            let query =
                stays!("instrument.family", "CROSS JOIN instrument ON instrument.id = job.instrument_id", since);
            query.fetch_one(executor).await?.0
        }
        StaysBy::Person => {
            let query = stays!(
                "iif(staff.active = 0, staff.name || ' (no longer here)', coalesce(staff.name, ''))",
                "LEFT JOIN staff ON staff.id = job.staff_id",
                since
            );
            query.fetch_one(executor).await?.0
        }
        StaysBy::Service => {
            let query = stays!(
                "iif(line.job_id IS NULL, '', coalesce(service.name, 'in own words'))",
                "LEFT JOIN work_line AS line ON line.job_id = job.id AND line.state IN ('agreed', 'done')
                 LEFT JOIN service ON service.id = line.service_id",
                since
            );
            once_each(query.fetch_one(executor).await?.0)
        }
    };
    Ok(found)
}

/// Two lines of one service are one stay of it; the lines of a job stand together.
fn once_each(mut stays: Vec<Stay>) -> Vec<Stay> {
    let mut seen: (i64, Vec<String>) = (0, Vec::new());
    stays.retain(|stay| {
        if seen.0 != stay.row {
            seen = (stay.row, Vec::new());
        }
        let is_new = !seen.1.contains(&stay.group);
        if is_new {
            seen.1.push(stay.group.clone());
        }
        is_new
    });
    stays
}

/// Times at one stage that ended within a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AtStage {
    /// The stage.
    pub stage: Stage,
    /// How often a job left it.
    pub times: i64,
    /// How long all of them together had been at it, microseconds.
    pub microseconds: i64,
}

/// How long jobs were at each stage, by the moves since a moment.
pub async fn at_stages(executor: impl sqlx::SqliteExecutor<'_>, since: Instant) -> Result<Vec<AtStage>> {
    let found = sqlx::query_as!(
        AtStage,
        r#"SELECT from_stage AS "stage: Stage", count(*) AS "times!: i64",
                  sum(moved_at - coalesce(from_since, moved_at)) AS "microseconds!: i64"
           FROM job_move WHERE moved_at >= ? GROUP BY from_stage"#,
        since,
    );
    let mut found = found.fetch_all(executor).await?;
    found.sort_by_key(|at| at.stage.index());
    Ok(found)
}

/// Waits for one thing that ended within a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Waited {
    /// For what.
    pub waiting_for: WaitingFor,
    /// How many.
    pub times: i64,
    /// How long all of them together, microseconds.
    pub microseconds: i64,
}

/// How long jobs waited for what, by the waits that ended since a moment.
pub async fn waits(executor: impl sqlx::SqliteExecutor<'_>, since: Instant) -> Result<Vec<Waited>> {
    let found = sqlx::query_as!(
        Waited,
        r#"SELECT waiting_for AS "waiting_for!: WaitingFor", count(*) AS "times!: i64",
                  sum(ended_at - begun_at) AS "microseconds!: i64"
           FROM job_wait WHERE waiting_for IN ('part', 'customer', 'wood') AND ended_at >= ? GROUP BY waiting_for"#,
        since,
    );
    Ok(found.fetch_all(executor).await?)
}

/// What was in the house within a stretch of time: the two sides of Little's law.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct InTheHouse {
    /// How long all jobs together were in the house within the stretch, microseconds.
    pub stayed_within: i64,
    /// Jobs that left within it.
    pub left: i64,
    /// How long those had been in the house in all, microseconds.
    pub their_stays: i64,
}

/// What was in the house from a moment until now.
pub async fn in_the_house(connection: &mut SqliteConnection, from: Instant, now: Instant) -> Result<InTheHouse> {
    let left = sqlx::query!(
        r#"SELECT coalesce(sum(stage_since - max(checked_in_at, ?1)), 0) AS "within!: i64", count(*) AS "left!: i64",
                  coalesce(sum(stage_since - checked_in_at), 0) AS "stays!: i64"
           FROM job WHERE is_open = 0 AND stage_since >= ?1 AND stage_since <= ?2"#,
        from,
        now,
    )
    .fetch_one(&mut *connection)
    .await?;
    let open = sqlx::query_scalar!(
        r#"SELECT coalesce(sum(?2 - max(checked_in_at, ?1)), 0) AS "within!: i64"
           FROM job WHERE is_open = 1 AND +checked_in_at <= ?2"#,
        from,
        now,
    )
    .fetch_one(&mut *connection)
    .await?;
    Ok(InTheHouse { stayed_within: left.within + open, left: left.left, their_stays: left.stays })
}
