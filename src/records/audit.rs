//! The record of deeds as the owner reads it: who did what, when, through which door. It is only ever read: that a deed
//! is never changed nor deleted, the file itself sees to.

use sqlx::{QueryBuilder, Sqlite};
use uuid::Uuid;

use super::event::{self, AuditContext, Door};
use super::{Db, Result, StaffId};
use crate::quantity::Instant;

/// Which deeds are wanted; what is `None` does not narrow.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// From this moment on…
    pub from: Instant,
    /// …to before this one.
    pub until: Instant,
    /// By whom.
    pub staff: Option<StaffId>,
    /// Through which door.
    pub door: Option<Door>,
    /// About which kind of record: a table's name.
    pub record: Option<&'a str>,
    /// About this one record, whenever it was.
    pub record_id: Option<Uuid>,
    /// These words somewhere in the deed, before or after.
    pub words: Option<&'a str>,
    /// Before this one: its moment and key.
    pub before: Option<(Instant, i64)>,
    /// So many.
    pub most: i64,
}

/// One deed.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Deed {
    /// Its key: deeds are counted up.
    pub id: i64,
    /// When.
    pub at: Instant,
    /// Who; `None` where the program or a customer did it.
    pub who: Option<String>,
    /// Through which door.
    pub door: Door,
    /// What.
    pub deed: String,
    /// About which kind of record.
    pub record: String,
    /// About which.
    pub record_id: Option<Uuid>,
    /// What that is called now, where it has a name.
    pub about: Option<String>,
    /// The record before, as JSON.
    pub before_json: Option<String>,
    /// The record after, as JSON.
    pub after_json: Option<String>,
}

/// The deeds that are wanted, the newest first. They are found by their record, or by their moments.
pub async fn deeds(executor: impl sqlx::SqliteExecutor<'_>, wanted: &Wanted<'_>) -> Result<Vec<Deed>> {
    let mut query: QueryBuilder<Sqlite> = QueryBuilder::new(
        "SELECT event.id, event.at, staff.name AS who, event.door, event.deed, event.record, event.record_id,
                CASE event.record
                    WHEN 'job' THEN (SELECT number FROM job WHERE job.id = event.record_id)
                    WHEN 'customer' THEN (SELECT name FROM customer WHERE customer.id = event.record_id)
                    WHEN 'instrument' THEN
                        (SELECT trim(maker || ' ' || model) FROM instrument WHERE instrument.id = event.record_id)
                    WHEN 'service' THEN (SELECT name FROM service WHERE service.id = event.record_id)
                    WHEN 'part' THEN (SELECT name FROM part WHERE part.id = event.record_id)
                    WHEN 'staff' THEN (SELECT name FROM staff AS person WHERE person.id = event.record_id)
                END AS about, event.before_json, event.after_json
         FROM event LEFT JOIN staff ON staff.id = event.staff_id WHERE ",
    );
    match wanted.record_id {
        Some(id) => query.push("event.record_id = ").push_bind(id),
        None => query.push("event.at >= ").push_bind(wanted.from).push(" AND event.at < ").push_bind(wanted.until),
    };
    if let Some(staff) = wanted.staff {
        query.push(" AND event.staff_id = ").push_bind(staff);
    }
    if let Some(door) = wanted.door {
        query.push(" AND event.door = ").push_bind(door);
    }
    if let Some(record) = wanted.record {
        query.push(" AND event.record = ").push_bind(record);
    }
    if let Some(words) = wanted.words {
        let escaped = words.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
        query
            .push(" AND (event.deed || ' ' || coalesce(event.before_json, '') || ' ' || coalesce(event.after_json, '')) LIKE ")
            .push_bind(format!("%{escaped}%"))
            .push(" ESCAPE '\\'");
    }
    if let Some((at, id)) = wanted.before {
        query.push(" AND (event.at, event.id) < (").push_bind(at).push(", ").push_bind(id).push(")");
    }
    query.push(" ORDER BY event.at DESC, event.id DESC LIMIT ").push_bind(wanted.most);
    Ok(query.build_query_as().fetch_all(executor).await?)
}

/// Writes down that so many deeds left the house as a list.
///
/// # Errors
/// When the books cannot be written.
pub async fn exported(db: &Db, by: &AuditContext, count: usize) -> Result<()> {
    let mut tx = db.write().await?;
    event::write(&mut tx, by, "list exported", "export", Uuid::nil(), None, Some(&("deeds", count))).await?;
    tx.commit().await
}
