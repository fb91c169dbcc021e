//! Parts in the drawers: what lies there, and every movement of it. The shelf may go below nothing: a part
//! that was fitted was there, and the count is what is wrong.

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::{canonical, folded};
use super::{Error, JobId, PartId, PartMovementId, Result, WorkLineId, WriteTx, job, work};
use crate::quantity::{Instant, Money, Thousandths};

words! {
    /// Why the shelf changed.
    MovementKind {
        /// For a job.
        Taken = "taken" => "taken",
        /// A taking that was a mistake.
        PutBack = "put-back" => "put back",
        /// From a supplier.
        Received = "received" => "received",
        /// The shelf was counted.
        Counted = "counted" => "counted",
    }
}

/// Movements shown of one part, at most.
const MOST: i64 = 20;

/// One part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Part {
    pub id: PartId,
    pub name: String,
    pub unit: String,
    pub on_hand: Thousandths,
    pub reorder_at: Option<Thousandths>,
    pub cost: Option<Money>,
    pub price: Option<Money>,
    pub archived: bool,
    pub version: i64,
}

impl Part {
    /// Whether it is time to order more.
    pub fn is_low(&self) -> bool {
        !self.archived && self.reorder_at.is_some_and(|least| self.on_hand <= least)
    }

    /// Whether less than nothing lies there by the books: the count is what is wrong.
    pub fn is_miscounted(&self) -> bool {
        self.on_hand.0 < 0
    }

    /// "3 sets": what lies there, with its unit.
    pub fn on_hand_words(&self) -> String {
        format!("{} {}", self.on_hand, self.unit)
    }
}

/// What the owner writes down of a part.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct PartEntry {
    pub name: String,
    pub unit: String,
    pub reorder_at: Option<Thousandths>,
    pub cost: Option<Money>,
    pub price: Option<Money>,
    pub archived: bool,
}

/// One movement.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Movement {
    pub id: PartMovementId,
    #[serde(skip)]
    pub job_id: Option<JobId>,
    pub part_id: PartId,
    pub part: String,
    pub unit: String,
    pub kind: MovementKind,
    pub quantity: Thousandths,
    pub on_hand_after: Thousandths,
    pub job_number: Option<String>,
    pub line: Option<String>,
    pub was_put_back: bool,
    pub note: String,
    pub who: String,
    pub at: Instant,
}

/// The parts that a condition or an order picks.
macro_rules! parts {
    ($picked:literal $(, $put:expr)*) => {
        sqlx::query_as!(
            Part,
            r#"SELECT id AS "id: PartId", name, unit, on_hand AS "on_hand: Thousandths",
                      reorder_at AS "reorder_at: Thousandths", cost AS "cost: Money", price AS "price: Money",
                      archived AS "archived: bool", version
               FROM part "#
                + $picked
            $(, $put)*
        )
    };
}

/// All parts, by name; archived ones last.
pub async fn all(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Part>> {
    Ok(parts!("ORDER BY archived, name_folded").fetch_all(executor).await?)
}

/// One part.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: PartId) -> Result<Part> {
    parts!("WHERE id = ?", id).fetch_optional(executor).await?.ok_or(Error::NotFound("part"))
}

/// Adds a part with nothing of it on hand; the same form sent twice adds one.
///
/// # Errors
/// Refused when there is one of that name.
pub async fn add(tx: &mut WriteTx, by: &AuditContext, form_key: &str, entry: &PartEntry) -> Result<PartId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: PartId" FROM part WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let id = PartId::new();
    let (name, name_folded, unit) = named(tx, id, entry).await?;
    sqlx::query!(
        "INSERT INTO part (id, name, name_folded, unit, reorder_at, cost, price, archived, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        name,
        name_folded,
        unit,
        entry.reorder_at,
        entry.cost,
        entry.price,
        entry.archived,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "part added", "part", id.0, None, Some(entry)).await?;
    Ok(id)
}

/// Saves a changed part; what lies on the shelf changes by movements only.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between; refused when another part has the name.
pub async fn save(tx: &mut WriteTx, by: &AuditContext, id: PartId, version: i64, entry: &PartEntry) -> Result<()> {
    let before = find(&mut **tx, id).await?;
    let (name, name_folded, unit) = named(tx, id, entry).await?;
    let done = sqlx::query!(
        "UPDATE part SET name = ?, name_folded = ?, unit = ?, reorder_at = ?, cost = ?, price = ?, archived = ?,
             version = version + 1
         WHERE id = ? AND version = ?",
        name,
        name_folded,
        unit,
        entry.reorder_at,
        entry.cost,
        entry.price,
        entry.archived,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "part")?;
    let after = find(&mut **tx, id).await?;
    event::write(tx, by, "part changed", "part", id.0, Some(&before), Some(&after)).await
}

