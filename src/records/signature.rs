//! What a customer drew on the tablet: initials under the condition marks, a name at collection. Append-only.

use serde::Serialize;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::{Error, JobId, Result, SignatureId, WriteTx, job};
use crate::quantity::Instant;

words! {
    /// What was signed.
    SignedFor {
        /// The state it came in.
        Condition = "condition" => "the state it came in",
        /// Having it back.
        Collection = "collection" => "having it back",
    }
}

/// Characters of stroke data kept at most: a long name takes three thousand.
const MOST_STROKES: usize = 40_000;

/// A signature.
#[derive(Debug, Clone)]
pub struct Signature {
    /// SVG path data in a field of 600 by 200: `M` and `L` with whole numbers, nothing else.
    pub strokes: String,
    /// When it was drawn.
    pub drawn_at: Instant,
    /// No condition mark was added or taken back since.
    pub is_current: bool,
}

/// Keeps a drawn signature; the same form sent twice keeps one.
///
/// # Errors
/// Refused when nothing was drawn, what came is not a drawing of ours, or the instrument has left the house.
pub async fn keep(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    purpose: SignedFor,
    strokes: &str,
) -> Result<()> {
    let person = by.person()?;
    let already =
        sqlx::query_scalar!("SELECT count(*) FROM signature WHERE form_key = ?", form_key).fetch_one(&mut **tx).await?;
    if already > 0 {
        return Ok(());
    }
    job::in_the_house(&mut **tx, job_id, "what is signed now is signed on paper").await?;
    if strokes.trim().is_empty() {
        return Err(Error::refused("Nothing was drawn yet. Sign in the field, or on paper."));
    }
    if !is_drawing(strokes) {
        return Err(Error::refused("The drawing did not arrive whole. Draw it again, or sign on paper."));
    }
    let id = SignatureId::new();
    sqlx::query!(
        "INSERT INTO signature (id, job_id, purpose, marks, strokes, drawn_at, staff_id, form_key)
         VALUES (?1, ?2, ?3, (SELECT count(*) + count(taken_back_at) FROM condition_mark WHERE job_id = ?2), ?4, ?5, ?6, ?7)",
        id,
        job_id,
        purpose,
        strokes,
        by.at,
        person,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "signed by the customer", "job", job_id.0, None, Some(&purpose)).await
}

/// Whether stroke data is ours: moves and lines within the field, at least one line.
fn is_drawing(strokes: &str) -> bool {
    if strokes.len() > MOST_STROKES || !strokes.contains('L') || !strokes.starts_with('M') {
        return false;
    }
    let in_field = |number: &str, most: u32| number.parse::<u32>().is_ok_and(|number| number <= most);
    strokes.replace('L', " L").replace('M', " M").split_whitespace().all(|part| {
        let point = part.strip_prefix(['M', 'L']).and_then(|point| point.split_once(','));
        point.is_some_and(|(x, y)| in_field(x, 600) && in_field(y, 200))
    })
}

/// The newest signature of a job for one purpose.
pub async fn newest(
    executor: impl sqlx::SqliteExecutor<'_>,
    job: JobId,
    purpose: SignedFor,
) -> Result<Option<Signature>> {
    Ok(sqlx::query_as!(
        Signature,
        r#"SELECT strokes, drawn_at AS "drawn_at: Instant",
                  marks = (SELECT count(*) + count(taken_back_at) FROM condition_mark
                           WHERE condition_mark.job_id = signature.job_id) AS "is_current!: bool"
           FROM signature WHERE job_id = ? AND purpose = ? ORDER BY drawn_at DESC LIMIT 1"#,
        job,
        purpose,
    )
    .fetch_optional(executor)
    .await?)
}

/// A signature as it is given to who drew it.
#[derive(Debug, Clone, Serialize)]
pub(super) struct DrawnSignature {
    #[serde(skip)]
    pub(super) job_id: JobId,
    pub(super) signed_for: SignedFor,
    pub(super) drawn_at: Instant,
    pub(super) strokes: String,
}

/// Every signature of some jobs, oldest first.
pub(super) async fn all_of_jobs(
    executor: impl sqlx::SqliteExecutor<'_>,
    jobs: &[JobId],
) -> Result<Vec<DrawnSignature>> {
    let jobs = as_json(jobs)?;
    Ok(sqlx::query_as!(
        DrawnSignature,
        r#"SELECT job_id AS "job_id: JobId", purpose AS "signed_for: SignedFor", drawn_at AS "drawn_at: Instant", strokes
           FROM signature WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY drawn_at"#,
        jobs,
    )
    .fetch_all(executor)
    .await?)
}

/// Takes a job's signatures out: the person asked to be forgotten.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("DELETE FROM signature WHERE job_id = ?", job).execute(&mut **tx).await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::is_drawing;

    #[test]
    fn only_moves_and_lines_within_the_field_are_a_signature() {
        assert!(is_drawing("M10,20L11,22L600,200M0,0L5,5"));
        for wrong in ["", "M10,20", "L1,1", "M1,1L601,1", "M1,1L1,201", "M1,1L1,1\"/><script>", "M1,1C1,1", "M-1,1L1,1"]
        {
            assert!(!is_drawing(wrong), "{wrong}");
        }
    }
}
