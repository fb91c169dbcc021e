//! `/desk/customers/{id}/merge`: two records of one person become one, after both were looked at.

use askama::Template;

use crate::records::customer::{self, Customer, CustomerEntry};
use crate::records::merge::{merge as merge_records, together, withdrew_reminders};
use crate::records::search::{self, CustomerHit};
use crate::records::{CustomerId, Door};
use crate::web::Result;
use crate::web::form::{FormData, Id, Query};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

/// Hits to choose from.
const MOST: i64 = 12;

#[derive(Template)]
#[template(path = "desk/merge.html")]
struct MergePage {
    layout: Layout,
    form: FormData,
    /// The record that stays.
    kept: Customer,
    found: String,
    hits: Vec<CustomerHit>,
    /// The record that goes into it, and what would stand there.
    other: Option<(Customer, CustomerEntry)>,
}

async fn merge_page(context: &RequestContext, id: CustomerId, form: FormData) -> Result<MergePage> {
    let reading = context.app.db.read();
    let kept = customer::find(reading, id).await?;
    let other = match form.value("from").parse::<CustomerId>() {
        Ok(from) if from != id => {
            let other = customer::find(reading, from).await?;
            let mut connection = reading.acquire().await.map_err(crate::records::Error::from)?;
            let entry = together(&kept, &other, withdrew_reminders(&mut connection, from, id).await?);
            Some((other, entry))
        }
        _ => None,
    };
    let found = form.value("find").to_owned();
    let hits = if found.is_empty() {
        search::likely_same(reading, &kept.name, &kept.telephone, &kept.email).await?
    } else {
        search::customers(reading, &found, MOST).await?
    };
    let hits = hits.into_iter().filter(|hit| hit.id != id).collect();
    Ok(MergePage { layout: context.layout(), form, kept, found, hits, other })
}

/// `GET /desk/customers/{id}/merge`; `find` looks for the other record, `from` shows both.
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<CustomerId>, query: Query) -> Result {
    let found: String = query.value("find").chars().take(100).collect();
    let form = FormData::new().with("find", found).with("from", query.value("from"));
    page(&merge_page(&context, id, form).await?)
}

/// `POST /desk/customers/{id}/merge`
pub(in crate::web) async fn merge(context: RequestContext, Id(id): Id<CustomerId>, mut form: FormData) -> Result {
    let from = form.id::<CustomerId>("from");
    let other_version = form.number("from_version", 1..=i64::MAX);
    let (Some(from), Some(other_version), false) = (from, other_version, form.has_errors()) else {
        form.add_error("from", "Choose the other record first.");
        return page_with(form.status(), &merge_page(&context, id, form).await?);
    };
    let versions = (other_version, form.version()?);
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let merged = merge_records(&mut tx, &by, &context.settings.country, from, id, versions).await;
    if form.accept("from", merged)?.is_none() {
        drop(tx);
        return page_with(form.status(), &merge_page(&context, id, form).await?);
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/customers/{id}"),
        "The two records are one. Old papers and links lead here too.",
    )
}
