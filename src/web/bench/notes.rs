//! `/bench/jobs/{id}/notes`: notes to the next pair of hands.

use super::job::again;
use crate::records::note;
use crate::records::{Door, JobId};
use crate::web::Result;
use crate::web::form::{FormData, Id, TEXT};
use crate::web::page::{RequestContext, redirect_with_flash};

/// `POST /bench/jobs/{id}/notes`
pub(in crate::web) async fn write(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let words = form.required_area("hands", "what the next pair of hands should know", TEXT);
    if form.has_errors() {
        return again(&context, id, form).await;
    }
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    note::write(&mut tx, &context.audit(Door::Bench), id, &key, &words).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/bench/jobs/{id}"), "The note is written.")
}
