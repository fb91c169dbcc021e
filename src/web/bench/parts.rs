//! `/bench/jobs/{id}/parts`: parts taken from the drawers for a job, and put back.

use super::job::again;
use crate::quantity::Thousandths;
use crate::records::part;
use crate::records::{Door, JobId, PartId, PartMovementId, WorkLineId};
use crate::web::Result;
use crate::web::form::{FormData, Id};
use crate::web::page::{RequestContext, redirect_with_flash};

/// `POST /bench/jobs/{id}/parts`
pub(in crate::web) async fn take(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let chosen = form.required_id::<PartId>("part", "Choose what you took from the drawer.");
    let line = form.id::<WorkLineId>("part_line");
    let quantity = form
        .thousandths("part_quantity")
        .or((form.value("part_quantity").trim().is_empty()).then_some(Thousandths::ONE));
    let (Some(chosen), Some(quantity), false) = (chosen, quantity, form.has_errors()) else {
        return again(&context, id, form).await;
    };
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let taken = part::take(&mut tx, &context.audit(Door::Bench), id, line, &key, chosen, quantity).await;
    let Some(left) = form.accept("part_quantity", taken)? else {
        drop(tx);
        return again(&context, id, form).await;
    };
    let part = part::find(&mut *tx, chosen).await?;
    tx.commit().await?;
    let shelf = format!("{left} {} left", part.unit);
    let words = if left.0 < 0 {
        format!("Taken, but by the books there were not enough: {shelf}. Count the shelf.")
    } else if part.is_low() {
        format!("Taken; {shelf}: time to order.")
    } else {
        format!("Taken; {shelf}.")
    };
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#parts"), &words)
}

/// `POST /bench/jobs/{id}/parts/{movement}/back`
pub(in crate::web) async fn put_back(
    context: RequestContext,
    Id((id, movement)): Id<(JobId, PartMovementId)>,
) -> Result {
    let mut tx = context.app.db.write().await?;
    part::put_back(&mut tx, &context.audit(Door::Bench), id, movement).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}#parts"), "Put back.")
}
