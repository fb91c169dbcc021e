//! `/office/services`: the catalogue as a table that is edited in place: what the shop offers, how long it takes, what it
//! costs, which findings suggest it, what the customer reads, and the parts that go with it.
//!
//! All rows stand in one form. Whether one row is saved or all that were changed, what was typed into the others stays.

use std::collections::BTreeMap;

use askama::Template;

use crate::quantity::{Thousandths, with_weekday};
use crate::records::fold::folded;
use crate::records::part::{self, Part};
use crate::records::service::{self, LaterPrice, PartOfService, PriceDays, Service, ServiceEntry, TaxClass};
use crate::records::{Door, PartId, ServiceId};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::currency;

#[derive(Template)]
#[template(path = "office/services.html")]
struct ServicesPage {
    layout: Layout,
    /// All rows in one.
    form: FormData,
    /// The form of a new one.
    new: FormData,
    rows: Vec<Row>,
    /// Said above the table: what was just saved, and what is not yet.
    said: Option<String>,
    includes_tax: bool,
}

/// One service: the names of its fields, and what is said of it.
struct Row {
    id: ServiceId,
    fields: Fields,
    key: String,
    name: String,
    /// The version that was read, and the fields as they were read.
    version: String,
    opened: String,
    /// "From Fri 1 Jan 2027: £71.00, 80 min", where the list says so.
    later: Vec<String>,
    /// Typed into and not saved.
    is_changed: bool,
    has_details: bool,
}

/// What the fields of a row are called in the whole form.
struct Fields {
    version: String,
    opened: String,
    name: String,
    minutes: String,
    price: String,
    hourly: String,
    tax_class: String,
    active: String,
    told: String,
    suggested_by: String,
    parts: String,
    asks_for: String,
    asks_unit: String,
}

impl Fields {
    fn of(id: ServiceId) -> Self {
        let [
            version,
            opened,
            name,
            minutes,
            price,
            hourly,
            tax_class,
            active,
            told,
            suggested_by,
            parts,
            asks_for,
            asks_unit,
        ] = NAMES.map(|name| field_of(name, id));
        Self {
            version,
            opened,
            name,
            minutes,
            price,
            hourly,
            tax_class,
            active,
            told,
            suggested_by,
            parts,
            asks_for,
            asks_unit,
        }
    }
}

impl ServicesPage {
    fn classes(&self) -> &'static [TaxClass] {
        TaxClass::ALL
    }
}

/// What is typed of one service; in the table each name is followed by the service's key.
const NAMES: [&str; 13] = [
    "version",
    "opened",
    "name",
    "minutes",
    "price",
    "hourly",
    "tax_class",
    "active",
    "told",
    "suggested_by",
    "parts",
    "asks_for",
    "asks_unit",
];
/// Those that stand folded away in a row.
const DETAILS: [&str; 5] = ["told", "suggested_by", "parts", "asks_for", "asks_unit"];

fn field_of(name: &str, id: ServiceId) -> String {
    format!("{name}_{id}")
}

/// The catalogue and what belongs to it, as it stands.
struct Catalogue {
    services: Vec<Service>,
    parts: Vec<Part>,
    used: Vec<PartOfService>,
    later: Vec<LaterPrice>,
}

impl Catalogue {
    async fn load(context: &RequestContext) -> Result<Self> {
        let reading = context.app.db.read();
        Ok(Self {
            services: service::all(reading).await?,
            parts: part::all(reading).await?,
            used: service::parts_used(reading).await?,
            later: service::later_prices(reading, context.today()).await?,
        })
    }

    /// "Bone blank; 2 × Fret wire"
    fn parts_words(&self, id: ServiceId) -> String {
        let used = self.used.iter().filter(|used| used.service_id == id);
        let words = used.filter_map(|used| {
            let part = self.parts.iter().find(|part| part.id == used.part_id)?;
            Some(if used.quantity == ONE { part.name.clone() } else { format!("{} × {}", used.quantity, part.name) })
        });
        words.collect::<Vec<_>>().join("; ")
    }

