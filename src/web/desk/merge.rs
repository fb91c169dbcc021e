//! `/desk/customers/{id}/merge`: two records of one person become one, after both were looked at.

use askama::Template;

use crate::records::customer::{self, Customer, CustomerEntry};
use crate::records::merge::{FIELDS, merge as merge_records, together, withdrew_reminders};
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

/// One line to choose in.
struct MergeRow {
    field: &'static str,
    label: &'static str,
    this: String,
    other: String,
    is_other: bool,
}

impl MergePage {
    fn rows(&self, other: &Customer) -> Vec<MergeRow> {
        let of = |customer: &Customer| {
            let more = customer.more_telephones.iter().map(|more| format!(", {} {}", more.label, more.number));
            let telephones = format!("{}{}", customer.telephone, more.collect::<String>());
            [
                customer.name.clone(),
                telephones,
                customer.email.clone(),
                customer.address.clone(),
                customer.reach_by.spoken().to_owned(),
                customer.nickname.clone(),
            ]
        };
        let labels = ["Name", "Telephone", "E-mail", "Address", "Reached by", "Also called"];
        let sides = of(&self.kept).into_iter().zip(of(other));
        let rows = FIELDS.into_iter().zip(labels).zip(sides).map(|((field, label), (this, other))| MergeRow {
            is_other: match self.form.value(field) {
                "" => this.is_empty() && !other.is_empty(),
                chosen => chosen == "other",
            },
            field,
            label,
            this,
            other,
        });
        rows.collect()
    }
}

async fn merge_page(context: &RequestContext, id: CustomerId, form: FormData) -> Result<MergePage> {
    let reading = context.app.db.read();
    let kept = customer::find(reading, id).await?;
    let other = match form.value("from").parse::<CustomerId>() {
        Ok(from) if from != id => {
            let other = customer::find(reading, from).await?;
            let mut connection = reading.acquire().await.map_err(crate::records::Error::from)?;
            let withdrew = withdrew_reminders(&mut connection, from, id).await?;
            let entry = together(&kept, &other, &of_the_other(&form), withdrew);
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

/// The fields of which the other record's is chosen.
fn of_the_other(form: &FormData) -> Vec<&'static str> {
    FIELDS.into_iter().filter(|field| form.is(field, "other")).collect()
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
    let merged = merge_records(&mut tx, &by, &context.settings.country, from, id, versions, &of_the_other(&form)).await;
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
