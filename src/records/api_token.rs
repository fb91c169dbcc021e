//! Tokens by which a program may ask the calculator. The books keep a token's hash, never the token.

use serde::Serialize;
use time::Date;

use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{ApiTokenId, Error, Result, WriteTx, link, session};
use crate::quantity::Instant;

/// How every token begins, so that one left in a file or a message is recognised.
pub const PREFIX: &str = "thumbplane_";
/// Tokens that hold at one time: each stands for one program, and a list nobody reads is not watched.
const MOST_IN_USE: i64 = 50;
/// Tokens the list shows, the newest first.
const MOST_SHOWN: i64 = 200;

/// What making a token came to.
#[derive(Clone, PartialEq, Eq)]
pub enum Made {
    /// The token, for the only time.
    Now(String),
    /// The same form made one before; nobody can read it again.
    Before,
}

// a token is never printed, not even into a log
impl std::fmt::Debug for Made {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Now(_) => "Now",
            Self::Before => "Before",
        })
    }
}

/// One line of the list.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct ApiToken {
    pub id: ApiTokenId,
    pub name: String,
    pub made_by: String,
    pub made_at: Instant,
    pub last_used_on: Option<Date>,
    pub revoked_by: Option<String>,
    pub revoked_at: Option<Instant>,
}

/// What an event keeps of a token.
#[derive(Debug, Serialize)]
struct Named<'a> {
    name: &'a str,
}

/// Makes a token: 256 random bits behind [`PREFIX`]. The same form sent twice makes one.
///
/// # Errors
/// Refused when a token of this name is in use, or too many are.
pub async fn make(tx: &mut WriteTx, by: &AuditContext, form_key: &str, name: &str) -> Result<Made> {
    let before =
        sqlx::query_scalar!("SELECT count(*) FROM api_token WHERE form_key = ?", form_key).fetch_one(&mut **tx).await?;
    if before > 0 {
        return Ok(Made::Before);
    }
    let person = by.person()?;
    let name = canonical(name);
    let same_name = sqlx::query_scalar!("SELECT count(*) FROM api_token WHERE name = ? AND revoked_at IS NULL", name)
        .fetch_one(&mut **tx)
        .await?;
    if same_name > 0 {
        return Err(Error::refused(format!("There is already a token called “{name}”. Choose another name.")));
    }
    let in_use =
        sqlx::query_scalar!("SELECT count(*) FROM api_token WHERE revoked_at IS NULL").fetch_one(&mut **tx).await?;
    if in_use >= MOST_IN_USE {
        return Err(Error::refused(format!("{MOST_IN_USE} tokens are in use. Revoke one that is not needed.")));
    }
    let token = format!("{PREFIX}{}", session::random_token()?);
    let hash = link::hash(&token);
    let (id, hash) = (ApiTokenId::new(), hash.as_slice());
    sqlx::query!(
        "INSERT INTO api_token (id, name, token_hash, form_key, made_by, made_at) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        name,
        hash,
        form_key,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "API token made", "api_token", id.0, None, Some(&Named { name: &name })).await?;
    Ok(Made::Now(token))
}

/// The tokens, the newest first.
pub async fn all(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<ApiToken>> {
    Ok(sqlx::query_as!(
        ApiToken,
        r#"SELECT api_token.id AS "id: ApiTokenId", api_token.name, maker.name AS made_by,
                  api_token.made_at AS "made_at: Instant", api_token.last_used_on AS "last_used_on: Date",
                  revoker.name AS "revoked_by?", api_token.revoked_at AS "revoked_at: Instant"
           FROM api_token JOIN staff AS maker ON maker.id = api_token.made_by
                LEFT JOIN staff AS revoker ON revoker.id = api_token.revoked_by
           ORDER BY api_token.id DESC LIMIT ?"#,
        MOST_SHOWN,
    )
    .fetch_all(executor)
    .await?)
}

/// Whether a token holds; answers its key and the day it was last used.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, token: &str) -> Result<Option<(ApiTokenId, Option<Date>)>> {
    if !token.starts_with(PREFIX) {
        return Ok(None);
    }
    let hash = link::hash(token);
    let hash = hash.as_slice();
    let row = sqlx::query!(
        r#"SELECT id AS "id: ApiTokenId", last_used_on AS "last_used_on: Date"
           FROM api_token WHERE token_hash = ? AND revoked_at IS NULL"#,
        hash,
    )
    .fetch_optional(executor)
    .await?;
    Ok(row.map(|row| (row.id, row.last_used_on)))
}

/// Writes down the day a token was used: at most one write a day and token.
pub async fn used(tx: &mut WriteTx, id: ApiTokenId, day: Date) -> Result<()> {
    sqlx::query!("UPDATE api_token SET last_used_on = ? WHERE id = ?", day, id).execute(&mut **tx).await?;
    Ok(())
}

/// Ends a token at once. Revoking it again changes nothing. Answers its name.
///
/// # Errors
/// [`Error::NotFound`] when there is none.
pub async fn revoke(tx: &mut WriteTx, by: &AuditContext, id: ApiTokenId) -> Result<String> {
    let person = by.person()?;
    let name = sqlx::query_scalar!("SELECT name FROM api_token WHERE id = ?", id)
        .fetch_optional(&mut **tx)
        .await?
        .ok_or(Error::NotFound("token"))?;
    let done = sqlx::query!(
        "UPDATE api_token SET revoked_by = ?, revoked_at = ? WHERE id = ? AND revoked_at IS NULL",
        person,
        by.at,
        id,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() > 0 {
        event::write(tx, by, "API token revoked", "api_token", id.0, Some(&Named { name: &name }), None).await?;
    }
    Ok(name)
}
