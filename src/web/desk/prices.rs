//! `/desk/prices`: what the shop asks for its work and its parts, to be read at the counter or on the telephone.

use askama::Template;

use crate::quantity::{Money, TaxRate, TaxRule, taxed};
use crate::records::service::{self, Service, TaxClass};
use crate::records::{part, quote};
use crate::web::Result;
use crate::web::page::{Layout, RequestContext, page};

#[derive(Template)]
#[template(path = "desk/prices.html")]
struct PricesPage {
    layout: Layout,
    services: Vec<PriceRow>,
    parts: Vec<PriceRow>,
}

/// One thing that can be bought.
struct PriceRow {
    name: String,
    /// What the customer reads of a service, or what lies on the shelf.
    beside: String,
    takes: String,
    price: String,
    /// What the customer pays.
    with_tax: String,
}

/// `GET /desk/prices`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let reading = context.app.db.read();
    let services = service::all(reading).await?.into_iter().filter(|service| service.active);
    let parts = part::all(reading).await?.into_iter().filter(|part| !part.archived);
    page(&PricesPage {
        layout: context.layout(),
        services: services.map(|service| service_row(&context, service)).collect(),
        parts: parts
            .map(|part| PriceRow {
                beside: format!("{} on hand", part.on_hand_words()),
                takes: String::new(),
                price: part.price.map_or_else(|| "–".to_owned(), |price| context.money(price)),
                with_tax: part.price.map_or_else(String::new, |price| with_tax(&context, price, TaxClass::Standard)),
                name: part.name,
            })
            .collect(),
    })
}

fn service_row(context: &RequestContext, service: Service) -> PriceRow {
    let usual = service.charged_for(service.minutes);
    let price = if service.hourly {
        format!("{} an hour, usually {}", context.money(service.price), context.money(usual))
    } else {
        context.money(service.price)
    };
    PriceRow {
        takes: format!("{} min", service.minutes),
        price,
        with_tax: with_tax(context, usual, service.tax_class),
        beside: service.told,
        name: service.name,
    }
}

/// What one costs the customer by itself; on a quote the tax is reckoned on all its lines.
fn with_tax(context: &RequestContext, price: Money, class: TaxClass) -> String {
    let settings = &context.settings;
    let rule = TaxRule {
        is_inclusive: settings.prices_include_tax,
        rounding: settings.tax_rounding.into(),
        level: settings.tax_level.into(),
    };
    let found = taxed(&[(price, TaxRate(quote::tax_rate(settings, class)))], rule);
    found.map_or_else(String::new, |found| context.money(found.total))
}
