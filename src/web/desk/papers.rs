//! `/desk/papers/{kind}/{id}`: Print was pressed. It is written down, and the paper opens with the printer's dialogue.

use axum::http::HeaderMap;
use uuid::Uuid;

use crate::records::paper::{self, LabelSize, PaperKind};
use crate::records::{Door, JobId, job};
use crate::web::form::{FormData, Id};
use crate::web::page::{RequestContext, own_referer, redirect_with_flash};
use crate::web::paper::NOT_OWN;
use crate::web::{Error, Result};

/// `POST /desk/papers/{kind}/{id}`; the claim tickets of a whole visit are printed together (`visit=whole`), a
/// label in the size chosen (`size`).
pub(in crate::web) async fn print(
    context: RequestContext,
    Id((kind, id)): Id<(String, Uuid)>,
    headers: HeaderMap,
    form: FormData,
) -> Result {
    let kind: PaperKind = kind.parse().map_err(|()| Error::NotFound("paper"))?;
    if !context.settings.is_own() {
        let back = own_referer(&headers).unwrap_or_else(|| "/desk".to_owned());
        return redirect_with_flash(&context, &back, NOT_OWN);
    }
    let whole_visit = kind == PaperKind::ClaimTicket && form.is("visit", "whole");
    let mut also = Vec::new();
    if whole_visit {
        let first = job::find(context.app.db.read(), JobId(id)).await?;
        also = super::ticket::same_visit(&context, context.app.db.read(), &first).await?;
    }
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    for printed in std::iter::once(id).chain(also.iter().map(|other| other.0)) {
        paper::printed(&mut tx, &by, kind, printed).await?;
    }
    tx.commit().await?;
    let size = form.value("size").parse::<LabelSize>();
    let size = size.map(|size| format!("?size={}", size.key())).unwrap_or_default();
    let page = match kind {
        PaperKind::ClaimTicket if whole_visit => format!("/desk/jobs/{id}/ticket?visit=whole"),
        PaperKind::ClaimTicket => format!("/desk/jobs/{id}/ticket"),
        PaperKind::Tag => format!("/desk/jobs/{id}/tag{size}"),
        PaperKind::ShelfLabel => format!("/desk/jobs/{id}/shelf-label{size}"),
        PaperKind::Quote => format!("/desk/quotes/{id}"),
        PaperKind::Sheet => format!("/desk/jobs/{id}/sheet"),
        PaperKind::Receipt => format!("/desk/jobs/{id}/receipt"),
        PaperKind::CareLetter => format!("/desk/instruments/{id}/care-letter"),
        PaperKind::CollectionLetter => format!("/desk/jobs/{id}/collection-letter"),
    };
    redirect_with_flash(
        &context,
        &page,
        &format!("The {kind} goes to the printer. If no dialogue opens, press Ctrl+P."),
    )
}
