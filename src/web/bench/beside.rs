//! What the bench page and the card show beside the readings: notes and parts.

use crate::quantity::Thousandths;
use crate::records::part::{self, MovementKind, Part};
use crate::records::{JobId, PartMovementId, note};
use crate::web::Result;
use crate::web::page::RequestContext;

/// A note as the bench page and the card show it.
pub(super) struct NoteRow {
    pub(super) words: String,
    /// "Ivo, Wed 14 Oct 2026 10:00"
    pub(super) by: String,
}

/// The notes of a job, newest first.
pub(super) async fn notes(context: &RequestContext, id: JobId) -> Result<Vec<NoteRow>> {
    let notes = note::of_job(context.app.db.read(), id).await?;
    let rows = notes
        .into_iter()
        .map(|note| NoteRow { by: format!("{}, {}", note.who, context.moment(note.at)), words: note.words });
    Ok(rows.collect())
}

/// What the bench page shows of parts.
pub(super) struct PartsView {
    /// What can be taken.
    pub(super) parts: Vec<Part>,
    /// What was taken for the job and not put back.
    pub(super) taken: Vec<TakenRow>,
}

pub(super) struct TakenRow {
    pub(super) id: PartMovementId,
    /// "2 sets: Bronze strings, light"
    pub(super) words: String,
    /// "for Lower and fit the saddle; Ivo, Wed 14 Oct 2026 10:00"
    pub(super) by: String,
}

/// Parts that can be taken, and that were taken for a job.
pub(super) async fn parts(context: &RequestContext, id: JobId) -> Result<PartsView> {
    let reading = context.app.db.read();
    let mut parts = part::all(reading).await?;
    parts.retain(|part| !part.archived);
    let movements = part::of_job(reading, id).await?;
    let taken = movements.into_iter().filter(|movement| movement.kind == MovementKind::Taken && !movement.was_put_back);
    let taken = taken.map(|movement| TakenRow {
        id: movement.id,
        words: format!("{} {}: {}", Thousandths(-movement.quantity.0), movement.unit, movement.part),
        by: format!(
            "{}{}, {}",
            movement.line.map(|line| format!("for {line}; ")).unwrap_or_default(),
            movement.who,
            context.moment(movement.at)
        ),
    });
    Ok(PartsView { parts, taken: taken.collect() })
}
