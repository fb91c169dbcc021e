//! `/office/services`: the catalogue: what the shop offers, how long it takes, what it costs.

use askama::Template;
use axum::http::StatusCode;

use crate::records::service::{self, Service, ServiceEntry, TaxClass};
use crate::records::{Door, ServiceId};
use crate::web::Result;
use crate::web::form::{Id, LINE, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};
use crate::web::words::currency;

#[derive(Template)]
#[template(path = "office/services.html")]
struct ServicesPage {
    layout: Layout,
    form: Typed,
    /// The service whose row was refused, if one was.
    refused_row: Option<ServiceId>,
    rows: Vec<Row>,
}

struct Row {
    service: Service,
    form: Typed,
}

impl ServicesPage {
    fn classes(&self) -> &'static [TaxClass] {
        TaxClass::ALL
    }
}

fn typed(service: &Service, visit: &Visit) -> Typed {
    Typed::fresh()
        .with("version", service.version.to_string())
        .with("name", service.name.as_str())
        .with("minutes", service.minutes.to_string())
        .with("price", service.price.plain(&currency(&visit.settings)))
        .with("tax_class", service.tax_class.key())
        .with("asks_for", service.asks_for.as_str())
        .with("asks_unit", service.asks_unit.as_str())
        .with("active", if service.active { "yes" } else { "" })
}

async fn services_page(visit: &Visit, form: Typed, refused_row: Option<ServiceId>) -> Result<ServicesPage> {
    let all = service::all(visit.app.db.read()).await?;
    let rows = all.into_iter().map(|service| {
        let form = if refused_row == Some(service.id) { form.clone() } else { typed(&service, visit) };
        Row { service, form }
    });
    Ok(ServicesPage {
        layout: visit.layout(),
        rows: rows.collect(),
        form: if refused_row.is_some() { Typed::fresh().with("tax_class", "standard") } else { form },
        refused_row,
    })
}

/// `GET /office/services`
pub(in crate::web) async fn show(visit: Visit) -> Result {
    page(&services_page(&visit, Typed::fresh().with("tax_class", "standard"), None).await?)
}

/// `POST /office/services`
pub(in crate::web) async fn add(visit: Visit, mut form: Typed) -> Result {
    let key = form.required("key", "a short key, such as fret-dress", 40);
    if !key.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
        form.refuse("key", "Use small letters, digits and hyphens, such as fret-dress.");
    }
    let Some(entry) = read(&mut form, &visit, key) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &services_page(&visit, form, None).await?);
    };
    let form_key = form.required_key()?.to_owned();
    let mut write = visit.app.db.write().await?;
    match service::add(&mut write, &visit.by(Door::Office), Some(&form_key), &entry).await {
        Ok(_) => {
            write.commit().await?;
            see(&visit, "/office/services", &format!("“{}” is in the catalogue.", entry.name))
        }
        Err(crate::records::Error::Refused(words)) => {
            drop(write);
            form.refuse("key", words);
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &services_page(&visit, form, None).await?)
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /office/services/{id}`
pub(in crate::web) async fn save(visit: Visit, Id(id): Id<ServiceId>, mut form: Typed) -> Result {
    let present = service::find(visit.app.db.read(), id).await?;
    let Some(entry) = read(&mut form, &visit, present.key) else {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &services_page(&visit, form, Some(id)).await?);
    };
    let entry = ServiceEntry { active: form.is("active", "yes"), ..entry };
    let mut write = visit.app.db.write().await?;
    match service::save(&mut write, &visit.by(Door::Office), id, form.version()?, &entry).await {
        Ok(()) => write.commit().await?,
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(write);
            let theirs = service::find(visit.app.db.read(), id).await?;
            form.conflict(&typed(&theirs, &visit), theirs.version);
            return page_with(StatusCode::CONFLICT, &services_page(&visit, form, Some(id)).await?);
        }
        Err(other) => return Err(other.into()),
    }
    see(&visit, "/office/services", &format!("“{}” is saved. Lines already written keep their price.", entry.name))
}

fn read(form: &mut Typed, visit: &Visit, key: String) -> Option<ServiceEntry> {
    let name = form.required("name", "what the customer reads on the quote", LINE);
    let minutes = form.number("minutes", 0..=10_000);
    if minutes.is_none() && form.error("minutes").is_none() {
        form.refuse("minutes", "Type how many minutes it usually takes.");
    }
    let price = form.money("price", &currency(&visit.settings));
    if price.is_none() && form.error("price").is_none() {
        form.refuse("price", "Type the price without tax.");
    }
    let tax_class = form.choice("tax_class", "which tax applies");
    let asks_for = form.line("asks_for", 80);
    let asks_unit = form.line("asks_unit", 20);
    if asks_for.is_empty() != asks_unit.is_empty() {
        form.refuse(
            "asks_for",
            "What is asked for needs its unit, such as mm or turns; leave both empty to ask for nothing.",
        );
    }
    if form.refused() {
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