async fn named(connection: &mut SqliteConnection, id: PartId, entry: &PartEntry) -> Result<(String, String, String)> {
    let (name, unit) = (canonical(&entry.name), canonical(&entry.unit));
    let name_folded = folded(&name);
    if name_folded.is_empty() || unit.is_empty() {
        return Err(Error::refused("A part has a name and a unit, such as piece or metre: type both."));
    }
    let taken = sqlx::query_scalar!("SELECT count(*) FROM part WHERE name_folded = ? AND id <> ?", name_folded, id)
        .fetch_one(&mut *connection)
        .await?;
    if taken > 0 {
        return Err(Error::refused(format!("There is already a part called “{name}”. Choose another name.")));
    }
    Ok((name, name_folded, unit))
}

struct NewMovement<'a> {
    part: &'a Part,
    kind: MovementKind,
    quantity: Thousandths,
    job: Option<JobId>,
    line: Option<WorkLineId>,
    puts_back: Option<PartMovementId>,
    note: &'a str,
}

/// Writes a movement and what is on hand after it; `None` where the same form was here before.
async fn move_part(tx: &mut WriteTx, by: &AuditContext, form_key: &str, new: NewMovement<'_>) -> Result<Thousandths> {
    let person = by.person()?;
    let id = PartMovementId::new();
    let after = Thousandths(new.part.on_hand.0 + new.quantity.0);
    let note = canonical(new.note);
    sqlx::query!(
        "INSERT INTO part_movement (id, part_id, kind, quantity, on_hand_after, job_id, work_line_id, puts_back, note,
             staff_id, moved_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        new.part.id,
        new.kind,
        new.quantity,
        after,
        new.job,
        new.line,
        new.puts_back,
        note,
        person,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    // no new version: a form with the part's name stays good while its shelf changes
    sqlx::query!("UPDATE part SET on_hand = ? WHERE id = ?", after, new.part.id).execute(&mut **tx).await?;
    let said = (&new.part.name, new.kind, new.quantity, after, note);
    event::write(tx, by, "part moved", "part", new.part.id.0, None, Some(&said)).await?;
    if let Some(job) = new.job {
        let deed = format!("part {}", new.kind);
        event::write(tx, by, &deed, "job", job.0, None, Some(&said)).await?;
    }
    Ok(after)
}

async fn moved_before(connection: &mut SqliteConnection, form_key: &str) -> Result<Option<Thousandths>> {
    Ok(sqlx::query_scalar!(
        r#"SELECT on_hand_after AS "on_hand_after: Thousandths" FROM part_movement WHERE form_key = ?"#,
        form_key,
    )
    .fetch_optional(&mut *connection)
    .await?)
}

/// Takes a part for a job, where wished for one of its lines, and answers what is left on the shelf; the
/// same form sent twice takes it once.
///
/// # Errors
/// Refused when nothing is taken, the part is archived, or the job has left the house.
pub async fn take(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    line: Option<WorkLineId>,
    form_key: &str,
    part: PartId,
    quantity: Thousandths,
) -> Result<Thousandths> {
    if let Some(left) = moved_before(tx, form_key).await? {
        return Ok(left);
    }
    job::in_the_house(&mut **tx, job_id, "no part goes with it").await?;
    if let Some(line) = line {
        work::find(tx, job_id, line).await?;
    }
    let part = find(&mut **tx, part).await?;
    if part.archived {
        return Err(Error::refused(format!(
            "“{}” is archived. The owner brings it back under Office, Parts.",
            part.name
        )));
    }
    if quantity.0 <= 0 {
        return Err(Error::refused("Type how much was taken: more than nothing."));
    }
    let taken = NewMovement {
        part: &part,
        kind: MovementKind::Taken,
        quantity: Thousandths(-quantity.0),
        job: Some(job_id),
        line,
        puts_back: None,
        note: "",
    };
    move_part(tx, by, form_key, taken).await
}

/// Puts back what was taken for a job by mistake. Pressed twice it is put back once.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn put_back(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, movement: PartMovementId) -> Result<()> {
    let taken = of_job(&mut **tx, job_id).await?.into_iter().find(|known| known.id == movement);
    let taken = taken.filter(|known| known.kind == MovementKind::Taken).ok_or(Error::NotFound("movement"))?;
    job::in_the_house(&mut **tx, job_id, "its parts went with it, and a shelf that holds more is counted").await?;
    if taken.was_put_back {
        return Ok(());
    }
    let part = find(&mut **tx, taken.part_id).await?;
    let back = NewMovement {
        part: &part,
        kind: MovementKind::PutBack,
        quantity: Thousandths(-taken.quantity.0),
        job: Some(job_id),
        line: None,
        puts_back: Some(movement),
        note: "",
    };
    move_part(tx, by, &format!("back-{movement}"), back).await?;
    Ok(())
}

