//! `/office/services`: the catalogue: what the shop offers, how long it takes, what it costs.

use askama::Template;

use crate::records::service::{self, Service, ServiceEntry, TaxClass};
use crate::records::{Door, ServiceId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::currency;

#[derive(Template)]
#[template(path = "office/services.html")]
struct ServicesPage {
    layout: Layout,
    form: FormData,
    /// The service whose row was refused, if one was.
    refused_row: Option<ServiceId>,
    rows: Vec<Row>,
}

struct Row {
    service: Service,
    form: FormData,
}

impl ServicesPage {
    fn classes(&self) -> &'static [TaxClass] {
        TaxClass::ALL
    }
}

fn form_of(service: &Service, context: &RequestContext) -> FormData {
    FormData::new()
        .with("version", service.version.to_string())
        .with("name", service.name.as_str())
        .with("minutes", service.minutes.to_string())
        .with("price", service.price.plain(&currency(&context.settings)))
        .with("tax_class", service.tax_class.key())
        .with("asks_for", service.asks_for.as_str())
        .with("asks_unit", service.asks_unit.as_str())
        .with("active", if service.active { "yes" } else { "" })
}

async fn services_page(
    context: &RequestContext,
    form: FormData,
    refused_row: Option<ServiceId>,
) -> Result<ServicesPage> {
    let all = service::all(context.app.db.read()).await?;
    let rows = all.into_iter().map(|service| {
        let form = if refused_row == Some(service.id) { form.clone() } else { form_of(&service, context) };
        Row { form: form.of_row(&service.key), service }
    });
    Ok(ServicesPage {
        layout: context.layout(),
        rows: rows.collect(),
        form: if refused_row.is_some() { FormData::new().with("tax_class", "standard") } else { form },
        refused_row,
    })
}

/// `GET /office/services`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&services_page(&context, FormData::new().with("tax_class", "standard"), None).await?)
}

/// `POST /office/services`
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_line("key", "a short key, such as fret-dress", 40);
    if !key.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
        form.add_error("key", "Use small letters, digits and hyphens, such as fret-dress.");
    }
    let Some(entry) = service_entry(&mut form, &context, key) else {
        return page_with(form.status(), &services_page(&context, form, None).await?);
    };
    let form_key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let added = service::add(&mut tx, &context.audit(Door::Office), Some(&form_key), &entry).await;
    if form.accept("key", added)?.is_none() {
        drop(tx);
        return page_with(form.status(), &services_page(&context, form, None).await?);
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/services", &format!("“{}” is in the catalogue.", entry.name))
}

/// `POST /office/services/{id}`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<ServiceId>, mut form: FormData) -> Result {
    let present = service::find(context.app.db.read(), id).await?;
    let Some(entry) = service_entry(&mut form, &context, present.key) else {
        return page_with(form.status(), &services_page(&context, form, Some(id)).await?);
    };
    let entry = ServiceEntry { active: form.is("active", "yes"), ..entry };
    let mut tx = context.app.db.write().await?;
    let saved =
        service::save(&mut tx, &context.audit(Door::Office), context.today(), id, form.version()?, &entry).await;
    if form.accept_save("name", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&service::find(context.app.db.read(), id).await?, &context));
        return page_with(form.status(), &services_page(&context, form, Some(id)).await?);
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/office/services",
        &format!("“{}” is saved. Lines already written keep their price.", entry.name),
    )
}

fn service_entry(form: &mut FormData, context: &RequestContext, key: String) -> Option<ServiceEntry> {
    let name = form.required_line("name", "what the customer reads on the quote", LINE);
    let minutes = form.required_number("minutes", 0..=10_000, "how many minutes it usually takes");
    let price = form.required_money("price", &currency(&context.settings), "the price without tax");
    let tax_class = form.choice("tax_class", "which tax applies");
    let asks_for = form.line("asks_for", 80);
    let asks_unit = form.line("asks_unit", 20);
    if asks_for.is_empty() != asks_unit.is_empty() {
        form.add_error(
            "asks_for",
            "What is asked for needs its unit, such as mm or turns; leave both empty to ask for nothing.",
        );
    }
    if form.has_errors() {
        return None;
    }
    Some(ServiceEntry {
        key,
        name,
        minutes: minutes?,
        price: price?,
        tax_class: tax_class?,
        asks_for,
        asks_unit,
        active: true,
    })
}
