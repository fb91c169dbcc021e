//! `/desk/jobs/{id}/work`: work lines as the desk adds and withdraws them.

use super::job::again;
use crate::quantity::{Money, Thousandths};
use crate::records::part;
use crate::records::quote;
use crate::records::service;
use crate::records::service::TaxClass;
use crate::records::work::{self, Proposal};
use crate::records::{Door, JobId, PartId, ServiceId, WorkLineId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{RequestContext, redirect_with_flash};
use crate::web::words::currency;

/// `POST /desk/jobs/{id}/work`: a service of the catalogue, or a line in one's own words.
pub(in crate::web) async fn propose(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let (part, chosen) = match form.value("service").strip_prefix("part-") {
        Some(part) => (part.parse::<PartId>().ok(), None),
        None => (None, form.id::<ServiceId>("service")),
    };
    let quantity = form.thousandths("quantity").unwrap_or(Thousandths(1000));
    let words = form.line("words", LINE);
    let price = form.money("price", &currency(&context.settings));
    let minutes = form.number("minutes", 0..=10_000);
    let alternative = form.line("alternative", 60);
    let proposal = match chosen {
        None if let Some(part) = part => {
            let part = part::find(context.app.db.read(), part).await?;
            let each = price.or(part.price);
            if quantity.0 <= 0 {
                form.add_error("quantity", "Type how much of it: more than nothing.");
            }
            if each.is_none() && form.error("price").is_none() {
                form.add_error("price", format!("“{}” has no price yet: type what one costs the customer.", part.name));
            }
            let each = each.unwrap_or(Money(0));
            let usual = Proposal::of_part(part.id, &part.name, each, quantity, TaxClass::Standard);
            Proposal { words: if words.is_empty() { usual.words } else { words }, alternative, ..usual }
        }
        Some(service_id) => {
            let service = service::find(context.app.db.read(), service_id).await?;
            let usual = Proposal::of_service(&service, None);
            Proposal {
                words: if words.is_empty() { usual.words } else { words },
                minutes: minutes.unwrap_or(usual.minutes),
                price: price.unwrap_or_else(|| service.charged_for(minutes.unwrap_or(service.minutes))),
                alternative,
                ..usual
            }
        }
        None => Proposal {
            service_id: None,
            finding: None,
            words,
            minutes: minutes.unwrap_or(0),
            price: price.unwrap_or(Money(0)),
            tax_class: TaxClass::Standard,
            alternative,
            part_id: None,
        },
    };
    if chosen.is_none() && part.is_none() && (proposal.words.is_empty() || price.is_none()) && !form.has_errors() {
        form.add_error("words", "Choose a service, or type the work and its price.");
    }
    if form.has_errors() {
        return again(&context, id, form).await;
    }
    let mut tx = context.app.db.write().await?;
    work::propose(&mut tx, &context.audit(Door::Desk), id, &key, std::slice::from_ref(&proposal)).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), &format!("“{}” is proposed.", proposal.words))
}

/// `POST /desk/jobs/{id}/work/{line}/withdraw`
pub(in crate::web) async fn withdraw(context: RequestContext, Id((id, line)): Id<(JobId, WorkLineId)>) -> Result {
    let mut tx = context.app.db.write().await?;
    work::withdraw(&mut tx, &context.audit(Door::Desk), id, line).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), "The line is withdrawn.")
}

/// `POST /desk/jobs/{id}/work/{line}/decline`: the customer says no to one line after all.
pub(in crate::web) async fn decline(
    context: RequestContext,
    Id((id, line)): Id<(JobId, WorkLineId)>,
    mut form: FormData,
) -> Result {
    let field = format!("decline_{line}");
    let reason = form.line("reason", LINE);
    form.set(&field, reason.as_str());
    form.set("reason", "");
    let mut tx = context.app.db.write().await?;
    let declined = quote::decline_line(&mut tx, &context.audit(Door::Desk), id, line, &reason).await;
    if form.accept(&field, declined)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), "The line is declined and counts no more.")
}

/// `POST /desk/jobs/{id}/work/{line}/again`: a declined line is offered again.
pub(in crate::web) async fn offer_again(context: RequestContext, Id((id, line)): Id<(JobId, WorkLineId)>) -> Result {
    let mut tx = context.app.db.write().await?;
    work::offer_again(&mut tx, &context.audit(Door::Desk), id, line).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{id}"),
        "The line is proposed again. The next revision of the quote names it.",
    )
}

/// `POST /desk/jobs/{id}/work/{line}/overrule`: the owner allows work nobody agreed to. Recorded.
pub(in crate::web) async fn overrule(
    context: RequestContext,
    Id((id, line)): Id<(JobId, WorkLineId)>,
    mut form: FormData,
) -> Result {
    let field = format!("overrule_{line}");
    let reason = form.line("overrule_reason", LINE);
    form.set(&field, reason.as_str());
    let mut tx = context.app.db.write().await?;
    let allowed = work::overrule(&mut tx, &context.audit(Door::Office), id, line, &reason).await;
    if form.accept(&field, allowed)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{id}"),
        "The line may be worked on without the customer's yes; that is on record.",
    )
}