    fn form_of(&self, service: &Service, context: &RequestContext) -> FormData {
        FormData::default()
            .with("version", service.version.to_string())
            .with("name", service.name.as_str())
            .with("minutes", service.minutes.to_string())
            .with("price", service.price.plain(&currency(&context.settings)))
            .with("hourly", if service.hourly { "yes" } else { "" })
            .with("tax_class", service.tax_class.key())
            .with("active", if service.active { "yes" } else { "" })
            .with("told", service.told.as_str())
            .with("suggested_by", service.suggested_by.as_str())
            .with("parts", self.parts_words(service.id))
            .with("asks_for", service.asks_for.as_str())
            .with("asks_unit", service.asks_unit.as_str())
    }

    /// The parts a service uses, as typed: names of parts with a semicolon between them, a number before where it is
    /// not one.
    fn read_parts(&self, form: &mut FormData) -> Vec<(PartId, Thousandths)> {
        let typed = form.line("parts", 500);
        let mut found: BTreeMap<PartId, Thousandths> = BTreeMap::new();
        for one in typed.split(';').map(str::trim).filter(|one| !one.is_empty()) {
            let counted = one.split_once(['×', '*']).map(|(count, name)| (Thousandths::parse(count), name));
            let (quantity, name) = counted.unwrap_or((Ok(ONE), one));
            let name = name.trim();
            let part = self.parts.iter().find(|part| !part.archived && folded(&part.name) == folded(name));
            match (part, quantity) {
                (Some(part), Ok(quantity)) if quantity.0 > 0 => {
                    found.insert(part.id, quantity);
                }
                (None, _) => form.add_error(
                    "parts",
                    format!(
                        "There is no part called “{name}”. Type the names under Parts, with a semicolon between them."
                    ),
                ),
                _ => form.add_error("parts", "Type how many before the name, such as 2 × Fret wire."),
            }
        }
        found.into_iter().collect()
    }
}

const ONE: Thousandths = Thousandths(1000);

/// The table, with what was typed over what stands.
fn services_page(
    context: &RequestContext,
    catalogue: &Catalogue,
    typed: FormData,
    new: FormData,
    said: Option<String>,
) -> ServicesPage {
    let mut form = FormData::new();
    // of a row that was sent each box says by its absence that it is not ticked
    for service in catalogue.services.iter().filter(|service| !typed.has(&field_of("version", service.id))) {
        let row = catalogue.form_of(service, context);
        let opened = row.opened();
        form.put_row(service.id, &NAMES, &row.with("opened", opened));
    }
    let form = form.overlaid_with(typed);
    let rows = catalogue.services.iter().map(|service| {
        let own = form.row(service.id, &NAMES);
        Row {
            id: service.id,
            fields: Fields::of(service.id),
            key: service.key.clone(),
            name: service.name.clone(),
            version: own.value("version").to_owned(),
            opened: own.value("opened").to_owned(),
            later: catalogue
                .later
                .iter()
                .filter(|later| later.service_id == service.id)
                .map(|later| {
                    let (day, price) = (with_weekday(later.from_day), context.money(later.price));
                    format!("From {day}: {price}, {} min", later.minutes)
                })
                .collect(),
            is_changed: own.is_touched(),
            has_details: DETAILS
                .iter()
                .map(|name| field_of(name, service.id))
                .any(|name| form.error(&name).is_some() || form.theirs(&name).is_some()),
        }
    });
    ServicesPage {
        layout: context.layout(),
        rows: rows.collect(),
        new: FormData::new().with("tax_class", "standard").overlaid_with(new),
        said,
        includes_tax: context.settings.prices_include_tax,
        form,
    }
}

/// `GET /office/services`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let catalogue = Catalogue::load(&context).await?;
    page(&services_page(&context, &catalogue, FormData::default(), FormData::default(), None))
}

/// `POST /office/services`
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let catalogue = Catalogue::load(&context).await?;
    let key = form.required_line("key", "a short key, such as fret-dress", 40);
    if !key.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
        form.add_error("key", "Use small letters, digits and hyphens, such as fret-dress.");
    }
    let entry = service_entry(&mut form, &context, key);
    let Some(entry) = entry else {
        let shown = services_page(&context, &catalogue, FormData::default(), form, None);
        return page_with(shown.new.status(), &shown);
    };
    let form_key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let added = service::add(&mut tx, &context.audit(Door::Office), Some(&form_key), &entry).await;
    if form.accept("key", added)?.is_none() {
        drop(tx);
        let shown = services_page(&context, &catalogue, FormData::default(), form, None);
        return page_with(shown.new.status(), &shown);
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/services", &format!("“{}” is in the catalogue.", entry.name))
}

