//! Who is signed in on which device. A session is a random token in a cookie; the books keep its hash.

use data_encoding::BASE64URL_NOPAD;

use super::person::{Roles, Staff};
use super::{Error, Result, StaffId, WriteTx, link};
use crate::quantity::Instant;

const MICROSECONDS_PER_HOUR: i64 = 3_600_000_000;
/// Unused for this long, a session ends: a working day with its evening.
pub const IDLE_HOURS: i64 = 12;
/// No session is older than this, used or not.
pub const LONGEST_HOURS: i64 = 30 * 24;
/// A session that would end later than one begun now, by more than this, was begun under a wrong clock.
const CLOCK_MICROSECONDS: i64 = MICROSECONDS_PER_HOUR;
/// How stale *last seen* may grow before it is written again, so that reading pages does not write.
const SEEN_EVERY_MICROSECONDS: i64 = 5 * 60 * 1_000_000;

/// The hash of a session's token, its key in the books.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TokenHash([u8; 32]);

/// A session that holds.
#[derive(Debug, Clone)]
pub struct Session {
    /// The key.
    pub token_hash: TokenHash,
    /// Who.
    pub staff: Staff,
    /// When this was last written down.
    pub last_seen_at: Instant,
}

/// 256 random bits from the system, base64url.
///
/// # Errors
/// When the system gives none.
pub(super) fn random_token() -> Result<String> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|cause| Error::File(sqlx::Error::Encode(cause.to_string().into())))?;
    Ok(BASE64URL_NOPAD.encode(&bytes))
}

/// Begins a session and answers its token. The token is in no other place than the cookie.
pub async fn begin(tx: &mut WriteTx, staff: StaffId, device: &str, at: Instant) -> Result<String> {
    let token = random_token()?;
    let hash = link::hash(&token);
    let hash = hash.as_slice();
    let expires_at = Instant(at.0 + LONGEST_HOURS * MICROSECONDS_PER_HOUR);
    let device: String = device.chars().filter(|c| !c.is_control()).take(200).collect();
    sqlx::query!(
        "INSERT INTO session (token_hash, staff_id, created_at, last_seen_at, expires_at, device) VALUES (?, ?, ?, ?, ?, ?)",
        hash,
        staff,
        at,
        at,
        expires_at,
        device,
    )
    .execute(&mut **tx)
    .await?;
    // what ended is of no use to anybody, also when the clock should go back
    let (idle_since, latest) = (idle_since(at), latest_end(at));
    sqlx::query!(
        "DELETE FROM session WHERE expires_at <= ? OR expires_at > ? OR last_seen_at <= ?",
        at,
        latest,
        idle_since
    )
    .execute(&mut **tx)
    .await?;
    Ok(token)
}

fn idle_since(now: Instant) -> Instant {
    Instant(now.0 - IDLE_HOURS * MICROSECONDS_PER_HOUR)
}

/// No session that holds ends later: one begun while the clock was years ahead does not last for years.
fn latest_end(now: Instant) -> Instant {
    Instant(now.0 + LONGEST_HOURS * MICROSECONDS_PER_HOUR + CLOCK_MICROSECONDS)
}

/// Whether the books still hold a session that ended: asked when a token did not hold, before anything is written.
pub async fn is_left_over(executor: impl sqlx::SqliteExecutor<'_>, token: &str) -> Result<bool> {
    let hash = link::hash(token);
    let hash = hash.as_slice();
    let rows =
        sqlx::query_scalar!("SELECT count(*) FROM session WHERE token_hash = ?", hash).fetch_one(executor).await?;
    Ok(rows > 0)
}

/// Takes a session that ended out of the books, so that a clock that goes back does not bring it back.
pub async fn end_by_token(tx: &mut WriteTx, token: &str) -> Result<()> {
    end(tx, &TokenHash(link::hash(token))).await
}

/// Whether a session still holds: it was not ended, and its person may still sign in.
pub async fn holds(executor: impl sqlx::SqliteExecutor<'_>, session: &TokenHash, now: Instant) -> Result<bool> {
    let hash = session.0.as_slice();
    let (idle_since, latest) = (idle_since(now), latest_end(now));
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (
               SELECT 1 FROM session JOIN staff ON staff.id = session.staff_id
               WHERE session.token_hash = ? AND session.expires_at > ? AND session.last_seen_at > ? AND staff.active = 1
                 AND session.expires_at <= ?
           ) AS "holds!: bool""#,
        hash,
        now,
        idle_since,
        latest,
    )
    .fetch_one(executor)
    .await?)
}

/// The session behind a token, if it holds now and its person is active.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, token: &str, now: Instant) -> Result<Option<Session>> {
    let key = link::hash(token);
    let hash = key.as_slice();
    let (idle_since, latest) = (idle_since(now), latest_end(now));
    let row = sqlx::query!(
        r#"SELECT staff.id AS "id: StaffId", staff.name, staff.is_desk AS "is_desk: bool", staff.is_bench AS "is_bench: bool",
                  staff.is_owner AS "is_owner: bool", staff.version, session.last_seen_at AS "last_seen_at: Instant"
           FROM session JOIN staff ON staff.id = session.staff_id
           WHERE session.token_hash = ? AND session.expires_at > ? AND session.last_seen_at > ? AND staff.active = 1
             AND session.expires_at <= ?"#,
        hash,
        now,
        idle_since,
        latest,
    )
    .fetch_optional(executor)
    .await?;
    Ok(row.map(|row| Session {
        token_hash: TokenHash(key),
        staff: Staff {
            id: row.id,
            name: row.name,
            roles: Roles { desk: row.is_desk, bench: row.is_bench, owner: row.is_owner },
            active: true,
            version: row.version,
        },
        last_seen_at: row.last_seen_at,
    }))
}

impl Session {
    /// Whether it is time to write down that the session is in use.
    pub fn is_seen_stale(&self, now: Instant) -> bool {
        now.0 - self.last_seen_at.0 > SEEN_EVERY_MICROSECONDS
    }
}

/// Writes down that the session is in use.
pub async fn touch(tx: &mut WriteTx, token_hash: &TokenHash, now: Instant) -> Result<()> {
    let hash = token_hash.0.as_slice();
    sqlx::query!("UPDATE session SET last_seen_at = ? WHERE token_hash = ?", now, hash).execute(&mut **tx).await?;
    Ok(())
}

/// Signs out.
pub async fn end(tx: &mut WriteTx, token_hash: &TokenHash) -> Result<()> {
    let hash = token_hash.0.as_slice();
    sqlx::query!("DELETE FROM session WHERE token_hash = ?", hash).execute(&mut **tx).await?;
    Ok(())
}

/// Ends every session of one person.
pub async fn end_all(tx: &mut WriteTx, staff: StaffId) -> Result<()> {
    end_all_but(tx, staff, None).await
}

/// Ends every session of one person but one.
pub async fn end_all_but(tx: &mut WriteTx, staff: StaffId, keep: Option<&TokenHash>) -> Result<()> {
    let keep = keep.map_or(&[][..], |hash| hash.0.as_slice());
    sqlx::query!("DELETE FROM session WHERE staff_id = ? AND token_hash <> ?", staff, keep).execute(&mut **tx).await?;
    Ok(())
}
