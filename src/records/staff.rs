//! The people who work here: names, roles, passwords, and the throttle on guessing.

use std::net::IpAddr;

use super::event::{self, AuditContext};
use super::fold::{canonical, folded};
pub use super::person::{Role, Roles, Staff};
use super::{Error, Result, StaffId, WriteTx, password};
use crate::quantity::Instant;

/// Guesses that cost nothing.
const FREE_TRIES: i64 = 5;
/// The longest pause after wrong guesses: nobody can lock the owner out for long.
const LONGEST_PAUSE_SECONDS: i64 = 300;
/// A place that nobody signed in from for so long is nobody's own any more. Our own choice.
const PLACE_DAYS: i64 = 90;

struct Row {
    id: StaffId,
    name: String,
    is_desk: bool,
    is_bench: bool,
    is_owner: bool,
    active: bool,
    version: i64,
}

impl From<Row> for Staff {
    fn from(row: Row) -> Self {
        let roles = Roles { desk: row.is_desk, bench: row.is_bench, owner: row.is_owner };
        Self { id: row.id, name: row.name, roles, active: row.active, version: row.version }
    }
}

/// Adds a person; the same form sent twice adds one. `password_hash` comes from [`password::hash`].
///
/// # Errors
/// Refused when the name is taken or no role is given.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    form_key: Option<&str>,
    name: &str,
    roles: Roles,
    password_hash: &str,
) -> Result<StaffId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: StaffId" FROM staff WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let name = canonical(name);
    if name.is_empty() {
        return Err(Error::refused("Give the person a name."));
    }
    if !(roles.desk || roles.bench || roles.owner) {
        return Err(Error::refused("Give the person at least one role: desk, bench or owner."));
    }
    let name_folded = folded(&name);
    let taken = sqlx::query_scalar!("SELECT count(*) FROM staff WHERE name_folded = ?", name_folded)
        .fetch_one(&mut **tx)
        .await?;
    if taken > 0 {
        return Err(Error::refused(format!("There is already somebody called {name}. Choose another sign-in name.")));
    }
    let id = StaffId::new();
    sqlx::query!(
        "INSERT INTO staff (id, name, name_folded, is_desk, is_bench, is_owner, password_hash, created_at, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        name,
        name_folded,
        roles.desk,
        roles.bench,
        roles.owner,
        password_hash,
        by.at,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    let after = Staff { id, name, roles, active: true, version: 1 };
    event::write(tx, by, "staff added", "staff", id.0, None, Some(&after)).await?;
    Ok(id)
}

/// Changes somebody's roles, or whether they may sign in. Ends their sessions when they may not.
///
/// # Errors
/// Refused when it would leave the shop without an active owner.
pub async fn change(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: StaffId,
    version: i64,
    roles: Roles,
    active: bool,
) -> Result<()> {
    let before = find(&mut **tx, id).await?;
    if !(roles.desk || roles.bench || roles.owner) {
        return Err(Error::refused("Give the person at least one role: desk, bench or owner."));
    }
    let done = sqlx::query!(
        "UPDATE staff SET is_desk = ?, is_bench = ?, is_owner = ?, active = ?, version = version + 1
         WHERE id = ? AND version = ?",
        roles.desk,
        roles.bench,
        roles.owner,
        active,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "person")?;
    let owners = sqlx::query_scalar!("SELECT count(*) FROM staff WHERE is_owner = 1 AND active = 1")
        .fetch_one(&mut **tx)
        .await?;
    if owners == 0 {
        return Err(Error::refused(
            "The shop needs at least one owner who can sign in: make somebody else the owner first.",
        ));
    }
    if !active {
        super::session::end_all(tx, id).await?;
    }
    let after = find(&mut **tx, id).await?;
    event::write(tx, by, "staff changed", "staff", id.0, Some(&before), Some(&after)).await
}

/// Gives somebody a new password and ends all their sessions but `keep`.
pub async fn set_password(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: StaffId,
    password_hash: &str,
    keep: Option<&super::session::TokenHash>,
) -> Result<()> {
    sqlx::query!("UPDATE staff SET password_hash = ?, version = version + 1 WHERE id = ?", password_hash, id)
        .execute(&mut **tx)
        .await?;
    super::session::end_all_but(tx, id, keep).await?;
    event::write::<()>(tx, by, "password changed", "staff", id.0, None, None).await
}