/// Receives parts from a supplier; the same form sent twice receives them once.
///
/// # Errors
/// Refused when nothing came.
pub async fn receive(
    tx: &mut WriteTx,
    by: &AuditContext,
    form_key: &str,
    part: PartId,
    quantity: Thousandths,
    note: &str,
) -> Result<Thousandths> {
    if let Some(left) = moved_before(tx, form_key).await? {
        return Ok(left);
    }
    if quantity.0 <= 0 {
        return Err(Error::refused("Receive more than nothing. A shelf that holds less than it should is counted."));
    }
    let part = find(&mut **tx, part).await?;
    let came = NewMovement {
        part: &part,
        kind: MovementKind::Received,
        quantity,
        job: None,
        line: None,
        puts_back: None,
        note,
    };
    move_part(tx, by, form_key, came).await
}

/// Counts the shelf: what lies there is what is on hand.
///
/// # Errors
/// Refused below nothing.
pub async fn count(
    tx: &mut WriteTx,
    by: &AuditContext,
    form_key: &str,
    part: PartId,
    found: Thousandths,
    note: &str,
) -> Result<Thousandths> {
    if let Some(left) = moved_before(tx, form_key).await? {
        return Ok(left);
    }
    if found.0 < 0 {
        return Err(Error::refused("A shelf cannot hold less than nothing: type what lies there."));
    }
    let part = find(&mut **tx, part).await?;
    let quantity = Thousandths(found.0 - part.on_hand.0);
    let counted = NewMovement {
        part: &part,
        kind: MovementKind::Counted,
        quantity,
        job: None,
        line: None,
        puts_back: None,
        note,
    };
    move_part(tx, by, form_key, counted).await
}

/// The movements that a condition picks, in an order.
macro_rules! movements {
    ($picked_and_ordered:literal, $($put:expr),*) => {
        sqlx::query_as!(
            Movement,
            r#"SELECT movement.id AS "id: PartMovementId", movement.job_id AS "job_id: JobId",
                      movement.part_id AS "part_id: PartId", part.name AS part, part.unit,
                      movement.kind AS "kind: MovementKind", movement.quantity AS "quantity: Thousandths",
                      movement.on_hand_after AS "on_hand_after: Thousandths", job.number AS "job_number?",
                      work_line.words AS "line?", back.id IS NOT NULL AS "was_put_back!: bool", movement.note,
                      staff.name AS who, movement.moved_at AS "at: Instant"
               FROM part_movement AS movement
               JOIN part ON part.id = movement.part_id
               JOIN staff ON staff.id = movement.staff_id
               LEFT JOIN job ON job.id = movement.job_id
               LEFT JOIN work_line ON work_line.id = movement.work_line_id
               LEFT JOIN part_movement AS back ON back.puts_back = movement.id
               WHERE "#
                + $picked_and_ordered,
            $($put),*
        )
    };
}

/// What was taken for a job and put back, oldest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Movement>> {
    of_jobs(executor, &[job]).await
}

/// What was taken for some jobs and put back, oldest first.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Movement>> {
    let jobs = as_json(jobs)?;
    let picked = movements!(
        "movement.job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY movement.moved_at, movement.id",
        jobs
    );
    Ok(picked.fetch_all(executor).await?)
}

/// The newest movements of a part, newest first.
pub async fn of_part(executor: impl sqlx::SqliteExecutor<'_>, part: PartId) -> Result<Vec<Movement>> {
    let newest =
        movements!("movement.part_id = ? ORDER BY movement.moved_at DESC, movement.id DESC LIMIT ?", part, MOST);
    Ok(newest.fetch_all(executor).await?)
}