/// `POST /office/services/{id}`: saves one row; what was typed into the others stands there still.
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<ServiceId>, form: FormData) -> Result {
    service::find(context.app.db.read(), id).await?;
    save_rows(context, form, Some(id)).await
}

/// `POST /office/services/all`: saves every row that was changed.
pub(in crate::web) async fn save_all(context: RequestContext, form: FormData) -> Result {
    save_rows(context, form, None).await
}

async fn save_rows(context: RequestContext, mut form: FormData, only: Option<ServiceId>) -> Result {
    let catalogue = Catalogue::load(&context).await?;
    let mut saved: Vec<String> = Vec::new();
    let today = context.today();
    let holds_from = form.day("holds_from").unwrap_or(today);
    if holds_from < today && form.error("holds_from").is_none() {
        form.add_error("holds_from", "That day is past: a price holds from today on, or from a later day.");
    }
    if form.has_errors() {
        let status = form.status();
        return page_with(status, &services_page(&context, &catalogue, form, FormData::default(), None));
    }
    let days = PriceDays { today, holds_from };
    for service in &catalogue.services {
        let mut row = form.row(service.id, &NAMES);
        let is_meant = only.is_none_or(|only| only == service.id);
        if !is_meant || !form.has(&field_of("version", service.id)) || (only.is_none() && !row.is_touched()) {
            continue;
        }
        let parts = catalogue.read_parts(&mut row);
        let entry = service_entry(&mut row, &context, service.key.clone());
        let version = row.version()?;
        if let Some(entry) = entry {
            let entry = ServiceEntry { active: row.is("active", "yes"), ..entry };
            let mut tx = context.app.db.write().await?;
            let by = context.audit(Door::Office);
            let done = service::save(&mut tx, &by, days, service.id, version, &entry, &parts).await;
            if row.accept_save("name", done)?.is_some() {
                tx.commit().await?;
                saved.push(entry.name);
                form = form.without_row(service.id, &NAMES);
                continue;
            }
            drop(tx);
            row.merge_on_conflict(&catalogue.form_of(service, &context));
        }
        form.put_row(service.id, &NAMES, &row);
    }
    let is_whole = !form.has_errors() && !form.is_conflict();
    let status = form.status();
    let catalogue = Catalogue::load(&context).await?;
    let shown = services_page(&context, &catalogue, form, FormData::default(), None);
    let left = shown.rows.iter().filter(|row| row.is_changed).count();
    let words = match saved.as_slice() {
        [] if is_whole => "Nothing was changed.".to_owned(),
        [] => "Nothing is saved yet.".to_owned(),
        [one] => format!("“{one}” is saved. Lines already written keep their price."),
        several => format!("{} services are saved. Lines already written keep their price.", several.len()),
    };
    if is_whole && left == 0 {
        return redirect_with_flash(&context, "/office/services", &words);
    }
    let more = match left {
        0 => String::new(),
        1 => " One more row is changed and not saved yet: it stands as you typed it.".to_owned(),
        left => format!(" {left} more rows are changed and not saved yet: they stand as you typed them."),
    };
    page_with(status, &ServicesPage { said: Some(format!("{words}{more}")), ..shown })
}

fn service_entry(form: &mut FormData, context: &RequestContext, key: String) -> Option<ServiceEntry> {
    let name = form.required_line("name", "what the customer reads on the quote", LINE);
    let minutes = form.required_number("minutes", 0..=10_000, "how many minutes it usually takes");
    let price = form.required_money("price", &currency(&context.settings), "the price");
    let tax_class = form.choice("tax_class", "which tax applies");
    let told = form.line("told", 500);
    let suggested_by = form.line("suggested_by", 500);
    if !suggested_by.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '-' | ',' | ' ')) {
        form.add_error(
            "suggested_by",
            "Type the words of findings with a comma between them, such as saddle-high, action-high.",
        );
    }
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
        hourly: form.is("hourly", "yes"),
        tax_class: tax_class?,
        told,
        suggested_by,
        asks_for,
        asks_unit,
        active: true,
    })
}
