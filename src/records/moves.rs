//! Moves of a job that ask other records: the final check, clocks that run, the care that follows a setup.

use sqlx::SqliteConnection;
use time::Date;

use super::error::ensure_version;
use super::event::AuditContext;
use super::fold::canonical;
use super::hand_over::{self, HandOver};
use super::job::{self, Job};
use super::reading::ReadingStage;
use super::stage::{How, Stage};
use super::work::{LineState, WorkLine};
use super::{Error, JobId, Result, WriteTx, care, final_check, labour};

/// Moves a job because somebody pressed it. A job with final readings that becomes *ready* is a
/// finished setup: it writes the instrument's yearly care, counted from `today`.
///
/// # Errors
/// [`Error::Refused`] when the table allows no such move, it needs a reason, or the final check is not complete;
/// [`Error::ChangedMeanwhile`] when the job moved since the page was read.
pub async fn press_move(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    id: JobId,
    version: i64,
    to: Stage,
    reason: &str,
) -> Result<()> {
    let job = job::find(&mut **tx, id).await?;
    ensure_version(job.version, version, "job")?;
    let reason = canonical(reason);
    match job.stage.move_to(to).map(|allowed| allowed.how) {
        Some(How::Pressed) => {}
        Some(How::PressedWithReason) if reason.is_empty() => {
            return Err(Error::refused(format!("Say why {} goes to “{to}”.", job.number)));
        }
        Some(How::PressedWithReason) => {}
        Some(How::Follows) => {
            return Err(Error::refused(format!(
                "“{to}” cannot be pressed: it follows once {}.",
                match to {
                    Stage::Quoted => "a quote is made",
                    Stage::Agreed => "the customer’s yes is written down",
                    Stage::Ready => "a mistaken hand-over is taken back, on the page where it was handed over",
                    _ => "the instrument is handed over",
                }
            )));
        }
        None => {
            let open: Vec<String> = job.stage.pressable().map(|allowed| format!("“{}”", allowed.to)).collect();
            let way = if open.is_empty() {
                "It has left the house: when the instrument comes back, check it in again.".to_owned()
            } else {
                format!("From here it can be moved to {}.", open.join(", "))
            };
            return Err(Error::refused(format!("A job cannot go from “{}” to “{to}”. {way}", job.stage)));
        }
    }
    if to == Stage::Ready {
        final_check::require_complete(tx, &job).await?;
    }
    change_stage(tx, by, &job, to, &reason).await?;
    if to == Stage::Ready && has_final_readings(tx, id).await? {
        care::write_after_setup(tx, by, job.instrument_id, today).await?;
    }
    Ok(())
}

/// Changes the stage; nobody's clock runs on for a job that leaves.
async fn change_stage(tx: &mut WriteTx, by: &AuditContext, job: &Job, to: Stage, reason: &str) -> Result<()> {
    job::change_stage(tx, by, job, to, reason).await?;
    if to.is_open() { Ok(()) } else { labour::stop_job(tx, by, job.id).await }
}

async fn has_final_readings(connection: &mut SqliteConnection, id: JobId) -> Result<bool> {
    let sets = sqlx::query_scalar!("SELECT count(*) FROM reading_set WHERE job_id = ? AND stage = 'final'", id)
        .fetch_one(&mut *connection)
        .await?;
    Ok(sets > 0)
}

/// The one forward move the bench can press from here. Work that was agreed and is not done keeps a job on the bench.
pub fn next_at_the_bench(stage: Stage, lines: &[WorkLine]) -> Option<Stage> {
    let next = stage.pressable().find(|allowed| allowed.how == How::Pressed)?.to;
    let is_open = lines.iter().any(|line| line.state == LineState::Agreed);
    match next {
        Stage::Measured | Stage::OnTheBench => Some(next),
        Stage::FinalCheck if !is_open => Some(next),
        _ => None,
    }
}

/// What is read of an instrument whose job stands here: as it came, during the work, or in proof of it.
pub fn reading_here(stage: Stage, lines: &[WorkLine]) -> ReadingStage {
    let is_answered = |line: &WorkLine| matches!(line.state, LineState::Done | LineState::Declined);
    match stage {
        Stage::CheckedIn => ReadingStage::Received,
        Stage::FinalCheck | Stage::Ready => ReadingStage::Final,
        Stage::OnTheBench if !lines.is_empty() && lines.iter().all(is_answered) => ReadingStage::Final,
        _ => ReadingStage::During,
    }
}

/// Hands the instrument over: ready becomes collected. Answers whether its yearly care is written, so that somebody
/// is reminded of it.
///
/// # Errors
/// Refused when the job is not ready, and while money is open and nobody said how it is settled.
pub async fn hand_over(tx: &mut WriteTx, by: &AuditContext, id: JobId, new: HandOver<'_>) -> Result<bool> {
    let job = job::find(&mut **tx, id).await?;
    match job.stage {
        Stage::Collected => {} // pressed twice
        Stage::Ready => {
            hand_over::write(tx, by, &job, new).await?;
            change_stage(tx, by, &job, Stage::Collected, "").await?;
        }
        Stage::ClosedUnrepaired => {
            return Err(Error::refused(format!(
                "{} went home unrepaired already. When the instrument comes back, check it in again.",
                job.number
            )));
        }
        other => {
            return Err(Error::refused(format!(
                "{} is {other}. It can be handed over once it is ready; what goes home as it came is moved to “{}”.",
                job.number,
                Stage::ClosedUnrepaired
            )));
        }
    }
    Ok(care::is_on_the_list(&care::of_instrument(&mut **tx, job.instrument_id).await?))
}
