//! What came of some months: quoted, agreed, done, taken in and worked. Each question goes along an index of the moments
//! it is about, month by month; which moments a month has in the shop, the caller knows. Months are answered by their
//! place in the list that was asked.

use serde::Serialize;
use sqlx::SqliteConnection;

use super::Result;
use super::column::as_json;
use crate::quantity::{Instant, Money};

/// The moments of one month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Month {
    /// Its first.
    pub from: Instant,
    /// The first after it.
    pub until: Instant,
}

/// What was quoted, agreed and paid in one month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonthSums {
    /// The newest revision of each job that was made in it, without tax.
    pub quoted: Money,
    /// The lines agreed to of each job whose newest agreed revision was answered in it, without tax.
    pub agreed: Money,
    /// What is still owed of those now, with tax.
    pub owed: Money,
    /// Paid, with tax.
    pub taken: Money,
    /// Given back, with tax and without a sign.
    pub given_back: Money,
}

/// The sums of each month.
pub async fn sums(connection: &mut SqliteConnection, months: &[Month]) -> Result<Vec<MonthSums>> {
    let asked = as_json(months)?;
    let none = MonthSums { quoted: Money(0), agreed: Money(0), owed: Money(0), taken: Money(0), given_back: Money(0) };
    let mut sums = vec![none; months.len()];
    let quoted = sqlx::query!(
        r#"SELECT month.key + 0 AS "place!: i64", sum(quote.net) AS "net!: Money"
           FROM json_each(?1) AS month
           CROSS JOIN quote ON quote.made_at >= month.value ->> 'from' AND quote.made_at < month.value ->> 'until'
           WHERE NOT EXISTS
               (SELECT 1 FROM quote AS newer WHERE newer.job_id = quote.job_id AND newer.revision > quote.revision)
           GROUP BY month.key"#,
        asked,
    )
    .fetch_all(&mut *connection)
    .await?;
    for row in quoted {
        if let Some(sums) = at(&mut sums, row.place) {
            sums.quoted = row.net;
        }
    }
    let agreed = sqlx::query!(
        r#"SELECT month.key + 0 AS "place!: i64", sum(agreed_net) AS "net!: Money", sum(owed) AS "owed!: Money"
           FROM json_each(?1) AS month
           CROSS JOIN job_account ON agreed_at >= month.value ->> 'from' AND agreed_at < month.value ->> 'until'
           GROUP BY month.key"#,
        asked,
    )
    .fetch_all(&mut *connection)
    .await?;
    for row in agreed {
        if let Some(sums) = at(&mut sums, row.place) {
            (sums.agreed, sums.owed) = (row.net, row.owed);
        }
    }
    let paid = sqlx::query!(
        r#"SELECT month.key + 0 AS "place!: i64", sum(iif(kind = 'refund', 0, amount)) AS "taken!: Money",
                  -sum(iif(kind = 'refund', amount, 0)) AS "given_back!: Money"
           FROM json_each(?1) AS month
           CROSS JOIN payment ON taken_at >= month.value ->> 'from' AND taken_at < month.value ->> 'until'
           GROUP BY month.key"#,
        asked,
    )
    .fetch_all(&mut *connection)
    .await?;
    for row in paid {
        if let Some(sums) = at(&mut sums, row.place) {
            (sums.taken, sums.given_back) = (row.taken, row.given_back);
        }
    }
    Ok(sums)
}

fn at(sums: &mut [MonthSums], place: i64) -> Option<&mut MonthSums> {
    usize::try_from(place).ok().and_then(|place| sums.get_mut(place))
}

/// Lines that one person did of one service in one month, with the customer's yes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    /// The month's place.
    pub place: i64,
    /// The service; `None` for work in own words.
    pub service: Option<String>,
    /// Who ticked them off.
    pub person: String,
    /// How many.
    pub lines: i64,
    /// Their price without tax.
    pub price: Money,
    /// Minutes they were estimated at: what was sold.
    pub minutes: i64,
}

/// What was done in some months.
pub async fn done(executor: impl sqlx::SqliteExecutor<'_>, months: &[Month]) -> Result<Vec<Done>> {
    let asked = as_json(months)?;
    Ok(sqlx::query_as!(
        Done,
        r#"SELECT month.key + 0 AS "place!: i64", (SELECT name FROM service WHERE id = line.service_id) AS "service?: String",
                  (SELECT name FROM staff WHERE id = line.done_by) AS "person!: String", count(*) AS "lines!: i64",
                  sum(line.price) AS "price!: Money", sum(line.minutes) AS "minutes!: i64"
           FROM json_each(?1) AS month
           CROSS JOIN work_line AS line
               ON line.done_at >= month.value ->> 'from' AND line.done_at < month.value ->> 'until' AND line.state = 'done'
           WHERE EXISTS (SELECT 1 FROM quote_line WHERE work_line_id = line.id AND answer = 'agreed')
           GROUP BY month.key, line.service_id, line.done_by"#,
        asked,
    )
    .fetch_all(executor)
    .await?)
}

/// Time that one person worked on lines of one service in one month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worked {
    /// The month's place.
    pub place: i64,
    /// The service; `None` for work in own words.
    pub service: Option<String>,
    /// Whose time.
    pub person: String,
    /// Minutes by the labour clock, as corrected.
    pub minutes: i64,
}

/// What was worked in some months, by the stretches that began in them and have ended.
pub async fn worked(executor: impl sqlx::SqliteExecutor<'_>, months: &[Month]) -> Result<Vec<Worked>> {
    let asked = as_json(months)?;
    Ok(sqlx::query_as!(
        Worked,
        r#"SELECT month.key + 0 AS "place!: i64", (SELECT name FROM service WHERE id = line.service_id) AS "service?: String",
                  (SELECT name FROM staff WHERE id = entry.staff_id) AS "person!: String",
                  sum(coalesce(
                      (SELECT minutes FROM labour_correction WHERE labour_entry_id = entry.id ORDER BY id DESC LIMIT 1),
                      (entry.ended_at - entry.started_at + 30000000) / 60000000)) AS "minutes!: i64"
           FROM json_each(?1) AS month
           CROSS JOIN labour_entry AS entry
               ON entry.started_at >= month.value ->> 'from' AND entry.started_at < month.value ->> 'until'
           CROSS JOIN work_line AS line ON line.id = entry.work_line_id
           WHERE entry.ended_at IS NOT NULL
           GROUP BY month.key, line.service_id, entry.staff_id"#,
        asked,
    )
    .fetch_all(executor)
    .await?)
}