/// One person.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: StaffId) -> Result<Staff> {
    sqlx::query_as!(
        Row,
        r#"SELECT id AS "id: StaffId", name, is_desk AS "is_desk: bool", is_bench AS "is_bench: bool",
                  is_owner AS "is_owner: bool", active AS "active: bool", version
           FROM staff WHERE id = ?"#,
        id,
    )
    .fetch_optional(executor)
    .await?
    .map(Staff::from)
    .ok_or(Error::NotFound("person"))
}

/// Everybody, active people first.
pub async fn all(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Staff>> {
    let rows = sqlx::query_as!(
        Row,
        r#"SELECT id AS "id: StaffId", name, is_desk AS "is_desk: bool", is_bench AS "is_bench: bool",
                  is_owner AS "is_owner: bool", active AS "active: bool", version
           FROM staff ORDER BY active DESC, name_folded"#,
    )
    .fetch_all(executor)
    .await?;
    Ok(rows.into_iter().map(Staff::from).collect())
}

/// What signing in needs to know of a name.
#[derive(Debug)]
pub struct Credentials {
    /// Key.
    pub id: StaffId,
    /// PHC string.
    pub password_hash: String,
    /// Whether the person may sign in at all.
    pub active: bool,
    /// No try is looked at before this moment.
    pub blocked_until: Instant,
}

/// Looks a sign-in name up; upper and lower case and accents do not matter. Tries pause by what was tried wrongly from
/// the same address where its person signed in from there before, else by what was tried from anywhere else: whoever
/// guesses from elsewhere keeps nobody out.
pub async fn credentials(
    executor: impl sqlx::SqliteExecutor<'_>,
    name: &str,
    address: Option<IpAddr>,
) -> Result<Option<Credentials>> {
    let (name, address) = (folded(name), address.map(|address| address.to_string()));
    Ok(sqlx::query_as!(
        Credentials,
        r#"SELECT id AS "id: StaffId", password_hash, active AS "active: bool",
                  coalesce(place.blocked_until, staff.blocked_until) AS "blocked_until!: Instant"
           FROM staff LEFT JOIN sign_in_place AS place ON place.staff_id = staff.id AND place.address = ?2
           WHERE name_folded = ?1"#,
        name,
        address,
    )
    .fetch_optional(executor)
    .await?)
}

impl Credentials {
    /// Whether the next try must still wait. A pause longer than there are any was begun under a wrong clock.
    pub fn is_blocked(&self, now: Instant) -> bool {
        (1..=LONGEST_PAUSE_SECONDS * 1_000_000).contains(&(self.blocked_until.0 - now.0))
    }
}

/// Counts a wrong guess; after a few, the next try must wait, each time twice as long.
pub async fn sign_in_failed(tx: &mut WriteTx, by: &AuditContext, id: StaffId, address: Option<IpAddr>) -> Result<()> {
    let address = address.map(|address| address.to_string());
    let of_place = sqlx::query_scalar!(
        "UPDATE sign_in_place SET failed = failed + 1 WHERE staff_id = ? AND address = ? RETURNING failed",
        id,
        address,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let until = |failed: i64| Instant(by.at.0 + pause_seconds_after(failed) * 1_000_000);
    if let Some(failed) = of_place {
        let until = until(failed);
        sqlx::query!(
            "UPDATE sign_in_place SET blocked_until = ? WHERE staff_id = ? AND address = ?",
            until,
            id,
            address
        )
        .execute(&mut **tx)
        .await?;
    } else {
        let failed = sqlx::query_scalar!(
            "UPDATE staff SET failed_sign_ins = failed_sign_ins + 1 WHERE id = ? RETURNING failed_sign_ins",
            id,
        )
        .fetch_one(&mut **tx)
        .await?;
        let until = until(failed);
        sqlx::query!("UPDATE staff SET blocked_until = ? WHERE id = ?", until, id).execute(&mut **tx).await?;
    }
    event::write::<()>(tx, by, "sign-in refused", "staff", id.0, None, None).await
}

/// A right password wipes the count of where it was typed, and makes the place one of its person's own.
pub async fn signed_in(tx: &mut WriteTx, by: &AuditContext, id: StaffId, address: Option<IpAddr>) -> Result<()> {
    let address = address.map(|address| address.to_string());
    let is_own = sqlx::query!(
        "UPDATE sign_in_place SET right_at = ?, failed = 0, blocked_until = 0 WHERE staff_id = ? AND address = ?",
        by.at,
        id,
        address,
    )
    .execute(&mut **tx)
    .await?
    .rows_affected()
        > 0;
    if !is_own {
        sqlx::query!("UPDATE staff SET failed_sign_ins = 0, blocked_until = 0 WHERE id = ?", id)
            .execute(&mut **tx)
            .await?;
        let forgotten = Instant(by.at.0 - PLACE_DAYS * 24 * 3_600_000_000);
        sqlx::query!("DELETE FROM sign_in_place WHERE right_at < ?", forgotten).execute(&mut **tx).await?;
        if let Some(address) = address {
            sqlx::query!(
                "INSERT INTO sign_in_place (staff_id, address, right_at) VALUES (?, ?, ?)",
                id,
                address,
                by.at
            )
            .execute(&mut **tx)
            .await?;
        }
    }
    event::write::<()>(tx, by, "signed in", "staff", id.0, None, None).await
}

/// How long the next try waits after so many wrong ones.
pub fn pause_seconds_after(failed: i64) -> i64 {
    match u32::try_from(failed - FREE_TRIES) {
        Ok(beyond @ 1..) => 1_i64.checked_shl(beyond - 1).unwrap_or(i64::MAX).clamp(1, LONGEST_PAUSE_SECONDS),
        _ => 0,
    }
}

/// Makes the one-time code of the first start, unless somebody can already sign in. The code is
/// kept only as a hash: it is shown once, on the console.
pub async fn first_start_code(tx: &mut WriteTx) -> Result<Option<String>> {
    let people = sqlx::query_scalar!("SELECT count(*) FROM staff").fetch_one(&mut **tx).await?;
    if people > 0 {
        return Ok(None);
    }
    let code = super::session::random_token()?;
    let hash = super::link::hash(&code);
    let hash = hash.as_slice();
    sqlx::query!("INSERT OR REPLACE INTO first_start (id, code_hash) VALUES (1, ?)", hash).execute(&mut **tx).await?;
    Ok(Some(code))
}

/// Whether the shop still waits for its first person.
pub async fn nobody_yet(executor: impl sqlx::SqliteExecutor<'_>) -> Result<bool> {
    Ok(sqlx::query_scalar!("SELECT count(*) FROM staff").fetch_one(executor).await? == 0)
}

/// Makes the owner from the console's one-time code, and uses the code up.
///
/// # Errors
/// Refused when the code is not the one, or was used.
pub async fn first_owner(
    tx: &mut WriteTx,
    by: &AuditContext,
    code: &str,
    name: &str,
    password: &str,
) -> Result<StaffId> {
    let hash = super::link::hash(code.trim());
    let hash = hash.as_slice();
    let used = sqlx::query!("DELETE FROM first_start WHERE id = 1 AND code_hash = ?", hash).execute(&mut **tx).await?;
    if used.rows_affected() == 0 || !nobody_yet(&mut **tx).await? {
        return Err(Error::refused(
            "That is not the code of this start. It stands on the console of the computer that runs Thumbplane, and works once.",
        ));
    }
    let roles = Roles { desk: true, bench: true, owner: true };
    add(tx, by, None, name, roles, &password::hash(password)?).await
}

#[cfg(test)]
mod tests {
    use super::pause_seconds_after;

    #[test]
    fn five_guesses_are_free_then_the_pause_doubles_up_to_five_minutes() {
        assert_eq!([1, 5, 6, 7, 8, 14, 15, 90].map(pause_seconds_after), [0, 0, 1, 2, 4, 256, 300, 300]);
    }
}
